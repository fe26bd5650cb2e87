"""The 26-neighbour graph without cut corners as a scipy matrix, written apart from the router."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray


def lattice_graph(free: NDArray[np.bool_], cost: NDArray[np.floating] | None = None) -> sp.csr_array:
    """Return the (n, n) matrix of step lengths between free voxels, numbered as in the flat array."""
    number = np.arange(free.size).reshape(free.shape)
    sources, targets = [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=np.int64)]
    lengths = [np.zeros(0)]
    for step in itertools.product((-1, 0, 1), repeat=3):
        if step <= (0, 0, 0):
            continue
        low = [slice(max(0, -s), n - max(0, s)) for s, n in zip(step, free.shape, strict=True)]
        allowed = np.ones([s.stop - s.start for s in low], dtype=bool)
        if 0 in allowed.shape:
            continue
        for part in itertools.product(*[sorted({0, s}) for s in step]):
            moved = tuple(slice(s.start + p, s.stop + p) for s, p in zip(low, part, strict=True))
            allowed &= free[moved]
        there = tuple(slice(s.start + p, s.stop + p) for s, p in zip(low, step, strict=True))
        a, b = number[tuple(low)][allowed], number[there][allowed]
        length = np.full(len(a), math.sqrt(sum(map(abs, step))))
        if cost is not None:
            length = length * (cost.ravel()[a] + cost.ravel()[b]) / 2
        sources.append(a)
        targets.append(b)
        lengths.append(length)
    shape = (free.size, free.size)
    half = sp.coo_array((np.concatenate(lengths), (np.concatenate(sources), np.concatenate(targets))), shape)
    return sp.csr_array(half + half.T)


def empty_distance(a: Sequence[float], b: Sequence[float]) -> float:
    """Return the 26-neighbour distance of two voxels on an empty lattice, in voxel edges.

    √3·min + √2·(mid − min) + (max − mid) of the three differences (textbook).
    """
    low, mid, high = sorted(abs(float(p) - float(q)) for p, q in zip(a, b, strict=True))
    return math.sqrt(3) * low + math.sqrt(2) * (mid - low) + (high - mid)
