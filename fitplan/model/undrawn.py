"""Rooms inside a body that its file draws neither as brick nor as clear: they count as outside.

Who draws walls alone leaves out that what lies between them is free, and then nothing is placed there. A room
counts as meant when something is drawn below it and on four sides of it, or on three and above: windows may
be left out of a drawing.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fitplan.model.part import Part
from fitplan.model.solids import Box, bounds_of
from fitplan.model.vehicle import Vehicle
from fitplan.units import BRICK, STUD

LEAST = (2 * STUD, 2 * STUD, BRICK)
"""Less than this along x, y, z is a slit between what is drawn (mm; common practice, no source)."""
_MOST_CELLS = 2_000_000
"""Bodies of so many cells come from meshes, whose rooms are written by the program."""
_DRAWN, _AIR = 1, 2


@lru_cache(maxsize=64)
def undrawn_rooms(vehicle: Vehicle) -> tuple[Box, ...]:
    """Return the box round each room that is not drawn, the largest first."""
    hull = vehicle.hull
    bounds = [entry.solid.bounds for entry in vehicle.body]
    planes = [
        np.unique(
            np.clip(
                [
                    hull.low[axis],
                    hull.high[axis],
                    *(end[axis] for box in bounds for end in (box.low, box.high)),
                ],
                hull.low[axis],
                hull.high[axis],
            )
        )
        for axis in range(3)
    ]
    shape = tuple(len(one) - 1 for one in planes)
    if np.prod(shape) > _MOST_CELLS:
        return ()
    drawn = np.zeros(shape, dtype=np.int8)
    for entry, box in zip(vehicle.body, bounds, strict=True):
        window = tuple(
            slice(*np.searchsorted(planes[axis], (box.low[axis], box.high[axis])).tolist())
            for axis in range(3)
        )
        drawn[window] = _AIR if entry.state == "outside" else _DRAWN
    found = []
    for cells in _pieces(_within(drawn)):
        low, high = cells.min(axis=0), cells.max(axis=0) + 1
        ends = [[float(planes[axis][end[axis]]) for axis in range(3)] for end in (low, high)]
        room = Box((ends[0][0], ends[0][1], ends[0][2]), (ends[1][0], ends[1][1], ends[1][2]))
        if all(size >= least for size, least in zip(room.size, LEAST, strict=True)):
            found.append(room)
    return tuple(sorted(found, key=lambda room: (-room.volume, room.low)))


def undrawn_room_for(vehicle: Vehicle, part: Part) -> Box | None:
    """Return a room that is not drawn and as large as a part, whichever way it is turned."""
    size = sorted(bounds_of(part.envelope).size)
    return next(
        (
            room
            for room in undrawn_rooms(vehicle)
            if all(one <= other for one, other in zip(size, sorted(room.size), strict=True))
        ),
        None,
    )


def undrawn_words(vehicle: str, room: Box) -> str:
    """Return what a room that is not drawn means, as a clause."""
    long, wide, high = room.size
    return (
        f"{long:g} × {wide:g} × {high:g} mm inside {vehicle} are drawn neither as brick nor as free room, "
        "and count as outside"
    )


def drawing_advice(room: Box) -> str:
    """Return what to write so that a room that is not drawn is free."""
    low, high = (", ".join(f"{value:g}" for value in end) for end in (room.low, room.high))
    return (
        f"write `- {{state: free, box: {{from: [{low}], to: [{high}]}}}}` at the head of its `solids`: the "
        "walls, drawn later, replace what they share with it"
    )


def _within(drawn: NDArray[np.int8]) -> NDArray[np.bool_]:
    """Return which cells nothing is drawn in, but below and on four sides, or below, on three and above."""
    solid = drawn == _DRAWN

    def seen(axis: int, *, backwards: bool) -> NDArray[np.bool_]:
        turned = np.flip(solid, axis) if backwards else solid
        found: NDArray[np.bool_] = np.logical_or.accumulate(turned, axis=axis)
        return np.flip(found, axis) if backwards else found

    sides = sum(seen(axis, backwards=way).astype(np.int8) for axis in (0, 1) for way in (False, True))
    covered = seen(2, backwards=True)
    inside: NDArray[np.bool_] = (drawn == 0) & seen(2, backwards=False) & (sides + covered >= 4)
    return inside


def _pieces(cells: NDArray[np.bool_]) -> list[NDArray[np.int64]]:
    """Return the cells of each piece that hangs together, (n, 3)."""
    left = {tuple(cell) for cell in np.argwhere(cells).tolist()}
    found = []
    while left:
        piece = [left.pop()]
        for cell in piece:
            for axis in range(3):
                for step in (-1, 1):
                    beside = (*cell[:axis], cell[axis] + step, *cell[axis + 1 :])
                    if beside in left:
                        left.remove(beside)
                        piece.append(beside)
        found.append(np.array(piece, dtype=np.int64))
    return found
