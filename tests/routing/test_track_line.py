"""The track's middle line and vehicles on it: turns, chords, slopes and levers by hand."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.model.wiring import Slack
from fitplan.routing.harness.coupling_slack import CouplingSide, TrackLimits, coupling_lengths
from fitplan.routing.harness.track_line import MiddleLine, RunningGear, stand, stand_behind
from tests.kernels.test_memory import tracks


def one(value: float) -> np.ndarray:
    return np.array([value])


def walked(before: float, after: float, further: float, span: float, s: float) -> complex:
    """Return where one is after a way s over pieces of curvature, each in 500 steps."""
    pieces = [(s, before)] if s < 0 else [(min(s, span), after), (max(s - span, 0.0), further)]
    at, heading = 0j, 0.0
    for long, k in pieces:
        step = long / 500
        for _ in range(500):
            at += cmath.exp(1j * (heading + k * step / 2)) * step
            heading += k * step
    return at


@given(
    st.sampled_from([0.0, 1 / 300, -1 / 250]), st.sampled_from([0.0, 1 / 300, -1 / 250]),
    st.sampled_from([0.0, 1 / 400, -1 / 200]), st.floats(20, 200), st.floats(-300, 400),
)  # fmt: skip
@settings(max_examples=25, deadline=None)
def test_points_of_a_line_of_three_curves(
    before: float, after: float, further: float, span: float, s: float
) -> None:
    """In plan a point lies where one comes to who walks along in small steps."""
    line = MiddleLine(one(before), one(after), one(0.0), one(0.0), one(further), one(span))
    x, y, z = line.at(one(s))[0]
    found = walked(before, after, further, span, s)
    assert complex(x, y) == pytest.approx(found, abs=1e-3)
    assert z == 0.0


@pytest.mark.parametrize("k", [1 / 60, -1 / 300])
def test_points_of_a_circle_all_the_way_round(k: float) -> None:
    """On every quarter of a circle, forwards and backwards and more than once round: by sine and cosine."""
    s = np.linspace(-9.0, 9.0, 721) / abs(k)
    same = np.full(len(s), k)
    found = MiddleLine(same, same, 0 * s, 0 * s).at(s)
    expected = np.stack([np.sin(k * s), 1 - np.cos(k * s)], axis=-1) / k
    assert np.abs(found[:, :2] - expected).max() < 1e-12 / abs(k)


def test_a_pose_hangs_on_no_other() -> None:
    """Asked one by one or all at once, figures are the same to the last digit."""
    count = 40
    line, at, (one_gear, other) = tracks(np.random.default_rng(7), count)
    ahead = stand(line, one_gear, at)
    behind = stand_behind(line, ahead, (8.0, 12.0), other, (152.0, 12.0), 24.0, at - 200.0)
    for n in range(count):
        mine = MiddleLine(*(line.rows[n : n + 1, k] for k in range(9)))
        first = stand(mine, one_gear, at[n : n + 1])
        second = stand_behind(mine, first, (8.0, 12.0), other, (152.0, 12.0), 24.0, at[n : n + 1] - 200.0)
        assert (first.up[0] == ahead.up[n]).all()
        assert (second.rear[0] == behind.rear[n]).all()
        assert second.rear_at[0] == behind.rear_at[n]


def test_heights_of_a_line_of_three_gradients() -> None:
    """2 % up, from 30 mm on 6 % up, from 80 mm on 1 % down: heights are sums of slopes times ways."""
    line = MiddleLine(
        one(0.0), one(0.0), one(30.0), one(0.04), fall=one(-0.07), hump=one(50.0), slope=one(0.02)
    )
    heights = {-100.0: -2.0, 0.0: 0.0, 30.0: 0.6, 50.0: 1.8, 80.0: 3.6, 100.0: 3.4}
    for s, z in heights.items():
        assert line.at(one(s))[0] == pytest.approx([s, 0.0, z])


@pytest.mark.parametrize("k", [1 / 300, -1 / 300])
def test_a_vehicle_is_a_chord_of_its_curve(k: float) -> None:
    """Both guides on the circle, the axis along the chord, the left side to the left, upright."""
    gear = RunningGear(10.0, 100.0)
    posed = stand(MiddleLine(one(k), one(k), one(0.0), one(0.0)), gear, one(60.0))
    middle = np.array([0.0, 1 / k, 0.0])
    for x in (10.0, 100.0):
        assert np.linalg.norm(posed.point(x, 0.0, 0.0)[0] - middle) == pytest.approx(300.0, abs=1e-7)
    front = 60.0 * k
    assert posed.point(100.0, 0.0, 0.0)[0] == pytest.approx(
        [math.sin(front) / k, (1 - math.cos(front)) / k, 0]
    )
    turned = 2 * math.asin(45.0 * k)
    assert posed.forwards[0] == pytest.approx(
        [math.cos(front - turned / 2), math.sin(front - turned / 2), 0.0]
    )
    assert posed.left[0] == pytest.approx([-posed.forwards[0, 1], posed.forwards[0, 0], 0.0])
    assert posed.up[0] == pytest.approx([0.0, 0.0, 1.0])
    assert posed.point(100.0, 5.0, 7.0)[0] == pytest.approx(
        posed.point(100.0, 0.0, 0.0)[0] + 5 * posed.left[0] + np.array([0.0, 0.0, 7.0])
    )


def test_a_vehicle_on_a_slope_leans_back() -> None:
    """On 10 % a vehicle's axis rises by a tenth of its level part; heights stand square to it."""
    posed = stand(
        MiddleLine(one(0.0), one(0.0), one(0.0), one(0.0), slope=one(0.1)), RunningGear(0.0, 80.0), one(50.0)
    )
    lean = math.hypot(1.0, 0.1)
    assert posed.forwards[0] == pytest.approx([1 / lean, 0.0, 0.1 / lean])
    assert posed.up[0] == pytest.approx([-0.1 / lean, 0.0, 1 / lean])
    assert posed.point(0.0, 0.0, 0.0)[0] == pytest.approx(
        [50.0 - 80.0 / lean, 0.0, (50.0 - 80.0 / lean) / 10]
    )


