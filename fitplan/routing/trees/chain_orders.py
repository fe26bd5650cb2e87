"""Orders in which to chain places: the shortest open chain through all of them."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

MOST_EXACT = 10
"""Up to so many places a chain is the shortest of all orders (2ⁿ work); beyond, exchanges improve it."""


def chain_order(lengths: NDArray[np.float64], inner: NDArray[np.float64] | None = None) -> list[int]:
    """Return the order of an open chain through all places that needs least.

    Parameters
    ----------
    lengths
        (n, n) between the places.
    inner
        (n,) what it costs to have a place between two others instead of at an end; inf where it cannot be.
    """
    extra = np.zeros(len(lengths)) if inner is None else inner
    if len(lengths) <= MOST_EXACT:
        return best_order(lengths, extra)
    # An inner place has two pieces of the chain, so each carries half; what must be an end is made dear.
    half = np.minimum(extra, 10.0 * float(lengths[np.isfinite(lengths)].max(initial=1.0))) / 2
    return exchanged_order(lengths + half[:, None] + half[None, :])


def best_order(lengths: NDArray[np.float64], inner: NDArray[np.float64] | None = None) -> list[int]:
    """Return the shortest open chain through all (Held and Karp 1962); see `chain_order`."""
    count = len(lengths)
    extra = np.zeros(count) if inner is None else inner
    best = np.full((1 << count, count), math.inf)
    came = np.full((1 << count, count), -1)
    for node in range(count):
        best[1 << node, node] = 0.0
    for group in range(1, 1 << count):
        for last in range(count):
            if not math.isfinite(best[group, last]):  # as where it is not in the group
                continue
            so_far = best[group, last] + (extra[last] if group & (group - 1) else 0.0)
            for node in range(count):
                if group >> node & 1:
                    continue
                length = so_far + lengths[last, node]
                if length < best[group | 1 << node, node] - 1e-12:
                    best[group | 1 << node, node] = length
                    came[group | 1 << node, node] = last
    group, node = (1 << count) - 1, int(best[-1].argmin())
    order = [node]
    while came[group, node] >= 0:
        group, node = group ^ 1 << node, int(came[group, node])
        order.append(node)
    return order


def exchanged_order(lengths: NDArray[np.float64]) -> list[int]:
    """Return a chain through all: nearest next from each start, then pieces turned round while that helps."""
    count = len(lengths)
    best: list[int] = []
    least = math.inf
    for start in range(count):
        order = [start]
        left = set(range(count)) - {start}
        while left:
            order.append(min(left, key=lambda node: (lengths[order[-1], node], node)))
            left.discard(order[-1])
        better = True
        while better:
            better = False
            for i in range(count):
                for j in range(i + 1, count):
                    before = lengths[order[i - 1], order[i]] if i else 0.0
                    after = lengths[order[j], order[j + 1]] if j + 1 < count else 0.0
                    now = (lengths[order[i - 1], order[j]] if i else 0.0) + (
                        lengths[order[i], order[j + 1]] if j + 1 < count else 0.0
                    )
                    if now < before + after - 1e-9:
                        order[i : j + 1] = order[i : j + 1][::-1]
                        better = True
        total = sum(lengths[a, b] for a, b in pairwise(order))
        if total < least - 1e-9:
            best, least = order, total
    return best
