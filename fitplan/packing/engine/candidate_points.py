"""The lowest points at which one shape can lie: a plain account in numpy, without any search.

Where a shape can lie at all, it can be pushed down along x, then y, then z, again and again, until each
coordinate stands at the lowest one of its domain box or at the upper face of something forbidden.  So it
is enough to look at the points whose coordinates are all of that kind.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fitplan.packing.engine.problem import IntBox, Offset, Shape, Space, Variant

LARGEST = 8
"""What lies within one of the so many largest forbidden boxes is left out: most of what is small does."""


def forbidden_boxes(shape: Shape, space: Space) -> NDArray[np.int64]:
    """Return the open boxes of offsets at which a shape overlaps an obstacle, ``(n, 6)``."""
    strict = tuple(clearance.box for clearance in shape.clearances if clearance.clear_of_obstacles)
    found = [meeting_offsets(space.obstacles, shape.solid), meeting_offsets(space.off_limits, strict)]
    return np.concatenate(found)


def meeting_offsets(obstacles: Sequence[IntBox], boxes: Sequence[IntBox]) -> NDArray[np.int64]:
    """Return the open boxes of offsets at which any of some boxes overlaps an obstacle, ``(n, 6)``."""
    standing = np.asarray(obstacles, dtype=np.int64).reshape(-1, 6)
    own = np.array(boxes, dtype=np.int64).reshape(-1, 6)
    low = standing[None, :, :3] - own[:, None, 3:]
    high = standing[None, :, 3:] - own[:, None, :3]
    return np.concatenate([low, high], axis=2).reshape(-1, 6)


def within_hull(domain: tuple[IntBox, ...], bounds: IntBox, hull: IntBox) -> tuple[IntBox, ...]:
    """Return a domain cut down to the offsets that keep what lies within ``bounds`` inside a hull."""
    kept: list[IntBox] = []
    for box in domain:
        low = [max(box[i], hull[i] - bounds[i]) for i in range(3)]
        high = [min(box[i + 3], hull[i + 3] - bounds[i + 3]) for i in range(3)]
        if all(a <= b for a, b in zip(low, high, strict=True)):
            kept.append((low[0], low[1], low[2], high[0], high[1], high[2]))
    return tuple(dict.fromkeys(kept))


def lowest_free_point(variant: Variant, space: Space, most_points: int = 20_000_000) -> Offset | None:
    """Return an offset at which the variant lies free of obstacles, or None when there is none.

    Raises
    ------
    OverflowError
        When more than ``most_points`` candidate points would have to be looked at.
    """
    return _lowest_free(variant.shape, variant.domain, space, most_points)


@lru_cache(maxsize=1024)  # the same part is asked into the same vehicle beside many others
def _lowest_free(shape: Shape, domain: tuple[IntBox, ...], space: Space, most_points: int) -> Offset | None:
    forbidden = forbidden_boxes(shape, space)
    for box in within_hull(domain, shape.bounds, space.hull):
        low, high = np.array(box[:3]), np.array(box[3:])
        near = _without_most_contained(forbidden, low, high)
        axes = []
        for axis in range(3):
            faces = near[:, axis + 3]
            inside = faces[(faces > low[axis]) & (faces <= high[axis])]
            axes.append(np.unique(np.concatenate([low[axis : axis + 1], inside])))
        if np.prod([float(len(values)) for values in axes]) > most_points:
            raise OverflowError("too many candidate points")
        first = [np.searchsorted(axes[axis], near[:, axis], side="right") for axis in range(3)]
        after = [np.searchsorted(axes[axis], near[:, axis + 3], side="left") for axis in range(3)]
        # Sums run fastest along the longest axis: it comes last.
        order = sorted(range(3), key=lambda axis: len(axes[axis]))
        counts = tuple(len(axes[axis]) for axis in order)
        free = _depth([first[axis] for axis in order], [after[axis] for axis in order], counts) == 0
        if free.any():
            i, j, k = np.argwhere(free.transpose(np.argsort(order)))[0].tolist()
            return (int(axes[0][i]), int(axes[1][j]), int(axes[2][k]))
    return None


def _without_most_contained(
    boxes: NDArray[np.int64], low: NDArray[np.int64], high: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Return open boxes that fill the same of a closed box as all do, but few that lie within others."""
    near = boxes[((boxes[:, :3] < high) & (boxes[:, 3:] > low)).all(axis=1)]
    near = np.concatenate([np.maximum(near[:, :3], low - 1), np.minimum(near[:, 3:], high + 1)], axis=1)
    size = np.prod((near[:, 3:] - near[:, :3]).astype(float), axis=1)
    near = near[np.argsort(-size, kind="stable")]
    for number in range(LARGEST):
        if number >= len(near):
            break
        large = near[number]
        within = ((near[:, :3] >= large[:3]) & (near[:, 3:] <= large[3:])).all(axis=1)
        within[: number + 1] = False
        near = near[~within]
    return near


def _depth(
    first: list[NDArray[np.int64]], after: list[NDArray[np.int64]], shape: tuple[int, ...]
) -> NDArray[np.int32]:
    """Return how many of some boxes of cells, first to last, lie over each cell.

    Each box is noted at its eight corners with alternating signs; running sums along the axes do the rest.
    """
    depth = np.zeros([n + 1 for n in shape], dtype=np.int32)
    some = np.all([a < b for a, b in zip(first, after, strict=True)], axis=0)
    for corner in itertools.product((0, 1), repeat=3):
        at = tuple((after if side else first)[axis][some] for axis, side in enumerate(corner))
        np.add.at(depth, at, -1 if sum(corner) % 2 else 1)
    for axis in range(3):
        np.cumsum(depth, axis=axis, out=depth)
    inside: NDArray[np.int32] = depth[:-1, :-1, :-1]
    return inside
