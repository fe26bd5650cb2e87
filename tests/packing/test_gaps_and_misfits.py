"""Plates over a gap in bricks, room under a part, by how much a part misses its seat: beside every case."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Mount
from fitplan.model.solids import DIRECTIONS, Box, Direction, axis_of, is_forward, opposite, plane_of
from fitplan.model.vehicle import BuiltIn, Face, Opening, Window
from fitplan.packing.vehicle.lowering import LoweredPart, _up_to_the_part
from fitplan.packing.vehicle.seat_proof import no_seat
from fitplan.packing.vehicle.stud_cells import BRICK, CLEAR, HARD, OUTSIDE, REMOVABLE, StudCells
from fitplan.packing.vehicle.wider_window import _outline, _plates, _runs
from fitplan.packing.vehicle.window_places import WindowCut

from .small_trains import block, hollow

ROOM = hollow("v", 12, 8, 12)


@pytest.mark.parametrize("seed", range(12))
def test_plates_lie_over_what_is_left_bare(seed: int) -> None:
    """Row by row: over each run of cells with bricks above and nothing in them, of which some go.

    A plate reaches onto what bears beside the run; where that is on one side only it is said, and where it is
    on none there is no plate. What a lid takes along is left alone.
    """
    rng = random.Random(seed)
    size = (3, 7, 4)
    kinds = np.array([rng.choices((CLEAR, BRICK, REMOVABLE, OUTSIDE, HARD), (4, 6, 1, 1, 1))[0]
                      for _ in range(int(np.prod(size)))], dtype=np.uint8).reshape(size)  # fmt: skip
    cells = StudCells(kinds, np.full(size, ""), 160)
    bricks = [tuple(cell) for cell in np.argwhere(kinds == BRICK).tolist()]
    gone = frozenset(rng.sample(bricks, len(bricks) // 3))
    # The top layer of cells from x 8 to 16 is part of a lid.
    lid = Opening("lid", cells.box((1, 0, 3), (2, 7, 4)), "+z")
    flap = Opening("flap", cells.box((0, 0, 0), (3, 7, 4)), "+y")
    vehicle = replace(ROOM, openings=(lid, flap))

    def bears(i: int, j: int, k: int) -> bool:
        inside = 0 <= j < 7 and 0 <= k < 4
        return inside and (i, j, k) not in gone and int(kinds[i, j, k]) in (BRICK, REMOVABLE, HARD)

    plates, one_sided = set(), False
    for i in range(3):
        for k in range(4):
            bare = [
                not bears(i, j, k) and bears(i, j, k + 1) and not (i == 1 and k + 1 == 3) for j in range(7)
            ]
            for first in range(7):
                for last in range(first, 7):
                    whole = all(bare[first : last + 1])
                    longest = (first == 0 or not bare[first - 1]) and (last == 6 or not bare[last + 1])
                    if not whole or not longest or not any((i, j, k) in gone for j in range(first, last + 1)):
                        continue
                    left, right = bears(i, first - 1, k), bears(i, last + 1, k)
                    one_sided |= not (left and right)
                    if left or right:
                        plates.add(cells.box((i, first - left, k + 1), (i + 1, last + 1 + right, k + 2)))
    found, said = _plates(vehicle, cells, gone)  # type: ignore[arg-type]
    assert set(found) == plates
    assert len(found) == len(plates)
    assert said == one_sided


def test_unbroken_runs() -> None:
    assert list(_runs([])) == []
    assert list(_runs([4])) == [(4, 4)]
    assert list(_runs([1, 2, 3, 5, 7, 8])) == [(1, 3), (5, 5), (7, 8)]


@pytest.mark.parametrize("out", ["+x", "-x", "+y", "-y"])
def test_a_widened_window_is_as_wide_as_its_cells_and_as_thick_as_it_was(out: Direction) -> None:
    axis = axis_of(out)
    cells = StudCells(np.zeros((6, 5, 8), dtype=np.uint8), np.full((6, 5, 8), ""), 160)
    window = Window("gap", Box((3, 4, 20), (11, 12, 30)), out)
    cut = WindowCut(0, 0, 0, (), ((1, 2, 3), (4, 4, 6)))
    wide = _outline(cells, window, cut)
    whole = Box((8.0, 16.0, 16 + 9.6), (32.0, 32.0, 16 + 19.2))
    for k in range(3):
        box = window.box if k == axis else whole
        assert (wide.low[k], wide.high[k]) == pytest.approx((box.low[k], box.high[k]))


@pytest.mark.parametrize("seed", range(3))
def test_a_shelf_ends_at_the_lowest_of_what_lies_over_it(seed: int) -> None:
    """Of a part's boxes those that lie over the shelf and above its foot; no higher than it was."""
    rng = random.Random(seed)
    for _ in range(200):
        boxes = []
        for _ in range(3):
            x, y, z = rng.randrange(12), rng.randrange(12), rng.randrange(14)
            boxes.append((x, y, z, x + rng.randint(1, 6), y + rng.randint(1, 6), z + rng.randint(1, 5)))
        x, y, z = rng.randrange(8), rng.randrange(8), rng.randrange(8)
        shelf = (x, y, z, x + rng.randint(1, 9), y + rng.randint(1, 9), z + rng.randint(1, 12))
        part = LoweredPart("part", tuple(boxes), (), 0, True)
        tops = {shelf[5]}
        for box in boxes:
            cells = {(a, b) for a in range(box[0], box[3]) for b in range(box[1], box[4])}
            under = {(a, b) for a in range(shelf[0], shelf[3]) for b in range(shelf[1], shelf[4])}
            if cells & under and box[2] > shelf[2]:
                tops.add(box[2])
        assert _up_to_the_part(part, shelf) == (*shelf[:5], min(tops))


