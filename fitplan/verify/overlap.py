"""Whether two shapes share inner points, whether a third box is involved, and how far one must give way.

All prisms are axis-parallel, so each question falls apart into questions in one and two dimensions. With axes
``z`` and ``x``, for instance, a profile P in (x, y) over the interval Z and a profile Q in (y, z) over the
interval X share a point exactly when the shadows on y of P between the ends of X, and of Q between the ends
of Z, share one. Nothing here is iterated but the last bits of `way_out`.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import DIRECTIONS, Box, Direction, Vec, axis_of, is_forward, unit_vector
from fitplan.verify.shapes import (
    PLANE,
    Disc,
    Interval,
    Point2,
    Polygon,
    Prism,
    Profile,
    Shape,
    as_prism,
    clip,
    moved,
    profile_bounds,
    rectangle,
)

EDGE = 1e-9
"""Shapes that share less than this along some axis only touch (mm); it covers the rounding of floats."""
EVERYWHERE: Interval = (-math.inf, math.inf)


def overlap(first: Shape, second: Shape, within: Box | None = None) -> bool:
    """Return True when two shapes share inner points (inside a box, when one is given).

    Touching is no overlap.
    """
    if not bounds_overlap(first.bounds, second.bounds, within):
        return False
    if isinstance(first, Box) and isinstance(second, Box):
        return True
    if isinstance(first, Box):
        first, second = second, first
    assert isinstance(first, Prism)
    if isinstance(second, Box):
        if within is not None:
            low = tuple(max(a, b) for a, b in zip(second.low, within.low, strict=True))
            high = tuple(min(a, b) for a, b in zip(second.high, within.high, strict=True))
            second = Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
        second, within = as_prism(second, first.axis), None
    if first.axis == second.axis:
        return _along_one_axis(first, second, within)
    return _along_two_axes(first, second, within)


def bounds_overlap(first: Box, second: Box, third: Box | None = None) -> bool:
    """Return True when two boxes, and a third when given, share inner points."""
    for i in range(3):
        low, high = max(first.low[i], second.low[i]), min(first.high[i], second.high[i])
        if third is not None:
            low, high = max(low, third.low[i]), min(high, third.high[i])
        if high - low <= EDGE:
            return False
    return True


def _along_one_axis(first: Prism, second: Prism, within: Box | None) -> bool:
    axis = first.axis
    low, high = max(first.low, second.low), min(first.high, second.high)
    if within is not None:
        low, high = max(low, within.low[axis]), min(high, within.high[axis])
    if high - low <= EDGE:
        return False
    if within is None:
        return profiles_overlap(first.profile, second.profile)
    u, v = PLANE[axis]
    frame = ((within.low[u], within.high[u]), (within.low[v], within.high[v]))
    one, two = first.profile, second.profile
    if isinstance(one, Disc) and isinstance(two, Disc):
        return _discs_in_frame(one, two, frame)
    if isinstance(one, Disc):
        one, two = two, one
    assert isinstance(one, Polygon)
    clipped = _clip_frame(one, frame)
    return clipped is not None and profiles_overlap(clipped, two)


def _along_two_axes(first: Prism, second: Prism, within: Box | None) -> bool:
    common = 3 - first.axis - second.axis
    across_first, across_second = first.interval, second.interval
    limit = EVERYWHERE
    if within is not None:
        across_first = _narrow(across_first, (within.low[first.axis], within.high[first.axis]))
        across_second = _narrow(across_second, (within.low[second.axis], within.high[second.axis]))
        limit = (within.low[common], within.high[common])
    one = _shadow(first, common, across_second)
    two = _shadow(second, common, across_first)
    if one is None or two is None:
        return False
    low, high = _narrow(_narrow(one, two), limit)
    return high - low > EDGE


def _narrow(first: Interval, second: Interval) -> Interval:
    return (max(first[0], second[0]), min(first[1], second[1]))


def _shadow(prism: Prism, onto: int, strip: Interval) -> Interval | None:
    """Return the shadow on axis ``onto`` of a prism's profile inside a strip of its other axis."""
    return profile_shadow(prism.profile, PLANE[prism.axis].index(onto), strip)


