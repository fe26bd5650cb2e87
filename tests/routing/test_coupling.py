"""Joint lengths against a closed form, brute force over poses, and the catenary equation."""

from __future__ import annotations

import cmath
import math
import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from fitplan.model.operation import Track
from fitplan.model.wiring import Slack
from fitplan.routing.harness.coupling_slack import (
    CouplingLengths,
    CouplingSide,
    TrackLimits,
    coupling_lengths,
    sag_lowest,
)
from fitplan.routing.harness.track_line import MiddleLine, RunningGear, stand
from fitplan.routing.harness.worst_pose import Poses, exit_points, search
from fitplan.verify.poses import CouplingEnd, poses_apart

WAGON = RunningGear(40.0, 120.0)
TAIL = CouplingSide(WAGON, (8.0, 12.0), (0.0, -6.0, 30.0))
HEAD = CouplingSide(WAGON, (152.0, 12.0), (160.0, -6.0, 30.0))


def on_constant_curve(
    wheelbase: float, overhang: float, out: float, aside: float, drawbar: float, radius: float
) -> float:
    """Closed form for two equal two-axle wagons in a curve of constant radius to the left.

    The middle of each wagon's axle chord lies √(R² − (w/2)²) from the curve's middle. From there the angles
    to pin and exit point follow, and with the drawbar as a chord between the pins the exits' distance.
    """
    rho = math.sqrt(radius**2 - (wheelbase / 2) ** 2)
    pin = cmath.rect(math.hypot(rho, overhang), math.atan2(overhang, rho))
    exit_ = complex(rho - aside, out)
    half = math.asin(drawbar / 2 / abs(pin))
    # turn each wagon so that its pin lies half the drawbar's angle off the line between them
    behind = exit_ * cmath.exp(1j * (-half - cmath.phase(pin)))
    ahead = complex(rho - aside, -out) * cmath.exp(1j * (half + cmath.phase(pin)))
    return abs(behind - ahead)


@pytest.mark.parametrize("aside", [-12.0, 0.0, 12.0])
@pytest.mark.parametrize("radius", [250.0, 320.0, 1000.0])
def test_two_axle_wagons_on_a_constant_curve(radius: float, aside: float) -> None:
    """Longest and shortest span the closed form's value on a constant curve, both hands."""
    sides = [CouplingSide(WAGON, (x, 12.0), (e, aside, 30.0)) for x, e in ((8.0, 0.0), (152.0, 160.0))]
    joint = coupling_lengths(sides[0], sides[1], 24.0, TrackLimits(radius, reverse_curve=False))
    found = [on_constant_curve(80.0, 72.0, 80.0, side, 24.0, radius) for side in (aside, -aside)]
    assert joint.longest_mm >= max(found) - 1e-6
    assert joint.shortest_mm <= min(found) + 1e-6
    # the pose itself, not only its bounds
    k = np.array([1 / radius])
    line = MiddleLine(k, k, np.zeros(1), np.zeros(1))
    a, b = exit_points(sides[0], sides[1], 24.0, Poses(line, np.array([10.0])))
    assert float(np.linalg.norm(a - b)) == pytest.approx(found[0], abs=1e-6)


