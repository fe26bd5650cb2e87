"""Taut ways against closed forms, an exact planar solver and the room that they promise."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from fitplan.lattice.clear_radius import room_for
from fitplan.routing.negotiation.pulled import without_repeats
from fitplan.routing.ways.shortest_ways import WayMap
from fitplan.routing.ways.taut import Tautener, chain_length, turning_angles
from tests.routing.shortest_taut import shortest_taut


def boxes_entered(points: np.ndarray, free: np.ndarray, half: float) -> int:
    """Count sampled points of a chain that lie inside a solid voxel's box; written without the router."""
    between = [a + (b - a) * np.linspace(0, 1, 200)[:, None] for a, b in pairwise(points)]
    samples = np.concatenate([points, *between])
    solid = np.argwhere(~free)
    if not len(solid):
        return 0
    return int((np.abs(samples[:, None, :] - solid[None, :, :]).max(axis=2) < half - 1e-5).any(axis=1).sum())


def planar_shortest(free: np.ndarray, start: np.ndarray, goal: np.ndarray) -> float:
    """Return the exact shortest way in a plane: Dijkstra over all corners that see each other."""
    solid = [tuple(map(int, cell)) for cell in np.argwhere(~free)]
    corners = {(x + dx / 2, y + dy / 2) for x, y in solid for dx in (-1, 1) for dy in (-1, 1)}
    inside = [
        p for p in sorted(corners) if -0.5 < p[0] < free.shape[0] - 0.5 and -0.5 < p[1] < free.shape[1] - 0.5
    ]
    nodes = np.array([start, goal, *inside], dtype=float)
    closed = np.pad(~free, 1, constant_values=True)
    blocks = np.argwhere(closed) - 1.0
    # a shared side or corner of two solid squares is closed too
    seams = [
        (a, b)
        for a in map(tuple, np.argwhere(closed) - 1)
        for b in ((a[0] + 1, a[1]), (a[0], a[1] + 1), (a[0] + 1, a[1] + 1), (a[0] + 1, a[1] - 1))
        if 0 <= b[0] + 1 < closed.shape[0] and 0 <= b[1] + 1 < closed.shape[1] and closed[b[0] + 1, b[1] + 1]
    ]
    middles = np.array([((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in seams])
    weights = np.zeros((len(nodes), len(nodes)))
    for i in range(len(nodes)):
        for j in range(i + 1, len(nodes)):
            step = nodes[j] - nodes[i]
            length = float(np.hypot(*step))
            if (
                length
                and _clear(nodes[i], step, blocks, 0.5 - 1e-9)
                and _clear(nodes[i], step, middles, 1e-7)
            ):
                weights[i, j] = length
    return float(dijkstra(csr_array(weights), directed=False, indices=0)[1])


def _clear(start: np.ndarray, step: np.ndarray, middles: np.ndarray, half: float) -> bool:
    with np.errstate(divide="ignore", invalid="ignore"):
        one, two = (middles - half - start) / step, (middles + half - start) / step
    low, high = np.fmin(one, two), np.fmax(one, two)
    for axis in range(2):
        if step[axis] == 0:
            within = np.abs(middles[:, axis] - start[axis]) < half
            low[:, axis], high[:, axis] = np.where(within, -np.inf, 2.0), np.where(within, np.inf, -1.0)
    return not bool((np.maximum(low.max(axis=1), 0) < np.minimum(high.min(axis=1), 1)).any())


def test_straight_line() -> None:
    """In an empty box the taut way is the straight line, whatever its direction."""
    free = np.ones((30, 20, 10), bool)
    field, pull = WayMap(free), Tautener(free)
    for goal in ((29, 0, 0), (29, 19, 9), (17, 11, 3), (5, 19, 8)):
        way = shortest_taut(pull, field, (0, 0, 0), goal)
        assert way is not None
        assert way.length_mm == pytest.approx(0.8 * math.hypot(*goal), rel=1e-12)
        assert len(way.points) == 2


def test_around_one_edge_has_the_unfolded_length() -> None:
    """Around one edge of a large box the shortest way has the length found by unfolding the faces."""
    free = np.ones((60, 60, 40), bool)
    free[20:, 20:, :] = False
    way = shortest_taut(Tautener(free, 1.0, "walls"), WayMap(free, 1.0), (19, 50, 2), (50, 19, 33))
    assert way is not None
    # both ends lie half a voxel off the faces; the edge is at (19.5, 19.5): unfold about it
    flat = 2 * math.hypot(50 - 19.5, 0.5)
    exact = math.hypot(flat, 31)
    assert exact <= way.length_mm <= exact * (1 + 1e-6)


def test_around_two_edges_of_a_wall() -> None:
    """Over a wall two voxels thick: straight to one edge, over the top, straight on (closed form)."""
    free = np.ones((41, 31, 3), bool)
    free[20:22, :20] = False
    way = shortest_taut(Tautener(free, 1.0, "walls"), WayMap(free, 1.0), (5, 3, 1), (35, 8, 1))
    assert way is not None
    exact = math.hypot(14.5, 16.5) + 2 + math.hypot(13.5, 11.5)
    assert exact <= way.length_mm <= exact * (1 + 1e-6)


@pytest.mark.parametrize("scale", [1, 2, 3])
def test_spider_and_fly_take_forty_feet(scale: int) -> None:
    """Dudeney 1903: in a room of 30 × 12 × 12 ft the way over the inside walls is 40 ft, not the plain 42."""
    x, y, z = 30 * scale, 12 * scale, 12 * scale
    free = np.ones((x + 2, y + 2, z + 2), bool)
    free[1:-1, 1:-1, 1:-1] = False  # the way keeps to a thin layer at the walls
    off = 0.5 - 3e-6
    spider, fly = (off, 0.5 + y / 2, 0.5 + z - scale), (x + 1 - off, 0.5 + y / 2, 0.5 + scale)
    start, goal = (0, y // 2, z - scale), (x + 1, y // 2, scale)
    pull, field = Tautener(free, 1.0, "walls"), WayMap(free, 1.0)
    way = shortest_taut(pull, field, start, goal, start_point=spider, goal_point=fly)
    assert way is not None
    assert 40 * scale <= way.length_mm <= 40.001 * scale


@pytest.mark.parametrize("seed", range(8))
def test_planar_fields_equal_the_visibility_graph(seed: int) -> None:
    """In a field one voxel high, never below the exact shortest way and within 1 % of it."""
    rng = np.random.default_rng(seed)
    free = rng.random((14, 14)) > 0.22
    rooms = WayMap(free[:, :, None], 1.0).rooms()[:, :, 0]
    cells = np.argwhere(rooms == np.bincount(rooms[rooms > 0]).argmax())
    start, goal = cells[0], cells[-1]
    exact = planar_shortest(free, start, goal)
    thick = free[:, :, None]
    way = shortest_taut(
        Tautener(thick, 1.0, "walls"),
        WayMap(thick, 1.0),
        (*start.tolist(), 0),
        (*goal.tolist(), 0),
        detours=4,
    )
    assert way is not None
    assert exact - 1e-6 <= way.length_mm <= exact * 1.01


fields = st.builds(
    lambda seed, shape, share: np.random.default_rng(seed).random(shape) > share,
    st.integers(0, 10_000),
    st.tuples(st.integers(2, 10), st.integers(2, 10), st.integers(1, 8)),
    st.floats(0.0, 0.4),
)


@given(fields, st.sampled_from(["walls", "middles"]))
@settings(max_examples=80, deadline=None)
def test_taut_is_free_and_no_longer_than_the_lattice_way(free: np.ndarray, clearance: str) -> None:
    """A taut way has the same ends, enters no box, is at most the lattice way and at least the beeline."""
    cells = np.argwhere(free)
    if not len(cells):
        return
    field, pull = WayMap(free, 1.0), Tautener(free, 1.0, clearance)  # type: ignore[arg-type]
    lattice = field.way(cells[0].tolist(), cells[-1].tolist())
    if lattice is None:
        return
    way = pull.pull(lattice.voxels)
    assert way.points[0].tolist() == cells[0].tolist()
    assert way.points[-1].tolist() == cells[-1].tolist()
    assert way.length_mm <= lattice.length_mm + 1e-9
    assert way.length_mm >= np.linalg.norm(cells[-1] - cells[0]) - 1e-9
    assert boxes_entered(way.points, free, 0.5 if clearance == "walls" else 1 - 1e-4) == 0


@given(fields)
@settings(max_examples=30, deadline=None)
def test_the_mirror_has_the_same_lengths(free: np.ndarray) -> None:
    """Mirrored left for right, the shortest taut way has the same length (to 0.0001 mm)."""
    cells = np.argwhere(free)
    if not len(cells):
        return
    start, goal = cells[0], cells[-1]
    way = shortest_taut(Tautener(free), WayMap(free), start.tolist(), goal.tolist())
    image = free[:, ::-1].copy()
    for end in (start, goal):
        end[1] = free.shape[1] - 1 - end[1]
    other = shortest_taut(Tautener(image), WayMap(image), start.tolist(), goal.tolist())
    assert (way is None) == (other is None)
    if way is not None and other is not None:
        assert way.length_mm == pytest.approx(other.length_mm, abs=1e-4)


@pytest.mark.parametrize("seed", range(4))
def test_a_bundle_keeps_its_radius_along_a_taut_way(seed: int) -> None:
    """Pulled in the map of a radius, each point of the way has that radius to all solid boxes."""
    rng = np.random.default_rng(seed)
    free = rng.random((24, 16, 12)) > 0.02
    may = room_for(free, 1.3, 1.0)
    cells = np.argwhere(may)
    way = WayMap(may, 1.0).way(cells[0].tolist(), cells[-1].tolist())
    assert way is not None
    taut = Tautener(may, 1.0).pull(way.voxels)
    samples = np.concatenate(
        [a + (b - a) * np.linspace(0, 1, 100)[:, None] for a, b in pairwise(taut.points)]
    )
    gaps = np.maximum(np.abs(samples[:, None, :] - np.argwhere(~free)[None, :, :]) - 0.5, 0)
    assert np.sqrt((gaps**2).sum(axis=2)).min() >= 1.3 - 1e-3


def test_a_chain_through_a_wall_is_refused() -> None:
    """A chain that is not free cannot be pulled, and sight ends at a wall or between two that touch."""
    free = np.ones((9, 9, 1), bool)
    free[4, :5] = False
    free[5, 5:] = False
    pull = Tautener(free, 1.0, "walls")
    with pytest.raises(ValueError, match="enters a solid voxel"):
        pull.pull(np.array([[0, 0, 0], [8, 0, 0]]))
    assert pull.is_free(np.array([[0.0, 0.0, 0.0], [3.0, 8.0, 0.0]]))
    assert not pull.is_free(np.array([[4.0, 5.0, 0.0], [5.0, 4.0, 0.0]]))


def test_long_ways_are_pulled_in_pieces() -> None:
    """A way of more voxels than the kernel's room is pulled taut all the same."""
    free = np.ones((4001, 2, 2), bool)
    chain = np.array([[x, x % 2, 0] for x in range(4001)], dtype=float)
    way = Tautener(free, 1.0, "walls").pull(chain)
    assert way.length_mm == pytest.approx(4000.0)


def test_turning_angles() -> None:
    """Straight on turns by 0, a corner by 90, the way back by 180 degrees."""
    points = np.array([[0, 0, 0], [1, 0, 0], [2, 0, 0], [2, 3, 0], [2, 1, 0]], dtype=float)
    assert turning_angles(points) == pytest.approx([0, 90, 180])
    assert chain_length(points) == pytest.approx(7)
    assert len(turning_angles(points[:2])) == 0


def test_a_point_that_is_written_twice_bends_no_wire() -> None:
    """Points that rounding makes one are one corner, of the angle between what lies before and behind it."""
    way = np.array([[0.0, 0, 0], [4, 0, 0], [4, 0, 0], [4, 4, 0], [4, 4, 0]])
    kept = without_repeats(way)
    assert kept.tolist() == [[0, 0, 0], [4, 0, 0], [4, 4, 0]]
    assert turning_angles(kept).tolist() == pytest.approx([90.0])
    assert without_repeats(way[3:]).tolist() == [[4, 4, 0], [4, 4, 0]]
