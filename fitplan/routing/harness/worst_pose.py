"""The poses in which the two exits at a coupling are farthest apart and nearest, of all that a track admits.

A track is pieces of the sharpest curve to either hand and straights, in any order and of any length, but that
curves of opposite hand keep the least straight between them; and stretches of level, rising and falling track
at the steepest gradient. Three pieces and three stretches are looked at: every kind of them is scanned over
all positions, the worst in plan and the worst in height are put together, and lengths and positions of the
worst of all are then improved one by one, in ever smaller steps.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.harness.track_line import Floats, MiddleLine, RunningGear, stand, stand_behind

Point = tuple[float, float, float]

_POSITIONS = 49
_SPANS = (0.04, 0.1, 0.2, 0.35, 0.6, 1.0)
"""Lengths of a middle piece that are scanned, as shares of the length over both vehicles' guides."""
_PUT_TOGETHER = 5
"""So many of the worst kinds in plan are put together with so many in height."""
_IMPROVED = 16
"""Of so many of the worst kinds of track the worst pose is improved: one alone may end on a lower hill."""
_ROUNDS = 48
_FINE = 1e-3
"""Steps below this (mm) change a distance by less than a millionth of it."""
_K1, _K2, _K3, _SPAN, _G1, _G2, _G3, _KINK, _HUMP, _AT = range(10)
_FREE = (_SPAN, _KINK, _HUMP, _AT)
_KIND = (_K1, _K2, _K3, _G1, _G2, _G3)
_NOT_MET = 1e-3
"""Poses whose drawbar is not met to this (mm) are none: the vehicles cannot stand so."""


@dataclass(frozen=True)
class CouplingSide:
    """One side of a coupling, in its vehicle's frame: x forwards, y to the left, z above rail head, in mm.

    Attributes
    ----------
    gear
        Its axles or bogie pivots.
    coupling
        (x, z) of the drawbar's pin, on the middle line.
    exit
        Where the wires leave the end face.
    """

    gear: RunningGear
    coupling: tuple[float, float]
    exit: Point


