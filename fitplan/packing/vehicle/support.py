"""Whether a part stands: what touches it from below, and whether its middle lies over that.

A part stands when the middle of its volume lies over the hull of its contacts. A contact narrower than a
millimetre carries nothing: it lies within the play of bricks and boards (common practice, no source). Where
a part touches something but would tip, pads of foam or tape go under other faces of it that are less than a
plate above something. All lengths are in tenths of a millimetre.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.packing.engine.problem import IntBox

LEAST_EDGE = 10
"""A contact narrower than this carries nothing."""
SAME_UNDERSIDE = 10
"""Boxes of a part whose undersides differ by no more than this share a pad or a shelf."""
FIRMLY = 20
"""So far within the hull of its contacts a part's middle is not at its edge: play of bricks and of cells."""
PAD_MOST = 32
"""A pad is thinner than a plate."""

Rect = tuple[int, int, int, int]
Boxes = NDArray[np.int64]


@dataclass(frozen=True)
class Underside:
    """An underside of a part: the rectangle round boxes that touch and are about as low, and its height."""

    rect: Rect
    bottom: int


def resting_faces(boxes: Sequence[IntBox]) -> tuple[Underside, ...]:
    """Return the underside of each box of a part where it is: what may touch something."""
    return tuple(Underside((box[0], box[1], box[3], box[4]), box[2]) for box in boxes)


def faces_of(boxes: Sequence[IntBox]) -> tuple[Underside, ...]:
    """Return the undersides of a part, the lowest first."""
    left = sorted(boxes, key=lambda box: (box[2], box))
    found: list[Underside] = []
    while left:
        group = [left.pop(0)]
        lowest = group[0][2]
        grown = True
        while grown:
            near = [
                box
                for box in left
                if box[2] - lowest <= SAME_UNDERSIDE and any(_touch(box, other) for other in group)
            ]
            grown = bool(near)
            group += near
            left = [box for box in left if box not in near]
        rect = (
            min(box[0] for box in group), min(box[1] for box in group),
            max(box[3] for box in group), max(box[4] for box in group),
        )  # fmt: skip
        found.append(Underside(rect, lowest))
    return tuple(found)


def _touch(one: IntBox, other: IntBox) -> bool:
    return all(one[i] <= other[i + 3] and other[i] <= one[i + 3] for i in range(2))


def contacts(faces: Sequence[Underside], below: Boxes, most: int) -> list[Rect]:
    """Return where undersides lie on boxes, or no more than ``most`` above them."""
    found: list[Rect] = []
    for face in faces:
        gap = face.bottom - below[:, 5]
        low, high = np.maximum(below[:, :2], face.rect[:2]), np.minimum(below[:, 3:5], face.rect[2:])
        met = (gap >= 0) & (gap <= most) & (high - low >= LEAST_EDGE).all(axis=1)
        found += [
            (x0, y0, x1, y1) for (x0, y0), (x1, y1) in zip(low[met].tolist(), high[met].tolist(), strict=True)
        ]
    return found


def stands(center: tuple[float, float], patches: Sequence[Rect]) -> bool:
    """Return whether a part's middle lies over the convex hull of its contacts."""
    x, y = center
    if any(x0 <= x <= x1 and y0 <= y <= y1 for x0, y0, x1, y1 in patches):
        return True  # over one of them
    return _all_over(hull_of(patches), [center])


def _all_over(hull: Sequence[tuple[int, int]], spots: Sequence[tuple[float, float]]) -> bool:
    """Return whether all spots lie over a convex hull, given anticlockwise."""
    return len(hull) > 2 and all(
        (q[0] - p[0]) * (y - p[1]) - (q[1] - p[1]) * (x - p[0]) >= 0
        for x, y in spots
        for p, q in zip(hull, [*hull[1:], hull[0]], strict=True)
    )


def hull_of(patches: Sequence[Rect]) -> list[tuple[int, int]]:
    """Return the corners of the convex hull of rectangles, anticlockwise."""
    lowest: dict[int, int] = {}
    highest: dict[int, int] = {}
    for x0, y0, x1, y1 in patches:
        for x in (x0, x1):
            lowest[x], highest[x] = min(y0, lowest.get(x, y0)), max(y1, highest.get(x, y1))
    # Of corners one over the other only the outermost can be the hull's.
    along = sorted(lowest)
    below, above = [(x, lowest[x]) for x in along], [(x, highest[x]) for x in reversed(along)]
    halves = (dict.fromkeys([*one, *other[:1]]) for one, other in ((below, above), (above, below)))
    return [corner for half in halves for corner in _half(list(half))]


def stands_firmly(center: tuple[float, float], patches: Sequence[Rect]) -> bool:
    """Return whether a part's middle lies over the hull of its contacts by some millimetres each way."""
    x, y = center
    around = ((FIRMLY, 0), (-FIRMLY, 0), (0, FIRMLY), (0, -FIRMLY))
    return _all_over(hull_of(patches), [(x + dx, y + dy) for dx, dy in around])


