"""Wheels that swing in a curve, by wheels turned step by step; frames on a curve there and back."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fitplan.checks.curve_settings import CurveSettings
from fitplan.checks.on_curve import CurvePose
from fitplan.checks.supply import _feeds_a_board
from fitplan.checks.wire_clearance import wheel_room
from fitplan.circuit.supply_tree import Rail, RailLoad, SupplyTree
from fitplan.model.electrical import CellPack
from fitplan.model.vehicle import Wheels
from tests.circuit.sample_parts import board, cells, lamp
from tests.packing.small_trains import hollow

GAUGE, WIDE = 38.0, CurveSettings().wheel_width


def swept(lever: float, r: float, swing: float) -> tuple[float, float, float]:
    """How far from its axle's middle a wheel gets along and aside, and how near to the middle line."""
    along = aside = 0.0
    inner = math.inf
    for turn in np.linspace(-swing, swing, 401):
        c, s = math.cos(turn), math.sin(turn)
        for dx in (-r, r):
            for y in (GAUGE / 2, GAUGE / 2 + WIDE):
                x = lever + dx
                along = max(along, abs(c * x - s * y - lever))
                aside = max(aside, abs(s * x + c * y))
                inner = min(inner, abs(s * x + c * y))
    return along, aside, inner


@pytest.mark.parametrize(("base", "radius"), [(24.0, 320.0), (24.0, 160.0), (32.0, 200.0), (0.0, 320.0)])
def test_the_room_that_wheels_sweep_is_that_of_wheels_turned_step_by_step(base: float, radius: float) -> None:
    wheels = Wheels("bogies" if base else "axles", (40.0, 120.0), (False, False), 8.0, base)
    made = replace(hollow("v", 20, 6, 6), wheels=wheels)
    swing = math.asin(80.0 / (2 * radius)) if base else 0.0
    along, aside, inner = swept(base / 2, 8.0, swing)
    middles = sorted({x + end for x in (40.0, 120.0) for end in (-base / 2, base / 2)})
    rooms = wheel_room(made, GAUGE, radius)
    assert len(rooms) == 3 * len(middles)
    for number, x in enumerate(middles):
        right, left, axle = rooms[3 * number : 3 * number + 3]
        assert (right.low[0], right.high[0]) == pytest.approx((x - along, x + along), abs=1e-6)
        assert (right.low[1], right.high[1]) == pytest.approx((24 - aside, 24 - inner), abs=1e-6)
        assert (left.low[1], left.high[1]) == pytest.approx((24 + inner, 24 + aside), abs=1e-6)
        assert (right.low[2], right.high[2]) == (0.0, 16.0)
        assert (axle.low[1], axle.high[1]) == pytest.approx((24 - inner, 24 + inner), abs=1e-6)
        assert (axle.low[2], axle.high[2]) == (5.5, 10.5)


@pytest.mark.parametrize("heading", [0.0, 0.4, -1.1])
def test_frames_on_a_curve_there_and_back(heading: float) -> None:
    """Turned to the left by the heading, then moved."""
    pose = CurvePose((30.0, -12.0), heading)
    points = np.array([[1.0, 0.0, 5.0], [0.0, 2.0, -1.0], [3.0, -4.0, 0.0]])
    there = pose.to_plan(points)
    assert there[0] == pytest.approx((30 + math.cos(heading), -12 + math.sin(heading), 5.0))
    assert there[1] == pytest.approx((30 - 2 * math.sin(heading), -12 + 2 * math.cos(heading), -1.0))
    assert pose.from_plan(there) == pytest.approx(points)
    assert pose.turn_back(pose.turn(points)) == pytest.approx(points)
    assert pose.place(3.0, -4.0) == pytest.approx(tuple(there[2, :2]))


def test_a_source_feeds_a_board_where_the_first_one_hangs_on_it() -> None:
    pack = cells()
    figures = pack.figure(CellPack)
    assert figures is not None
    loads = (RailLoad("brain", 20.0, 40.0), RailLoad("lamp", 8.0, 8.0))
    tree = SupplyTree("cells", pack, figures, Rail("plus", loads))
    chosen = {"cells": pack, "lamp": lamp(), "brain": board(), "second": board()}
    assert _feeds_a_board(tree, chosen)
    assert not _feeds_a_board(replace(tree, root=Rail("plus", loads[1:])), chosen)
    assert not _feeds_a_board(replace(tree, root=Rail("plus", (RailLoad("second", 1.0, 1.0),))), chosen)
    assert not _feeds_a_board(tree, {"cells": pack, "lamp": lamp()})
