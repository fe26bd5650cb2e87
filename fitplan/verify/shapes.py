"""Solids as upright prisms: a profile (disc or convex polygon) drawn out along an axis.

Boxes, cylinders and wedges are all such prisms, and so is what they sweep in an axis-parallel move. That two
prisms meet, and that one lies inside another, can then be decided in closed form.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

from fitplan.model.solids import (
    AXES,
    Box,
    Cylinder,
    Direction,
    Solid,
    Vec,
    axis_of,
    bounds_of,
    is_forward,
    unit_vector,
)

Point2: TypeAlias = tuple[float, float]
Interval: TypeAlias = tuple[float, float]

PLANE: tuple[tuple[int, int], ...] = ((1, 2), (0, 2), (0, 1))
"""For each axis, the two axes that a profile across it is drawn in, in ascending order."""


@dataclass(frozen=True)
class Disc:
    """A disc in a profile's plane, in mm."""

    center: Point2
    radius: float


@dataclass(frozen=True)
class HalfPlane:
    """The points of a plane with ``normal · point <= limit``; the normal is 1 long and points outwards."""

    normal: Point2
    limit: float

    def beyond(self, point: Point2) -> float:
        """Return how far a point is outside, in mm; less than 0 inside."""
        return self.normal[0] * point[0] + self.normal[1] * point[1] - self.limit


@dataclass(frozen=True)
class Polygon:
    """A convex polygon in a profile's plane: corners counter-clockwise, in mm."""

    corners: tuple[Point2, ...]

    def edges(self) -> Iterator[tuple[Point2, Point2]]:
        """Yield both ends of each edge, in order."""
        return zip(self.corners, self.corners[1:] + self.corners[:1], strict=True)

    def half_planes(self) -> Iterator[HalfPlane]:
        """Yield what is on the inner side of each edge that has a length."""
        for p, q in self.edges():
            length = math.dist(p, q)
            if length:
                normal = ((q[1] - p[1]) / length, -(q[0] - p[0]) / length)
                yield HalfPlane(normal, normal[0] * p[0] + normal[1] * p[1])


Profile: TypeAlias = Disc | Polygon


@dataclass(frozen=True)
class Prism:
    """A profile drawn out along an axis (0, 1, 2 for x, y, z) from ``low`` to ``high``, in mm."""

    axis: int
    profile: Profile
    low: float
    high: float

    @cached_property
    def bounds(self) -> Box:
        """Smallest axis-parallel box round the prism."""
        (a0, a1), (b0, b1) = profile_bounds(self.profile)
        first, second = PLANE[self.axis]
        low, high = [0.0] * 3, [0.0] * 3
        low[self.axis], high[self.axis] = self.low, self.high
        low[first], high[first] = a0, a1
        low[second], high[second] = b0, b1
        return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))

    @property
    def interval(self) -> Interval:
        """From where to where it reaches along its axis."""
        return (self.low, self.high)


Shape: TypeAlias = Box | Prism


def rectangle(first: Interval, second: Interval) -> Polygon:
    """Return the polygon of a rectangle."""
    return Polygon(
        ((first[0], second[0]), (first[1], second[0]), (first[1], second[1]), (first[0], second[1]))
    )


def shape_of(solid: Solid) -> Shape:
    """Return a model's solid as a shape."""
    if isinstance(solid, Box):
        return solid
    if isinstance(solid, Cylinder):
        axis = AXES.index(solid.axis)
        first, second = PLANE[axis]
        low = solid.start[axis]
        return Prism(
            axis, Disc((solid.start[first], solid.start[second]), solid.radius), low, low + solid.length
        )
    base_axis, back_axis = (axis_of(way) for way in (solid.base, solid.back))
    axis = 3 - base_axis - back_axis
    box = solid.box

    def full(way: Direction, along: int) -> tuple[float, float]:
        low, high = box.low[along], box.high[along]
        return (high, low) if is_forward(way) else (low, high)

    (base_full, base_thin), (back_full, back_thin) = full(solid.base, base_axis), full(solid.back, back_axis)
    corners = [(base_full, back_full), (base_full, back_thin), (base_thin, back_full)]
    if base_axis > back_axis:
        corners = [(v, u) for u, v in corners]
    return Prism(axis, counter_clockwise(corners), box.low[axis], box.high[axis])


def counter_clockwise(corners: list[Point2]) -> Polygon:
    """Return the polygon of these corners of a convex figure, given in order round it."""
    area = sum(p[0] * q[1] - q[0] * p[1] for p, q in zip(corners, corners[1:] + corners[:1], strict=True))
    return Polygon(tuple(corners if area >= 0 else corners[::-1]))


def as_prism(shape: Shape, axis: int) -> Prism:
    """Return a box as a prism along this axis; a prism stays what it is."""
    if isinstance(shape, Prism):
        return shape
    first, second = PLANE[axis]
    low, high = shape.low, shape.high
    profile = rectangle((low[first], high[first]), (low[second], high[second]))
    return Prism(axis, profile, low[axis], high[axis])


def profile_bounds(profile: Profile) -> tuple[Interval, Interval]:
    """Return from where to where a profile reaches along its two axes."""
    if isinstance(profile, Disc):
        (u, v), r = profile.center, profile.radius
        return (u - r, u + r), (v - r, v + r)
    us = [u for u, _ in profile.corners]
    vs = [v for _, v in profile.corners]
    return (min(us), max(us)), (min(vs), max(vs))