@dataclass(frozen=True)
class TrackLimits:
    """The hardest track that the train has to take.

    Attributes
    ----------
    radius
        Of the sharpest curve, to the middle of the track, in mm; inf for a straight line only.
    reverse_curve
        Whether two curves may follow each other in opposite directions without a straight between.
    gradient
        The steepest (0.04: 4 %), upwards and downwards.
    least_straight
        Where no reverse curve is allowed, the shortest straight between two curves of opposite hand, in mm.
    """

    radius: float = 320.0
    reverse_curve: bool = True
    gradient: float = 0.0
    least_straight: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a curve without a radius and a wall."""
        if not self.radius > 0:
            raise ValueError(f"a curve has a positive radius, not {self.radius}")
        if not 0 <= self.gradient < 0.5:
            raise ValueError(f"a gradient lies between 0 and 0.5, not {self.gradient}")
        if not self.least_straight >= 0:
            raise ValueError(f"a straight is at least 0 mm long, not {self.least_straight}")


@dataclass(frozen=True)
class ExtremeExits:
    """The farthest and nearest exits of all poses, in mm; the farthest in words, the nearest on the level."""

    longest_mm: float
    governing: str
    shortest_mm: float
    shortest_level_mm: float


@dataclass(frozen=True, eq=False)
class Poses:
    """Poses side by side: a track each, and where the front guide of the vehicle ahead stands."""

    line: MiddleLine
    at: Floats


@lru_cache(maxsize=256)  # equal vehicles couple alike, and a train is wired several times
def search(ahead: CouplingSide, behind: CouplingSide, drawbar: float, limits: TrackLimits) -> ExtremeExits:
    """Return the worst pose of two coupled vehicles on a track (see the module).

    Parameters
    ----------
    ahead, behind
        The vehicle in front with its rear end, and the one that follows with its front end.
    drawbar
        Distance of the two pins when pulled, in mm.
    """
    work = _Work(ahead, behind, drawbar, limits)
    (best, longest), (close, shortest) = work.extremes(1.1 * _reach(ahead, behind, drawbar))
    near = int(shortest.argmin())
    a, b = exit_points(ahead, behind, drawbar, _poses(close[near : near + 1]))
    # Of poses that ask for the same, the one on the simplest track is told.
    pieces = (np.diff(best[:, _K1 : _K3 + 1], axis=1) != 0).sum(axis=1)
    pieces += (np.diff(best[:, _G1 : _G3 + 1], axis=1) != 0).sum(axis=1)
    which = int((longest - 1e-3 * pieces).argmax())
    return ExtremeExits(
        longest_mm=float(longest[which]),
        governing=_in_words(best[which]),
        shortest_mm=float(shortest[near]),
        shortest_level_mm=float(np.hypot(*(a - b)[0, :2])),
    )


class _Work:
    """Distances of the exits in poses given as rows (see `_K1` and what follows)."""

    def __init__(
        self, ahead: CouplingSide, behind: CouplingSide, drawbar: float, limits: TrackLimits
    ) -> None:
        self._ahead, self._behind, self._drawbar, self._limits = ahead, behind, drawbar, limits
        self._known: dict[str, tuple[Floats, Floats]] = {}

    def extremes(self, reach: float) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
        """Return the poses with the farthest and the nearest exits, with their distances (see the module)."""
        begun = [self._scanned_worst(reach, sign) for sign in (1.0, -1.0)]
        sign = np.repeat((1.0, -1.0), [len(rows) for rows in begun])
        rows, value = self.improved(np.concatenate(begun), reach / 12, sign)
        far = sign > 0
        return (rows[far], value[far]), (rows[~far], -value[~far])

    def _scanned_worst(self, reach: float, sign: float) -> Floats:
        """Return the worst poses that are scanned; with a negative ``sign`` those with the nearest exits."""
        flat, off_flat = self._scanned("flat", _flat, reach)
        tables, distances = [flat], [off_flat]
        if self._limits.gradient:
            steep, off_steep = self._scanned("steep", _steep, reach)
            # A curve that goes on and on is none of the worst, but may ask for more over a crest or dip.
            steady = (flat[:, _K1] == flat[:, _K2]) & (flat[:, _K2] == flat[:, _K3])
            curved = ((flat, off_flat), (flat[steady], off_flat[steady]))
            plans = [_worst_kinds(rows, sign * off, _PUT_TOGETHER) for rows, off in curved]
            mixed = _mixed(np.concatenate(plans), _worst_kinds(steep, sign * off_steep, _PUT_TOGETHER), reach)
            tables += [steep, mixed]
            distances += [off_steep, self.apart(mixed)]
        table, distance = np.concatenate(tables), sign * np.concatenate(distances)
        return _worst_kinds(table, distance, _IMPROVED)

    def _scanned(
        self, name: str, scan: Callable[[TrackLimits, float], Floats], reach: float
    ) -> tuple[Floats, Floats]:
        if name not in self._known:
            rows = scan(self._limits, reach)
            self._known[name] = rows, self.apart(rows)
        return self._known[name]

    def apart(self, rows: Floats) -> Floats:
        """Return (n,) distances in mm; nan where the vehicles cannot stand so."""
        a, b, gap = _stand_both(self._ahead, self._behind, self._drawbar, _poses(rows))
        found: Floats = np.where(
            np.abs(gap - self._drawbar) < _NOT_MET, np.linalg.norm(a - b, axis=-1), np.nan
        )
        return found

    def improved(self, rows: Floats, step: float, sign: Floats | float = 1.0) -> tuple[Floats, Floats]:
        """Improve each pose by the best of small changes of one figure at a time, halving the steps.

        Better is farther apart, or with a negative ``sign`` nearer; what is returned beside is that much.
        """
        steps, sign = np.full(len(rows), step), np.broadcast_to(sign, len(rows))
        value = sign * self.apart(rows)
        moves = [(column, way) for column in _FREE for way in (-1.0, 1.0)]
        for _ in range(_ROUNDS):
            if steps.max() < _FINE:
                break
            tries = np.repeat(rows[:, None], len(moves), axis=1)
            for number, (column, way) in enumerate(moves):
                tries[:, number, column] += way * steps
            tries[..., _SPAN] = np.maximum(tries[..., _SPAN], _least_span(tries, self._limits))
            tries[..., _HUMP] = np.maximum(tries[..., _HUMP], 0.0)
            found = self.apart(tries.reshape(-1, rows.shape[1])).reshape(tries.shape[:2])
            reached = np.nan_to_num(sign[:, None] * found, nan=-np.inf)
            best = reached.argmax(axis=1)
            every = np.arange(len(rows))
            gained = reached[every, best] > value + 1e-9
            rows = np.where(gained[:, None], tries[every, best], rows)
            value = np.where(gained, reached[every, best], value)
            steps = np.where(gained, steps, steps / 2)
        return rows, value


def _reach(ahead: CouplingSide, behind: CouplingSide, drawbar: float) -> float:
    """Return the length over all guides, with the bogies' wheelbases."""
    whole = ahead.gear.front - ahead.coupling[0] + drawbar + behind.coupling[0] - behind.gear.rear
    return whole + ahead.gear.bogie_wheelbase + behind.gear.bogie_wheelbase


