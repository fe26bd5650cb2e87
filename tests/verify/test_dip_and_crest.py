"""Two changes of gradient under one joint, as the checker poses it: a closed form, and drawn tracks."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from fitplan.model.operation import Track
from fitplan.verify.poses import Apart, CouplingEnd, _Joint, _Line, poses_apart

SLOPE, DRAWBAR, LEVEL = 0.05, 30.0, 1e9
"""The steepest gradient; the drawbar; the radius of a curve that is none."""
AHEAD = CouplingEnd((40.0, 120.0), 0.0, (20.0, 0.0), (8.0, 0.0, 0.0))
BEHIND = CouplingEnd((40.0, 120.0), 0.0, (140.0, 0.0), (152.0, 0.0, 0.0))
"""Pins 20 mm beyond the axles, mouths 12 mm beyond the pins, all at the height of the rail."""


def posed(ahead: CouplingEnd, behind: CouplingEnd, drawbar: float = DRAWBAR) -> Apart:
    return poses_apart(ahead, behind, drawbar, Track(LEVEL, gradient_percent=100 * SLOPE))


def test_between_a_crest_and_a_dip_in_closed_form() -> None:
    """Rising, falling from the one axle to the other, rising again: mouths as far apart as angles say.

    Both vehicles climb by the angle a. Along their line the axles are ``L = 40 + √(d² − p²)`` apart, across
    it ``p``; the rails between say ``L sin a − p cos a = −tan a (L cos a + p sin a)``, so ``p = L tan 2a``: a
    quadratic equation. No other pose of two changes puts the drawbar further askew, so it is the farthest.
    """
    a = math.atan(SLOPE)
    t = math.tan(2 * a)
    p = max(np.roots([1 / t**2 + 1, -80.0 / t, 40.0**2 - DRAWBAR**2]).tolist())
    along = math.sqrt(DRAWBAR**2 - p**2)
    falls = (40.0 + along) * math.cos(a) + p * math.sin(a)
    wanted = math.hypot(along - 24.0, p)
    # The rear axle ahead stands where the track climbs again, its front axle 80 mm up the slope.
    dip = -80.0 * math.cos(a)
    shape = (0.0, 0.0, 0.0, SLOPE, dip - falls, -2 * SLOPE, falls, 2 * SLOPE)
    (gap,) = _Joint(AHEAD, BEHIND, DRAWBAR).gaps(_Line(*(np.array([value]) for value in shape)), np.zeros(1))
    assert np.linalg.norm(gap) == pytest.approx(wanted, abs=1e-4)
    assert wanted - 0.1 < posed(AHEAD, BEHIND).distance.max() < wanted + 1e-3


def test_one_change_alone_would_not_show_it() -> None:
    """Of the change in the middle, twice the gradient, the mouths tell less than half as much."""
    kinks = np.linspace(-300.0, 20.0, 161)
    none = np.zeros(len(kinks))
    most = 0.0
    for rise in (2 * SLOPE, -2 * SLOPE):
        line = _Line(none, none, none, none - rise / 2, kinks, none + rise, none, none)
        gaps = _Joint(AHEAD, BEHIND, DRAWBAR).gaps(line, none)
        most = max(most, float(np.linalg.norm(gaps, axis=1).max()))
    straight = DRAWBAR - 24.0
    assert most - straight < 0.5 * (posed(AHEAD, BEHIND).distance.max() - straight)


HIGH = (
    replace(AHEAD, pin=(20.0, 9.0), mouth=(14.0, 4.0, 45.0)),
    replace(BEHIND, pin=(140.0, 11.0), mouth=(149.0, -6.0, 30.0)),
)
BOGIES = (
    replace(HIGH[0], guides=(45.0, 170.0), bogie=24.0),
    replace(HIGH[1], guides=(-60.0, 110.0), bogie=30.0),
)


@pytest.mark.parametrize("ends", [(AHEAD, BEHIND), HIGH, BOGIES], ids=["low", "high", "bogies"])
def test_the_train_the_other_way_round_stands_the_same(ends: tuple[CouplingEnd, CouplingEnd]) -> None:
    """Driven backwards over all tracks the same two vehicles have their mouths as far and as near."""

    def backwards(end: CouplingEnd) -> CouplingEnd:
        (x, y, z), (rear, front) = end.mouth, end.guides
        return CouplingEnd((-front, -rear), end.bogie, (-end.pin[0], end.pin[1]), (-x, -y, z))

    one = posed(*ends)
    other = posed(backwards(ends[1]), backwards(ends[0]))
    assert one.distance.max() == pytest.approx(other.distance.max(), abs=0.1)
    assert one.distance.min() == pytest.approx(other.distance.min(), abs=0.15)


@pytest.mark.parametrize("ends", [(AHEAD, BEHIND), HIGH, BOGIES], ids=["low", "high", "bogies"])
def test_no_drawn_track_asks_for_more(ends: tuple[CouplingEnd, CouplingEnd]) -> None:
    """Vehicles stood on drawn pieces of level, rising and falling track, root by root (Brent)."""
    rng = np.random.default_rng(3)
    found = posed(*ends)
    for _ in range(60):
        grades = SLOPE * rng.integers(-1, 2, 3)
        kink, hump = -rng.uniform(0, 300), rng.uniform(5, 250)
        seen = mouths_apart(*ends, grades.tolist(), kink, hump)
        assert found.distance.min() - 0.2 < seen < found.distance.max() + 0.1


def mouths_apart(
    ahead: CouplingEnd, behind: CouplingEnd, grades: list[float], kink: float, hump: float
) -> float:
    """Distance of the mouths over three gradients, the foremost guide at 0; all in the plane of (x, z)."""

    def height(x: float) -> float:
        return (
            grades[0] * min(x - kink, 0.0)
            + grades[1] * min(max(x - kink, 0.0), hump)
            + grades[2] * max(x - kink - hump, 0.0)
        )

    def guide(x: float, bogie: float) -> complex:
        half = bogie / 2
        return complex(x, (height(x - half) + height(x + half)) / 2)

    def stood(end: CouplingEnd, x: float) -> tuple[complex, complex]:
        """Rear guide and direction, as numbers whose real part runs along and whose imaginary part climbs."""
        span = end.guides[1] - end.guides[0]
        front = guide(x, end.bogie)
        rear = brentq(lambda s: abs(front - guide(s, end.bogie)) - span, x - 1.2 * span, x - 0.8 * span)
        return guide(rear, end.bogie), (front - guide(rear, end.bogie)) / span

    def spot(end: CouplingEnd, stands: tuple[complex, complex], x: float, z: float) -> complex:
        return stands[0] + complex(x - end.guides[0], z) * stands[1]

    first = stood(ahead, 0.0)
    pin = spot(ahead, first, *ahead.pin)
    about = pin.real - DRAWBAR - (behind.pin[0] - behind.guides[1])
    at = brentq(
        lambda s: abs(pin - spot(behind, stood(behind, s), *behind.pin)) - DRAWBAR, about - 12, about + 12
    )
    second = stood(behind, at)
    gap = spot(ahead, first, ahead.mouth[0], ahead.mouth[2]) - spot(
        behind, second, behind.mouth[0], behind.mouth[2]
    )
    return math.hypot(abs(gap), ahead.mouth[1] - behind.mouth[1])
