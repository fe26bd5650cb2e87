"""Vehicles on straight track and on a curve, in plan.

The pivots of a vehicle (bogie pivots, or its outermost axles) run on the track's middle line; a bogie's pivot
lies on the chord of its own axles, a little inside.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import Vec
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import Vehicle

_SLACK = 30.0
"""How far (mm) a vehicle may stand from where it would on straight track, along a curve."""


@dataclass(frozen=True)
class CurvePose:
    """Where a vehicle stands in plan: its frame's origin and heading.

    A point (x, y) of the vehicle's frame lies at ``origin`` plus the point turned by ``heading``; z stays.
    The x axis of the plan runs forwards at the reference vehicle, y = 0 is the middle of the track there.
    """

    origin: tuple[float, float]
    heading: float

    def to_plan(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points (n, 2 or 3) of the vehicle's frame in the plan's."""
        turned = self.turn(points)
        turned[:, 0] += self.origin[0]
        turned[:, 1] += self.origin[1]
        return turned

    def place(self, x: float, y: float) -> tuple[float, float]:
        """Return where one point of the vehicle's frame lies in the plan."""
        c, s = math.cos(self.heading), math.sin(self.heading)
        return self.origin[0] + c * x - s * y, self.origin[1] + s * x + c * y

    def turn(self, vectors: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return directions of the vehicle's frame in the plan's."""
        c, s = math.cos(self.heading), math.sin(self.heading)
        made = np.array(vectors, dtype=float)
        made[:, 0] = c * vectors[:, 0] - s * vectors[:, 1]
        made[:, 1] = s * vectors[:, 0] + c * vectors[:, 1]
        return made

    def from_plan(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points of the plan in the vehicle's frame."""
        moved = np.array(points, dtype=float)
        moved[:, 0] -= self.origin[0]
        moved[:, 1] -= self.origin[1]
        return self.turn_back(moved)

    def turn_back(self, vectors: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return directions of the plan in the vehicle's frame."""
        return CurvePose((0.0, 0.0), -self.heading).turn(vectors)


def pivots(vehicle: Vehicle) -> tuple[float, float]:
    """Return the positions of the outermost pivots or axles along the vehicle (mm)."""
    at = vehicle.wheels.at
    return (min(at), max(at)) if at else (vehicle.length / 2, vehicle.length / 2)


def pivot_radius(vehicle: Vehicle, radius: float) -> float:
    """Return the radius that the pivots run on: a bogie's lies inside the track by about b²/(8R)."""
    half = vehicle.wheels.bogie_wheelbase / 2 if vehicle.wheels.kind == "bogies" else 0.0
    return math.sqrt(max(radius**2 - half**2, 0.0))


def middle_radius(vehicle: Vehicle, radius: float) -> float:
    """Return the radius of the point half-way between the pivots; it lies inside by about C²/(8R)."""
    low, high = pivots(vehicle)
    return math.sqrt(max(pivot_radius(vehicle, radius) ** 2 - ((high - low) / 2) ** 2, 0.0))


def on_one_circle(train: Train, radius: float | None, reference: str) -> frozenset[str]:
    """Return the vehicles that can stand on one circle with the reference vehicle at the same time.

    From the far end of one to the far end of the other they take no more than the circle has; what is farther
    off stands on other track by then.
    """
    starts = train.starts()
    around = math.inf if radius is None else 2 * math.pi * abs(radius)
    here = train.vehicle(reference)
    low, high = starts[reference], starts[reference] + here.vehicle.length
    return frozenset(
        entry.name
        for entry in train.vehicles
        if max(high, starts[entry.name] + entry.vehicle.length) - min(low, starts[entry.name]) <= around
    )


def stands(
    train: Train, radius: float | None, reference: str, reverse_behind: bool = False
) -> dict[str, CurvePose]:
    """Return where every vehicle stands when the reference vehicle's middle is at the plan's x = 0.

    Parameters
    ----------
    radius
        Of a curve to the left when positive, to the right when negative; None for straight track.
        Couplings are taut: their pivots are as far apart as on straight track.
    reverse_behind
        The track bends the other way from the middle of the coupling behind the reference vehicle on.
    """
    starts = train.starts()
    middles = {entry.name: _middle(entry, starts[entry.name]) for entry in train.vehicles}
    here = middles[reference]
    joint = starts[reference] - train.vehicle(reference).coupling_length("behind") - here

    def place(entry: TrainVehicle, along: float) -> CurvePose:
        if radius is None:
            return _stand(entry, along, 0.0, 0.0)
        if reverse_behind and along < joint:
            return _mirrored(entry, along, joint, radius)
        return _on_arc(entry, along, radius)

    number = [entry.name for entry in train.vehicles].index(reference)
    found = {reference: place(train.vehicles[number], 0.0)}
    for ahead in (True, False):
        order = train.vehicles[number::-1] if ahead else train.vehicles[number:]
        along = 0.0
        for near, far in pairwise(order):
            straight = middles[far.name] - middles[near.name]
            along = _taut(near, far, found[near.name], along + straight, straight, place)
            found[far.name] = place(far, along)
    return found


def _taut(
    near: TrainVehicle,
    far: TrainVehicle,
    stand: CurvePose,
    guess: float,
    straight: float,
    place: Callable[[TrainVehicle, float], CurvePose],
) -> float:
    """Return where along the track the next vehicle stands when the coupling between them is taut.

    The pivots of the two couplings are then as far apart as on straight track.  Without couplings the
    distance along the track stays as it is.
    """
    forwards = straight > 0
    one, other = _hook(near, forwards), _hook(far, not forwards)
    if one is None or other is None:
        return guess
    held = stand.place(*one)
    wanted = math.dist(_stand(near, 0.0, 0.0, 0.0).place(*one), _stand(far, straight, 0.0, 0.0).place(*other))

    def apart(along: float) -> float:
        return math.dist(held, place(far, along).place(*other)) - wanted

    close, away = (guess - _SLACK, guess + _SLACK) if forwards else (guess + _SLACK, guess - _SLACK)
    if apart(close) > 0 or apart(away) < 0:
        return guess
    for _ in range(40):
        middle = (close + away) / 2
        if apart(middle) > 0:
            away = middle
        else:
            close = middle
    return (close + away) / 2


def _hook(entry: TrainVehicle, ahead: bool) -> tuple[float, float] | None:
    """Return the pivot of the coupling at an end of the train's order, in the vehicle's frame."""
    own = "front" if ahead != entry.turned else "rear"
    pivot = next((one.pivot_x for one in entry.vehicle.couplings if one.end == own), None)
    return None if pivot is None else (pivot, entry.vehicle.width / 2)


def _middle(entry: TrainVehicle, start: float) -> float:
    low, high = pivots(entry.vehicle)
    point: Vec = ((low + high) / 2, entry.vehicle.width / 2, 0.0)
    return entry.in_train(start, point)[0]


def _on_arc(entry: TrainVehicle, along: float, radius: float) -> CurvePose:
    side = math.copysign(1.0, radius)
    r, size = middle_radius(entry.vehicle, abs(radius)), abs(radius)
    angle = along / size
    return _stand(entry, r * math.sin(angle), side * (size - r * math.cos(angle)), side * angle)


def _mirrored(entry: TrainVehicle, along: float, joint: float, radius: float) -> CurvePose:
    """Return the stand on the other arc of an S: half a turn about the point where the arcs meet."""
    size, side = abs(radius), math.copysign(1.0, radius)
    angle = joint / size
    jx, jy = size * math.sin(angle), side * (size - size * math.cos(angle))
    mirrored = 2 * joint - along  # distance along the track, mirrored at the joint
    r = middle_radius(entry.vehicle, size)
    turn = mirrored / size
    x, y = r * math.sin(turn), side * (size - r * math.cos(turn))
    return _stand(entry, 2 * jx - x, 2 * jy - y, side * turn)


def _stand(entry: TrainVehicle, x: float, y: float, heading: float) -> CurvePose:
    """Return the stand whose point half-way between the pivots is at (x, y)."""
    low, high = pivots(entry.vehicle)
    turned = heading + (math.pi if entry.turned else 0.0)
    off_x, off_y = CurvePose((0.0, 0.0), turned).place((low + high) / 2, entry.vehicle.width / 2)
    return CurvePose((x - off_x, y - off_y), turned)