def _least_span(rows: Floats, limits: TrackLimits) -> Floats:
    """Return the least length of the middle piece: a straight between curves of opposite hand has its own."""
    opposite = (rows[..., _K1] * rows[..., _K3] < 0) & (rows[..., _K2] == 0)
    found: Floats = np.where(opposite & (not limits.reverse_curve), limits.least_straight, 0.0)
    return found


def _kinds(limits: TrackLimits) -> Iterator[tuple[float, float, float]]:
    """Yield the curvatures of up to three pieces, each kind once."""
    k = 1 / limits.radius
    hands = (0.0, k, -k) if k else (0.0,)
    for one, two, three in product(hands, repeat=3):
        reverse = one * two < 0 or two * three < 0
        if (one == two and two != three) or (reverse and not limits.reverse_curve):
            continue  # two pieces: the joint lies behind the first
        yield one, two, three


def _flat(limits: TrackLimits, reach: float) -> Floats:
    """Return poses on level track: every kind of curves, lengths of the middle piece, positions."""
    rows = []
    for one, two, three in _kinds(limits):
        spans = [0.0]
        if len({one, two, three}) > 1 and two != three:
            least = float(_least_span(np.array([one, two, three, *[0.0] * 7]), limits))
            spans = [max(share * reach, least) for share in _SPANS] + [least]
        rows += [(one, two, three, span, *[0.0] * 6) for span in dict.fromkeys(spans)]
    found, shares = _at_each_position(rows)
    found[:, _AT] = shares * (reach + found[:, _SPAN])
    return found


def _steep(limits: TrackLimits, reach: float) -> Floats:
    """Return poses on track that is straight in plan: every kind of gradients, lengths, positions."""
    g = limits.gradient
    rows = []
    for one, two, three in product((0.0, g, -g), repeat=3):
        if one != two:
            humps = [share * reach for share in _SPANS] if two != three else [0.0]
            rows += [(*[0.0] * 4, one, two, three, 0.0, hump, 0.0) for hump in humps]
    found, shares = _at_each_position(rows)
    found[:, _KINK] = -shares * (reach + found[:, _HUMP])
    return found


def _at_each_position(rows: list[tuple[float, ...]]) -> tuple[Floats, Floats]:
    """Return each track once for each position, and of each the share of the way that it is at."""
    found = np.repeat(np.array(rows), _POSITIONS, axis=0)
    return found, np.tile(np.linspace(-0.05, 1.05, _POSITIONS), len(rows))


def _worst_kinds(rows: Floats, distance: Floats, most: int) -> Floats:
    """Return the worst pose of each of the worst kinds of track, so many at most."""
    order = np.argsort(-np.nan_to_num(distance, nan=-np.inf), kind="stable")
    order = order[np.isfinite(distance[order])]
    seen: dict[tuple[float, ...], int] = {}
    for number, *kind in zip(order.tolist(), *rows[order][:, _KIND].T.tolist(), strict=True):
        seen.setdefault(tuple(kind), number)
        if len(seen) == most:
            break
    return rows[list(seen.values())]


