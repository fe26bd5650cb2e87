"""How far ahead a ranger meets an obstacle on the track where it bends: curve entered, gone round, and left.

The beam leaves from the lens where it is by then, along the axis of a body whose wheels stand on the track's
middle line: ahead of the middle of the vehicle and off to the outside of the curve. An obstacle is as wide as
the train and stands across the track.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fitplan.checks.ends import PlacedRanger, lens_center, looking, window_of
from fitplan.checks.on_curve import pivots
from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Vec
from fitplan.model.train import TrainVehicle

Floats = NDArray[np.float64]
_STEP, _STEPS = 2.0, 500
"""Distances along the track are looked through in such steps (mm), or in so many where that is longer."""
_SHARP, _LEVELS = 1e-3, 4
"""Where an obstacle begins to be met is found to so many mm, so many halvings at a time."""
_KEPT = 4096
"""So many answers are kept: what helps a ranger is asked of the same places again and again."""
_ALONG, _PLACES = 20.0, 30
"""The train is moved through the ends of the curve in such steps (mm), or in so many."""


@dataclass(frozen=True)
class Bend:
    """A track: straight along x up to ``start``, then an arc, then straight again from ``end`` on.

    Distances along the track in mm; ``curvature`` in 1/mm, to the left when positive, 0 for straight track.
    """

    curvature: float
    start: float = -1e9
    end: float = 1e9

    def at(self, along: Floats) -> tuple[Floats, Floats, Floats]:
        """Return x, y and heading of the middle line.

        Where the arc has no start, the plan's origin lies on it at 0.
        """
        k = self.curvature
        if k == 0:
            return along, np.zeros_like(along), np.zeros_like(along)
        begin = self.start if self.start > -1e8 else 0.0
        turned = np.minimum(along, self.end) - begin
        if self.start > -1e8:
            turned = np.maximum(turned, 0.0)
        angle = k * turned
        x = np.minimum(along, begin) if self.start > -1e8 else np.zeros_like(along)
        x, y = x + np.sin(angle) / k, (1 - np.cos(angle)) / k
        beyond = np.maximum(along - self.end, 0.0)
        return x + beyond * np.cos(angle), y + beyond * np.sin(angle), angle

    def point(self, along: float) -> tuple[float, float]:
        """Return one point of the middle line."""
        k = self.curvature
        if k == 0:
            return along, 0.0
        starts = self.start > -1e8
        begin = self.start if starts else 0.0
        turned = min(along, self.end) - begin
        x = 0.0
        if starts:
            turned, x = max(turned, 0.0), min(along, begin)
        angle, beyond = k * turned, max(along - self.end, 0.0)
        return x + math.sin(angle) / k + beyond * math.cos(angle), (
            1 - math.cos(angle)
        ) / k + beyond * math.sin(angle)


@dataclass(frozen=True)
class RangerView:
    """A ranger on its vehicle, seen along the way that it looks (mm, degrees).

    Attributes
    ----------
    pivot_distance, wheelbase
        Of the vehicle's outermost pivots, and of a bogie's axles.
    lens
        How far the lens lies ahead of the middle between the pivots, and to the left of the middle line.
    turned_deg
        How far the ranger is turned to the left of the body's axis.
    obstacle
        Width of what may stand on the track.
    """

    pivot_distance: float
    wheelbase: float
    lens: tuple[float, float]
    half_angle_deg: float
    reach: float
    obstacle: float
    turned_deg: float = 0.0


@dataclass(frozen=True)
class Sighting:
    """How near and how far along the track (mm from beside the lens) an obstacle is met; 0, 0: nowhere."""

    nearest: float
    farthest: float
    where: str = ""


def watch_of(built: BuiltTrain, eye: PlacedRanger) -> RangerView:
    """Return a ranger with its vehicle; without a place it is at its window, or at the train's end."""
    entry, ahead, lens = _lens(built, eye)
    low, high = pivots(entry.vehicle)
    forwards = ahead != entry.turned
    side = 1.0 if forwards else -1.0
    wheels = entry.vehicle.wheels
    return RangerView(
        high - low,
        wheels.bogie_wheelbase if wheels.kind == "bogies" else 0.0,
        (side * (lens[0] - (low + high) / 2), side * (lens[1] - entry.vehicle.width / 2)),
        min(eye.figures.half_angle_deg, 89.0),
        eye.figures.reach_mm,
        max(one.vehicle.width for one in built.train.vehicles),
    )


