"""Foam tape between the flat side of a light part and a wall that stays: what looks out is held so.

Where nothing can be built up under a sensor behind its window, it is stuck to the wall beside it, as a lid
that is lifted off would take it along. All lengths are in tenths of a millimetre; what tape bears is common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fitplan.lattice.cover import TENTHS
from fitplan.model.placed import TAPE_MM2_PER_G, Piece, Shelf
from fitplan.model.vehicle import Vehicle
from fitplan.packing.access.slide import Rows, rows_of, sharing_room
from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.addition_shapes import CLIP_MOST_G, LEAST_HELD, UnsupportedPart, box_of, in_mm
from fitplan.packing.vehicle.posts import free_rects
from fitplan.packing.vehicle.room_for_parts import bricks_of, taken_of
from fitplan.packing.vehicle.support import LEAST_EDGE, PAD_MOST, from_above

FOAM_LEAST = 2
"""Foam tape is no thinner than this; what lies closer to a wall has plain tape between."""


def tape_on_a_wall(vehicle: Vehicle, removed: frozenset[str], part: UnsupportedPart) -> Shelf | None:
    """Return the largest foam tape that holds a part at a wall; None where it is heavy or none does.

    Where the part lies flush with the wall it has no pieces: plain tape holds it.
    """
    if part.mass_g > CLIP_MOST_G:
        return None
    least = max(LEAST_HELD, part.mass_g * TAPE_MM2_PER_G * TENTHS**2)
    walls = rows_of(bricks_of(vehicle, removed))
    boxes = [[round(v * TENTHS) for v in (*one.box.low, *one.box.high)] for one in vehicle.openings]
    lids = rows_of(boxes)
    solid = (*taken_of(vehicle, removed), *part.boxes, *part.own_room, *part.around)
    taken = np.concatenate([rows_of(solid), lids])
    best: tuple[int, IntBox | None] = (0, None)
    for axis in (0, 1):
        turned = _turned(taken, axis)
        for box in part.flat[axis] if part.flat else part.boxes:
            for pad, skin in _beside(box, axis, walls):
                if sharing_room(rows_of([skin]), lids).any():
                    continue
                thick = pad[axis + 3] - pad[axis]
                column = _column(pad, axis)
                rects = free_rects(column, turned) if thick >= FOAM_LEAST else [from_above(column)]
                for rect in rects:
                    x0, y0, x1, y1 = rect
                    area = (x1 - x0) * (y1 - y0)
                    if area >= max(least, best[0] + 1) and min(x1 - x0, y1 - y0) >= LEAST_EDGE:
                        whole = (x0, y0, column[2], x1, y1, column[5])
                        best = (area, _column(whole, axis) if thick >= FOAM_LEAST else None)
    if not best[0]:
        return None
    pieces = (Piece("pad", in_mm(best[1])),) if best[1] is not None else ()
    return Shelf("wall", pieces, 0, True)


def _beside(box: IntBox, axis: int, walls: Rows) -> Iterator[tuple[IntBox, IntBox]]:
    """Yield what fills the gap from a box to a wall along an axis, and the skin of the wall behind that."""
    low, high = np.maximum(walls[:, :3], box[:3]), np.minimum(walls[:, 3:], box[3:])
    across = [other for other in (0, 1, 2) if other != axis]
    wide = (high[:, across] - low[:, across] >= LEAST_EDGE).all(axis=1)
    for face, forwards in ((walls[:, axis], True), (walls[:, axis + 3], False)):
        gap = face - box[axis + 3] if forwards else box[axis] - face
        for row in np.flatnonzero(wide & (gap >= 0) & (gap < PAD_MOST)).tolist():
            pad = [*low[row].tolist(), *high[row].tolist()]
            skin = list(pad)
            near, far = (box[axis + 3], int(face[row])) if forwards else (int(face[row]), box[axis])
            pad[axis], pad[axis + 3] = near, far
            skin[axis], skin[axis + 3] = (far, far + 1) if forwards else (near - 1, near)
            yield box_of(pad), box_of(skin)


def _turned(rows: Rows, axis: int) -> Rows:
    """Return boxes with the axis across the tape as the third one; twice: as they were."""
    order = [0, 1, 2]
    order[axis], order[2] = 2, axis
    return rows[:, [*order, *(i + 3 for i in order)]]


def _column(box: IntBox, axis: int) -> IntBox:
    return box_of(_turned(rows_of([box]), axis)[0].tolist())