def profile_shadow(profile: Profile, onto: int, strip: Interval) -> Interval | None:
    """Return the shadow of a profile on its first (0) or second (1) axis, of the part inside a strip.

    The strip is an interval of the other axis; None when no inner point of the profile lies in it.
    """
    low, high = profile_bounds(profile)[1 - onto]
    if min(high, strip[1]) - max(low, strip[0]) <= EDGE:
        return None
    if isinstance(profile, Disc):
        middle = profile.center[1 - onto]
        off = max(strip[0] - middle, middle - strip[1], 0.0)
        half = math.sqrt(max(profile.radius**2 - off**2, 0.0))
        return (profile.center[onto] - half, profile.center[onto] + half)
    part = clip(profile, 1 - onto, max(low, strip[0]), min(high, strip[1]))
    if part is None:
        return None
    along = [corner[onto] for corner in part.corners]
    return (min(along), max(along))


def profiles_overlap(first: Profile, second: Profile) -> bool:
    """Return True when two profiles of the same plane share inner points."""
    if isinstance(first, Disc) and isinstance(second, Disc):
        apart = math.dist(first.center, second.center)
        return first.radius + second.radius - apart > EDGE
    if isinstance(first, Polygon) and isinstance(second, Polygon):
        return not (_separated(first, second) or _separated(second, first))
    disc, polygon = (first, second) if isinstance(first, Disc) else (second, first)
    assert isinstance(disc, Disc)
    assert isinstance(polygon, Polygon)
    return disc.radius - distance_to_polygon(disc.center, polygon) > EDGE


def _separated(first: Polygon, second: Polygon) -> bool:
    """Return True when an edge of the first polygon has the second wholly outside."""
    return any(min(map(side.beyond, second.corners)) >= -EDGE for side in first.half_planes())


def distance_to_polygon(point: Point2, polygon: Polygon) -> float:
    """Return how far a point is outside a convex polygon; 0 inside."""
    contained, best = True, math.inf
    for p, q in polygon.edges():
        ex, ey = q[0] - p[0], q[1] - p[1]
        wx, wy = point[0] - p[0], point[1] - p[1]
        if ex * wy - ey * wx < 0:
            contained = False
        square = ex * ex + ey * ey
        share = min(max((wx * ex + wy * ey) / square, 0.0), 1.0) if square else 0.0
        best = min(best, math.hypot(wx - share * ex, wy - share * ey))
    return 0.0 if contained else best


def _clip_frame(polygon: Polygon, frame: tuple[Interval, Interval]) -> Polygon | None:
    part = clip(polygon, 0, *frame[0])
    return clip(part, 1, *frame[1]) if part is not None else None


def _discs_in_frame(one: Disc, two: Disc, frame: tuple[Interval, Interval]) -> bool:
    """Return True when two discs and a rectangle share inner points.

    The point of the common region that is furthest left is the leftmost point of one of the three, or a
    point where two outlines cross; so those are tried, drawn in by `EDGE`.
    """
    one, two = Disc(one.center, one.radius - EDGE), Disc(two.center, two.radius - EDGE)
    (u0, u1), (v0, v1) = frame
    tries: list[Point2] = [(u, v) for u in (u0, u1) for v in (v0, v1)]
    for disc in (one, two):
        (u, v), r = disc.center, disc.radius
        tries.append((u - r, v))
        tries += [(edge, v + s) for edge in (u0, u1) for s in _half_chord(r, edge - u)]
        tries += [(u + s, edge) for edge in (v0, v1) for s in _half_chord(r, edge - v)]
        tries.append((u0, min(max(v, v0), v1)))
    tries += _crossings(one, two)
    slack = EDGE / 2
    return any(
        u0 - slack <= u <= u1 + slack
        and v0 - slack <= v <= v1 + slack
        and all(math.dist((u, v), disc.center) <= disc.radius + slack for disc in (one, two))
        for u, v in tries
    )


