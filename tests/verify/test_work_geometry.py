"""Tools that reach in, and wires that hang, beside figures worked out by hand."""

from __future__ import annotations

import math
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.model.solids import DIRECTIONS, Box, Direction, Vec, axis_of, is_forward, way_length
from fitplan.verify.shapes import Disc, Prism, shape_of
from fitplan.verify.work_hanging import _behind, _deep
from fitplan.verify.work_tools import _tool

HULL = Box((-10.0, -20.0, -30.0), (110.0, 120.0, 130.0))
SITE: Any = SimpleNamespace(vehicle=SimpleNamespace(hull=HULL))


@pytest.mark.parametrize("out", DIRECTIONS)
@pytest.mark.parametrize("away", [0.5, 5.0, 12.6, 30.0, 57.6, 58.0, 100.0])
def test_a_tool_is_tip_shaft_and_grip_up_to_the_hull(out: Direction, away: float) -> None:
    """2 mm wide for 12 mm, 6 mm for 45, then 18: from 0.6 mm before the point to the hull's plane."""
    axis, sign = axis_of(out), 1 if is_forward(out) else -1
    at = [1.0, 2.0, 3.0]
    plane = (HULL.high if sign > 0 else HULL.low)[axis]
    at[axis] = plane - sign * away
    pieces = [shape.bounds for shape in _tool((at[0], at[1], at[2]), out, SITE)]
    left, expected = away - 0.6, []
    for wide, long in ((2.0, 12.0), (6.0, 45.0), (18.0, math.inf)):
        if left >= 0.01:
            expected.append((wide, min(long, left)))
            left -= min(long, left)
    assert [box.size[axis] for box in pieces] == pytest.approx([long for _, long in expected])
    begin = at[axis] + sign * 0.6
    for box, (wide, long) in zip(pieces, expected, strict=True):
        ends = sorted((begin, begin + sign * long))
        assert (box.low[axis], box.high[axis]) == pytest.approx(tuple(ends))
        for across in {0, 1, 2} - {axis}:
            assert box.size[across] == pytest.approx(wide, abs=0.021)
            assert box.center[across] == pytest.approx(at[across])
        begin += sign * long


def test_a_ways_length_and_what_lies_behind_a_point_on_it() -> None:
    """Cut at any point, the piece before it and the piece behind it make the whole."""
    rng = np.random.default_rng(3)
    points: tuple[Vec, ...] = tuple(map(tuple, rng.uniform(-30, 30, (6, 3)).tolist()))  # type: ignore[arg-type]
    steps = [math.dist(a, b) for a, b in pairwise(points)]
    assert way_length(points) == pytest.approx(sum(steps))
    assert way_length(points[:1]) == 0.0
    for number, step in enumerate(steps):
        for share in (0.0, 0.25, 0.5, 1.0):
            one, other = points[number], points[number + 1]
            x, y, z = ((1 - share) * a + share * b for a, b in zip(one, other, strict=True))
            behind = _behind(points, (x, y, z))
            assert behind == pytest.approx((1 - share) * step + sum(steps[number + 1 :]))
    x, y, z = points[0]
    assert _behind(points, (x + 0.09, y, z)) == pytest.approx(sum(steps), abs=0.1)
    assert _behind(points, (x - 40.0, y, z)) is None
    assert _behind(((0.0, 0.0, 0.0), (10.0, 0.0, 0.0)), (4.0, 0.11, 0.0)) is None
    assert _behind(((0.0, 0.0, 0.0), (10.0, 0.0, 0.0)), (-0.11, 0.0, 0.0)) is None
    assert _behind(((0.0, 0.0, 0.0), (10.0, 0.0, 0.0)), (10.05, 0.0, 0.0)) == 0.0
    # A point that a way passes twice is left the last time, so that the shorter piece hangs.
    there_and_back = ((0.0, 0.0, 0.0), (10.0, 0.0, 0.0), (10.0, 5.0, 0.0), (4.0, 0.0, 0.0), (4.0, -6.0, 0.0))
    assert _behind(there_and_back, (4.0, 0.0, 0.0)) == pytest.approx(6.0)


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_line_rubs_along_a_box_or_runs_into_it(axis: int) -> None:
    """A quarter of a millimetre deep is rubbed along; deeper is run into, and so is what passes through."""

    def turned(x: float, y: float, z: float) -> Vec:
        values = (x, y, z)
        return (values[-axis], values[1 - axis], values[2 - axis])

    low, high = turned(10.0, 10.0, 10.0), turned(20.0, 20.0, 20.0)
    box = shape_of(Box(low, high))
    for deep, inside in ((0.2, False), (0.3, True), (5.0, True), (9.7, True), (9.8, False)):
        y = 10.0 + deep
        assert _deep(turned(0.0, y, 15.0), turned(30.0, y, 15.0), box) == inside
        assert _deep(turned(30.0, y, 15.0), turned(0.0, y, 15.0), box) == inside
        assert _deep(turned(0.0, 15.0, y), turned(30.0, 15.0, y), box) == inside
    assert not _deep(turned(0.0, 15.0, 15.0), turned(10.2, 15.0, 15.0), box)
    assert _deep(turned(0.0, 15.0, 15.0), turned(11.0, 15.0, 15.0), box)
    assert not _deep(turned(19.8, 15.0, 15.0), turned(40.0, 15.0, 15.0), box)
    thin = shape_of(Box(turned(10.0, 10.0, 10.0), turned(20.0, 20.0, 10.5)))
    assert not _deep(turned(0.0, 15.0, 10.25), turned(30.0, 15.0, 10.25), thin)
    thicker = shape_of(Box(turned(10.0, 10.0, 10.0), turned(20.0, 20.0, 10.6)))
    assert _deep(turned(0.0, 15.0, 10.3), turned(30.0, 15.0, 10.3), thicker)


ROUND = [(5.7, True), (5.74, True), (5.76, False), (5.9, False), (6.1, False)]


@pytest.mark.parametrize(("beside", "deep"), ROUND)
def test_how_deep_a_line_runs_into_a_round_is_measured_from_its_round_side(beside: float, deep: bool) -> None:
    """Along a cylinder of 6 mm radius it rubs up to 0.25 mm deep, however deep in the box round it."""
    round_ = Prism(0, Disc((14.0, 30.0), 6.0), 124.7, 134.2)
    y, z = 14.0 - 0.6 * beside, 30.0 + 0.8 * beside
    assert _deep((100.0, y, z), (160.0, y, z), round_) == deep
    assert _deep((160.0, y, z), (100.0, y, z), round_) == deep
