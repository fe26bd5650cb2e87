"""Whether wires are long enough for the parts that come out with them on, by the least that any wire needs.

A wire that stays fixed at its other end, or at the port by which it comes in, is at least as long as the
straight line from there to its pin, wherever the part is on its way out. One that is not must be named by a
finding. That longer ones go round what stands in the way is taken on trust.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.solids import Vec, unit_vector, way_length
from fitplan.model.ways_in import Exchanged, WayOut
from fitplan.model.wired import Leg, Wire
from fitplan.model.work import HELD_LENGTHS
from fitplan.verify.result import Tally

_NEAR = 0.2


def check_lifted(built: BuiltTrain, findings: tuple[Finding, ...], sheet: Tally) -> None:
    """Check every wire of every part that comes out, at the end of each of its moves."""
    told = " ".join(one.message for one in findings if one.subject == "access" and "too short" in one.message)
    for entry in built.exchanged:
        gone: set[str] = set()
        for way in (*entry.first, *((entry.last,) if entry.last is not None else ())):
            gone.update(way.parts)
            for wire, leg, at_start in _fixed(built, entry, way, gone):
                sheet.count("wires of parts that come out")
                points = leg.points if at_start else leg.points[::-1]
                has = way_length(points) + wire.cut_mm - wire.bare_mm
                has -= sum(amount for name, amount in wire.allowances if name in HELD_LENGTHS)
                needs = max((math.dist(pin, points[-1]) for pin in _pins(points[0], way)), default=0.0)
                if needs > has + _NEAR and f"wire {wire.number} (" not in told:
                    short = f"{wire.label} is {needs - has:.1f} mm too short"
                    what = f"for its part to come out for {entry.access} of {entry.need}"
                    message = f"{short} {what}, and nothing says so"
                    sheet.problem("exchange", entry.vehicle, message, needs - has, "mm")
    if built.exchanged:
        sheet.trust(
            "wires that are lifted", len(built.exchanged), "what stands in their way is not gone round"
        )


def _fixed(
    built: BuiltTrain, entry: Exchanged, way: WayOut, gone: set[str]
) -> Iterator[tuple[Wire, Leg, bool]]:
    """Yield wires of parts that move whose other end stays: the piece here, and whether its start moves."""
    for wire in built.harness.wires:
        if wire.lead is not None or not wire.legs:
            continue
        for end, other, leg, at_start in (
            (wire.start, wire.end, wire.legs[0], True),
            (wire.end, wire.start, wire.legs[-1], False),
        ):
            moves = end.kind == "pin" and end.owner in way.parts and end.vehicle == entry.vehicle
            goes_too = other.kind == "pin" and other.vehicle == entry.vehicle and other.owner in gone
            if moves and not goes_too and leg.vehicle == entry.vehicle and len(leg.points) > 1:
                yield wire, leg, at_start


def _pins(pin: Vec, way: WayOut) -> Iterator[Vec]:
    """Yield where a pin is at the end of each move."""
    x, y, z = pin
    for direction, distance in way.moves:
        dx, dy, dz = unit_vector(direction)
        x, y, z = x + distance * dx, y + distance * dy, z + distance * dz
        yield (x, y, z)
