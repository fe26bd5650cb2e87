"""Corners of bends: room judged by the pieces beside, against closed forms, in any unit."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.routing.ways.bends import _moved_out, room_at_corners
from fitplan.routing.ways.taut import turning_angles


def corner(turn_deg: float, leg: float) -> np.ndarray:
    """Return a way of two legs that are as long as each other, symmetrical about x = 0."""
    half = math.radians(turn_deg) / 2
    x, y = leg * math.cos(half), leg * math.sin(half)
    return np.array([[-x, -y, 0.0], [0.0, 0.0, 0.0], [x, -y, 0.0]])


@pytest.mark.parametrize("turn", [0.6, 3.0, 30.0, 90.0, 135.0, 165.0])
def test_a_corner_far_from_its_ends_has_the_radius_wanted(turn: float) -> None:
    assert room_at_corners(corner(turn, 4000.0), 10.0) == {1: 10.0}
    assert room_at_corners(corner(turn, 4000.0), 0.0) == {1: 0.0}


@pytest.mark.parametrize("turn", [20.0, 45.0, 60.0, 90.0])
@pytest.mark.parametrize("wanted", [5.0, 9.0, 14.0, 99.0])
def test_a_corner_near_its_ends_has_what_its_legs_leave(turn: float, wanted: float) -> None:
    """Tangents of an arc are r·tan(t/2) long, first on the way itself, then on that with its corner moved.

    With the middle d farther out the half turn t′/2 is atan((h + d)/w), for a corner h high and 2·w wide, and
    d is r·(1/cos(t′/2) − 1), but no more than r: found here by bisection.
    """
    leg = 10.0
    half = math.radians(turn) / 2
    high, wide = leg * math.sin(half), leg * math.cos(half)
    radius = min(wanted, leg / math.tan(half))
    low, most = 0.0, radius
    for _ in range(80):
        out = (low + most) / 2
        if min(radius * (1 / math.cos(math.atan2(high + out, wide)) - 1), radius) > out:
            low = out
        else:
            most = out
    now = math.atan2(high + out, wide)
    found = room_at_corners(corner(turn, leg), wanted)
    assert found == {1: pytest.approx(min(radius, math.hypot(high + out, wide) / math.tan(now)), rel=1e-6)}


def test_corners_close_together_share_the_piece_between() -> None:
    """Two corners 3 mm apart: 1.5 mm of radius each at 90°; the last has the 8 mm wanted."""
    chain = np.array([[0, 0, 0], [30, 0, 0], [30, 3, 0], [60, 3, 0], [60, 40, 0]], dtype=float)
    found = room_at_corners(chain, 8.0)
    assert sorted(found) == [1, 2, 3]
    assert 0 < found[1] <= 1.5
    assert 0 < found[2] <= 1.5
    assert found[3] == 8.0


@pytest.mark.parametrize("turn", [0.4, 0.49, 0.51, 0.6, 169.0, 171.0, 180.0])
def test_what_is_no_corner_and_what_has_no_room(turn: float) -> None:
    """Less than half a degree is straight on; beyond 170° nothing is known to fit."""
    found = room_at_corners(corner(turn, 500.0), 3.0)
    assert list(found) == ([] if turn < 0.5 else [1])
    assert all((radius == 0.0) is (turn > 170) for radius in found.values())


@given(
    st.lists(st.tuples(st.floats(-20, 20), st.floats(-20, 20), st.floats(-20, 20)), min_size=3, max_size=7),
    st.floats(0, 8),
    st.floats(0.2, 5.0),
)
@settings(max_examples=80, deadline=None)
def test_arcs_fit_beside_each_other_in_any_unit(
    points: list[tuple[float, float, float]], radius: float, scale: float
) -> None:
    """No piece is shorter than the tangents of both its arcs, none above the wanted; all scales alike."""
    chain = np.array(points)
    pieces = np.linalg.norm(np.diff(chain, axis=0), axis=1)
    if pieces.min() < 1.0:
        return
    found = room_at_corners(chain, radius)
    turns = [0.0, *np.radians(turning_angles(chain)).tolist(), 0.0]
    assert all(0 <= one <= radius for one in found.values())
    assert list(found) == [n for n, turn in enumerate(turns) if turn > math.radians(0.5)]
    tangents = [found.get(n, 0.0) and found[n] * math.tan(turn / 2) for n, turn in enumerate(turns)]
    assert all(a + b <= piece * (1 + 1e-9) for (a, b), piece in zip(pairwise(tangents), pieces, strict=True))
    other = room_at_corners(chain * scale, radius * scale)
    assert list(other.values()) == pytest.approx([one * scale for one in found.values()], rel=1e-4, abs=1e-6)


@pytest.mark.parametrize("turn", [1.0, 3.0, 12.0])
@pytest.mark.parametrize("radius", [1.0, 40.0])
def test_small_turns_are_moved_out_as_well(turn: float, radius: float) -> None:
    """By r·(1/cos(t/2) − 1), hundredths of a millimetre here, of the turn that the corner makes by then."""
    moved = _moved_out(corner(turn, 300.0), np.full(3, radius), np.array([1]))
    now = math.radians(float(turning_angles(moved)[0]))
    away = radius * (1 / math.cos(now / 2) - 1)
    assert moved[1].tolist() == pytest.approx([0.0, away, 0.0], abs=1e-9)
    assert away > 0
