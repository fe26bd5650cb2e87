"""Shortest ways against closed forms, scipy's Dijkstra and properties that any router must have."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse.csgraph import dijkstra

from fitplan.kernels import reused_memory
from fitplan.routing.ways.shortest_ways import COST_UNIT, WayMap
from fitplan.routing.ways.way import lattice_length
from tests.routing.lattice_graph import empty_distance

from .lattice_graph import lattice_graph

fields = st.builds(
    lambda seed, shape, share: np.random.default_rng(seed).random(shape) > share,
    st.integers(0, 10_000),
    st.tuples(st.integers(1, 9), st.integers(1, 9), st.integers(1, 9)),
    st.floats(0.0, 0.6),
)


def two_free(free: np.ndarray, seed: int) -> tuple[list[int], list[int]] | None:
    """Pick two free voxels, or None in a field without."""
    rows = np.argwhere(free)
    if not len(rows):
        return None
    first, last = np.random.default_rng(seed).integers(len(rows), size=2)
    return rows[first].tolist(), rows[last].tolist()


@given(
    st.lists(st.tuples(st.integers(0, 15), st.integers(0, 15), st.integers(0, 15)), min_size=2, max_size=2)
)
@settings(max_examples=40, deadline=None)
def test_empty_field_has_the_closed_form(ends: list[tuple[int, int, int]]) -> None:
    """In an empty field the way has the textbook length √3·min + √2·(mid − min) + (max − mid)."""
    way = WayMap(np.ones((16, 16, 16), bool), 0.8).way(*ends)
    assert way is not None
    assert way.length_mm == pytest.approx(0.8 * empty_distance(*ends), abs=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_random_fields_equal_scipy(seed: int) -> None:
    """All lengths from a voxel equal those of scipy's Dijkstra on an independently built graph."""
    rng = np.random.default_rng(seed)
    free = rng.random((13, 17, 11)) > (0.0, 0.1, 0.2, 0.3, 0.4, 0.5)[seed]
    start = np.argwhere(free)[rng.integers(free.sum())]
    field = WayMap(free, 1.0)
    expected = dijkstra(lattice_graph(free), indices=int(np.ravel_multi_index(start, free.shape)))
    found = field.distances([start.tolist()])
    np.testing.assert_allclose(found.ravel(), expected, atol=1e-8)
    for goal in np.argwhere(free)[rng.integers(free.sum(), size=150)]:
        way = field.way(start.tolist(), goal.tolist())
        length = expected[np.ravel_multi_index(goal, free.shape)]
        assert way is None or way.length_mm == pytest.approx(length, abs=1e-8)
        assert (way is None) == math.isinf(length)


@pytest.mark.parametrize("seed", range(4))
def test_costs_equal_scipy(seed: int) -> None:
    """With a cost for each voxel the cheapest way costs what scipy's Dijkstra says."""
    rng = np.random.default_rng(seed)
    free = rng.random((11, 12, 10)) > 0.25
    cost = 1 + np.rint(rng.random(free.shape) * 5 * COST_UNIT) / COST_UNIT
    field = WayMap(free, 1.0, cost)
    start = np.argwhere(free)[0]
    expected = dijkstra(lattice_graph(free, cost), indices=int(np.ravel_multi_index(start, free.shape)))
    np.testing.assert_allclose(field.distances([start.tolist()]).ravel(), expected, atol=1e-5)
    for goal in np.argwhere(free)[rng.integers(free.sum(), size=60)]:
        way, least = (
            field.way(start.tolist(), goal.tolist()),
            expected[np.ravel_multi_index(goal, free.shape)],
        )
        if way is not None:
            assert way.cost_mm == pytest.approx(least, abs=1e-5)
            greedy = field.way(start.tolist(), goal.tolist(), greed=1.5)
            assert greedy is not None
            assert least - 1e-5 <= greedy.cost_mm <= 1.5 * least + 1e-5


