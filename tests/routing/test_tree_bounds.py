"""Bounds of trees and what one terminal is to the next, beside networkx."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest

from fitplan.routing.trees.voxel_trees import _spanning, _spread_out


def lengths(seed: int, count: int) -> np.ndarray:
    """Return lengths between random points in whole units, as the kernel gives them."""
    points = np.random.default_rng(seed).uniform(0, 1000, (count, 3))
    found = np.linalg.norm(points[:, None] - points[None], axis=2)
    return np.ceil(found).astype(np.uint32)


@pytest.mark.parametrize("seed", range(20))
def test_the_shortest_tree_over_terminals_alone(seed: int) -> None:
    """It is as long as networkx's."""
    between = lengths(seed, 2 + seed)
    graph = nx.from_numpy_array(between.astype(float))
    assert _spanning(between) == nx.minimum_spanning_tree(graph).size(weight="weight")


@pytest.mark.parametrize("seed", range(20))
def test_terminals_are_chosen_far_off_each_other(seed: int) -> None:
    """Each next one is as far off those before as any that is left."""
    between = lengths(seed, 10)
    chosen = _spread_out(between, [3], 6)
    assert chosen[0] == 3
    assert len(set(chosen)) == 6
    for place in range(1, 6):
        off = between[:, chosen[:place]].min(axis=1)
        assert off[chosen[place]] == off.max()
