"""Trees over voxels: shortest beside independent methods, splices and wires only where they may be."""

from __future__ import annotations

import math
from itertools import combinations, pairwise, permutations
from types import SimpleNamespace

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.sparse.csgraph import dijkstra

from fitplan.kernels import reused_memory
from fitplan.routing.trees import voxel_trees
from fitplan.routing.trees.chain_orders import best_order, exchanged_order
from fitplan.routing.trees.pieces import MOST_IN_SPLICE
from fitplan.routing.trees.tree_map import FAR, CostMap, Terminal, TreeMap, TreeUndecidedError, VoxelTree
from fitplan.routing.trees.tree_search import Exact, Greedy, through_all
from fitplan.routing.trees.voxel_trees import MOST_EXACT, MOST_WORK, lengths_between, shortest_tree
from fitplan.routing.ways.shortest_ways import WayMap
from fitplan.routing.ways.way import Voxel, lattice_length

from .graph_trees import shortest_tree_weight
from .lattice_graph import lattice_graph

CLOSE = 2e-3
"""Lengths are kept in steps of 1/1024 of a voxel edge."""


def small(seed: int, pins: int, share: float = 0.2) -> tuple[NDArray[np.bool_], list[Voxel]]:
    """Return a random map and pins in its largest room."""
    rng = np.random.default_rng(seed)
    free = rng.random((12, 11, 6)) > share
    rooms = WayMap(free).rooms()
    cells = np.argwhere(rooms == np.bincount(rooms[rooms > 0]).argmax())
    chosen = cells[rng.choice(len(cells), pins, replace=False)]
    return free, [(int(x), int(y), int(z)) for x, y, z in chosen]


def tree_map(
    free: NDArray[np.bool_], splice_mm: float, sites: NDArray[np.bool_] | None = None, further_mm: float = 0.0
) -> TreeMap:
    """Return a map with voxel edges of 1 mm at cost 1, with splices that count the same everywhere."""
    allowed = free if sites is None else free & sites
    ground = CostMap.of(free, np.ones(free.shape), np.where(allowed, splice_mm, 0.0), 1.0)
    return TreeMap(free, ground, further_mm=further_mm)


