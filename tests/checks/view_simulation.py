"""Obstacles placed on a bent track as solids, and rays cast at them from a lens on a placed vehicle.

It shares only the ray casting with the checks: the track is summed up step by step, the vehicle is put on it
axle by axle along that row of points, and an obstacle is a thin box.
"""

from __future__ import annotations

import math
import random

import numpy as np

from fitplan.checks.curve_view import Bend, RangerView
from fitplan.checks.on_curve import CurvePose
from fitplan.checks.rays import Obstacle, first_hits
from fitplan.model.solids import Box

_FINE = 0.02
_BEFORE, _BEYOND = 500.0, 1500.0
_RAYS = 3001


class Bent:
    """A row of points along the middle of the track, with the heading at each."""

    def __init__(self, bend: Bend) -> None:
        """Sum the track up from its heading, a fiftieth of a millimetre at a time."""
        self.along = np.arange(-_BEFORE, _BEYOND, _FINE)
        bent = (self.along >= bend.start) & (self.along <= bend.end)
        turns = np.where(bent, bend.curvature * _FINE, 0.0)
        self.heading = np.cumsum(turns)
        self.points = np.cumsum(_FINE * np.column_stack([np.cos(self.heading), np.sin(self.heading)]), axis=0)

    def index(self, along: float) -> int:
        """Return the point at a distance along the track."""
        return round((along + _BEFORE) / _FINE)

    def chord(self, points: np.ndarray, start: int, length: float) -> int:
        """Return the first later point that is so far away."""
        away = np.hypot(*(points[start:] - points[start]).T)
        return start + int(np.argmax(away >= length))

    def lens(self, watch: RangerView, along: float) -> tuple[np.ndarray, float]:
        """Return the lens and the body's heading, with the rear pivot over a place of the track."""
        rear = self._pivot(watch, self.index(along))
        low, high = self.index(along), self.index(along + 1.3 * watch.pivot_distance + 5.0)
        while high - low > 1:
            middle = (low + high) // 2
            near = np.hypot(*(self._pivot(watch, middle) - rear)) < watch.pivot_distance
            low, high = (middle, high) if near else (low, middle)
        front = self._pivot(watch, high)
        heading = math.atan2(*(front - rear)[::-1])
        out = np.array([math.cos(heading), math.sin(heading)])
        left = np.array([-out[1], out[0]])
        return (rear + front) / 2 + watch.lens[0] * out + watch.lens[1] * left, heading

    def _pivot(self, watch: RangerView, at: int) -> np.ndarray:
        half = round(watch.wheelbase / 2 / _FINE)
        found: np.ndarray = (self.points[at - half] + self.points[at + half]) / 2
        return found


def met_between(bend: Bend, watch: RangerView, along: float, most: float) -> tuple[float, float]:
    """Return the nearest and farthest distance at which a box on the track is struck by a ray; 0, 0: none."""
    track = Bent(bend)
    lens, heading = track.lens(watch, along)
    guess = track.index(along + watch.pivot_distance / 2 + watch.lens[0])
    nearby = slice(guess - 4000, guess + 4000)
    beside = track.along[nearby][int(np.argmin(np.hypot(*(track.points[nearby] - lens).T)))]
    half = math.radians(watch.half_angle_deg)
    angles = heading + math.radians(watch.turned_deg) + np.linspace(-half, half, _RAYS)
    rays = np.column_stack([np.cos(angles), np.sin(angles), np.zeros(_RAYS)])
    origins = np.tile([lens[0], lens[1], 0.0], (_RAYS, 1))

    def struck(at: float) -> bool:
        spot = track.index(beside + at)
        x, y = track.points[spot]
        stand = CurvePose((float(x), float(y)), float(track.heading[spot]))
        plate = Box((0.0, -watch.obstacle / 2, -1.0), (1e-3, watch.obstacle / 2, 1.0))
        hits = first_hits(stand.from_plan(origins), stand.turn_back(rays), [Obstacle(plate, "obstacle")])
        return bool((hits.distance <= watch.reach).any())

    def edge(unseen: float, seen: float) -> float:
        while abs(seen - unseen) > _FINE:
            middle = (seen + unseen) / 2
            seen, unseen = (middle, unseen) if struck(middle) else (seen, middle)
        return seen

    marks = list(np.arange(0.0, most + 2.0, 2.0))
    seen = [struck(mark) for mark in marks]
    if not any(seen):
        return 0.0, 0.0
    first = seen.index(True)
    nearest = marks[first] if first == 0 else edge(marks[first - 1], marks[first])
    gone = next((number for number in range(first, len(marks)) if not seen[number]), None)
    return nearest, marks[-1] if gone is None else edge(marks[gone], marks[gone - 1])


def random_view(seed: int) -> tuple[Bend, RangerView]:
    """Return a track and a ranger, by a seed; the rear pivot is at 0."""
    pick = random.Random(seed)
    radius = pick.choice((320.0, pick.uniform(250.0, 1200.0)))
    curvature = pick.choice((1, -1)) / radius
    pivots = pick.uniform(60.0, 180.0)
    kind = pick.choice(("in", "begins", "ends"))
    bend = Bend(curvature)
    if kind == "begins":
        bend = Bend(curvature, start=pick.uniform(-pivots, 250.0))
    if kind == "ends":
        bend = Bend(curvature, end=pick.uniform(-pivots, 250.0))
    watch = RangerView(
        pivots,
        pick.choice((0.0, pick.uniform(16.0, 32.0))),
        (pivots / 2 + pick.uniform(-20.0, 60.0), pick.choice((0.0, pick.uniform(-25.0, 25.0)))),
        pick.uniform(3.0, 30.0),
        pick.choice((4000.0, pick.uniform(100.0, 400.0))),
        pick.choice((48.0, 64.0, pick.uniform(16.0, 64.0))),
        pick.choice((0.0, 0.0, pick.uniform(-15.0, 15.0))),
    )
    return bend, watch
