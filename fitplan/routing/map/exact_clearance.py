"""How much room there is close to some points in exact millimetres: voxels count as narrow as they are drawn.

A gap that faces of solids bound between voxel edges is up to two voxels wider than the voxels in it.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

Steps: TypeAlias = tuple[tuple[float, int], ...]
"""Distance of the points looked at in mm, and so many to each side: the best is looked round more closely."""
TO_THE_NEXT: Steps = ((0.4, 2), (0.1, 2), (0.025, 2))
"""As far as the middles of the next voxels, and a little beyond."""
IN_THE_VOXEL: Steps = ((0.2, 2),)
"""From face to face of the voxel itself."""
AT_THE_POINT: Steps = ((0.0, 0),)
"""Nowhere else."""
_TOGETHER = 4_000_000
"""So many distances are worked out at once."""


def clear_nearby(boxes: Floats, points: Floats, most: float, steps: Steps = TO_THE_NEXT) -> Floats:
    """Return (n,) float64, the radius in mm of a ball clear of all boxes whose middle is close to a point.

    Larger balls may be there, this one is.

    Parameters
    ----------
    boxes
        (m, 6) float64, low and high corners of what is in the way, in mm.
    points
        (n, 3) float64, in mm.
    most
        Radii above this (mm) are told as this.
    steps
        How far off the point, along each axis, middles are looked at.
    """
    reach = most + sum(step * count for step, count in steps)
    found = np.empty(len(points))
    for number, point in enumerate(points):
        near = boxes[((boxes[:, :3] < point + reach) & (boxes[:, 3:] > point - reach)).all(axis=1)]
        middle, radius = point, most
        for step, count in steps if len(near) else ():
            offsets = step * np.arange(-count, count + 1)
            tried = middle + np.stack(np.meshgrid(offsets, offsets, offsets, indexing="ij"), -1).reshape(
                -1, 3
            )
            off = np.full(len(tried), np.inf)
            for part in np.array_split(near, -(-len(near) * len(tried) // _TOGETHER)):
                gap = np.maximum(np.maximum(part[:, :3] - tried[:, None], tried[:, None] - part[:, 3:]), 0.0)
                off = np.minimum(off, np.sqrt((gap**2).sum(axis=2)).min(axis=1))
            best = int(off.argmax())
            middle, radius = tried[best], float(off[best])
        found[number] = min(radius, most)
    return found
