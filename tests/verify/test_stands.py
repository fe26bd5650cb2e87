"""How vehicles stand on curves and slopes for the checker: by circles, right angles and rigid bodies."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from fitplan.model.operation import Track
from fitplan.verify.poses import (
    CouplingEnd,
    _Line,
    _pairs,
    _point,
    _stand,
    _triples,
    poses_apart,
    straight_apart,
)

AXLES = CouplingEnd((30.0, 110.0), 0.0, (6.0, 10.0), (10.0, 3.0, 40.0))
BOGIES = CouplingEnd((40.0, 136.0), 24.0, (6.0, 10.0), (10.0, -5.0, 25.0))
PLACES = np.linspace(-120.0, 160.0, 15)


def line(before: float, after: float, kink: float = 0.0, rise: float = 0.0) -> _Line:
    shape = (before, 0.0, after, 0.0, kink, rise, 0.0, 0.0)
    return _Line(*(np.full(len(PLACES), value) for value in shape))


@pytest.mark.parametrize("end", [AXLES, BOGIES])
@pytest.mark.parametrize("curve", [1 / 320, -1 / 320, 1 / 150])
def test_on_a_curve_both_guides_are_on_its_circle(end: CouplingEnd, curve: float) -> None:
    """Axles on the circle; a bogie's middle within it by the chord of its own axles; the span kept."""
    rear, forwards = _stand(line(curve, curve), end, PLACES)
    span = end.guides[1] - end.guides[0]
    for number in range(len(PLACES)):
        for spot in (rear[number], rear[number] + span * forwards[number]):
            away = math.dist(spot, (0.0, 1 / curve, 0.0))
            assert away == pytest.approx(math.cos(end.bogie / 2 * curve) / abs(curve), abs=1e-5)
        assert np.linalg.norm(forwards[number]) == pytest.approx(1.0)


@pytest.mark.parametrize("end", [AXLES, BOGIES])
@pytest.mark.parametrize(
    "shape", [(0.0, 1 / 320, -40.0, 0.05), (1 / 320, -1 / 320, 25.0, -0.08), (0, 0, 0, 0.2)]
)
def test_a_vehicle_stays_rigid_and_upright(end: CouplingEnd, shape: tuple[float, ...]) -> None:
    """Spots keep their distances; guides lie where they stand; level is level, and up is across both."""
    stand = _stand(line(*shape), end, PLACES)
    spots = [(end.guides[0], 0.0, 0.0), (end.guides[1], 0.0, 0.0), (10.0, 7.0, 30.0), (50.0, -4.0, 12.0)]
    where = [_point(stand, end, spot) for spot in spots]
    for one, here in zip(spots, where, strict=True):
        for other, there in zip(spots, where, strict=True):
            assert np.linalg.norm(here - there, axis=1) == pytest.approx(math.dist(one, other), abs=1e-6)
    assert np.allclose(where[0], stand[0])
    beside, above = (
        _point(stand, end, (end.guides[0], *spot)) - stand[0] for spot in ((9.0, 0.0), (0.0, 9.0))
    )
    assert np.allclose(beside[:, 2], 0.0)
    assert (above[:, 2] > 8.0).all()
    assert np.allclose((above * beside).sum(axis=1), 0.0)
    left = np.cross([0.0, 0.0, 1.0], stand[1])
    assert ((beside * left).sum(axis=1) > 8.0).all()


def test_straight_level_track_by_right_angles() -> None:
    """Mouths by hand: along the drawbar, less what pins differ in height; too short a drawbar joins none."""
    ahead, behind = (
        CouplingEnd((30, 110), 0, (6, 10), (10, 3, 40)),
        CouplingEnd((30, 90), 0, (114, 15), (118, -2, 31)),
    )
    assert straight_apart(ahead, behind, 5.0) is None
    distance, level = straight_apart(ahead, behind, 13.0) or (0, 0)
    along = (10 - 6) + math.sqrt(13**2 - 5**2) + (114 - 118)
    assert level == pytest.approx(math.hypot(along, 5.0))
    assert distance == pytest.approx(math.hypot(along, 5.0, 9.0))
    found = poses_apart(ahead, behind, 13.0, Track(radius=1e9))
    assert found.distance == pytest.approx(distance, abs=1e-3)
    assert found.level == pytest.approx(level, abs=1e-3)


def test_every_pair_of_curves_is_driven() -> None:
    """Straight, either curve, into it and out of it; from one into the other with the straight asked for."""
    k = 1 / 320
    into = [(s, t) for s in (k, -k) for t in ((s, s), (0.0, s), (s, 0.0))]
    plain = {(0.0, 0.0, 0.0, 0.0), *((a, 0.0, b, 0.0) for _, (a, b) in into)}
    apart, at_once = Track(320.0, least_straight=90.0), Track(320.0, reverse_curve=True)
    assert set(_pairs(apart)) == plain | {(k, 90.0, -k, 0.0), (-k, 90.0, k, 0.0)}
    assert set(_pairs(at_once)) == plain | {(k, 0.0, -k, 0.0), (-k, 0.0, k, 0.0)}


def test_a_piece_between_two_others_is_of_any_length_and_kind() -> None:
    """Curve between straights, straight between curves; where curves may follow one another, those, too."""
    k = 1 / 320
    for reverse in (False, True):
        track = Track(320.0, reverse_curve=reverse, least_straight=90.0)
        found = list(_triples(track, 200.0))
        assert {length for _, length, _, _ in found} == {20.0, 60.0, 120.0, 200.0} | (
            set() if reverse else {90.0}
        )
        for before, length, after, middle in found:
            assert (before, middle, after) != (middle, middle, middle)
            if before * after < 0 and not middle:
                assert length >= (0.0 if reverse else 90.0)
            assert reverse or min(before * middle, middle * after) >= 0
        kinds = {(before, middle, after) for before, _, after, middle in found}
        assert (0.0, k, 0.0) in kinds
        assert (k, 0.0, k) in kinds
        assert ((k, -k, k) in kinds) == reverse