@pytest.mark.parametrize("lengths", [(112.0, 144.0, 176.0, 208.0), (208.0, 368.0, 512.0)])
@pytest.mark.parametrize("seed", range(6))
def test_the_nearest_and_the_farthest_exits_are_those_of_another_search(
    seed: int, lengths: tuple[float, ...]
) -> None:
    """Random wagons on curves and gradients at once, against the search of the second check.

    That one puts the hardest changes of gradient under every pair of curves. On its grid the farthest and the
    nearest are found to less than a millimetre; what hangs between them, to 0.3. Of long vehicles what lies
    beyond may be farther by more.
    """
    rng = random.Random(seed)
    joint = []
    for out in (0.0, 1.0):
        length = rng.choice(lengths)
        bogie = rng.choice([0.0, 16.0, 24.0])
        guides = (rng.uniform(0.12, 0.25) * length, rng.uniform(0.75, 0.88) * length)
        pin = (8.0 + out * (length - 16.0), rng.choice([8.0, 10.0, 12.0]))
        exit_ = (out * length, rng.uniform(-14.0, 14.0), rng.uniform(18.0, 45.0))
        joint.append((guides, bogie, pin, exit_))
    drawbar, gradient = rng.uniform(16.0, 60.0), rng.choice([1.0, 2.0, 4.0])
    ahead, behind = (CouplingSide(RunningGear(*one[0], one[1]), one[2], one[3]) for one in joint)
    radius = max(320.0, 0.75 * max(one[0][1] - one[0][0] for one in joint))
    track = Track(radius, rng.random() < 0.5, gradient)
    limits = TrackLimits(radius, track.reverse_curve, gradient / 100, track.least_straight)
    found = search(ahead, behind, drawbar, limits)
    other = poses_apart(*(CouplingEnd(*one) for one in joint), drawbar, track)
    beyond = 0.0 if max(lengths) < 300.0 else 4.0
    assert -0.3 < found.longest_mm - other.distance.max() < 1.0 + beyond
    assert -1.5 - beyond < found.shortest_mm - other.distance.min() < 0.3
    ends, free = (ahead.exit[2], behind.exit[2]), 1.1 * found.longest_mm
    hangs = [sag_lowest(level, *ends, free) for level in (found.shortest_level_mm, other.nearest())]
    assert hangs[0] == pytest.approx(hangs[1], abs=0.3)


def by_brute_force(
    ahead: CouplingSide, behind: CouplingSide, drawbar: float, limits: TrackLimits, kinks: bool
) -> float:
    """Try many poses, each solved by halving in plain Python: no vectors, no scan, no code of the router."""
    most = 0.0
    k = 1 / limits.radius
    rng = np.random.default_rng(1)
    tracks = [(0, k), (k, 0), (k, k), (0, -k), (-k, 0), (-k, -k), (k, -k), (-k, k)]
    for one, two in tracks:
        for _ in range(25):
            kink = float(rng.uniform(-250, 250))
            rise = 2 * limits.gradient * float(rng.choice([-1, 0, 1])) if kinks else 0.0

            def at(
                s: float, one: float = one, two: float = two, kink: float = kink, rise: float = rise
            ) -> np.ndarray:
                curve = two if s > 0 else one
                z = rise * max(s - kink, 0.0) - rise / 2 * s
                if curve == 0:
                    return np.array([s, 0.0, z])
                return np.array([math.sin(curve * s) / curve, (1 - math.cos(curve * s)) / curve, z])

            def frame(gear: RunningGear, s: float, at=at):  # type: ignore[no-untyped-def]
                span = gear.front - gear.rear
                front = at(s)
                back = brentq(
                    lambda u: np.linalg.norm(front - at(u)) - span, s - 1.7 * span, s - 0.5 * span, xtol=1e-11
                )
                rear = at(back)
                x = (front - rear) / span
                y = np.array([-x[1], x[0], 0.0]) / math.hypot(x[0], x[1])
                z = np.cross(x, y)
                return lambda p: rear + (p[0] - gear.rear) * x + p[1] * y + p[2] * z

            s = float(rng.uniform(-30, 320))
            first = frame(ahead.gear, s)
            pin = first((ahead.coupling[0], 0.0, ahead.coupling[1]))
            own = (behind.coupling[0], 0.0, behind.coupling[1])

            def gap(u: float, frame=frame, pin=pin, own=own) -> float:  # type: ignore[no-untyped-def]
                return float(np.linalg.norm(pin - frame(behind.gear, u)(own)) - drawbar)

            guess = (
                s
                - (ahead.gear.front - ahead.coupling[0])
                - drawbar
                - (behind.coupling[0] - behind.gear.front)
            )
            at_b = brentq(gap, guess - 30, guess + 20, xtol=1e-11)
            second = frame(behind.gear, at_b)
            most = max(most, float(np.linalg.norm(first(ahead.exit) - second(behind.exit))))
    return most


