"""How much of a lead-out lies inside boxes and cylinders, beside points counted along it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitplan.model.part import Part
from fitplan.model.placed import Placement
from fitplan.model.solids import AXES, Axis, Box, Cylinder, Place, Vec, pose_named
from fitplan.model.vehicle import BuiltIn
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.handedness import mirrored_end, mirrored_map
from fitplan.routing.map.lead_outs import length_inside
from fitplan.routing.map.vehicle_map import VehicleMap
from tests.packing.small_trains import hollow

POINTS = 4000
places = st.tuples(*[st.integers(-8, 8).map(lambda v: v / 2)] * 3)


def counted(start: Vec, end: Vec, solid: Box | Cylinder) -> float:
    """Return the length inside by counting points, as an oracle of another kind (mm)."""
    shares = (np.arange(POINTS) + 0.5) / POINTS
    points = np.array(start) + (np.array(end) - np.array(start)) * shares[:, None]
    low, high = np.array(solid.bounds.low), np.array(solid.bounds.high)
    inside = ((points > low) & (points < high)).all(axis=1)
    if isinstance(solid, Cylinder):
        across = [axis for axis in range(3) if axis != AXES.index(solid.axis)]
        away = points[:, across] - np.array(solid.start)[across]
        inside &= np.linalg.norm(away, axis=1) < solid.radius
    return float(inside.mean()) * math.dist(start, end)


@given(
    start=places, end=places, at=places, axis=st.sampled_from(AXES), radius=st.sampled_from((0.5, 1.7, 3.0))
)
def test_the_length_inside_is_what_counting_points_finds(
    start: Vec, end: Vec, at: Vec, axis: Axis, radius: float
) -> None:
    """For ways along an axis, beside, into, out of and through a solid, to within a step of the count.

    Ways that lie in the very face of a box count as inside here and as outside there, so places are moved
    off the faces by a hundredth.
    """
    start = (start[0] + 0.01, start[1] + 0.013, start[2] + 0.017)
    end = (end[0] + 0.01, end[1] + 0.013, end[2] + 0.017)
    here, there = np.array(start), np.array([end, start])
    step = 2.0 * math.dist(start, end) / POINTS + 1e-9
    for solid in (Cylinder(axis, at, 2.5, radius), Box(at, (at[0] + 1.5, at[1] + 2.5, at[2] + 3.5))):
        found = length_inside(here, there, solid)
        assert found[0] == pytest.approx(counted(start, end, solid), abs=step)
        assert found[1] == 0.0


def test_a_pin_right_below_a_round_cell_is_walled_in() -> None:
    """A cell lies on a board, 0.01 mm above a pin in the board's middle: boxes within it hold nothing there.

    A pin further aside gets its wire out beside the cell.
    """
    vehicle = hollow("v", 12, 8, 10)
    board = Part("b", "b", "regulator", (Box((0, 0, 0), (30, 24, 8)),), 1.0, "invented for a test")
    cell = Part("c", "c", "cells", (Cylinder("x", (0, 7, 7), 44, 7),), 24.0, "invented for a test")
    stand = pose_named("+x+y+z")
    placements = (
        Placement("board", board, "v", Place(stand, (25, 20, 19.2)), "the body"),
        Placement("cell", cell, "v", Place(stand, (18, 25, 27.21)), "the body"),
    )
    alone, below = (VehicleMap.of("v", vehicle, some, frozenset()) for some in (placements[:1], placements))
    under, beside = (NetEnd("n", "board", "p", "v", (40.0, y, 27.2), "+z") for y in (32.0, 22.0))
    assert alone.start_at(under) is not None
    assert below.start_at(beside) is not None
    assert below.start_at(under) is None
    image = mirrored_map(below)
    assert image.start_at(mirrored_end(under, vehicle.width)) is None
    assert image.start_at(mirrored_end(beside, vehicle.width)) is not None


def test_a_lead_out_keeps_out_of_what_is_built_in() -> None:
    """A pin just beside a motor: its wire does not cut the motor's edge, which lies within a voxel's width.

    Of a motor of its own a pin leads out; up and away from it is the way.
    """
    motor = BuiltIn("motor", "motor", (Box((16.0, 16.0, 19.2), (32.3, 32.0, 25.9)),))
    vehicle = hollow("v", 12, 8, 10, built_in=(motor,))
    map_ = VehicleMap.of("v", vehicle, (), frozenset())
    over, aside = (map_.frame.index_of(at) for at in ((31.6, 24.0, 26.8), (33.2, 24.0, 26.8)))
    seen = {}
    for owner in ("board", "v/motor"):
        end = NetEnd("n", owner, "p", "v", (32.35, 24.0, 25.3), "+z")
        seen[owner] = map_._in_sight(end, np.array([over, aside])).tolist()
    assert seen == {"board": [False, True], "v/motor": [True, True]}
