"""Things that pairs join into groups: faces over shared edges, points over shared rims."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitplan.kernels import load


def groups_of(pairs: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    """Return (count,) int64, for each of so many things the first of the group that pairs join it to.

    Parameters
    ----------
    pairs
        (n, 2) int64, numbers of two things that belong together.
    """
    kernel = load("surface")
    at = kernel.put(pairs.astype(np.uint32))
    parents = kernel.empty(count, np.uint32)
    if not kernel.call("join", at, len(pairs), parents, count):
        raise ValueError(f"a pair names a thing that is not among the {count}")
    return kernel.view(parents, count, np.uint32).astype(np.int64)


def numbered(points: NDArray[np.float64], step: float) -> NDArray[np.int64]:
    """Give points (n, 3) that are one within a step the same number; returns (n,) int64 from 0."""
    cells = np.round((points - points.min(axis=0)) / step).astype(np.int64)
    number = np.zeros(len(points), dtype=np.int64)
    for column in cells.T:
        _, number = np.unique(number * (int(column.max()) + 1) + column, return_inverse=True)
        number = number.reshape(-1)
    return number
