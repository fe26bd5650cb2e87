"""Trees in mazes, where there is but one way between two ends: every figure is a whole number."""

from __future__ import annotations

import itertools
from collections import Counter
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import networkx as nx
import numpy as np
import pytest
from numpy.typing import NDArray

from fitplan.routing.trees import voxel_trees
from fitplan.routing.trees.chain_orders import exchanged_order
from fitplan.routing.trees.inserted_trees import Inserted
from fitplan.routing.trees.tree_map import EDGE, FAR, CostMap, Terminal, TreeMap, VoxelTree
from fitplan.routing.trees.tree_search import Exact, Greedy
from fitplan.routing.trees.voxel_trees import (
    MOST_EXACT,
    MOST_WORK,
    PROVED_AT_ONCE,
    _with_bound,
    bounded_tree,
    least_cost,
    lengths_between,
    shortest_tree,
)

from .test_voxel_trees import check

SPLICE_MM, FURTHER_MM = 0.75, 0.5
Place = tuple[int, int, int]


def maze(seed: int, wide: int = 4) -> tuple[NDArray[np.bool_], nx.Graph[Place]]:
    """Return a maze without a round way in it, and its voxels with the steps between them."""
    rng = np.random.default_rng(seed)
    rooms = nx.grid_2d_graph(wide, wide)
    for one, other in rooms.edges:
        rooms[one][other]["weight"] = rng.random()
    free = np.zeros((2 * wide - 1, 2 * wide - 1, 1), bool)
    free[::2, ::2] = True
    for (a, b), (c, d) in nx.minimum_spanning_tree(rooms).edges:
        free[a + c, b + d] = True
    steps: nx.Graph[Place] = nx.Graph()
    cells = [(int(x), int(y), int(z)) for x, y, z in np.argwhere(free)]
    steps.add_edges_from(
        (one, other)
        for one in cells
        for other in ((one[0] + 1, one[1], 0), (one[0], one[1] + 1, 0))
        if other in cells
    )
    return free, steps


def tree_map(free: NDArray[np.bool_], splice_mm: float = SPLICE_MM) -> TreeMap:
    ground = CostMap.of(free, np.ones(free.shape), np.where(free, splice_mm, 0.0), 1.0)
    return TreeMap(free, ground, further_mm=FURTHER_MM)


def tips(steps: nx.Graph[Place], most: int) -> list[Place]:
    """Return dead ends, at most so many."""
    return sorted(place for place in steps if steps.degree(place) == 1)[:most]


def union(steps: nx.Graph[Place], ends: list[Place]) -> nx.Graph[Place]:
    """Return the ways between ends, all together: the only tree that joins them."""
    found: nx.Graph[Place] = nx.Graph()
    for end in ends[1:]:
        nx.add_path(found, nx.shortest_path(steps, ends[0], end))
    return found