@given(fields, st.integers(0, 1000))
@settings(max_examples=40, deadline=None)
def test_plateaus_of_cost_and_changes_in_place_equal_scipy(free: np.ndarray, seed: int) -> None:
    """With large parts of equal cost, and after single and all costs were changed, lengths equal scipy's."""
    cells = np.argwhere(free)
    if not len(cells):
        return
    rng = np.random.default_rng(seed)
    cost = np.ones(free.shape)
    for _ in range(2):
        x, y, z = (int(rng.integers(n)) for n in free.shape)
        cost[x:, y:, : z + 1] += float(rng.integers(3))
    start = cells[rng.integers(len(cells))]
    field = WayMap(free, 1.0, cost)
    for turn in range(3):
        if turn == 2:
            cost = np.ascontiguousarray(cost[::-1, :, ::-1])
            field.set_cost(cost)
        graph = lattice_graph(free, cost)
        expected = dijkstra(graph, indices=int(np.ravel_multi_index(start, free.shape)))
        np.testing.assert_allclose(field.distances([start.tolist()]).ravel(), expected, atol=1e-5)
        some = cells[rng.integers(len(cells), size=3)]
        cost[tuple(some.T)] = 2.75
        field.set_cost_at(field.nodes_of(some), np.full(3, 2.75))


@given(fields, st.integers(0, 1000))
@settings(max_examples=60, deadline=None)
def test_a_way_goes_through_free_voxels_and_cuts_no_corner(free: np.ndarray, seed: int) -> None:
    """Every box that a step spans is free, the ends are right and the length is that of the steps."""
    ends = two_free(free, seed)
    if ends is None:
        return
    way = WayMap(free, 1.0).way(*ends)
    if way is None:
        return
    assert way.start == tuple(ends[0])
    assert way.goal == tuple(ends[1])
    for a, b in zip(way.voxels[:-1], way.voxels[1:], strict=True):
        assert 1 <= np.abs(b - a).max() == 1
        low, high = np.minimum(a, b), np.maximum(a, b) + 1
        assert free[tuple(slice(p, q) for p, q in zip(low, high, strict=True))].all()
    assert way.length_mm == pytest.approx(lattice_length(way.voxels))


@given(fields, st.integers(0, 1000))
@settings(max_examples=60, deadline=None)
def test_removing_an_obstacle_never_lengthens_a_way(free: np.ndarray, seed: int) -> None:
    """Opening a voxel keeps or shortens the way, and the field changed in place agrees with a new one."""
    ends = two_free(free, seed)
    closed = np.argwhere(~free)
    if ends is None or not len(closed):
        return
    field = WayMap(free, 1.0)
    before = field.way(*ends)
    voxel = closed[np.random.default_rng(seed).integers(len(closed))]
    field.set_free([voxel], True)
    after = field.way(*ends)
    opened = free.copy()
    opened[tuple(voxel)] = True
    fresh = WayMap(opened, 1.0).way(*ends)
    assert (after is None) == (fresh is None)
    if after is not None and fresh is not None:
        assert after.length_mm == fresh.length_mm
    if before is not None:
        assert after is not None
        assert after.length_mm <= before.length_mm + 1e-12


@given(fields, st.integers(0, 1000), st.tuples(st.booleans(), st.booleans(), st.booleans()))
@settings(max_examples=60, deadline=None)
def test_the_mirrored_question_gets_the_mirrored_way(
    free: np.ndarray, seed: int, mirrored: tuple[bool, bool, bool]
) -> None:
    """A mirrored field gives voxel by voxel the mirrored way, ties included."""
    ends = two_free(free, seed)
    if ends is None:
        return
    way = WayMap(free, 1.0).way(*ends)
    axes = [axis for axis in range(3) if mirrored[axis]]

    def turn(voxels: np.ndarray) -> np.ndarray:
        out = np.array(voxels)
        for axis in axes:
            out[..., axis] = free.shape[axis] - 1 - out[..., axis]
        return out

    image = WayMap(np.flip(free, axes), 1.0).way(*[turn(end).tolist() for end in ends], mirrored=mirrored)
    assert (way is None) == (image is None)
    if way is not None and image is not None:
        np.testing.assert_array_equal(turn(way.voxels), image.voxels)


