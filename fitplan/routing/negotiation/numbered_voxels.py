"""Sets of voxels by their numbers in the flat array, each once.

Nothing is sorted: ways are counted in and out a thousand times.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.int64]


class NumberedVoxels:
    """The voxels of one map.

    Parameters
    ----------
    free
        (x, y, z) bool, True where a wire may be.
    """

    def __init__(self, free: NDArray[np.bool_]) -> None:
        self.shape = free.shape
        self._free = free.ravel()
        self._last = np.zeros(free.size, dtype=np.int32)

    def rows(self, numbers: Numbers) -> NDArray[np.int64]:
        """Return (n, 3) voxels."""
        return np.stack(np.unravel_index(numbers, self.shape), axis=-1).astype(np.int64).reshape(-1, 3)

    def once(self, numbers: Numbers) -> Numbers:
        """Return each number once, in the order in which they come last."""
        places = np.arange(len(numbers), dtype=np.int32)
        self._last[numbers] = places  # of equal ones the last stays
        found: Numbers = numbers[self._last[numbers] == places]
        return found

    def near(self, numbers: Numbers, reach: int) -> Numbers:
        """Return the free voxels that are no more than so many off some along every axis, each once."""
        near, row = numbers, self._free.size
        for size in self.shape:  # axis by axis, as the rows of one way overlap
            row //= size
            at = near // row % size
            moved = [near[(at + by >= 0) & (at + by < size)] + by * row for by in range(-reach, reach + 1)]
            near = self.once(np.concatenate(moved))
        found: Numbers = near[self._free[near]]
        return found