@pytest.mark.parametrize("most", [3, 4, 5, 7, 9])
@pytest.mark.parametrize("seed", range(3))
def test_dead_ends_are_joined_by_all_ways_between_them(seed: int, most: int) -> None:
    """Each branch is a splice, dearer with each wire beyond three; to the last unit by all searches."""
    free, steps = maze(seed, 5)
    ends = tips(steps, most)
    terminals = [Terminal((end,)) for end in ends]
    only = union(steps, ends)
    branches = sum(max(only.degree(place) - 2, 0) for place in only)
    cost = only.number_of_edges() + branches * SPLICE_MM
    map_ = tree_map(free)
    goals = [one.voxels for one in terminals]
    floods = [map_.flood(goal, goals, FAR) for goal in goals]
    between = lengths_between(map_, terminals, floods)
    assert between is not None
    greedy = Greedy(map_, terminals, floods).grow()
    grown = Inserted(map_, terminals, floods, between).grow()
    found = [greedy, shortest_tree(map_, terminals), grown]
    if len(ends) < 8:
        found.append(Exact(map_, terminals, floods, between, FAR // 4, MOST_WORK).solve())
    for tree in found:
        assert tree is not None
        check(tree, terminals)
        assert tree.cost_mm == cost
        assert set(tree.splices) == {place for place in only if only.degree(place) > 2}
    assert found[1] is not None
    assert found[1].proved


@pytest.mark.parametrize("seed", range(4))
def test_pins_on_the_way_pass_it_on(seed: int) -> None:
    """Places along one corridor, each of two wires: a chain, half a millimetre for each wire more."""
    _, steps = maze(seed)
    line = max((nx.shortest_path(steps, a, b) for a in steps for b in steps), key=len)
    free = np.zeros((7, 7, 1), bool)
    free[tuple(np.array(line).T)] = True
    chosen = [line[0], line[3], line[5], line[-1]]
    terminals = [Terminal((place,), 2) for place in chosen]
    map_ = tree_map(free, 40.0)
    goals = [one.voxels for one in terminals]
    floods = [map_.flood(goal, goals, FAR) for goal in goals]
    for tree in (Greedy(map_, terminals, floods).grow(), shortest_tree(map_, terminals)):
        assert tree is not None
        check(tree, terminals)
        assert tree.splices == ()
        assert tree.cost_mm == len(line) - 1 + 2 * FURTHER_MM


@pytest.mark.parametrize("most", [4, 6, 9])
def test_what_bounds_a_quick_tree_is_a_round_and_back(most: int) -> None:
    """What spans the ends by networkx, times n/(n − 1), and half of it, as going round visits all."""
    free, steps = maze(7, 5)
    ends = tips(steps, most)
    far = nx.Graph()
    for k, one in enumerate(ends):
        for other in ends[:k]:
            far.add_edge(one, other, weight=EDGE * nx.shortest_path_length(steps, one, other))
    spans = int(nx.minimum_spanning_tree(far).size(weight="weight"))
    map_ = tree_map(free)
    tree = shortest_tree(map_, [Terminal((end,)) for end in ends], quickly=True)
    assert tree is not None
    count = len(ends)
    assert map_.in_units(tree.least_mm) == spans * count // (2 * (count - 1))
    assert not tree.proved


# -- bounds --------------------------------------------------------------------------------------------------


class Asked:
    """An exact search as it is asked: proves what is cheaper than the tree, gives up from some cost on."""

    cost, patient, begun = 0, 0, 0
    limits: list[int]

    def __init__(self, map_: Any, some: Any, floods: Any, between: Any, limit: int, *rest: Any) -> None:
        self.limit, self.rounds, self.gave_up = limit, "rounds", False
        assert rest == (MOST_WORK // 4, None if not Asked.limits else "rounds")

    def half_round(self) -> int:
        return Asked.begun

    def solve(self) -> VoxelTree | None:
        Asked.limits.append(self.limit)
        self.gave_up = self.limit >= Asked.patient
        if self.gave_up or self.limit < Asked.cost:
            return None
        return VoxelTree((), (), (), float(Asked.cost), True)


@pytest.mark.parametrize(
    ("begun", "cost", "patient", "known", "limits", "bound"),
    [
        # Half-way between what is known from both sides, four times; told is one more than what was refuted.
        (0, 1000, 1000, 1600, [800, 1200, 1000, 900], 901),
        (400, 10_000, 10_000, 1600, [1000, 1300, 1450, 1525], 1526),
        (0, 0, 0, 1600, [800, 400, 200, 100], 0),
        # A tree within the limit is the cheapest.
        (0, 1000, 9999, 1600, [800, 1200], 1000),
        # Nothing lies between.
        (1600, 0, 0, 1600, [], 1600),
        (1599, 9999, 9999, 1600, [1599], 1600),
    ],
)
def test_bounds_are_halved_towards_the_cheapest(
    monkeypatch: pytest.MonkeyPatch, begun: int, cost: int, patient: int, known: int, limits: Any, bound: int
) -> None:
    Asked.begun, Asked.cost, Asked.patient, Asked.limits = begun, cost, patient, []
    monkeypatch.setattr(voxel_trees, "Exact", Asked)
    map_: Any = SimpleNamespace(in_units=int, in_mm=float, further=0, least_price=lambda: 0)
    between = np.zeros((5, 5), np.uint32)
    terminals = [Terminal(((k, 0, 0),)) for k in range(5)]
    least, tree = least_cost(map_, terminals, [0] * 5, between, known)
    assert (Asked.limits, least) == (limits, bound)
    assert (tree is not None) == (cost <= limits[-1] < patient if limits else False)


def test_what_is_told_of_a_tree_is_never_above_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """A proved tree that the search for bounds comes upon takes its place."""
    tree = VoxelTree((), (), (), 9.0, False)
    map_: Any = SimpleNamespace(in_units=lambda mm: round(10 * mm), in_mm=lambda units: units / 10)
    asked: list[int] = []

    def bound(*given: Any) -> tuple[int, None]:
        asked.append(given[-1])
        return (30 * 10 ** (len(asked) - 1), None)

    monkeypatch.setattr(voxel_trees, "least_cost", bound)
    for told in (3.0, 9.0):
        found = _with_bound(map_, [], [], np.zeros((1, 1), np.uint32), tree)
        assert (found.cost_mm, found.least_mm, found.proved) == (9.0, told, False)
    assert asked == [90] * 2
    proved = VoxelTree((), (), (), 6.0, True)
    monkeypatch.setattr(voxel_trees, "least_cost", lambda *_: (1, proved))
    assert _with_bound(map_, [], [], np.zeros((1, 1), np.uint32), tree) is proved
    # A tree that is laid already stays, and is told no cheaper than the one that came up.
    monkeypatch.setattr(voxel_trees, "_floods_of", lambda *_: [])
    monkeypatch.setattr(voxel_trees, "lengths_between", lambda *_: np.zeros((1, 1), np.uint32))
    laid = bounded_tree(map_, [], tree)
    assert (laid.cost_mm, laid.least_mm, laid.proved) == (9.0, 6.0, False)
    monkeypatch.setattr(voxel_trees, "least_cost", lambda *_: (75, None))
    assert bounded_tree(map_, [], tree).least_mm == 7.5


class Searched:
    """The exact search as it is asked: it ends where it is let work so much and knows so cheap a tree."""

    needs, within, finds = 0, 0.0, True
    asked: list[tuple[int, int]]

    def __init__(
        self, map_: Any, some: Any, floods: Any, between: Any, limit: int, work: int, *rest: Any
    ) -> None:
        Searched.asked.append((limit, work))
        self.gave_up = work < Searched.needs or limit > 10 * Searched.within

    def solve(self) -> VoxelTree | None:
        return None if self.gave_up or not Searched.finds else VoxelTree((), (), (), 5.0, True)


@pytest.mark.parametrize(
    ("count", "needs", "within", "greedy", "asked"),
    [
        # Once the greedy tree is bettered; whether the search ends or gives up, and for many ends: never.
        (PROVED_AT_ONCE, 1, 99.0, 9.0, [(71, MOST_WORK)]),
        (PROVED_AT_ONCE, 1, 7.0, 9.0, [(71, MOST_WORK)]),
        (PROVED_AT_ONCE, MOST_WORK + 1, 99.0, 9.0, [(71, MOST_WORK)]),
        (MOST_EXACT, 1, 99.0, 9.0, [(71, MOST_WORK)]),
        (MOST_EXACT + 1, 1, 99.0, 9.0, []),
        # Without a greedy tree one grows by insertion.
        (PROVED_AT_ONCE, 1, 99.0, None, [(71, MOST_WORK)]),
    ],
)
def test_how_much_work_goes_to_an_exact_tree(
    monkeypatch: pytest.MonkeyPatch, count: int, needs: int, within: float, greedy: float | None, asked: Any
) -> None:
    Searched.needs, Searched.within, Searched.asked = needs, within, []

    def tree(cost: float) -> VoxelTree:
        return VoxelTree((), (), (), cost, False)

    first = None if greedy is None else tree(greedy)
    monkeypatch.setattr(voxel_trees, "Exact", Searched)
    monkeypatch.setattr(voxel_trees, "Greedy", lambda *_: SimpleNamespace(grow=lambda: first))
    grown = SimpleNamespace(grow=lambda: tree(8.0), improved=lambda known: replace(known, cost_mm=7.0))
    monkeypatch.setattr(voxel_trees, "Inserted", lambda *_: grown)
    monkeypatch.setattr(voxel_trees, "_with_bound", lambda *_: tree(7.0))
    monkeypatch.setattr(voxel_trees, "_floods_of", lambda *_: [])
    monkeypatch.setattr(voxel_trees, "lengths_between", lambda *_: np.zeros((1, 1), np.uint32))
    map_: Any = SimpleNamespace(in_units=lambda mm: round(10 * mm))
    found = shortest_tree(map_, [Terminal(((k, 0, 0),)) for k in range(count)])
    assert Searched.asked == asked
    assert found is not None
    assert found.proved == bool(asked and asked[-1][1] >= needs and asked[-1][0] <= 10 * within)
    # A search that ends with nothing takes no tree away that is known.
    monkeypatch.setattr(Searched, "finds", False)
    known = shortest_tree(map_, [Terminal(((k, 0, 0),)) for k in range(count)])
    assert known is not None
    assert not known.proved


# -- chains --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [*range(8), 34, 109, 198])
def test_no_piece_of_an_exchanged_order_is_better_turned_round(seed: int) -> None:
    """Every piece is tried, those at both ends too; beside this, each place once."""
    rng = np.random.default_rng(seed)
    count = 7 + seed % 5
    lengths = rng.integers(1, 60, (count, count)).astype(float)
    lengths += lengths.T

    def total(order: list[int]) -> float:
        return float(sum(lengths[a, b] for a, b in itertools.pairwise(order)))

    order = exchanged_order(lengths)
    assert Counter(order) == Counter(range(count))
    for i in range(count):
        for j in range(i + 1, count):
            turned = [*order[:i], *order[i : j + 1][::-1], *order[j + 1 :]]
            assert total(turned) >= total(order)
    # Nearest next from each start is no shorter than what is left after exchanges.
    for start in range(count):
        walk = [start]
        while len(walk) < count:
            walk.append(min(set(range(count)) - set(walk), key=lambda node: (lengths[walk[-1], node], node)))
        assert total(walk) >= total(order)
