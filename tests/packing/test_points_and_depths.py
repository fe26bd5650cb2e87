"""Whole numbers of the engine, box by box: offsets that meet, domains in hulls, lowest points."""

from __future__ import annotations

import itertools
import random

import pytest

from fitplan.packing.engine.candidate_points import (
    lowest_free_point,
    meeting_offsets,
    within_hull,
)
from fitplan.packing.engine.problem import ItemClearance, Shape, Space, Variant

Row = tuple[int, int, int, int, int, int]


def boxed(rng: random.Random, low: int, high: int, most: int) -> Row:
    x, y, z = (rng.randint(low, high) for _ in range(3))
    return (x, y, z, x + rng.randint(1, most), y + rng.randint(1, most), z + rng.randint(1, most))


def meets(one: Row, other: Row) -> bool:
    return all(one[k] < other[k + 3] and other[k] < one[k + 3] for k in range(3))


def at(box: Row, offset: tuple[int, ...]) -> Row:
    x, y, z = offset
    return (box[0] + x, box[1] + y, box[2] + z, box[3] + x, box[4] + y, box[5] + z)


@pytest.mark.parametrize("seed", range(4))
def test_offsets_at_which_boxes_meet(seed: int) -> None:
    """Just those of which one lies open within a box of offsets."""
    rng = random.Random(seed)
    obstacles = [boxed(rng, -4, 4, 5) for _ in range(3)]
    own = [boxed(rng, -2, 2, 3) for _ in range(2)]
    rows = meeting_offsets(obstacles, own)
    assert len(rows) == 6
    for offset in itertools.product(range(-12, 13, 2), repeat=3):
        expected = any(meets(at(one, offset), other) for one in own for other in obstacles)
        assert bool(((rows[:, :3] < offset) & (rows[:, 3:] > offset)).all(axis=1).any()) == expected
    assert meeting_offsets([], own).shape == meeting_offsets(obstacles, []).shape == (0, 6)


@pytest.mark.parametrize("seed", range(4))
def test_a_domain_in_a_hull(seed: int) -> None:
    """Every offset of it that keeps the bounds in the hull, each box once."""
    rng = random.Random(seed)
    hull, bounds = (0, 0, 0, 9, 8, 7), boxed(rng, -2, 1, 5)
    domain = tuple(
        (x, y, z, x + rng.randint(0, 6), y + rng.randint(0, 6), z + rng.randint(0, 6))
        for x, y, z in ((rng.randint(-4, 7), rng.randint(-4, 7), rng.randint(-4, 7)) for _ in range(3))
    )
    found = within_hull((*domain, domain[0]), bounds, hull)
    assert len(set(found)) == len(found)
    for offset in itertools.product(range(-5, 14), repeat=3):
        inside = any(all(box[k] <= offset[k] <= box[k + 3] for k in range(3)) for box in domain)
        moved = at(bounds, offset)
        fits = all(hull[k] <= moved[k] and moved[k + 3] <= hull[k + 3] for k in range(3))
        told = any(all(box[k] <= offset[k] <= box[k + 3] for k in range(3)) for box in found)
        assert told == (inside and fits)


@pytest.mark.parametrize("seed", range(10))
def test_the_first_of_the_lowest_points_is_free(seed: int) -> None:
    """There is one where any whole offset is free; obstacles, walls that rooms keep off, the hull."""
    rng = random.Random(seed)
    hull = (0, 0, 0, 7, 6, 5)
    for _ in range(15):
        obstacles = tuple(boxed(rng, 0, 4, 5) for _ in range(rng.randint(0, 4)))
        walls = tuple(boxed(rng, 0, 4, 4) for _ in range(2)) if rng.random() < 0.5 else None
        space = Space(hull, obstacles, walls=walls)
        rooms = tuple(
            ItemClearance(boxed(rng, -2, 3, 3), rng.random() < 0.6) for _ in range(rng.randint(0, 2))
        )
        shape = Shape(tuple(boxed(rng, 0, 1, 4) for _ in range(rng.randint(1, 2))), rooms)
        domain = tuple(
            (x, y, z, x + rng.randint(0, 5), y + rng.randint(0, 5), z + rng.randint(0, 4))
            for x, y, z in ((rng.randint(-2, 3), rng.randint(-2, 3), rng.randint(-2, 3)) for _ in range(2))
        )
        variant = Variant("one", shape, domain)
        off = obstacles if walls is None else walls

        def free(offset: tuple[int, ...], shape: Shape = shape, rooms: tuple[ItemClearance, ...] = rooms,
                 obstacles: tuple[Row, ...] = obstacles, off: tuple[Row, ...] = off,
                 domain: tuple[Row, ...] = domain) -> bool:  # fmt: skip
            if not any(all(box[k] <= offset[k] <= box[k + 3] for k in range(3)) for box in domain):
                return False
            solid = [at(box, offset) for box in shape.solid]
            if any(min(box[:3]) < 0 or any(box[k + 3] > hull[k + 3] for k in range(3)) for box in solid):
                return False
            kept = [at(one.box, offset) for one in rooms if one.clear_of_obstacles]
            return not any(meets(a, b) for a in solid for b in obstacles) and not any(
                meets(a, b) for a in kept for b in off
            )

        expected = any(free(offset) for offset in itertools.product(range(-3, 9), repeat=3))
        found = lowest_free_point(variant, space)
        assert (found is not None) == expected
        assert found is None or free(found)


def test_too_many_points_are_not_looked_at() -> None:
    """A shape that meets one obstacle everywhere: that takes a few steps to see, and no fewer are enough."""
    variant = Variant("one", Shape(((0, 0, 0, 4, 4, 4),)), ((0, 0, 0, 4, 4, 4),))
    space = Space((0, 0, 0, 8, 8, 8), ((3, 3, 3, 5, 5, 5),))
    assert lowest_free_point(variant, space, most_steps=20) is None
    with pytest.raises(OverflowError):
        lowest_free_point(variant, space, most_steps=2)
