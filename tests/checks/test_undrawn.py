"""Bodies drawn as walls alone: what lies between them is told, and how it is to be drawn."""

from __future__ import annotations

import random
import re
from dataclasses import replace

import pytest

from fitplan.budget import Budget
from fitplan.checks.gaps import check_gaps
from fitplan.checks.places import check_places
from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.solids import Box
from fitplan.model.undrawn import LEAST, undrawn_room_for, undrawn_rooms
from fitplan.model.vehicle import BodySolid, Vehicle
from fitplan.model.wired import Harness
from fitplan.packing.vehicle.pack import Packer
from fitplan.planning.fit_table import fit_row
from tests.packing.small_trains import block, hollow, train_of

INSIDE = Box((8.0, 8.0, 19.2), (120.0, 40.0, 48.0))


def of_walls(*more: BodySolid, roof: bool = True) -> Vehicle:
    """A box of 128 × 48 mm of which floor, walls and perhaps a roof are drawn, and nothing between them."""
    full = hollow("loco", 16, 6, 9)
    sides = [
        Box((0.0, 0.0, 16.0), (128.0, 48.0, 19.2)),
        Box((0.0, 0.0, 16.0), (8.0, 48.0, full.top)),
        Box((120.0, 0.0, 16.0), (128.0, 48.0, full.top)),
        Box((0.0, 0.0, 16.0), (128.0, 8.0, full.top)),
        Box((0.0, 40.0, 16.0), (128.0, 48.0, full.top)),
    ]
    sides += [Box((0.0, 0.0, 48.0), (128.0, 48.0, full.top))] if roof else []
    return replace(full, body=(*(BodySolid(box, "fixed") for box in sides), *more), ports=(), openings=())


def test_the_room_between_walls_is_told() -> None:
    """With a roof or without one, with a window left out of the drawing, and with one drawn free."""
    assert undrawn_rooms(of_walls()) == (INSIDE,)
    top = replace(INSIDE, high=(120.0, 40.0, of_walls().top))
    assert undrawn_rooms(of_walls(roof=False)) == (top,)
    window = Box((120.0, 16.0, 28.8), (128.0, 32.0, 38.4))
    assert undrawn_rooms(of_walls(BodySolid(window, "free"))) == (INSIDE,)
    left_out = of_walls()
    front = [Box((120.0, 0.0, 16.0), (128.0, 48.0, 28.8)), Box((120.0, 0.0, 38.4), (128.0, 48.0, 48.0))]
    kept = (*left_out.body[:2], *left_out.body[3:], *(BodySolid(box, "fixed") for box in front))
    assert undrawn_rooms(replace(left_out, body=kept)) == (replace(INSIDE, high=(128.0, 40.0, 48.0)),)
    # Drawn as free or as outside it is meant; a platform with one open side, and no roof, is outside, too.
    assert undrawn_rooms(hollow("loco", 16, 6, 9)) == ()
    outside = BodySolid(INSIDE, "outside")
    assert undrawn_rooms(of_walls(outside)) == ()
    assert undrawn_rooms(replace(left_out, body=(*left_out.body[:3], left_out.body[4]))) == ()


