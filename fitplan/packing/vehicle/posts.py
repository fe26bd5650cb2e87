"""A post under a part whose underside nothing reaches in its whole width: past what must be kept clear.

Where a part lies over another that carries nothing, such as pins with the room of their plugs, a column of
free room from a brick up to a face of the part is looked for, wide enough for a post, with the part's middle
over it. Under the edge of a board a post or block is wider than the edge: what is built up stands by itself.
All lengths are in tenths of a millimetre.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.support import (
    LEAST_EDGE,
    Boxes,
    Rect,
    Underside,
    contacts,
    cut_to,
    from_above,
    middle_of,
    resting_faces,
    stands,
)

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
                for x0, y0, x1, y1 in free_rects(column, in_the_way, LEAST_POST):
                    if not stands(center, [(x0, y0, x1, y1)]):
                        continue

                    def holds(wide: IntBox, rect: Rect = face.rect) -> bool:
                        return stands(center, [r for r in [_shared(rect, wide)] if r is not None])

                    room = broadened((x0, y0, top, x1, y1, face.bottom), level, in_the_way, holds)
                    if room is not None and (best is None or _rank(room) > _rank(best)):
                        best = room
    return best


def broadened(
    room: IntBox, bearing: Boxes, taken: Boxes, holds: Callable[[IntBox], bool] = lambda _: True
) -> IntBox | None:
    """Return a room under a part, where it is thinner than a stud as wide as one; None without room for that.

    Where it is wider than a stud it may be shorter than it was, past what is in the way.

    Parameters
    ----------
    bearing
        (n, 6) what it may stand on: its middle must lie over that.
    taken
        (n, 6) what it may not run into.
    holds
        Whether it bears the part.
    """
    level = bearing[bearing[:, 5] == room[2]]
    lines = [_shifts(room, axis, taken) for axis in (0, 1)]
    sides = sorted(
        ((x, y) for x in lines[0] for y in lines[1]),
        key=lambda side: sum(abs(sum(line) - room[i] - room[i + 3]) for i, line in enumerate(side)),
    )
    thin = [axis for axis in (0, 1) if room[axis + 3] - room[axis] < LEAST_POST]
    for (x0, x1), (y0, y1) in sides:
        rects = free_rects((x0, y0, room[2], x1, y1, room[5]), taken, LEAST_POST)
        for rect in sorted(rects, key=lambda one: (one[0] - one[2]) * (one[3] - one[1])):
            if any(rect[axis] > room[axis] or rect[axis + 2] < room[axis + 3] for axis in thin):
                continue
            wide = (*rect[:2], room[2], *rect[2:], room[5])
            foot = contacts([Underside(rect, room[2])], level, 0)
            if stands(((rect[0] + rect[2]) / 2, (rect[1] + rect[3]) / 2), foot) and holds(wide):
                return wide
    return None


def _shifts(room: IntBox, axis: int, taken: Boxes) -> list[tuple[int, int]]:
    """Return how a room may be widened along an axis: about its middle, at its ends, up to what is there."""
    low, high = room[axis], room[axis + 3]
    more = LEAST_POST - (high - low)
    if more <= 0:
        return [(low, high)]
    ends = {low - more, low - more // 2, low}
    ends |= {int(value) for value in taken[:, axis + 3]} | {int(v) - LEAST_POST for v in taken[:, axis]}
    return [(end, end + LEAST_POST) for end in sorted(ends) if low - more <= end <= low]


def _shared(rect: Rect, wide: IntBox) -> Rect | None:
    """Return what of a face lies on a post."""
    cut = cut_to([rect], wide)
    return None if cut is None else from_above(cut)


def _rank(room: IntBox) -> tuple[int, int, IntBox]:
    """Order posts: the widest, then the shortest."""
    return ((room[3] - room[0]) * (room[4] - room[1]), room[2] - room[5], room)


def free_rects(column: IntBox, rows: Boxes, narrowest: int = LEAST_EDGE) -> Iterator[Rect]:
    """Yield the largest rectangles across a column that nothing reaches into over its height.

    They are as wide as asked for, or as the column where that is thinner.
    """
    low, high = np.array(column[:3]), np.array(column[3:])
    met = rows[((rows[:, :3] < high) & (rows[:, 3:] > low)).all(axis=1)]
    least = [min(column[axis + 3] - column[axis], narrowest) for axis in (0, 1)]
    found = {(column[0], column[1], column[3], column[4])}
    for a, b, _, c, d, _ in met.tolist():
        beside = {piece for rect in found for piece in _beside(rect, (a, b, c, d))}
        found = {one for one in beside if one[2] - one[0] >= least[0] and one[3] - one[1] >= least[1]}
    yield from sorted(found)


def _beside(rect: Rect, taken: Rect) -> list[Rect]:
    """Return the largest rectangles of one beside another: up to four, which overlap."""
    x0, y0, x1, y1 = rect
    a, b, c, d = taken
    if a >= x1 or c <= x0 or b >= y1 or d <= y0:
        return [rect]
    return [(x0, y0, a, y1), (c, y0, x1, y1), (x0, y0, x1, b), (x0, d, x1, y1)]
