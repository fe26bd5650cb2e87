"""Trees with several splices, and at pins of several wires, beside every tree that there could be."""

from __future__ import annotations

from collections import Counter
from functools import cache, reduce
from itertools import permutations

import networkx as nx
import numpy as np
import pytest
from numpy.typing import NDArray

from fitplan.routing.trees.inserted_trees import Inserted
from fitplan.routing.trees.tree_map import FAR, CostMap, Terminal, TreeMap, VoxelTree
from fitplan.routing.trees.tree_search import Exact, Greedy
from fitplan.routing.trees.voxel_trees import MOST_WORK, lengths_between, shortest_tree
from fitplan.routing.ways.shortest_ways import WayMap
from fitplan.routing.ways.way import lattice_length

from .test_voxel_trees import CLOSE, between, check

Lengths = NDArray[np.float64]
SHAPE = (5, 4, 3)
FURTHER = 0.5


@cache
def topologies(count: int) -> list[nx.Graph[int]]:
    """Return every tree over so many terminals and splices of three wires.

    By their sequences (Prüfer 1918: each node stands in one once less than it has edges). What joins more
    than three wires is two splices in one place.
    """
    found: dict[frozenset[frozenset[int]], nx.Graph[int]] = {}
    for splices in range(count - 1):
        for ends in np.ndindex(*[count] * (count - 2 - splices)):
            row = [*ends, *range(count, count + splices), *range(count, count + splices)]
            for order in set(permutations(row)):
                tree: nx.Graph[int] = nx.from_prufer_sequence(list(order))
                found.setdefault(frozenset(map(frozenset, tree.edges)), tree)
    return list(found.values())


def spots(terminal: Terminal) -> list[int]:
    return [int(np.ravel_multi_index(voxel, SHAPE)) for voxel in terminal.voxels]


def cheapest(terminals: list[Terminal], length: Lengths, price: Lengths) -> float:
    """Return what the cheapest of all trees costs, with its splices wherever they are best.

    Parameters
    ----------
    length
        (n, n) between all voxels.
    price
        (n,) of a splice at each voxel; inf where none may be.
    """

    def below(tree: nx.Graph[int], node: int, above: int) -> Lengths:
        """Return (n,) what all beyond a node costs, led from it to each voxel."""
        parts = [below(tree, other, node) for other in tree[node] if other != above]
        if node >= len(terminals):
            return np.asarray((length + (reduce(np.add, parts) + price)[None, :]).min(axis=1))
        here = spots(terminals[node])
        beyond = sum(float(part[here].min()) for part in parts) + (tree.degree(node) - 1) * FURTHER
        return np.asarray(length[here].min(axis=0) + beyond)

    bearable = [
        tree
        for tree in topologies(len(terminals))
        if all(tree.degree(n) <= one.wires for n, one in enumerate(terminals))
    ]
    root = spots(terminals[0])[0]
    return min((float(below(tree, 0, -1)[root]) for tree in bearable), default=np.inf)


def case(seed: int) -> tuple[TreeMap, list[Terminal], Lengths, Lengths]:
    """Return a map, terminals, lengths and prices, all by chance."""
    rng = np.random.default_rng(seed)
    free = rng.random(SHAPE) > 0.15
    rooms = WayMap(free).rooms()
    cells = np.argwhere(rooms == np.bincount(rooms[rooms > 0]).argmax())
    count = 3 + seed % 3
    chosen = [tuple(cell) for cell in cells[rng.permutation(len(cells))[: 2 * count]].tolist()]
    terminals = [
        Terminal(tuple(chosen[2 * k : 2 * k + 1 + int(rng.random() < 0.3)]), int(rng.choice([1, 1, 2, 3])))
        for k in range(count)
    ]
    wanted = np.where(rng.random(SHAPE) < 0.6, rng.integers(1, 12, SHAPE) / 4, 0.0)
    map_ = TreeMap(free, CostMap.of(free, np.ones(SHAPE), wanted * free, 1.0), further_mm=FURTHER)
    price = np.where((wanted > 0) & free, wanted, np.inf)
    return map_, terminals, between(free), price.ravel()


def adds_up(tree: VoxelTree, count: int, price: Lengths) -> None:
    """Assert that a tree costs what its ways, splices and further wires do."""
    wires = Counter(end for edge in tree.edges for end in edge)
    cost = sum(lattice_length(way, 1.0) for way in tree.ways)
    cost += sum((wires[end] - 1) * FURTHER for end in range(count))
    for number, splice in enumerate(tree.splices, count):
        cost += (wires[number] - 2) * float(price[np.ravel_multi_index(splice, SHAPE)])
    assert tree.cost_mm == pytest.approx(cost, abs=len(tree.ways) * 8 * CLOSE)


@pytest.mark.parametrize("seed", range(24))
def test_no_tree_of_all_is_cheaper(seed: int) -> None:
    """An exact search, with nothing left out and as it is asked, beside all trees; a greedy one adds up."""
    map_, terminals, length, price = case(seed)
    least = cheapest(terminals, length, price)
    goals = [terminal.voxels for terminal in terminals]
    floods = [map_.flood(goal, goals, FAR) for goal in goals]
    apart = lengths_between(map_, terminals, floods)
    assert apart is not None
    greedy = Greedy(map_, terminals, floods).grow()
    exact = Exact(map_, terminals, floods, apart, FAR // 4, MOST_WORK).solve()
    found = shortest_tree(map_, terminals)
    grown = Inserted(map_, terminals, floods, apart).grow()
    for tree in (greedy, grown):
        better = tree and Inserted(map_, terminals, floods, apart).improved(tree)
        for one in (tree, better):
            if one is not None:
                check(one, terminals)
                adds_up(one, len(terminals), price)
                assert one.cost_mm >= least - CLOSE
        assert better is None or tree is None or better is tree or better.cost_mm < tree.cost_mm
    if greedy is not None:
        check(greedy, terminals)
        adds_up(greedy, len(terminals), price)
        assert greedy.cost_mm >= least - CLOSE
    if np.isinf(least):
        assert (greedy, exact, found) == (None, None, None)
        return
    for tree in (exact, found):
        assert tree is not None
        assert tree.proved
        check(tree, terminals)
        adds_up(tree, len(terminals), price)
        assert tree.cost_mm == pytest.approx(least, abs=len(terminals) * 8 * CLOSE)