@pytest.mark.parametrize("kinks", [False, True])
def test_brute_force_over_poses_finds_nothing_longer(kinks: bool) -> None:
    """Random poses, each solved apart, stay below the longest distance and come within 3 % of it.

    Within 7 % where gradients change, as a second change of gradient is not tried here.
    """
    limits = TrackLimits(300.0, True, 0.06 if kinks else 0.0)
    loco = CouplingSide(RunningGear(45.0, 150.0), (6.0, 14.0), (2.0, 9.0, 34.0))
    joint = coupling_lengths(loco, HEAD, 26.0, limits)
    most = by_brute_force(loco, HEAD, 26.0, limits, kinks)
    assert (0.93 if kinks else 0.97) * joint.longest_mm <= most <= joint.longest_mm + 1e-6


def test_straight_track_alone() -> None:
    """On straight level track the distance is that of the drawing, and it governs."""
    joint = coupling_lengths(TAIL, HEAD, 24.0, TrackLimits(math.inf))
    assert joint.straight_mm == pytest.approx(8.0)
    assert joint.longest_mm == pytest.approx(8.0)
    assert joint.governing == "straight level track"
    assert joint.slack_mm == pytest.approx(6.0)


@given(st.floats(200, 900), st.floats(-14, 14), st.floats(5, 40))
@settings(max_examples=3, deadline=None)
def test_the_mirror_and_the_way_round_need_the_same_length(
    radius: float, aside: float, height: float
) -> None:
    """Left for right, and front for rear, the joint has the same length; a sharper curve needs no less."""
    limits = TrackLimits(radius)

    def joint(y: float, by: TrackLimits = limits) -> CouplingLengths:
        return coupling_lengths(
            CouplingSide(WAGON, (8.0, 12.0), (0.0, y, height)),
            CouplingSide(WAGON, (152.0, 12.0), (160.0, y, height)),
            24.0,
            by,
        )

    found = joint(aside)
    assert found.longest_mm == pytest.approx(joint(-aside).longest_mm, abs=1e-6)
    assert joint(aside, TrackLimits(0.9 * radius)).longest_mm >= found.longest_mm - 1e-6
    assert found.longest_mm >= found.straight_mm - 1e-9
    assert found.free_mm > found.longest_mm


def test_the_governing_pose_is_named() -> None:
    """Beside the middle a curve governs, far behind the pivots a reverse curve, high up a crest."""
    joint = coupling_lengths(TAIL, HEAD, 24.0, TrackLimits(250.0))
    assert "curve" in joint.governing
    plain = coupling_lengths(
        CouplingSide(WAGON, (30.0, 12.0), (0.0, 0.0, 30.0)),
        CouplingSide(WAGON, (130.0, 12.0), (160.0, 0.0, 30.0)),
        68.0,
        TrackLimits(250.0),
    )
    assert "reverse curve" in plain.governing
    steep = coupling_lengths(
        CouplingSide(WAGON, (8.0, 12.0), (0.0, 0.0, 60.0)),
        CouplingSide(WAGON, (152.0, 12.0), (160.0, 0.0, 60.0)),
        24.0,
        TrackLimits(math.inf, False, 0.1),
    )
    assert "crest" in steep.governing
    assert steep.longest_mm > steep.straight_mm + 1.0


def test_bogies_and_their_wheelbase() -> None:
    """On a constant curve a bogie's pivot stands R·cos(w/2R) from the curve's middle."""
    gear = RunningGear(50.0, 170.0, 32.0)
    k = np.array([1 / 400.0])
    posed = stand(MiddleLine(k, k, np.zeros(1), np.zeros(1)), gear, np.array([40.0]))
    middle = np.array([0.0, 400.0])
    for x in (50.0, 170.0):
        place = posed.point(x, 0.0, 0.0)[0]
        assert np.hypot(*(place[:2] - middle)) == pytest.approx(400.0 * math.cos(16.0 / 400.0), abs=1e-8)
    with pytest.raises(ValueError, match="ahead of"):
        RunningGear(10.0, 5.0)
    with pytest.raises(ValueError, match="wheelbase"):
        RunningGear(1.0, 5.0, -1.0)


