"""Ways out through small rooms against single steps, and the outline of an opening against every spot."""

from __future__ import annotations

import itertools
from collections import deque

import numpy as np
import pytest

from fitplan.model.solids import DIRECTIONS, Direction, axis_of, is_forward
from fitplan.packing.access.long_ways import StraightMoves, long_way, points_of
from fitplan.packing.access.slide import overlaps_at_rest, passes

HALF = 5
ROOM = np.array([-HALF] * 3 + [HALF] * 3)


def walls(seed: int, count: int) -> np.ndarray:
    """Return forbidden boxes, open, in a room of offsets from -5 to 5: some sides of a cage, and others.

    None is round offset 0.
    """
    rng = np.random.default_rng(seed)
    rows = []
    for axis, (low, high) in itertools.product(range(3), ((3, 4), (-4, -3))):
        if rng.random() < 0.85:
            side = [-4, -4, -4, 4, 4, 4]
            side[axis], side[axis + 3] = low, high
            rows.append(side)
    for _ in range(count):
        low = rng.integers(-HALF - 2, HALF, 3)
        high = low + rng.integers(1, 9, 3)
        if not ((low < 0) & (high > 0)).all():
            rows.append([*low.tolist(), *high.tolist()])
    return np.array(rows, dtype=np.int64)


def step_is_free(rows: np.ndarray, one: tuple[int, ...], other: tuple[int, ...]) -> bool:
    """Tell whether no open box meets a straight move: edges are whole numbers, so steps' middles tell."""
    long = max(abs(a - b) for a, b in zip(one, other, strict=True))
    shares = (np.arange(long) + 0.5) / max(long, 1)
    spots = np.array(one) + shares[:, None] * (np.array(other) - np.array(one))
    return not ((rows[:, None, :3] < spots) & (rows[:, None, 3:] > spots)).all(axis=2).any()


def gets_out(rows: np.ndarray, out: Direction) -> bool:
    """Walk from offset 0 by steps of one, anywhere in the room, to its far side."""
    axis, far = axis_of(out), HALF if is_forward(out) else -HALF
    seen, waiting = {(0, 0, 0)}, deque([(0, 0, 0)])
    while waiting:
        here = waiting.popleft()
        if here[axis] == far:
            return True
        for i, sign in itertools.product(range(3), (1, -1)):
            there = tuple(c + sign * (k == i) for k, c in enumerate(here))
            if abs(there[i]) <= HALF and there not in seen and step_is_free(rows, here, there):
                seen.add(there)
                waiting.append(there)  # type: ignore[arg-type]
    return False


@pytest.mark.parametrize("out", DIRECTIONS)
@pytest.mark.parametrize("count", [2, 6, 20])
def test_there_is_a_way_where_steps_lead_out(out: Direction, count: int) -> None:
    """It is free, its last move leads out, and it ends as far beyond the far side as is asked."""
    axis, sign = axis_of(out), 1 if is_forward(out) else -1
    for seed in range(2):
        rows = walls(100 * count + seed, count)
        inside = rows[((rows[:, :3] < HALF) & (rows[:, 3:] > -HALF)).all(axis=1)]
        moves = long_way(inside, ROOM, out, HALF + 3)
        assert (moves is not None) == gets_out(inside, out)
        if moves is None:
            continue
        points = points_of(moves)
        straight = StraightMoves(inside)
        for one, other in itertools.pairwise(points[:-1]):
            assert straight.free(one, other)
            assert step_is_free(inside, one, other)
            assert sum(a != b for a, b in zip(one, other, strict=True)) == 1
        assert all(max(map(abs, point)) <= HALF for point in points[:-1])
        assert moves[-1][0] == out
        assert all(one[0] != other[0] for one, other in itertools.pairwise(moves))
        last = points[-2][axis] * sign
        assert points[-1][axis] * sign == max(HALF + 3, last)
        cut = [list(points[-2]), list(points[-2])]
        cut[1][axis] = sign * HALF
        assert step_is_free(inside, tuple(cut[0]), tuple(cut[1]))


@pytest.mark.parametrize("out", DIRECTIONS)
def test_an_opening_passes_what_some_spot_of_it_passes(out: Direction) -> None:
    """A spot between the outermost edges of what lies ahead that nothing ahead covers (every half step)."""
    axis, forwards = axis_of(out), is_forward(out)
    across = [i for i in range(3) if i != axis]
    yes = no = 0
    for seed in range(30):
        rng = np.random.default_rng(seed)
        low = rng.integers(-8, 4, (int(rng.integers(1, 9)), 3))
        rows = np.concatenate([low, low + rng.integers(1, 10, low.shape)], axis=1)
        at = int(rng.integers(-3, 4))
        ahead = rows[rows[:, axis + 3] > at] if forwards else rows[rows[:, axis] < at]
        found = passes(rows, out, at)
        if not len(ahead):
            assert found
            continue
        edges = [(2 * ahead[:, i].min(), 2 * ahead[:, i + 3].max()) for i in across]
        spots = itertools.product(*(range(first + 1, last) for first, last in edges))
        expected = any(
            not ((2 * ahead[:, across] < spot) & (2 * ahead[:, [i + 3 for i in across]] > spot))
            .all(axis=1)
            .any()
            for spot in spots
        )
        assert found == expected, seed
        yes, no = yes + expected, no + (not expected)
    assert min(yes, no) > 0


def test_a_part_that_lies_in_something_overlaps_at_rest() -> None:
    """Only a box that holds offset 0 in its inside: what touches does not."""
    for box in itertools.product((-2, -1, 0), (-2, 0), (-1, 0), (0, 1), (0, 2), (1, 2)):
        rows = np.array([box, [5, 5, 5, 6, 6, 6]])
        assert overlaps_at_rest(rows) == all(box[i] < 0 < box[i + 3] for i in range(3))
