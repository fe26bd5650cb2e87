"""How much of a straight lead-out lies inside solids: a wire begins at a pin, with nothing before it."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import AXES, Cylinder, Solid

Floats = NDArray[np.float64]


def cylinder_rows(solids: Iterable[Solid]) -> Floats:
    """Return (n, 7): of each cylinder the axis it lies along (0, 1, 2) and the box round it in mm."""
    rows = [
        [AXES.index(solid.axis), *solid.bounds.low, *solid.bounds.high]
        for solid in solids
        if isinstance(solid, Cylinder)
    ]
    return np.array(rows, dtype=np.float64).reshape(-1, 7)


def length_in_boxes(start: Floats, ends: Floats, boxes: Floats) -> Floats:
    """Return (n, m), how much (mm) of the straight ways from a point to ends (n, 3) lies in boxes (m, 6)."""
    way = np.broadcast_to((ends - start)[:, None, :], (len(ends), len(boxes), 3))
    first, last = _between(start, way, boxes[None, :, :3], boxes[None, :, 3:])
    return _inside(first.max(axis=-1), last.min(axis=-1), way)


def length_in_cylinders(start: Floats, ends: Floats, cylinders: Floats) -> Floats:
    """Return (n, m), how much (mm) of the straight ways from a point to ends (n, 3) lies in cylinders.

    Parameters
    ----------
    cylinders
        (m, 7) rows (`cylinder_rows`).
    """
    length = np.zeros((len(ends), len(cylinders)))
    way = ends - start
    for number, row in enumerate(cylinders):
        along, low, high = int(row[0]), row[1:4], row[4:]
        across = [axis for axis in range(3) if axis != along]
        away, side = (start - (low + high) / 2)[across], way[:, across]
        first, last = _between(start[along], way[:, along], low[along], high[along])
        # The shares s of the way at which |away + s * side| is the radius, from the quadratic equation.
        square, half = (side**2).sum(axis=1), side @ away
        rest = float(away @ away) - ((high - low)[across[0]] / 2) ** 2
        root = np.sqrt(np.maximum(half**2 - square * rest, 0.0))
        with np.errstate(divide="ignore", invalid="ignore"):
            enters, leaves = (-half - root) / square, (-half + root) / square
        still = square == 0  # along the axis: all of it is inside, or nothing
        enters = np.where(still, -np.inf if rest < 0 else np.inf, enters)
        leaves = np.where(still, np.inf if rest < 0 else -np.inf, leaves)
        length[:, number] = _inside(np.maximum(first, enters), np.minimum(last, leaves), way)
    return length


def _between(
    start: Floats | np.float64, way: Floats, low: Floats | np.float64, high: Floats | np.float64
) -> tuple[Floats, Floats]:
    """Return the shares of ways at which they come between two planes, and leave them, axis by axis."""
    with np.errstate(divide="ignore", invalid="ignore"):
        one, two = (low - start) / way, (high - start) / way
    beside = (start < low) | (start > high)
    first = np.where(way == 0, np.where(beside, np.inf, -np.inf), np.minimum(one, two))
    last = np.where(way == 0, np.where(beside, -np.inf, np.inf), np.maximum(one, two))
    return first, last


def _inside(first: Floats, last: Floats, way: Floats) -> Floats:
    """Return the length of the ways between two shares of them."""
    share = np.clip(np.minimum(last, 1.0) - np.maximum(first, 0.0), 0.0, 1.0)
    length: Floats = share * np.linalg.norm(way, axis=-1)
    return length
