"""The lowest points at which one shape can lie: a plain account in a kernel of its own, without any search.

Where a shape can lie at all, it can be pushed down along x, then y, then z, again and again, until each
coordinate stands at the lowest one of its domain box or at the upper face of something forbidden.  So it
is enough to look at the points whose coordinates are all of that kind.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fitplan.kernels import shared
from fitplan.packing.engine.problem import IntBox, Offset, Shape, Space, Variant

SCRATCH = 56
"""Bytes of a kernel's memory for each obstacle that a shape meets: two boxes and two numbers."""


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


def lowest_free_point(variant: Variant, space: Space, most_steps: float = 1e9) -> Offset | None:
    """Return an offset at which the variant lies free of obstacles, or None when there is none.

    Raises
    ------
    OverflowError
        When more than ``most_steps`` would be needed.
    """
    return _lowest_free(variant.shape, variant.domain, space, most_steps)


@lru_cache(maxsize=1024)  # the same part is asked into the same vehicle beside many others
def _lowest_free(shape: Shape, domain: tuple[IntBox, ...], space: Space, most_steps: float) -> Offset | None:
    strict = tuple(clearance.box for clearance in shape.clearances if clearance.clear_of_obstacles)
    met = ((space.obstacle_rows, shape.solid), (space.off_limits_rows, strict))
    kernel = shared("lowest_point")
    put, most = kernel.put, sum(len(standing) * len(own) for standing, own in met)
    opened, count = kernel.empty((most, 6), np.int32, zeroed=False), 0
    for standing, own in met:
        rows = put(np.array(own, dtype=np.int32))
        count = kernel.call("point_meets", put(standing), len(standing), rows, len(own), opened, count)
    scratch = kernel.empty((count + 1) * SCRATCH, np.uint8, zeroed=False)
    point = kernel.empty(3, np.int32)
    for box in within_hull(domain, shape.bounds, space.hull):
        room = put(np.array(box, dtype=np.int32))
        found = kernel.call("lowest_point", opened, count, room, scratch, most_steps, point)
        if found < 0:
            raise OverflowError("too many candidate points")
        if found:
            x, y, z = kernel.view(point, 3, np.int32).tolist()
            return (x, y, z)
    return None
