"""How far the ends of a joint are apart in the poses that the track asks for, by means of its own.

A track is a chain of up to three straight and round pieces in plan, with one or two changes of gradient
somewhere: level, rising and falling track follow one another, a dip and a crest as near to each other as they
like. A vehicle
stands with both guides (axles, or bogies as the middles of their axles) on the middle line; the one behind is
held by a drawbar between the two pins.

Curves are looked for on level track, and gradients on straight track, where only their places under the
vehicles count. Those in which the mouths are farthest apart and nearest are searched again beside themselves,
and are then put together: gradients under the vehicles in every pair of curves.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray

from fitplan.model.operation import Track
from fitplan.model.solids import Vec

Floats = NDArray[np.float64]
_STEPS = 20
_CLOSE = 1e-9
"""A distance that is met to this (mm) is not looked for any closer: far below `_MET`."""
_LEAST_GROWTH, _MOST_GROWTH = 0.25, 3.0
"""What a step back of 1 mm makes a distance grow by is taken within these, so that no step is wild."""
_ASIDE = 60.0
"""What is looked for lies no farther (mm) from where it would be on straight track than this and its size."""
_PLACES = 41
_MIDDLES = (0.1, 0.3, 0.6, 1.0)
"""Lengths of a piece between two others, as shares of the length over all guides."""
_HUMPS = (0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.7, 0.9)
"""How far a second change of gradient lies beyond the first, as shares of the length over all guides."""
_HARDEST = 3
"""So many sequences of gradients, and of curves, with the farthest mouths, and with the nearest, are put
together."""
_FINER = 4
"""So often the places of these are searched again beside themselves, in steps a third as long."""
_BESIDE = np.array(list(product(range(-3, 4), repeat=2)), dtype=np.float64)
"""How many steps aside it is searched again."""
_STRAIGHT = np.zeros((1, 4))
_MET = 1e-3
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

    What lies between them is round with a curvature in the ``middle``.
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
    middle: Floats | float = 0.0

    @cached_property
    def is_straight(self) -> bool:
        return not (self.before.any() or self.after.any() or np.any(self.middle))

    def at(self, s: Floats) -> Floats:
        past = s - self.kink
        z = self.slope * s + self.rise * np.maximum(past, 0.0) + self.fall * np.maximum(past - self.hump, 0.0)
        if self.is_straight:
            return np.stack([s, np.zeros_like(s), z], axis=1)
        inside = np.minimum(np.maximum(s, 0.0), self.straight)
        far = _arc(np.where(s < 0, self.before, self.after), s - inside)
        if not np.any(self.middle):
            return np.stack([inside + far[0], far[1], z], axis=1)
        turn = np.asarray(self.middle * inside)
        near = _arc(np.broadcast_to(self.middle, s.shape), inside)
        cos, sin = np.cos(turn), np.sin(turn)
        x = near[0] + cos * far[0] - sin * far[1]
        y = near[1] + sin * far[0] + cos * far[1]
        return np.stack([x, y, z], axis=1)

    def guide(self, s: Floats, bogie: float) -> Floats:
        return self.at(s) if bogie == 0 else (self.at(s - bogie / 2) + self.at(s + bogie / 2)) / 2


def _arc(bend: Floats, s: Floats) -> tuple[Floats, Floats]:
    """Return where a way of length s along a curvature ends that sets out along x."""
    round_ = np.abs(bend) > 1e-12
    radius = 1.0 / np.where(round_, bend, 1.0)
    turn = s / radius
    # 2·sin² for 1 − cos: nothing is lost on wide curves.
    return (
        np.where(round_, radius * np.sin(turn), s),
        np.where(round_, 2.0 * radius * np.sin(turn / 2.0) ** 2, 0.0),
    )


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
    """Return how far the mouths are apart in all poses: every sequence of curves, all changes of gradient."""
    joint = _Joint(ahead, behind, drawbar)

    def bent(rows: Floats) -> Floats:
        return joint.gaps(*_level(rows))

    def sloping(rows: Floats) -> Floats:
        # On straight track a vehicle may as well stand still: gradients are told by places beside it.
        return joint.gaps(*_tracks(_STRAIGHT, rows, 0.0))

    pairs = np.array(list(_pairs(track)))
    curves = np.concatenate([pairs, np.array(list(_triples(track, joint.reach)))])
    flat = _at_every_place(curves, joint.reach)
    steep = _gradients(track.gradient_percent / 100.0, joint.reach)
    bends, on_the_level = _hardest(flat, bent, (0, 2, 3), _Finer((1, 4), joint.reach, _least_between(track)))
    hard, on_straights = _hardest(steep, sloping, (0, 2, 4), _Finer((3, 1), joint.reach, lambda rows: 0.0))
    over_both = joint.gaps(*_tracks(np.concatenate([pairs, bends[:, :4]]), hard, joint.reach))
    every = np.concatenate([on_the_level, on_straights, over_both])
    every = every[np.isfinite(every[:, 0])]
    return Apart(np.linalg.norm(every, axis=1), np.hypot(every[:, 0], every[:, 1]))


def _at_every_place(curves: Floats, reach: float) -> Floats:
    """Return (n, 5) curves, each with the foremost guide at places from the first alone to the last alone."""
    shares = np.linspace(-0.05, 1.05, _PLACES)
    rows = np.repeat(curves, _PLACES, axis=0)
    return np.column_stack([rows, np.tile(shares, len(curves)) * (reach + rows[:, 1])])


def _level(rows: Floats) -> tuple[_Line, Floats]:
    """Return level tracks of (n, 5) curves, and the places of the foremost guide."""
    before, between, after, middle, front = rows.T
    none = np.zeros(len(rows))
    return _Line(before, between, after, none, none, none, none, none, middle), front


def _tracks(curves: Floats, grades: Floats, reach: float) -> tuple[_Line, Floats]:
    """Return every one of (c, 3) curves with every one of (g, 5) gradients, and places of the foremost guide.

    The places go from the first curve alone to the second alone; without a reach there is one, at 0.
    """
    places = np.linspace(-0.05, 1.05, _PLACES) if reach else np.zeros(1)
    c, g, p = (
        index.ravel()
        for index in np.meshgrid(*(np.arange(len(of)) for of in (curves, grades, places)), indexing="ij")
    )
    before, straight, after, middle = curves[c].T
    slope, kink, rise, hump, fall = grades[g].T
    front = places[p] * (reach + straight)
    return _Line(before, straight, after, slope, front + kink, rise, hump, fall, middle), front


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


@dataclass(frozen=True)
class _Finer:
    """What of a row is searched again: two columns in mm, the first of which is never less than ``least``."""

    columns: tuple[int, int]
    reach: float
    least: Callable[[Floats], Floats | float]


def _hardest(
    rows: Floats, gaps: Callable[[Floats], Floats], kind: tuple[int, ...], finer: _Finer
) -> tuple[Floats, Floats]:
    """Return the rows of the farthest and of the nearest mouths, a few kinds each, and all gaps looked at.

    Kinds differ in some columns; each is searched again beside itself.
    """
    looked, step = [gaps(rows)], finer.reach / _PLACES
    found: list[int] = []
    signs: list[float] = []
    for sign in (1.0, -1.0):
        value = sign * np.linalg.norm(looked[0], axis=1)
        first: dict[tuple[float, ...], int] = {}
        for number in np.argsort(-value).tolist():
            if len(first) == _HARDEST or not np.isfinite(value[number]):
                break  # what is no number comes last
            first.setdefault(tuple(rows[number, kind].tolist()), number)
        found += first.values()
        signs += [sign] * (len(found) - len(signs))
    some = rows[found]
    for _ in range(_FINER if found else 0):
        step /= 3
        tries = np.repeat(some[:, None], len(_BESIDE), axis=1)
        tries[..., finer.columns] += step * _BESIDE
        tries[..., finer.columns[0]] = np.maximum(tries[..., finer.columns[0]], finer.least(tries))
        looked.append(gaps(tries.reshape(-1, rows.shape[1])))
        reached = np.array(signs)[:, None] * np.linalg.norm(looked[-1], axis=1).reshape(len(found), -1)
        best = np.nan_to_num(reached, nan=-np.inf).argmax(axis=1)
        some = tries[np.arange(len(found)), best]
    return some, np.concatenate(looked)


def _pairs(track: Track) -> Iterator[tuple[float, float, float, float]]:
    """Yield two curvatures with the straight between them in mm, and no curvature in the middle."""
    k = 1.0 / track.radius
    yield 0.0, 0.0, 0.0, 0.0
    for side in (k, -k):
        yield side, 0.0, side, 0.0
        yield 0.0, 0.0, side, 0.0
        yield side, 0.0, 0.0, 0.0
        yield side, 0.0 if track.reverse_curve else track.least_straight, -side, 0.0


def _triples(track: Track, reach: float) -> Iterator[tuple[float, float, float, float]]:
    """Yield two curvatures with a piece between them in mm, and that piece's curvature."""
    k = 1.0 / track.radius
    for length, side in product([share * reach for share in _MIDDLES], (k, -k)):
        yield 0.0, length, 0.0, side
        yield side, length, side, 0.0
        yield side, max(length, 0.0 if track.reverse_curve else track.least_straight), -side, 0.0
        if track.reverse_curve:
            yield 0.0, length, side, -side
            yield side, length, 0.0, -side
            yield side, length, side, -side


