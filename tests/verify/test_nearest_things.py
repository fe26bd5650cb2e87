"""What is nearest to what, piece by piece: prisms, lines and boxes beside many points."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest

from fitplan.model.solids import Box, Direction, Vec, unit_vector
from fitplan.verify.distance import line_to_shape, nearest_in_prism, nearest_on_line, point_to_prism
from fitplan.verify.nearest import _beyond_side, _span_near, _wire_inside
from fitplan.verify.shapes import PLANE, Disc, Prism, convex_hull, swept
from fitplan.verify.wires import _span_in


def vec(values: object) -> Vec:
    x, y, z = (float(v) for v in values)  # type: ignore[attr-defined]
    return (x, y, z)


def prism(rng: np.random.Generator, round_: bool) -> Prism:
    """A prism about the origin, along any axis, round or with five corners or so."""
    axis = int(rng.integers(0, 3))
    low = float(rng.uniform(-3, 0))
    high = low + float(rng.uniform(1, 5))
    if round_:
        return Prism(
            axis,
            Disc((float(rng.uniform(-1, 1)), float(rng.uniform(-1, 1))), float(rng.uniform(1, 3))),
            low,
            high,
        )
    return Prism(axis, convex_hull([(float(u), float(v)) for u, v in rng.uniform(-3, 3, (7, 2))]), low, high)


def filled(shape: Prism, count: int = 25) -> np.ndarray:
    """Points of a prism, close together, those of its rim among them."""
    bounds = shape.bounds
    first, second = PLANE[shape.axis]
    us = np.linspace(bounds.low[first], bounds.high[first], count)
    vs = np.linspace(bounds.low[second], bounds.high[second], count)
    flat = []
    if isinstance(shape.profile, Disc):
        (u, v), r = shape.profile.center, shape.profile.radius
        flat = [(a, b) for a in us for b in vs if math.dist((a, b), (u, v)) <= r]
        flat += [(u + r * math.cos(t), v + r * math.sin(t)) for t in np.linspace(0, 2 * math.pi, 181)]
    else:
        corners = list(shape.profile.corners)
        middle = np.mean(corners, axis=0)
        for p, q in zip(corners, corners[1:] + corners[:1], strict=True):
            for s, t in product(np.linspace(0, 1, 41), np.linspace(0, 1, 9)):
                rim = np.array(p) * (1 - s) + np.array(q) * s
                flat.append(tuple(middle * (1 - t) + rim * t))
    found = np.zeros((len(flat), 9, 3))
    found[:, :, [first, second]] = np.array(flat)[:, None, :]
    found[:, :, shape.axis] = np.linspace(shape.low, shape.high, 9)
    return found.reshape(-1, 3)


CASES = [(seed, round_) for seed in range(4) for round_ in (True, False)]


@pytest.mark.parametrize(("seed", "round_"), CASES)
def test_the_nearest_point_of_a_prism(seed: int, round_: bool) -> None:
    """It is in the prism, and none of many others is nearer; inside it is the point itself."""
    rng = np.random.default_rng(seed)
    shape = prism(rng, round_)
    points = filled(shape)
    for _ in range(25):
        point = vec(rng.uniform(-6, 6, 3))
        found = nearest_in_prism(point, shape)
        away = point_to_prism(point, shape)
        assert point_to_prism(found, shape) == pytest.approx(0.0, abs=1e-9)
        assert math.dist(point, found) == pytest.approx(away, abs=1e-9)
        least = float(np.linalg.norm(points - np.array(point), axis=1).min())
        assert away <= least + 1e-9
        assert away == pytest.approx(least, abs=0.75) or away == 0.0
        if away == 0.0:
            assert found == pytest.approx(point)
    for point in rng.permutation(points)[:20]:
        inner = vec(0.999 * point + 0.001 * points.mean(axis=0))
        assert point_to_prism(inner, shape) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("seed", "round_"), CASES)
def test_a_line_is_as_far_from_a_prism_as_the_nearest_of_its_points(seed: int, round_: bool) -> None:
    rng = np.random.default_rng([seed, 1])
    shape = prism(rng, round_)
    for _ in range(8):
        start, end = vec(rng.uniform(-6, 6, 3)), vec(rng.uniform(-6, 6, 3))
        along = [vec(np.array(start) + s * (np.array(end) - np.array(start))) for s in np.linspace(0, 1, 401)]
        least = min(point_to_prism(point, shape) for point in along)
        away, where = nearest_on_line(start, end, shape)
        assert away == line_to_shape(start, end, shape)
        assert least - 0.05 <= away <= least + 1e-6
        assert point_to_prism(where, shape) == pytest.approx(away, abs=1e-6)
    assert nearest_on_line(start, start, shape) == (point_to_prism(start, shape), start)


@pytest.mark.parametrize("seed", range(6))
def test_the_piece_of_a_line_inside_a_box(seed: int) -> None:
    """From the first to the last of many points of it that the box, grown or not, holds."""
    rng = np.random.default_rng(seed)
    shares = np.linspace(0, 1, 2001)
    for turn in range(40):
        low = rng.uniform(-3, 1, 3)
        box = Box(vec(low), vec(low + rng.uniform(0.5, 4, 3)))
        start, end = rng.uniform(-5, 5, 3), rng.uniform(-5, 5, 3)
        if turn % 4 == 0:
            end[turn % 3] = start[turn % 3]
        reach = float(rng.uniform(0, 1))
        points = start + shares[:, None] * (end - start)
        for grow in (reach, 0.0):
            inside = ((points >= np.array(box.low) - grow) & (points <= np.array(box.high) + grow)).all(
                axis=1
            )
            if grow:
                span = _span_near(vec(start), vec(end), box, grow)
                if inside.any():
                    assert span is not None
                    ends = start + shares[inside][[0, -1]][:, None] * (end - start)
                    assert np.abs(np.array(span) - ends).max() < 0.011
                else:
                    assert span is None or math.dist(*span) < 0.011
            else:
                piece = _span_in(vec(start), vec(end), box)
                if inside.sum() > 2:
                    assert piece == pytest.approx((shares[inside][0], shares[inside][-1]), abs=1e-3)
                elif not inside.any():
                    assert piece is None or piece[1] - piece[0] < 1e-3


@pytest.mark.parametrize(("seed", "round_"), CASES)
def test_a_wire_lies_in_a_prism_where_balls_at_both_its_ends_do(seed: int, round_: bool) -> None:
    """Across; along the prism the box ends where it does, or the wire is not surely inside."""
    rng = np.random.default_rng([seed, 2])
    shape = prism(rng, round_)
    first, second = PLANE[shape.axis]
    turns = np.linspace(0, 2 * math.pi, 181)
    for _ in range(40):
        ends = [vec(rng.uniform(-2, 2, 3)) for _ in range(2)]
        radius = float(rng.uniform(0.05, 0.8))
        whole = all(
            _in(shape, (end[first] + radius * math.cos(t), end[second] + radius * math.sin(t)))
            for end in ends
            for t in turns
        )
        low, high = [-9.0] * 3, [9.0] * 3
        low[shape.axis], high[shape.axis] = shape.low, shape.high
        found = _wire_inside(ends[0], ends[1], radius - 1e-3, Box(vec(low), vec(high)), shape)
        if whole:
            assert found
        elif _wire_inside(ends[0], ends[1], radius + 1e-3, Box(vec(low), vec(high)), shape):
            pytest.fail("a ball stands out")
        for edge in (low, high):
            edge[shape.axis] += 0.1 if edge is high else -0.1
            assert not _wire_inside(ends[0], ends[1], 0.01, Box(vec(low), vec(high)), shape)
            edge[shape.axis] -= 0.1 if edge is high else -0.1


def _in(shape: Prism, spot: tuple[float, float]) -> bool:
    point = [0.0] * 3
    first, second = PLANE[shape.axis]
    point[first], point[second] = spot
    point[shape.axis] = (shape.low + shape.high) / 2
    return point_to_prism(vec(point), shape) == 0.0


@pytest.mark.parametrize(("seed", "round_"), CASES)
def test_a_point_just_beyond_the_side_of_a_prism(seed: int, round_: bool) -> None:
    """From a point inside straight to the nearest side, and a hair further."""
    rng = np.random.default_rng([seed, 3])
    shape = prism(rng, round_)
    first, second = PLANE[shape.axis]
    points = filled(shape)
    middle = points.mean(axis=0)
    flat = np.unique(np.where(np.arange(3) == shape.axis, middle, points), axis=0)
    rim = np.array([p for p in flat if point_to_prism(vec(middle + 1.001 * (p - middle)), shape) > 0])
    for point in rng.permutation(points)[:25]:
        inner = vec(middle + 0.9 * (point - middle))
        beyond = _beyond_side(inner, shape)
        assert beyond[shape.axis] == inner[shape.axis]
        assert 0.0 < point_to_prism(beyond, shape) < 0.01
        least = np.hypot(rim[:, first] - inner[first], rim[:, second] - inner[second]).min()
        moved = math.dist((inner[first], inner[second]), (beyond[first], beyond[second]))
        assert moved <= least + 0.02


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("way", ["+x", "-x", "+y", "-y", "+z", "-z"])
def test_a_round_prism_swept_holds_just_what_it_passes(axis: int, way: Direction) -> None:
    """A point is passed where, moved back by some part of the way, it is in the prism."""
    rng = np.random.default_rng([axis, "xyz".index(way[1]), way[0] == "+"])
    shape = Prism(axis, Disc((0.5, -0.3), 1.2), -1.0, 1.5)
    far = 3.0
    pieces = swept(shape, way, far)
    step = np.array(unit_vector(way)) * far
    back = np.linspace(0, 1, 151)[:, None] * step
    counts = [0, 0]
    for point in rng.uniform(-2.5, 2.5, (60, 3)):
        away = min(point_to_prism(vec(one), shape) for one in point - back)
        held = min(line_to_shape(vec(point), vec(point), piece) for piece in pieces)
        assert held == pytest.approx(away, abs=0.02)
        counts[away == 0.0] += 1
    assert min(counts) > 0
