"""Kinds of track that poses are looked for on, one by one, and what is said of each."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest

from fitplan.routing.harness.coupling_crossings import WiredCoupling
from fitplan.routing.harness.worst_pose import (
    TrackLimits,
    _in_words,
    _kinds,
    _least_span,
    _worst_kinds,
)
from fitplan.routing.map.topology import Portal
from tests.routing.test_small_answers import wired

K = 1 / 250.0


def row(
    curves: tuple[float, float, float],
    span: float = 0.0,
    gradients: tuple[float, float, float] = (0.0, 0.0, 0.0),
    hump: float = 0.0,
    at: float = 0.0,
) -> np.ndarray:
    return np.array([*curves, span, *gradients, 0.0, hump, at])


@pytest.mark.parametrize(
    ("curves", "span", "words"),
    [
        ((0, 0, 0), 0.0, "straight track"),
        ((K, K, K), 0.0, "in a left-hand curve"),
        ((-K, -K, -K), 0.0, "in a right-hand curve"),
        ((0, K, K), 0.0, "entering a left-hand curve"),
        ((-K, 0, 0), 0.0, "leaving a right-hand curve"),
        ((0, 0, K), 0.0, "entering a left-hand curve"),
        ((K, -K, -K), 0.0, "in a reverse curve from left-hand to right-hand"),
        ((-K, 0, K), 60.0, "in a reverse curve from right-hand to left-hand, 60 mm of straight between"),
        ((-K, 0, K), 0.0, "in a reverse curve from right-hand to left-hand"),
        ((K, 0, K), 60.0, "with 60 mm of straight between two left-hand curves"),
        ((K, 0, -K), 40.4, "in a reverse curve from left-hand to right-hand, 40 mm of straight between"),
        ((0, K, 0), 80.0, "over 80 mm of a left-hand curve, from straight track to straight track"),
        ((K, -K, K), 80.0, "over 80 mm of a right-hand curve, from a left-hand curve to a left-hand curve"),
        ((0, 0, -K), 30.0, "on 30 mm of straight beside a right-hand curve"),
        ((-K, 0, 0), 30.0, "leaving a right-hand curve"),
    ],
)
def test_a_pose_in_words(curves: tuple[float, float, float], span: float, words: str) -> None:
    """Where the track changes it is said how far the front axle is beyond that."""
    beyond = ", front axle or pivot 12 mm beyond the joint" if len(set(curves)) > 1 else ""
    assert _in_words(row(curves, span, at=12.4)) == words + beyond


@pytest.mark.parametrize(
    ("gradients", "hump", "words"),
    [
        ((0.0, 0.0, 0.0), 0.0, "straight track"),
        ((0.0, 0.03, 0.03), 0.0, "straight track, over a dip of 3.0 %"),
        ((0.03, 0.0, 0.0), 0.0, "straight track, over a crest of 3.0 %"),
        ((-0.03, 0.03, 0.03), 0.0, "straight track, over a dip of 6.0 %"),
        ((0.0, 0.0, 0.03), 50.0, "straight track, over a dip of 3.0 %"),
        ((0.0, 0.03, 0.0), 50.0, "straight track, over a dip of 3.0 % and a crest of 3.0 % 50 mm apart"),
        ((0.03, -0.03, 0.0), 50.0, "straight track, over a crest of 6.0 % and a dip of 3.0 % 50 mm apart"),
    ],
)
def test_changes_of_gradient_in_words(gradients: tuple[float, float, float], hump: float, words: str) -> None:
    assert _in_words(row((0, 0, 0), gradients=gradients, hump=hump)) == words


@pytest.mark.parametrize("reverse", [False, True])
def test_every_kind_of_track_is_looked_at_once(reverse: bool) -> None:
    """Three pieces of left, straight or right; two pieces end in equal ones; reverse curves where allowed."""
    kinds = list(_kinds(TrackLimits(250.0, reverse_curve=reverse)))
    assert len(kinds) == len(set(kinds))
    seen = {tuple(int(np.sign(k)) for k in kind) for kind in kinds}
    expected = set()
    for one, two, three in product((0, 1, -1), repeat=3):
        touching = -1 in (one * two, two * three)
        if (not touching or reverse) and not (one == two != three):
            expected.add((one, two, three))
    assert seen == expected
    assert {abs(k) for kind in kinds for k in kind} == {0.0, K}
    assert list(_kinds(TrackLimits(math.inf))) == [(0.0, 0.0, 0.0)]


def test_between_curves_of_opposite_hand_lies_the_straight_that_the_track_has() -> None:
    """Unless reverse curves are allowed; between curves of one hand, or on a curve, there need be none."""
    rows = np.array([row((one, two, three)) for one, two, three in product((0.0, K, -K), repeat=3)])
    for reverse, least in ((False, 24.0), (True, 24.0), (False, 0.0)):
        spans = _least_span(rows, TrackLimits(250.0, reverse_curve=reverse, least_straight=least))
        for curves, span in zip(rows[:, :3], spans, strict=True):
            opposite = curves[0] * curves[2] < 0 and curves[1] == 0
            assert span == (least if opposite and not reverse else 0.0)
    with pytest.raises(ValueError, match="at least 0 mm long, not -1"):
        TrackLimits(250.0, least_straight=-1.0)


def test_of_each_kind_of_track_the_worst_pose_goes_on() -> None:
    """The worst of each kind, the worst kinds first; poses in which vehicles cannot stand come last."""
    rows = np.array(
        [row((K, K, K), at=float(n)) for n in range(4)] + [row((0, 0, 0), at=float(n)) for n in range(3)]
    )
    distance = np.array([1.0, 5.0, np.nan, 2.0, 6.0, np.nan, 4.0])
    found = _worst_kinds(rows, distance, 5)
    assert found[:, -1].tolist() == [0.0, 1.0]
    assert found[:, 0].tolist() == [0.0, K]


def test_leads_in_one_piece_have_no_cavity() -> None:
    """The last portals are passed beside the connector; each of the others has its cavity's number."""
    (ports,) = wired().layout.couplings.values()
    portals = tuple(Portal(f"n{n}", 0, n) for n in range(4))
    length = None
    for whole in range(5):
        made = WiredCoupling(ports, "joint", length, portals, (1, 3, 4, 7), 2.0, whole)  # type: ignore[arg-type]
        assert made.joined == portals[: 4 - whole]
        assert [made.cavity(one) for one in portals] == [1, 3, 4, 7]