def test_many_starts_and_goals_take_the_nearest_pair() -> None:
    """From several starts to several goals the length is the least of all pairs."""
    rng = np.random.default_rng(5)
    free = rng.random((14, 14, 9)) > 0.3
    voxels = np.argwhere(free)
    field = WayMap(free, 1.0)
    for _ in range(20):
        starts, goals = voxels[rng.integers(len(voxels), size=3)], voxels[rng.integers(len(voxels), size=4)]
        way = field.way_between(starts, goals)
        pairs = [field.way(s.tolist(), g.tolist()) for s in starts for g in goals]
        lengths = [pair.length_mm for pair in pairs if pair is not None]
        assert (way is None) == (not lengths)
        if way is not None:
            assert way.length_mm == min(lengths)
            assert way.start in {tuple(s) for s in starts.tolist()}
            assert way.goal in {tuple(g) for g in goals.tolist()}


@given(fields, st.integers(0, 10_000))
@settings(max_examples=60, deadline=None)
def test_a_search_over_shortest_ways_alone_finds_the_way_of_one_over_all_voxels(
    free: np.ndarray, seed: int
) -> None:
    """Where every voxel costs one, the search in order among all takes the same way, whatever the turn."""
    rows = np.argwhere(free)
    if not len(rows):
        return
    rng = np.random.default_rng(seed)
    starts, goals = rows[rng.integers(len(rows), size=2)], rows[rng.integers(len(rows), size=3)]
    plain, priced = WayMap(free, 1.0), WayMap(free, 1.0, np.ones(free.shape))
    first = plain.way_between(starts, goals)
    for bits in range(8):
        turn = (bool(bits & 1), bool(bits & 2), bool(bits & 4))
        asked, turned = plain.way_between(starts, goals, mirrored=turn), plain.turned(turn)
        expected = priced.way_between(starts, goals, mirrored=turn)
        for found in (asked, turned):
            assert (found is None) == (expected is None) == (first is None)
            if found is not None and expected is not None:
                assert found.voxels.tolist() == expected.voxels.tolist()


def test_a_turned_way_looks_at_few_voxels_and_outlasts_changes_elsewhere() -> None:
    """The way of the other hand is found among the shortest; the question is kept though voxels change."""
    free = np.ones((30, 21, 3), bool)
    free[15, 2:19] = False
    field = WayMap(free, 1.0)
    first = field.way_between([(2, 10, 1)], [(27, 10, 1)])
    field.set_free([(0, 0, 0), (0, 1, 0), (0, 2, 0)], False)
    other = field.turned((False, True, False))
    assert first is not None
    assert other is not None
    assert other.length_mm == first.length_mm
    assert (other.voxels * [1, -1, 1] + [0, 20, 0]).tolist() == first.voxels.tolist()
    assert other.expanded < first.expanded / 5


def test_nothing_is_turned_where_there_is_no_way() -> None:
    """Neither after a question without an answer, nor after one that asked for all lengths."""
    free = np.ones((5, 1, 1), bool)
    free[2] = False
    field = WayMap(free)
    assert field.way_between([(0, 0, 0)], [(4, 0, 0)], check_rooms=False) is None
    assert field.turned((True, True, True)) is None
    assert field.way((0, 0, 0), (1, 0, 0)) is not None
    field.distances([(0, 0, 0)])
    assert field.turned((True, True, True)) is None


def test_ends_that_are_not_free_have_no_way() -> None:
    """A blocked or outside voxel is no place for an end; the answer is None and no exception."""
    free = np.ones((4, 4, 4), bool)
    free[1, 1, 1] = False
    field = WayMap(free)
    assert field.way((1, 1, 1), (3, 3, 3)) is None
    assert field.way((0, 0, 0), (9, 0, 0)) is None
    assert field.way((-1, 0, 0), (0, 0, 0)) is None
    same = field.way((2, 2, 2), (2, 2, 2))
    assert same is not None
    assert same.length_mm == 0.0
    assert same.voxels.tolist() == [[2, 2, 2]]


