"""The pair of plates that presses a part which would tip is the cheapest of all that could be built."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from fitplan.model.vehicle import Vehicle
from fitplan.packing.vehicle.addition_shapes import UnsupportedPart
from fitplan.packing.vehicle.pressed import cheapest_pair

from .listed_means import Box, Room, cheapest, meets
from .listed_pairs import fewest_of_a_pair
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
    return (found.count if found is not None else None), fewest_of_a_pair(room)


@pytest.mark.parametrize("seed", range(4))
def test_no_pair_is_cheaper(seed: int) -> None:
    both = compared(seed)
    assert both is None or both[0] == both[1]
