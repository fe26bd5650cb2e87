"""A post under a part whose underside nothing reaches in its whole width: past what must be kept clear.

Where a part lies over another that carries nothing, such as pins with the room of their plugs, a column of
free room from a brick up to a face of the part is looked for, wide enough for a post, with the part's middle
over it. All lengths are in tenths of a millimetre.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.support import Boxes, Rect, contacts, middle_of, resting_faces, stands

LEAST_POST = 78
"""A post is a stud wide at the least, less the play of bricks: a thinner one is knocked over in building."""


def post_under(
    boxes: Sequence[IntBox], soles: Sequence[IntBox], bearing: Boxes, taken: Boxes
) -> IntBox | None:
    """Return the widest room for a post that a part stands on alone; None where there is none.

    Parameters
    ----------
    boxes, soles
        The part, and those of its boxes whose undersides may rest on something.
    bearing
        (n, 6) what a post may stand on.
    taken
        (n, 6) what it may not run into: bodies, parts, and the room that parts keep clear.
    """
    center = middle_of(boxes)
    in_the_way = np.concatenate([taken, np.array(boxes, dtype=np.int64)])
    best: IntBox | None = None
    for face in resting_faces(soles):
        for top in sorted({int(value) for value in bearing[bearing[:, 5] < face.bottom, 5]}):
            level = bearing[bearing[:, 5] == top]
            for patch in contacts([face], level, face.bottom - top):
                column = (*patch[:2], top, *patch[2:], face.bottom)
                for x0, y0, x1, y1 in _free_rects(column, in_the_way):
                    room = (x0, y0, top, x1, y1, face.bottom)
                    if stands(center, [(x0, y0, x1, y1)]) and (best is None or _rank(room) > _rank(best)):
                        best = room
    return best


def _rank(room: IntBox) -> tuple[int, int, IntBox]:
    """Order posts: the widest, then the shortest."""
    return ((room[3] - room[0]) * (room[4] - room[1]), room[2] - room[5], room)


def _free_rects(column: IntBox, rows: Boxes) -> Iterator[Rect]:
    """Yield the largest rectangles across a column that nothing reaches into over its height, posts wide."""
    low, high = np.array(column[:3]), np.array(column[3:])
    met = rows[((rows[:, :3] < high) & (rows[:, 3:] > low)).all(axis=1)]
    found = {(column[0], column[1], column[3], column[4])}
    for a, b, _, c, d, _ in met.tolist():
        found = {piece for rect in found for piece in _beside(rect, (a, b, c, d))}
    yield from sorted(rect for rect in found if _wide(rect))


def _beside(rect: Rect, taken: Rect) -> list[Rect]:
    """Return the largest rectangles of one beside another: up to four, which overlap."""
    x0, y0, x1, y1 = rect
    a, b, c, d = taken
    if a >= x1 or c <= x0 or b >= y1 or d <= y0:
        return [rect]
    sides = [(x0, y0, a, y1), (c, y0, x1, y1), (x0, y0, x1, b), (x0, d, x1, y1)]
    return [side for side in sides if _wide(side)]


def _wide(rect: Rect) -> bool:
    return min(rect[2] - rect[0], rect[3] - rect[1]) >= LEAST_POST
