"""How much of a beam bricks hide between its lens and the outside of the wall that it looks through.

The beam's cross section there is the lens's rectangle, rounded on by what the half angle widens it on its
way: a rectangle and a disc added (Minkowski). Bricks on the way count where they lie as one looks straight
along the beam. All areas are closed forms: a rectangle, two strips on each axis, four quarter discs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from fitplan.lattice.boxes import ExactSpace
from fitplan.lattice.cover import TENTHS
from fitplan.model.solids import Place, axis_of, is_forward, plane_of
from fitplan.model.vehicle import Vehicle, Window
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.views import view_of

Span = tuple[float, float]


def hidden_share(
    vehicle: Vehicle, removed: frozenset[str], wanted: Wanted, window: Window, place: Place
) -> float:
    """Return the share, 0 to 1, of a ranger's beam that bricks hide at the outside of its window's wall.

    0 for what has no beam.
    """
    view = view_of(wanted, vehicle)
    if view is None or not view.slope:
        return 0.0
    lens = place.move_solid(view.lens).bounds
    along = axis_of(window.out)
    outside = plane_of(window.box, window.out)
    front = lens.high[along] if is_forward(window.out) else lens.low[along]
    radius = view.slope * abs(outside - front)
    across = [axis for axis in range(3) if axis != along]
    frame: tuple[Span, Span] = tuple((lens.low[axis], lens.high[axis]) for axis in across)  # type: ignore[assignment]
    space = ExactSpace.of(vehicle, removed=removed)
    ahead = sorted((front, outside))
    rows: list[tuple[Span, Span]] = []
    for row in space.boxes(space.solid()):
        low, high = [value / TENTHS for value in row[:3]], [value / TENTHS for value in row[3:]]
        if low[along] < ahead[1] - 1e-6 and high[along] > ahead[0] + 1e-6:
            rows.append(((low[across[0]], high[across[0]]), (low[across[1]], high[across[1]])))
    whole = _area(frame, radius, ((-math.inf, math.inf), (-math.inf, math.inf)))
    return _union(frame, radius, rows) / whole


def _union(frame: tuple[Span, Span], radius: float, rows: Sequence[tuple[Span, Span]]) -> float:
    """Return the area of a rounded rectangle that lies in any of some rectangles."""
    cuts = [sorted({edge for row in rows for edge in row[axis]}) for axis in (0, 1)]
    total = 0.0
    for x0, x1 in pairwise(cuts[0]):
        beside = [row[1] for row in rows if row[0][0] <= x0 and x1 <= row[0][1]]
        for y0, y1 in pairwise(cuts[1]):
            if any(low <= y0 and y1 <= high for low, high in beside):
                total += _area(frame, radius, ((x0, x1), (y0, y1)))
    return total


def _area(frame: tuple[Span, Span], radius: float, within: tuple[Span, Span]) -> float:
    """Return the area that a rectangle, rounded on by a radius, shares with another rectangle."""
    (a, b), (c, d) = frame
    (x0, x1), (y0, y1) = within
    total = _shared((a, b), (x0, x1)) * _shared((c - radius, d + radius), (y0, y1))
    for low, high in ((a - radius, a), (b, b + radius)):
        total += _shared((low, high), (x0, x1)) * _shared((c, d), (y0, y1))
    # Four quarter discs, each mirrored so that its middle is the origin and it lies where both grow.
    for xs in ((x0 - b, x1 - b), (a - x1, a - x0)):
        for ys in ((y0 - d, y1 - d), (c - y1, c - y0)):
            total += _quarter(radius, *xs, *ys)
    return total


def _shared(one: Span, other: Span) -> float:
    return max(min(one[1], other[1]) - max(one[0], other[0]), 0.0)


def _quarter(radius: float, x0: float, x1: float, y0: float, y1: float) -> float:
    """Return the area of a quarter disc about the origin, x and y above nought, in a rectangle."""
    x0, y0 = max(x0, 0.0), max(y0, 0.0)
    x1, y1 = min(x1, radius), min(y1, radius)
    if x0 >= x1 or y0 >= y1:
        return 0.0
    # Below the arc: flat under y1 up to where the arc comes down to it, then under the arc to y0.
    flat = min(max(math.sqrt(radius**2 - y1**2), x0), x1)
    end = min(max(math.sqrt(max(radius**2 - y0**2, 0.0)), flat), x1)
    under = _arc(radius, end) - _arc(radius, flat) - y0 * (end - flat)
    return (flat - x0) * (y1 - y0) + under


def _arc(radius: float, x: float) -> float:
    """Return the area under a circle's arc from 0 to x."""
    x = min(x, radius)
    return (x * math.sqrt(max(radius**2 - x**2, 0.0)) + radius**2 * math.asin(x / radius)) / 2