def _mixed(flat: Floats, steep: Floats, reach: float) -> Floats:
    """Return poses with the curves of some and the gradients of others, shifted against each other."""
    shifts = np.array(list(product(np.linspace(-0.2, 0.2, 7), np.linspace(-0.3, 0.3, 9))))
    plans, heights = np.repeat(flat, len(steep), axis=0), np.tile(steep, (len(flat), 1))
    along, shift = np.tile(shifts, (len(plans), 1)).T
    rows, heights = (np.repeat(some, len(shifts), axis=0) for some in (plans, heights))
    for column in (_G1, _G2, _G3, _HUMP):
        rows[:, column] = heights[:, column]
    rows[:, _AT] += along * reach
    rows[:, _KINK] = rows[:, _AT] + heights[:, _KINK] - heights[:, _AT] + shift * reach
    return rows


def _poses(rows: Floats) -> Poses:
    line = MiddleLine(
        before=rows[:, _K1],
        after=rows[:, _K2],
        kink=rows[:, _KINK],
        rise=rows[:, _G2] - rows[:, _G1],
        further=rows[:, _K3],
        span=rows[:, _SPAN],
        fall=rows[:, _G3] - rows[:, _G2],
        hump=rows[:, _HUMP],
        slope=rows[:, _G1],
    )
    return Poses(line, rows[:, _AT])


def exit_points(
    ahead: CouplingSide, behind: CouplingSide, drawbar: float, poses: Poses
) -> tuple[Floats, Floats]:
    """Return (n, 3) both exit points in every pose."""
    return _stand_both(ahead, behind, drawbar, poses)[:2]


def _stand_both(
    ahead: CouplingSide, behind: CouplingSide, drawbar: float, poses: Poses
) -> tuple[Floats, Floats, Floats]:
    """Return both exit points, and how far the pins are apart."""
    first = stand(poses.line, ahead.gear, poses.at)
    guess = (
        poses.at - (ahead.gear.front - ahead.coupling[0]) - drawbar - (behind.coupling[0] - behind.gear.front)
    )
    second = stand_behind(poses.line, first, ahead.coupling, behind.gear, behind.coupling, drawbar, guess)
    pins = (
        first.point(ahead.coupling[0], 0.0, ahead.coupling[1]),
        second.point(behind.coupling[0], 0.0, behind.coupling[1]),
    )
    gap: NDArray[np.float64] = np.linalg.norm(pins[0] - pins[1], axis=-1)
    return first.point(*ahead.exit), second.point(*behind.exit), gap


def _in_words(row: Floats) -> str:
    one, two, three, span, g1, g2, g3, _, hump, at = row.tolist()
    if two == three or span == 0.0:
        text = _two_pieces(one, three)
    elif one * three < 0 and two == 0:
        text = f"in a reverse curve from {_hand(one)} to {_hand(three)}, {span:.0f} mm of straight between"
    elif two == 0 and one == three:
        text = f"with {span:.0f} mm of straight between two {_hand(one)} curves"
    elif two == 0:
        text = f"on {span:.0f} mm of straight beside a {_hand(one or three)} curve"
    else:
        text = f"over {span:.0f} mm of a {_hand(two)} curve, from {_piece(one)} to {_piece(three)}"
    if not one == two == three:
        text += f", front axle or pivot {at:.0f} mm beyond the joint"
    if g1 != g2 or g2 != g3:
        changes = [("dip" if g2 > g1 else "crest", abs(g2 - g1))] if g1 != g2 else []
        changes += [("dip" if g3 > g2 else "crest", abs(g3 - g2))] if g2 != g3 else []
        over = " and ".join(f"a {name} of {change * 100:.1f} %" for name, change in changes)
        text += f", over {over}" + (f" {hump:.0f} mm apart" if len(changes) > 1 else "")
    return text


def _two_pieces(one: float, two: float) -> str:
    if one == two:
        return "straight track" if one == 0 else f"in a {_hand(one)} curve"
    if one == 0:
        return f"entering a {_hand(two)} curve"
    if two == 0:
        return f"leaving a {_hand(one)} curve"
    return f"in a reverse curve from {_hand(one)} to {_hand(two)}"


def _piece(curvature: float) -> str:
    return "straight track" if curvature == 0 else f"a {_hand(curvature)} curve"


def _hand(curvature: float) -> str:
    return "left-hand" if curvature > 0 else "right-hand"
