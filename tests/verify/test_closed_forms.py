"""Curves and crossings of the checker beside points that are worked out one by one."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from fitplan.verify.detours import _towards
from fitplan.verify.overlap import Disc, _crossings
from fitplan.verify.poses import lowest_point
from fitplan.verify.shapes import counter_clockwise


@pytest.mark.parametrize("seed", range(25))
def test_a_hanging_wire_is_as_low_as_the_lowest_of_its_points(seed: int) -> None:
    """The curve through both ends with the wire's length, laid point by point; ends of either order."""
    rng = np.random.default_rng(seed)
    level, one, other = rng.uniform(5, 60), *rng.uniform(-20, 20, 2)
    rise = other - one
    length = math.hypot(level, rise) * rng.uniform(1.001, 2.0)

    def chain(a: float) -> np.ndarray:
        """Return the heights along a catenary of this parameter between both ends."""
        middle = level / 2 - a * math.asinh(rise / (2 * a * math.sinh(level / (2 * a))))
        x = np.linspace(0, level, 20_001)
        y = a * np.cosh((x - middle) / a)
        return y - y[0] + one

    def too_long(a: float) -> float:
        steps = np.diff(chain(a))
        return float(np.hypot(steps, level / 20_000).sum()) - length

    a = brentq(too_long, level / 300, level * 300, xtol=1e-10)
    points = chain(a)
    assert points[-1] == pytest.approx(other, abs=1e-6)
    assert lowest_point(level, one, other, length) == pytest.approx(points.min(), abs=2e-3)
    assert lowest_point(level, other, one, length) == pytest.approx(points.min(), abs=2e-3)


def test_a_taut_wire_and_one_that_hangs_straight_down() -> None:
    """A wire without slack is lowest at its lower end; over one spot half of the slack hangs below."""
    assert lowest_point(30.0, 4.0, 9.0, math.hypot(30, 5)) == 4.0
    assert lowest_point(30.0, 9.0, 4.0, 12.0) == 4.0
    assert lowest_point(0.0, 4.0, 9.0, 15.0) == pytest.approx(4.0 - (15.0 - 5.0) / 2)


@pytest.mark.parametrize("seed", range(25))
def test_where_two_rims_meet_lies_on_both(seed: int) -> None:
    """Each point lies on both rims, and there are as many as distance and radii say (textbook)."""
    rng = np.random.default_rng(seed)
    one = Disc((float(rng.uniform(-5, 5)), float(rng.uniform(-5, 5))), float(rng.uniform(0.5, 6)))
    two = Disc((float(rng.uniform(-5, 5)), float(rng.uniform(-5, 5))), float(rng.uniform(0.5, 6)))
    apart = math.dist(one.center, two.center)
    meet = abs(one.radius - two.radius) < apart < one.radius + two.radius
    found = _crossings(one, two)
    assert len(found) == (2 if meet else 0)
    for point in found:
        assert math.dist(point, one.center) == pytest.approx(one.radius)
        assert math.dist(point, two.center) == pytest.approx(two.radius)
    assert len({tuple(np.round(point, 9)) for point in found}) == len(found)


@pytest.mark.parametrize("size", [0.01, 0.5, 0.9, 40.0])
def test_corners_in_either_order_are_turned_to_run_counter_clockwise(size: float) -> None:
    """However small a figure is, its corners come out in the order of growing angles about its middle."""
    for number in range(3, 8):
        angles = [2 * math.pi * k / number + 0.3 for k in range(number)]
        corners = [(5 + size * math.cos(a), 7 + size * math.sin(a)) for a in angles]
        for given in (corners, corners[::-1], corners[2:] + corners[:2]):
            told = counter_clockwise(given).corners
            assert set(told) == set(corners)
            turns = [math.atan2(y - 7, x - 5) % (2 * math.pi) for x, y in told]
            assert sum(one > other for one, other in zip(turns, turns[1:] + turns[:1], strict=True)) == 1


def test_a_point_towards_another() -> None:
    """So far from the first, and on the line to the other."""
    rng = np.random.default_rng(5)
    for _ in range(20):
        one, other = rng.uniform(-20, 20, (2, 3))
        by = float(rng.uniform(0.1, 15))
        found = np.array(_towards(tuple(one.tolist()), tuple(other.tolist()), by))
        assert np.linalg.norm(found - one) == pytest.approx(by)
        assert np.linalg.norm(np.cross(found - one, other - one)) == pytest.approx(0.0, abs=1e-9)
        assert (found - one) @ (other - one) > 0
