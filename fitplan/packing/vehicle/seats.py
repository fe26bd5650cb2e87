"""In which poses and at which offsets a part may sit in a vehicle, from its mount rules and its need.

All offsets are integers in tenths of a millimetre, in the vehicle's frame; a domain is a union of closed
boxes of offsets ``(x0, y0, z0, x1, y1, z1)``, often flat, a line or a point.

Each rule is read two ways. For *fits* the limits are rounded inwards: every offset that is left obeys the
rule in exact millimetres. For *cannot fit* they are rounded outwards and give by the play of real bricks on
top (a gap of n studs measures 8n + 0.2 mm): an offset between two tenths counts as the tenth below it, so
where nothing is left, no offset at all obeys the rule.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fitplan.lattice.frame import Rounding
from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Part
from fitplan.model.solids import (
    ORIGIN,
    Box,
    Direction,
    Place,
    Pose,
    axis_of,
    is_forward,
    opposite,
    plane_of,
    poses,
)
from fitplan.model.vehicle import Face, Vehicle, Window
from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.zoned import EDGE, out_of_zones
from fitplan.units import PLAY

PLAY_TENTHS = round(PLAY * 10)
"""In the relaxed question seats and hull give by this much on every side (tenths of a mm)."""
VIEW = 1
"""Half the width of the line ahead of a lens that stays clear (tenths of a mm)."""
_FAR = 100_000


@dataclass(frozen=True)
class Wanted:
    """A need and the part that is to serve it."""

    need: Need
    part: Part


@dataclass(frozen=True)
class Seat:
    """A pose that a part may take, with the offsets that its mount allows there (tenths of a mm).

    Seats of lower ``cost`` are preferred: an emitter sits on the middle of a receiver's face where it can.
    """

    pose: Pose
    offsets: tuple[IntBox, ...]
    cost: int = 0


def tenths_up(length: float) -> int:
    """Return mm as tenths, rounded up (to within a millionth)."""
    return math.ceil(length * 10 - EDGE)


def tenths_down(length: float) -> int:
    """Return mm as tenths, rounded down (to within a millionth)."""
    return math.floor(length * 10 + EDGE)


def seats(
    part: Part, need: Need, vehicle_name: str, vehicle: Vehicle, rounding: Rounding = "outward"
) -> tuple[Seat, ...]:
    """Return the seats of a part in a vehicle; empty when its need keeps it out of this vehicle.

    With ``outward`` every offset surely obeys the mount rules; with ``inward`` none that may is left out.

    Poses that fill the same space are kept apart only when the mount tells them apart: a board that is
    turned end for end takes the same room, but its pins and its plug do not.
    """
    if need.vehicles and vehicle_name not in need.vehicles:
        return ()
    if need.pinned is not None:
        if need.pinned.vehicle != vehicle_name:
            return ()
        if need.pinned.pose is not None and need.pinned.offset is not None:
            pose = next(entry for entry in poses() if entry.name == need.pinned.pose)
            x, y, z = (round(value * 10) for value in need.pinned.offset)
            if rounding == "outward":
                return (Seat(pose, ((x, y, z, x, y, z),)),)
            return (Seat(pose, (_limits(need.pinned.offset, need.pinned.offset, rounding),)),)
    found: list[Seat] = []
    for pose in part.mount.allowed_poses():
        offsets: list[IntBox] = meet(
            [(-_FAR, -_FAR, -_FAR, _FAR, _FAR, _FAR)], inside_hull(part, pose, vehicle.hull, rounding)
        )
        if need.pinned is not None:
            offsets = meet(offsets, _where_fixed(part, pose, need.pinned, rounding))
        if need.looks is not None:
            if need.looks[0] != vehicle_name:
                return ()
            window = next(entry for entry in vehicle.windows if entry.name == need.looks[1])
            offsets = meet(offsets, _at_window(part, pose, window, rounding))
        offsets = out_of_zones(offsets, part, pose, need, vehicle, rounding)
        if need.sits is not None:
            if need.sits[0] != vehicle_name:
                return ()
            face = face_of(vehicle, need.sits[1], need.sits[2])
            middle = meet(offsets, on_face(part, pose, middle_of(face), rounding))
            if middle:
                found.append(Seat(pose, tuple(middle)))
            offsets = meet(offsets, on_face(part, pose, face, rounding))
        if offsets:
            found.append(Seat(pose, tuple(offsets), cost=int(need.sits is not None)))
    return tuple(found)


def _where_fixed(part: Part, pose: Pose, fixed: FixedPlace, rounding: Rounding) -> IntBox | None:
    """Offsets that a fixed place leaves; None where the pose is not the one asked.

    What lies between two tenths is meant to the nearest tenth.
    """
    if not fixed.allows(part, pose):
        return None
    bounds = Place(pose, ORIGIN).move_solid(part.bounds).bounds
    low, high = [-_FAR / 10.0] * 3, [_FAR / 10.0] * 3
    asked = list(enumerate(fixed.offset or ()))
    asked += [(axis_of(side), plane - plane_of(bounds, side)) for side, plane in fixed.planes]
    for axis, value in asked:
        low[axis], high[axis] = max(low[axis], value - 0.05), min(high[axis], value + 0.05)
    return _limits(low, high, rounding)


def middle_of(face: Face) -> Face:
    """Return the face shrunk to its middle, give or take a tenth of a millimetre."""
    low, high = list(face.box.low), list(face.box.high)
    for axis in range(3):
        if high[axis] - low[axis] > 0.2:
            middle = (low[axis] + high[axis]) / 2
            low[axis], high[axis] = middle - 0.1, middle + 0.1
    return Face(face.name, Box((low[0], low[1], low[2]), (high[0], high[1], high[2])), face.out)


def face_of(vehicle: Vehicle, built_in: str, face: str) -> Face:
    """Return a face of something that is built in."""
    owner = next(entry for entry in vehicle.built_in if entry.name == built_in)
    return next(entry for entry in owner.faces if entry.name == face)


def _limits(low: Sequence[float], high: Sequence[float], rounding: Rounding) -> IntBox:
    """Return the offsets between two limits in mm as tenths; turned inside out where there are none."""
    if rounding == "outward":
        least, most = [tenths_up(value) for value in low], [tenths_down(value) for value in high]
    else:
        least = [tenths_down(value) - PLAY_TENTHS for value in low]
        most = [tenths_up(value) + PLAY_TENTHS for value in high]
    return (least[0], least[1], least[2], most[0], most[1], most[2])


def inside_hull(part: Part, pose: Pose, hull: Box, rounding: Rounding) -> IntBox:
    """Offsets that keep the whole envelope inside the vehicle's hull."""
    bounds = Place(pose, ORIGIN).move_solid(part.bounds).bounds
    low = [hull.low[i] - bounds.low[i] for i in range(3)]
    high = [hull.high[i] - bounds.high[i] for i in range(3)]
    return _limits(low, high, rounding)