def clip(polygon: Polygon, axis: int, low: float, high: float) -> Polygon | None:
    """Return the part of a polygon between two lines across its first (0) or second (1) axis.

    None when nothing is left.
    """
    corners = list(polygon.corners)
    for limit, sign in ((low, 1.0), (high, -1.0)):
        kept: list[Point2] = []
        for p, q in zip(corners, corners[1:] + corners[:1], strict=True):
            dp, dq = sign * (p[axis] - limit), sign * (q[axis] - limit)
            if dp >= 0:
                kept.append(p)
            if dp * dq < 0:
                share = dp / (dp - dq)
                cut = [p[0] + share * (q[0] - p[0]), p[1] + share * (q[1] - p[1])]
                cut[axis] = limit
                kept.append((cut[0], cut[1]))
        corners = kept
        if len(corners) < 3:
            return None
    return Polygon(tuple(corners))


def eroded(shape: Shape, by: float) -> Shape | None:
    """Return the points of a shape at least ``by`` mm below its surface; None when there are none."""
    if isinstance(shape, Box):
        low = (shape.low[0] + by, shape.low[1] + by, shape.low[2] + by)
        high = (shape.high[0] - by, shape.high[1] - by, shape.high[2] - by)
        return Box(low, high) if all(a < b for a, b in zip(low, high, strict=True)) else None
    if shape.high - shape.low <= 2 * by:
        return None
    profile: Profile
    if isinstance(shape.profile, Disc):
        if shape.profile.radius <= by:
            return None
        profile = Disc(shape.profile.center, shape.profile.radius - by)
    else:
        inner = _eroded_polygon(shape.profile, by)
        if inner is None:
            return None
        profile = inner
    return Prism(shape.axis, profile, shape.low + by, shape.high - by)


def _eroded_polygon(polygon: Polygon, by: float) -> Polygon | None:
    corners = list(polygon.corners)
    for side in polygon.half_planes():
        if not corners:
            break
        kept: list[Point2] = []
        for p, q in zip(corners, corners[1:] + corners[:1], strict=True):
            dp, dq = -side.beyond(p) - by, -side.beyond(q) - by
            if dp >= 0:
                kept.append(p)
            if dp * dq < 0:
                share = dp / (dp - dq)
                kept.append((p[0] + share * (q[0] - p[0]), p[1] + share * (q[1] - p[1])))
        corners = kept
    return Polygon(tuple(corners)) if len(corners) >= 3 else None


def moved(shape: Shape, by: Vec) -> Shape:
    """Return a shape moved by a vector (mm)."""
    if isinstance(shape, Box):
        a, b = shape.low, shape.high
        return Box(
            (a[0] + by[0], a[1] + by[1], a[2] + by[2]),
            (b[0] + by[0], b[1] + by[1], b[2] + by[2]),
        )
    first, second = PLANE[shape.axis]
    du, dv, along = by[first], by[second], by[shape.axis]
    profile: Profile
    if isinstance(shape.profile, Disc):
        u, v = shape.profile.center
        profile = Disc((u + du, v + dv), shape.profile.radius)
    else:
        profile = Polygon(tuple((u + du, v + dv) for u, v in shape.profile.corners))
    return Prism(shape.axis, profile, shape.low + along, shape.high + along)


def swept(shape: Shape, way: Direction, distance: float) -> tuple[Shape, ...]:
    """Return what a shape sweeps while it moves straight by ``distance`` mm, as a union of shapes.

    A box sweeps a box, a cylinder along its axis a cylinder, across it a box between two cylinders, and any
    other prism the prism of the hull of its first and last profile.
    """
    x, y, z = unit_vector(way)
    step = (x * distance, y * distance, z * distance)
    if distance == 0.0:
        return (shape,)
    last = moved(shape, step)
    if isinstance(shape, Box):
        assert isinstance(last, Box)
        return (bounds_of((shape, last)),)
    assert isinstance(last, Prism)
    if step[shape.axis] != 0.0:
        return (Prism(shape.axis, shape.profile, min(shape.low, last.low), max(shape.high, last.high)),)
    if isinstance(shape.profile, Disc):
        assert isinstance(last.profile, Disc)
        return (
            shape,
            last,
            Prism(shape.axis, _between_discs(shape.profile, last.profile), shape.low, shape.high),
        )
    assert isinstance(last.profile, Polygon)
    hull = convex_hull([*shape.profile.corners, *last.profile.corners])
    return (Prism(shape.axis, hull, shape.low, shape.high),)


def _between_discs(first: Disc, last: Disc) -> Polygon:
    (u, v), (p, q), r = first.center, last.center, first.radius
    if u == p:
        return rectangle((u - r, u + r), (min(v, q), max(v, q)))
    return rectangle((min(u, p), max(u, p)), (v - r, v + r))


def convex_hull(points: list[Point2]) -> Polygon:
    """Return the convex hull of points in a plane (Andrew's monotone chain, 1979)."""
    ordered = sorted(set(points))

    def chain(sequence: list[Point2]) -> list[Point2]:
        found: list[Point2] = []
        for p in sequence:
            while len(found) >= 2 and _turn(found[-2], found[-1], p) <= 0:
                found.pop()
            found.append(p)
        return found[:-1]

    return Polygon(tuple(chain(ordered) + chain(ordered[::-1])))


def _turn(o: Point2, a: Point2, b: Point2) -> float:
    return (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0])
