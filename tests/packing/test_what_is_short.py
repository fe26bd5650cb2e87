"""By how much a lens misses its window, where a part fixed in a wall would be free: every case."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Mount
from fitplan.model.solids import DIRECTIONS, EDGE_WORDS, ORIGIN, Box, Direction, Place, Vec, axis_of, poses
from fitplan.model.vehicle import BodySolid, BuiltIn, Removable, State, Window, Zone
from fitplan.packing.vehicle.box_shortage import _past_window, box_shortage, room_by_size
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.shortage import pinned_shortage
from fitplan.packing.vehicle.wider_window import _stays_shut

from .small_trains import block, hollow


@pytest.mark.parametrize("out", DIRECTIONS)
@pytest.mark.parametrize("size", [(9.0, 7.0, 12.0), (12.5, 6.0, 20.0), (4.0, 4.0, 4.0), (11.0, 13.0, 5.0)])
@pytest.mark.parametrize("upright", [False, True])
def test_by_how_much_a_lens_misses_its_window(
    out: Direction, size: tuple[float, float, float], upright: bool
) -> None:
    """The least, over all poses that look out, of what lacks most across a window of 10 × 6 mm."""
    axis = axis_of(out)
    across = [k for k in range(3) if k != axis]
    high = [8.0, 8.0, 8.0]
    high[across[0]], high[across[1]] = 10.0, 6.0
    window = Window("hole", Box((0.0, 0.0, 0.0), (high[0], high[1], high[2])), out)
    made = replace(block("eye", size), mount=Mount(looks="+x", upright=upright, lens=Box((0, 0, 0), size)))
    missing, word, pose, text = _past_window(window, Wanted(Need("eye", (made,)), made))
    cases = {}
    for one in poses():
        if one.turn_direction("+x") != out or (upright and one.turn_direction("+z") != "+z"):
            continue
        lens = Place(one, ORIGIN).move_solid(Box((0, 0, 0), size)).bounds.size
        cases[one.name] = [round(max(lens[k] - high[k], 0.0), 1) for k in across]
    if not cases:
        return
    least = min(max(lacks) for lacks in cases.values())
    if least == 0:
        assert missing == 0
        return
    assert missing == pytest.approx(least)
    assert max(cases[pose]) == pytest.approx(least)
    longest = [EDGE_WORDS[k] for k, lack in zip(across, cases[pose], strict=True) if lack == max(cases[pose])]
    assert word in longest
    for k, lack in zip(across, cases[pose], strict=True):
        assert (f"{lack:.1f} mm of {EDGE_WORDS[k]}" in text) is (lack > 0)


def free(
    low: tuple[int, int, int], high: tuple[int, int, int], post: Box, size: tuple[int, int, int]
) -> np.ndarray:
    """Return (n, 3) every offset in tenths at which a box lies in a room and beside a post."""
    lines = [np.arange(low[k], high[k] - size[k] + 1) for k in range(3)]
    at = np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1).reshape(-1, 3)
    a, b = np.array(post.low) * 10, np.array(post.high) * 10
    meets = ((at < b) & (at + np.array(size) > a)).all(axis=1)
    return at[~meets]


@pytest.mark.parametrize(
    "offset",
    [
        (4.0, 10.0, 19.2),
        (10.0, 3.3, 19.2),
        (12.0, 12.0, 15.0),
        (18.0, 17.0, 20.0),
        (14.1, 12.5, 19.2),
        (30.0, 30.0, 40.0),
    ],
)
def test_the_nearest_free_place_of_a_part_that_is_fixed(offset: tuple[float, float, float]) -> None:
    """Of all offsets of a small room with a post in it the one fewest millimetres away, axes added up."""
    bare = hollow("v", 5, 5, 4)
    floor = bare.base + 3.2
    post = Box((16.0, 16.0, floor), (22.0, 20.0, floor + 12.8))
    vehicle = replace(bare, body=(*bare.body, BodySolid(post, "fixed")))
    made = block("b", (7.0, 6.0, 5.0))
    packer = Packer({"v": vehicle})
    problem = packer._problem(packer.cavity("v"), (Wanted(Need("b", (made,)), made),), "outward")
    fixed = Need("b", (made,), pinned=FixedPlace("v", pose="+x+y+z", offset=offset))
    missing, axis, pose, text = pinned_shortage(problem, "v", Wanted(fixed, made))
    room = free((80, 80, round(floor * 10)), (320, 320, round((floor + 12.8) * 10)), post, (70, 60, 50))
    away = np.abs(room - np.round(np.array(offset) * 10))
    best = away.sum(axis=1).min()
    if best == 0:
        assert (missing, axis, pose, text) == (0.0, "", "", "")
        return
    told = np.array([float(word) for word in text.split("[")[1].split("]")[0].split(", ")])
    assert (room == np.round(told * 10)).all(axis=1).any()
    mine = np.abs(told - np.array(offset))
    assert round(mine.sum() * 10) == best
    assert missing == pytest.approx(mine.max())
    assert mine[["length", "width", "height"].index(axis)] == pytest.approx(mine.max())
    assert pose == "+x+y+z"
    elsewhere = replace(fixed, pinned=FixedPlace("w", pose="+x+y+z", offset=offset))
    half = replace(fixed, pinned=FixedPlace("v", pose="+x+y+z"))
    for other in (elsewhere, half):
        assert pinned_shortage(problem, "v", Wanted(other, made)) == (0.0, "", "", "")


def test_a_part_that_has_no_place_at_all_in_its_pose_is_told_so() -> None:
    made = block("b", (40.0, 6.0, 5.0))
    packer = Packer({"v": hollow("v", 5, 5, 4)})
    problem = packer._problem(packer.cavity("v"), (Wanted(Need("b", (made,)), made),), "outward")
    fixed = Need("b", (made,), pinned=FixedPlace("v", pose="+x+y+z", offset=(0.0, 10.0, 19.2)))
    found = pinned_shortage(problem, "v", Wanted(fixed, made))
    assert found == (0.0, "", "+x+y+z", "b has no free place at all in v in the pose +x+y+z")


def test_what_stands_in_a_window_keeps_it_shut() -> None:
    """A pane fixed in it or a thing built in; not a lid that lifts off, nor what only touches its edge."""
    shape, hole = hollow("w", 8, 6, 6), Box((0.0, 12.5, 21.3), (8.0, 30.5, 33.7))

    def shut(low: Vec, high: Vec, state: State = "fixed", *, built_in: bool = False) -> bool:
        pane = Box(low, high)
        if built_in:
            thing = BuiltIn("lamp", "motor", (pane,))
            return _stays_shut(replace(shape, body=(), built_in=(thing,)), hole)
        lid = (Removable("lid", 1.0),) if state == "removable" else ()
        solid = BodySolid(pane, state, "lid" if lid else "")
        return _stays_shut(replace(shape, body=(solid,), removables=lid), hole)

    assert shut((3.3, 13.1, 22.2), (4.4, 30.1, 33.3))
    assert shut((3.3, 13.1, 22.2), (4.4, 30.1, 33.3), built_in=True)
    assert not shut((3.3, 13.1, 22.2), (4.4, 30.1, 33.3), "free")
    assert not shut((3.3, 13.1, 22.2), (4.4, 30.1, 33.3), "removable")
    for low, high in (((3.3, 3.1, 22.2), (4.4, 12.5, 33.3)), ((3.3, 13.1, 33.7), (4.4, 30.1, 44.4))):
        assert not shut(low, high)
        assert not shut(low, high, built_in=True)
    assert shut((3.3, 3.1, 22.2), (4.4, 12.6, 33.3))


@pytest.mark.parametrize("rounded", [0.0, 0.8])
def test_what_is_missing_is_counted_between_walls_as_they_are_drawn(rounded: float) -> None:
    """Walls that were rounded outwards when a mesh was read: a part that is 20 mm too long lacks 20 mm.

    As little as could be missing, were all of the rounding air, no one can make room for.
    """
    body = replace(hollow("v", 10, 6, 8), rounded=rounded)
    part = block("long", (84.0, 10.0, 6.0))
    entry = Wanted(Need("one", (part,)), part)
    missing, axis, _, text = box_shortage(body, "v", entry, room_by_size(body))
    assert (missing, axis) == (pytest.approx(20.0, abs=0.21), "length")
    assert text.startswith(f"{missing:.1f} mm of length are missing")


def test_zones_that_are_shut_are_not_counted_as_room() -> None:
    """50 mm in 64 mm of which a zone leaves 32: 18 mm are missing; to whom it is open, none are."""
    zone = Zone("seats", Box((40.0, 0.0, 0.0), (90.0, 60.0, 60.0)), parts=False, only=("two",))
    body = replace(hollow("v", 10, 6, 8), zones=(zone,))
    part = block("long", (50.0, 10.0, 20.0))
    for name, lacks in (("one", 18.0), ("two", 0.0)):
        entry = Wanted(Need(name, (part,)), part)
        missing, _, _, text = Packer({"v": body}).box_shortage("v", entry)
        assert missing == pytest.approx(lacks, abs=0.21)
        assert ("beside the zones that are shut to it" in text) == bool(lacks)
