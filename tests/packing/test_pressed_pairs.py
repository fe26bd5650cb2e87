"""The pair of plates that presses a part which would tip is the cheapest of all that could be built."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

import pytest

from fitplan.model.vehicle import Vehicle
from fitplan.packing.vehicle.addition_shapes import UnsupportedPart
from fitplan.packing.vehicle.pressed import cheapest_pair, may_press, presses
from fitplan.packing.vehicle.straps import Strap

from .listed_means import Box, Cells, Rect, Room, cheapest, meets
from .listed_pairs import Over, balances, fewest_of_a_pair
from .test_every_means import FLOOR, drawn, on_a_ledge


def hanging(seed: int) -> tuple[Vehicle, Room]:
    """A heavy block that hangs, something wide under its middle and one end of it, no plate beneath."""
    dice = random.Random(seed)
    if seed % 3 == 0:
        vehicle, room = on_a_ledge(seed)
    else:
        vehicle, room = drawn(seed, roofed=seed % 2 == 0, heavy=True)
    grams = dice.choice((21.0, 30.0, 45.0, 70.0, 110.0, 160.0))
    x0, y0, z0, x1, y1, _ = room.block
    at = (x0 + x1) // 2 - dice.randrange(0, 40)
    low: Box = (at, y0 - dice.randrange(0, 60), FLOOR, x1 + dice.randrange(0, 60), y1 + 20, z0 - 5)
    around = [one for one in room.solid[6:] if not meets(one, low)]
    push = grams / 1000 * 9.81 + dice.choice((0.0, 0.5))
    solid = (*room.solid[:6], *around, low)
    return vehicle, replace(room, solid=solid, grams=grams, push_n=push)


def compared(seed: int) -> tuple[int | None, int | None] | None:
    """Return how few pieces the search and the list make a pair of; None where something else carries it."""
    vehicle, room = hanging(seed)
    if cheapest(room) is not None:
        return None
    part = UnsupportedPart((room.block,), (), room.solid[6:], room.grams, room.push_n)
    found = cheapest_pair(vehicle, frozenset(), part, room.resting)
    # A box in its middle changes nothing of what it is, nor of where its middle lies.
    x0, y0, z0, x1, y1, z1 = room.block
    core = (x0 + 5, y0 + 5, z0 + 3, x1 - 5, y1 - 5, z1 - 3)
    again = cheapest_pair(vehicle, frozenset(), replace(part, boxes=(core, room.block)), room.resting)
    assert (again.count if again else None) == (found.count if found else None)
    return (found.count if found is not None else None), fewest_of_a_pair(room)


@pytest.mark.parametrize("seed", range(3))
def test_no_pair_is_cheaper(seed: int) -> None:
    both = compared(seed)
    assert both is None or both[0] == both[1]


def test_what_presses_is_what_a_linear_program_says() -> None:
    """Random rests, straps on two feet or one, brackets and hangers: forces at corners balance, or do not."""
    dice = random.Random(7)
    said: Counter[tuple[bool, bool, bool]] = Counter()
    for _ in range(200):
        x, y = dice.randrange(200, 400), dice.randrange(200, 400)
        push = dice.uniform(0.05, 3.0)
        side = dice.choice((1, -1))
        rest = _rect(dice, x - side * dice.choice((150, 60, 0)), y, 120)
        axis = dice.randrange(2)
        wide = dice.randint(1, 2)
        touch = _rect(dice, x - side * 120, y, 60 + 20 * wide)
        low, high = touch[axis] // 80 - dice.randint(1, 2), -(-touch[axis + 2] // 80) + dice.randint(0, 1)
        across = touch[1 - axis] // 80
        feet = [_cells(axis, at, across, wide) for at in dice.choice(([low, high], [low], [high]))]
        size = dice.choice(((1, 2), (2, 1), (2, 2)))
        foot = (rest[0] // 80 - 1, y // 80, *size) if dice.random() < 0.5 else None
        hung = foot is not None and dice.random() < 0.5
        room = Room(frozenset(), (), (x - 50, y - 50, 0, x + 50, y + 50, 100), 0, push_n=push)
        over = Over(1, (), touch, tuple(feet), axis)
        expected = balances(room, (rest,), over, foot, hung)
        mine = Strap(0, 1, 1, (), axis, 9.0, tuple(_corners(one) for one in feet), (touch,))
        lever = (_corners(foot), hung) if foot is not None else None
        assert presses(push, (x, y), (rest,), mine, lever) == expected
        stands = rest[0] <= x <= rest[2] and rest[1] <= y <= rest[3]
        assert stands or may_press(push, (x, y), (rest,), mine) or not expected
        said[expected, len(feet) == 2, foot is not None] += 1
    assert len(said) == 8


def _rect(dice: random.Random, x: int, y: int, long: int) -> Rect:
    left, low = x - dice.randrange(0, 80), y - dice.randrange(0, 120)
    return (left, low, left + dice.randrange(30, long), low + dice.randrange(30, 160))


def _cells(axis: int, at: int, across: int, wide: int) -> Cells:
    return (at, across, 1, wide) if axis == 0 else (across, at, wide, 1)


def _corners(cells: Cells) -> Rect:
    i, j, m, n = cells
    return (i, j, i + m, j + n)
