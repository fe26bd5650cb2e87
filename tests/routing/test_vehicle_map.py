"""The map of a vehicle as its wires see it."""

from __future__ import annotations

from fitplan.model.part import Part
from fitplan.model.plan import Piece, Placement, Shelf
from fitplan.model.solids import Box, Place, pose_named
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
