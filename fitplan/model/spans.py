"""Where straight lines enter and leave simple solids, exactly."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import AXES, Box, Cylinder, Solid, Wedge, axis_of, is_forward

Floats = NDArray[np.float64]
_TINY = 1e-12


def span(origins: Floats, directions: Floats, solid: Solid) -> tuple[Floats, Floats]:
    """Return where lines enter and leave a solid (convex), (n,) each; leave < enter where they miss.

    Parameters
    ----------
    origins, directions
        (n, 3) each, in mm; directions of any length, what is returned counts in their length.
    """
    match solid:
        case Box():
            return _slabs(origins, directions, solid.low, solid.high, (0, 1, 2))
        case Cylinder():
            return _through_cylinder(origins, directions, solid)
        case Wedge():
            return _through_wedge(origins, directions, solid)


def spans(origins: Floats, directions: Floats, solids: Sequence[Solid]) -> list[tuple[Floats, Floats]]:
    """Return `span` of each of many solids; all boxes are reckoned at once."""
    boxes = [solid for solid in solids if isinstance(solid, Box)]
    low, high = (
        np.array(corners).reshape(-1, 3).T[:, :, None]
        for corners in ([box.low for box in boxes], [box.high for box in boxes])
    )
    of_boxes = zip(*_slabs(origins, directions, low, high, (0, 1, 2)), strict=True)
    return [
        next(of_boxes) if isinstance(solid, Box) else span(origins, directions, solid) for solid in solids
    ]


def _slabs(
    origins: Floats,
    directions: Floats,
    lows: Sequence[float] | Floats,
    highs: Sequence[float] | Floats,
    axes: tuple[int, ...],
) -> tuple[Floats, Floats]:
    """Return where lines enter and leave what lies between planes, of one box or of m boxes, (3, m, 1)."""
    enter, leave = np.full(len(origins), -np.inf), np.full(len(origins), np.inf)
    for axis in axes:
        low, high = lows[axis], highs[axis]
        step, here = directions[:, axis], origins[:, axis]
        along = np.abs(step) < _TINY
        safe = np.where(along, 1.0, step)
        one, other = (low - here) / safe, (high - here) / safe
        inside = (here >= low) & (here <= high)
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
