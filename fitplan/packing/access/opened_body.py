"""The body of a vehicle while one of its openings is open, as boxes in tenths of a millimetre."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from fitplan.lattice.boxes import ExactSpace, part_boxes
from fitplan.lattice.cover import TENTHS, IntBox, box_in_tenths
from fitplan.lattice.states import FREE_BIT, OUTSIDE_BIT
from fitplan.model.vehicle import Opening, Vehicle
from fitplan.packing.access.slide import Rows, rows_of
from fitplan.units import PLAY


@lru_cache(maxsize=64)  # asked for again for every set of parts that is tried in a vehicle
def opened_body(vehicle: Vehicle, removed: frozenset[str], opening: Opening | None) -> Rows:
    """Return all that stands in the way of a part on its way in, (n, 6) rows of box corners.

    The lid of the opening is off, but nothing built in goes with it. Parts pass through free and outside
    space, not through keep-clear. With no opening the body is closed. The array is
    shared: do not write to it.
    """
    space = ExactSpace.of(vehicle, removed=removed)
    clear = np.uint64(FREE_BIT | OUTSIDE_BIT)
    boxes: list[IntBox] = space.boxes((space.bits & ~clear) != 0)
    if opening is None:
        return rows_of(boxes)
    lid = box_in_tenths(opening.box, False)
    if lid is not None:
        boxes = [piece for box in boxes for piece in without(box, lid)]
    built_in = [box for built in vehicle.built_in for box in part_boxes(built.solids) if min(box.size) > 0]
    return rows_of([*boxes, *built_in])


@lru_cache(maxsize=16)
def least_body(vehicle: Vehicle, removed: frozenset[str]) -> Rows:
    """Return the least that stands in the way of a part: all lids off, bricks stood back, rounded inwards.

    (n, 6) rows of box corners; the array is shared: do not write to it.
    """
    space = ExactSpace.of(vehicle, removed=removed, play=True)
    boxes: list[IntBox] = space.boxes(space.walls("inward"))
    give = round(PLAY * TENTHS)
    for opening in vehicle.openings:
        lid = box_in_tenths(opening.box, True)
        if lid is None:
            continue
        wide = IntBox(lid.x0 - give, lid.y0 - give, lid.z0, lid.x1 + give, lid.y1 + give, lid.z1)
        boxes = [piece for box in boxes for piece in without(box, wide)]
    built_in = [
        box for built in vehicle.built_in for box in part_boxes(built.solids, "inward") if min(box.size) > 0
    ]
    return rows_of([*boxes, *built_in])


def without(box: IntBox, lid: IntBox) -> list[IntBox]:
    """Return a box less another, as up to six boxes."""
    if any(box[i] >= lid[i + 3] or box[i + 3] <= lid[i] for i in range(3)):
        return [box]
    found: list[IntBox] = []
    rest = list(box)
    for axis in range(3):
        if rest[axis] < lid[axis]:
            found.append(IntBox(*[*rest[: axis + 3], lid[axis], *rest[axis + 4 :]]))
            rest[axis] = lid[axis]
        if rest[axis + 3] > lid[axis + 3]:
            found.append(IntBox(*[*rest[:axis], lid[axis + 3], *rest[axis + 1 :]]))
            rest[axis + 3] = lid[axis + 3]
    return found
