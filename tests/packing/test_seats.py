"""Seats: which poses and offsets the mount rules allow."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.needed import Need
from fitplan.model.part import Mount
from fitplan.model.solids import Box, Place
from fitplan.model.vehicle import BodySolid, BuiltIn, Face, Window
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.seats import Wanted, seats
from tests.packing.small_trains import block, hollow


@pytest.mark.parametrize(
    ("mount", "count"),
    [(Mount(), 24), (Mount(upright=True), 4), (Mount(turnable=False), 1), (Mount(up=("+z", "-z")), 8)],
)
def test_mount_rules_leave_the_right_number_of_poses(mount: Mount, count: int) -> None:
    """24 turnings of a cube, 4 about the upright axis, 1 when it may not be turned, 8 with two faces up."""
    assert len(mount.allowed_poses()) == count


def test_a_part_that_looks_out_has_its_lens_inside_the_window() -> None:
    """At every corner of every allowed offset the lens lies inside the window and looks out of it."""
    window = Window("gap", Box((72.0, 10.0, 24.0), (80.0, 40.0, 44.0)), "+x")
    vehicle = hollow("v", 10, 6, 9, windows=(window,))
    part = block(
        "eye", (20.0, 20.0, 10.0), mount=Mount(looks="+x", lens=Box((20.0, 4.0, 2.0), (20.0, 16.0, 8.0)))
    )
    found = seats(part, Need("eye", (part,), looks=("v", "gap")), "v", vehicle)
    assert found
    for seat in found:
        assert seat.pose.turn_direction("+x") == "+x"
        for box in seat.offsets:
            for corner in (box[:3], box[3:]):
                offset = (corner[0] / 10, corner[1] / 10, corner[2] / 10)
                lens = Place(seat.pose, offset).move_solid(part.mount.lens or part.bounds).bounds
                assert all(window.box.low[i] - 1e-9 <= lens.low[i] for i in (1, 2))
                assert all(lens.high[i] <= window.box.high[i] + 1e-9 for i in (1, 2))
                assert 72.0 - 1e-9 <= lens.high[0] <= 80.0 + 1e-9


def test_a_part_that_looks_out_has_no_seat_elsewhere() -> None:
    """A need that names a window keeps its part out of every other vehicle."""
    part = block("eye", (20.0, 20.0, 10.0), mount=Mount(looks="+x"))
    assert seats(part, Need("eye", (part,), looks=("v", "gap")), "other", hollow("other", 10, 6, 9)) == ()


def test_a_part_that_sits_touches_the_face() -> None:
    """The sitting face lies in the plane of the receiver's face, in the pose that turns it there."""
    eye = Face("eye", Box((30.0, 20.0, 30.0), (38.0, 28.0, 30.0)), "+z")
    receiver = BuiltIn("receiver", "receiver", (Box((26.0, 16.0, 19.2), (42.0, 32.0, 30.0)),), (eye,))
    vehicle = hollow("v", 10, 6, 9, built_in=(receiver,))
    part = block("emitter", (9.0, 5.0, 5.0), mount=Mount(sits="+x"))
    found = seats(part, Need("emitter", (part,), sits=("v", "receiver", "eye")), "v", vehicle)
    assert found
    for seat in found:
        assert seat.pose.turn_direction("+x") == "-z"
        for box in seat.offsets:
            place = Place(seat.pose, (box[0] / 10, box[1] / 10, box[2] / 10))
            assert place.move_solid(part.bounds).bounds.low[2] == pytest.approx(30.0)


def test_nothing_of_the_body_stands_before_the_middle_of_a_lens() -> None:
    """A window half shut by a block on its sill: the part that looks out of it looks over the block.

    On the floor it would lie as well, its lens inside the window's outline, and see the block alone.
    """
    window = Window("front window", Box((88.0, 16.0, 19.2), (96.0, 32.0, 43.2)), "+x")
    body = hollow("wagon", 12, 6, 10, windows=(window,))
    block_on_sill = BodySolid(Box((92.0, 16.0, 19.2), (96.0, 32.0, 30.0)), "fixed")
    eye = block("eye", (6.0, 10.0, 10.0), mount=Mount(looks="+x", needs_support=False))
    entry = Wanted(Need("eye", (eye,), looks=("wagon", "front window")), eye)
    for vehicle, least in ((body, 24.2), (replace(body, body=(*body.body, block_on_sill)), 30.0)):
        packer = Packer({"wagon": vehicle})
        (place,) = packer.pack_as_it_is("wagon", (entry,)).placements
        middle = place.place.move_solid(eye.bounds).bounds.center[2]
        assert least <= middle <= least + 0.3
        assert packer.pack_as_it_is("wagon", (entry,)).verdict == "fits"
