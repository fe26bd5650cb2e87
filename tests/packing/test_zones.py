"""Zones that shut parts or wires out: what the packer leaves, against every offset looked at in turn."""

from __future__ import annotations

import itertools
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.lattice.space import VehicleSpace
from fitplan.model.needed import Need
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.vehicle import Zone
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.seats import Wanted, seats
from fitplan.packing.vehicle.zoned import out_of_zones
from tests.packing.small_trains import block, hollow

ROOM = hollow("v", 8, 6, 6)
CORNERS = st.tuples(*[st.integers(0, 12)] * 6)


@settings(max_examples=60, deadline=None)
@given(corners=CORNERS, size=st.tuples(*[st.integers(1, 6)] * 3), shut=st.booleans())
def test_offsets_out_of_a_zone_are_those_found_one_by_one(
    corners: tuple[int, ...], size: tuple[int, int, int], shut: bool
) -> None:
    """In tenths: an offset stays when the part's open box and the zone's do not meet, and no other."""
    low = tuple(min(a, b) / 10 for a, b in zip(corners[:3], corners[3:], strict=True))
    high = tuple((max(a, b) + 1) / 10 for a, b in zip(corners[:3], corners[3:], strict=True))
    zone = Zone("z", Box(low, high), parts=False, only=() if shut else ("a",))  # type: ignore[arg-type]
    part = block("p", tuple(value / 10 for value in size), pins=0)  # type: ignore[arg-type]
    pose = pose_named("+x+y+z")
    left = out_of_zones(
        [(0, 0, 0, 12, 12, 12)], part, pose, Need("a", (part,)), replace(ROOM, zones=(zone,)), "outward"
    )
    cells = [tuple(round(value * 10) for value in corner) for corner in (low, high)]
    for at in itertools.product(range(13), repeat=3):
        meets = shut and all(at[i] < cells[1][i] and at[i] + size[i] > cells[0][i] for i in range(3))
        assert sum(all(b[i] <= at[i] <= b[i + 3] for i in range(3)) for b in left) == (not meets)


def test_a_part_goes_where_the_zones_let_it() -> None:
    """Half of the room is shut to all but one: two blocks that fill it change sides with their names."""
    box = Box((8.0, 8.0, 19.2), (32.0, 40.0, 38.4))
    half = block("half", (24.0, 32.0, 19.0))
    for first, second in (("a", "b"), ("b", "a")):
        vehicle = replace(ROOM, zones=(Zone("rear", box, parts=False, only=(first,)),))
        needs = tuple(Need(name, (half,)) for name in ("a", "b"))
        packed = Packer({"v": vehicle}).pack_as_it_is("v", [Wanted(need, half) for need in needs])
        assert packed.verdict == "fits"
        at = {entry.need: entry.place.move_solid(half.bounds).bounds.low[0] for entry in packed.placements}
        assert at[first] < 32.0 <= at[second]


def test_nothing_fits_where_all_is_shut() -> None:
    """No seat is left by a zone over all of the room, and what is not shut keeps every one."""
    part = block("p", (16.0, 16.0, 10.0))
    need = Need("a", (part,))
    shut = replace(ROOM, zones=(Zone("all", ROOM.hull, parts=False),))
    open_to_it = replace(ROOM, zones=(Zone("all", ROOM.hull, parts=False, only=("a",)),))
    assert seats(part, need, "v", shut) == ()
    assert seats(part, need, "v", open_to_it) == seats(part, need, "v", ROOM)


def test_no_pin_lies_where_no_wire_may_be() -> None:
    """Of a zone without wires over half of the room, every seat keeps every pin out."""
    part = block("p", (16.0, 16.0, 10.0))
    box = Box((8.0, 8.0, 19.2), (32.0, 40.0, 38.4))
    vehicle = replace(ROOM, zones=(Zone("gears", box, wires=False),))
    found = seats(part, Need("a", (part,)), "v", vehicle)
    assert found
    for seat in found:
        for offset in (corner for one in seat.offsets for corner in (one[:3], one[3:])):
            place = Place(seat.pose, tuple(value / 10 for value in offset))  # type: ignore[arg-type]
            for pin in part.pins:
                at = place.move(pin.at)
                assert any(not box.low[i] < at[i] < box.high[i] for i in range(3))


def test_wires_keep_out_in_voxels() -> None:
    """No voxel that the zone touches is free for wires, and all others are as before."""
    box = Box((10.0, 10.0, 20.0), (20.5, 30.0, 30.0))
    before = VehicleSpace.of(ROOM)
    after = VehicleSpace.of(replace(ROOM, zones=(Zone("gears", box, wires=False),)))
    inside = after.without_wires()
    assert inside.any()
    assert (after.wire_free() == (before.wire_free() & ~inside)).all()
    assert (after.free() == before.free()).all()
