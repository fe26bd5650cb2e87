"""Shapes that meet, that only touch, and that lie inside one another."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from fitplan.model.solids import AXES, DIRECTIONS, Box, Cylinder, Solid, Wedge, unit_vector
from fitplan.verify.overlap import contained, overlap, overlap_boxes, shadow_box, way_out
from fitplan.verify.shapes import Disc, Polygon, Prism, Shape, eroded, moved, shape_of, swept

from .given_solids import BOXES, SOLIDS


def limits(solid: Solid) -> list:
    """The solid as smooth functions that are negative inside: an independent description."""
    if isinstance(solid, Cylinder):
        along = AXES.index(solid.axis)
        across = [i for i in range(3) if i != along]
        start = np.array(solid.start)
        return [
            lambda p: solid.start[along] - p[along],
            lambda p: p[along] - solid.start[along] - solid.length,
            lambda p: float(np.hypot(*(p - start)[across])) - solid.radius,
        ]
    box = solid.bounds
    found = [lambda p, i=i: box.low[i] - p[i] for i in range(3)]
    found += [lambda p, i=i: p[i] - box.high[i] for i in range(3)]
    if isinstance(solid, Wedge):

        def share(p: np.ndarray, way: str) -> float:
            axis = AXES.index(way[1])
            full = box.high[axis] if sum(unit_vector(way)) > 0 else box.low[axis]
            return abs(p[axis] - full) / box.size[axis]

        def slope(p: np.ndarray) -> float:
            inside_box = np.clip(p, box.low, box.high)
            return share(inside_box, solid.base) + share(inside_box, solid.back) - 1

        found.append(slope)
    return found


def contains(solid: Solid, point: np.ndarray, slack: float = 0.0) -> bool:
    return all(limit(point) <= slack for limit in limits(solid))


def sample(box: Box, count: int, seed: int) -> np.ndarray:
    return np.random.default_rng(seed).uniform(box.low, box.high, (count, 3))


def common_point(first: Solid, second: Solid) -> float:
    """The least that a point must stand out of two solids (negative: they share inner points)."""
    every = limits(first) + limits(second)
    low = np.maximum(first.bounds.low, second.bounds.low)
    high = np.minimum(first.bounds.high, second.bounds.high)
    best = math.inf
    for start in ((low + high) / 2, np.array(first.bounds.center), np.array(second.bounds.center)):
        found = minimize(
            lambda q: q[3],
            np.append(start, max(limit(start) for limit in every)),
            constraints=[{"type": "ineq", "fun": lambda q, f=f: q[3] - f(q[:3])} for f in every],
            method="SLSQP",
            options={"maxiter": 200, "ftol": 1e-9},
        )
        best = min(best, max(limit(found.x[:3]) for limit in every))
    return best


@given(SOLIDS, SOLIDS)
@settings(max_examples=150, deadline=None)
def test_overlap_holds_what_a_sampled_common_point_shows(first: Solid, second: Solid) -> None:
    """A point sampled well inside both solids is never denied."""
    low = tuple(max(a, b) for a, b in zip(first.bounds.low, second.bounds.low, strict=True))
    high = tuple(min(a, b) for a, b in zip(first.bounds.high, second.bounds.high, strict=True))
    if any(a >= b for a, b in zip(low, high, strict=True)):
        assert not overlap(shape_of(first), shape_of(second))
        return
    for point in sample(Box(low, high), 60, 1):
        if contains(first, point, -1e-6) and contains(second, point, -1e-6):
            assert overlap(shape_of(first), shape_of(second))
            assert overlap(shape_of(second), shape_of(first))
            return


@given(SOLIDS, SOLIDS)
@settings(max_examples=30, deadline=None)
def test_overlap_agrees_with_a_general_optimiser(first: Solid, second: Solid) -> None:
    """SciPy's SLSQP, asked for the point that stands out least, finds one inside both when we say so."""
    depth = common_point(first, second)
    claimed = overlap(shape_of(first), shape_of(second))
    if depth < -1e-4:
        assert claimed
    if claimed:
        assert depth < 1e-6