@pytest.mark.parametrize("drop", [0.0, 9.0, -9.0])
def test_a_drawbar_is_a_triangle(drop: float) -> None:
    """On straight level track the next vehicle follows by the level side of the drawbar's triangle."""
    gear = RunningGear(20.0, 100.0)
    line = MiddleLine(one(0.0), one(0.0), one(0.0), one(0.0))
    ahead = stand(line, gear, one(200.0))
    behind = stand_behind(line, ahead, (-4.0, 12.0), gear, (124.0, 12.0 - drop), 26.0, one(60.0))
    level = math.sqrt(26.0**2 - drop**2)
    pin = 200.0 - 100.0 - 4.0
    assert behind.point(124.0, 0.0, 0.0)[0] == pytest.approx([pin - level, 0.0, 0.0], abs=1e-7)


def side(
    gear: RunningGear, pin: float, out: tuple[float, float, float], height: float = 12.0
) -> CouplingSide:
    return CouplingSide(gear, (pin, height), out)


def test_straight_lengths_in_closed_form() -> None:
    """Pins 10 mm apart in height, exits aside and at unlike heights: a triangle in plan and one upright."""
    gear = RunningGear(40.0, 120.0)
    joint = coupling_lengths(
        side(gear, 8.0, (0.0, -6.0, 30.0)), side(gear, 152.0, (160.0, 9.0, 42.0), 22.0), 26.0,
        TrackLimits(math.inf), bundle_diameter=3.0,
    )  # fmt: skip
    along = -8.0 + math.sqrt(26.0**2 - 10.0**2) - 8.0
    assert joint.straight_mm == pytest.approx(math.sqrt(along**2 + 15.0**2 + 12.0**2))
    assert joint.longest_mm == pytest.approx(joint.straight_mm)
    assert joint.shortest_mm == pytest.approx(joint.straight_mm)
    assert joint.free_mm == pytest.approx(joint.longest_mm + 6.0)


@pytest.mark.parametrize(
    ("slack", "least", "extra"),
    [
        (Slack(0.1, 6.0, 2.0), 0.0, 6.0),
        (Slack(1.5, 6.0, 2.0), 0.0, 12.0),
        (Slack(0.1, 6.0, 2.0), 20.0, 12.0),
        (Slack(0.1, 0.0, 2.0), 0.0, 0.8),
    ],
)
def test_slack_is_the_most_of_three(slack: Slack, least: float, extra: float) -> None:
    """A share of the longest, a least, and what a connector asks for: over 8 mm of straight track."""
    gear = RunningGear(40.0, 120.0)
    joint = coupling_lengths(
        side(gear, 8.0, (0.0, 0.0, 30.0)), side(gear, 152.0, (160.0, 0.0, 30.0)), 24.0,
        TrackLimits(math.inf), slack=slack, least=least,
    )  # fmt: skip
    assert joint.longest_mm == pytest.approx(8.0)
    assert joint.slack_mm == pytest.approx(extra)
    assert joint.free_mm == pytest.approx(8.0 + extra)


def test_a_curve_as_sharp_as_three_quarters_of_the_guides_is_the_sharpest() -> None:
    """Guides 80 mm apart stand in a curve of 60 mm and in none of less, wherever they are on the vehicle."""
    near, far = RunningGear(20.0, 100.0), RunningGear(200.0, 280.0)
    for gear in (near, far):
        sides = (
            side(gear, gear.rear - 12, (gear.rear - 12, 0, 30)),
            side(gear, gear.front + 12, (gear.front + 12, 0, 30)),
        )
        with pytest.raises(ValueError, match="too sharp for guides 80"):
            coupling_lengths(*sides, 24.0, TrackLimits(59.9, reverse_curve=False))
        assert coupling_lengths(*sides, 24.0, TrackLimits(60.0, reverse_curve=False)).longest_mm > 20.0


def test_the_lower_of_two_sags_asks_for_the_clip() -> None:
    """A loop hangs lowest where exits come nearest; the thickness of the bundle is taken off at both."""
    gear = RunningGear(40.0, 120.0)
    sides = side(gear, 8.0, (0.0, 0.0, 30.0)), side(gear, 152.0, (160.0, 0.0, 30.0))
    joint, thick = (
        coupling_lengths(*sides, 24.0, TrackLimits(250.0), bundle_diameter=wide) for wide in (0.0, 4.0)
    )
    assert joint.sag_shortest_mm < joint.sag_lowest_mm
    assert thick.sag_lowest_mm == pytest.approx(joint.sag_lowest_mm - 2.0)
    assert thick.sag_shortest_mm == pytest.approx(joint.sag_shortest_mm - 2.0)
    between = (joint.sag_shortest_mm + joint.sag_lowest_mm) / 2
    for above, clip in ((joint.sag_shortest_mm - 0.1, False), (between, True)):
        slack = Slack(above_rail=above)
        assert coupling_lengths(*sides, 24.0, TrackLimits(250.0), slack=slack).clip is clip
