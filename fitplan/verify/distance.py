"""How far the straight middle line of a wire passes from solids.

The distance from a point to a convex solid is a convex function, and along a straight line it stays one. For
boxes its square is made of parabolas and is minimised exactly; for other prisms the minimum is enclosed by
golden sections.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import Box, Vec
from fitplan.verify.overlap import distance_to_polygon, nearest_outline
from fitplan.verify.shapes import PLANE, Disc, Prism, Shape

_GOLDEN = (math.sqrt(5) - 1) / 2


def line_to_boxes(
    start: Vec, end: Vec, low: NDArray[np.float64], high: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the distances in mm between a straight line and boxes; 0 where it enters one.

    Parameters
    ----------
    start, end
        Ends of the line.
    low, high
        Corners of the boxes, (n, 3) in mm.

    Returns
    -------
    numpy.ndarray
        (n,) float. Between the shares at which the line passes the planes of a box the squared distance is
        a parabola, so its slope is straight there; it grows along the line, and is 0 at the nearest point.
    """
    first = np.asarray(start, dtype=np.float64)
    step = np.asarray(end, dtype=np.float64) - first
    count = len(low)
    # Along an axis that the line does not follow, no plane is passed: its shares are 0.
    per_share = np.where(step == 0.0, np.inf, step)
    passes = np.concatenate([low - first, high - first], axis=1) / np.concatenate([per_share, per_share])
    marks = np.sort(
        np.concatenate([np.zeros((count, 1)), np.ones((count, 1)), passes.clip(0.0, 1.0)], axis=1)
    )
    slopes = _offset(first + marks[:, :, None] * step, low[:, None], high[:, None]) @ step
    before = np.maximum((slopes <= 0.0).sum(axis=1) - 1, 0)
    after = np.minimum(before + 1, marks.shape[1] - 1)
    rows = np.arange(count)
    rise = slopes[rows, after] - slopes[rows, before]
    part = np.clip(-slopes[rows, before] / np.where(rise > 0.0, rise, np.inf), 0.0, 1.0)
    share = marks[rows, before] + part * (marks[rows, after] - marks[rows, before])
    off = _offset(first + share[:, None] * step, low, high)
    found: NDArray[np.float64] = np.sqrt((off * off).sum(axis=1))
    return found


def _offset(
    point: NDArray[np.float64], low: NDArray[np.float64], high: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the ways from the nearest points of boxes to points; along the line they add up to its slope."""
    return point - np.clip(point, low, high)


def line_to_box(start: Vec, end: Vec, box: Box) -> float:
    """Return the distance in mm between a straight line and one box, as `line_to_boxes` finds it."""
    step = (end[0] - start[0], end[1] - start[1], end[2] - start[2])

    def offset(share: float) -> Vec:
        x, y, z = start[0] + share * step[0], start[1] + share * step[1], start[2] + share * step[2]
        return (
            x - min(max(x, box.low[0]), box.high[0]),
            y - min(max(y, box.low[1]), box.high[1]),
            z - min(max(z, box.low[2]), box.high[2]),
        )

    passes = (
        (plane[axis] - start[axis]) / step[axis]
        for axis in range(3)
        if step[axis]
        for plane in (box.low, box.high)
    )
    share = slope = 0.0
    for mark in sorted([0.0, 1.0, *(one for one in passes if 0.0 < one < 1.0)]):
        x, y, z = offset(mark)
        there = x * step[0] + y * step[1] + z * step[2]
        if there > 0.0:
            # The slope is straight between marks, and the distance is least where it is none.
            share += (mark - share) * -slope / (there - slope)
            break
        share, slope = mark, there
    return math.hypot(*offset(share))


def points_to_lines(
    points: NDArray[np.float64], starts: NDArray[np.float64], ends: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return how far points (n, 3) are from straight lines with ends (m, 3): (n, m) in mm."""
    steps = ends - starts
    squares = (steps * steps).sum(axis=1)
    away = points[:, None] - starts
    shares = (away * steps).sum(axis=2) / np.where(squares > 0.0, squares, 1.0)
    away -= shares.clip(0.0, 1.0)[:, :, None] * steps
    found: NDArray[np.float64] = np.sqrt((away * away).sum(axis=2))
    return found


def line_to_shape(start: Vec, end: Vec, shape: Shape) -> float:
    """Return the distance in mm between a straight line and a shape, to 1e-6 mm; 0 where it enters it."""
    if isinstance(shape, Box):
        return line_to_box(start, end, shape)
    return nearest_on_line(start, end, shape)[0]


def nearest_on_line(start: Vec, end: Vec, prism: Prism) -> tuple[float, Vec]:
    """Return the distance in mm between a straight line and a prism, and where on the line that is."""
    step = tuple(b - a for a, b in zip(start, end, strict=True))

    def point(share: float) -> Vec:
        return (start[0] + share * step[0], start[1] + share * step[1], start[2] + share * step[2])

    def at(share: float) -> float:
        return point_to_prism(point(share), prism)

    length = math.dist(start, end)
    best, where = min((at(share), share) for share in ((0.0, 1.0) if length else (0.0,)))
    low, high = 0.0, 1.0
    one, two = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_one, at_two = at(one), at(two)
    while best > 0.0 and (high - low) * length > 1e-6:
        best, where = min((best, where), (at_one, one), (at_two, two))
        if at_one <= at_two:
            high, two, at_two = two, one, at_one
            one = high - _GOLDEN * (high - low)
            at_one = at(one)
        else:
            low, one, at_one = one, two, at_two
            two = low + _GOLDEN * (high - low)
            at_two = at(two)
    return best, point(where)


def point_to_prism(point: Vec, prism: Prism) -> float:
    """Return how far a point is outside a prism in mm; 0 inside."""
    along = max(prism.low - point[prism.axis], point[prism.axis] - prism.high, 0.0)
    first, second = PLANE[prism.axis]
    spot = (point[first], point[second])
    if isinstance(prism.profile, Disc):
        across = max(math.dist(spot, prism.profile.center) - prism.profile.radius, 0.0)
    else:
        across = distance_to_polygon(spot, prism.profile)
    return math.hypot(along, across)


def nearest_in_prism(point: Vec, prism: Prism) -> Vec:
    """Return the point of a prism that is nearest to a point."""
    first, second = PLANE[prism.axis]
    spot = (point[first], point[second])
    if isinstance(prism.profile, Disc):
        outside = math.dist(spot, prism.profile.center) > prism.profile.radius
    else:
        outside = distance_to_polygon(spot, prism.profile) > 0.0
    if outside:
        spot = nearest_outline(spot, prism.profile)
    found = list(point)
    found[first], found[second] = spot
    found[prism.axis] = min(max(point[prism.axis], prism.low), prism.high)
    return (found[0], found[1], found[2])
