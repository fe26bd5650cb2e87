"""Access: what must come out before cells, a switch or a socket can be got at, against what the user allows.

How it is come by was found when the parts were placed (`BuiltTrain.exchanged`): straight moves through
openings that may be opened, and what stands in their way. Here it is held against the allowance of the train
file.
"""

from __future__ import annotations

import math

from fitplan.checks.lift_out import ShortWire, short_wires
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding, Outcome, Severity, Table
from fitplan.model.needed import Need
from fitplan.model.plugged import is_plugged
from fitplan.model.ways_in import Exchanged

SUBJECT = "access"


def check_access(built: BuiltTrain) -> Outcome:
    """Check that everything that must be reached can be, with no more taken out than the user allows."""
    findings: list[Finding] = []
    rows: list[tuple[str | float, ...]] = []
    for entry in built.exchanged:
        need = built.train.need(entry.need)
        short = short_wires(built, entry)
        findings.append(_finding(built, entry, need, short))
        if short:
            findings.append(_too_short(built, entry, short))
        rows.append(
            (
                entry.need,
                entry.access,
                entry.vehicle,
                "often" if entry.often else "when building",
                (", ".join(entry.openings) or "nothing") if entry.reached else "not reached",
                ", then ".join((*entry.bricks, *entry.parts_out)) or ("nothing" if entry.reached else ""),
                _allowed(need) if entry.often else "anything",
            )
        )
    columns = ("part", "what", "vehicle", "needed", "open", "take out first", "may come out")
    return Outcome(
        SUBJECT, tuple(findings), (Table("What must be reached", columns, tuple(rows)),) if rows else ()
    )


def _allowed(need: Need) -> str:
    parts, bricks = need.exchange.parts_out, need.exchange.bricks_out
    if not parts and not bricks:
        return "nothing but a lid"
    return " and ".join(
        f"{count} {name}{'' if count == 1 else 's'}"
        for count, name in ((parts, "part"), (bricks, "brick"))
        if count
    )


def _asked(entry: Exchanged) -> str:
    counts = (("parts", len(entry.parts_out)), ("bricks", len(entry.bricks)))
    return ", ".join(f"{name} out: {count}" for name, count in counts if count)


def _finding(built: BuiltTrain, entry: Exchanged, need: Need, short: tuple[ShortWire, ...]) -> Finding:
    need_words = "in everyday use" if entry.often else "when building or debugging"
    name = entry.need if entry.access == entry.need else f"{entry.access} of {entry.need}"
    what = f"{name} must be reached {need_words}"
    where = f"{entry.need} in {entry.vehicle}"
    count = float(len(entry.parts_out) + len(entry.bricks))
    limit = float(need.exchange.parts_out + need.exchange.bricks_out)
    source = "straight moves out, replayed by the checker; what may come out is a setting of the train file"
    if not entry.reached:
        lid = "an opening that may be opened for it" if entry.often else "any opening"
        # What is reached now and then can still be taken out for it; what is used every day cannot.
        severity: Severity = "stop" if entry.often else "caution"
        return Finding(
            SUBJECT,
            severity,
            where,
            f"{what}, and is not through {lid}, whatever is taken out",
            0.0,
            1.0,
            "ways out",
            f"turn or move {entry.need} so that it faces an opening, or make one there",
            source,
        )
    through = f"{' and '.join(entry.openings)} opened" if entry.openings else "nothing opened"
    first = (*entry.bricks, *entry.parts_out)
    taken = f"; first {', then '.join(first)} must come out" if first else ", and nothing else comes out"
    lies = built.placement(entry.need)
    if lies is not None and is_plugged(lies.part, entry.access):
        through += ", its lead drawn out of it"
    message = f"{what}: with {through}{taken}"
    if not entry.often and entry.itself and not entry.cells:
        # Where the train file wants it to come out anyway, that is how the socket is reached.
        meant = need.exchange.wanted and not short and entry.within(need)
        return Finding(
            SUBJECT,
            "note" if meant else "caution",
            where,
            f"{what}, and is not where it lies: {entry.need} itself must come out for it, with {through}",
            count + 1.0,
            0.0,
            "out",
            (
                "unsolder what is too short before"
                if short
                else "lift it out with its wires on, they are long enough"
            )
            + f"; or turn or move {entry.need} so that there is room in front",
            source,
        )
    if not entry.often or entry.within(need):
        return Finding(
            SUBJECT, "note", where, message, count, max(count, limit), "out", "nothing to do", source
        )
    return Finding(
        SUBJECT,
        "stop",
        where,
        f"{message}; allowed: {_allowed(need)}",
        count,
        limit,
        "out",
        f"let {' and '.join(first)} lie elsewhere, give {entry.need} more room or another vehicle, or allow"
        f" it: exchange: {{{_asked(entry)}}}",
        source,
    )


def _too_short(built: BuiltTrain, entry: Exchanged, short: tuple[ShortWire, ...]) -> Finding:
    """Say which wires hold a part back that comes out, and what would let it."""
    longest = short[0].missing
    loop = built.train.wiring.allowances.service_loop
    each = ", ".join(f"{one.wire.label} by {one.missing:.0f} mm" for one in short)
    named = " and ".join(sorted({one.part for one in short}))
    return Finding(
        SUBJECT,
        "caution",
        f"{named} in {entry.vehicle}",
        f"{named} comes out for {entry.access} of {entry.need}, and its wires are too short for that: {each}"
        if entry.access != entry.need
        else f"{named} comes out, and its wires are too short for that: {each}",
        round(longest, 1),
        0.0,
        "mm",
        f"set `service loop` in the allowances to {math.ceil((loop + longest) / 5) * 5} mm, put plugs on "
        "these wires, or unsolder them each time",
        "way out replayed with every wire attached: off its way in a straight line, or along the moves",
    )
