"""Stretches of bundles lie where their wires run once these are taut, and pass one port each."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from fitplan.model.wired import Stretch
from fitplan.routing.harness.shared_ways import shared_ways
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.topology import Segment
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.layout import LaidSegment, Layout, Pulled
from fitplan.routing.negotiation.vehicle_wiring import NOWHERE
from tests.packing.small_trains import hollow


def told(
    *ways: tuple[tuple[tuple[int, int, int], ...], tuple[tuple[float, float, float], ...]],
) -> list[Stretch]:
    """Return the stretches of wires, given as corners among voxels and taut points, in a box."""
    map_ = VehicleMap.of("v", hollow("v", 16, 8, 14), (), frozenset())
    layout = Layout({"v": map_})
    pulled, numbers = {}, {}
    for number, (corners, points) in enumerate(ways, 1):
        rows = [corners[0]]
        for corner in corners[1:]:
            while rows[-1] != corner:
                rows.append(tuple(a + int(np.sign(b - a)) for a, b in zip(rows[-1], corner, strict=True)))  # type: ignore[arg-type]
        ends = [NetEnd("n", f"part {number}", str(i), "v", (0.0, 0.0, 0.0), "+x") for i in range(2)]
        laid = LaidSegment(Segment("n", "v", *ends), np.array(rows, dtype=np.int32), (), NOWHERE)
        layout.laid.append(laid)
        pulled[id(laid)] = Pulled(points, 1.0, 1.0, ())
        numbers[id(laid)] = number
    return list(shared_ways(layout, pulled, {"n": 1.0}, numbers))


def centre(map_voxel: tuple[int, int, int]) -> tuple[float, float, float]:
    """Return the middle of a voxel of that box in mm."""
    x, y, z = VehicleMap.of("v", hollow("v", 16, 8, 14), (), frozenset()).frame.center(map_voxel)
    return (x, y, z)


def test_a_taut_wire_that_leaves_its_way_is_a_stretch_of_its_own() -> None:
    """Three wires share the way along a wall; two are pulled across the room, 30 mm off at the farthest."""
    start, corner, end = (20, 20, 30), (20, 60, 30), (120, 60, 30)
    along = (centre(start), centre(corner), centre(end))
    across = (centre(start), centre(end))
    shared = told(((start, corner, end), along), ((start, corner, end), along))
    assert [stretch.wires for stretch in shared] == [(1, 2)]
    apart = told(*(((start, corner, end), taut) for taut in (along, across, across)))
    assert [stretch.wires for stretch in apart] == [(1,), (2, 3)]
    assert apart[1].points == tuple(tuple(round(c, 4) for c in point) for point in across)
    assert apart[1].length_mm == round(float(np.linalg.norm(np.subtract(*across))), 2)


def test_a_wire_from_port_to_port_is_a_stretch_at_each() -> None:
    """A wire alone straight through both holes of a box is told at both."""
    map_ = VehicleMap.of("v", hollow("v", 16, 8, 14), (), frozenset())
    low = map_.mouth(map_.vehicle.ports[1])[0]
    high = (map_.mouth(map_.vehicle.ports[0])[0][0], low[1], low[2])
    found = told(((low, high), (centre(low), centre(high))))
    assert sorted(stretch.port for stretch in found) == ["front hole", "rear hole"]
    assert found[0].points[-1] == found[1].points[0]
    assert all(stretch.wires == (1,) for stretch in found)
    whole = float(np.linalg.norm(np.subtract(centre(low), centre(high))))
    assert abs(sum(stretch.length_mm for stretch in found) - whole) < 0.1


def test_a_wire_that_ends_where_it_begins_is_told() -> None:
    """From a pin in the mouth of a port a wire has one voxel; it passes the port all the same."""
    map_ = VehicleMap.of("v", hollow("v", 16, 8, 14), (), frozenset())
    at = map_.mouth(map_.vehicle.ports[1])[0]
    found = told(((at,), (centre(at), centre(at))))
    assert [(stretch.wires, stretch.port) for stretch in found] == [((1,), "rear hole")]


def test_ways_that_leave_in_twos_are_told_in_twos() -> None:
    """Of four wires that share a way among voxels two lie along one wall once taut, two along another."""
    start, corner, end = (20, 20, 30), (20, 60, 30), (120, 60, 30)
    high = (centre(start), centre((20, 20, 60)), centre((120, 20, 60)), centre((120, 60, 60)), centre(end))
    low = (centre(start), centre((120, 20, 30)), centre(end))
    found = told(*(((start, corner, end), taut) for taut in (high, low, low, high)))
    assert [stretch.wires for stretch in found] == [(1, 4), (2, 3)]
    assert [stretch.diameter_mm for stretch in found] == [2.0, 2.0]
    for stretch, taut in zip(found, (high, low), strict=True):
        assert stretch.points == tuple(tuple(round(c, 4) for c in point) for point in taut)
        along = sum(float(np.linalg.norm(np.subtract(a, b))) for a, b in pairwise(taut))
        assert stretch.length_mm == round(along, 2)


def test_ways_one_step_farther_apart_are_told_apart() -> None:
    """Two wires that left their way share theirs at 4.8 mm from each other, and not at 5.6 mm."""
    start, corner, end = (20, 20, 30), (20, 60, 30), (120, 60, 30)
    taut = (centre(start), centre((120, 20, 30)), centre(end))
    for aside, groups in ((6, [(1, 2)]), (7, [(1,), (2,)])):
        other = (centre(start), centre((120, 20, 30 + aside)), centre(end))
        found = told(((start, corner, end), taut), ((start, corner, end), other))
        assert [stretch.wires for stretch in found] == groups


def test_a_wire_that_runs_against_the_others_shares_their_way() -> None:
    """Which end of a wire is its start makes no difference to what it shares, where, and how long."""
    start, corner, end = (20, 20, 30), (20, 60, 30), (120, 60, 30)
    across = (centre(start), centre(end))
    ways = [((start, corner, end), across), ((end, corner, start), across[::-1])]
    (one,), (other,) = told(*ways), told(*reversed(ways))
    assert one.wires == other.wires == (1, 2)
    assert one.length_mm == other.length_mm
    assert sorted(one.points) == sorted(other.points)
