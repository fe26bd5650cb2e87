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
        a parabola; each is minimised by its own formula.
    """
    first, last = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
    step = last - first
    count = len(low)
    with np.errstate(divide="ignore", invalid="ignore"):
        passes = np.concatenate([(low - first) / step, (high - first) / step], axis=1)
    passes = np.clip(np.nan_to_num(passes, nan=0.0, posinf=1.0, neginf=0.0), 0.0, 1.0)
    marks = np.sort(np.concatenate([np.zeros((count, 1)), passes, np.ones((count, 1))], axis=1), axis=1)
    from_share, to_share = marks[:, :-1], marks[:, 1:]
    middle = (from_share + to_share) / 2
    point = first + middle[:, :, None] * step
    below, above = point < low[:, None, :], point > high[:, None, :]
    # On this piece the offset along an axis is (edge - first) - share * step, or nothing between the planes.
    edge = np.where(below, low[:, None, :], high[:, None, :]) - first
    counted = below | above
    top = np.where(counted, edge * step, 0.0).sum(axis=2)
    bottom = np.where(counted, step * step, 0.0).sum(axis=2)
    with np.errstate(divide="ignore", invalid="ignore"):
        best = np.where(bottom > 0, top / np.where(bottom > 0, bottom, 1.0), middle)
    best = np.clip(best, from_share, to_share)
    point = first + best[:, :, None] * step
    off = np.maximum(np.maximum(low[:, None, :] - point, point - high[:, None, :]), 0.0)
    found: NDArray[np.float64] = np.sqrt((off * off).sum(axis=2).min(axis=1))
    return found


def line_to_shape(start: Vec, end: Vec, shape: Shape) -> float:
    """Return the distance in mm between a straight line and a shape, to 1e-6 mm; 0 where it enters it."""
    if isinstance(shape, Box):
        return float(line_to_boxes(start, end, np.array([shape.low]), np.array([shape.high]))[0])
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
