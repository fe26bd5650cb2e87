"""The least that one item lacks, asked alone and as the first of all that its variants lack."""

from __future__ import annotations

import random

import pytest

from fitplan.packing.engine.candidate_points import lowest_free_point
from fitplan.packing.engine.infeasible_subset import shortened, shortfalls
from fitplan.packing.engine.problem import Item, PackingProblem, Shape, Space, Variant, anywhere


@pytest.mark.parametrize("seed", range(25))
def test_the_least_of_all_variants(seed: int) -> None:
    """The same figure; so much shorter there is a place, by another account, and one less there is none."""
    rng = random.Random(seed)
    side = rng.randint(12, 16)
    hull = (0, 0, 0, side, side, rng.randint(6, 9))
    posts = []
    for _ in range(rng.randint(4, 7)):
        x, y = rng.randint(0, side - 2), rng.randint(0, side - 2)
        posts.append((x, y, 0, x + 2, y + 2, rng.randint(4, 9)))
    space = Space(hull, tuple(posts))
    shapes = [
        Shape(((0, 0, 0, *size), (0, 0, size[2], 2, 2, size[2] + 1)))
        for size in [(rng.randint(7, 17), rng.randint(6, 14), rng.randint(3, 7)) for _ in range(4)]
    ]
    variants = tuple(
        Variant(str(number), shape, anywhere(shape, hull) or ((0, 0, 0, 0, 0, 0),))
        for number, shape in enumerate(shapes)
    )
    variants = tuple(one for one in variants if lowest_free_point(one, space) is None)
    item = Item("thing", variants)
    problem = PackingProblem((space,), (item,))
    every = shortfalls(problem, item)
    assert shortfalls(problem, item, only_least=True) == every[:1]
    for miss in every:
        axis = "xyz".index(miss.axis)
        by = [
            shortened(variants[miss.variant], space, axis, miss.low_end, length)
            for length in (miss.missing - 1, miss.missing)
        ]
        assert lowest_free_point(by[0], space) is None
        assert lowest_free_point(by[1], space) is not None
