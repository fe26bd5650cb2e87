"""Small questions of routing, each beside a closed form: circles in holes, images, corners moved outwards."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fitplan.model.solids import DIRECTIONS, Box, Cylinder, Wedge, mirrored, mirrored_box
from fitplan.routing.map.circle_packing import Rectangle, Round, cannot_hold, most_in_rectangle, overlap
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.handedness import mirrored_end
from fitplan.routing.ways.bends import _moved_out
from fitplan.routing.ways.taut import turning_angles


@pytest.mark.parametrize("number", range(1, 12))
def test_a_row_of_wires_fits_and_one_more_does_not(number: int) -> None:
    """A slot as high as a wire holds as many as it is long, whichever way round it is drawn."""
    for hole in (Rectangle(1.3 * number, 1.3), Rectangle(1.3, 1.3 * number)):
        assert most_in_rectangle(hole.width, hole.height, 1.3) == number
        assert cannot_hold(hole, [1.3] * number) == ""
        words = cannot_hold(hole, [1.3] * (number + 1))
        assert words == f"at most {number} of 1.3 mm have room, {number + 1} of that or more want through"
    assert most_in_rectangle(1.2, 9.0, 1.3) == 0


@pytest.mark.parametrize("high", [1.05, 1.3, 1.6, 1.8])
def test_a_zigzag_is_as_close_as_it_can_be(high: float) -> None:
    """Up to √3/2 of a wire above one wire a zigzag is the densest: each next is √(1 − b²) farther along."""
    b = high - 1
    for number in range(2, 9):
        long = 1 + (number - 1) * math.sqrt(1 - b * b)
        assert most_in_rectangle(long + 1e-6, high, 1.0) == number
        assert most_in_rectangle(long - 1e-3, high, 1.0) == number - 1
        assert most_in_rectangle(high, long - 1e-3, 1.0) == number - 1


@pytest.mark.parametrize(("one", "other"), [(2.0, 2.0), (3.0, 1.0), (2.5, 1.7)])
@pytest.mark.parametrize("wide", [3.0, 3.2, 3.6])
def test_two_wires_lie_in_opposite_corners(one: float, other: float, wide: float) -> None:
    """They go through as long as the diagonal between their middles is as long as both radii."""
    half = (one + other) / 2
    across = wide - half
    least = half + math.sqrt(max(half * half - across * across, 0.0))
    for high in (least - 0.01, least + 0.01):
        if high < max(one, other):
            continue
        words = cannot_hold(Rectangle(wide, high), [one, other])
        refused = words != ""
        assert one == other or not refused or "beside each other" in words
        assert refused == (high < least), (high, least)
        # One in each corner: what the sentence says is what overlaps.
        centres = np.array(
            [[-wide / 2 + one / 2, -high / 2 + one / 2], [wide / 2 - other / 2, high / 2 - other / 2]]
        )
        assert (overlap(Rectangle(wide, high), centres, [one, other]) > 1e-9) == refused


def test_more_copper_than_hole_is_refused() -> None:
    """Where no count and no pair refuses them, the areas may: six wires of six gauges."""
    wires = [2.0, 1.9, 1.8, 1.7, 1.6, 1.5]
    area = math.pi / 4 * sum(d * d for d in wires)
    for share, refused in ((0.99, True), (0.9995, True), (1.0005, False), (1.01, False)):
        side = math.sqrt(area * share)
        words = cannot_hold(Rectangle(side, side), wires)
        assert words.startswith("their cross-sections") == refused


def test_how_far_circles_enter_each_other_or_the_rim() -> None:
    """The worst of all pairs and rims, each by itself in closed form."""
    centres = np.array([[0.0, 0.0], [1.5, 0.0], [0.0, -2.0]])
    wires = [2.0, 1.6, 1.0]
    assert overlap(Rectangle(20, 20), centres, wires) == pytest.approx(0.3)
    assert overlap(Rectangle(20, 4.4), centres, wires) == pytest.approx(0.3)
    assert overlap(Rectangle(20, 4.0), centres, wires) == pytest.approx(0.5)
    assert overlap(Rectangle(3.6, 20), centres, wires) == pytest.approx(0.5)
    assert overlap(Rectangle(4.4, 20), -centres, wires) == pytest.approx(0.3)
    assert overlap(Round(4.0), centres, wires) == pytest.approx(0.5)
    assert overlap(Round(9.0), centres[1:], wires[1:]) == 0.0
    assert overlap(Round(4.4), centres[1:2], wires[1:2]) == pytest.approx(0.1)


def test_images_of_solids_and_ends() -> None:
    """The image of an image is the thing itself; only y turns round, and left becomes right."""
    box = Box((1.0, 2.0, 3.0), (4.0, 7.0, 9.0))
    assert mirrored_box(box, 48.0) == mirrored(box, 48.0) == Box((1.0, 41.0, 3.0), (4.0, 46.0, 9.0))
    solids = {
        Cylinder("y", (1.0, 2.0, 3.0), 5.0, 1.5): Cylinder("y", (1.0, 41.0, 3.0), 5.0, 1.5),
        Cylinder("x", (1.0, 2.0, 3.0), 5.0, 1.5): Cylinder("x", (1.0, 46.0, 3.0), 5.0, 1.5),
        Wedge(box, "-y", "-z"): Wedge(mirrored_box(box, 48.0), "+y", "-z"),
    }
    for solid, image in solids.items():
        assert mirrored(solid, 48.0) == image
        assert mirrored(image, 48.0) == solid
    for way in DIRECTIONS:
        other = NetEnd("n", "o", "q", "v", (5.0, 6.0, 7.0), way)
        end = NetEnd("n", "o", "p", "v", (1.0, 2.0, 3.0), way, others=(other,))
        turned = mirrored_end(end, 48.0)
        assert turned.at == (1.0, 46.0, 3.0)
        assert turned.others[0].at == (5.0, 42.0, 7.0)
        expected = {"+y": "-y", "-y": "+y"}.get(way, way)
        assert (turned.exit, turned.others[0].exit) == (expected, expected)
        assert mirrored_end(turned, 48.0) == end


@pytest.mark.parametrize("turn", [20.0, 60.0, 90.0, 120.0])
@pytest.mark.parametrize("radius", [0.5, 2.0])
def test_a_corner_is_moved_out_so_that_its_arc_passes_where_it_was(turn: float, radius: float) -> None:
    """It lies beyond its old place, on the bisector, by r·(1/cos(t/2) − 1) of the turn that it makes now."""
    angle = math.radians(turn)
    chain = np.array([[-30.0, 0, 0], [0, 0, 0], [30 * math.cos(angle), 30 * math.sin(angle), 0]])
    moved = _moved_out(chain, np.full(3, radius), np.array([1]))
    assert (moved[[0, 2]] == chain[[0, 2]]).all()
    now = math.radians(float(turning_angles(moved)[0]))
    away = min(radius * (1 / math.cos(now / 2) - 1), radius)
    assert np.linalg.norm(moved[1]) == pytest.approx(away, abs=1e-6)
    bisector = np.array([math.sin(angle / 2), -math.cos(angle / 2), 0.0])
    assert moved[1] @ bisector == pytest.approx(away, abs=1e-6)
    assert (_moved_out(chain, np.full(3, radius), np.array([], dtype=int)) == chain).all()