def _lens(built: BuiltTrain, eye: PlacedRanger) -> tuple[TrainVehicle, bool, Vec]:
    if eye.placement is not None and looking(eye.placement) is not None:
        entry = built.train.vehicle(eye.placement.vehicle)
        return entry, looking(eye.placement) == entry.towards("ahead"), lens_center(eye.placement)
    found = window_of(built.train, eye.need)
    if found is not None:
        entry, window = found
        return entry, window.out == entry.towards("ahead"), window.box.center
    entry = built.train.vehicles[0]
    end = 0.0 if entry.turned else entry.vehicle.length
    return entry, True, (end, entry.vehicle.width / 2, 0.0)


@lru_cache(_KEPT)
def stand_on(bend: Bend, watch: RangerView, along: float) -> tuple[float, float, float]:
    """Return where the lens is (x, y) and how the body heads, with the rear pivot at a place of the track."""
    rear, front = along, _ahead(bend, watch, along)
    (ax, ay), (bx, by) = _pivot(bend, watch, rear), _pivot(bend, watch, front)
    if watch.pivot_distance > 1e-6:
        heading = math.atan2(by - ay, bx - ax)
    else:
        heading = float(bend.at(np.array([along]))[2][0])
    c, s = math.cos(heading), math.sin(heading)
    forward, left = watch.lens
    x, y = (ax + bx) / 2, (ay + by) / 2
    return x + c * forward - s * left, y + s * forward + c * left, heading


def _pivot(bend: Bend, watch: RangerView, along: float) -> tuple[float, float]:
    """Return a bogie's pivot, half-way between its axles on the middle line."""
    if watch.wheelbase <= 0:
        return bend.point(along)
    (ax, ay), (bx, by) = (
        bend.point(along - watch.wheelbase / 2),
        bend.point(along + watch.wheelbase / 2),
    )
    return (ax + bx) / 2, (ay + by) / 2


def _ahead(bend: Bend, watch: RangerView, along: float) -> float:
    """Return the place of the front pivot: a chord as long as the pivots are apart."""
    here = _pivot(bend, watch, along)
    low, high = along, along + 1.2 * watch.pivot_distance + 1e-9
    for _ in range(45):
        middle = (low + high) / 2
        if math.dist(here, _pivot(bend, watch, middle)) < watch.pivot_distance:
            low = middle
        else:
            high = middle
    return (low + high) / 2


