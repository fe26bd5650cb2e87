"""A clear length inside of a vehicle that is not as drawn: one of its two walls is moved."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from fitplan.model.solids import Box, Cylinder, Direction, Solid, Vec, Wedge, axis_of, is_forward, vec
from fitplan.model.vehicle import BodySolid, Vehicle

MOST_OFF_MM = 4.0
"""A length that is farther off is drawn wrongly, not measured: half a stud."""
_STEP_MM = 0.05
_CLEAR = ("free", "keep-clear", "outside")


def with_room(vehicle: Vehicle, at: Vec, towards: Direction, free: float) -> tuple[Vehicle | None, str]:
    """Return a vehicle with a wall moved so that a clear length is as measured, and the length drawn.

    The wall moves over a rectangle round the point: as far as room and wall go on, not where a passage
    leads through.
    None where that cannot be, with why.

    Parameters
    ----------
    at
        A point of the clear room (mm, the vehicle's frame).
    towards
        The wall that is moved; the one behind stays.
    free
        The length that was measured (mm).
    """
    solid = _solidity(vehicle)
    if solid(at):
        return None, f"a point within a brick, ({', '.join(f'{v:g}' for v in at)})"
    axis, hull = axis_of(towards), vehicle.hull
    low = _reach(solid, at, axis, -1, hull.low[axis])
    high = _reach(solid, at, axis, 1, hull.high[axis])
    if low is None or high is None:
        return None, "a room that is open on one side, there"
    drawn = high - low
    off = drawn - free
    said = f"{drawn:.1f} mm"
    if abs(off) > MOST_OFF_MM:
        return None, f"{free:g} mm where {said} are drawn"
    if abs(off) < _STEP_MM:
        return vehicle, said
    forward = is_forward(towards)
    wall = high if forward else low
    # The room just before the wall as it is drawn: as wide as it is clear in both other directions.
    before = list(at)
    before[axis] = wall - 2 * _STEP_MM if forward else wall + 2 * _STEP_MM
    middle = vec(before)
    corners_low, corners_high = list(middle), list(middle)
    deeper = (4 if forward else -4) * _STEP_MM

    def ends(point: Vec) -> bool:
        """Return whether the room, or the wall behind it, ends at a point before the wall."""
        behind = list(point)
        behind[axis] += deeper
        return solid(point) or not solid(vec(behind))

    for other in {0, 1, 2} - {axis}:
        down = _reach(ends, middle, other, -1, hull.low[other])
        up = _reach(ends, middle, other, 1, hull.high[other])
        corners_low[other] = hull.low[other] if down is None else down
        corners_high[other] = hull.high[other] if up is None else up
    now = wall - off if forward else wall + off
    corners_low[axis], corners_high[axis] = min(wall, now), max(wall, now)
    box = Box(vec(corners_low), vec(corners_high))
    made = BodySolid(box, "fixed" if off > 0 else "free", smooth=True)
    return replace(vehicle, body=(*vehicle.body, made)), said


def _solidity(vehicle: Vehicle) -> Callable[[Vec], bool]:
    built = [solid for one in vehicle.built_in for solid in one.solids]

    def solid(point: Vec) -> bool:
        if any(_holds(one, point) for one in built):
            return True
        state = next((one.state for one in reversed(vehicle.body) if _holds(one.solid, point)), "outside")
        return state not in _CLEAR

    return solid


def _reach(solid: Callable[[Vec], bool], at: Vec, axis: int, sign: int, edge: float) -> float | None:
    """Return where the next brick begins on the way from a point along an axis; None before the edge."""
    point = list(at)
    steps = round(abs(edge - at[axis]) / _STEP_MM)
    for step in range(1, steps + 1):
        point[axis] = at[axis] + sign * step * _STEP_MM
        if solid(vec(point)):
            near, far = point[axis] - sign * _STEP_MM, point[axis]
            for _ in range(20):
                point[axis] = (near + far) / 2
                if solid(vec(point)):
                    far = point[axis]
                else:
                    near = point[axis]
            return round(far, 3)
    return None


def _holds(solid: Solid, point: Vec) -> bool:
    bounds = solid.bounds
    if not all(a < v < b for a, v, b in zip(bounds.low, point, bounds.high, strict=True)):
        return False
    match solid:
        case Box():
            return True
        case Cylinder():
            along = "xyz".index(solid.axis)
            square = sum((point[i] - solid.start[i]) ** 2 for i in range(3) if i != along)
            return square < solid.radius**2
        case Wedge():
            share = 0.0
            for face in (solid.base, solid.back):
                i = axis_of(face)
                wide = bounds.high[i] - bounds.low[i]
                share += (bounds.high[i] - point[i] if is_forward(face) else point[i] - bounds.low[i]) / wide
            return share < 1
