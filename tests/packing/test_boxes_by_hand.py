"""What a single part lacks, and what it stands on: small cases by hand."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fitplan.model.needed import Need
from fitplan.model.part import Clearance, Mount, Part
from fitplan.model.placed import ITS_MOUNT, NOTHING
from fitplan.model.solids import Box, Direction, axis_of
from fitplan.model.vehicle import Window
from fitplan.packing.vehicle.box_shortage import (
    _enough,
    _goes_in,
    _past_window,
    _Shortage,
    box_shortage,
    surely_enough,
)
from fitplan.packing.vehicle.lowering import SUPPORT_GAP, LoweredPart, lower_parts
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.support import PAD_MOST, _clear_of, borne_by, cut_to, pads_that_steady

from .small_trains import block, hollow

FLAT = Mount(upright=True)


class Room:
    """Clear room of one box (mm): how long a box is that goes in, less than what is asked."""

    def __init__(self, *clear: float) -> None:
        self.clear = clear

    def longest(self, size: tuple[float, ...], axis: int, step: float) -> float:
        if any(size[n] > self.clear[n] + 1e-9 for n in range(3) if n != axis):
            return 0.0
        return min(self.clear[axis], max(round(size[axis] / step) - 1, 0) * step)

    def position(self, size: tuple[float, ...]) -> tuple[int, ...] | None:
        return (0, 0, 0) if all(a <= b + 1e-9 for a, b in zip(size, self.clear, strict=True)) else None


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))))
def test_each_axis_is_as_long_as_the_part_or_as_there_is_room(order: tuple[int, ...]) -> None:
    room: Any = Room(30.0, 20.0, 10.0)
    assert _goes_in(room, (30.0, 20.0, 10.0), order) == (30.0, 20.0, 10.0)
    assert _goes_in(room, (29.9, 19.9, 9.9), order) == (29.9, 19.9, 9.9)
    assert _goes_in(room, (30.1, 25.0, 5.0), order) == (30.0, 20.0, 5.0)
    # Nothing is as long as the part in this room when a tenth of the others does not go in.
    thin: Any = Room(30.0, 0.05, 10.0)
    first = order.index(1)
    found = _goes_in(thin, (40.0, 5.0, 12.0), order)
    assert all(found[n] == 0.0 for n in order[:first])


def shortage(length: float, width: float, height: float) -> _Shortage:
    return _Shortage("+x+y+z", (50.0, 40.0, 30.0), (50.0 - length, 40.0 - width, 30.0 - height))


def test_what_is_short_is_told_the_most_first_and_only_what_is_short() -> None:
    one = shortage(0.5, 2.0, 0.0)
    assert one.missing == [(2.0, "width"), (0.5, "length")]
    assert (one.worst, one.order) == ((2.0, "width"), (2.5, 2, one.size))
    assert one.text == "2.0 mm of width and 0.5 mm of length are missing"
    assert shortage(0.0, -3.0, 0.1).missing == [(0.1, "height")]
    assert shortage(0.04, -3.0, 0.0).missing == []
    assert (shortage(0.0, -3.0, 0.0).worst, shortage(0.0, 0.0, 0.0).order[:2]) == ((0.0, ""), (0.0, 0))
    assert shortage(0.34, 0.34, 0.0).order[0] == 0.6
    assert shortage(1.0, 1.0, 1.0).order < shortage(3.1, 0.0, 0.0).order
    assert shortage(3.0, 0.0, 0.0).order < shortage(1.5, 1.5, 0.0).order


def with_plug(
    size: tuple[float, float, float], plug: Box, needed: Any = "always", mount: Mount = FLAT
) -> Wanted:
    made = replace(block("b", size, mount=mount), clearances=(Clearance("plug", "plug", plug, needed),))
    return Wanted(Need("b", (made,)), made)


def test_of_poses_that_fill_the_same_box_the_one_with_its_room_inside_is_enough() -> None:
    """20 × 20 × 5 mm, a plug of 6 mm on +x: turned a quarter it lies along the width, where room is."""
    entry = with_plug((20.0, 20.0, 5.0), Box((20, 5, 0), (26, 15, 5)))
    for clear, enough in (
        ((18.0, 40.0, 5.0), (20.0, 26.0, 5.0)),
        ((40.0, 18.0, 5.0), (26.0, 20.0, 5.0)),
        ((21.0, 25.0, 4.0), (20.0, 26.0, 5.0)),
        ((25.0, 21.0, 4.0), (26.0, 20.0, 5.0)),
        # As much is short either way.
        ((19.0, 19.0, 9.0), (20.0, 26.0, 5.0)),
    ):
        assert _enough(entry, _Shortage("+x+y+z", (20.0, 20.0, 5.0), clear)) == enough
    # Room for fingers is no room that is always kept.
    access = with_plug((20.0, 20.0, 5.0), Box((20, 5, 0), (26, 15, 5)), "access")
    assert _enough(access, _Shortage("+x+y+z", (20.0, 20.0, 5.0), (18.0, 40.0, 5.0))) == (20.0, 20.0, 5.0)
    # Poses that fill another box are not asked: 20 × 12 along the vehicle, not across.
    long = with_plug((20.0, 12.0, 5.0), Box((20, 0, 0), (26, 12, 5)))
    assert _enough(long, _Shortage("+x+y+z", (20.0, 12.0, 5.0), (1.0, 90.0, 5.0))) == (26.0, 12.0, 5.0)
    assert _enough(long, _Shortage("+y-x+z", (12.0, 20.0, 5.0), (90.0, 1.0, 5.0))) == (12.0, 26.0, 5.0)
    assert _enough(long, _Shortage("?", (12.0, 13.0, 5.0), (90.0, 1.0, 5.0))) == (12.0, 13.0, 5.0)


def test_the_flattest_box_is_surely_enough() -> None:
    """30 × 20 × 5 with a plug of 4 mm: of poses with one volume the lowest, then along the vehicle."""
    part = with_plug((30.0, 20.0, 5.0), Box((30, 0, 0), (34, 10, 5)), mount=Mount()).part
    assert surely_enough(part).startswith("34.0 × 20.0 × 5.0 mm")


@pytest.mark.parametrize(
    ("size", "told"),
    [
        ((30.0, 20.0, 10.0), (0.0, "")),
        ((20.0, 30.0, 10.0), (0.0, "")),
        ((30.1, 20.0, 10.0), (0.1, "length")),
        ((34.0, 20.0, 9.0), (4.0, "length")),
        ((30.0, 22.0, 9.0), (2.0, "width")),
        ((21.0, 30.0, 10.5), (1.0, "width")),
        ((30.0, 20.0, 12.0), (2.0, "height")),
    ],
)
def test_by_how_much_a_box_misses_a_box(size: Any, told: tuple[float, str]) -> None:
    """In the better of two ways, lying along or across: the room is 30 × 20 × 10 mm."""
    made = block("b", size, mount=FLAT)
    room: Any = Room(30.0, 20.0, 10.0)
    missing, axis, _, text = box_shortage(hollow("v", 6, 6, 6), "v", Wanted(Need("b", (made,)), made), room)
    assert (missing, axis) == told
    if axis:
        assert f"{missing:.1f} mm of {axis}" in text
        sizes = sorted((f"{v:.1f}" for v in size[:2]), reverse=True)
        assert f"the part takes {' × '.join(sizes)} × {size[2]:.1f} mm, v has" in text
        assert "every removable brick out; " not in text
        assert ", its room for leads and plugs in it," not in text


def lens(width: float, height: float, window: Box, out: Direction = "+x") -> tuple[float, str, str, str]:
    mount = Mount(upright=True, looks="+x", lens=Box((20, 2, 1), (20, 2 + width, 1 + height)))
    made: Part = block("eye", (20.0, 20.0, 20.0), mount=mount)
    return _past_window(Window("pane", window, out), Wanted(Need("eye", (made,)), made))


def test_a_lens_misses_its_window_by_what_it_is_wider_or_higher() -> None:
    for out in ("+x", "-x", "+y", "-y"):
        along = axis_of(out)  # type: ignore[arg-type]
        size = [10.0, 10.0, 8.0]
        size[along] = 8.0
        pane = Box((0, 0, 20), (size[0], size[1], 20 + size[2]))
        across = "width" if along == 0 else "length"
        told = [lens(w, h, pane, out)[:2] for w, h in ((10, 8), (10.3, 8), (10.3, 9), (8, 8.1), (12, 9))]  # type: ignore[arg-type]
        assert told == [
            (0.0, "width" if along == 0 else "length"),
            (0.3, across),
            (1.0, "height"),
            (0.1, "height"),
            (2.0, across),
        ]
        text = lens(12, 9, pane, out)[3]  # type: ignore[arg-type]
        assert text == (
            f"2.0 mm of {across} and 1.0 mm of height are missing in its window: the front takes"
            " 12.0 × 9.0 mm, pane is 10.0 × 8.0 mm"
        )
    assert lens(5, 5, Box((0, 0, 0), (10, 10, 8)), "+z") == (0.0, "", "", "")


# What a part stands on.

CORE = (110, 40, 40, 130, 60, 80)
"""A part whose middle lies over (120, 50)."""
FLOOR = np.array([(-500, -500, -10, 500, 500, 0)], dtype=np.int64)
NONE = np.zeros((0, 6), dtype=np.int64)


def test_of_pads_that_would_do_the_small_ones_are_left_out() -> None:
    """Two feet on the left of which either does, 16 and 6 mm²; one on the right that is needed."""
    wide, thin, right = (0, 0, 10, 40, 40, 20), (0, 60, 10, 60, 70, 20), (200, 0, 10, 240, 120, 20)
    pads = pads_that_steady([CORE], (), FLOOR, NONE, [wide, thin, right])
    assert pads == ((200, 0, 0, 240, 120, 10), (0, 0, 0, 40, 40, 10))
    # What it rests on already needs no pad.
    assert pads_that_steady([CORE], [(0, 0, 40, 40)], FLOOR, NONE, [wide, thin, right]) == (
        (200, 0, 0, 240, 120, 10),
    )
    assert pads_that_steady([CORE], [(200, 0, 240, 120)], FLOOR, NONE, [thin, wide]) == (
        (0, 0, 0, 40, 40, 10),
    )
    # With the left ones alone it would tip.
    assert pads_that_steady([CORE], (), FLOOR, NONE, [wide, thin]) == ()


def test_no_pad_is_left_out_without_which_the_middle_lies_at_the_edge() -> None:
    """Over the right foot alone the middle lies 1 mm from its edge; with the left one it is well over."""
    left, right = (0, 0, 10, 40, 120, 20), (110, 0, 10, 240, 120, 20)
    assert len(pads_that_steady([CORE], (), FLOOR, NONE, [left, right])) == 2
    further = (100, 0, 10, 240, 120, 20)
    assert pads_that_steady([CORE], (), FLOOR, NONE, [left, further]) == ((100, 0, 0, 240, 120, 10),)
    # Where none of them makes it firm, one at the edge is enough.
    assert pads_that_steady([CORE], (), FLOOR, NONE, [(0, 0, 10, 20, 20, 20), right])
    assert pads_that_steady([CORE], (), FLOOR, NONE, [right]) == ((110, 0, 0, 240, 120, 10),)


@pytest.mark.parametrize("gap", [0, 1, 2, 3, PAD_MOST - 1, PAD_MOST])
def test_a_pad_is_thicker_than_a_tenth_and_thinner_than_a_plate(gap: int) -> None:
    foot = (0, 0, gap, 240, 120, gap + 9)
    found = pads_that_steady([CORE], (), FLOOR, NONE, [foot])
    assert found == (((0, 0, 0, 240, 120, gap),) if 1 < gap < PAD_MOST else ())


def test_of_two_heights_below_a_foot_the_upper_one_bears_where_a_pad_has_room() -> None:
    foot, shelf = (0, 0, 20, 240, 120, 30), (0, 0, 0, 240, 120, 8)
    below = np.array([*FLOOR.tolist(), shelf])
    assert pads_that_steady([CORE], (), below, NONE, [foot]) == ((0, 0, 8, 240, 120, 20),)
    narrow = np.array([*FLOOR.tolist(), (0, 0, 0, 9, 120, 8)])
    assert pads_that_steady([CORE], (), narrow, NONE, [foot]) == ((0, 0, 0, 240, 120, 20),)
    # Something fills the room over the shelf: what is beside it bears, down to the floor.
    part = np.array([*FLOOR.tolist(), (0, 0, 0, 40, 120, 8)])
    full = np.array([(0, 0, 8, 40, 120, 20)])
    assert pads_that_steady([CORE], (), part, full, [foot]) == ((40, 0, 0, 240, 120, 20),)


@pytest.mark.parametrize("seed", range(5))
def test_what_is_left_of_a_pad_beside_what_stands_in_it(seed: int) -> None:
    """Millimetre by millimetre; what ends at it takes nothing."""
    chance = random.Random(seed)
    pad = (0, 0, 20, 120, 80, 30)
    rows = []
    for _ in range(4):
        x, y = (10 * chance.randrange(-2, 12) for _ in range(2))
        rows.append((x, y, chance.choice((10, 15, 20, 25, 30)), x + 30, y + 20, chance.choice((31, 35, 40))))
    pieces = _clear_of(
        pad, np.array([*rows, (0, 0, 30, 120, 80, 40), (0, 0, 0, 120, 80, 20), (120, 0, 20, 130, 80, 30)])
    )
    cover = np.zeros((12, 8), dtype=int)
    for x0, y0, z0, x1, y1, z1 in pieces:
        assert (z0, z1) == (20, 30)
        cover[x0 // 10 : x1 // 10, y0 // 10 : y1 // 10] += 1
    free = np.ones((12, 8), dtype=int)
    for x0, y0, z0, x1, y1, _ in rows:
        if z0 < 30:
            free[max(x0 // 10, 0) : max(x1 // 10, 0), max(y0 // 10, 0) : max(y1 // 10, 0)] = 0
    assert cover.tolist() == free.tolist()


def test_what_is_narrower_than_a_millimetre_bears_nothing() -> None:
    pad = (0, 0, 0, 100, 50, 10)
    assert cut_to([(-9, -9, 10, 20)], pad) == (0, 0, 0, 10, 20, 10)
    assert cut_to([(-9, -9, 9, 20)], pad) is None
    assert cut_to([(20, 30, 40, 99), (60, 10, 80, 25), (100, 0, 120, 50)], pad) == (20, 10, 0, 80, 50, 10)
    assert cut_to([], pad) is None
    soles = [
        (0, 0, 10, 10, 10, 20),
        (20, 0, 10, 29, 50, 20),
        (40, 0, 11, 60, 50, 20),
        (70, 41, 10, 99, 90, 20),
    ]
    assert borne_by(pad, soles) == [(0, 0, 10, 10)]
    assert borne_by(pad, [(70, 40, 10, 99, 90, 20)]) == [(70, 40, 99, 50)]
    left = _clear_of(pad, np.array([(10, -5, 2, 91, 60, 8)]))
    assert left == [(0, 0, 0, 10, 50, 10)]
    # What only touches a piece that is left does not cut it.
    twice = np.array([(0, 0, 0, 100, 20, 10), (30, 0, 0, 60, 20, 10), (0, 0, 0, 50, 20, 10)])
    assert _clear_of(pad, twice) == [(0, 20, 0, 100, 50, 10)]
    across = np.array([(0, 0, 0, 40, 50, 10), (0, 10, 0, 40, 30, 10)])
    assert _clear_of(pad, across) == [(40, 0, 0, 100, 50, 10)]


def test_what_a_part_needs_no_support_for_is_told_by_what_it_touches() -> None:
    """Held parts stay where they are: a tenth above the floor it carries them, two above their mount does."""
    for gap, by in ((0, "the body"), (SUPPORT_GAP, "the body"), (SUPPORT_GAP + 1, ITS_MOUNT)):
        part = LoweredPart("a", ((0, 0, gap, 100, 100, gap + 50),), (), gap, needs_support=False)
        (found,) = lower_parts([part], FLOOR.tolist(), frozenset({"a"}))
        assert (found.by, found.drop) == (by, 0)
        (found,) = lower_parts([part], FLOOR.tolist())
        assert (found.by, found.drop) == ("the body", gap)
        stands = replace(part, needs_support=True)
        (found,) = lower_parts([stands], FLOOR.tolist(), frozenset({"a"}))
        assert (found.by == "the body", found.shelf is None and not found.pads) == (gap <= 1, gap <= 1)
    (found,) = lower_parts([replace(part, needs_support=True)], [(0, 0, -10, 9, 9, -5)])
    assert found.by == "shelf" or found.by == NOTHING


@pytest.mark.parametrize("room", [3, 7, 100])
def test_a_part_is_let_down_as_far_as_its_domain_and_all_below_let_it(room: int) -> None:
    """A stack that hangs 10, 8 and 6 tenths apart comes down one by one; what is kept clear holds it up."""
    boxes = [(0, 0, 10, 100, 100, 50), (0, 0, 58, 100, 100, 90), (0, 0, 96, 100, 100, 120)]
    parts = [LoweredPart(f"p{n}", (box,), (), room, needs_support=True) for n, box in enumerate(boxes)]
    for order in itertools.permutations(range(3)):
        found = lower_parts([parts[n] for n in order], FLOOR.tolist())
        assert [one.drop for one in found] == [min(room, (10, 18, 24)[n]) for n in order]
    kept = replace(parts[0], clearances=((0, 0, 50, 20, 20, 54),))
    found = lower_parts([kept, *parts[1:]], FLOOR.tolist())
    assert [one.drop for one in found] == [min(room, 10), min(room, 14), min(room, 20)]
    hanging = replace(parts[2], clearances=((80, 80, 92, 100, 100, 96),))
    found = lower_parts([*parts[:2], hanging], FLOOR.tolist())
    assert [one.drop for one in found] == [min(room, 10), min(room, 18), min(room, 20)]


def test_what_lay_on_another_comes_down_after_it() -> None:
    """An arm lies on a part that hangs, its leg lower than that: first the part falls, then the leg."""
    hooked = LoweredPart("a", ((0, 0, 20, 20, 40, 60), (20, 0, 50, 100, 40, 60)), (), 90, needs_support=True)
    under = LoweredPart("b", ((40, 0, 30, 80, 40, 50),), (), 90, needs_support=True)
    for parts in ((hooked, under), (under, hooked)):
        found = {one.name: one.drop for one in lower_parts(parts, FLOOR.tolist())}
        assert found == {"a": 20, "b": 30}
