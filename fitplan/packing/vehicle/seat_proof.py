"""Whether a part's mount leaves it any seat in a vehicle, asked a second way: in millimetres, by corners.

`seats` reckons with turned boxes in whole tenths. Here every turning is a matrix of signs, every box its
eight corners, and every rule an interval of real numbers along each axis; where the intervals of all rules
meet on all three axes there is a seat. Nothing of `seats` is used, so each can confirm what the other denies.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Part
from fitplan.model.solids import EDGE_WORDS, Box, Direction, axis_of, is_forward
from fitplan.model.vehicle import Face, Vehicle, Window
from fitplan.packing.vehicle.packing import Packing
from fitplan.units import PLAY

_TINY = 1e-6
"""What is short along x, y and z of a vehicle."""
Corners = NDArray[np.float64]
Span = tuple[NDArray[np.float64], NDArray[np.float64]]
"""The least and the greatest offset along x, y and z in mm."""


@dataclass(frozen=True)
class NoSeat:
    """By how much a part misses a seat in the pose that comes closest.

    ``missing_mm`` along x, y and z, 0 where nothing is missing; ``fixed_by`` says what holds it there.
    """

    missing_mm: tuple[float, float, float]
    fixed_by: str
    poses: int

    @property
    def text(self) -> str:
        """A sentence without its full stop."""
        if not self.poses:
            return "its mount allows no pose that looks or lies the way that is asked"
        short = [
            f"{missing:.2f} mm of {word}"
            for missing, word in zip(self.missing_mm, EDGE_WORDS, strict=True)
            if missing > _TINY
        ]
        return f"{' and '.join(short) or 'less than 0.01 mm'} are missing {self.fixed_by}"


def no_seat(
    part: Part, need: Need, vehicle_name: str, vehicle: Vehicle, *, play: float = PLAY
) -> NoSeat | None:
    """Return why no pose leaves a part an offset that its rules allow; None when one does.

    Parameters
    ----------
    play
        How far (mm) each rule gives on each side; 0: the rules as they are drawn.
    """
    closest: NoSeat | None = None
    count = 0
    for turning in _turnings(part, need):
        spans = list(_rules(part, need, vehicle_name, vehicle, turning))
        if not spans:
            continue
        count += 1
        low = np.max([span[0] - play for _, span in spans], axis=0)
        high = np.min([span[1] + play for _, span in spans], axis=0)
        gaps = np.maximum(low - high, 0.0)
        if not (gaps > _TINY).any():
            return None
        if closest is None or gaps.sum() < sum(closest.missing_mm):
            x, y, z = (round(float(gap), 4) for gap in gaps)
            closest = NoSeat((x, y, z), spans[-1][0], 0)
    if closest is None:
        return NoSeat((0.0, 0.0, 0.0), "", 0)
    return NoSeat(closest.missing_mm, closest.fixed_by, count)


def _turnings(part: Part, need: Need) -> Iterator[NDArray[np.float64]]:
    """Yield the proper turnings by right angles that the mount allows, as matrices of −1, 0 and 1."""
    mount = part.mount
    for order in itertools.permutations(range(3)):
        for signs in itertools.product((1.0, -1.0), repeat=3):
            turning = np.zeros((3, 3))
            for row, (column, sign) in enumerate(zip(order, signs, strict=True)):
                turning[row, column] = sign
            if np.linalg.det(turning) < 0:
                continue
            if need.pinned is not None and not _turned_as_fixed(part, need.pinned, turning):
                continue
            if need.pinned is not None and need.pinned.is_whole:
                yield turning
                continue
            up = [way for way in ("+x", "-x", "+y", "-y", "+z", "-z") if (turning @ _unit(way))[2] > 0.5]
            if mount.upright and up != ["+z"]:
                continue
            if mount.up and not set(up) & set(mount.up):
                continue
            if not mount.turnable and not np.array_equal(turning, np.eye(3)):
                continue
            yield turning


def _turned_as_fixed(part: Part, fixed: FixedPlace, turning: NDArray[np.float64]) -> bool:
    """Return whether a part that is turned so is turned as its fixed place asks."""
    if fixed.pose is not None and not np.array_equal(turning, _pinned_turning(fixed.pose)):
        return False
    for name, way in fixed.towards:
        sockets = [access.side for access in part.access if access.kind in ("console", "socket")]
        sides = sockets[:1] if name == "plug" else [name]
        if not any(np.array_equal(turning @ _unit(side), _unit(way)) for side in sides):
            return False
    return True


def _pinned_turning(name: str) -> NDArray[np.float64]:
    """Return the turning that a pose's name tells: where the part's x, y and z point, one after the other."""
    return np.array([_unit(name[2 * i : 2 * i + 2]) for i in range(3)]).T


def _unit(way: str) -> NDArray[np.float64]:
    found = np.zeros(3)
    found["xyz".index(way[1])] = 1.0 if way[0] == "+" else -1.0
    return found


def _rules(
    part: Part, need: Need, vehicle_name: str, vehicle: Vehicle, turning: NDArray[np.float64]
) -> Iterator[tuple[str, Span]]:
    """Yield each rule's name and the offsets that it leaves; nothing when the pose breaks a rule itself."""
    body = _extent([solid.bounds for solid in part.envelope], turning)
    hull = (np.array(vehicle.hull.low), np.array(vehicle.hull.high))
    found: list[tuple[str, Span]] = [("inside the hull", (hull[0] - body[0], hull[1] - body[1]))]
    if need.pinned is not None:
        if need.pinned.vehicle != vehicle_name:
            return
        at = np.array([[-np.inf] * 3, [np.inf] * 3])
        if need.pinned.offset is not None:
            at[:] = need.pinned.offset
        for side, plane in need.pinned.planes:
            axis, end = axis_of(side), int(is_forward(side))
            at[0, axis] = max(at[0, axis], plane - body[end][axis])
            at[1, axis] = min(at[1, axis], plane - body[end][axis])
        if need.pinned.is_whole:
            yield "where it is fixed", (at[0], at[1])
            return
        found.append(("where it is fixed", (at[0], at[1])))
    if need.looks is not None:
        window = next((entry for entry in vehicle.windows if entry.name == need.looks[1]), None)
        if need.looks[0] != vehicle_name or window is None:
            return
        looks: Direction = part.mount.looks or "+x"
        if not np.array_equal(turning @ _unit(looks), _unit(window.out)):
            return
        found.append((f"in the window {window.name}", _at_window(part, looks, window, turning)))
    if need.sits is not None:
        face = _face(vehicle, need.sits[1], need.sits[2])
        if need.sits[0] != vehicle_name or face is None:
            return
        sits: Direction = part.mount.sits or "-z"
        if not np.array_equal(turning @ _unit(sits), -_unit(face.out)):
            return
        found.append((f"on the face {face.name}", _on_face(part, sits, face, turning)))
    yield from found


