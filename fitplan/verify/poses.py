"""How far the ends of a joint are apart in the poses that the track asks for, by means of its own.

A track is a chain of straight and round pieces in plan, with one change of gradient somewhere. A vehicle
stands with both guides (axles, or bogies as the middles of their axles) on the middle line; the one behind is
held by a drawbar between the two pins.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.model.operation import Track
from fitplan.model.solids import Vec

Floats = NDArray[np.float64]
_STEPS = 12
_PLACES = 41
_MET = 0.02
"""Poses in which guides or pins are not met to this (mm) are left out."""


@dataclass(frozen=True)
class CouplingEnd:
    """What of a vehicle matters at a joint, in running order: x forwards, y to the left, z up, in mm.

    ``guides``: the rearmost and foremost axle or pivot; ``bogie``: a bogie's axle base, 0 for axles; ``pin``:
    (x, z) of the drawbar's pin; ``mouth``: where wires leave.
    """

    guides: tuple[float, float]
    bogie: float
    pin: tuple[float, float]
    mouth: Vec


@dataclass(frozen=True)
class _Line:
    """Many tracks side by side, (n,) each: two curvatures and where the gradient changes, and by how much."""

    before: Floats
    after: Floats
    kink: Floats
    rise: Floats

    def at(self, s: Floats) -> Floats:
        bend = np.where(s < 0, self.before, self.after)
        round_ = np.abs(bend) > 1e-12
        radius = 1.0 / np.where(round_, bend, 1.0)
        x = np.where(round_, radius * np.sin(s / radius), s)
        # 2·sin² for 1 − cos: nothing is lost on wide curves.
        y = np.where(round_, 2.0 * radius * np.sin(s / radius / 2.0) ** 2, 0.0)
        return np.stack([x, y, self.rise * np.maximum(s - self.kink, 0.0)], axis=1)

    def guide(self, s: Floats, bogie: float) -> Floats:
        return self.at(s) if bogie == 0 else (self.at(s - bogie / 2) + self.at(s + bogie / 2)) / 2


@dataclass(frozen=True)
class Apart:
    """Distances of the two mouths in mm, (n,), with their level distances."""

    distance: Floats
    level: Floats


def straight_apart(ahead: CouplingEnd, behind: CouplingEnd, drawbar: float) -> tuple[float, float] | None:
    """Return distance and level distance of the mouths on straight level track; None: none joins them."""
    drop = ahead.pin[1] - behind.pin[1]
    if abs(drop) >= drawbar:
        return None
    along = ahead.mouth[0] - ahead.pin[0] + math.sqrt(drawbar**2 - drop**2) + behind.pin[0] - behind.mouth[0]
    level = math.hypot(along, ahead.mouth[1] - behind.mouth[1])
    return math.hypot(level, ahead.mouth[2] - behind.mouth[2]), level


def poses_apart(ahead: CouplingEnd, behind: CouplingEnd, drawbar: float, track: Track) -> Apart:
    """Return how far the mouths are apart in all poses: every pair of curves, every change of gradient."""
    pairs = list(_curves(track))
    change = track.gradient_percent / 100.0
    whole = ahead.guides[1] - ahead.pin[0] + drawbar + behind.pin[0] - behind.guides[0]
    reach = 1.1 * (whole + ahead.bogie + behind.bogie)
    places = np.linspace(-0.05, 1.05, _PLACES) * reach
    grades = [(0.0, 0.0)]
    if change:
        grades += [(kink, side * change) for kink in np.linspace(-1, 1, 7) * reach for side in (1, -1)]
    rows = np.array([(a, b, k, r, s) for a, b in pairs for k, r in grades for s in places])
    line = _Line(rows[:, 0], rows[:, 1], rows[:, 2], rows[:, 3])
    front = rows[:, 4]
    first = _stand(line, ahead, front)
    pin = _point(first, ahead, (ahead.pin[0], 0.0, ahead.pin[1]))

    def to_pin(s: Floats) -> Floats:
        own = _point(_stand(line, behind, s), behind, (behind.pin[0], 0.0, behind.pin[1]))
        apart: Floats = np.linalg.norm(pin - own, axis=1)
        return apart

    near = front - (ahead.guides[1] - ahead.pin[0])
    second = _stand(line, behind, _at_distance(to_pin, near, drawbar, behind.pin[0] - behind.guides[1]))
    one, other = _point(first, ahead, ahead.mouth), _point(second, behind, behind.mouth)
    met = np.abs(
        np.linalg.norm(pin - _point(second, behind, (behind.pin[0], 0.0, behind.pin[1])), axis=1) - drawbar
    )
    gap = (one - other)[met < _MET]
    return Apart(np.linalg.norm(gap, axis=1), np.hypot(gap[:, 0], gap[:, 1]))


def _curves(track: Track) -> Iterator[tuple[float, float]]:
    k = 1.0 / track.radius
    yield 0.0, 0.0
    for side in (k, -k):
        yield side, side
        yield 0.0, side
        yield side, 0.0
        if track.reverse_curve:
            yield side, -side


def _stand(line: _Line, end: CouplingEnd, front: Floats) -> tuple[Floats, Floats]:
    """Return (n, 3) the rear guides and the axes of vehicles whose front guides are at (n,) places."""
    span = end.guides[1] - end.guides[0]
    ahead = line.guide(front, end.bogie)

    def to_front(s: Floats) -> Floats:
        apart: Floats = np.linalg.norm(ahead - line.guide(s, end.bogie), axis=1)
        return apart

    rear = line.guide(_at_distance(to_front, front, span, 0.0), end.bogie)
    forwards = ahead - rear
    return rear, forwards / np.linalg.norm(forwards, axis=1, keepdims=True)


def _at_distance(distance: Callable[[Floats], Floats], start: Floats, wanted: float, skew: float) -> Floats:
    """Return the places behind ``start`` at which a distance is as wanted.

    One step back makes the distance grow by about as much, so what is missing is gone back, over and over.

    Parameters
    ----------
    skew
        How far the measured point lies ahead of the place itself.
    """
    at = start - skew - wanted
    for _ in range(_STEPS):
        at = at + (distance(at) - wanted)
    return at


def _point(stand: tuple[Floats, Floats], end: CouplingEnd, spot: Vec) -> Floats:
    rear, forwards = stand
    level = np.stack([-forwards[:, 1], forwards[:, 0], np.zeros(len(rear))], axis=1)
    level /= np.linalg.norm(level, axis=1, keepdims=True)
    up = np.cross(forwards, level)
    found: Floats = rear + (spot[0] - end.guides[0]) * forwards + spot[1] * level + spot[2] * up
    return found


def lowest_point(level: float, one: float, other: float, length: float) -> float:
    """Return how high the lowest point of a hanging wire is: its catenary, by halving (textbook).

    Parameters
    ----------
    level
        Level distance of its ends in mm.
    one, other
        Their heights.
    length
        Of the wire.
    """
    rise = abs(one - other)
    low = min(one, other)
    if length <= math.hypot(level, rise) * (1 + 1e-12):
        return low
    if level < 1e-9:
        return low - (length - rise) / 2
    arc = math.sqrt(length**2 - rise**2)
    thin, thick = 1e-9, 700.0
    for _ in range(200):
        middle = (thin + thick) / 2
        if math.sinh(middle) / middle < arc / level:
            thin = middle
        else:
            thick = middle
    a = level / (thin + thick)
    beside = level / 2 - a * math.atanh(min(rise / length, 1 - 1e-15))
    return low if beside <= 0 else low - a * (math.cosh(beside / a) - 1)
