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
_TOGETHER = 1_000_000
"""So many distances are worked out at once."""


def off_boxes(boxes: Floats, points: Floats) -> Floats:
    """Return (n,) float64, how far points are off the nearest box in mm; infinite where there is none.

    For boxes and points see `clear_nearby`.
    """
    found = np.full(len(points), np.inf)
    together = max(_TOGETHER // max(len(boxes), 1), 1)
    for first in range(0, len(points) if len(boxes) else 0, together):
        some = points[first : first + together, :, None]
        square = np.zeros((len(some), len(boxes)))
        for axis in range(3):
            gap = np.maximum(boxes[:, axis] - some[:, axis], some[:, axis] - boxes[:, axis + 3])
            square += np.maximum(gap, 0.0, out=gap) ** 2
        found[first : first + together] = np.sqrt(square.min(axis=1))
    return found


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
    if steps == AT_THE_POINT:
        return np.minimum(off_boxes(boxes, points), most)
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
            off = off_boxes(near, tried)
            best = int(off.argmax())
            middle, radius = tried[best], float(off[best])
        found[number] = min(radius, most)
    return found
