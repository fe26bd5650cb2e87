"""The smallest box of voxels that holds all that are True."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def box_round(some: NDArray[np.bool_], wider: int = 0) -> tuple[slice, slice, slice]:
    """Return the smallest box in a map (x, y, z) round all that is True; of one voxel where nothing is.

    Parameters
    ----------
    wider
        So many voxels it is larger on each side, up to the map's borders.
    """
    across, along = np.logical_or.reduce(some, axis=2), np.logical_or.reduce(some, axis=0)
    lines = [np.logical_or.reduce(flat, axis=axis) for flat, axis in ((across, 1), (across, 0), (along, 0))]
    found = []
    for line in lines:
        there = np.flatnonzero(line)
        first, last = (int(there[0]), int(there[-1])) if len(there) else (0, 0)
        found.append(slice(max(first - wider, 0), min(last + wider + 1, len(line))))
    return (found[0], found[1], found[2])
