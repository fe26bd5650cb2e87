"""Gaps in a body of one or two voxels: how far their middles are off the faces themselves, in millimetres.

A voxel that a wall touches is drawn solid, so a gap between walls may be up to two voxels wider than it is
drawn. Of wider gaps that is no matter to one wire.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.frame import Frame
from fitplan.routing.map.exact_clearance import off_boxes

NARROW = 2
"""So many voxels a gap is wide at the most."""


def lift_gaps(
    squares: NDArray[np.uint32],
    free: NDArray[np.bool_],
    walls: NDArray[np.bool_],
    boxes: Callable[[], NDArray[np.float64]],
    frame: Frame,
) -> None:
    """Raise the clear radius in narrow gaps between walls to what it is among exact boxes, in place.

    Parameters
    ----------
    squares, free
        (x, y, z), see `fitplan.lattice.clear_radius.clear_squares`.
    walls
        (x, y, z) bool, True where the body surely is.
    boxes
        Returns (n, 6) float64, low and high corners in mm of all that is in the way; asked if there are gaps.
    """
    cells = np.argwhere(_gaps(free, walls))
    if not len(cells):
        return
    radius = off_boxes(boxes(), frame.centers(cells))
    found = np.floor((2 * radius / frame.pitch) ** 2 + 1e-6).astype(np.uint32)
    at = tuple(cells.T)
    squares[at] = np.maximum(squares[at], found)


def _gaps(free: NDArray[np.bool_], walls: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return (x, y, z) bool, True in runs of no more than `NARROW` free voxels from wall to wall."""
    found = np.zeros(free.shape, dtype=np.bool_)
    for axis in range(3):
        clear, wall, marked = (np.moveaxis(one, axis, 0) for one in (free, walls, found))
        # A voxel that a wall touches lies next to one that the wall fills.
        wall = wall.copy()
        wall[1:] |= np.moveaxis(walls, axis, 0)[:-1]
        wall[:-1] |= np.moveaxis(walls, axis, 0)[1:]
        wall &= ~clear
        for count in range(1, NARROW + 1):
            last = len(clear) - count
            if last < 2:
                continue
            run = wall[: last - 1] & wall[count + 1 :]
            for step in range(1, count + 1):
                run &= clear[step : step + last - 1]
            for step in range(1, count + 1):
                marked[step : step + last - 1] |= run
    return found
