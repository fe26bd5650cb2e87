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

from fitplan.model.solids import Box, Solid, Vec
from fitplan.model.spans import spans

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

GOLDEN = math.pi * (3 - math.sqrt(5))
"""The golden angle in radians: points turned by it and spaced evenly in height cover a cap evenly."""
_TINY = 1e-12
_MARGIN = 1e-9
"""By so much more than a solid lies off all rays it is left out (mm)."""


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
    ahead = _ahead(origins, directions)
    some = [(number, one) for number, one in enumerate(obstacles) if ahead(one.solid)]
    passed = list(zip(some, spans(origins, directions, [one.solid for _, one in some]), strict=True))
    for place, ((number, obstacle), (enter, leave)) in enumerate(passed):
        if not obstacle.stops:
            continue
        rows = np.flatnonzero((leave > np.maximum(enter, 0.0) + _TINY) & (np.maximum(enter, 0.0) < best))
        if not len(rows):
            continue
        at = np.maximum(enter[rows], 0.0)
        holes = [
            (a[rows], b[rows])
            for (_, later), (a, b) in passed[place + 1 :]
            if not later.stops and np.any(b[rows] > a[rows])
        ]
        at = _past_holes(at, holes)
        met = (at < leave[rows] - _TINY) & (at < best[rows])
        best[rows[met]] = at[met]
        index[rows[met]] = number
    return Hits(best, index)


def _ahead(origins: Floats, directions: Floats) -> Callable[[Solid], bool]:
    """Return a quick test that is False only for solids that lie wholly behind or beside all rays."""
    if not len(origins):
        return lambda solid: True
    mean = directions.mean(axis=0)
    onwards = (directions @ mean).min() > 0
    start, middle = float((origins @ mean).min()) if onwards else -math.inf, mean.tolist()
    # Along an axis that no ray goes down, none gets below where the lowest begins, and so upwards.
    least = np.where((directions >= 0).all(axis=0), origins.min(axis=0) - _MARGIN, -np.inf).tolist()
    most = np.where((directions <= 0).all(axis=0), origins.max(axis=0) + _MARGIN, np.inf).tolist()

    def reaches(solid: Solid) -> bool:
        bounds = solid.bounds
        far = 0.0
        for axis, along in enumerate(middle):
            low, high = bounds.low[axis], bounds.high[axis]
            if high < least[axis] or low > most[axis]:
                return False
            far += max(low * along, high * along)
        return far >= start - _MARGIN

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