def _at_window(part: Part, pose: Pose, window: Window, rounding: Rounding) -> IntBox | None:
    """Offsets that put the lens inside the window's outline, its front within the wall's thickness."""
    mount = part.mount
    looks: Direction = mount.looks or "+x"
    if pose.turn_direction(looks) != window.out:
        return None
    lens = Place(pose, ORIGIN).move_solid(mount.lens or front_of(part.bounds, looks)).bounds
    along = axis_of(window.out)
    forwards = is_forward(window.out)
    low, high = [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]
    for axis in range(3):
        if axis == along:
            front = lens.high[axis] if forwards else lens.low[axis]
            low[axis], high[axis] = window.box.low[axis] - front, window.box.high[axis] - front
        else:
            low[axis] = window.box.low[axis] - lens.low[axis]
            high[axis] = window.box.high[axis] - lens.high[axis]
    return _limits(low, high, rounding)


def on_face(part: Part, pose: Pose, face: Face, rounding: Rounding) -> IntBox | None:
    """Offsets that lay the part's sitting face on a built-in's face, the lens's middle over the face."""
    mount = part.mount
    sits: Direction = mount.sits or "-z"
    if pose.turn_direction(sits) != opposite(face.out):
        return None
    touch = Place(pose, ORIGIN).move_solid(mount.lens or front_of(part.bounds, sits)).bounds
    bounds = Place(pose, ORIGIN).move_solid(part.bounds).bounds
    along = axis_of(face.out)
    forwards = is_forward(face.out)
    low, high = [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]
    for axis in range(3):
        if axis == along:
            plane, own = plane_of(face.box, face.out), plane_of(bounds, opposite(face.out))
            # Rounded away from the built-in, so that the two never overlap by a fraction of a tenth.
            near = tenths_up(plane - own) / 10 if forwards else tenths_down(plane - own) / 10
            low[axis] = high[axis] = near if rounding == "outward" else plane - own
        else:
            middle = (touch.low[axis] + touch.high[axis]) / 2
            low[axis], high[axis] = face.box.low[axis] - middle, face.box.high[axis] - middle
    return _limits(low, high, rounding)


def view_ahead(part: Part, pose: Pose, hull: Box) -> IntBox:
    """Return the line ahead of a lens's middle, a hair wide and as long as the hull, in tenths at offset 0.

    What stands there blinds a part that looks out of a window, be it a stud on the sill.
    """
    looks: Direction = part.mount.looks or "+x"
    lens = Place(pose, ORIGIN).move_solid(part.mount.lens or front_of(part.bounds, looks)).bounds
    out = pose.turn_direction(looks)
    along = axis_of(out)
    low = [tenths_down(value) - VIEW for value in lens.center]
    high = [tenths_up(value) + VIEW for value in lens.center]
    long = tenths_up(hull.size[along])
    if is_forward(out):
        low[along] = tenths_up(lens.high[along])
        high[along] = low[along] + long
    else:
        high[along] = tenths_down(lens.low[along])
        low[along] = high[along] - long
    return (low[0], low[1], low[2], high[0], high[1], high[2])


def front_of(bounds: Box, side: Direction) -> Box:
    """Return the face of a box on one side, as a flat box."""
    axis = axis_of(side)
    low, high = list(bounds.low), list(bounds.high)
    if is_forward(side):
        low[axis] = high[axis]
    else:
        high[axis] = low[axis]
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def meet(offsets: list[IntBox], other: IntBox | None) -> list[IntBox]:
    """Return the parts of a domain that lie inside another box of offsets."""
    if other is None:
        return []
    found: list[IntBox] = []
    for box in offsets:
        low = [max(box[i], other[i]) for i in range(3)]
        high = [min(box[i + 3], other[i + 3]) for i in range(3)]
        if all(a <= b for a, b in zip(low, high, strict=True)):
            found.append((low[0], low[1], low[2], high[0], high[1], high[2]))
    return found