@given(st.floats(5, 200), st.floats(-40, 40), st.floats(1.0005, 4.0))
@settings(max_examples=80, deadline=None)
def test_the_sag_solves_the_catenary_equation(span: float, rise: float, factor: float) -> None:
    """A wire of that length, drawn as a catenary and measured piece by piece, hangs exactly so low."""
    length = factor * math.hypot(span, rise)
    low = sag_lowest(span, 0.0, rise, length)
    chord = math.sqrt(length**2 - rise**2)
    a = span / 2 / brentq(lambda u: math.sinh(u) / u - chord / span, 1e-6, 60.0, xtol=1e-14)
    vertex = span / 2 - a * math.asinh(rise / (2 * a * math.sinh(span / 2 / a)))
    x = np.linspace(0.0, span, 20001)
    y = a * np.cosh((x - vertex) / a)
    y = y - y[0]
    assert y[-1] == pytest.approx(rise, abs=1e-6 * length)
    assert np.hypot(np.diff(x), np.diff(y)).sum() == pytest.approx(length, rel=1e-6)
    assert low == pytest.approx(y.min(), abs=1e-4 * length)


def test_sag_at_the_bounds() -> None:
    """A taut wire does not sag; one between ends above each other hangs as a loop; longer hangs lower."""
    assert sag_lowest(100.0, 20.0, 30.0, 90.0) == 20.0
    assert sag_lowest(0.0, 20.0, 30.0, 50.0) == pytest.approx(0.0)
    depths = [sag_lowest(40.0, 30.0, 30.0, length) for length in (40.0, 41.0, 45.0, 60.0, 400.0)]
    assert depths == sorted(depths, reverse=True)
    assert depths[-1] > 30.0 - 200.0


def test_a_low_exit_asks_for_a_clip() -> None:
    """Wires that leave low hang into the rails and ask for a clip; the same wires higher up do not."""
    limits = TrackLimits(300.0)
    low = [CouplingSide(WAGON, side.coupling, (*side.exit[:2], 6.0)) for side in (TAIL, HEAD)]
    high = [CouplingSide(WAGON, side.coupling, (*side.exit[:2], 45.0)) for side in (TAIL, HEAD)]
    assert coupling_lengths(low[0], low[1], 24.0, limits).clip
    joint = coupling_lengths(high[0], high[1], 24.0, limits, bundle_diameter=3.0)
    assert not joint.clip
    assert joint.sag_lowest_mm >= Slack().above_rail


def test_impossible_joints_are_refused() -> None:
    """No drawbar, pins too far apart in height, curves sharper than the vehicle and walls are named."""
    with pytest.raises(ValueError, match="drawbar"):
        coupling_lengths(TAIL, HEAD, 0.0, TrackLimits())
    with pytest.raises(ValueError, match="height"):
        coupling_lengths(CouplingSide(WAGON, (8.0, 50.0), (0, 0, 30)), HEAD, 24.0, TrackLimits(math.inf))
    with pytest.raises(ValueError, match="too sharp"):
        coupling_lengths(TAIL, HEAD, 24.0, TrackLimits(50.0))
    with pytest.raises(ValueError, match="radius"):
        TrackLimits(0.0)
    with pytest.raises(ValueError, match="gradient"):
        TrackLimits(300.0, True, 0.7)