@given(SOLIDS, SOLIDS, BOXES)
@settings(max_examples=100, deadline=None)
def test_overlap_inside_a_box(first: Solid, second: Solid, within: Box) -> None:
    """A sampled point of both solids and the box is never denied, and the box never adds an overlap."""
    one, two = shape_of(first), shape_of(second)
    claimed = overlap(one, two, within)
    assert not claimed or overlap(one, two)
    assert claimed == overlap(two, one, within)
    for point in sample(within, 60, 2):
        if contains(first, point, -1e-6) and contains(second, point, -1e-6):
            assert claimed
            return


@given(SOLIDS, SOLIDS)
@settings(max_examples=60, deadline=None)
def test_the_way_out_ends_the_overlap_and_is_the_shortest(first: Solid, second: Solid) -> None:
    """After the move they no longer overlap; one hundredth of a mm less in any direction, they still do."""
    one, two = shape_of(first), shape_of(second)
    if not overlap(one, two):
        return
    depth, way = way_out(one, two)
    step = tuple(u * depth for u in unit_vector(way))
    assert not overlap(moved(one, step), two)
    if depth > 0.02:
        for other in DIRECTIONS:
            assert overlap(moved(one, tuple(u * (depth - 0.01) for u in unit_vector(other))), two)


@given(SOLIDS, st.lists(BOXES, min_size=1, max_size=8))
@settings(max_examples=60, deadline=None)
def test_many_boxes_at_once_agree_with_one_at_a_time(solid: Solid, boxes: list[Box]) -> None:
    """The vectorised test of boxes says the same as the single one."""
    shape = shape_of(solid)
    low, high = np.array([box.low for box in boxes]), np.array([box.high for box in boxes])
    assert overlap_boxes(shape, low, high).tolist() == [overlap(shape, box) for box in boxes]


@given(SOLIDS, BOXES, SOLIDS)
@settings(max_examples=100, deadline=None)
def test_inside_agrees_with_sampled_points(first: Solid, within: Box, holder: Solid) -> None:
    """No sampled point of a solid inside a box lies outside a holder that is said to hold it all."""
    if not contained(shape_of(first), within, shape_of(holder)):
        return
    for point in sample(within, 100, 3):
        if contains(first, point, -1e-6):
            assert contains(holder, point, 1e-6)


@given(SOLIDS, BOXES)
@settings(max_examples=60, deadline=None)
def test_inside_itself_and_its_bounds(solid: Solid, within: Box) -> None:
    """What lies in a box lies inside the solid itself and inside the box round the common part."""
    shape = shape_of(solid)
    assert contained(shape, within, shape, 1e-9)
    part = shadow_box(shape, within)
    if part is not None:
        assert contained(shape, within, part, 1e-9)


@given(SOLIDS, st.sampled_from(DIRECTIONS), st.integers(0, 20), st.floats(0, 1))
@settings(max_examples=60, deadline=None)
def test_a_sweep_holds_every_stop_on_the_way(solid: Solid, way: str, distance: int, share: float) -> None:
    """The union that a move sweeps holds the solid at every moment of it, and nothing else."""
    union = swept(shape_of(solid), way, distance)
    step = np.array(unit_vector(way)) * distance * share
    for point in sample(solid.bounds, 30, 4):
        if contains(solid, point, -1e-6):
            spot = point + step
            grain = Box(tuple(spot - 1e-7), tuple(spot + 1e-7))
            assert any(overlap(shape, grain) for shape in union)
    # And nothing else: a swept point is, moved back by some part of the way, a point of the solid.
    low = np.min([shape.bounds.low for shape in union], axis=0)
    high = np.max([shape.bounds.high for shape in union], axis=0)
    for spot in sample(Box(tuple(low), tuple(high)), 10, 5):
        grain = Box(tuple(spot - 1e-7), tuple(spot + 1e-7))
        if any(overlap(shape, grain) for shape in union):
            moves = np.linspace(0, distance, 400)[:, None] * np.array(unit_vector(way))
            assert any(contains(solid, spot - move, 0.06) for move in moves)


