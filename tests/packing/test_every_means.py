"""What carries a block is the cheapest of every addition that could be built, its studs bearing it or not."""

from __future__ import annotations

import itertools
import random
from collections import Counter
from dataclasses import replace

import pytest

from fitplan.model.vehicle import Vehicle
from fitplan.packing.vehicle.addition_shapes import UnsupportedPart
from fitplan.packing.vehicle.additions import cheapest_addition, steadying_addition

from .listed_means import KNOB, PLATE, STUD, Box, Room, cheapest, meets
from .small_trains import hollow

LONG, WIDE, HIGH, FLOOR = 8, 6, 12, 192


def drawn(seed: int, *, roofed: bool, heavy: bool) -> tuple[Vehicle, Room]:
    """Return a room with some things in it and a block that hangs there."""
    dice = random.Random(seed)
    around: list[Box] = []
    for _ in range(dice.randrange(0, 4)):
        i, j = dice.randrange(1, LONG - 1), dice.randrange(1, WIDE - 1)
        high = FLOOR + PLATE * dice.randrange(1, 9)
        around.append((i * STUD, j * STUD, FLOOR, (i + dice.randint(1, 2)) * STUD, (j + 1) * STUD, high))
    low = [dice.randrange(80, 400), dice.randrange(80, 240), FLOOR + dice.randrange(60, 200)]
    size = [dice.randrange(40, 220), dice.randrange(40, 160), dice.randrange(30, 120)]
    block = (*low, min(low[0] + size[0], 560), min(low[1] + size[1], 400), low[2] + size[2])
    for _ in range(dice.randrange(0, 4)):
        x, y = dice.randrange(80, 400), dice.randrange(80, 300)
        far = (x + dice.randrange(60, 200), y + dice.randrange(60, 200), FLOOR + dice.randrange(40, 200))
        around.append((x, y, FLOOR + KNOB, *far))
    grams = dice.choice((4.0, 12.0, 19.0, 40.0, 90.0, 160.0)) if heavy else 0.0
    push = grams / 1000 * 9.81 + dice.choice((0.0, 0.5)) if heavy else 0.0
    ceiling = FLOOR + PLATE * HIGH
    shell = (
        (0, 0, 0, 80, 480, 900), (560, 0, 0, 640, 480, 900),
        (0, 0, 0, 640, 80, 900), (0, 400, 0, 640, 480, 900),
        (0, 0, ceiling, 640, 480, 900), (0, 0, 0, 640, 480, FLOOR),
    )  # fmt: skip
    beside = [one for one in around if not meets(one, block)]
    cells = frozenset(itertools.product(range(1, LONG - 1), range(1, WIDE - 1)))
    room = Room(cells, (*shell, *beside), block, FLOOR, ceiling if roofed else 0, cells, grams, push)
    vehicle = replace(hollow("v", LONG, WIDE, HIGH), floor_finish="studded")
    return replace(vehicle, openings=()) if roofed else vehicle, room


def found_for(vehicle: Vehicle, room: Room) -> tuple[str, bool, int]:
    """Return the kind of what the search adds, whether the block is steady on it, and how many pieces."""
    block = room.block
    part = UnsupportedPart((block,), (), room.solid[6:], room.grams, room.push_n)
    under = (*block[:2], FLOOR + KNOB, *block[3:5], block[2])
    shelf = cheapest_addition(vehicle, frozenset(), part, under)
    return shelf.kind, shelf.steady, shelf.cost


@pytest.mark.parametrize("seed", range(24))
def test_no_addition_is_cheaper(seed: int) -> None:
    """Of a block that weighs nothing: no stack, bracket, bridge or side stud takes fewer pieces."""
    vehicle, room = drawn(seed, roofed=False, heavy=False)
    kind, steady, cost = found_for(vehicle, room)
    expected = cheapest(room)
    if expected is None:
        assert kind == "block" or not steady
    else:
        assert steady
        assert cost == expected[-1]


@pytest.mark.parametrize("first", range(100, 132, 8))
def test_none_that_bears_it_is_cheaper(first: int) -> None:
    """Blocks of 4 to 160 g, pushed at 1 g and some by a lead, under lids and under roofs that stay."""
    kinds: Counter[str] = Counter()
    for seed in range(first, first + 8):
        vehicle, room = drawn(seed, roofed=seed % 2 == 0, heavy=True)
        kind, steady, cost = found_for(vehicle, room)
        expected = cheapest(room)
        assert (expected is None) == (kind == "block" or not steady), seed
        if expected is not None:
            assert cost == expected[-1], (seed, expected)
        kinds[kind] += 1
    assert len(kinds) > 1


def on_a_ledge(seed: int) -> tuple[Vehicle, Room]:
    """Return a room in which the block lies with one end on something, its middle beyond."""
    vehicle, room = drawn(seed, roofed=seed % 2 == 0, heavy=True)
    dice = random.Random(seed)
    x0, y0, z0, x1, y1, _ = room.block
    long = dice.randrange(15, max((x1 - x0) // 2, 16))
    ledge = (x0 - 40, y0 - 30, FLOOR, x0 + long, y1 + 5, z0)
    beside = tuple(one for one in room.solid[6:] if not meets(one, ledge))
    rest = ((x0, y0, x0 + long, y1),)
    return vehicle, replace(room, solid=(*room.solid[:6], *beside, ledge), resting=rest)


@pytest.mark.parametrize("first", range(100, 116, 8))
def test_none_that_steadies_it_is_cheaper(first: int) -> None:
    """Blocks with a free edge: what bears it with the ledge takes as few pieces as any, or there is none."""
    steadied = 0
    for seed in range(first, first + 8):
        vehicle, room = on_a_ledge(seed)
        part = UnsupportedPart((room.block,), (), room.solid[6:], room.grams, room.push_n)
        shelf = steadying_addition(vehicle, frozenset(), part, room.resting)
        expected = cheapest(room)
        assert (shelf is None) == (expected is None), seed
        if shelf is not None and expected is not None:
            assert shelf.cost == expected[-1], (seed, expected)
            steadied += 1
    assert steadied
