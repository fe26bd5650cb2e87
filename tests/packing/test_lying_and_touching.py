"""What places cost by how a part would lie there: beside each box looked at by itself."""

from __future__ import annotations

import random

import numpy as np

from fitplan.files.find import find_train
from fitplan.files.read import read_train
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.part_places import AT_WALL, _at_something, _on_something, _rise

Box = tuple[int, int, int, int, int, int]


def _boxes(dice: random.Random, count: int) -> list[Box]:
    found = []
    for _ in range(count):
        low = [10 * dice.randrange(20) for _ in range(3)]
        found.append((*low, *(value + 10 * dice.randint(1, 8) for value in low)))
    return found  # type: ignore[return-value]


def _stands_over(part: Box, walls: list[Box]) -> bool:
    """Look at every millimetre under a part: is there something to both sides of its middle, each way?"""
    under = [
        (x, y)
        for x in range(part[0], part[3], 5)
        for y in range(part[1], part[4], 5)
        if any(w[5] == part[2] and w[0] <= x < w[3] and w[1] <= y < w[4] for w in walls)
    ]
    middle = ((part[0] + part[3]) / 2, (part[1] + part[4]) / 2)
    return bool(under) and all(
        min(at[i] for at in under) <= middle[i] <= max(at[i] for at in under) + 5 for i in (0, 1)
    )


def test_what_stands_on_something_has_it_on_both_sides_of_its_middle() -> None:
    """In 400 random rooms, as a look at every half millimetre says."""
    dice = random.Random(2)
    standing = 0
    for _ in range(400):
        walls, part = _boxes(dice, 8), _boxes(dice, 1)[0]
        walls = [(*w[:5], part[2]) if dice.random() < 0.5 and w[2] < part[2] else w for w in walls]
        told = bool(_on_something(np.array([part]), np.array(walls))[0])
        assert told == _stands_over(part, walls)
        standing += told
    assert 20 < standing < 380


def test_what_touches_something_lies_within_a_millimetre_of_it() -> None:
    """By the gap along each axis, before a face of it and not beside an edge, in 400 random rooms."""
    dice = random.Random(5)
    touching = 0
    for _ in range(400):
        walls, part = _boxes(dice, 2), _boxes(dice, 1)[0]
        faced = [w for w in walls if sum(w[i] < part[i + 3] and part[i] < w[i + 3] for i in range(3)) >= 2]
        gaps = [max(max(w[i] - part[i + 3], part[i] - w[i + 3], 0) for i in range(3)) for w in faced]
        told = bool(_at_something(np.array([part]), np.array(walls))[0])
        assert told == (min(gaps, default=AT_WALL + 1) <= AT_WALL)
        touching += told
    assert 20 < touching < 380


def test_without_walls_nothing_is_touched() -> None:
    """A room with no brick at all carries nothing and has nothing to stick to."""
    part, none = np.array([(0, 0, 0, 10, 10, 10)]), np.zeros((0, 6), dtype=np.int64)
    assert not _on_something(part, none)[0]
    assert not _at_something(part, none)[0]


def test_the_air_beside_an_open_deck_is_nothing_to_stick_to() -> None:
    """A strip over the side of an open wagon, 3 mm clear of it: there is no place for it, and no brick."""
    wagon = read_train(find_train("clay-run")).vehicle("wagon").vehicle
    space = Packer({"wagon": wagon}).cavity("wagon", frozenset()).sure
    sides = max(box[5] for box in space.off_limits if box[1] < 10)
    strip = np.array([(600, 0, sides + 30, 622, 80, sides + 530)])
    assert _at_something(strip, np.array(space.obstacles))[0]
    assert not _at_something(strip, np.array(space.off_limits))[0]


def test_flat_on_the_floor_costs_nothing() -> None:
    """A board of 5 mm upright on its edge of 18 mm has its middle 6.5 mm higher than flat."""
    flat, upright, raised = (0, 0, 10, 40, 18, 15), (0, 0, 10, 40, 5, 28), (0, 0, 14, 40, 18, 19)
    assert _rise(np.array([flat, upright, raised], dtype=float)).tolist() == [0.0, 6.5, 4.0]
    assert _rise(np.zeros((0, 6))).shape == (0,)
