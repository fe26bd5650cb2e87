"""The middle line of a track of up to three curvatures and three gradients, and how vehicles stand on it.

Coordinates of the track in mm: x forwards and y to the left at the place where the first two curvatures meet,
z up from the rail head there. Places along the track are lengths s in plan, 0 where they meet.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
_STEPS = 20
"""The secant rule ends after so many steps, or when no gap is wider than `_CLOSE` (mm)."""
_CLOSE = 1e-9
_RIGHT = 1e-3
"""Distances that are not met to this (mm) are looked for once more."""
_ASIDE = 100.0
"""Nothing lies farther (mm) from where it would be on straight track: a search that is lost stays near."""
_PULLED = 2.0
"""So many lengths of the drawbar further back."""


@dataclass(frozen=True, eq=False)
class MiddleLine:
    """Many pieces of track side by side, each with up to two joints of curvatures and changes of gradient.

    Attributes
    ----------
    before, after
        (n,) curvature in 1/mm before and after s = 0; positive to the left, 0 straight.
    kink
        (n,) place of the first change of gradient.
    rise
        (n,) by how much the gradient changes there (0.04: by 4 %, upwards).
    further, span
        (n,) curvature beyond a second joint, and how far that lies beyond the first; none when not given.
    fall, hump
        (n,) a second change of gradient, and how far it lies beyond the first; none when not given.
    slope
        (n,) gradient before the first change; level when not given.
    """

    before: Floats
    after: Floats
    kink: Floats
    rise: Floats
    further: Floats | float = 0.0
    span: Floats | float = math.inf
    fall: Floats | float = 0.0
    hump: Floats | float = 0.0
    slope: Floats | float = 0.0

    def at(self, s: Floats) -> Floats:
        """Return (n, 3) points of the middle line at (n,) places."""
        near = np.minimum(s, self.span)
        k = np.where(s < 0, self.before, self.after)
        point, heading = _along(k, near)
        beyond, _ = _along(np.broadcast_to(self.further, s.shape), s - near)
        cos, sin = np.cos(heading), np.sin(heading)
        x = point[0] + cos * beyond[0] - sin * beyond[1]
        y = point[1] + sin * beyond[0] + cos * beyond[1]
        past = s - self.kink
        z = self.slope * s + self.rise * np.maximum(past, 0.0) + self.fall * np.maximum(past - self.hump, 0.0)
        return np.stack([x, y, z], axis=-1)


def _along(k: Floats, s: Floats) -> tuple[tuple[Floats, Floats], Floats]:
    """Return (x, y) and heading after a way of length s on a curvature k, from the origin along x."""
    bend = k * s
    small = np.abs(bend) < 1e-7
    safe = np.where(small, 1.0, k)
    x = np.where(small, s, np.sin(bend) / safe)
    y = np.where(small, bend * s / 2, (1 - np.cos(bend)) / safe)
    return (x, y), bend


@dataclass(frozen=True)
class RunningGear:
    """What guides a vehicle: two rigid axles, or two bogies.

    Attributes
    ----------
    rear, front
        Places of the axles or bogie pivots along the vehicle, in mm.
    bogie_wheelbase
        Distance of a bogie's outer axles; 0 for rigid axles. A bogie's pivot lies midway between its axles,
        so in a curve a little inside the middle line.
    """

    rear: float
    front: float
    bogie_wheelbase: float = 0.0

    def __post_init__(self) -> None:
        """Refuse gear that cannot guide."""
        if not self.front > self.rear:
            raise ValueError(
                f"the front axle or pivot lies ahead of the rear one, not at {self.front} and {self.rear}"
            )
        if self.bogie_wheelbase < 0:
            raise ValueError(f"a bogie's wheelbase is at least 0, not {self.bogie_wheelbase}")


@dataclass(frozen=True, eq=False)
class TrackPoses:
    """How vehicles stand: the points of their rear guides, and their axes; all (n, 3).

    ``forwards`` points along the vehicle, ``left`` is level, ``up`` completes them: a vehicle does not roll.
    """

    rear: Floats
    forwards: Floats
    left: Floats
    up: Floats
    gear: RunningGear
    rear_at: Floats
    """(n,) places of the rear guides along the track."""

    def point(self, x: float, y: float, z: float) -> Floats:
        """Return (n, 3), where a point of the vehicle is: x along, y to the left, z above rail head."""
        return self.rear + (x - self.gear.rear) * self.forwards + y * self.left + z * self.up


def stand(
    line: MiddleLine, gear: RunningGear, front_at: Floats, rear_guess: Floats | None = None
) -> TrackPoses:
    """Return how a vehicle stands with its front guide at (n,) places: both guides on the middle line.

    Parameters
    ----------
    rear_guess
        (n,) places near which its rear guide is; as on straight track when not given.
    """
    span = gear.front - gear.rear
    front = _guide(line, gear, front_at)

    def too_far(s: Floats) -> Floats:
        apart: Floats = np.linalg.norm(front - _guide(line, gear, s), axis=-1) - span
        return apart

    at, _ = _where_zero(too_far, front_at - span if rear_guess is None else rear_guess)
    rear = _guide(line, gear, at)
    forwards = (front - rear) / np.maximum(np.linalg.norm(front - rear, axis=-1, keepdims=True), _CLOSE)
    left = np.stack([-forwards[:, 1], forwards[:, 0], np.zeros(len(forwards))], axis=-1)
    left = left / np.maximum(np.linalg.norm(left, axis=-1, keepdims=True), _CLOSE)
    return TrackPoses(rear, forwards, left, np.cross(forwards, left), gear, at)


def _guide(line: MiddleLine, gear: RunningGear, s: Floats) -> Floats:
    if not gear.bogie_wheelbase:
        return line.at(s)
    half = gear.bogie_wheelbase / 2
    return (line.at(s - half) + line.at(s + half)) / 2


def stand_behind(
    line: MiddleLine,
    ahead: TrackPoses,
    coupling_ahead: tuple[float, float],
    gear: RunningGear,
    coupling: tuple[float, float],
    drawbar: float,
    front_guess: Floats,
) -> TrackPoses:
    """Return how the next vehicle stands when a drawbar of fixed length joins the two couplings.

    Parameters
    ----------
    coupling_ahead, coupling
        (x, z) of the drawbar's pins, on the middle lines of the vehicles.
    front_guess
        (n,) places near which its front guide is.
    """
    pin = ahead.point(coupling_ahead[0], 0.0, coupling_ahead[1])
    between = np.full(len(front_guess), gear.front - gear.rear)

    def standing(s: Floats) -> TrackPoses:
        # The guides are hardly farther apart along the track than at the place asked for before.
        nonlocal between
        found = stand(line, gear, s, s - between)
        between = s - found.rear_at
        return found

    def too_far(s: Floats) -> Floats:
        own = standing(s).point(coupling[0], 0.0, coupling[1])
        apart: Floats = np.linalg.norm(pin - own, axis=-1) - drawbar
        return apart

    at, astray = _where_zero(too_far, front_guess)
    if astray.any():
        # Where long ends stand askew, pins are as far apart at two places: what is pulled is at the rear one.
        behind, _ = _where_zero(too_far, np.where(astray, front_guess - _PULLED * drawbar, at))
        at = np.where(astray, behind, at)
    return standing(at)


def _where_zero(too_far: Callable[[Floats], Floats], guess: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Return where distances that shrink by about as much as one moves forwards are right (secant rule).

    Beside it stands where they are not, or grow as one moves on.
    """
    gap = too_far(guess)
    at, last, last_gap, slope = guess + gap, guess, gap, np.full(len(guess), -1.0)
    for _ in range(_STEPS):
        gap = too_far(at)
        moved = at - last
        still = np.abs(moved) < 1e-9
        slope = np.where(still, slope, (gap - last_gap) / np.where(still, 1.0, moved))
        if np.abs(gap).max(initial=0.0) < _CLOSE:
            break
        fresh = np.clip(at - gap / np.clip(slope, -3.0, -0.25), guess - _ASIDE, guess + _ASIDE)
        at, last, last_gap = fresh, at, gap
    return at, ~((np.abs(gap) < _RIGHT) & (slope < 0))