def _half_chord(radius: float, off: float) -> tuple[float, ...]:
    square = radius**2 - off**2
    return (math.sqrt(square), -math.sqrt(square)) if square >= 0 else ()


def _crossings(one: Disc, two: Disc) -> list[Point2]:
    apart = math.dist(one.center, two.center)
    if apart == 0.0 or apart > one.radius + two.radius or apart < abs(one.radius - two.radius):
        return []
    along = (apart**2 + one.radius**2 - two.radius**2) / (2 * apart)
    off = math.sqrt(max(one.radius**2 - along**2, 0.0))
    ex, ey = (two.center[0] - one.center[0]) / apart, (two.center[1] - one.center[1]) / apart
    x, y = one.center[0] + along * ex, one.center[1] + along * ey
    return [(x - off * ey, y + off * ex), (x + off * ey, y - off * ex)]


def contained(first: Shape, within: Box, second: Shape, slack: float = 0.0) -> bool:
    """Return True when what of the first shape lies in a box lies inside the second shape.

    ``slack`` is by how much it may stand out (mm).
    """
    part = shadow_box(first, within)
    if part is None:
        return True
    if isinstance(second, Box):
        return all(
            part.low[i] >= second.low[i] - slack and part.high[i] <= second.high[i] + slack for i in range(3)
        )
    axis = second.axis
    if part.low[axis] < second.low - slack or part.high[axis] > second.high + slack:
        return False
    u, v = PLANE[axis]
    frame = ((part.low[u], part.high[u]), (part.low[v], part.high[v]))
    if isinstance(first, Prism) and first.axis == axis:
        if isinstance(first.profile, Disc):
            reach = _disc_corners(first.profile, frame, second.profile)
        else:
            clipped = _clip_frame(first.profile, frame)
            reach = list(clipped.corners) if clipped is not None else []
    else:
        reach = list(rectangle(*frame).corners)
    if isinstance(second.profile, Disc):
        return all(math.dist(p, second.profile.center) <= second.profile.radius + slack for p in reach)
    return all(beyond_edges(p, second.profile) <= slack for p in reach)


def _disc_corners(disc: Disc, frame: tuple[Interval, Interval], holder: Profile) -> list[Point2]:
    """Return the points of a disc inside a frame of which one reaches furthest out of a holder."""
    (u, v), r = disc.center, disc.radius
    (u0, u1), (v0, v1) = frame
    points: list[Point2] = [(a, b) for a in (u0, u1) for b in (v0, v1) if math.dist((a, b), disc.center) <= r]
    points += [(edge, v + s) for edge in (u0, u1) for s in _half_chord(r, edge - u)]
    points += [(u + s, edge) for edge in (v0, v1) for s in _half_chord(r, edge - v)]
    if isinstance(holder, Disc):
        dx, dy = u - holder.center[0], v - holder.center[1]
        length = math.hypot(dx, dy)
        points.append((u + r * dx / length, v + r * dy / length) if length else (u + r, v))
    else:
        points += [(u + r * side.normal[0], v + r * side.normal[1]) for side in holder.half_planes()]
    edge = EDGE
    return [p for p in points if u0 - edge <= p[0] <= u1 + edge and v0 - edge <= p[1] <= v1 + edge]


def beyond_edges(point: Point2, polygon: Polygon) -> float:
    """Return by how much a point lies beyond the edge of a polygon that it is furthest beyond."""
    return max((side.beyond(point) for side in polygon.half_planes()), default=-math.inf)


