"""From where a single part can be taken out at all: the offsets that straight moves join to an opening.

Offsets at which a part is free fall into closed boxes; within a box it slides anywhere, and boxes that touch
are joined.  What is joined to the outside through an opening has a way in while nothing else is built in.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import hull_in_tenths
from fitplan.lattice.cover import IntBox, box_in_tenths
from fitplan.model.solids import is_forward, unit_vector
from fitplan.model.vehicle import Opening, Vehicle
from fitplan.packing.access.opened_body import opened_body
from fitplan.packing.access.slide import beside, forbidden_offsets, rows_of
from fitplan.packing.engine.free_offsets import subtract

BEYOND = 10
"""A part is outside once it is clear of the hull by so much (tenths of a mm)."""
MOST_BOXES = 6000
"""More boxes of offsets than this are not searched: then nothing is ruled out."""


def offsets_with_a_way_in(
    vehicle: Vehicle, solid: tuple[tuple[int, ...], ...], removed: frozenset[str]
) -> NDArray[np.int32] | None:
    """Return closed boxes of offsets from which a turned part comes out through some opening.

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
    for opening in vehicle.openings:
        boxes = _through(vehicle, solid, removed, opening)
        if boxes is None:
            return None
        found.append(boxes)
    return np.concatenate(found) if found else np.zeros((0, 6), dtype=np.int32)


def _through(
    vehicle: Vehicle, solid: tuple[tuple[int, ...], ...], removed: frozenset[str], opening: Opening
) -> NDArray[np.int32] | None:
    mover = rows_of(solid)
    hull = hull_in_tenths(vehicle)
    room, axis, forwards = _room(mover, hull, opening)
    lid = box_in_tenths(opening.box, True)
    if lid is None:
        return np.zeros((0, 6), dtype=np.int32)
    forbidden = forbidden_offsets(mover, opened_body(vehicle, removed, opening))
    forbidden = np.concatenate([forbidden, beside(mover, lid, opening.out)])
    low, high = room[:3], room[3:]
    forbidden = forbidden[np.all((forbidden[:, :3] < high) & (forbidden[:, 3:] > low), axis=1)]
    clipped = np.unique(
        np.concatenate(
            [np.maximum(forbidden[:, :3], low - 1), np.minimum(forbidden[:, 3:], high + 1)], axis=1
        ),
        axis=0,
    )
    try:
        pieces = subtract(room[None, :].astype(np.int32), clipped.astype(np.int32))
    except OverflowError:
        return None
    if len(pieces) > MOST_BOXES:
        return None
    outside = pieces[:, axis + 3] >= room[axis + 3] if forwards else pieces[:, axis] <= room[axis]
    return pieces[_joined(pieces, outside)]


def _room(mover: NDArray[np.int64], hull: IntBox, opening: Opening) -> tuple[NDArray[np.int64], int, bool]:
    """Return the box of offsets inside the hull, and beyond it in front of the opening."""
    axis = [abs(step) for step in unit_vector(opening.out)].index(1)
    forwards = is_forward(opening.out)
    low = np.array(hull[:3]) - mover[:, :3].min(axis=0)
    high = np.array(hull[3:]) - mover[:, 3:].max(axis=0)
    if forwards:
        high[axis] = hull[axis + 3] - mover[:, axis].min() + BEYOND
    else:
        low[axis] = hull[axis] - mover[:, axis + 3].max() - BEYOND
    return np.concatenate([low, high]), axis, forwards


def _joined(pieces: NDArray[np.int32], start: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which boxes are joined to those at the start by boxes that touch or overlap."""
    reached = start.copy()
    waiting: list[int] = np.flatnonzero(start).tolist()
    while waiting:
        box = pieces[waiting.pop()]
        touching = np.all((pieces[:, :3] <= box[3:]) & (pieces[:, 3:] >= box[:3]), axis=1) & ~reached
        reached |= touching
        waiting.extend(np.flatnonzero(touching).tolist())
    return reached