def test_rooms_are_the_connected_spaces() -> None:
    """Two spaces that touch at a voxel edge only are two rooms, as no wire passes there."""
    free = np.zeros((2, 2, 1), bool)
    free[0, 0, 0] = free[1, 1, 0] = True
    field = WayMap(free)
    assert sorted(field.rooms().ravel().tolist()) == [0, 0, 1, 2]
    assert field.way((0, 0, 0), (1, 1, 0)) is None
    field.set_free([(0, 1, 0)], True)
    way = field.way((0, 0, 0), (1, 1, 0))
    assert way is not None
    assert way.length_mm == pytest.approx(1.6)


def test_mistakes_in_a_call_are_named() -> None:
    """Wrong shapes and values raise ValueError with the value in the message."""
    with pytest.raises(ValueError, match="three axes"):
        WayMap(np.ones((4, 4), bool))
    with pytest.raises(ValueError, match="pitch"):
        WayMap(np.ones((4, 4, 4), bool), 0.0)
    field = WayMap(np.ones((4, 4, 4), bool))
    with pytest.raises(ValueError, match="costs"):
        field.set_cost(np.ones((3, 4, 4)))
    with pytest.raises(ValueError, match="outside"):
        field.set_free([(4, 0, 0)], False)
    with pytest.raises(ValueError, match="greed"):
        field.way((0, 0, 0), (1, 1, 1), greed=0.5)


@given(fields, st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_a_guided_search_finds_the_cheapest_way(free: np.ndarray, seed: int) -> None:
    """A guide made at the least costs leads to a way as cheap as an unguided search finds at any costs."""
    ends = two_free(free, seed)
    if ends is None:
        return
    rng = np.random.default_rng(seed)
    least = 1 + rng.random(free.shape)
    field = WayMap(free, 1.0, least)
    guide = field.guide([ends[1]], least)
    for _ in range(3):
        field.set_cost(least * (1 + rng.random(free.shape) * (rng.random(free.shape) < 0.3)))
        plain = field.way_between([ends[0]], [ends[1]])
        guided = field.way_between([ends[0]], [ends[1]], guide=guide, check_rooms=False)
        assert (plain is None) == (guided is None)
        if plain is not None and guided is not None:
            assert guided.cost_mm == pytest.approx(plain.cost_mm, rel=1e-9)


def test_a_guide_spares_a_search_its_dead_ends() -> None:
    """Behind a deep pocket the unguided search fills the pocket first; the guided one goes round."""
    free = np.ones((40, 40, 5), bool)
    free[30, 5:35, :] = free[10:31, 5, :] = free[10:31, 34, :] = False
    least = np.ones(free.shape)
    field = WayMap(free, 1.0, least)
    guide = field.guide([(38, 20, 2)], least)
    plain = field.way((20, 20, 2), (38, 20, 2))
    guided = field.way_between([(20, 20, 2)], [(38, 20, 2)], guide=guide)
    assert plain is not None
    assert guided is not None
    assert guided.cost_mm == pytest.approx(plain.cost_mm)
    assert guided.expanded < plain.expanded / 5


def test_a_guide_needs_costs() -> None:
    """A field without costs says that a guide would be of no use."""
    with pytest.raises(ValueError, match="no costs"):
        WayMap(np.ones((3, 3, 3), bool)).guide([(0, 0, 0)], np.ones((3, 3, 3)))


@given(st.lists(st.tuples(fields, st.integers(0, 10_000)), min_size=2, max_size=4))
@settings(max_examples=25, deadline=None)
def test_reused_memory_holds_nothing_of_the_field_before(asked: list[tuple[np.ndarray, int]]) -> None:
    """A field in memory that others have used gives the ways, prices and guides of a fresh one."""

    def answers() -> list[object]:
        found: list[object] = []
        for free, seed in asked:
            ends = two_free(free, seed)
            if ends is None:
                continue
            costs = 1 + np.random.default_rng(seed).random(free.shape)
            field = WayMap(free, 1.0, costs if seed % 2 else None)
            way = field.way(*ends)
            found.append(None if way is None else way.voxels.tolist())
            found.append(field.distances([ends[0]]).tolist())
            if seed % 2:
                guide = field.guide([ends[1]], costs)
                way = field.way_between([ends[0]], [ends[1]], guide=guide)
                found.append(None if way is None else way.cost_mm)
        return found

    fresh = answers()
    with reused_memory():
        assert answers() == fresh
        assert answers() == fresh
