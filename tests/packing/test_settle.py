"""Settling: parts go down until something carries them."""

from __future__ import annotations

import numpy as np
import pytest

from fitplan.model.placed import NOTHING
from fitplan.packing.vehicle.lowering import LoweredPart, lower_parts
from fitplan.packing.vehicle.support import pads_that_steady

FLOOR = (0, 0, 0, 1000, 1000, 10)


def _part(name: str, box: tuple[int, int, int, int, int, int], drop: int = 10_000) -> LoweredPart:
    return LoweredPart(name, (box,), (), drop, needs_support=True)


def test_a_hanging_part_falls_to_the_floor() -> None:
    """A block 5 mm above the floor goes down 5 mm and is carried by the body."""
    (carried,) = lower_parts([_part("a", (0, 0, 60, 100, 100, 160))], [FLOOR])
    assert (carried.drop, carried.by) == (50, "the body")


def test_a_stack_falls_together() -> None:
    """The upper of two hanging blocks comes to rest on the lower one."""
    lower, upper = lower_parts(
        [_part("lower", (0, 0, 60, 100, 100, 160)), _part("upper", (0, 0, 200, 100, 100, 260))], [FLOOR]
    )
    assert (lower.drop, lower.by) == (50, "the body")
    assert (upper.drop, upper.by) == (90, "lower")


def test_a_part_that_may_not_go_down_gets_a_shelf() -> None:
    """What its window holds up hangs: the shelf reaches from the floor to its underside."""
    (carried,) = lower_parts([_part("eye", (0, 0, 60, 100, 100, 160), drop=0)], [FLOOR])
    assert carried.by == "shelf"
    assert carried.shelf == (0, 0, 10, 100, 100, 60)


def test_nothing_falls_through_kept_room() -> None:
    """A block stops above the room that is kept clear for another's plug."""
    plug = LoweredPart(
        "plug", ((0, 0, 10, 50, 50, 40),), ((50, 0, 10, 150, 100, 60),), 10_000, needs_support=True
    )
    _, block = lower_parts([plug, _part("b", (100, 0, 200, 200, 100, 300))], [FLOOR])
    assert block.drop == 140


def test_a_shelf_stands_under_what_is_nearest_to_something() -> None:
    """A held part with a foot beside a wall gets its pad over the wall, not through it."""
    held = LoweredPart("eye", ((0, 0, 50, 40, 20, 100), (40, 0, 20, 60, 20, 100)), (), 0, True)
    wall = (0, 0, 0, 40, 20, 45)
    (carried,) = lower_parts([held], [wall, (0, 0, -10, 100, 100, 0)], frozenset({"eye"}))
    assert carried.by == "shelf"
    assert carried.pads == ((0, 0, 45, 40, 20, 50),)


def test_a_shelf_ends_where_the_part_begins() -> None:
    """Under a part whose middle hangs lower than its ends the shelf reaches up to the middle, not into it.

    It stands on the floor: a beam under one end alone would not bear what is as long as the part.
    """
    held = LoweredPart(
        "cells", ((0, 0, 50, 10, 20, 90), (10, 0, 42, 50, 20, 82), (50, 0, 50, 60, 20, 90)), (), 0, True
    )
    beam = (0, 0, 0, 10, 20, 30)
    (carried,) = lower_parts([held], [beam, (0, 0, -10, 100, 100, 0)], frozenset({"cells"}))
    assert carried.shelf == (10, 0, 0, 50, 20, 42)


def test_an_overlap_of_less_than_a_millimetre_carries_nothing() -> None:
    """A block of 20 mm that lies on 0.8 mm of a switch, and on nothing else, does not stand."""
    switch = LoweredPart("switch", ((0, 0, 10, 100, 100, 60),), (), 0, needs_support=True)
    block = LoweredPart("bank", ((92, 0, 60, 292, 100, 160),), (), 0, needs_support=True)
    on_it, bank = lower_parts([switch, block], [FLOOR], frozenset({"bank"}))
    assert (on_it.by, on_it.steady) == ("the body", True)
    assert bank.steady is False