def between(free: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return scipy's lengths between all voxels."""
    found: NDArray[np.float64] = dijkstra(lattice_graph(free), directed=False)
    return found


def check(tree: VoxelTree, terminals: list[Terminal]) -> None:
    """Assert that ways join all terminals into a tree, and that no terminal has more wires than it takes."""
    graph = nx.Graph()
    graph.add_nodes_from(range(len(terminals) + len(tree.splices)))
    places = [set(terminal.voxels) for terminal in terminals] + [{splice} for splice in tree.splices]
    for (one, other), way in zip(tree.edges, tree.ways, strict=True):
        graph.add_edge(one, other)
        assert tuple(way[0].tolist()) in places[one]
        assert tuple(way[-1].tolist()) in places[other]
        assert (np.abs(np.diff(way, axis=0)).max(axis=1) == 1).all()
    assert nx.is_tree(graph)
    for number, terminal in enumerate(terminals):
        assert graph.degree(number) <= terminal.wires
    for number in range(len(terminals), len(graph)):
        assert graph.degree(number) >= 3


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("count", [4, 5, 6])
def test_where_no_end_meets_a_way_all_meet_at_the_one_site(
    seed: int, count: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The greedy tree ends at its first way; the sum of scipy's lengths to the site, and its price, is it.

    Where neither insertion nor the exact search finds one, that one stands if a sleeve holds so many wires.
    """
    free, pins = small(seed, count + 1)
    sites = np.zeros_like(free)
    sites[pins[-1]] = True
    terminals = [Terminal((pin,)) for pin in pins[:-1]]
    with reused_memory():
        map_ = tree_map(free, 2.0, sites)
        lengths = between(free)
        numbers = [int(np.ravel_multi_index(pin, free.shape)) for pin in pins]
        cost = sum(lengths[one, numbers[-1]] for one in numbers[:-1]) + 2.0 * (count - 2)
        tree = shortest_tree(map_, terminals)
        assert tree is not None
        check(tree, terminals)
        assert tree.proved
        assert tree.splices == (pins[-1],)
        assert tree.cost_mm == pytest.approx(cost, rel=CLOSE)
        monkeypatch.setattr(voxel_trees, "MOST_WORK", 0)
        nothing = SimpleNamespace(grow=lambda: None, improved=lambda tree: tree)
        monkeypatch.setattr(voxel_trees, "Inserted", lambda *_: nothing)
        if count > MOST_IN_SPLICE:
            with pytest.raises(TreeUndecidedError):
                shortest_tree(map_, terminals)
        else:
            again = shortest_tree(map_, terminals)
            assert again is not None
            assert again.cost_mm == pytest.approx(cost, rel=CLOSE)


@pytest.mark.parametrize(("seed", "count"), [(0, 3), (1, 4), (2, 5), (3, 6), (4, 7)])
def test_trees_equal_the_exact_tree_of_the_lattice(seed: int, count: int) -> None:
    """With branches anywhere for nothing the tree is as short as the exact one of the lattice graph."""
    free, pins = small(seed, count)
    tree = shortest_tree(tree_map(free, 1e-3), [Terminal((pin,), count) for pin in pins])
    assert tree is not None
    exact = shortest_tree_weight(
        lattice_graph(free), [int(np.ravel_multi_index(pin, free.shape)) for pin in pins]
    )
    assert tree.proved
    assert tree.cost_mm == pytest.approx(exact, rel=CLOSE)


@pytest.mark.parametrize("seed", range(5))
def test_three_pins_meet_at_the_best_site(seed: int) -> None:
    """Three pins of one wire: the splice is where scipy's three lengths together are least of all sites."""
    free, pins = small(seed, 3)
    sites = np.zeros_like(free)
    sites[:, :, :3] = True
    terminals = [Terminal((pin,)) for pin in pins]
    tree = shortest_tree(tree_map(free, 5.0, sites), terminals)
    assert tree is not None
    check(tree, terminals)
    lengths = between(free)[[np.ravel_multi_index(pin, free.shape) for pin in pins]].sum(axis=0)
    assert tree.cost_mm == pytest.approx(lengths[(sites & free).ravel()].min() + 5.0, rel=CLOSE)
    assert sites[tree.splices[0]]


@given(st.integers(0, 10_000))
@settings(max_examples=15, deadline=None)
def test_four_pins_meet_at_the_best_two_sites(seed: int) -> None:
    """Four pins of one wire: as short as the best of all pairs of sites and all three pairings, by scipy."""
    rng = np.random.default_rng(seed)
    free = rng.random((6, 5, 3)) > 0.15
    rooms = WayMap(free).rooms()
    cells = np.argwhere(rooms == np.bincount(rooms[rooms > 0]).argmax())
    if len(cells) < 20:
        return
    pins = [tuple(cell) for cell in cells[rng.choice(len(cells), 4, replace=False)].tolist()]
    terminals = [Terminal((pin,)) for pin in pins]
    tree = shortest_tree(tree_map(free, 0.7), terminals)
    assert tree is not None
    length = between(free)
    a, b, c, d = (length[int(np.ravel_multi_index(pin, free.shape))] for pin in pins)
    best = math.inf
    for one, two, three, four in ((a, b, c, d), (a, c, b, d), (a, d, b, c)):
        pairs = (one + two)[:, None] + (three + four)[None, :] + length
        best = min(best, float(pairs[free.ravel()][:, free.ravel()].min()))
    assert tree.cost_mm == pytest.approx(best + 1.4, rel=CLOSE)


@pytest.mark.parametrize("seed", range(3))
def test_without_sites_pins_of_two_wires_make_the_shortest_chain(seed: int) -> None:
    """Five pins that take two wires and nowhere a splice: the chain is the best of all orders."""
    free, pins = small(seed + 10, 5)
    terminals = [Terminal((pin,), 2) for pin in pins]
    tree = shortest_tree(tree_map(free, 0.0, further_mm=2.0), terminals)
    assert tree is not None
    check(tree, terminals)
    at = [int(np.ravel_multi_index(pin, free.shape)) for pin in pins]
    lengths = between(free)[np.ix_(at, at)]
    best = min(sum(lengths[a, b] for a, b in pairwise(order)) for order in permutations(range(5)))
    assert tree.cost_mm == pytest.approx(best + 3 * 2.0, rel=CLOSE)
    assert tree.splices == ()


def test_pins_joined_inside_shorten_the_way() -> None:
    """A board with a pin on either side of a wall joins both sides: no wire goes round the wall."""
    free = np.ones((21, 9, 3), bool)
    free[10, :8] = False
    board = Terminal(((9, 0, 1), (11, 0, 1)), 2)
    terminals = [Terminal(((2, 0, 1),)), board, Terminal(((18, 0, 1),))]
    tree = shortest_tree(tree_map(free, 30.0), terminals)
    assert tree is not None
    check(tree, terminals)
    assert tree.proved
    assert sum(lattice_length(way) for way in tree.ways) == pytest.approx(14.0)


def test_many_pins_are_joined_with_few_sites(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fourteen pins of one wire, splices on the floor alone: all are joined; more sites never cost more."""
    free, pins = small(30, 14, 0.1)
    assert len(pins) > MOST_EXACT
    monkeypatch.setattr("fitplan.routing.trees.voxel_trees._BOUNDED_BY", 7)
    sites = np.zeros_like(free)
    sites[:, :, 0] = True
    terminals = [Terminal((pin,)) for pin in pins]
    tree = shortest_tree(tree_map(free, 0.5, sites), terminals)
    assert tree is not None
    check(tree, terminals)
    assert all(splice[2] == 0 for splice in tree.splices)
    assert not tree.proved
    anywhere = shortest_tree(tree_map(free, 0.5), terminals)
    assert anywhere is not None
    assert anywhere.cost_mm <= tree.cost_mm * 1.001


def test_what_cannot_be_joined_is_none() -> None:
    """A pin in a sealed room, or pins of one wire without a site, have no tree; one pin is a mistake."""
    free = np.ones((9, 9, 3), bool)
    free[4] = False
    apart = [Terminal((pin,)) for pin in ((0, 0, 0), (1, 7, 2), (7, 1, 1))]
    assert shortest_tree(tree_map(free, 1.0), apart) is None
    near = [Terminal((pin,)) for pin in ((0, 0, 0), (1, 7, 2), (3, 1, 1))]
    assert shortest_tree(tree_map(free, 0.0), near) is None
    assert shortest_tree(tree_map(free, 1.0), near) is not None
    with pytest.raises(ValueError, match="at least two"):
        shortest_tree(tree_map(free, 1.0), near[:1])


def test_lengths_are_those_of_the_router() -> None:
    """Costs between pins equal those of the router's own search, in a map with costs."""
    free, pins = small(3, 6)
    cost = 1.0 + np.random.default_rng(3).integers(0, 4, free.shape) / 4
    trees = TreeMap(free, CostMap.of(free, cost, np.zeros(free.shape), 0.8))
    field = WayMap(free, 0.8, cost)
    for one, other in pairwise(pins):
        way = field.way(one, other)
        assert way is not None
        assert trees.cost_mm(Terminal((one,)), Terminal((other,))) == pytest.approx(way.cost_mm, rel=CLOSE)


def test_exchanged_orders_are_near_the_best() -> None:
    """On random points the improved order is at most 10 % longer than the best of all."""
    for seed in range(5):
        points = np.random.default_rng(seed).random((9, 3))
        lengths = np.linalg.norm(points[:, None] - points[None], axis=2)

        def total(order: list[int], lengths: NDArray[np.float64] = lengths) -> float:
            return float(sum(lengths[a, b] for a, b in pairwise(order)))

        assert sorted(exchanged_order(lengths)) == list(range(9))
        assert (
            total(best_order(lengths)) <= total(exchanged_order(lengths)) <= 1.1 * total(best_order(lengths))
        )


def test_an_order_keeps_ends_at_its_ends() -> None:
    """Places that cannot be between two others are the ends of the chain, however long it gets."""
    lengths = np.abs(np.arange(6.0)[:, None] - np.arange(6.0)[None])
    inner = np.zeros(6)
    inner[[2, 3]] = math.inf
    order = best_order(lengths, inner)
    assert {order[0], order[-1]} == {2, 3}


@given(st.integers(0, 10_000))
@settings(max_examples=25, deadline=None)
def test_leaving_out_changes_nothing(seed: int) -> None:
    """Pins of one to three wires, some joined inside: pruned by a greedy tree or not, costs are the same."""
    rng = np.random.default_rng(seed)
    free = rng.random((9, 8, 4)) > 0.2
    rooms = WayMap(free).rooms()
    cells = np.argwhere(rooms == np.bincount(rooms[rooms > 0]).argmax())
    count = int(rng.integers(4, 6))
    if len(cells) < 4 * count:
        return
    spots = [tuple(cell) for cell in cells[rng.choice(len(cells), 2 * count, replace=False)].tolist()]
    terminals = [
        Terminal(tuple(spots[2 * i : 2 * i + int(rng.integers(1, 3))]), int(rng.integers(1, 4)))
        for i in range(count)
    ]
    map_ = tree_map(free, float(rng.choice([0.0, 0.5, 3.0])), further_mm=0.5)
    goals = [terminal.voxels for terminal in terminals]
    floods = [map_.flood(goal, goals, FAR) for goal in goals]
    between = lengths_between(map_, terminals, floods)
    assert between is not None
    greedy = Greedy(map_, terminals, floods).grow()
    whole = Exact(map_, terminals, floods, between, FAR // 4, MOST_WORK).solve()
    pruned = shortest_tree(map_, terminals)
    if whole is None:
        assert pruned is None
        assert greedy is None
        return
    check(whole, terminals)
    assert pruned is not None
    check(pruned, terminals)
    assert pruned.cost_mm == pytest.approx(whole.cost_mm, abs=1e-9)
    assert greedy is None or whole.cost_mm <= greedy.cost_mm + 1e-9


def test_too_much_work_leaves_a_tree_that_is_not_proved(monkeypatch: pytest.MonkeyPatch) -> None:
    """When the exact search may look at nothing it gives up, and a tree is found all the same."""
    free, pins = small(4, 6)
    terminals = [Terminal((pin,)) for pin in pins]
    proved = shortest_tree(tree_map(free, 2.0), terminals)
    monkeypatch.setattr("fitplan.routing.trees.voxel_trees.MOST_WORK", 0)
    tree = shortest_tree(tree_map(free, 2.0), terminals)
    assert proved is not None
    assert tree is not None
    check(tree, terminals)
    assert (proved.proved, tree.proved) == (True, False)
    assert proved.cost_mm <= tree.cost_mm <= 1.25 * proved.cost_mm


def test_trees_in_reused_memory_are_those_in_fresh() -> None:
    """A map in memory that maps of other nets have used, some larger, gives the same trees to the voxel."""

    def trees() -> list[tuple[object, ...]]:
        found: list[tuple[object, ...]] = []
        for seed, pins in ((0, 6), (1, 3), (2, 7), (3, 4)):
            free, ends = small(seed, pins)
            terminals = [Terminal((pin,), 1 + place % 2) for place, pin in enumerate(ends)]
            tree = shortest_tree(tree_map(free[: 12 - seed], 4.0), [t for t in terminals if _within(t, seed)])
            ways = [] if tree is None else [way.tolist() for way in tree.ways]
            found.append((tree is None, ways, None if tree is None else tree.splices))
        return found

    fresh = trees()
    assert any(ways for _, ways, _ in fresh)
    with reused_memory():
        assert trees() == fresh
        assert trees() == fresh


def _within(terminal: Terminal, cut: int) -> bool:
    return all(x < 12 - cut for x, _, _ in terminal.voxels)


@pytest.mark.parametrize("seed", range(4))
def test_the_bound_of_large_trees_lies_below_the_exact_tree(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nine pins, bounded by seven: exact, they cost no less than the bound and no more than the tree."""
    free, pins = small(seed, 9)
    rng = np.random.default_rng(seed)
    terminals = [Terminal((pin,), int(rng.integers(1, 3))) for pin in pins]
    monkeypatch.setattr("fitplan.routing.trees.voxel_trees.MOST_EXACT", 8)
    monkeypatch.setattr("fitplan.routing.trees.voxel_trees._BOUNDED_BY", 7)
    found = shortest_tree(tree_map(free, 3.0), terminals)
    monkeypatch.setattr("fitplan.routing.trees.voxel_trees.MOST_EXACT", 9)
    monkeypatch.setattr("fitplan.routing.trees.voxel_trees.MOST_WORK", 2_000_000_000)
    exact = shortest_tree(tree_map(free, 3.0), terminals)
    assert (found is None) == (exact is None)
    if found is None or exact is None:
        return
    assert exact.proved
    assert not found.proved
    assert 0 < found.least_mm <= exact.cost_mm + 1e-6
    assert exact.cost_mm <= found.cost_mm + 1e-6
    assert 0 <= found.gap < 0.35


def test_shortest_ways_through_all_are_those_of_every_order() -> None:
    """Held and Karp's account is what trying all orders gives, for every set and every pair of ends."""
    rng = np.random.default_rng(3)
    points = rng.integers(0, 1000, (6, 3))
    between = np.linalg.norm(points[:, None] - points[None], axis=2).astype(np.uint32)
    found = through_all(between)
    for size in range(2, 7):
        for some in combinations(range(6), size):
            best: dict[tuple[int, int], int] = {}
            for order in permutations(some):
                length = sum(int(between[a, b]) for a, b in pairwise(order))
                ends = (order[0], order[-1])
                best[ends] = min(length, best.get(ends, length))
            bits = sum(1 << one for one in some)
            assert all(found[bits, a, b] == length for (a, b), length in best.items())


@pytest.mark.parametrize("seed", range(4))
def test_bisected_bounds_are_true_and_close(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Seven pins that may not be proved at once: what is told lies within what the exact tree costs."""
    free, pins = small(seed, 7)
    terminals = [Terminal((pin,), 1 + number % 2) for number, pin in enumerate(pins)]
    exact = shortest_tree(tree_map(free, 3.0), terminals)
    monkeypatch.setattr("fitplan.routing.trees.voxel_trees.MOST_WORK", 4000)
    found = shortest_tree(tree_map(free, 3.0), terminals)
    assert exact is not None
    assert found is not None
    assert exact.proved
    assert found.cost_mm >= exact.cost_mm - 1e-6
    assert 0 < (found.cost_mm if found.proved else found.least_mm) <= exact.cost_mm + 1e-6