def stepped(
    ahead: CouplingSide, behind: CouplingSide, drawbar: float, pieces: list[tuple[float, float, float]]
) -> float:
    """Step two vehicles along a track drawn as a chain of points, and return the farthest exits (mm).

    Another kind of simulation: no closed form of the track, no secant rule. Pieces are (curvature, gradient,
    length); every guide is found by walking back along the chain to the first point that is far enough off.
    """
    step = 0.2
    points = [np.zeros(3)]
    heading = 0.0
    for curvature, gradient, length in pieces:
        for _ in range(round(length / step)):
            heading += curvature * step / 2
            points.append(points[-1] + np.array([math.cos(heading), math.sin(heading), gradient]) * step)
            heading += curvature * step / 2
    chain = np.array(points)

    def behind_of(start: int, point: np.ndarray, far: float, place) -> int:  # type: ignore[no-untyped-def]
        """Return the last number, below the start, of what lies so far from a point (coarse, then fine)."""
        number = start
        while np.linalg.norm(point - place(number)) < far:
            number -= max(int((far - np.linalg.norm(point - place(number))) / step / 2), 1)
        return number

    def posed(gear: RunningGear, front: int):  # type: ignore[no-untyped-def]
        nose = chain[front]
        rear = behind_of(front, nose, gear.front - gear.rear, lambda n: chain[n])
        along = (nose - chain[rear]) / np.linalg.norm(nose - chain[rear])
        left = np.array([-along[1], along[0], 0.0]) / math.hypot(along[0], along[1])
        up = np.cross(along, left)
        return lambda p: chain[rear] + (p[0] - gear.rear) * along + p[1] * left + p[2] * up

    most = 0.0
    for front in range(round(420 / step), len(chain), round(4 / step)):
        first = posed(ahead.gear, front)
        pin = first((ahead.coupling[0], 0.0, ahead.coupling[1]))
        own = (behind.coupling[0], 0.0, behind.coupling[1])
        together = ahead.gear.front - ahead.coupling[0] + behind.coupling[0] - behind.gear.front
        back = behind_of(
            front - round(together / step), pin, drawbar, lambda n, own=own: posed(behind.gear, n)(own)
        )
        second = posed(behind.gear, back)
        most = max(most, float(np.linalg.norm(first(ahead.exit) - second(behind.exit))))
    return most


SHORT = TrackLimits(320.0, False, 0.0, 16.0)


def test_a_short_straight_in_a_reverse_curve_is_counted() -> None:
    """With 16 mm of straight between two curves of opposite hand the exits are as far apart as stepped."""
    k = 1 / 320
    found = coupling_lengths(TAIL, HEAD, 24.0, SHORT)
    seen = stepped(TAIL, HEAD, 24.0, [(k, 0, 420), (0, 0, 16), (-k, 0, 420)])
    plain = stepped(TAIL, HEAD, 24.0, [(k, 0, 420), (0, 0, 420)])
    assert seen == pytest.approx(found.longest_mm, abs=0.2)
    assert seen > plain + 3.0
    assert "16 mm of straight" in found.governing


def test_a_crest_after_a_dip_is_counted() -> None:
    """High exits over a dip and a crest close behind it are farther apart than over one of them."""
    high = [CouplingSide(WAGON, side.coupling, (*side.exit[:2], 70.0)) for side in (TAIL, HEAD)]
    limits = TrackLimits(math.inf, False, 0.1)
    found = coupling_lengths(high[0], high[1], 24.0, limits)
    assert " and " in found.governing or "20.0 %" in found.governing
    one = stepped(high[0], high[1], 24.0, [(0, 0.1, 460), (0, 0.0, 420)])
    assert found.longest_mm > one + 1.0
    gap = 80.0
    two = stepped(high[0], high[1], 24.0, [(0, 0.1, 460), (0, -0.1, gap), (0, 0.1, 420)])
    assert two <= found.longest_mm + 0.2


@pytest.mark.parametrize("seed", [1, 2, 4, 5])
def test_no_stepped_track_asks_for_more(seed: int) -> None:
    """On random tracks of many pieces within the limits no pose is farther apart than the worst found."""
    rng = np.random.default_rng(seed)
    limits = TrackLimits(300.0, bool(seed % 2), 0.05 if seed > 2 else 0.0, 40.0)
    found = coupling_lengths(TAIL, HEAD, 24.0, limits)
    pieces: list[tuple[float, float, float]] = [(0.0, 0.0, 430.0)]
    hand = 0.0
    for _ in range(8):
        k = float(rng.choice([0.0, 1 / 300, -1 / 300, 1 / 500, -1 / 500]))
        if hand * k < 0 and not limits.reverse_curve:
            pieces.append((0.0, pieces[-1][1], 40.0))
        hand = k or hand
        pieces.append((k, limits.gradient * float(rng.choice([-1, 0, 1])), float(rng.uniform(20, 150))))
    assert stepped(TAIL, HEAD, 24.0, pieces) <= found.longest_mm + 0.2
