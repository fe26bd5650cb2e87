"""Straps as a plan gets them: the cheapest first, those that hold alone, and a pad where they must press."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from fitplan.model.part import Mount, Part
from fitplan.model.placed import Piece, Placement
from fitplan.model.solids import DIRECTIONS, Box, Direction, Place, pose_named
from fitplan.packing.vehicle.straps import Strap, straps

from .small_trains import hollow

WAGON = replace(hollow("v", 10, 6, 8), floor_finish="studded")
BLOCK = Box((32, 20, 21), (48, 28, 28.4))
"""Two studs long, on the studs of the floor; its top lies 0.4 mm below a plate on a brick."""
NOTHING = np.empty((0, 6), dtype=np.int64)
Straps = list[tuple[tuple[Piece, ...], tuple[Direction, ...]]]


def found(
    grams: float = 5.0,
    around: np.ndarray = NOTHING,
    wanted: tuple[Direction, ...] = (),
    press: Callable[[Strap], bool] | None = None,
    toes: tuple[Box, ...] = (),
) -> Straps:
    made = Part(
        "b", "b", "lamp", (Box((0, 0, 0), BLOCK.size), *toes), grams, "invented for a test", mount=Mount()
    )
    placed = Placement("b", made, "v", Place(pose_named("+x+y+z"), BLOCK.low), "the body")
    return list(straps(WAGON, frozenset(), placed, around, wanted, press))


def meet(one: Box, other: Box) -> bool:
    return all(one.low[i] < other.high[i] - 1e-6 and other.low[i] < one.high[i] - 1e-6 for i in range(3))


EVERY = found()


def test_those_that_hold_on_both_sides_come_first_and_none_meets_the_part() -> None:
    """A brick on the floor's studs on either side, or on one, and a plate on top of them, over the part."""
    assert {len(pieces) for pieces, _ in EVERY} == {2, 3}
    sides = [len(pieces) - 1 for pieces, _ in EVERY]
    assert sides == sorted(sides, reverse=True)
    for pieces, _ in EVERY:
        *stacks, plate = [piece.box for piece in pieces]
        assert plate.low[2] == pytest.approx(28.8)
        assert all(one.low[2] == pytest.approx(19.2) for one in stacks)
        assert not any(meet(box, BLOCK) for box in (*stacks, plate))
        assert all(box.low[i] >= 8 and box.high[i] <= (72, 40)[i] for box in stacks for i in (0, 1))
        assert plate.low[0] < 48
        assert plate.high[0] > 32
        assert plate.low[1] < 28
        assert plate.high[1] > 20


def test_a_strap_holds_the_ways_in_which_its_stacks_stand_beside_the_part() -> None:
    """Not farther off than a stud: stacks end 8 mm before the part, or begin 8 mm behind it, at the most."""
    for pieces, ways in EVERY:
        plate, stacks = pieces[-1].box, [piece.box for piece in pieces[:-1]]
        axis = 0 if plate.size[0] > plate.size[1] else 1
        expected = [
            way
            for way, gaps in (
                ("-" + "xy"[axis], [BLOCK.low[axis] - box.high[axis] for box in stacks]),
                ("+" + "xy"[axis], [box.low[axis] - BLOCK.high[axis] for box in stacks]),
            )
            if any(0 <= gap <= 8 for gap in gaps)
        ]
        assert list(ways) == [*expected, "+z"]


@pytest.mark.parametrize("way", DIRECTIONS[:4])
def test_only_those_that_hold_one_of_the_ways_that_are_asked_for(way: Direction) -> None:
    rest = [one for one in EVERY if way in one[1]]
    assert 0 < len(rest) < len(EVERY)
    assert found(wanted=(way,)) == rest


def test_what_stands_beside_the_part_is_gone_round() -> None:
    beside = Box((24, 24, 20), (30, 30, 26))
    rows = np.array([[round(10 * v) for v in (*beside.low, *beside.high)]])
    rest = [one for one in EVERY if not any(meet(piece.box, beside) for piece in one[0])]
    assert 0 < len(rest) < len(EVERY)
    assert found(around=rows) == rest


def test_a_stack_stands_on_no_toe_of_the_part_itself() -> None:
    """A toe of 6 mm before it, 2 mm high, where stacks stand for a part without one."""
    rest = found(toes=(Box((-6, 0, 0), (0, 8, 2)),))
    toe = Box((26, 20, 21), (32, 28, 23))
    assert any(meet(piece.box, toe) for pieces, _ in EVERY for piece in pieces)
    assert rest
    assert not any(meet(piece.box, toe) for pieces, _ in rest for piece in pieces)


def test_what_is_heavier_is_held_by_fewer_and_by_none_that_held_nothing_lighter() -> None:
    """The first of all is passed over by what lifts it, and others are still looked at."""
    held = [found(grams) for grams in (5.0, 40.0, 160.0)]
    assert len(held[0]) > len(held[1]) > len(held[2]) > 0
    assert all(one in held[0] for one in held[1])
    assert all(one in held[1] for one in held[2])


def test_where_it_must_press_a_pad_fills_what_is_between() -> None:
    """0.4 mm from the part's top to the plate's underside, where the two lie over each other."""
    pressed = found(press=lambda one: one.axis == 0)
    along = [one for one in EVERY if one[0][-1].box.size[0] > one[0][-1].box.size[1]]
    assert 0 < len(along) < len(EVERY)
    assert [(pieces[:-2] + pieces[-1:], ways) for pieces, ways in pressed] == along
    for pieces, _ in pressed:
        pad, plate = pieces[-2], pieces[-1]
        assert pad.name == "pad"
        low = [max(plate.box.low[i], BLOCK.low[i]) for i in (0, 1)]
        high = [min(plate.box.high[i], BLOCK.high[i]) for i in (0, 1)]
        assert (*pad.box.low, *pad.box.high) == pytest.approx((*low, 28.4, *high, 28.8))
    assert found(press=lambda one: False) == []