def _half(points: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return one side of a hull without its last point (Andrew's monotone chain, 1979)."""
    chain: list[tuple[int, int]] = []
    for point in points:
        while len(chain) > 1 and _turn(chain[-2], chain[-1], point) <= 0:
            chain.pop()
        chain.append(point)
    return chain[:-1]


def _turn(a: tuple[int, int], b: tuple[int, int], c: tuple[int, int]) -> int:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def middle_of(boxes: Sequence[IntBox]) -> tuple[float, float]:
    """Return the middle of a part's volume along x and y, boxes that overlap counted each."""
    x, y, _ = _middle(boxes)
    return (x, y)


def height_of_middle(boxes: Sequence[IntBox]) -> float:
    """Return the height of the middle of a part's volume, boxes that overlap counted each."""
    return _middle(boxes)[2]


def _middle(boxes: Sequence[IntBox]) -> tuple[float, float, float]:
    rows = np.array(boxes, dtype=float)
    volume = np.prod(rows[:, 3:] - rows[:, :3], axis=1)
    x, y, z = (((rows[:, :3] + rows[:, 3:]) / 2 * volume[:, None]).sum(axis=0) / volume.sum()).tolist()
    return (x, y, z)


def pads_that_steady(
    boxes: Sequence[IntBox],
    resting: Sequence[Rect],
    below: Boxes,
    in_the_way: Boxes,
    soles: Sequence[IntBox],
) -> tuple[IntBox, ...]:
    """Return pads, none of them spare, with which a part that touches something stands; none if none do.

    Parameters
    ----------
    resting
        Its contacts as it lies.
    below
        What pads may stand on.
    in_the_way
        What pads may not run into, the part itself aside.
    soles
        Boxes of the part that have an underside a pad may bear.
    """
    center = middle_of(boxes)
    own = np.array(boxes, dtype=np.int64)
    found: list[IntBox] = []
    for face in faces_of(soles):
        gap = face.bottom - below[:, 5]
        for top in sorted({int(value) for value in below[(gap > 1) & (gap < PAD_MOST), 5]}, reverse=True):
            patches = contacts([face], below[below[:, 5] == top], PAD_MOST)
            if not patches:
                continue
            x0, y0 = min(patch[0] for patch in patches), min(patch[1] for patch in patches)
            x1, y1 = max(patch[2] for patch in patches), max(patch[3] for patch in patches)
            whole = _clear_of((x0, y0, top, x1, y1, face.bottom), np.concatenate([own, in_the_way]))
            pads = [cut for piece in whole if (cut := cut_to(patches, piece)) is not None]
            found += pads
            if pads:
                break
    bears = {pad: patches for pad in found if (patches := borne_by(pad, soles))}
    kept = sorted(bears, key=lambda pad: -(pad[3] - pad[0]) * (pad[4] - pad[1]))

    def borne(pads: Sequence[IntBox]) -> list[Rect]:
        return [*resting, *(patch for pad in pads for patch in bears[pad])]

    if not stands(center, borne(kept)):
        return ()
    # No pad is spared without which the middle would come to lie at the edge.
    enough = stands_firmly if stands_firmly(center, borne(kept)) else stands
    for pad in reversed(list(kept)):
        fewer = [other for other in kept if other != pad]
        if enough(center, borne(fewer)):
            kept = fewer
    return tuple(kept)


def borne_by(pad: IntBox, soles: Sequence[IntBox]) -> list[Rect]:
    """Return where a pad bears a part: under the boxes that lie on it, not under those a little higher."""
    rect = from_above(pad)
    met = (_meet(rect, from_above(sole)) for sole in soles if sole[2] == pad[5])
    return [patch for patch in met if patch is not None]


def from_above(box: IntBox) -> Rect:
    """Return what a box covers, seen from above."""
    return (box[0], box[1], box[3], box[4])


def _meet(one: Rect, other: Rect) -> Rect | None:
    """Return what two rectangles share when it is wide enough to carry."""
    x0, y0 = max(one[0], other[0]), max(one[1], other[1])
    x1, y1 = min(one[2], other[2]), min(one[3], other[3])
    return (x0, y0, x1, y1) if min(x1 - x0, y1 - y0) >= LEAST_EDGE else None


def _clear_of(pad: IntBox, rows: Boxes) -> list[IntBox]:
    """Return what is left of a pad beside what stands in its room, as boxes of its full height."""
    low, high = np.array(pad[:3]), np.array(pad[3:])
    left = [pad]
    for row in rows[((rows[:, :3] < high) & (rows[:, 3:] > low)).all(axis=1)]:
        x0, y0, x1, y1 = (int(row[i]) for i in (0, 1, 3, 4))
        left = [piece for box in left for piece in _beside(box, (x0, y0, x1, y1))]
    return left


def cut_to(patches: Sequence[Rect], pad: IntBox) -> IntBox | None:
    """Return a pad cut down to the rectangle round those of the patches that carry it; None: none does."""
    met = [patch for one in patches if (patch := _meet(one, from_above(pad))) is not None]
    if not met:
        return None
    low = [min(patch[i] for patch in met) for i in (0, 1)]
    high = [max(patch[i] for patch in met) for i in (2, 3)]
    return (low[0], low[1], pad[2], high[0], high[1], pad[5])


def _beside(pad: IntBox, taken: Rect) -> list[IntBox]:
    x0, y0, z0, x1, y1, z1 = pad
    a, b, c, d = max(x0, taken[0]), max(y0, taken[1]), min(x1, taken[2]), min(y1, taken[3])
    if a >= c or b >= d:
        return [pad]
    pieces = [
        (x0, y0, z0, a, y1, z1), (c, y0, z0, x1, y1, z1), (a, y0, z0, c, b, z1), (a, d, z0, c, y1, z1),
    ]  # fmt: skip
    return [piece for piece in pieces if min(piece[3] - piece[0], piece[4] - piece[1]) >= LEAST_EDGE]
