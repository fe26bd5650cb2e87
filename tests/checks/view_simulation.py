"""Bars across a bent track, and rays cast at them from a lens on a placed vehicle.

It shares no formula with the checks: the track is summed up step by step, the vehicle is put on it axle by
axle along that row of points, and each ray is cut with each bar.
"""

from __future__ import annotations

import math
import random

import numpy as np

from fitplan.checks.curve_view import Bend, RangerView

_FINE = 0.02
_BEFORE, _BEYOND = 500.0, 1500.0
_RAYS = 301


class Bent:
    """A row of points along the middle of the track, with the heading at each."""

    def __init__(self, bend: Bend) -> None:
        """Sum the track up from its heading, a fiftieth of a millimetre at a time."""
        self.along = np.arange(-_BEFORE, _BEYOND, _FINE)
        low = np.clip(self.along[:-1], bend.start, bend.end)
        high = np.clip(self.along[1:], bend.start, bend.end)
        turns = bend.curvature * (high - low)
        self.heading = np.concatenate([[0.0], np.cumsum(turns)])
        chords = self.heading[:-1] + turns / 2
        steps = _FINE * np.column_stack([np.cos(chords), np.sin(chords)])
        self.points = np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)])

    def at(self, along: np.ndarray) -> np.ndarray:
        """Return points (n, 2) at distances along the track, between two of the row."""
        return np.column_stack([np.interp(along, self.along, self.points[:, i]) for i in (0, 1)])

    def lens(self, watch: RangerView, along: float) -> tuple[np.ndarray, float]:
        """Return the lens and the body's heading, with the rear pivot over a place of the track."""
        rear = self._pivot(watch, along)
        low, high = along, along + 1.3 * watch.pivot_distance + 5.0
        for _ in range(40):
            middle = (low + high) / 2
            near = np.hypot(*(self._pivot(watch, middle) - rear)) < watch.pivot_distance
            low, high = (middle, high) if near else (low, middle)
        front = self._pivot(watch, high)
        heading = math.atan2(*(front - rear)[::-1])
        out = np.array([math.cos(heading), math.sin(heading)])
        left = np.array([-out[1], out[0]])
        return (rear + front) / 2 + watch.lens[0] * out + watch.lens[1] * left, heading

    def _pivot(self, watch: RangerView, along: float) -> np.ndarray:
        half = watch.wheelbase / 2
        found: np.ndarray = self.at(np.array([along - half, along + half])).mean(axis=0)
        return found


def met_between(bend: Bend, watch: RangerView, along: float, most: float) -> tuple[float, float]:
    """Return the nearest and farthest distance at which a bar on the track is struck by a ray; 0, 0: none."""
    track = Bent(bend)
    lens, heading = track.lens(watch, along)
    guess = along + watch.pivot_distance / 2 + watch.lens[0]
    nearby = np.abs(track.along - guess) < 80.0
    beside = track.along[nearby][int(np.argmin(np.hypot(*(track.points[nearby] - lens).T)))]
    half, axis = math.radians(watch.half_angle_deg), heading + math.radians(watch.turned_deg)
    fan = axis + np.linspace(-half, half, _RAYS)

    def struck(places: np.ndarray) -> np.ndarray:
        heading_there = np.interp(beside + places, track.along, track.heading)
        across = np.column_stack([-np.sin(heading_there), np.cos(heading_there)])
        from_lens = track.at(beside + places) - lens
        # Rays of the fan, and of those aimed at the bar's ends and at its nearest point what the beam holds.
        aims = [from_lens + side * watch.obstacle / 2 * across for side in (1.0, -1.0)]
        aims.append(from_lens - (from_lens * across).sum(axis=1)[:, None] * across)
        angles = np.column_stack([np.arctan2(aim[:, 1], aim[:, 0]) for aim in aims])
        off = np.remainder(angles - axis + math.pi, 2 * math.pi) - math.pi
        inside = np.where(np.abs(off) <= half, angles, axis)
        angles = np.concatenate([inside, np.tile(fan, (len(places), 1))], 1)
        ux, uy = np.cos(angles), np.sin(angles)
        (nx, ny), (fx, fy) = across.T[:, :, None], from_lens.T[:, :, None]
        turn = ux * ny - uy * nx
        with np.errstate(divide="ignore", invalid="ignore"):
            away = (fx * ny - fy * nx) / turn
            aside = (fx * uy - fy * ux) / turn
        hit = (away >= 0) & (away <= watch.reach + 1e-9) & (np.abs(aside) <= watch.obstacle / 2 + 1e-9)
        found: np.ndarray = hit.any(axis=1)
        return found

    def edge(unseen: float, seen: float) -> float:
        while abs(seen - unseen) > 1e-3:
            middle = (seen + unseen) / 2
            seen, unseen = (middle, unseen) if struck(np.array([middle]))[0] else (seen, middle)
        return seen

    marks = np.arange(0.0, most + 2.0, 2.0)
    seen = struck(marks)
    if not seen.any():
        return 0.0, 0.0
    first = int(np.argmax(seen))
    nearest = marks[first] if first == 0 else edge(marks[first - 1], marks[first])
    gone = first + np.flatnonzero(~seen[first:])
    farthest = edge(marks[gone[0]], marks[gone[0] - 1]) if len(gone) else marks[-1]
    return float(nearest), float(farthest)


def reach_about(watches: tuple[RangerView, ...], radius: float, needed: float, step: float = 60.0) -> float:
    """Return how far rangers meet a bar together without a gap, at the worst of some places about a curve."""
    places = np.arange(-watches[0].pivot_distance, needed + step, step)
    curves = [Bend(1 / radius)]
    curves += [Bend(1 / radius, start=float(place)) for place in places]
    curves += [Bend(1 / radius, end=float(place)) for place in places]
    found = []
    for bend in curves:
        far = 0.0
        for near, end in sorted(met_between(bend, one, 0.0, needed) for one in watches):
            far = max(far, end) if far == 0 or near <= far else far
        found.append(far)
    return min(found)


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