def nearest_outline(point: Point2, profile: Profile) -> Point2:
    """Return the point of a profile's outline that is nearest to a point inside it."""
    if isinstance(profile, Disc):
        (u, v), away = profile.center, math.dist(point, profile.center)
        if away == 0.0:
            return (u + profile.radius, v)
        return (
            u + (point[0] - u) / away * profile.radius,
            v + (point[1] - v) / away * profile.radius,
        )
    best, found = math.inf, point
    for p, q in profile.edges():
        ex, ey = q[0] - p[0], q[1] - p[1]
        square = ex * ex + ey * ey
        if square == 0.0:
            continue
        share = min(max(((point[0] - p[0]) * ex + (point[1] - p[1]) * ey) / square, 0.0), 1.0)
        foot = (p[0] + share * ex, p[1] + share * ey)
        if math.dist(point, foot) < best:
            best, found = math.dist(point, foot), foot
    return found


def shadow_box(shape: Shape, within: Box) -> Box | None:
    """Return the smallest box round what of a shape lies inside a box; None when no inner point does."""
    if not bounds_overlap(shape.bounds, within):
        return None
    bounds = shape.bounds
    low = [max(a, b) for a, b in zip(bounds.low, within.low, strict=True)]
    high = [min(a, b) for a, b in zip(bounds.high, within.high, strict=True)]
    if isinstance(shape, Prism):
        for own, axis in enumerate(PLANE[shape.axis]):
            other = PLANE[shape.axis][1 - own]
            shadow = profile_shadow(shape.profile, own, (within.low[other], within.high[other]))
            if shadow is None:
                return None
            low[axis], high[axis] = max(low[axis], shadow[0]), min(high[axis], shadow[1])
            if high[axis] - low[axis] <= EDGE:
                return None
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def overlap_boxes(shape: Shape, low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which of many boxes share inner points with a shape.

    Parameters
    ----------
    low, high
        Corners, (n, 3) in mm.

    Returns
    -------
    numpy.ndarray
        (n,) bool.
    """
    bounds = shape.bounds
    reach = np.minimum(high, np.asarray(bounds.high)) - np.maximum(low, np.asarray(bounds.low))
    found: NDArray[np.bool_] = (reach > EDGE).all(axis=1)
    if isinstance(shape, Box) or not found.any():
        return found
    plane = list(PLANE[shape.axis])
    some = np.flatnonzero(found)
    near_low, near_high = low[some][:, plane], high[some][:, plane]
    if isinstance(shape.profile, Disc):
        middle = np.asarray(shape.profile.center)
        off = np.maximum(np.maximum(near_low - middle, middle - near_high), 0.0)
        found[some] = np.hypot(off[:, 0], off[:, 1]) < shape.profile.radius - EDGE
        return found
    keep = np.ones(len(some), dtype=bool)
    for side in shape.profile.half_planes():
        normal = np.array(side.normal)
        keep &= np.where(normal > 0, near_low, near_high) @ normal < side.limit - EDGE
    found[some] = keep
    return found


def way_out(first: Shape, second: Shape) -> tuple[float, Direction]:
    """Return the shortest axis-parallel move of the first shape that ends an overlap: mm and direction.

    Both are convex, so along each direction they overlap up to one distance and never after it; that
    distance is halved in until it is known to 1e-6 mm.
    """
    best: tuple[float, Direction] = (math.inf, "+x")
    for way in DIRECTIONS:
        unit, axis, forwards = unit_vector(way), axis_of(way), is_forward(way)
        far = (
            second.bounds.high[axis] - first.bounds.low[axis]
            if forwards
            else first.bounds.high[axis] - second.bounds.low[axis]
        )
        near, far = 0.0, min(far, best[0])
        if overlap(moved(first, _scaled(unit, far)), second):
            continue  # no shorter than the best so far
        while far - near > 1e-6:
            middle = (near + far) / 2
            if overlap(moved(first, _scaled(unit, middle)), second):
                near = middle
            else:
                far = middle
        if far < best[0]:
            best = (far, way)
    return best


def _scaled(unit: tuple[int, int, int], by: float) -> Vec:
    return (unit[0] * by, unit[1] * by, unit[2] * by)