def test_a_part_whose_middle_is_beside_what_carries_it_would_tip() -> None:
    """On 40 % of its length a block tips; on 60 % it stands."""
    ledge = (0, 0, 0, 400, 1000, 50)
    floor = (0, 0, -10, 1000, 1000, 0)
    for start, steady in ((360, False), (340, True)):
        part = LoweredPart("b", ((start, 0, 50, start + 100, 100, 100),), (), 0, needs_support=True)
        (carried,) = lower_parts([part], [ledge, floor], frozenset({"b"}))
        assert carried.steady is steady
        assert carried.pads == ()


def test_pads_go_under_what_hangs_over_a_step_of_less_than_a_plate() -> None:
    """A block half on a step 2 mm high gets a pad of 2 mm under its other half."""
    step = (0, 0, 10, 100, 100, 30)
    part = LoweredPart("b", ((60, 0, 30, 260, 100, 80),), (), 0, needs_support=True)
    (carried,) = lower_parts([part], [step, FLOOR], frozenset({"b"}))
    assert carried.steady
    assert carried.pads == ((100, 0, 10, 260, 100, 30),)


def test_air_that_parts_must_keep_out_of_carries_nothing() -> None:
    """Space outside the body is an obstacle, no floor, and nothing is built in it."""
    outside = (0, 0, 10, 1000, 1000, 60)
    part = LoweredPart("b", ((0, 0, 60, 100, 100, 160),), (), 0, needs_support=True)
    (carried,) = lower_parts([part], [FLOOR, outside], frozenset({"b"}), bricks=[FLOOR])
    assert (carried.by, carried.steady, carried.shelf) == (NOTHING, False, None)


def test_a_pad_goes_under_a_round_cell_only_where_it_touches() -> None:
    """A roll lies on a post at one end; at the other a post ends under its flank, where only air is.

    Without the soles the strip at the flank would get a pad, and the roll would be said to stand on it.
    """
    lowest, flank = (0, 0, 50, 300, 16, 150), (0, 16, 62, 300, 32, 138)
    posts = [(0, 0, 0, 20, 16, 50), (280, 16, 0, 300, 32, 48), (0, -100, -10, 300, 100, 0)]
    for soles, pads in (((lowest,), ()), ((), ((280, 16, 48, 300, 32, 62),))):
        roll = LoweredPart("roll", (lowest, flank), (), 0, needs_support=True, soles=soles)
        (carried,) = lower_parts([roll], posts, frozenset({"roll"}))
        assert carried.pads == pads
        assert carried.steady is bool(pads)


def test_a_pad_bears_only_what_lies_on_it() -> None:
    """A board stands on a stud with 1 mm of its 1.6; what stands out in front of it is 1 mm higher.

    A pad beside the stud would bear 0.6 mm of the board, and air under its front: the board would tip.
    """
    board, front = (0, 0, 17, 16, 180, 147), (16, 20, 27, 26, 160, 137)
    stud, floor = (-40, 40, 0, 10, 88, 17), (-100, -100, -10, 300, 300, 0)
    eye = LoweredPart("eye", (board, front), (), 0, needs_support=True)
    (carried,) = lower_parts([eye], [stud, floor], frozenset({"eye"}))
    assert (carried.pads, carried.steady) == ((), False)
    # Under a front that is as low as the board a pad bears it.
    lower = LoweredPart("eye", (board, (16, 20, 17, 26, 160, 137)), (), 0, needs_support=True)
    (carried,) = lower_parts([lower], [stud, floor], frozenset({"eye"}))
    assert carried.steady
    assert carried.pads == ((10, 0, 0, 26, 180, 17),)


def test_what_has_nothing_under_it_is_said_to_be_carried_by_nothing() -> None:
    """Over a hole through the floor there is nothing to stand on."""
    hole = [(0, 0, 0, 100, 400, 10), (300, 0, 0, 400, 400, 10)]
    (over,) = lower_parts([_part("a", (100, 100, 60, 300, 300, 160), drop=0)], hole)
    assert (over.by, over.steady, over.shelf) == (NOTHING, False, None)


