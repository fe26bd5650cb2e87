"""What the pin map says each pin does, and for whom, worked out again from the nets.

A pin that the matching chose can do all that the other ends of its nets want; it is said to do just that,
and to serve just those ends. Every end of a net that leaves the pin open has one row of the map. Pins that
are kept free can do what is asked to be kept free.
"""

from __future__ import annotations

from collections import defaultdict

from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.nets import Net
from fitplan.model.part import CANS, Can, Pin
from fitplan.verify.result import Tally

ANY_SIGNAL = "any signal"


def check_pin_map(built: BuiltTrain, findings: tuple[Finding, ...], sheet: Tally) -> None:
    """Check what pins do and whom they serve."""
    nets = {net.name: net for net in built.train.nets}
    on_pin: dict[tuple[str, str], list[str]] = defaultdict(list)
    for use in built.pin_map:
        on_pin[use.controller, use.pin].append(use.net)
    for use in built.pin_map:
        sheet.count("rows of the pin map worked out")
        where = f"{use.controller}.{use.pin}"
        pin = next((pin for pin in _pins_of(built, use.controller) if pin.name == use.pin), None)
        if pin is None:
            sheet.problem("pin map", where, "is no pin of the train")
            continue
        does = _abilities(use.does)
        if does is None:
            sheet.problem("pin map", where, f"is said to do {use.does!r}, which no pin does")
            continue
        if not does <= pin.can:
            lacking = " and ".join(sorted(does - pin.can))
            sheet.problem("pin map", where, f"is said to do {use.does}; it cannot do {lacking}")
        if not use.net:
            continue
        if pin.role != "signal":
            sheet.problem("pin map", where, f"serves {use.net}, and is a {pin.role} pin")
        together = [nets[name] for name in on_pin[use.controller, use.pin] if name in nets]
        wanted, ends = _wanted(built, use.controller, together)
        if wanted != does:
            asked = " and ".join(can for can in CANS if can in wanted) or ANY_SIGNAL
            sheet.problem("pin map", where, f"is said to do {use.does}; its nets want {asked}")
        served = {text.strip() for text in use.serves.split(",")} - {""}
        if served != ends:
            message = f"is said to serve {use.serves or 'nothing'}; its nets join {', '.join(sorted(ends))}"
            sheet.problem("pin map", where, message)
    told = any(entry.subject == "pins" and entry.severity != "note" for entry in findings)
    _every_open_end(built, told, sheet)
    _kept_free(built, told, sheet)


def _abilities(does: str) -> frozenset[Can] | None:
    if does == ANY_SIGNAL:
        return frozenset()
    words = does.split(" and ")
    found = frozenset(can for can in CANS if can in words)
    return found if len(found) == len(words) else None


def _wanted(built: BuiltTrain, controller: str, nets: list[Net]) -> tuple[frozenset[Can], set[str]]:
    wanted: set[Can] = set()
    ends: set[str] = set()
    for net in nets:
        for ref in net.joins:
            if ref.owner == controller:
                continue
            ends.add(f"{ref.owner}.{ref.pin}")
            pins = _pins_of(built, ref.owner)
            named = [pin for pin in pins if pin.name == ref.pin] or [
                pin for pin in pins if pin.role == ref.pin
            ]
            for pin in named:
                wanted |= pin.wants
    return frozenset(wanted), ends


def _pins_of(built: BuiltTrain, owner: str) -> tuple[Pin, ...]:
    """Return the pins of a part; of one without a place, those of its first candidate."""
    found = built.pins_of(owner)
    if found:
        return found
    need = next((need for need in built.train.needs if need.name == owner), None)
    return need.candidates[0].pins if need is not None and need.candidates else ()


def _every_open_end(built: BuiltTrain, told: bool, sheet: Tally) -> None:
    """Check that every end that leaves its pin open has one row; ``told``: a finding says that pins lack."""
    for net in built.train.nets:
        for owner in sorted({ref.owner for ref in net.joins if ref.pin == "*"}):
            if built.placement(owner) is None:
                continue  # that it has no place is told; its pins are nobody's
            others = {ref.owner for ref in net.joins} - {owner}
            if not any(built.placement(other) or built.train.built_in(other) for other in others):
                continue  # so does a net of which all other ends have none
            rows = [use for use in built.pin_map if (use.controller, use.net) == (owner, net.name)]
            sheet.count("ends that the pin map fills")
            if len(rows) > 1:
                sheet.problem("pin map", owner, f"{net.name} is on {len(rows)} of its pins")
            if not rows and not told:
                sheet.problem("pin map", owner, f"has no pin for {net.name}, and no finding says so")


def _kept_free(built: BuiltTrain, told: bool, sheet: Tally) -> None:
    for need in built.train.needs:
        if need.choice is None or built.placement(need.name) is None:
            continue
        for can, count in need.choice.pins:
            rows = [use for use in built.pin_map if use.controller == need.name and not use.net]
            kept = sum(use.does == can for use in rows)
            sheet.count("pins kept free")
            if kept < count and not told:
                message = f"keeps {kept} of {count} {can} pins free, and no finding says so"
                sheet.problem("pin map", need.name, message, count - kept, "pins")