TOUCHING: list[tuple[Solid, Solid]] = [
    (Box((0, 0, 0), (1, 1, 1)), Box((1, 0, 0), (2, 1, 1))),
    (Box((0, 0, 0), (1, 1, 1)), Box((1, 1, 1), (2, 2, 2))),
    (Cylinder("x", (0, 0, 0), 10, 2), Cylinder("x", (3, 4, 0), 10, 2)),
    (Cylinder("x", (0, 0, 0), 10, 3), Cylinder("x", (0, 3, 4), 10, 2)),
    (Cylinder("x", (0, 0, 0), 10, 3), Cylinder("z", (5, 5, -4), 8, 2)),
    (Cylinder("x", (0, 0, 0), 10, 5), Cylinder("z", (12.4, 5.8, 3), 8, 3)),
    (Cylinder("x", (0, 0, 0), 10, 5), Box((2, 3, 4), (4, 8, 8))),
    (Wedge(Box((0, 0, 0), (4, 4, 3)), "-z", "-x"), Box((2, 0, 1.5), (4, 4, 3))),
    (Wedge(Box((0, 0, 0), (4, 4, 3)), "-z", "-x"), Wedge(Box((0, 0, 0), (4, 4, 3)), "+z", "+x")),
    (Wedge(Box((0, 0, 0), (8, 4, 6)), "-z", "-x"), Cylinder("y", (4 + 3, 0, 3 + 4), 4, 5)),
    (Wedge(Box((0, 0, 0), (8, 4, 6)), "-z", "-x"), Cylinder("x", (4, 2, 3 + 2.5), 4, 2.5)),
]  # fmt: skip


@pytest.mark.parametrize(("first", "second"), TOUCHING)
def test_touching_is_no_overlap(first: Solid, second: Solid) -> None:
    """Pairs that touch by construction (3-4-5 triangles) do not overlap; 0.001 mm nearer they do."""
    one, two = shape_of(first), shape_of(second)
    assert not overlap(one, two)
    nearer = [
        tuple(1e-3 * (b - a) for a, b in zip(first.bounds.center, second.bounds.center, strict=True)),
        *((x * 1e-3, y * 1e-3, z * 1e-3) for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0, 1)),
    ]
    assert any(overlap(moved(one, step), two) for step in nearer)


def test_erosion_takes_the_stated_depth_from_every_face() -> None:
    """A shape eroded by 0.5 mm lies inside its original; a cube of 1 mm round each inner point would fit."""
    wedge = shape_of(Wedge(Box((0, 0, 0), (8, 4, 6)), "-z", "-x"))
    inner = eroded(wedge, 0.5)
    assert isinstance(inner, Prism)
    assert isinstance(inner.profile, Polygon)
    assert (inner.low, inner.high) == (0.5, 3.5)
    slope = math.hypot(8, 6)
    for x, z in inner.profile.corners:
        assert x >= 0.5 - 1e-12
        assert z >= 0.5 - 1e-12
        assert (48 - 6 * x - 8 * z) / slope >= 0.5 - 1e-12
    assert len(inner.profile.corners) == 3
    assert eroded(shape_of(Box((0, 0, 0), (1, 9, 9))), 0.5) is None
    cylinder = eroded(shape_of(Cylinder("z", (0, 0, 0), 4, 2)), 0.5)
    assert cylinder == Prism(2, Disc((0, 0), 1.5), 0.5, 3.5)
    assert eroded(shape_of(Cylinder("z", (0, 0, 0), 4, 2)), 2) is None


def shapes_of(*solids: Solid) -> tuple[Shape, ...]:
    return tuple(shape_of(solid) for solid in solids)


def test_perpendicular_cylinders_pass_each_other_by_the_sum_of_radii() -> None:
    """Crossed cylinders of radius 3 and 4 meet at 6.99 mm between their axes, not at 7.01 mm."""
    for gap, meet in ((6.99, True), (7.01, False)):
        one, two = shapes_of(Cylinder("x", (-20, 0, 0), 40, 3), Cylinder("y", (0, -20, gap), 40, 4))
        assert overlap(one, two) is meet
