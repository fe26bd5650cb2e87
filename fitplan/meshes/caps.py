"""Holes in skins that are nearly closed, closed by fans over their rims.

The rim of a surface is where its edges belong to an odd number of faces. A fan from one point to all edges of
a rim closes it: each line then crosses skin and fan together an even number of times from side to side, so
all lines of sight agree on what is inside. Rims without area, such as corners on the middle of other
faces' edges, get fans without area. What is uncertain is only the bulge of the true skin over the hole.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fitplan.meshes.groups import groups_of

_WIDEST = 0.5
"""Share of a skin's extent up to which a gap in it is a hole; beyond that the skin is open."""

_MOST_RIM = 0.2
"""Share of a skin's edges that may be rim. Loose faces meet in space, not along edges."""


class Caps(NamedTuple):
    """Fans: (n, 3) points to be added, (m, 3) faces (new points follow the old ones), (m,) their groups."""

    points: NDArray[np.float64]
    faces: NDArray[np.int64]
    group: NDArray[np.int64]


def caps_of(
    points: NDArray[np.float64],
    faces: NDArray[np.int64],
    corner: NDArray[np.int64],
    group: NDArray[np.int64],
) -> Caps:
    """Return fans over the holes of torn skins.

    Parameters
    ----------
    points, faces
        (n, 3) in mm; (m, 3), the faces of nearly closed skins.
    corner
        (m, 3) the faces by numbers of places: equal where points are one.
    group
        (m,) the skin of each face.
    """
    ends = np.concatenate([corner[:, [i, (i + 1) % 3]] for i in range(3)])
    tips = np.concatenate([faces[:, [i, (i + 1) % 3]] for i in range(3)])
    skin = np.tile(group, 3)
    low, high = ends.min(axis=1), ends.max(axis=1)
    order = np.lexsort((high, low, skin))
    key = np.column_stack((skin, low, high))[order]
    starts = np.flatnonzero(np.r_[True, (key[1:] != key[:-1]).any(axis=1)])
    odd = starts[np.diff(np.r_[starts, len(key)]) % 2 == 1]
    rim = order[odd]
    if not len(rim):
        return Caps(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64), np.zeros(0, dtype=np.int64))
    # Rims hang together at places within one skin.
    place = np.unique(
        np.column_stack((np.tile(skin[rim], 2), ends[rim].T.reshape(-1))), axis=0, return_inverse=True
    )
    number = place[1].reshape(-1)
    pairs = np.column_stack((number[: len(rim)], number[len(rim) :]))
    part = groups_of(pairs, len(place[0]))[pairs[:, 0]]
    _, part = np.unique(part, return_inverse=True)
    part = part.reshape(-1)
    middle = (points[tips[rim, 0]] + points[tips[rim, 1]]) / 2
    length = np.linalg.norm(points[tips[rim, 0]] - points[tips[rim, 1]], axis=1) + 1e-12
    weight = np.bincount(part, weights=length)
    tops = np.column_stack([np.bincount(part, weights=length * middle[:, k]) / weight for k in range(3)])
    wide = _extents(middle, part, int(part.max()) + 1).max(axis=1)
    skins, own = np.unique(group, return_inverse=True)
    size = np.zeros(int(skins.max()) + 1)
    size[skins] = _extents(points[faces].mean(axis=1), own.reshape(-1), len(skins)).max(axis=1)
    share = np.zeros(int(skins.max()) + 1)
    share[skins] = (
        np.bincount(skin[rim], minlength=len(share))[skins] / np.bincount(skin[order[starts]])[skins]
    )
    kept = (wide[part] <= _WIDEST * size[skin[rim]]) & (share[skin[rim]] <= _MOST_RIM)
    fans = np.column_stack((tips[rim, 1], tips[rim, 0], len(points) + part))[kept]
    return Caps(tops, fans, skin[rim][kept])


def _extents(points: NDArray[np.float64], part: NDArray[np.int64], count: int) -> NDArray[np.float64]:
    """Return (count, 3), how far the points of each part reach along each axis."""
    low, high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
    np.minimum.at(low, part, points)
    np.maximum.at(high, part, points)
    extents: NDArray[np.float64] = high - low
    return extents
