"""From where a single part can be taken out at all: the offsets that straight moves join to a way in.

The free offsets of a part fall into closed boxes (`long_ways`). What is joined to the outside through an
opening or an open side has a way in while nothing else is built in. Asked with everything rounded inwards
and every lid off at once, what is not joined has none by straight moves, however many: that is a proof.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import hull_in_tenths, part_boxes
from fitplan.lattice.cover import TENTHS, IntBox, box_in_tenths
from fitplan.model.placed import Placement
from fitplan.model.solids import Place, Solid, axis_of, is_forward
from fitplan.model.vehicle import Opening, Vehicle
from fitplan.packing.access.long_ways import free_boxes_of, joined
from fitplan.packing.access.opened_body import least_body, opened_body
from fitplan.packing.access.openings import is_open_side, ways_into
from fitplan.packing.access.slide import Rows, beyond_opening, forbidden_offsets, rows_of

BEYOND = 10
"""A part is outside once it is clear of the hull by so much (tenths of a mm)."""


def offsets_with_a_way_in(
    vehicle: Vehicle, solid: tuple[tuple[int, ...], ...], removed: frozenset[str]
) -> NDArray[np.int32] | None:
    """Return closed boxes of offsets from which a turned part comes out through some opening or open side.

    Parameters
    ----------
    solid
        Boxes of the turned part at the origin, in tenths of a mm.

    Returns
    -------
    NDArray or None
        (n, 6) int32; None when the offsets fall into too many boxes to tell.
    """
    found = []
    for opening in ways_into(vehicle, removed):
        boxes = _through(vehicle, solid, removed, opening)
        if boxes is None:
            return None
        found.append(boxes)
    return np.concatenate(found) if found else np.zeros((0, 6), dtype=np.int32)


def surely_shut_in(vehicle: Vehicle, placement: Placement, removed: frozenset[str]) -> bool:
    """Return whether no straight moves, however many, bring a part out of where it lies, alone: a proof.

    All lids are off at once, bricks stand back by their play, and body and part are rounded inwards. False
    also where that could not be settled.
    """
    mover = _rows_within(placement)
    if not len(mover):
        return False
    hull = hull_in_tenths(vehicle, "outward")
    size = mover[:, 3:].max(axis=0) - mover[:, :3].min(axis=0)
    low = np.array(hull[:3]) - mover[:, 3:].max(axis=0) - BEYOND - size
    high = np.array(hull[3:]) - mover[:, :3].min(axis=0) + BEYOND + size
    room = np.concatenate([low, high])
    pieces = free_boxes_of(forbidden_offsets(mover, least_body(vehicle, removed)), room)
    if pieces is None:
        return False
    outside = np.any((pieces[:, :3] <= low) | (pieces[:, 3:] >= high), axis=1)
    here = np.all((pieces[:, :3] <= 0) & (pieces[:, 3:] >= 0), axis=1)
    return not bool((joined(pieces, outside) & here).any())


def _rows_within(placement: Placement) -> Rows:
    """Return boxes that lie within a placed part, rounded in its own frame, where it lies."""
    still = Place(placement.place.pose, (0.0, 0.0, 0.0))
    solids: Iterable[Solid] = [still.move_solid(solid) for solid in placement.part.envelope]
    rows = rows_of(box for box in part_boxes(solids, "inward") if min(box.size) > 0)
    offset = [round(value * TENTHS) for value in placement.place.offset]
    return rows + np.array([*offset, *offset], dtype=np.int64)


def room_to_leave(mover: Rows, hull: IntBox, opening: Opening) -> NDArray[np.int64]:
    """Return the box of offsets inside the hull, and beyond it in front of an opening, (6,)."""
    axis, forwards = axis_of(opening.out), is_forward(opening.out)
    low = np.array(hull[:3]) - mover[:, :3].min(axis=0)
    high = np.array(hull[3:]) - mover[:, 3:].max(axis=0)
    if forwards:
        high[axis] = hull[axis + 3] - mover[:, axis].min() + BEYOND
    else:
        low[axis] = hull[axis] - mover[:, axis + 3].max() - BEYOND
    return np.concatenate([low, high])


def _through(
    vehicle: Vehicle, solid: tuple[tuple[int, ...], ...], removed: frozenset[str], opening: Opening
) -> NDArray[np.int32] | None:
    mover = rows_of(solid)
    lid = box_in_tenths(opening.box, True)
    if lid is None:
        return np.zeros((0, 6), dtype=np.int32)
    room = room_to_leave(mover, hull_in_tenths(vehicle), opening)
    off = None if is_open_side(vehicle, opening.name) else opening
    forbidden = forbidden_offsets(mover, opened_body(vehicle, removed, off))
    forbidden = np.concatenate([forbidden, beyond_opening(mover, lid, opening.out)])
    pieces = free_boxes_of(forbidden, room)
    if pieces is None:
        return None
    axis = axis_of(opening.out)
    far = pieces[:, axis + 3] >= room[axis + 3] if is_forward(opening.out) else pieces[:, axis] <= room[axis]
    return pieces[joined(pieces, far)]
