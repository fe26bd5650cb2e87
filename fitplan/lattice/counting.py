"""How many cells of a mask lie in boxes, for many boxes at once: by sums up to each corner."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def sums_below(mask: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Return (x + 1, y + 1, z + 1) int32, how many cells of (x, y, z) are set below each corner."""
    found = np.zeros(tuple(size + 1 for size in mask.shape), dtype=np.int32)
    found[1:, 1:, 1:] = mask.cumsum(0, dtype=np.int32).cumsum(1).cumsum(2)
    return found