@lru_cache(_KEPT)
def stretch_met(bend: Bend, watch: RangerView, along: float, most: float) -> Sighting:
    """Return how near and how far an obstacle is met without a gap, with the rear pivot at a place.

    An obstacle is the stretch across the track to half its width on both sides; what of it lies in the beam
    is cut out by the beam's two edges.  ``most`` ends the search (mm).
    """
    # However it is turned, and whatever its beam, it stands at the same place.
    x, y, heading = stand_on(bend, replace(watch, half_angle_deg=0.0, turned_deg=0.0), along)
    beside = _foot(bend, x, y, along + watch.pivot_distance / 2 + watch.lens[0])
    axis = heading + math.radians(watch.turned_deg)

    def met(places: Floats) -> NDArray[np.bool_]:
        cx, cy, turn = bend.at(places)
        nx, ny = -np.sin(turn), np.cos(turn)
        half = watch.obstacle / 2
        low, high = np.full_like(places, -half), np.full_like(places, half)
        slope = math.tan(math.radians(watch.half_angle_deg))
        ux, uy = math.cos(axis), math.sin(axis)
        on, onto = (cx - x) * ux + (cy - y) * uy, nx * ux + ny * uy
        off, offto = (cy - y) * ux - (cx - x) * uy, ny * ux - nx * uy
        for sign in (1.0, -1.0):
            # on·slope − sign·off + τ·(onto·slope − sign·offto) ≥ 0
            rest, grow = on * slope - sign * off, onto * slope - sign * offto
            level = np.abs(grow) < 1e-12
            cross = -rest / np.where(level, 1.0, grow)
            low = np.where(~level & (grow > 0), np.maximum(low, cross), low)
            high = np.where(~level & (grow < 0), np.minimum(high, cross), high)
            high = np.where(level & (rest < 0), -np.inf, high)
        near = np.clip(-((cx - x) * nx + (cy - y) * ny), low, np.maximum(low, high))
        away = np.hypot(cx + near * nx - x, cy + near * ny - y)
        found: NDArray[np.bool_] = (low <= high) & (away <= watch.reach)
        return found

    step = max(_STEP, most / _STEPS)
    marks = beside + np.arange(0.0, most + step, step)
    seen = met(marks)
    if not seen.any():
        return Sighting(0.0, 0.0)
    first = int(np.argmax(seen))
    gone = np.flatnonzero(~seen[first:])
    nearest = marks[first] if first == 0 else _edge(met, marks[first - 1], marks[first])
    last = marks[-1]
    if len(gone):
        end = first + int(gone[0])
        last = _edge(met, marks[end], marks[end - 1])
    return Sighting(float(nearest - beside), float(last - beside))


def _edge(met: Callable[[Floats], NDArray[np.bool_]], unseen: float, seen: float) -> float:
    """Return where an obstacle begins to be met, between a place where it is not and one where it is.

    By halving; all places that several halvings may lead to are asked about at once.
    """
    while abs(seen - unseen) > _SHARP:
        ends = [(unseen, seen)]
        for number in range(2**_LEVELS - 1):
            without, with_ = ends[number]
            middle = (without + with_) / 2
            ends += [(without, middle), (middle, with_)]
        found = met(np.array([(without + with_) / 2 for without, with_ in ends[: 2**_LEVELS - 1]]))
        number = 0
        while number < len(found) and abs(seen - unseen) > _SHARP:
            number = 2 * number + (1 if found[number] else 2)
            unseen, seen = ends[number]
    return seen


@lru_cache(_KEPT)
def _foot(bend: Bend, x: float, y: float, guess: float) -> float:
    """Return the place of the track that is nearest to a point, near a guess."""
    low, high = guess - 60.0, guess + 60.0
    while high - low > 1e-6:
        third = (high - low) / 3
        one, other = (math.dist((x, y), bend.point(at)) for at in (low + third, high - third))
        low, high = (low, high - third) if one < other else (low + third, high)
    return (low + high) / 2


def bends(watch: RangerView, radius: float, most: float) -> Iterator[tuple[str, Bend]]:
    """Yield all places of a train about a curve to the left: inside it, before its start, about its end.

    The rear pivot is at 0 each time.
    """
    k, before = 1 / radius, watch.pivot_distance
    yield "in the curve", Bend(k)
    step = max(_ALONG, (most + before) / _PLACES)
    for place in np.arange(-before, most + step, step):
        yield "where the curve begins", Bend(k, start=float(place))
        yield "where the curve ends", Bend(k, end=float(place))


def worst_stretch(
    watch: RangerView, radius: float, most: float, sides: tuple[float, ...] = (1.0, -1.0)
) -> Sighting:
    """Return the shortest stretch that is met, over all places about a curve and both its directions."""
    found: list[Sighting] = []
    for side in sides:
        mirrored = replace(
            watch, lens=(watch.lens[0], side * watch.lens[1]), turned_deg=side * watch.turned_deg
        )
        for where, bend in bends(mirrored, radius, most):
            name = f"{where} to the {'left' if side > 0 else 'right'}"
            found.append(replace(stretch_met(bend, mirrored, 0.0, most), where=name))
    return min(found, key=lambda one: one.farthest)
