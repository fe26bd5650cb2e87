"""Shortest trees of graphs by another way: Dreyfus and Wagner (1971) over all pairs of nodes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import sparray
from scipy.sparse.csgraph import dijkstra


def shortest_tree_weight(graph: sparray, terminals: Sequence[int]) -> float:
    """Return the weight of a shortest tree of a graph that joins some of its nodes."""
    length: NDArray[np.float64] = dijkstra(graph, directed=False)
    *rest, root = terminals
    best: dict[int, NDArray[np.float64]] = {}
    for group in range(1, 1 << len(rest)):
        if group & (group - 1) == 0:
            best[group] = length[rest[group.bit_length() - 1]]
            continue
        merged = np.full(len(length), np.inf)
        part = (group - 1) & group
        while part:
            merged = np.minimum(merged, best[part] + best[group ^ part])
            part = (part - 1) & group
        best[group] = (length + merged).min(axis=1)
    return float(best[(1 << len(rest)) - 1][root])
