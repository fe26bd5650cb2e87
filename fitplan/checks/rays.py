"""Rays against simple solids, exactly: where each ray first meets something solid.

Solids are drawn in order and later ones replace earlier ones, so a clear solid drawn later cuts a hole into
what lies under it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import AXES, Box, Cylinder, Solid, Vec, Wedge, axis_of, is_forward

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

GOLDEN = math.pi * (3 - math.sqrt(5))
"""The golden angle in radians: points turned by it and spaced evenly in height cover a cap evenly."""
_TINY = 1e-12


@dataclass(frozen=True)
class Obstacle:
    """A solid that stops rays, or a clear one that cuts a hole into those before it."""

    solid: Solid
    name: str
    stops: bool = True


@dataclass(frozen=True)
class Hits:
    """What rays meet first.

    Attributes
    ----------
    distance
        (n,) float, mm along each ray; infinite where it meets nothing.
    index
        (n,) int, which obstacle; −1 where it meets nothing.
    """

    distance: Floats
    index: Ints


def cone(axis: Vec, half_angle_deg: float, count: int) -> Floats:
    """Return directions that fill a cone evenly by solid angle, as (count, 3) unit vectors.

    A spiral of Fibonacci: heights evenly spaced on the cap (Archimedes: equal heights are equal areas),
    turned by the golden angle from one to the next.
    """
    low = math.cos(math.radians(half_angle_deg))
    height = 1 - (np.arange(count) + 0.5) / count * (1 - low)
    turn = GOLDEN * np.arange(count)
    aside = np.sqrt(np.maximum(0.0, 1 - height**2))
    one, other = _across(axis)
    main = np.asarray(axis, dtype=float)
    main = main / np.linalg.norm(main)
    circle = np.cos(turn)[:, None] * one + np.sin(turn)[:, None] * other
    found: Floats = height[:, None] * main + aside[:, None] * circle
    return found


def _across(axis: Vec) -> tuple[Floats, Floats]:
    main = np.asarray(axis, dtype=float)
    main = main / np.linalg.norm(main)
    helper = np.eye(3)[int(np.argmin(np.abs(main)))]
    one = np.cross(main, helper)
    one /= np.linalg.norm(one)
    return one, np.cross(main, one)


def spread(box: Box, count: int) -> Floats:
    """Return points spread evenly over a box, flat or not, as (count, 3).

    The additive sequence of the plastic number's powers, which leaves no gaps in two or three dimensions.
    """
    plastic = 1.22074408460575947536
    shares = (0.5 + np.outer(np.arange(count), [plastic**-1, plastic**-2, plastic**-3])) % 1.0
    found: Floats = np.asarray(box.low) + shares * np.asarray(box.size)
    return found


def first_hits(origins: Floats, directions: Floats, obstacles: Sequence[Obstacle]) -> Hits:
    """Return what each ray meets first.

    Parameters
    ----------
    origins, directions
        (n, 3) each; directions of any length, distances count in their length.
    """
    count = len(origins)
    best = np.full(count, np.inf)
    index = np.full(count, -1, dtype=np.int64)
    never = (np.full(count, np.inf), np.full(count, -np.inf))
    ahead = _ahead(origins, directions)
    spans = [_span(origins, directions, one.solid) if ahead(one.solid) else never for one in obstacles]
    for number, (obstacle, (enter, leave)) in enumerate(zip(obstacles, spans, strict=True)):
        if not obstacle.stops:
            continue
        rows = np.flatnonzero((leave > np.maximum(enter, 0.0) + _TINY) & (np.maximum(enter, 0.0) < best))
        if not len(rows):
            continue
        at = np.maximum(enter[rows], 0.0)
        holes = [
            (a[rows], b[rows])
            for later, (a, b) in zip(obstacles[number + 1 :], spans[number + 1 :], strict=True)
            if not later.stops and np.any(b[rows] > a[rows])
        ]
        at = _past_holes(at, holes)
        met = (at < leave[rows] - _TINY) & (at < best[rows])
        best[rows[met]] = at[met]
        index[rows[met]] = number
    return Hits(best, index)


def _ahead(origins: Floats, directions: Floats) -> Callable[[Solid], bool]:
    """Return a quick test that is False only for solids that lie wholly behind all rays."""
    middle = directions.mean(axis=0)
    if not len(origins) or (directions @ middle).min() <= 0:
        return lambda solid: True
    start = float((origins @ middle).min())

    def reaches(solid: Solid) -> bool:
        bounds = solid.bounds
        far = sum(max(a * m, b * m) for a, b, m in zip(bounds.low, bounds.high, middle, strict=True))
        return bool(far >= start - 1e-9)

    return reaches


def _past_holes(at: Floats, holes: Sequence[tuple[Floats, Floats]]) -> Floats:
    """Return for each ray the first place from ``at`` on that lies in no hole."""
    for _ in range(len(holes)):
        before = at
        for enter, leave in holes:
            inside = (enter <= at + _TINY) & (at < leave)
            at = np.where(inside, leave, at)
        if np.array_equal(before, at):
            break
    return at


def _span(origins: Floats, directions: Floats, solid: Solid) -> tuple[Floats, Floats]:
    """Return where rays enter and leave a solid (convex); leave < enter where they miss."""
    match solid:
        case Box():
            return _slabs(origins, directions, solid.low, solid.high, (0, 1, 2))
        case Cylinder():
            return _through_cylinder(origins, directions, solid)
        case Wedge():
            return _through_wedge(origins, directions, solid)


def _slabs(
    origins: Floats, directions: Floats, low: Vec, high: Vec, axes: tuple[int, ...]
) -> tuple[Floats, Floats]:
    enter = np.full(len(origins), -np.inf)
    leave = np.full(len(origins), np.inf)
    for axis in axes:
        step, here = directions[:, axis], origins[:, axis]
        along = np.abs(step) < _TINY
        safe = np.where(along, 1.0, step)
        one, other = (low[axis] - here) / safe, (high[axis] - here) / safe
        inside = (here >= low[axis]) & (here <= high[axis])
        enter = np.maximum(enter, np.where(along, np.where(inside, -np.inf, np.inf), np.minimum(one, other)))
        leave = np.minimum(leave, np.where(along, np.where(inside, np.inf, -np.inf), np.maximum(one, other)))
    return enter, leave


def _through_cylinder(origins: Floats, directions: Floats, solid: Cylinder) -> tuple[Floats, Floats]:
    along = AXES.index(solid.axis)
    a, b = (axis for axis in range(3) if axis != along)
    bounds = solid.bounds
    enter, leave = _slabs(origins, directions, bounds.low, bounds.high, (along,))
    px, py = origins[:, a] - solid.start[a], origins[:, b] - solid.start[b]
    dx, dy = directions[:, a], directions[:, b]
    square = dx * dx + dy * dy
    half = px * dx + py * dy
    rest = px * px + py * py - solid.radius**2
    parallel = square < _TINY
    safe = np.where(parallel, 1.0, square)
    under = half * half - square * rest
    root = np.sqrt(np.maximum(under, 0.0))
    misses = np.where(parallel, rest > 0, under <= 0)
    first = np.where(parallel, -np.inf, (-half - root) / safe)
    last = np.where(parallel, np.inf, (-half + root) / safe)
    enter = np.maximum(enter, np.where(misses, np.inf, first))
    leave = np.minimum(leave, np.where(misses, -np.inf, last))
    return enter, leave


def _through_wedge(origins: Floats, directions: Floats, solid: Wedge) -> tuple[Floats, Floats]:
    box = solid.box
    enter, leave = _slabs(origins, directions, box.low, box.high, (0, 1, 2))
    # u + v ≤ 1 with u, v the shares of the way from the full faces: a plane through two opposite edges.
    here = np.full(len(origins), -1.0)
    step = np.zeros(len(origins))
    for face in (solid.base, solid.back):
        axis = axis_of(face)
        size = box.size[axis]
        if not is_forward(face):
            here += (origins[:, axis] - box.low[axis]) / size
            step += directions[:, axis] / size
        else:
            here += (box.high[axis] - origins[:, axis]) / size
            step -= directions[:, axis] / size
    level = np.abs(step) < _TINY
    cross = -here / np.where(level, 1.0, step)
    leave = np.where(~level & (step > 0), np.minimum(leave, cross), leave)
    enter = np.where(~level & (step < 0), np.maximum(enter, cross), enter)
    leave = np.where(level & (here > 0), -np.inf, leave)
    return enter, leave
