"""Wheels that swing, turned step by step; frames on a curve there and back; rays beside points along them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fitplan.checks.curve_settings import CurveSettings
from fitplan.checks.on_curve import CurvePose
from fitplan.checks.pin_facts import bare_diodes
from fitplan.checks.rays import Obstacle, first_hits
from fitplan.checks.supply import _feeds_a_board
from fitplan.checks.wire_clearance import wheel_room
from fitplan.circuit.supply_tree import Rail, RailLoad, SupplyTree
from fitplan.model.electrical import CellPack, SeriesResistor
from fitplan.model.part import Part
from fitplan.model.pins_used import Resistor
from fitplan.model.solids import Box
from fitplan.model.vehicle import Wheels
from tests.circuit.sample_parts import board, cells, lamp, need, net, train
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


# -- rays and diodes ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(5))
def test_a_ray_meets_first_what_points_along_it_meet_first(seed: int) -> None:
    """Walls drawn, and gaps drawn over those before them; the points are half a thousandth of a ray apart."""
    rng = np.random.default_rng(seed)
    obstacles = []
    for number in range(6):
        low = rng.uniform(-4, 2, 3)
        high = low + rng.uniform(1, 5, 3)
        box = Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
        obstacles.append(Obstacle(box, f"{number}", stops=bool(number % 3 != 2)))
    origins, ways = rng.uniform(-6, 6, (80, 3)), rng.uniform(-4, 4, (80, 3))
    hits = first_hits(origins, ways, obstacles)
    shares = np.linspace(0.0005, 4.0, 8000)
    points = origins[:, None, :] + shares[None, :, None] * ways[:, None, :]
    state = np.full(points.shape[:2], -1)
    for number, one in enumerate(obstacles):
        inside = ((points > np.array(one.solid.bounds.low)) & (points < np.array(one.solid.bounds.high))).all(
            axis=2
        )
        state[inside] = number if one.stops else -1
    for ray in range(80):
        met = np.flatnonzero(state[ray] >= 0)
        if len(met):
            assert hits.distance[ray] == pytest.approx(shares[met[0]], abs=2e-3)
        else:
            assert not hits.distance[ray] < shares[-1]
    assert 10 < (state >= 0).any(axis=1).sum() < 80


def test_a_diode_that_nothing_bounds_is_told() -> None:
    """On a signal that is given, without a figure of its own and without a resistor."""
    lit = lamp()
    bare = replace(
        lit, electrical=tuple(one for one in lit.electrical if not isinstance(one, SeriesResistor))
    )
    parts = {"brain": board(), "front": bare, "rear": lit}

    def told(chosen: dict[str, Part], *resistors: Resistor) -> list[str]:
        nets = [
            net("f", "signal", "brain.D2", "front.IN"),
            net("r", "signal", "brain.D3", "rear.IN"),
            net("g", "ground", "brain.GND", "front.GND", "rear.GND"),
        ]
        made = train([need(name, one) for name, one in chosen.items()], nets)
        return [one.where for one in bare_diodes(made, chosen, resistors)]

    assert told(parts) == ["front"]
    assert told({**parts, "front": replace(bare, family="buzzer")}) == []
    assert told({**parts, "rear": replace(bare, family="emitter")}) == ["front", "rear"]
    there = Resistor("front", "IN", "f", 300.0, 9.0, 0.02, 0.125, "lead")
    assert told(parts, there) == []
    assert told(parts, replace(there, owner="rear")) == ["front"]