def test_a_part_that_lies_on_the_body_and_on_another_is_steady() -> None:
    """Neither end alone is under its middle; both together are, whichever of the two is the body."""
    left, right = (0, 0, 10, 40, 100, 60), (160, 0, 10, 200, 100, 60)
    bridge = _part("bridge", (0, 0, 60, 200, 100, 90))
    _, carried = lower_parts([_part("block", right), bridge], [FLOOR, left])
    assert (carried.by, carried.steady, carried.pads, carried.drop) == ("block", True, (), 0)
    _, _, carried = lower_parts([_part("one", left), _part("other", right), bridge], [FLOOR])
    assert (carried.by, carried.steady, carried.pads, carried.drop) == ("one", True, (), 0)
    (alone,) = lower_parts([bridge], [FLOOR, left])
    assert alone.by != "the body" or not alone.steady


def test_no_pad_lies_between_what_bears() -> None:
    """A beam over two posts and two walls: a pad on each post, none in the air between the walls."""
    beam = (0, 0, 30, 500, 100, 60)
    posts = np.array([(0, 0, 0, 30, 100, 10), (470, 0, 0, 500, 100, 10)], dtype=np.int64)
    walls = np.array([(100, 0, 10, 120, 100, 30), (380, 0, 10, 400, 100, 30)], dtype=np.int64)
    pads = pads_that_steady([beam], (), posts, np.concatenate([posts, walls]), [beam])
    assert sorted(pads) == [(0, 0, 10, 30, 100, 30), (470, 0, 10, 500, 100, 30)]


def test_a_block_goes_under_the_board_whose_lens_stands_out_over_a_sill() -> None:
    """A sensor behind a window: its lens hangs 4 mm over the sill, with its own front behind.

    Under the board there is nothing but the floor, 9.8 mm lower: a block there carries it.
    """
    board, lens, front = (
        (94, 50, 98, 110, 230, 228),
        (110, 116, 148, 122, 164, 178),
        (110, 70, 108, 120, 210, 218),
    )
    sill, floor = (120, 0, 0, 200, 300, 108), (0, 0, -10, 200, 300, 0)
    eye = LoweredPart("eye", (board, lens, front), ((54, 60, 98, 94, 220, 126),), 0, needs_support=True)
    (carried,) = lower_parts([eye], [sill, floor], frozenset({"eye"}))
    assert (carried.by, carried.steady) == ("shelf", True)
    assert carried.shelf is not None
    assert (carried.shelf[2], carried.shelf[5]) == (0, 98)
    assert carried.shelf[0] <= board[0]
    assert carried.shelf[3] >= board[3]
    # Where another's plug lies under the board there is no room for one.
    plug = LoweredPart(
        "plug", ((0, 100, 0, 40, 180, 40),), ((40, 100, 0, 120, 180, 40),), 0, needs_support=True
    )
    carried, _ = lower_parts([eye, plug], [sill, floor], frozenset({"eye", "plug"}))
    assert carried.by == NOTHING


@pytest.mark.parametrize("higher", [10, 20])
def test_a_block_goes_where_the_part_stands_on_it(higher: int) -> None:
    """Under its lens, 2 mm wide, hangs less than under its board: on a block there the sensor would tip.

    Nor does a block carry it that is as wide as both, and itself rests under the lens alone.
    """
    board, lens = (100, 0, 120, 120, 180, 250), (120, 80, 120 + higher, 140, 100, 160)
    step, floor = (122, 0, 0, 200, 180, 60), (0, -100, -10, 300, 300, 0)
    eye = LoweredPart("eye", (board, lens), (), 0, needs_support=True)
    (carried,) = lower_parts([eye], [step, floor], frozenset({"eye"}))
    assert carried.shelf == (100, 0, 0, 120, 180, 120)