def _least_between(track: Track) -> Callable[[Floats], Floats]:
    """Return what tells how long the piece between two others must be at least, of rows of curves."""
    least = 0.0 if track.reverse_curve else track.least_straight
    return lambda rows: np.where((rows[..., 0] * rows[..., 2] < 0) & (rows[..., 3] == 0), least, 0.0)


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

    Where two places are right, as on the far side of a long end that stands askew, it is the rear one.

    Parameters
    ----------
    skew
        How far the measured point lies ahead of the place itself.
    """
    first = start - skew - wanted
    at, right = _gone_back(distance, first, wanted)
    if not right.all():
        again, _ = _gone_back(distance, np.where(right, at, first - 2 * wanted), wanted)
        at = np.where(right, at, again)
    return at


def _gone_back(
    distance: Callable[[Floats], Floats], at: Floats, wanted: float
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return where a distance is as wanted, and where that is found and the distance grows behind it.

    A step back makes the distance grow by about as much: what is missing is gone back, and how much that
    made of it tells the next step.
    """
    missing, growth = distance(at) - wanted, np.ones(len(at))
    low, high = at - 2 * wanted - _ASIDE, at + 2 * wanted + _ASIDE
    for _ in range(_STEPS):
        if not (np.abs(missing) > _CLOSE).any():
            break
        # For few figures both together take a third of the time of `clip`.
        likely = np.minimum(np.maximum(growth, _LEAST_GROWTH), _MOST_GROWTH)
        step = np.minimum(np.maximum(at + missing / likely, low), high) - at
        at = at + step
        left = distance(at) - wanted
        far = np.abs(step) > _CLOSE
        growth = np.where(far, (missing - left) / np.where(far, step, 1.0), growth)
        missing = left
    return at, (np.abs(missing) < _MET) & (growth > 0)


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
