"""Rooms and parts in hundredths of a mm: rounding to tenths gives no false *fits* and no false *cannot fit*.

The oracle reckons in exact fractions.  All edges are longer than half the room's width and height, so parts
lie in a row along x, whatever their poses, and the least length of the row is known in closed form.
"""

from __future__ import annotations

import itertools
import random
from collections import Counter
from dataclasses import replace
from fractions import Fraction

from fitplan.budget import Budget
from fitplan.model.needed import Need
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.seats import Wanted
from tests.packing.small_trains import block, hollow

Size = tuple[Fraction, Fraction, Fraction]
WIDTH = HEIGHT = Fraction(16)
FEW_STEPS = Budget.usual(effort=0.01)
PLAY = Fraction(2, 10)
"""Two upright faces of bricks stand back by a tenth of a millimetre each (common practice, no source)."""


def hundredths(value: float) -> Fraction:
    """Return a number in whole hundredths, exactly."""
    return Fraction(round(value * 100), 100)


def least_row(sizes: list[Size], width: Fraction) -> Fraction | None:
    """Return the least length of a row of blocks, each in its best pose; None when one has no pose."""
    total = Fraction(0)
    for size in sizes:
        fitting = [x for x, y, z in itertools.permutations(size) if y <= width and z <= HEIGHT]
        if not fitting:
            return None
        total += min(fitting)
    return total


def verdict_of(sizes: list[Size], length: Fraction, at: Fraction) -> str:
    """Ask for blocks in a room so long, whose rear wall stands at a place along x."""
    vehicle = hollow("v", 12, 4, 5)
    base, top = vehicle.base, vehicle.top
    walls = (
        BodySolid(Box((8.0, 8.0, base), (float(at), 24.0, top)), "fixed"),
        BodySolid(Box((float(at + length), 8.0, base), (88.0, 24.0, top)), "fixed"),
    )
    vehicle = replace(vehicle, body=(*vehicle.body, *walls))
    wanted = []
    for number, (x, y, z) in enumerate(sizes):
        part = block(f"b{number}", (float(x), float(y), float(z)))
        wanted.append(Wanted(Need(f"n{number}", (part,)), part))
    # What is left open stays so with more work: there is no room between two roundings.
    return Packer({"v": vehicle}, FEW_STEPS).pack_as_it_is("v", wanted).verdict


def random_case(seed: int) -> tuple[list[Size], Fraction, Fraction]:
    """Return blocks, a room within a few hundredths of the least that they need, and where it begins."""
    rng = random.Random(seed)
    while True:
        sizes: list[Size] = []
        for _ in range(rng.randint(1, 4)):
            x, y, z = (hundredths(rng.uniform(8.3, 15.99)) for _ in range(3))
            if rng.random() < 0.4:
                y = hundredths(rng.choice((15.9, 15.95, 15.99, 16.0, 16.01, 16.05, 16.1, 16.2, 16.25)))
            sizes.append((x, y, z))
        row = least_row(sizes, WIDTH + PLAY)
        if row is not None and row < 70:
            change = hundredths(rng.choice((-1.0, -0.4, -0.3, -0.2, -0.1, -0.05, -0.01, 0.0, 0.05, 0.3, 0.6)))
            return sizes, row + change, hundredths(rng.uniform(9, 12))


def test_rounding_to_tenths_gives_no_false_verdict() -> None:
    """Whatever fits, fits in exact fractions; whatever cannot, cannot even with the play of bricks."""
    seen: Counter[str] = Counter()
    for seed in range(36):
        sizes, length, at = random_case(seed)
        verdict = verdict_of(sizes, length, at)
        seen[verdict] += 1
        surely = least_row(sizes, WIDTH)
        if verdict == "fits":
            assert surely is not None, (seed, sizes, length)
            assert surely <= length, (seed, sizes, length)
        if verdict == "cannot fit":
            possibly = least_row(sizes, WIDTH + PLAY)
            assert possibly is None or possibly > length + PLAY, (seed, sizes, length)
    assert seen["fits"] > 3, seen
    assert seen["cannot fit"] > 3, seen
    assert seen["not decided"] > 20, seen


def test_parts_that_fill_their_room_to_a_few_hundredths() -> None:
    """Two parts of 15.93 in a row: never denied where they have a place, never found where they have none."""
    edge = hundredths(15.93)
    for hundred in range(10):
        at = Fraction(1000 + hundred, 100)
        assert verdict_of([(edge,) * 3] * 2, 2 * edge, at) != "cannot fit"
        assert verdict_of([(edge,) * 3] * 2, 2 * edge + hundredths(0.01), at) != "cannot fit"
        assert verdict_of([(edge,) * 3] * 2, 2 * edge - hundredths(0.01), at) != "fits"
        assert verdict_of([(edge,) * 3] * 2, 2 * edge - hundredths(0.5), at) == "cannot fit"
        assert verdict_of([(edge,) * 3] * 2, 2 * edge + hundredths(0.5), at) == "fits"
