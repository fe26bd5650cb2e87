"""Places fixed in some respects: seats against the turned box itself, and against the proof of none."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Access
from fitplan.model.solids import DIRECTIONS, Box, Direction, Place, axis_of, plane_of
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.seat_proof import no_seat
from fitplan.packing.vehicle.seats import Wanted, seats
from tests.packing.small_trains import block, hollow

WAGON = hollow("wagon", 10, 6, 9)
BOARD = replace(block("board", (30.0, 14.0, 6.0)), access=(Access("plug", "console", "-y", often=False),))
TENTHS = st.integers(-400, 1200).map(lambda number: number / 10)
SIDES = st.sampled_from(DIRECTIONS)


@given(
    towards=st.dictionaries(st.sampled_from(["+z", "+x", "-y", "plug"]), SIDES, max_size=2),
    planes=st.dictionaries(SIDES, TENTHS, max_size=3),
)
def test_every_seat_lies_as_it_is_fixed_and_none_is_missed(
    towards: dict[Direction, Direction], planes: dict[Direction, float]
) -> None:
    """Corners of every domain obey each word; where there is no seat, the proof in millimetres agrees."""
    fixed = FixedPlace("wagon", towards=tuple(towards.items()), planes=tuple(planes.items()))
    need = Need("board", (BOARD,), pinned=fixed)
    found = seats(BOARD, need, "wagon", WAGON)
    for seat in found:
        for box in seat.offsets:
            for corner in (box[:3], box[3:]):
                place = Place(seat.pose, (corner[0] / 10, corner[1] / 10, corner[2] / 10))
                lies = place.move_solid(BOARD.envelope[0]).bounds
                for side, plane in planes.items():
                    assert abs(plane_of(lies, side) - plane) < 1e-6
                for name, way in towards.items():
                    side = "-y" if name == "plug" else name
                    assert place.pose.turn_direction(side) == way
    assert bool(found) == (no_seat(BOARD, need, "wagon", WAGON, play=0.0) is None)
    assert not seats(BOARD, need, "other", WAGON)


def test_what_is_left_open_is_found() -> None:
    """Seven studs from the rear and the plug to the front: the board lies across, and stands on the floor."""
    fixed = FixedPlace("wagon", towards=(("plug", "+x"), ("+z", "+z")), planes=(("-x", 56.0),))
    need = Need("board", (BOARD,), pinned=fixed)
    packed = Packer({"wagon": WAGON}).pack_as_it_is("wagon", (Wanted(need, BOARD),))
    assert packed.holds
    (placement,) = packed.placements
    assert placement.bounds.low[0] == 56.0
    assert placement.bounds.size == (14.0, 30.0, 6.0)
    assert placement.bounds.low[2] < 20.0
    assert placement.place.pose.turn_direction("-y") == "+x"


def test_what_cannot_lie_so_is_no_guess() -> None:
    """Its rear 4 mm from the rear wall's outside: the wall is 8 mm thick, and that is proved."""
    need = Need("board", (BOARD,), pinned=FixedPlace("wagon", planes=(("-x", 4.0),)))
    packed = Packer({"wagon": WAGON}).pack_as_it_is("wagon", (Wanted(need, BOARD),))
    assert not packed.holds
    assert packed.verdict == "cannot fit"


def test_two_planes_of_one_axis_leave_the_poses_that_span_them() -> None:
    """Rear end at 16 mm and front end at 30 mm: 14 mm long, so it lies across or stands on its side."""
    fixed = FixedPlace("wagon", planes=(("-x", 16.0), ("+x", 30.0)))
    found = seats(BOARD, Need("board", (BOARD,), pinned=fixed), "wagon", WAGON)
    assert found
    for seat in found:
        size = Place(seat.pose, (0.0, 0.0, 0.0)).move_solid(Box((0, 0, 0), (30, 14, 6))).bounds.size
        assert size[axis_of("+x")] == 14.0


def test_a_part_is_let_down_unless_its_height_is_said() -> None:
    """Where a place leaves the height open it is looked for on the floor, packed exactly or loosely."""
    open_, said = FixedPlace("wagon", towards=(("plug", "-x"),)), FixedPlace("wagon", planes=(("-z", 30.0),))
    assert not Need("board", (BOARD,), pinned=open_).is_held
    assert Need("board", (BOARD,), pinned=said).is_held
    assert Need("board", (BOARD,), pinned=FixedPlace("wagon", "+x+y+z", (20.0, 20.0, 30.0))).is_held
    assert Need("board", (BOARD,), looks=("wagon", "window")).is_held
    assert not Need("board", (BOARD,)).is_held
