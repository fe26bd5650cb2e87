"""Foam tape between the flat side of a light part and a wall that stays: what looks out is held so.

Where nothing can be built up under a sensor behind its window, it is stuck to the wall beside it, as a lid
that is lifted off would take it along. All lengths are in tenths of a millimetre; what tape bears is common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.cover import TENTHS
from fitplan.model.placed import TAPE_MM2_PER_G, Piece, Shelf
from fitplan.model.vehicle import Vehicle
from fitplan.packing.access.slide import Rows, rows_of
from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.addition_shapes import CLIP_MOST_G, LEAST_HELD, UnsupportedPart, box_of, in_mm
from fitplan.packing.vehicle.room_for_parts import bricks_of, taken_of
from fitplan.packing.vehicle.support import PAD_MOST, Rect

FOAM_LEAST = 2
"""Foam tape is no thinner than this; what lies closer to a wall has plain tape between."""

NARROWEST = 20
"""Tape is no narrower than this along the wall: thinner strips are not cut (common practice, no source)."""


def tape_on_a_wall(vehicle: Vehicle, removed: frozenset[str], part: UnsupportedPart) -> Shelf | None:
    """Return the largest foam tape that holds a part at a wall; None where it is heavy or none does.

    Where the part lies flush with the wall it has no pieces: plain tape holds it.
    """
    if part.mass_g > CLIP_MOST_G:
        return None
    walls = rows_of(bricks_of(vehicle, removed))
    lids = rows_of([[round(v * TENTHS) for v in (*one.box.low, *one.box.high)] for one in vehicle.openings])
    taken = rows_of((*taken_of(vehicle, removed), *part.boxes, *part.own_room, *part.around))
    area = max(LEAST_HELD, part.mass_g * TAPE_MM2_PER_G * TENTHS**2) - 1
    best: Shelf | None = None
    for axis in (0, 1):
        for box in part.flat[axis] if part.flat else part.boxes:
            for forwards in (True, False):
                for gap, met in _faces(box, axis, walls, forwards=forwards):
                    shut = [_between(lids, box, axis, gap + 1, forwards=forwards)]
                    if gap >= FOAM_LEAST:
                        shut.append(_between(taken, box, axis, gap, forwards=forwards))
                    rect = _largest(box, axis, met, np.concatenate(shut))
                    if rect is None or (size := (rect[2] - rect[0]) * (rect[3] - rect[1])) <= area:
                        continue
                    area = size
                    pad = _pad(box, axis, gap, rect, forwards=forwards)
                    best = Shelf("wall", (Piece("pad", in_mm(pad)),) if gap >= FOAM_LEAST else (), 0, True)
    return best


def _faces(box: IntBox, axis: int, walls: Rows, *, forwards: bool) -> Iterator[tuple[int, Rows]]:
    """Yield how far off faces of walls before a box are, less than a plate, each with its walls."""
    away = walls[:, axis] - box[axis + 3] if forwards else box[axis] - walls[:, axis + 3]
    near = (away >= 0) & (away < PAD_MOST)
    across = [other for other in (0, 1, 2) if other != axis]
    for other in across:
        near &= (walls[:, other] < box[other + 3]) & (walls[:, other + 3] > box[other])
    for gap in np.unique(away[near]).tolist():
        yield gap, walls[near & (away == gap)]


def _between(rows: Rows, box: IntBox, axis: int, gap: int, *, forwards: bool) -> Rows:
    """Return the boxes that reach into the room so far before a box."""
    low, high = (box[axis + 3], box[axis + 3] + gap) if forwards else (box[axis] - gap, box[axis])
    return rows[(rows[:, axis] < high) & (rows[:, axis + 3] > low)]


def _largest(box: IntBox, axis: int, walls: Rows, shut: Rows) -> Rect | None:
    """Return the largest rectangle of a box's side that lies before walls and before nothing that is shut."""
    across = [other for other in (0, 1, 2) if other != axis]
    lines = [
        np.unique(
            np.clip(
                np.concatenate([rows[:, side] for rows in (walls, shut) for side in (i, i + 3)]),
                box[i],
                box[i + 3],
            )
        )
        for i in across
    ]
    free = np.zeros([len(line) - 1 for line in lines], dtype=bool)
    for rows, value in ((walls, True), (shut, False)):
        for row in rows:
            cells = tuple(
                slice(*np.searchsorted(line, np.clip((row[i], row[i + 3]), box[i], box[i + 3])).tolist())
                for i, line in zip(across, lines, strict=True)
            )
            free[cells] = value
    first, second = (line.tolist() for line in lines)
    best: tuple[int, Rect | None] = (0, None)
    for i in range(len(first) - 1):
        open_ = np.ones(len(second) - 1, dtype=bool)
        for j in range(i + 1, len(first)):
            open_ &= free[j - 1]
            wide = first[j] - first[i]
            for begin, end in _runs(open_) if wide >= NARROWEST else ():
                long = second[end] - second[begin]
                if long >= NARROWEST and wide * long > best[0]:
                    best = (wide * long, (first[i], second[begin], first[j], second[end]))
    return best[1]


def _runs(open_: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return where each run of open cells begins and ends."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], open_, [False]]).astype(np.int8))).tolist()
    return list(zip(edges[::2], edges[1::2], strict=True))


def _pad(box: IntBox, axis: int, gap: int, rect: Rect, *, forwards: bool) -> IntBox:
    low, high = list(box[:3]), list(box[3:])
    low[axis], high[axis] = (high[axis], high[axis] + gap) if forwards else (low[axis] - gap, low[axis])
    for number, other in enumerate(i for i in (0, 1, 2) if i != axis):
        low[other], high[other] = rect[number], rect[number + 2]
    return box_of([*low, *high])