def test_between_straights_a_long_vehicle_comes_nearest_on_a_short_arc() -> None:
    """464 mm from axle to axle, mouths on either side: 18.5 mm apart on two pieces, less than 12 on three.

    As near as in any pose on arcs between straights, found by halving in plain numbers.
    """
    ahead = CouplingEnd((24.0, 488.0), 0.0, (0.0, 10.0), (0.0, 12.5, 21.0))
    behind = CouplingEnd((24.0, 160.0), 0.0, (184.0, 10.0), (184.0, -19.0, 21.0))
    found = poses_apart(ahead, behind, 18.0, Track(radius=348.0, reverse_curve=False))
    by_halving = _nearest_by_halving(ahead, behind, 18.0, 348.0)
    assert 11.0 < found.nearest() <= by_halving + 0.01 < 12.1


def _nearest_by_halving(ahead: CouplingEnd, behind: CouplingEnd, drawbar: float, radius: float) -> float:
    """Return how near the mouths come on arcs of a few lengths between straights, in complex numbers."""

    def on_track(s: float, arc: float) -> complex:
        along = min(max(s, 0.0), arc)
        turned = cmath.exp(1j * along / radius)
        return radius * 1j * (1 - turned) + turned * (s - along) if s > 0 else complex(s)

    def back(there: complex, wanted: float, place: float, spot: Callable[[float], complex]) -> float:
        low, high = place - 1.6 * wanted - 60.0, place
        for _ in range(50):
            middle = (low + high) / 2
            low, high = (middle, high) if abs(spot(middle) - there) > wanted else (low, middle)
        return low

    def pose(end: CouplingEnd, front: float, arc: float) -> Callable[[float, float], complex]:
        span = end.guides[1] - end.guides[0]
        at = on_track(front, arc)
        rear = on_track(back(at, span, front, lambda s: on_track(s, arc)), arc)
        return lambda x, y: rear + (at - rear) / span * complex(x - end.guides[0], y)

    nearest = math.inf
    for arc in range(380, 461, 10):
        for front in range(480, 581, 4):
            one = pose(ahead, front, arc)
            pin = one(ahead.pin[0], 0.0)
            start = front - (ahead.guides[1] - ahead.pin[0])
            at = back(pin, drawbar, start - 24.0, lambda s, arc=arc: pose(behind, s, arc)(behind.pin[0], 0.0))
            other = pose(behind, at, arc)
            if abs(abs(pin - other(behind.pin[0], 0.0)) - drawbar) < 1e-6:
                nearest = min(nearest, abs(one(*ahead.mouth[:2]) - other(*behind.mouth[:2])))
    return nearest


def test_on_a_circle_two_vehicles_alike_stand_as_a_mirror_image() -> None:
    """Mouths in the middle line: the pins lie on one circle, the drawbar is its chord (textbook)."""
    ahead = CouplingEnd((30.0, 110.0), 0.0, (10.0, 10.0), (10.0, 0.0, 10.0))
    behind = CouplingEnd((30.0, 110.0), 0.0, (130.0, 10.0), (130.0, 0.0, 10.0))
    radius, drawbar = 200.0, 14.0
    found = poses_apart(ahead, behind, drawbar, Track(radius=radius, reverse_curve=False))
    assert found.distance == pytest.approx(drawbar, abs=0.02)
    # Mouths 8 mm inwards of the pins: both vehicles stand askew to the chord of the pins by the same angle.
    back = replace(ahead, mouth=(2.0, 0.0, 10.0)), replace(behind, mouth=(138.0, 0.0, 10.0))
    found = poses_apart(*back, drawbar, Track(radius=radius, reverse_curve=False))
    inner = math.sqrt(radius**2 - 40.0**2)
    pins = math.hypot(inner, 60.0)
    askew = math.asin(drawbar / 2 / pins) + math.atan2(60.0, inner)
    assert min(abs(found.distance - abs(drawbar - 16.0 * math.cos(askew)))) < 0.02


def test_a_change_of_gradient_opens_a_joint_above_or_below() -> None:
    """High mouths gape on a crest by height times twice the slope's sine; without a gradient they do not.

    The drawbar lies level over a crest that is as steep on either side, and both vehicles lean away from it;
    over a dip towards it. No two pitches differ by more, so nothing is farther or nearer.
    """
    high = CouplingEnd((30.0, 110.0), 0.0, (6.0, 10.0), (6.0, 0.0, 60.0))
    behind = replace(high, pin=(134.0, 10.0), mouth=(134.0, 0.0, 60.0))
    flat = poses_apart(high, behind, 20.0, Track(radius=1e9, gradient_percent=0.0))
    assert flat.distance == pytest.approx(20.0, abs=1e-3)
    steep = poses_apart(high, behind, 20.0, Track(radius=1e9, gradient_percent=4.0))
    lean = 2 * 50.0 * math.sin(math.atan(0.04))
    assert steep.distance.max() == pytest.approx(20.0 + lean, abs=0.05)
    assert steep.distance.min() == pytest.approx(20.0 - lean, abs=0.05)
    assert steep.nearest() == pytest.approx(20.0 - lean, abs=0.05)
