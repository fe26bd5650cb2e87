"""How far the ends of a joint are apart in the poses that the track asks for, by means of its own.

A track is a chain of straight and round pieces in plan, with one or two changes of gradient somewhere: level,
rising and falling track follow one another, a dip and a crest as near to each other as they like. A vehicle
stands with both guides (axles, or bogies as the middles of their axles) on the middle line; the one behind is
held by a drawbar between the two pins.

Gradients are looked for on straight track first, where only their places under the vehicles count; those in
which the mouths are farthest apart and nearest are then put under the vehicles in every pair of curves.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from fitplan.model.operation import Track
from fitplan.model.solids import Vec

Floats = NDArray[np.float64]
_STEPS = 12
_CLOSE = 1e-9
"""A distance that is met to this (mm) is not looked for any closer: far below `_MET`."""
_PLACES = 41
_HUMPS = (0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.7, 0.9)
"""How far a second change of gradient lies beyond the first, as shares of the length over all guides."""
_HARDEST = 3
"""So many sequences of gradients with the farthest mouths, and with the nearest, go with every curve."""
_FINER = 4
"""So often the places of these are searched again beside themselves, in steps a third as long."""
_STRAIGHT = np.zeros((1, 3))
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
    """Many tracks side by side, (n,) each: two curvatures with ``straight`` mm between, and the gradient.

    ``hump`` is how far its second change, ``fall``, lies beyond the first one, ``rise``, at ``kink``.
    """

    before: Floats
    straight: Floats
    after: Floats
    slope: Floats
    kink: Floats
    rise: Floats
    hump: Floats
    fall: Floats

    def at(self, s: Floats) -> Floats:
        past = s - self.kink
        z = self.slope * s + self.rise * np.maximum(past, 0.0) + self.fall * np.maximum(past - self.hump, 0.0)
        bend = np.where(s < 0, self.before, self.after)
        round_ = np.abs(bend) > 1e-12
        if not round_.any():
            return np.stack([s, np.zeros_like(s), z], axis=1)
        along = np.where(s < 0, 0.0, np.minimum(s, self.straight))
        rest = s - along
        radius = 1.0 / np.where(round_, bend, 1.0)
        x = along + np.where(round_, radius * np.sin(rest / radius), rest)
        # 2·sin² for 1 − cos: nothing is lost on wide curves.
        y = np.where(round_, 2.0 * radius * np.sin(rest / radius / 2.0) ** 2, 0.0)
        return np.stack([x, y, z], axis=1)

    def guide(self, s: Floats, bogie: float) -> Floats:
        return self.at(s) if bogie == 0 else (self.at(s - bogie / 2) + self.at(s + bogie / 2)) / 2


@dataclass(frozen=True)
class Apart:
    """Distances of the two mouths in mm, (n,), with their level distances."""

    distance: Floats
    level: Floats

    def nearest(self) -> float:
        """Return the level distance where the mouths are nearest."""
        return float(self.level[self.distance.argmin()])


def straight_apart(ahead: CouplingEnd, behind: CouplingEnd, drawbar: float) -> tuple[float, float] | None:
    """Return distance and level distance of the mouths on straight level track; None: none joins them."""
    drop = ahead.pin[1] - behind.pin[1]
    if abs(drop) >= drawbar:
        return None
    along = ahead.mouth[0] - ahead.pin[0] + math.sqrt(drawbar**2 - drop**2) + behind.pin[0] - behind.mouth[0]
    level = math.hypot(along, ahead.mouth[1] - behind.mouth[1])
    return math.hypot(level, ahead.mouth[2] - behind.mouth[2]), level


@dataclass(frozen=True)
class _Joint:
    """Two ends with the drawbar between their pins, in mm."""

    ahead: CouplingEnd
    behind: CouplingEnd
    drawbar: float

    @property
    def reach(self) -> float:
        """The length over all guides, and a tenth."""
        one, other = self.ahead, self.behind
        whole = one.guides[1] - one.pin[0] + self.drawbar + other.pin[0] - other.guides[0]
        return 1.1 * (whole + one.bogie + other.bogie)

    def gaps(self, line: _Line, front: Floats) -> Floats:
        """Return (n, 3) from mouth to mouth, the foremost guide at (n,) places; nan: it cannot stand so."""
        ahead, behind = self.ahead, self.behind
        first = _stand(line, ahead, front)
        pin = _point(first, ahead, (ahead.pin[0], 0.0, ahead.pin[1]))

        def to_pin(s: Floats) -> Floats:
            own = _point(_stand(line, behind, s), behind, (behind.pin[0], 0.0, behind.pin[1]))
            apart: Floats = np.linalg.norm(pin - own, axis=1)
            return apart

        near = front - (ahead.guides[1] - ahead.pin[0])
        at = _at_distance(to_pin, near, self.drawbar, behind.pin[0] - behind.guides[1])
        second = _stand(line, behind, at)
        one, other = _point(first, ahead, ahead.mouth), _point(second, behind, behind.mouth)
        own = _point(second, behind, (behind.pin[0], 0.0, behind.pin[1]))
        met = np.abs(np.linalg.norm(pin - own, axis=1) - self.drawbar) < _MET
        found: Floats = np.where(met[:, None], one - other, np.nan)
        return found


def poses_apart(ahead: CouplingEnd, behind: CouplingEnd, drawbar: float, track: Track) -> Apart:
    """Return how far the mouths are apart in all poses: every pair of curves, all changes of gradient."""
    joint = _Joint(ahead, behind, drawbar)
    curves = np.array(list(_curves(track)))
    steep = _gradients(track.gradient_percent / 100.0, joint.reach)
    on_the_level = joint.gaps(*_tracks(curves, np.zeros((1, 5)), joint.reach))
    # On straight track a vehicle may as well stand still: gradients are told by places beside it.
    straight_on = joint.gaps(*_tracks(_STRAIGHT, steep, 0.0))
    apart = np.linalg.norm(straight_on, axis=1)
    far, near = _hardest(steep, apart), _hardest(steep, -apart)
    signs = np.repeat((1.0, -1.0), (len(far), len(near)))
    hard = _finer(joint, np.concatenate([far, near]), signs)
    over_both = joint.gaps(*_tracks(curves, hard, joint.reach))
    straight_hard = joint.gaps(*_tracks(_STRAIGHT, hard, 0.0))
    every = np.concatenate([on_the_level, straight_on, straight_hard, over_both])
    every = every[np.isfinite(every[:, 0])]
    return Apart(np.linalg.norm(every, axis=1), np.hypot(every[:, 0], every[:, 1]))


def _tracks(curves: Floats, grades: Floats, reach: float) -> tuple[_Line, Floats]:
    """Return every one of (c, 3) curves with every one of (g, 5) gradients, and places of the foremost guide.

    The places go from the first curve alone to the second alone; without a reach there is one, at 0.
    """
    places = np.linspace(-0.05, 1.05, _PLACES) if reach else np.zeros(1)
    c, g, p = (
        index.ravel()
        for index in np.meshgrid(*(np.arange(len(of)) for of in (curves, grades, places)), indexing="ij")
    )
    before, straight, after = curves[c].T
    slope, kink, rise, hump, fall = grades[g].T
    front = places[p] * (reach + straight)
    return _Line(before, straight, after, slope, front + kink, rise, hump, fall), front


def _gradients(steepest: float, reach: float) -> Floats:
    """Return (n, 5) gradients: slope, place of a change and its size, how far on another is, and its size.

    Places are told from the foremost guide. Any of level, rising and falling may follow another, so a change
    may be twice as large as the steepest gradient.
    """
    kinks = -np.array([-0.05, 1.05]) * reach
    rows = []
    for one, two, three in product((0.0, steepest, -steepest), repeat=3):
        if one == two or not steepest:
            continue
        for hump in [share * reach for share in _HUMPS] if two != three else [0.0]:
            # From the second change under the foremost guide to the first one behind all.
            spots = np.linspace(kinks[0] - hump, kinks[-1], _PLACES)
            rows += [(one, kink, two - one, hump, three - two) for kink in spots]
    return np.array(rows).reshape(-1, 5)


def _hardest(rows: Floats, value: Floats) -> Floats:
    """Return the places of highest value of some sequences of gradients, those with the highest ones."""
    found: dict[tuple[float, ...], int] = {}
    for number in np.argsort(-value).tolist():
        if len(found) == _HARDEST or not np.isfinite(value[number]):
            break  # what is no number comes last
        found.setdefault(tuple(rows[number, [0, 2, 4]].tolist()), number)
    return rows[list(found.values())]


def _finer(joint: _Joint, rows: Floats, signs: Floats) -> Floats:
    """Return gradients with their places moved to where the mouths are farther (sign 1) or nearer (-1)."""
    step = joint.reach / _PLACES
    beside = np.array([(0.0, k, 0.0, h, 0.0) for k in range(-3, 4) for h in range(-3, 4)])
    for _ in range(_FINER if len(rows) else 0):
        step /= 3
        tries = rows[:, None] + step * beside
        tries[..., 3] = np.maximum(tries[..., 3], 0.0)
        apart = np.linalg.norm(joint.gaps(*_tracks(_STRAIGHT, tries.reshape(-1, 5), 0.0)), axis=1)
        value = signs[:, None] * apart.reshape(len(rows), -1)
        best = np.nan_to_num(value, nan=-np.inf).argmax(axis=1)
        rows = tries[np.arange(len(rows)), best]
    return rows


def _curves(track: Track) -> Iterator[tuple[float, float, float]]:
    """Yield two curvatures with the straight between them in mm."""
    k = 1.0 / track.radius
    yield 0.0, 0.0, 0.0
    for side in (k, -k):
        yield side, 0.0, side
        yield 0.0, 0.0, side
        yield side, 0.0, 0.0
        yield side, 0.0 if track.reverse_curve else track.least_straight, -side


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
        missing = distance(at) - wanted
        if not (np.abs(missing) > _CLOSE).any():
            break
        at = at + missing
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