def _at_window(part: Part, looks: Direction, window: Window, turning: NDArray[np.float64]) -> Span:
    """Return the offsets that lay the lens inside the outline and its front within the wall."""
    lens = _extent([part.mount.lens or _flat(part, looks)], turning)
    low, high = np.array(window.box.low) - lens[0], np.array(window.box.high) - lens[1]
    along = axis_of(window.out)
    front = lens[1][along] if is_forward(window.out) else lens[0][along]
    low[along], high[along] = window.box.low[along] - front, window.box.high[along] - front
    return low, high


def _on_face(part: Part, sits: Direction, face: Face, turning: NDArray[np.float64]) -> Span:
    """Return the offsets that lay the sitting side in the face's plane, its middle over the face."""
    touch = _extent([part.mount.lens or _flat(part, sits)], turning)
    body = _extent([solid.bounds for solid in part.envelope], turning)
    middle = (touch[0] + touch[1]) / 2
    low, high = np.array(face.box.low) - middle, np.array(face.box.high) - middle
    along = axis_of(face.out)
    if is_forward(face.out):
        low[along] = high[along] = face.box.high[along] - body[0][along]
    else:
        low[along] = high[along] = face.box.low[along] - body[1][along]
    return low, high


def _face(vehicle: Vehicle, owner: str, name: str) -> Face | None:
    return next(
        (
            face
            for built in vehicle.built_in
            if built.name == owner
            for face in built.faces
            if face.name == name
        ),
        None,
    )


def _flat(part: Part, side: Direction) -> Box:
    """Return the side of a part that looks or sits, as a flat box."""
    low, high = list(part.bounds.low), list(part.bounds.high)
    axis = axis_of(side)
    low[axis] = high[axis] = part.bounds.high[axis] if is_forward(side) else part.bounds.low[axis]
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def _extent(boxes: list[Box], turning: NDArray[np.float64]) -> tuple[Corners, Corners]:
    corners = [
        [(box.low, box.high)[pick][axis] for axis, pick in enumerate(picks)]
        for box in boxes
        for picks in itertools.product((0, 1), repeat=3)
    ]
    turned = np.array(corners) @ turning.T
    return turned.min(axis=0), turned.max(axis=0)


def without_a_seat(part: Part, need: Need, name: str, vehicle: Vehicle) -> Packing:
    """Return what is to be said of a part that its mount leaves no seat in a vehicle."""
    who = f"{need.name} ({part.name})"
    why = no_seat(part, need, name, vehicle)
    if why is None:
        reason = f"{who} may have a seat between two tenths of a millimetre: measure and try"
        return Packing(name, "not decided", reason=reason)
    proof = (
        "no seat; confirmed: every pose that the mount allows was looked at in whole tenths with the play"
        " of bricks, the limits of every turning's corners were set against each other in millimetres"
    )
    return Packing(name, "cannot fit", reason=f"{who} has no seat here: {why.text}", proof=proof)
