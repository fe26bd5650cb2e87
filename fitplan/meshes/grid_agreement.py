"""How well faces of a mesh that lie square to an axis agree with a grid, and where that grid lies.

The areas are read as weights at positions along an axis. For a period p the length of the mean vector of
exp(2πi·x/p) is 1 when all positions agree with the period and near 0 when they do not (the first
trigonometric moment of directional statistics; Mardia and Jupp, Directional Statistics, 2000, section
2.3.1); its angle is where the grid lies.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fitplan.units import PLATE, STUD

_MOST_PLANES = 400
_SAME = 1e-4
"""Share of a period by which faces at one place may differ."""


class Planes(NamedTuple):
    """Positions along an axis and the areas that lie there."""

    at: NDArray[np.float64]
    area: NDArray[np.float64]


def planes_along(
    first: NDArray[np.float64], normal: NDArray[np.float64], size: NDArray[np.float64], axis: int
) -> Planes:
    """Positions of all triangles that lie square to an axis, with their areas.

    ``first`` (m, 3) is a corner of each, ``normal`` its normal, as long (``size``) as twice its area.
    """
    square = np.abs(normal[:, axis]) > 0.9999 * size
    return _merged(first[square, axis], size[square] / 2)


def _merged(at: NDArray[np.float64], area: NDArray[np.float64]) -> Planes:
    if not len(at):
        return Planes(at, area)
    span = float(np.ptp(at)) or 1.0
    key = np.round((at - at.min()) / span * 100_000).astype(np.int64)
    _, first, group = np.unique(key, return_index=True, return_inverse=True)
    return Planes(at[first], np.bincount(group, weights=area).astype(np.float64))


def _mean_vector(planes: Planes, period: float) -> complex:
    """Mean of exp(2πi·x/period), by area; 0 when there are fewer than two positions."""
    total = float(planes.area.sum())
    if len(planes.at) < 2 or total <= 0:
        return 0j
    return complex((planes.area * np.exp(2j * np.pi * planes.at / period)).sum() / total)


def agreement(planes: list[Planes], scale: float, up: int) -> float:
    """Return how well faces agree with studs and plates at so many mm a unit: the least of the three axes."""
    vectors = [abs(_mean_vector(planes[axis], (PLATE if axis == up else STUD) / scale)) for axis in range(3)]
    return min(vectors)


def strengths(planes: Planes, periods: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (p,) the length of the mean vector for each period, by the planes with the greatest areas."""
    total = float(planes.area.sum())
    if len(planes.at) < 2 or total <= 0:
        return np.zeros(len(periods))
    most = np.argsort(-planes.area, kind="stable")[:_MOST_PLANES]
    turns = np.exp(2j * np.pi * planes.at[most] / periods[:, None])
    strength: NDArray[np.float64] = np.abs(turns @ planes.area[most]) / total
    return strength


def by_chance(planes: list[Planes], scale: float, up: int) -> float:
    """Return how likely faces at places drawn at random agree as well with a scale (Rayleigh's test).

    Of n places exp(−n·r²) have a mean vector of r and longer (Mardia and Jupp, section 6.3.1); faces of
    unequal areas count as the fewer equal ones whose mean vector spreads as far.
    """
    exponent = 0.0
    for axis, plane in enumerate(planes):
        if len(plane.at):
            count = float(plane.area.sum() ** 2 / (plane.area**2).sum())
            exponent += count * abs(_mean_vector(plane, (PLATE if axis == up else STUD) / scale)) ** 2
    return float(np.exp(-exponent))


def phase(planes: Planes, period: float) -> float:
    """Return where the grid lies along an axis: by the mean vector, then by the planes next to it alone.

    Walls within bricks and tops of studs lie off the grid on one side of it; they must not pull it along.
    Faces that stand back by the play of a brick do so on both sides. Where most faces lie at one place, that
    is the grid, whatever lies near it.
    """
    place = float(np.angle(_mean_vector(planes, period))) * period / (2 * np.pi)
    for reach in (0.15, 0.1, 0.05):
        apart = (planes.at - place + period / 2) % period - period / 2
        near = np.abs(apart) < reach * period
        if near.any():
            place += float(np.average(apart[near], weights=planes.area[near]))
    apart = (planes.at - place + period / 2) % period - period / 2
    order = np.argsort(apart, kind="stable")
    middle = float(apart[order][np.searchsorted(np.cumsum(planes.area[order]), planes.area.sum() / 2)])
    there = np.abs(apart - middle) < _SAME * period
    if planes.area[there].sum() > 0.5 * planes.area.sum() and abs(middle) < 0.05 * period:
        place += float(np.average(apart[there], weights=planes.area[there]))
    return place
