"""Offsets without those at which a part would lie in a zone that shuts it out.

A part keeps its envelope and the room of its plugs out of zones without parts, and its pins out of zones
without wires, since no wire could reach them there. For *cannot fit* zones are shrunk by the play of real
bricks and only boxes count, so that no offset that may obey is left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from fitplan.lattice.cover import TENTHS
from fitplan.lattice.frame import Rounding
from fitplan.model.needed import Need
from fitplan.model.part import Part
from fitplan.model.solids import ORIGIN, Box, Place, Pose, Solid, Vec
from fitplan.model.vehicle import Vehicle
from fitplan.packing.engine.problem import IntBox
from fitplan.units import PLAY

EDGE = 1e-6


def out_of_zones(
    offsets: Iterable[IntBox], part: Part, pose: Pose, need: Need, vehicle: Vehicle, rounding: Rounding
) -> list[IntBox]:
    """Return boxes of offsets (tenths of a mm) that leave a part out of the zones that it may not be in."""
    left = list(offsets)
    if not vehicle.zones:
        return left
    for taken in _taken(part, pose, need, vehicle, rounding):
        left = [rest for box in left for rest in _without(box, taken)]
    return left


def _taken(part: Part, pose: Pose, need: Need, vehicle: Vehicle, rounding: Rounding) -> Iterator[IntBox]:
    """Yield the offsets, both ends among them, at which something of the part lies inside a zone."""
    place = Place(pose, ORIGIN)
    sure = rounding == "outward"
    solids: list[Solid] = [one for one in part.envelope if sure or isinstance(one, Box)]
    if sure:
        solids += [one.solid for one in part.clearances if one.kind == "plug" and one.needed == "always"]
    boxes = [place.move_solid(solid).bounds for solid in solids]
    pins = [Box(at, at) for at in (place.move(pin.at) for pin in part.pins if not pin.optional)]
    give = 0.0 if sure else PLAY
    for zone in vehicle.zones:
        low: Vec = tuple(value + give for value in zone.box.low)  # type: ignore[assignment]
        high: Vec = tuple(value - give for value in zone.box.high)  # type: ignore[assignment]
        for box in (*(boxes if zone.shuts_out(need.name) else ()), *(pins if not zone.wires else ())):
            first = [_after(low[i] - box.high[i]) for i in range(3)]
            last = [_before(high[i] - box.low[i]) for i in range(3)]
            if all(a <= b for a, b in zip(first, last, strict=True)):
                yield (first[0], first[1], first[2], last[0], last[1], last[2])


def _after(length: float) -> int:
    """Return the first whole tenth beyond a length in mm."""
    return int((length * TENTHS + EDGE) // 1) + 1


def _before(length: float) -> int:
    """Return the last whole tenth before a length in mm."""
    return -_after(-length)


def _without(box: IntBox, taken: IntBox) -> Iterator[IntBox]:
    """Yield up to six boxes that fill what is left of a box of whole numbers."""
    low, high = list(box[:3]), list(box[3:])
    if any(taken[i] > high[i] or taken[i + 3] < low[i] for i in range(3)):
        yield box
        return
    for axis in range(3):
        if taken[axis] > low[axis]:
            cut = list(high)
            cut[axis] = taken[axis] - 1
            yield (low[0], low[1], low[2], cut[0], cut[1], cut[2])
            low[axis] = taken[axis]
        if taken[axis + 3] < high[axis]:
            cut = list(low)
            cut[axis] = taken[axis + 3] + 1
            yield (cut[0], cut[1], cut[2], high[0], high[1], high[2])
            high[axis] = taken[axis + 3]
