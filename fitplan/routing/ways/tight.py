"""Ways drawn tight among exact boxes: the last millimetres, which voxels are too coarse for.

A way that was pulled taut among voxels keeps off walls by up to a voxel more than it need. Here its corners
are moved, cut and slid in millimetres, each time by little, so it stays on the side of things that it lay on.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fitplan.kernels import Kernel, shared

MOST_POINTS = 1024
"""Ways of more corners stay as they are."""
ROUNDS = 24
Floats = NDArray[np.float64]


def drawn_tight(points: Floats, boxes: Floats, zones: Floats, wide: float, close: float) -> Floats:
    """Return a way drawn tight, its ends held; as it was where there is too much for the kernel.

    Parameters
    ----------
    points
        (n, 3) float64, its corners in mm.
    boxes
        (n, 6) float64, low and high corners of what is in the way, in mm.
    zones
        (m, 6) float64, boxes in which it keeps off by ``close`` only.
    wide, close
        How far the middle line keeps off, in mm.

    Returns
    -------
    numpy.ndarray
        (k, 3) float64. Every piece that is not as it was keeps off all boxes.
    """
    kernel = shared("tighten")
    if len(points) > MOST_POINTS or not _prepared(kernel, boxes, zones, wide, close):
        return points
    kernel.view(int(kernel.call("points")), points.shape, np.float64)[...] = points
    left = int(kernel.call("draw", len(points), ROUNDS))
    if not left:
        return points
    found: Floats = kernel.view(int(kernel.call("points")), (left, 3), np.float64).copy()
    return found


def is_clear(start: Floats, end: Floats, boxes: Floats, zones: Floats, wide: float, close: float) -> bool:
    """Tell whether a straight piece keeps off all boxes; the arguments are those of `drawn_tight`."""
    kernel = shared("tighten")
    if not _prepared(kernel, boxes, zones, wide, close):
        return False
    kernel.view(int(kernel.call("points")), (2, 3), np.float64)[...] = [start, end]
    return bool(kernel.call("sight"))


def clear_points(
    lines: Sequence[Floats],
    spans: NDArray[np.uint32],
    boxes: Floats,
    zones: Floats,
    wide: float,
    close: float,
) -> NDArray[np.bool_]:
    """Return (x, y, z) bool, which points of a grid keep off all boxes; none where there are too many zones.

    Points that are not asked about are False.

    Parameters
    ----------
    lines
        Where the points lie along x, y and z, in mm, rising.
    spans
        (x, y, 2) uint32, the first point along z that is asked about, and the one behind the last.
    boxes, zones, wide, close
        As for `drawn_tight`.
    """
    kernel = shared("tighten")
    shape = (len(lines[0]), len(lines[1]), len(lines[2]))
    if not _prepared(kernel, boxes, zones, wide, close):
        return np.zeros(shape, dtype=np.bool_)
    put, squares = kernel.put(np.concatenate(lines)), kernel.empty(shape[2], np.float64)
    told = kernel.empty(shape, np.uint8)
    kernel.call("clear_points", put, *shape, kernel.put(spans), squares, told)
    return kernel.view(told, shape, np.bool_).copy()


def _prepared(kernel: Kernel, boxes: Floats, zones: Floats, wide: float, close: float) -> bool:
    at, zones_at = (kernel.put(np.ascontiguousarray(one, dtype=np.float64)) for one in (boxes, zones))
    return bool(kernel.call("prepare", at, len(boxes), zones_at, len(zones), wide, close))
