"""The body of a vehicle while one of its openings is open, as boxes in tenths of a millimetre."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from fitplan.lattice.boxes import ExactSpace, part_boxes
from fitplan.lattice.cover import TENTHS, box_in_tenths
from fitplan.lattice.difference import without
from fitplan.lattice.frame import Rounding
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
    if opening is None:
        space = ExactSpace.of(vehicle, removed=removed)
        clear = np.uint64(FREE_BIT | OUTSIDE_BIT)
        return rows_of(space.boxes((space.bits & ~clear) != 0))
    boxes = opened_body(vehicle, removed, None)
    lid = box_in_tenths(opening.box, False)
    if lid is not None:
        boxes = without(boxes, lid)
    return np.concatenate([boxes, _built_in(vehicle, "outward")])


@lru_cache(maxsize=16)
def least_body(vehicle: Vehicle, removed: frozenset[str]) -> Rows:
    """Return the least that stands in the way of a part: all lids off, bricks stood back, rounded inwards.

    (n, 6) rows of box corners; the array is shared: do not write to it.
    """
    space = ExactSpace.of(vehicle, removed=removed, play=True)
    boxes = rows_of(space.boxes(space.walls("inward")))
    give = round(PLAY * TENTHS)
    for opening in vehicle.openings:
        lid = box_in_tenths(opening.box, True)
        if lid is None:
            continue
        wide = (lid.x0 - give, lid.y0 - give, lid.z0, lid.x1 + give, lid.y1 + give, lid.z1)
        boxes = without(boxes, wide)
    return np.concatenate([boxes, _built_in(vehicle, "inward")])


def _built_in(vehicle: Vehicle, rounding: Rounding) -> Rows:
    """Return what is built in: no lid takes it along."""
    solids = (solid for built in vehicle.built_in for solid in built.solids)
    return rows_of([box for box in part_boxes(solids, rounding) if min(box.size) > 0])
