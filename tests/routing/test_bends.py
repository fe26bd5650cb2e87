"""Rounded corners: lengths against closed forms, room judged by the pieces beside, the edge kept clear."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.model.wiring_facts import NOT_BELOW_DIAMETERS
from fitplan.routing.ways.bends import rounded
from fitplan.routing.ways.shortest_ways import WayMap
from fitplan.routing.ways.taut import Tautener, chain_length


def test_a_right_angle_far_from_its_ends() -> None:
    """An arc around a corner of 90° passes the corner itself, and the length is that of legs and arc."""
    corner = np.array([[0, 0, 0], [4000, 0, 0], [4000, 4000, 0]], dtype=float)
    way = rounded(corner, 10.0, pitch=1.0)
    assert [c.turn_deg for c in way.corners] == pytest.approx([90.0])
    assert way.has_room
    middle = (way.points[len(way.points) // 2] + way.points[len(way.points) // 2 - 1]) / 2
    assert np.linalg.norm(middle - corner[1]) < 1e-6
    # the corner moves out by 10·(√2 − 1); what the arc saves and the way out costs are known
    out = 10 * (math.sqrt(2) - 1)
    legs = 2 * math.hypot(4000 + out / math.sqrt(2), out / math.sqrt(2))
    assert way.length_mm == pytest.approx(legs - (20 - 5 * math.pi), rel=1e-6)


@given(
    st.lists(st.tuples(st.floats(-20, 20), st.floats(-20, 20), st.floats(-20, 20)), min_size=3, max_size=7),
    st.floats(0, 8),
)
@settings(max_examples=80, deadline=None)
def test_length_is_that_of_the_pieces_and_ends_stay(
    points: list[tuple[float, float, float]], radius: float
) -> None:
    """The stated length is that of the short pieces within 1 %, and the ends do not move."""
    chain = np.array(points)
    if np.linalg.norm(np.diff(chain, axis=0), axis=1).min() < 1.0:
        return
    way = rounded(chain, radius, pitch=0.8)
    np.testing.assert_array_equal(way.points[[0, -1]], chain[[0, -1]])
    assert 0.8 * chain_length(way.points) == pytest.approx(way.length_mm, rel=0.01)
    assert all(corner.radius_mm <= radius + 1e-12 for corner in way.corners)
    assert all(corner.has_room == (corner.radius_mm >= radius * (1 - 1e-9)) for corner in way.corners)


def test_corners_close_together_have_no_room() -> None:
    """Two corners 3 mm apart share the piece between them: 1.5 mm of radius each at 90°."""
    chain = np.array([[0, 0, 0], [30, 0, 0], [30, 3, 0], [60, 3, 0], [60, 40, 0]], dtype=float)
    way = rounded(chain, 8.0, pitch=1.0)
    assert [corner.has_room for corner in way.corners] == [False, False, True]
    assert way.corners[0].radius_mm <= 1.5
    assert not way.has_room


def test_around_an_edge_the_rounded_way_stays_clear() -> None:
    """Around a box the rounded way is free and longer, and blocked when a second wall is near."""
    free = np.ones((60, 60, 3), bool)
    free[:30, :30] = False
    pull = Tautener(free, 0.8, "walls")
    taut = pull.pull(WayMap(free).way((5, 31, 1), (31, 5, 1)).voxels)  # type: ignore[union-attr]
    way = rounded(taut.points, 5.0, pull=pull)
    assert way.free
    assert way.length_mm >= taut.length_mm - 1e-9
    free[10:27, 32:] = False
    tight = Tautener(free, 0.8, "walls")
    hard = rounded(taut.points, NOT_BELOW_DIAMETERS * 1.3, pull=tight)
    assert not hard.has_room


def test_straight_ways_and_radius_nought() -> None:
    """A straight way stays as it is; a radius of 0 keeps the corners and the length."""
    straight = np.array([[0, 0, 0], [5, 0, 0], [9, 0, 0]], dtype=float)
    assert rounded(straight, 5.0).corners == ()
    assert rounded(straight, 5.0).length_mm == pytest.approx(7.2)
    bent = np.array([[0, 0, 0], [5, 0, 0], [5, 5, 0]], dtype=float)
    assert rounded(bent, 0.0).length_mm == pytest.approx(8.0)
    with pytest.raises(ValueError, match="radius"):
        rounded(bent, -1.0)
