"""Polygons and discs apart from every side, against hulls of differences; feet on outlines by sampling."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from fitplan.model.solids import Box
from fitplan.verify.overlap import beyond_edges, contained, nearest_outline, overlap, overlap_boxes
from fitplan.verify.shapes import PLANE, Disc, Polygon, Prism, moved

NEAR = 1e-4
ANGLES = [2 * math.pi * (k + 0.3) / 16 for k in range(16)]


def regular(
    sides: int, radius: float, middle: tuple[float, float] = (0.0, 0.0), turned: float = 0.2
) -> Polygon:
    corners = [2 * math.pi * k / sides + turned for k in range(sides)]
    return Polygon(
        tuple((middle[0] + radius * math.cos(a), middle[1] + radius * math.sin(a)) for a in corners)
    )


def touching(one: Polygon, other: Polygon, angle: float) -> float:
    """How far the other must be from the first in a direction to touch it: the hull of all differences."""
    differences = np.array([np.subtract(p, q) for p in one.corners for q in other.corners])
    way = np.array([math.cos(angle), math.sin(angle)])
    return min(
        -row[2] / (row[:2] @ way) for row in ConvexHull(differences).equations if row[:2] @ way > 1e-12
    )


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize(("first", "second"), [(3, 3), (3, 5), (4, 8), (7, 4)])
def test_polygons_part_from_every_side(axis: int, first: int, second: int) -> None:
    """Along sixteen directions: a tenth of a micrometre nearer they overlap, farther they do not."""
    one, still = regular(first, 5.0), regular(second, 3.0, turned=0.7)
    for angle in ANGLES:
        far = touching(one, still, angle)
        for by, claimed in ((far - NEAR, True), (far + NEAR, False)):
            other = regular(second, 3.0, (by * math.cos(angle), by * math.sin(angle)), turned=0.7)
            a, b = Prism(axis, one, 0.0, 4.0), Prism(axis, other, 3.0, 9.0)
            assert overlap(a, b) is claimed
            assert overlap(b, a) is claimed
            assert not overlap(a, Prism(axis, other, 4.0, 9.0))


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("sides", [0, 3, 6, 48])
def test_boxes_part_from_a_prism_from_every_side(axis: int, sides: int) -> None:
    """Many boxes at once and each alone, round a polygon or a disc of 5 mm."""
    profile = regular(sides, 5.0) if sides else Disc((0.0, 0.0), 5.0)
    shape = Prism(axis, profile, 0.0, 4.0)
    low, high, expected = [], [], []
    box = Polygon(((-1.0, -2.0), (1.0, -2.0), (1.0, 2.0), (-1.0, 2.0)))
    for angle in ANGLES:
        if sides:
            far = touching(regular(sides, 5.0), box, angle)
        else:  # the disc touches a corner or an edge of the rectangle
            far = max(touching(regular(720, 5.0), box, angle), 0.0)
        for by, claimed in ((far - 2 * NEAR, True), (far + 2 * NEAR, False)):
            u, v = by * math.cos(angle), by * math.sin(angle)
            for start, end in ((3.0, 9.0), (-5.0, 1.0), (4.0, 9.0)):
                corner, other = [0.0] * 3, [0.0] * 3
                corner[axis], other[axis] = start, end
                for place, (middle, half) in zip(PLANE[axis], ((u, 1.0), (v, 2.0)), strict=True):
                    corner[place], other[place] = middle - half, middle + half
                low.append(corner)
                high.append(other)
                expected.append(claimed and start < 4.0)
    found = overlap_boxes(shape, np.array(low), np.array(high))
    assert found.tolist() == expected
    for corner, other, claimed in zip(low, high, expected, strict=True):
        assert overlap(shape, Box(tuple(corner), tuple(other))) is claimed  # type: ignore[arg-type]


@pytest.mark.parametrize("sides", [3, 4, 9])
def test_feet_on_outlines_and_how_far_points_lie_beyond(sides: int) -> None:
    """Against points on the outline, 0.01 mm apart, and the inscribed circle."""
    polygon = regular(sides, 5.0, (1.0, -2.0))
    corners = np.array(polygon.corners)
    outline = np.concatenate(
        [
            p + np.linspace(0, 1, 2000)[:, None] * (q - p)
            for p, q in zip(corners, np.roll(corners, -1, axis=0), strict=True)
        ]
    )
    rng = np.random.default_rng(sides)
    inner = 5.0 * math.cos(math.pi / sides)
    for _ in range(40):
        weights = rng.dirichlet(np.ones(sides))
        point = tuple(float(v) for v in weights @ corners)
        foot = nearest_outline(point, polygon)  # type: ignore[arg-type]
        away = np.linalg.norm(outline - np.array(point), axis=1)
        assert math.dist(point, foot) == pytest.approx(away.min(), abs=1e-3)
        assert math.dist(foot, outline[away.argmin()]) < 0.3
        assert beyond_edges(point, polygon) == pytest.approx(-math.dist(point, foot), abs=1e-9)  # type: ignore[arg-type]
    assert beyond_edges((1.0, -2.0), polygon) == pytest.approx(-inner)
    beyond = 2 * math.pi * 0.5 / sides + 0.2
    spot = (1.0 + 9 * math.cos(beyond), -2.0 + 9 * math.sin(beyond))
    assert beyond_edges(spot, polygon) == pytest.approx(9 - inner)
    disc = Disc((1.0, 1.0), 2.0)
    assert nearest_outline((1.0, 2.0), disc) == pytest.approx((1.0, 3.0))
    assert nearest_outline((0.5, 1.0), disc) == pytest.approx((-1.0, 1.0))
    assert nearest_outline((1.0, 1.0), disc) == pytest.approx((3.0, 1.0))


EVERYWHERE = Box((-99.0, -99.0, -99.0), (99.0, 99.0, 99.0))


@pytest.mark.parametrize("holder", [0, 3, 4, 11])
@pytest.mark.parametrize("held", [0, 3, 5])
def test_what_lies_in_another_touches_it_from_within(holder: int, held: int) -> None:
    """Moved sixteen ways until it touches: a little less is inside, a little more is not, unless allowed."""
    outer = regular(holder, 8.0) if holder else Disc((0.0, 0.0), 8.0)
    for angle in ANGLES:
        way = np.array([math.cos(angle), math.sin(angle)])
        spread = (
            np.array(regular(held, 1.5).corners)
            if held
            else 1.5 * np.array([[math.cos(a), math.sin(a)] for a in np.linspace(0, 2 * math.pi, 361)])
        )
        edges = (
            np.array(regular(holder, 8.0).corners)
            if holder
            else 8.0 * np.array([[math.cos(a), math.sin(a)] for a in np.linspace(0, 2 * math.pi, 361)[:-1]])
        )
        far = math.inf
        for p, q in zip(edges, np.roll(edges, -1, axis=0), strict=True):
            normal = np.array([q[1] - p[1], p[0] - q[0]]) / math.dist(p, q)
            if normal @ way > 1e-9:
                far = min(far, (normal @ p - (spread @ normal).max()) / (normal @ way))
        for by, slack, inside in (
            (far - 1e-3, 0.0, True),
            (far + 1e-3, 0.0, False),
            (far + 1e-3, 2e-3, True),
        ):
            u, v = (by * way).tolist()
            inner = regular(held, 1.5, (u, v)) if held else Disc((u, v), 1.5)
            one, two = Prism(2, inner, 1.0, 3.0), Prism(2, outer, 0.0, 4.0)
            assert contained(one, EVERYWHERE, two, slack) is inside
    high = Prism(2, regular(4, 1.0), 1.0, 4.001)
    assert not contained(high, EVERYWHERE, Prism(2, outer, 0.0, 4.0))
    assert contained(high, EVERYWHERE, Prism(2, outer, 0.0, 4.0), 0.002)
    assert contained(high, Box((-9, -9, 0), (9, 9, 4)), Prism(2, outer, 0.0, 4.0))


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("profile", [regular(5, 2.0), Disc((1.0, -1.0), 2.0)])
def test_a_shape_is_moved_along_each_axis(axis: int, profile: Polygon | Disc) -> None:
    """Its box moves by just as much, and it lies as before in what is moved along with it."""
    shape, by = Prism(axis, profile, 1.0, 2.0), (10.0, 20.0, 40.0)
    there = moved(shape, by)
    for old, new, step in zip(shape.bounds.low, there.bounds.low, by, strict=True):
        assert new - old == pytest.approx(step)
    for old, new, step in zip(shape.bounds.high, there.bounds.high, by, strict=True):
        assert new - old == pytest.approx(step)
    assert type(there) is Prism
    assert type(there.profile) is type(profile)


def test_what_touches_from_within_is_inside() -> None:
    """A box in itself, and a micrometre out of it on each of its six sides."""
    box = Box((0.0, 0.0, 0.0), (1.0, 2.0, 3.0))
    assert contained(box, EVERYWHERE, box)
    for axis in range(3):
        for by in (-1e-3, 1e-3):
            low, high = list(box.low), list(box.high)
            low[axis] += by
            high[axis] += by
            out = Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
            assert not contained(out, EVERYWHERE, box)
            assert contained(out, EVERYWHERE, box, 1.1e-3)
            assert contained(out, box, box)