# -- seats -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("out", DIRECTIONS)
def test_by_how_much_a_lens_misses_its_window_along_each_axis(out: Direction) -> None:
    """A lens of 30 × 20 mm before a window of 24 × 18: 6 and 2 mm, or 12 and nothing turned on its side."""
    axis = axis_of(out)
    across = [k for k in range(3) if k != axis]
    low, high = [30.0, 20.0, 24.0], [30.0, 20.0, 24.0]
    edge = plane_of(ROOM.hull, out)
    low[axis], high[axis] = (edge - 8, edge) if is_forward(out) else (edge, edge + 8)
    high[across[0]] += 24.0
    high[across[1]] += 18.0
    window = Window("gap", Box((low[0], low[1], low[2]), (high[0], high[1], high[2])), out)
    vehicle = replace(ROOM, windows=(window,))
    part = block("eye", (6.0, 30.0, 20.0), mount=Mount(looks="+x", needs_support=False))
    need = Need("eye", (part,), looks=("v", "gap"))
    found = no_seat(part, need, "v", vehicle, play=0.0)
    assert found is not None
    missing = [0.0, 0.0, 0.0]
    missing[across[0]], missing[across[1]] = 6.0, 2.0
    assert found.missing_mm == pytest.approx(tuple(missing))
    assert found.fixed_by == "in the window gap"
    assert found.poses == sum(pose.turn_direction("+x") == out for pose in part.mount.allowed_poses()) == 4
    # With two millimetres of play on each side 2 and nothing are left; with three nothing is.
    play = no_seat(part, need, "v", vehicle, play=2.0)
    assert play is not None
    assert sum(play.missing_mm) == pytest.approx(2.0)
    assert no_seat(part, need, "v", vehicle, play=3.01) is None
    assert no_seat(part, replace(need, looks=("w", "gap")), "v", vehicle, play=0.0) is not None


@pytest.mark.parametrize("side", DIRECTIONS)
@pytest.mark.parametrize("beyond", [0.0, 3.0])
def test_where_a_plane_is_asked_it_is_in_the_hull_or_misses_it(side: Direction, beyond: float) -> None:
    """The side of the part in a plane at the hull's own, or 3 mm beyond it."""
    axis, plane = axis_of(side), plane_of(ROOM.hull, side)
    at = plane + beyond if is_forward(side) else plane - beyond
    part = block("b", (9.0, 8.0, 7.0))
    need = Need("b", (part,), pinned=FixedPlace("v", planes=((side, at),)))
    found = no_seat(part, need, "v", ROOM, play=0.0)
    if not beyond:
        assert found is None
        return
    assert found is not None
    assert found.missing_mm[axis] == pytest.approx(beyond)
    assert sum(found.missing_mm) == pytest.approx(beyond)
    assert found.fixed_by == "where it is fixed"
    assert no_seat(part, replace(need, pinned=FixedPlace("w", planes=((side, at),))), "v", ROOM) is not None


@pytest.mark.parametrize("out", DIRECTIONS)
def test_by_how_much_a_part_on_a_face_stands_out_of_the_hull(out: Direction) -> None:
    """A face 6 mm within the hull; the part is 9 mm thick there in any pose that it may take."""
    axis = axis_of(out)
    edge = plane_of(ROOM.hull, out)
    at = edge - 6 if is_forward(out) else edge + 6
    low, high = [30.0, 26.0, 30.0], [50.0, 36.0, 40.0]
    low[axis] = high[axis] = at
    face = Face("side", Box((low[0], low[1], low[2]), (high[0], high[1], high[2])), out)
    vehicle = replace(ROOM, built_in=(BuiltIn("motor", "motor", (), faces=(face,)),))
    part = block("lamp", (5.0, 6.0, 9.0), mount=Mount(sits="-z"))
    need = Need("lamp", (part,), sits=("v", "motor", "side"))
    found = no_seat(part, need, "v", vehicle, play=0.0)
    assert found is not None
    assert found.missing_mm[axis] == pytest.approx(3.0)
    assert found.fixed_by == "on the face side"
    assert found.poses == sum(p.turn_direction("-z") == opposite(out) for p in part.mount.allowed_poses())
    flat = replace(part, mount=Mount(sits="-y"))
    assert no_seat(flat, Need("lamp", (flat,), sits=("v", "motor", "side")), "v", vehicle, play=0.0) is None
