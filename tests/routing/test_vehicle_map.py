"""The map of a vehicle as its wires see it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.part import Part
from fitplan.model.placed import Piece, Placement, Shelf
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.vehicle import BodySolid
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.handedness import mirrored_end, mirrored_map
from fitplan.routing.map.vehicle_map import VehicleMap
from tests.packing.small_trains import hollow


def test_wires_keep_out_of_what_carries_a_part() -> None:
    """Where a stack of plates stands no wire may be; without it the same voxels are free."""
    part = Part("p", "p", "lamp", (Box((0, 0, 0), (16, 16, 4)),), 2.0, "invented for a test")
    stack = Box((24, 16, 19.2), (32, 24, 28.8))
    shelf = Shelf("plates", (Piece("brick 1 × 1", stack),), 1)
    bare = Placement("p", part, "v", Place(pose_named("+x+y+z"), (20, 12, 30)), "plates under it")
    carried = Placement(bare.need, part, "v", bare.place, bare.carried_by, shelf)
    vehicle = hollow("v", 10, 6, 9)
    without, with_shelf = (VehicleMap.of("v", vehicle, (one,), frozenset()) for one in (bare, carried))
    inside = without.frame.box_slice(stack, "inward")
    assert without.free[inside].all()
    assert not with_shelf.free[inside].any()


def test_a_lead_out_does_not_pass_through_another_part() -> None:
    """Beyond a plate of 3 mm that stands against a pin there is room, and no lead-out leads through it.

    A pin 3 mm below the top of its own board leads out over it; one in its middle is walled in.
    """
    vehicle = hollow("v", 12, 6, 10)
    plate = Part("s", "s", "switch", (Box((0, 0, 0), (3, 24, 26)),), 1.0, "invented for a test")
    board = Part("b", "b", "regulator", (Box((0, 0, 0), (20, 20, 20)),), 1.0, "invented for a test")
    stand = pose_named("+x+y+z")
    placements = (
        Placement("board", board, "v", Place(stand, (20, 14, 19.2)), "the body"),
        Placement("plate", plate, "v", Place(stand, (40, 12, 19.2)), "the body"),
    )
    alone, beside = (VehicleMap.of("v", vehicle, some, frozenset()) for some in (placements[:1], placements))
    high, middle = (NetEnd("n", "board", "p", "v", (40.0, 24.0, z), "+x") for z in (36.2, 29.2))
    for end in (high, middle):
        first = alone.start_at(end)
        assert first is not None
        assert alone.frame.center(first)[0] > 40
    assert beside.start_at(middle) is None
    over = beside.start_at(high)
    assert over is not None
    x, _, z = beside.frame.center(over)
    assert x < 40 or x > 43
    assert z > 39.2
    image = mirrored_map(beside)
    assert image.start_at(mirrored_end(middle, vehicle.width)) is None
    assert image.start_at(mirrored_end(high, vehicle.width)) is not None


def test_a_lead_out_does_not_pass_through_a_wall() -> None:
    """A pin against an inner wall of 2 mm does not lead out on the wall's other side."""
    vehicle = hollow("v", 12, 6, 10)
    wall = BodySolid(Box((40.0, 8.0, 19.2), (42.4, 40.0, 51.2)), "fixed")
    vehicle = replace(vehicle, body=(*vehicle.body, wall))
    board = Part("b", "b", "regulator", (Box((0, 0, 0), (20, 20, 20)),), 1.0, "invented for a test")
    place = Placement("board", board, "v", Place(pose_named("+x+y+z"), (20, 14, 19.2)), "the body")
    map_ = VehicleMap.of("v", vehicle, (place,), frozenset())
    assert map_.start_at(NetEnd("n", "board", "p", "v", (40.0, 24.0, 29.2), "+x")) is None


def test_a_pin_that_looks_out_of_an_open_end_does_not_lead_back_through_its_part() -> None:
    """A board flush with the open end of a tray has no way from there; a stud further in it has."""
    tray = hollow("v", 12, 6, 10)
    open_end = BodySolid(Box((88.0, 8.0, 19.2), (96.0, 40.0, 51.2)), "free")
    tray = replace(tray, body=(*tray.body, open_end))
    board = Part("b", "b", "regulator", (Box((0, 0, 0), (20, 20, 20)),), 1.0, "invented for a test")
    for low, found in ((76.0, False), (68.0, True)):
        there = Placement("board", board, "v", Place(pose_named("+x+y+z"), (low, 14, 20.9)), "the body")
        map_ = VehicleMap.of("v", tray, (there,), frozenset())
        start = map_.start_at(NetEnd("n", "board", "p", "v", (low + 20.0, 24.0, 23.0), "+x"))
        assert (start is not None) is found
        if start is not None:
            assert map_.frame.center(start)[0] > low + 20.0


def test_a_port_carries_rows_of_wires_unless_a_part_lies_in_it() -> None:
    """An opening of 8 × 6.4 mm carries 5 × 4 wires of 1.4 mm in straight rows, however few lanes it has.

    With a part in it only the lanes count that are known to go through.
    """
    vehicle = hollow("v", 12, 6, 10)
    port = vehicle.ports[1]
    plug = Part("s", "s", "switch", (Box((0, 0, 0), (6, 4, 4)),), 1.0, "invented for a test")
    inside = Placement("s", plug, "v", Place(pose_named("+x+y+z"), (2, 22, 19.2)), "the body")
    clear, blocked = (VehicleMap.of("v", vehicle, some, frozenset()) for some in ((), (inside,)))
    assert clear.place(port, [1.4] * 3, [1.0, 1.4]).capacity >= 20
    assert clear.place(port, [1.4] * 99, [1.4]).capacity == 99
    assert blocked.place(port, [1.4] * 3, [1.0, 1.4]).capacity == 3


def test_wires_lie_behind_an_opening_as_in_it_while_it_goes_on_free() -> None:
    """Behind an opening of 8 × 1.6 mm its strip is the wires' own, up to a part that stands there."""
    body = hollow("v", 12, 6, 10)
    port = body.ports[1]
    low = port.box.low
    slit = replace(port, box=Box(low, (port.box.high[0], low[1] + 8.0, low[2] + 1.6)))
    body = replace(body, ports=(slit,))
    stands = Part("s", "s", "switch", (Box((0, 0, 0), (6, 4, 4)),), 1.0, "invented for a test")
    near, far = (
        Placement("s", stands, "v", Place(pose_named("+x+y+z"), (x, 22, 19.2)), "the body")
        for x in (8.0, 10.4)
    )
    deep = []
    for inside in ((), (near,), (far,)):
        map_ = VehicleMap.of("v", body, inside, frozenset())
        place = map_.place(slit, [1.0] * 7, [1.0])
        assert place.bundle_mm == pytest.approx(3.0, abs=1e-6)
        centers = map_.frame.centers(place.behind)
        assert all(low[1] < y < low[1] + 8.0 and low[2] < z < low[2] + 1.6 for _, y, z in centers.tolist())
        deep.append(float(centers[:, 0].max(initial=8.0)) - 8.0)
    assert deep[0] == pytest.approx(4 * 0.8 - 0.4)
    assert deep[1] == 0.0
    assert 0 < deep[2] < 2.4
