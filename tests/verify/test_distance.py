"""Distances between a straight line and solids."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import lsq_linear

from fitplan.model.solids import Box, Cylinder, Solid, Wedge
from fitplan.verify.distance import line_to_box, line_to_boxes, line_to_shape, point_to_prism, points_to_lines
from fitplan.verify.shapes import Prism, shape_of

from .given_solids import BOXES, CYLINDERS, HALVES, WEDGES

POINTS = st.tuples(HALVES, HALVES, HALVES)


@given(POINTS, POINTS, st.lists(BOXES, min_size=1, max_size=3))
@settings(max_examples=40, deadline=None)
def test_line_to_boxes_agrees_with_bounded_least_squares(start: tuple, end: tuple, boxes: list[Box]) -> None:
    """SciPy's bounded least squares over the line and the box find the same distance."""
    low, high = np.array([box.low for box in boxes]), np.array([box.high for box in boxes])
    found = line_to_boxes(start, end, low, high)
    first, step = np.array(start), np.array(end) - np.array(start)
    matrix = np.column_stack([step, -np.eye(3)])
    for box, distance in zip(boxes, found, strict=True):
        low, high = np.append(0, box.low), np.append(1, box.high)
        best = lsq_linear(matrix, -first, bounds=(low, high), method="bvls", tol=1e-14)
        assert distance == pytest.approx(math.sqrt(2 * best.cost), abs=1e-6)


@given(POINTS, POINTS, st.one_of(CYLINDERS, WEDGES))
@settings(max_examples=80, deadline=None)
def test_line_to_prisms_is_the_least_over_its_points(start: tuple, end: tuple, solid: Solid) -> None:
    """No point of a fine row along the line is nearer, and one is nearly as near."""
    shape = shape_of(solid)
    assert isinstance(shape, Prism)
    row = [point_to_prism(tuple(p), shape) for p in np.linspace(start, end, 200)]
    found = line_to_shape(start, end, shape)
    spacing = math.dist(start, end) / 199
    assert found <= min(row) + 1e-6
    assert found >= min(row) - spacing


def test_known_distances() -> None:
    """A diagonal past an edge, a line through a box, a point beside a cylinder, a point above a slope."""
    box = Box((0, 0, 0), (4, 4, 4))
    assert line_to_shape((6, -1, 2), (-1, 6, 2), box) == 0.0
    assert line_to_shape((5, 9, 2), (9, 5, 2), box) == pytest.approx(math.hypot(3, 3))
    cylinder = shape_of(Cylinder("x", (0, 0, 0), 10, 2))
    assert line_to_shape((5, 3, 4), (5, 3, 4), cylinder) == pytest.approx(3.0)
    assert line_to_shape((13, 6, 0), (13, 30, 0), cylinder) == pytest.approx(5.0)
    wedge = shape_of(Wedge(Box((0, 0, 0), (8, 4, 6)), "-z", "-x"))
    assert line_to_shape((4 + 3, 2, 3 + 4), (4 + 3, 2, 3 + 4), wedge) == pytest.approx(5.0)


@given(POINTS, POINTS, BOXES)
@settings(max_examples=80, deadline=None)
def test_one_box_as_among_many(start: tuple, end: tuple, box: Box) -> None:
    """The two ways to reckon agree: one box in plain numbers, many at once."""
    among = line_to_boxes(start, end, np.array([box.low]), np.array([box.high]))[0]
    assert line_to_box(start, end, box) == pytest.approx(among, abs=1e-12)


@given(st.lists(POINTS, min_size=1, max_size=4), st.lists(st.tuples(POINTS, POINTS), min_size=1, max_size=3))
@settings(max_examples=40, deadline=None)
def test_points_to_lines_as_boxes_without_room(points: list[tuple], lines: list[tuple]) -> None:
    spots = np.array(points)
    starts, ends = np.array(lines).transpose(1, 0, 2)
    found = points_to_lines(spots, starts, ends)
    wanted = np.array([line_to_boxes(a, b, spots, spots) for a, b in lines]).T
    assert found == pytest.approx(wanted, abs=1e-9)
