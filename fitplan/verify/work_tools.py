"""Whether a straight tool gets to a joint: tip, shaft and grip, round, through what is open."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator

from fitplan.model.solids import AXES, Cylinder, Direction, Vec, axis_of, is_forward, plane_of
from fitplan.model.vehicle import Opening
from fitplan.model.work import TOOL_GRIP_MM, TOOL_SHAFT_MM, TOOL_TIP_MM, TOUCH_MM
from fitplan.verify.overlap import overlap
from fitplan.verify.scene import Site
from fitplan.verify.shapes import Shape, shape_of
from fitplan.verify.sliding import STATES_IN_THE_WAY


def tool_passes(site: Site, placed: Collection[str], point: Vec, way: Opening) -> bool:
    """Return whether a straight tool gets to a point through an opening, past the parts that are in."""
    body = site.opened(way)
    inside = [part for part in site.parts if part.name in placed]
    for piece in _tool(point, way.out, site):
        if body.hits(piece, STATES_IN_THE_WAY):
            return False
        if any(overlap(piece, shape) for part in inside for shape in part.core):
            return False
    return True


def _tool(point: Vec, out: Direction, site: Site) -> Iterator[Shape]:
    """Yield a tool's tip, shaft and grip as round solids, from a point to the hull's plane."""
    hull = site.vehicle.hull
    axis = axis_of(out)
    sign = 1 if is_forward(out) else -1
    plane = plane_of(hull, out)
    begin = point[axis] + sign * TOUCH_MM
    for wide, long in (TOOL_TIP_MM, TOOL_SHAFT_MM, (TOOL_GRIP_MM, math.inf)):
        length = min(long, max(sign * (plane - begin), 0.0))
        if length < 0.01:
            return
        start = list(point)
        start[axis] = min(begin, begin + sign * length)
        yield shape_of(Cylinder(AXES[axis], (start[0], start[1], start[2]), length, wide / 2 - 0.01))
        begin += sign * length
