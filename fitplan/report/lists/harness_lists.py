"""The lists of a harness: wires from end to end, bundles, cuts, joins, connectors, couplings, totals."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from fitplan.model.buying import WASTE_SHARE
from fitplan.model.own_leads import made_of, own_lead_at
from fitplan.model.plan import Plan
from fitplan.model.wired import Wire, WireEnd
from fitplan.report.lists.connector_cavities import cavities
from fitplan.report.lists.parts_list import spool_totals
from fitplan.report.lists.plan_list import Cell, PlanList
from fitplan.report.lists.wording import (
    allowance_word,
    end_word,
    end_work,
    joint_at,
    millimetres,
    resistor_at,
    threaded_first,
    way_word,
)


def _end_work(plan: Plan, wire: Wire, end: WireEnd) -> str:
    own = own_lead_at(plan.built, end)
    if wire.lead is not None and not wire.lead.shortened:
        return "plug in" if own is None else f"its own lead of {millimetres(own.length_mm)}"
    if own is not None:
        made = made_of(plan.built, wire)
        used = next(length for owner, length in made.own if owner == end.owner)
        cut = f", cut to {millimetres(used)}" if used < own.length_mm else ""
        joined = " and joined to what is missing, under shrink sleeve" if made.joints else ""
        return f"its own lead of {millimetres(own.length_mm)}{cut}{joined}"
    work = end_work(end, joint_at(plan.built, end))
    between = resistor_at(plan.built, wire, end)
    if between is not None:
        work += f" with {between.words} between"
    return work + threaded_first(plan.built, end)


def harness_list(plan: Plan) -> PlanList:
    """Return one row a wire: what it is, where it runs, how long to cut it and what becomes of its ends."""
    rows = tuple(
        (
            wire.number,
            wire.net,
            f"{wire.colour}, sleeves {wire.number}" if wire.sleeved else wire.colour,
            wire.awg,
            end_word(wire.start),
            end_word(wire.end),
            way_word(wire),
            round(wire.bare_mm, 1),
            allowance_word(wire),
            round(wire.cut_mm, 1),
            " / ".join(_end_work(plan, wire, end) for end in (wire.start, wire.end)),
            ", ".join(f"{more:.1f} {why}" for why, more in _detours(wire).items()),
        )
        for wire in plan.built.harness.wires
    )
    columns = (
        "wire",
        "net",
        "colour (IEC 60757)",
        "gauge (AWG)",
        "from",
        "to",
        "way",
        "bare way (mm)",
        "allowances (mm)",
        "cut length (mm)",
        "ends",
        "longer than its shortest way (mm)",
    )
    return PlanList("harness", "Harness", columns, rows)


def from_to_list(plan: Plan) -> PlanList:
    """Return one row a wire, short enough for the bench: its name, where from, where to, how long."""
    rows = tuple(
        (
            wire.number,
            wire.net,
            wire.colour,
            wire.awg,
            end_word(wire.start),
            wire.start.vehicle,
            end_word(wire.end),
            wire.end.vehicle,
            round(wire.cut_mm, 1),
        )
        for wire in plan.built.harness.wires
    )
    columns = ("wire", "net", "colour", "AWG", "from", "in", "to", "in ", "cut (mm)")
    return PlanList("from-to", "From-to list", columns, rows, "Colours by IEC 60757.")


def _detours(wire: Wire) -> dict[str, float]:
    """Return how many mm a wire is longer than its shortest way, by the reason."""
    found: dict[str, float] = {}
    for entry in wire.detours:
        found[entry.why] = found.get(entry.why, 0.0) + entry.more_mm
    return found


def bundle_list(plan: Plan) -> PlanList:
    """Return one row a stretch of wires that share a way."""
    rows = tuple(
        (
            stretch.name,
            stretch.vehicle,
            stretch.port,
            stretch.conductors,
            round(stretch.diameter_mm, 2),
            round(stretch.length_mm, 1),
            _wire_numbers(stretch.wires),
        )
        for stretch in plan.built.harness.stretches
    )
    columns = ("stretch", "vehicle", "port", "conductors", "diameter (mm)", "length (mm)", "wires")
    return PlanList("bundles", "Bundles", columns, rows)


def cut_list(plan: Plan) -> PlanList:
    """Return the wires grouped by what is cut the same: length, gauge, colour and stripping at both ends."""
    groups: dict[tuple[int, str, float, float, float], list[int]] = defaultdict(list)
    for wire in (one for one in plan.built.harness.wires if one.lead is None):
        key = (wire.awg, wire.colour, round(wire.cut_mm, 1), wire.start.strip_mm, wire.end.strip_mm)
        groups[key].append(wire.number)
    rows = tuple(
        (len(wires), round(cut, 1), awg, colour, strip_a, strip_b, _wire_numbers(wires))
        for (awg, colour, cut, strip_a, strip_b), wires in sorted(groups.items())
    )
    columns = (
        "quantity",
        "cut length (mm)",
        "gauge (AWG)",
        "colour",
        "strip start (mm)",
        "strip end (mm)",
        "wires",
    )
    return PlanList("cuts", "Cut list", columns, rows)


def join_list(plan: Plan) -> PlanList:
    """Return each splice, and each pin with several wires, with the wires that meet there."""
    harness = plan.built.harness
    by_number = {wire.number: wire for wire in harness.wires}
    rows: list[tuple[Cell, ...]] = []
    for splice in harness.splices:
        for position, wire_number in enumerate(splice.wires, 1):
            wire = by_number.get(wire_number)
            if wire is None:
                continue
            far = wire.end if _is_end(wire.start, splice.name) else wire.start
            rows.append(
                (
                    splice.name,
                    splice.net,
                    splice.vehicle,
                    position,
                    wire.number,
                    wire.colour,
                    wire.awg,
                    end_word(far),
                )
            )
    rows += _shared_pins(harness.wires)
    columns = ("joint", "net", "vehicle", "no.", "wire", "colour", "gauge (AWG)", "goes to")
    return PlanList("joins", "Join list", columns, tuple(rows))


def _shared_pins(wires: Sequence[Wire]) -> list[tuple[Cell, ...]]:
    """Return rows for the pins at which several wires are soldered or clamped together."""
    at: dict[tuple[str, str], list[tuple[Wire, WireEnd, WireEnd]]] = {}
    for wire in wires:
        for here, far in ((wire.start, wire.end), (wire.end, wire.start)):
            if here.kind == "pin":
                at.setdefault((here.owner, here.pin), []).append((wire, here, far))
    return [
        (
            f"{owner}.{pin}",
            wire.net,
            here.vehicle,
            position,
            wire.number,
            f"{wire.colour}, sleeves {wire.number}" if wire.sleeved else wire.colour,
            wire.awg,
            end_word(far),
        )
        for (owner, pin), meeting in at.items()
        if len(meeting) > 1
        for position, (wire, here, far) in enumerate(meeting, 1)
    ]


def connector_list(plan: Plan) -> PlanList:
    """Return each coupling connector cavity by cavity, with the wire that ends there on either side."""
    rows: list[tuple[Cell, ...]] = []
    for crossing in plan.built.harness.crossings:
        for cavity, pair in cavities(plan, crossing.name, crossing.ahead).items():
            net = next(wire.net for wire in pair if wire is not None)
            wires = [f"{wire.number} {wire.colour} AWG {wire.awg}" if wire else "" for wire in pair]
            number_or_name: Cell = int(cavity) if cavity.isdecimal() else cavity
            rows.append((crossing.name, crossing.connector, number_or_name, net, *wires))
    columns = ("coupling", "connector", "cavity", "net", "wire ahead", "wire behind")
    return PlanList("connectors", "Connectors", columns, tuple(rows), "Both halves are wired in this order.")


def coupling_list(plan: Plan) -> PlanList:
    """Return what crosses each coupling and how long the wires over it must be."""
    rows = tuple(
        (
            crossing.name,
            crossing.ahead,
            crossing.behind,
            crossing.port_ahead,
            crossing.port_behind,
            crossing.conductors,
            round(crossing.diameter_mm, 2),
            round(crossing.straight_mm, 1),
            round(crossing.free_mm, 1),
            crossing.governing,
            round(crossing.sag_above_rail_mm, 1),
            "clip" if crossing.clip else "none",
            crossing.connector,
            _wire_numbers(crossing.wires),
        )
        for crossing in plan.built.harness.crossings
    )
    columns = (
        "coupling",
        "ahead",
        "behind",
        "port ahead",
        "port behind",
        "conductors",
        "diameter (mm)",
        "straight (mm)",
        "free length (mm)",
        "governing pose",
        "sag above rail (mm)",
        "clip",
        "connector",
        "wires",
    )
    return PlanList("couplings", "Couplings", columns, rows)


def total_list(plan: Plan) -> PlanList:
    """Return wire per gauge and colour: pieces, metres cut, metres to buy with the waste allowance."""
    rows = tuple(
        (awg, colour, count, round(cut, 1), round(buy, 1))
        for awg, colour, count, cut, buy in spool_totals(plan)
    )
    columns = ("gauge (AWG)", "colour", "pieces", "cut (mm)", "from the spool (mm)")
    return PlanList("totals", "Totals per colour and gauge", columns, rows, f"With {WASTE_SHARE:.0%} waste.")


def _wire_numbers(numbers: Iterable[int]) -> str:
    return " ".join(str(entry) for entry in numbers)


def _is_end(end: WireEnd, splice: str) -> bool:
    return end.kind == "splice" and end.owner == splice
