"""Solids drawn into voxels."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.lattice.draw import draw
from fitplan.lattice.frame import Frame
from fitplan.model.solids import AXES, DIRECTIONS, Box, Cylinder, Place, Wedge, poses

FRAME = Frame((0.0, 0.0, 0.0), (15, 13, 11), 0.8)

lengths = st.floats(0.3, 8.0).map(lambda value: round(value, 2))
corners = st.floats(-2.0, 9.0).map(lambda value: round(value, 2))


@st.composite
def boxes(draw_from):
    low = [draw_from(corners) for _ in range(3)]
    return Box(tuple(low), tuple(c + draw_from(lengths) for c in low))


@st.composite
def solids(draw_from):
    kind = draw_from(st.sampled_from(("box", "cylinder", "wedge")))
    if kind == "box":
        return draw_from(boxes())
    if kind == "cylinder":
        start = tuple(draw_from(corners) for _ in range(3))
        return Cylinder(draw_from(st.sampled_from(AXES)), start, draw_from(lengths), draw_from(lengths) / 2)
    base = draw_from(st.sampled_from(DIRECTIONS))
    back = draw_from(st.sampled_from([face for face in DIRECTIONS if face[1] != base[1]]))
    return Wedge(draw_from(boxes()), base, back)


def holds(solid, points):
    """(n,) bool: whether points lie in a solid, by the solid's own definition."""
    bounds = solid.bounds
    inside = np.all((points >= bounds.low) & (points <= bounds.high), axis=1)
    if isinstance(solid, Cylinder):
        plane = [axis for axis in range(3) if AXES[axis] != solid.axis]
        inside &= np.hypot(*(points[:, axis] - solid.start[axis] for axis in plane)) <= solid.radius
    if isinstance(solid, Wedge):
        total = np.zeros(len(points))
        for face in (solid.base, solid.back):
            axis = AXES.index(face[1])
            low, high = bounds.low[axis], bounds.high[axis]
            away = points[:, axis] - low if face[0] == "-" else high - points[:, axis]
            total += away / (high - low)
        inside &= total <= 1
    return inside


@settings(max_examples=60, deadline=None)
@given(solid=solids(), seed=st.integers(0, 1000))
def test_drawings_hold_the_solid_between_them(solid, seed):
    """Points of the solid lie in outward voxels only, points of inward voxels lie in the solid only."""
    points = np.random.default_rng(seed).uniform(FRAME.box.low, FRAME.box.high, (3000, 3))
    index = tuple(np.floor(points / 0.8).astype(int).T)
    inside = holds(solid, points)
    assert draw(solid, FRAME, "outward")[index][inside].all()
    assert inside[draw(solid, FRAME, "inward")[index]].all()


@settings(max_examples=40, deadline=None)
@given(solid=solids())
def test_inward_is_part_of_outward(solid):
    """No voxel is wholly inside a solid without touching it."""
    assert not (draw(solid, FRAME, "inward") & ~draw(solid, FRAME, "outward")).any()


@settings(max_examples=40, deadline=None)
@given(low=st.tuples(*[st.integers(0, 8)] * 3), size=st.tuples(*[st.integers(1, 6)] * 3))
def test_boxes_on_the_grid_are_exact(low, size):
    """A box whose faces lie on voxel faces is the same voxels in both roundings, and no other."""
    box = Box(tuple(c * 0.8 for c in low), tuple((c + s) * 0.8 for c, s in zip(low, size, strict=True)))
    expected = np.zeros(FRAME.shape, bool)
    expected[tuple(slice(c, c + s) for c, s in zip(low, size, strict=True))] = True
    for rounding in ("outward", "inward"):
        assert (draw(box, FRAME, rounding) == expected).all()


@settings(max_examples=60, deadline=None)
@given(solid=solids(), number=st.integers(0, 23))
def test_drawing_turns_with_the_solid(solid, number):
    """In each of the 24 turnings the turned solid fills the turned voxels."""
    pose = poses()[number]
    frame = Frame((-9.6, -9.6, -9.6), (24, 24, 24), 0.8)
    turned = Place(pose, (0.0, 0.0, 0.0)).move_solid(solid)
    order = [[abs(c) for c in row].index(1) for row in pose.matrix]
    for rounding in ("outward", "inward"):
        expected = draw(solid, frame, rounding).transpose(order)
        for axis, row in enumerate(pose.matrix):
            if sum(row) < 0:
                expected = np.flip(expected, axis)
        assert (draw(turned, frame, rounding) == expected).all()


@pytest.mark.parametrize(
    ("solid", "volume"),
    [
        (Cylinder("x", (2.0, 15.1, 15.3), 25.0, 11.7), 25.0 * math.pi * 11.7**2),
        (Wedge(Box((1.1, 2.2, 3.3), (25.0, 20.0, 27.0)), "-z", "+x"), 23.9 * 17.8 * 23.7 / 2),
    ],
)
def test_volumes_close_in_on_the_closed_form(solid, volume):
    """The pair brackets the volume at every pitch, and the gap halves with the pitch (first order)."""
    gaps = []
    for pitch in (1.6, 0.8, 0.4):
        frame = Frame((0.0, 0.0, 0.0), (round(32 / pitch),) * 3, pitch)
        outer = draw(solid, frame, "outward").sum() * pitch**3
        inner = draw(solid, frame, "inward").sum() * pitch**3
        assert inner <= volume <= outer
        gaps.append(outer - inner)
    assert 1.6 < gaps[0] / gaps[1] < 2.4
    assert 1.6 < gaps[1] / gaps[2] < 2.4
