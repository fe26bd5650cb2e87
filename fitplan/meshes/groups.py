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