@pytest.mark.parametrize("seed", range(12))
def test_rooms_are_those_of_a_walk_over_cubes(seed: int) -> None:
    """Random boxes on a grid of 16 mm: every cube is asked by itself which way it sees something drawn."""
    draw = random.Random(seed)
    long, wide, high = 10, 6, 5
    body = []
    for _ in range(draw.randint(4, 14)):
        low = [draw.randrange(size) for size in (long, wide, high)]
        far = [
            draw.randint(at + 1, min(size, at + draw.choice((1, 6))))
            for at, size in zip(low, (long, wide, high), strict=True)
        ]
        ends = [
            tuple(16.0 * value + (16.0 if axis == 2 else 0.0) for axis, value in enumerate(end))
            for end in (low, far)
        ]
        state = draw.choice(("fixed", "fixed", "free", "outside"))
        body.append(BodySolid(Box(ends[0], ends[1]), state))  # type: ignore[arg-type]
    vehicle = replace(hollow("v", 2 * long, 2 * wide, 1), top=16.0 + 16.0 * high, body=tuple(body))
    states: dict[tuple[int, int, int], str] = {}
    for entry in body:
        box = entry.solid.bounds
        for cube in [(x, y, z) for x in range(long) for y in range(wide) for z in range(high)]:
            middle = (16.0 * cube[0] + 8, 16.0 * cube[1] + 8, 16.0 * cube[2] + 24)
            if all(box.low[i] < middle[i] < box.high[i] for i in range(3)):
                states[cube] = entry.state

    def sees(cube: tuple[int, ...], axis: int, step: int) -> bool:
        there = list(cube)
        while all(0 <= value < size for value, size in zip(there, (long, wide, high), strict=True)):
            if states.get((there[0], there[1], there[2]), "outside") != "outside":
                return True
            there[axis] += step
        return False

    def within(cube: tuple[int, ...]) -> bool:
        sides = sum(sees(cube, axis, step) for axis in (0, 1) for step in (1, -1))
        return sees(cube, 2, -1) and (sides == 4 or (sides == 3 and sees(cube, 2, 1)))

    inside = {
        (x, y, z)
        for x in range(long)
        for y in range(wide)
        for z in range(high)
        if (x, y, z) not in states and within((x, y, z))
    }
    covered = {
        cube
        for room in undrawn_rooms(vehicle)
        for cube in inside
        if all(room.low[i] < (16.0 * cube[i] + (24 if i == 2 else 8)) < room.high[i] for i in range(3))
    }
    assert covered == inside
    assert all(
        all(size >= least for size, least in zip(room.size, LEAST, strict=True))
        for room in undrawn_rooms(vehicle)
    )


def test_what_is_told_to_be_written_makes_the_room() -> None:
    """The caution, the reason of a part without a place, and the box that helps: the part goes in with it."""
    vehicle = of_walls()
    part = block("board", (60.0, 30.0, 10.0))
    need = Need("brain", (part,), ())
    train = train_of((vehicle,), (need,))
    built = BuiltTrain(train, (), Harness(), ())
    (caution,) = check_gaps(built).findings
    assert caution.severity == "caution"
    assert caution.message.startswith(
        "112 × 32 × 28.8 mm inside loco are drawn neither as brick nor as free room"
    )
    (stop,) = check_places(built, [("brain", "why")]).findings
    row = fit_row(train, Packer({"loco": vehicle}), need, part, "loco", Budget.usual())
    assert (row.verdict, row.missing_mm, row.axis) == ("cannot fit", 0.0, "")
    assert "112 × 32 × 28.8 mm inside loco" in row.reason
    for said in (caution.remedy, stop.remedy):
        numbers = re.search(r"from: \[(.*?)\], to: \[(.*?)\]", said)
        assert numbers is not None
        low, high = (tuple(float(value) for value in text.split(", ")) for text in numbers.groups())
        drawn = replace(vehicle, body=(BodySolid(Box(low, high), "free"), *vehicle.body))  # type: ignore[arg-type]
        train = train_of((drawn,), (need,))
        assert fit_row(train, Packer({"loco": drawn}), need, part, "loco", Budget.usual()).verdict == "fits"
        assert check_gaps(replace(built, train=train)).findings == ()


def test_a_part_that_is_larger_than_the_room_is_told_what_it_lacks() -> None:
    """A room that would not take it anyway is no reason; turned, a long one goes in."""
    assert undrawn_room_for(of_walls(), block("bank", (200.0, 30.0, 10.0))) is None
    assert undrawn_room_for(of_walls(), block("lamp", (30.0, 10.0, 112.0))) == INSIDE
