"""Grids of places and what places have to do with one another, beside loops over single ones."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from fitplan.packing.engine.problem import Item, PackingProblem, Shape, Space, Variant
from fitplan.packing.vehicle.pair_costs import meet, nearest, shares
from fitplan.packing.vehicle.place_grid import (
    FEW_PIECES,
    MOST_LEVELS,
    MOST_PLACES,
    STEP,
    _covered,
    _ticks,
    places_on_grid,
)

HULL = (0, 0, 0, 700, 300, 200)


def problem_of(obstacles: tuple[tuple[int, ...], ...]) -> tuple[Variant, PackingProblem]:
    """Return a block of 10 × 8 × 6 mm that may be anywhere in a hull with obstacles."""
    shape = Shape(((0, 0, 0, 100, 80, 60),))
    variant = Variant("+x+y+z", shape, ((0, 0, 0, 600, 220, 140),))
    space = Space(HULL, obstacles)  # type: ignore[arg-type]
    return variant, PackingProblem((space,), (Item("block", (variant,)),))


def free(at: tuple[int, ...], obstacles: tuple[tuple[int, ...], ...]) -> bool:
    """Tell whether the block has room there, in the hull and beside all obstacles."""
    x, y, z = at
    box = (x, y, z, x + 100, y + 80, z + 60)
    inside = x >= 0 and y >= 0 and z >= 0 and x <= 600 and y <= 220 and z <= 140
    return inside and not any(
        all(box[i] < o[i + 3] and box[i + 3] > o[i] for i in range(3)) for o in obstacles
    )


FEW = ((200, 0, 0, 260, 300, 90), (400, 100, 0, 500, 200, 40))
STUDS = tuple(
    (x, y, 0, x + 48, y + 48, 17) for x, y in itertools.product(range(16, 700, 80), range(16, 300, 80))
)


@pytest.mark.parametrize("obstacles", [(), FEW, STUDS, FEW + STUDS])
def test_places_are_free_and_stand_on_something(obstacles: tuple[tuple[int, ...], ...]) -> None:
    """What nothing holds has room where it is, and none a tenth lower; what is held may hang as well."""
    variant, problem = problem_of(obstacles)
    loose = places_on_grid(variant, problem, False, None)
    assert len(np.unique(loose, axis=0)) == len(loose) > 20
    for x, y, z in loose.tolist():
        assert free((x, y, z), obstacles)
        assert not free((x, y, z - 1), obstacles)
    if len(obstacles) <= len(FEW):
        held = places_on_grid(variant, problem, True, None)
        assert all(free(tuple(at), obstacles) for at in held.tolist())
        assert {z for _, _, z in held.tolist()} >= {0, 70, 140}
        assert set(map(tuple, loose.tolist())) - set(map(tuple, held.tolist())) == set()


@pytest.mark.parametrize("obstacles", [(), FEW, STUDS])
def test_the_grid_leaves_no_room_out(obstacles: tuple[tuple[int, ...], ...]) -> None:
    """Beside every place on the floor or on an obstacle the grid has one within a coarse step."""
    variant, problem = problem_of(obstacles)
    loose = places_on_grid(variant, problem, False, None)
    assert len(loose) <= 3 * MOST_PLACES * MOST_LEVELS
    rng = np.random.default_rng(4)
    for x, y in rng.integers([0, 0], [601, 221], (60, 2)).tolist():
        for z in (0, 17, 40, 90):
            if free((x, y, z), obstacles) and not free((x, y, z - 1), obstacles):
                there = loose[loose[:, 2] == z]
                assert len(there), (x, y, z)
                assert np.abs(there[:, :2] - (x, y)).max(axis=1).min() <= 2 * STEP, (x, y, z)


def test_where_there_is_no_room_there_are_no_places() -> None:
    """A block that fills the hull, and one that is wider."""
    variant, problem = problem_of(((0, 0, 0, 700, 300, 200),))
    assert places_on_grid(variant, problem, False, None).shape == (0, 3)
    assert places_on_grid(variant, problem, True, None).shape == (0, 3)


@pytest.mark.parametrize(
    ("low", "high", "step"), [(0, 0, 32), (5, 6, 3), (0, 96, 32), (0, 97, 32), (7, 100, 9)]
)
def test_ticks_are_the_ends_and_what_lies_between(low: int, high: int, step: int) -> None:
    expected = sorted({low, high, *(at for at in range(low, high) if (at - low) % step == 0)})
    assert _ticks(low, high, step).tolist() == expected


def test_cells_that_rectangles_cover() -> None:
    """As each rectangle paints its own cells; empty ones paint none."""
    rng = np.random.default_rng(2)
    for _ in range(40):
        first = rng.integers(0, 9, (6, 2))
        after = first + rng.integers(-1, 4, (6, 2))
        after = np.minimum(after, (9, 7))
        first = np.minimum(first, (9, 7))
        painted = np.zeros((9, 7), dtype=bool)
        for (x0, y0), (x1, y1) in zip(first.tolist(), after.tolist(), strict=True):
            if x0 < x1 and y0 < y1:
                painted[x0:x1, y0:y1] = True
        spans = [first[:, 0], first[:, 1], after[:, 0], after[:, 1]]
        assert (_covered(spans, (9, 7)) == painted).all()


def test_what_many_boxes_share_with_others() -> None:
    """Shares of volume, meetings and least ways along the axes, each box and point alone."""
    rng = np.random.default_rng(8)
    low = rng.integers(0, 12, (9, 3, 3))
    boxes = np.concatenate([low, low + rng.integers(0, 7, (9, 3, 3))], axis=2)
    low = rng.integers(0, 12, (4, 3))
    others = np.concatenate([low, low + rng.integers(1, 7, (4, 3))], axis=1)

    def cells(box: np.ndarray) -> set[tuple[int, ...]]:
        spans = [range(box[i], box[i + 3]) for i in range(3)]
        return set(itertools.product(*spans))

    for number, row in enumerate(boxes):
        touched = [cells(box) & cells(other) for box in row for other in others]
        assert meet(boxes, others)[number] == any(touched)
        share = 0.0
        for box in row:
            whole = len(cells(box))
            share += min(sum(len(cells(box) & cells(o)) for o in others) / whole, 1.0) if whole else 0.0
        assert shares(boxes, others)[number] == pytest.approx(share)
    assert meet(boxes[:, :0], others).tolist() == [False] * 9
    assert meet(boxes, others[:0]).tolist() == [False] * 9
    pins, points = rng.integers(0, 90, (5, 3, 3)), rng.integers(0, 90, (4, 3))
    for number, row in enumerate(pins):
        least = min(int(np.abs(pin - point).sum()) for pin in row for point in points)
        assert nearest(pins, points)[number] == least
    assert len(STUDS) > FEW_PIECES
