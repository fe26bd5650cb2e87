"""Every pair that could press a block in a room of studs: all that goes under it, all straps over it.

What holds is asked of a linear program over forces at the corners of what touches (HiGHS, in scipy). Nothing
of the search is used.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.optimize import linprog

from .listed_means import (
    FOOTPRINTS,
    HOLDS_N,
    LEAST_OVER,
    PLATE,
    STUD,
    Box,
    Carrier,
    Cells,
    Rect,
    Room,
    carriers,
    fewest_pieces,
    meets,
)

LEAST_TOUCH = 10
TOUCHING = 1


@dataclass(frozen=True)
class Over:
    """A strap over a block: its pieces, its boxes with a pad, where it touches, its feet, its axis."""

    count: int
    boxes: tuple[Box, ...]
    touch: Rect
    feet: tuple[Cells, ...]
    axis: int


def fewest_of_a_pair(room: Room) -> int | None:
    """Return the fewest pieces of all pairs that hold a block; 0 counts for what it rests on as it lies."""
    below: list[tuple[int, Carrier | None]] = [(0, None)] if room.resting else []
    below += [(one.merit[2], one) for one in carriers(room, standing=False)]
    above = sorted(straps(room), key=lambda one: one.count)
    known: dict[tuple[object, ...], bool] = {}
    pairs = ((count + over.count, one, over) for count, one in below for over in above)
    for count, one, over in sorted(pairs, key=lambda entry: entry[0]):
        if one is not None and any(meets(a, b) for a in one.boxes for b in over.boxes):
            continue
        touches = (*room.resting, *((one.touch,) if one is not None else ()))
        foot, hung = (one.foot, one.hung) if one is not None else (None, False)
        asked = (touches, foot, hung, over.touch, over.feet, over.axis)
        if asked not in known:
            known[asked] = _above_an_edge(room, touches, over.touch) and balances(
                room, touches, over, foot, hung
            )
        if known[asked]:
            return count
    return None


def straps(room: Room) -> Iterator[Over]:
    """Yield the straps over a block that run into nothing and that its weight, upside down, does not lift."""
    x0, y0, _, x1, y1, top = room.block
    middle = room.middle
    under = next(h for h in range(top, top + PLATE) if (h - room.floor) % PLATE == 0)
    pieces = fewest_pieces((under - room.floor) // PLATE, False)
    assert pieces is not None
    for (m, n), i, j in itertools.product(sorted(FOOTPRINTS), range(-8, 16), range(-8, 16)):
        size, at = (m, n), (i, j)
        touch = (max(i * STUD, x0), max(j * STUD, y0), min((i + m) * STUD, x1), min((j + n) * STUD, y1))
        if min(touch[2] - touch[0], touch[3] - touch[1]) < LEAST_TOUCH:
            continue
        for axis in (0, 1):
            if size[axis] < 2 or size[1 - axis] > 2 or touch[3 - axis] - touch[1 - axis] < STUD // 2:
                continue
            low, high = room.block[axis] / STUD, room.block[axis + 3] / STUD
            first, last = at[axis], at[axis] + size[axis]
            both = (first + 1 <= low and last - 1 >= high, [(first, 1), (last - 1, 1)])
            ways = [both]
            for deep in (1, 2):
                if deep < size[axis]:
                    past = last * STUD - middle[axis] >= 20
                    ways.append((first + deep <= low and past, [(first, deep)]))
                    past = middle[axis] - first * STUD >= 20
                    ways.append((last - deep >= high and past, [(last - deep, deep)]))
            for beside, spans in ways:
                feet = tuple(_cells_of(span, axis, at, size) for span in spans)
                if not beside or not all(_all_cells(foot) <= room.studs for foot in feet):
                    continue
                if room.push_n > _lifted_n(spans, size[1 - axis], middle[axis] / STUD):
                    continue
                boxes: list[Box] = [
                    (i * STUD, j * STUD, under, (i + m) * STUD, (j + n) * STUD, under + PLATE)
                ]
                if under > room.floor:
                    boxes += [_column(foot, room.floor, under) for foot in feet]
                if under - top > TOUCHING:
                    boxes.append((touch[0], touch[1], top, touch[2], touch[3], under))
                if room.clear(boxes):
                    yield Over(len(feet) * pieces + 1, tuple(boxes), touch, feet, axis)


def _cells_of(span: tuple[int, int], axis: int, at: tuple[int, int], size: tuple[int, int]) -> Cells:
    start, deep = span
    return (start, at[1], deep, size[1]) if axis == 0 else (at[0], start, size[0], deep)


@cache
def _all_cells(cells: Cells) -> frozenset[tuple[int, int]]:
    i, j, m, n = cells
    return frozenset((i + a, j + b) for a in range(m) for b in range(n))


def _column(cells: Cells, low: int, high: int) -> Box:
    i, j, m, n = cells
    return (i * STUD, j * STUD, low, (i + m) * STUD, (j + n) * STUD, high)


def _lifted_n(spans: list[tuple[int, int]], wide: int, load: float) -> float:
    """Return what pulls a foot off its studs, by balances of moments (in studs)."""
    middles = [start + deep / 2 for start, deep in spans]
    studs = [HOLDS_N * deep * wide for _, deep in spans]
    if len(spans) == 2:
        share = np.linalg.solve([[1.0, 1.0], middles], [1.0, load])
        return float(min(n / s if s > 0 else np.inf for n, s in zip(studs, share, strict=True)))
    turns_about = spans[0][0] if load > middles[0] else sum(spans[0])
    return studs[0] * abs(middles[0] - turns_about) / abs(load - turns_about)


def _above_an_edge(room: Room, touches: tuple[Rect, ...], above: Rect) -> bool:
    """Return whether the strap reaches anywhere that the block does not hang over, on all four sides.

    Straight beside all that it rests on, a press helps nothing where the middle lies on the same side.
    """
    for k in (0, 1):
        low, high = min(one[k] for one in touches), max(one[k + 2] for one in touches)
        if room.middle[k] > high and above[k] >= high:
            return False
        if room.middle[k] < low and above[k + 2] <= low:
            return False
    return True


def balances(room: Room, touches: tuple[Rect, ...], over: Over, foot: Cells | None, hung: bool) -> bool:
    """Return whether forces at corners balance with no foot pulled off its studs (mm and N)."""
    rest = np.array([(one[a], one[b]) for one in touches for a in (0, 2) for b in (1, 3)], dtype=float) / 10
    press = np.array([(over.touch[a], over.touch[b]) for a in (0, 2) for b in (1, 3)], dtype=float) / 10
    middle = np.array(room.middle[:2]) / 10
    zero = np.zeros(len(press))
    equal = [np.concatenate([np.ones(len(rest)), -np.ones(len(press))])]
    right = [room.push_n]
    for k in (0, 1):
        equal.append(np.concatenate([rest[:, k], -press[:, k]]))
        right.append(room.push_n * middle[k])
    most, limits = [], []
    k = over.axis
    at = [(one[k] + one[k + 2] / 2) * 8.0 for one in over.feet]
    holds = [HOLDS_N * one[2] * one[3] for one in over.feet]
    if len(at) == 2:
        for mine, other, held in ((at[0], at[1], holds[0]), (at[1], at[0], holds[1])):
            most.append(np.concatenate([np.zeros(len(rest)), (press[:, k] - other) / (mine - other)]))
            limits.append(held)
    else:
        half = over.feet[0][k + 2] * 4.0
        edge = at[0] - half if press[0, k] > at[0] else at[0] + half
        most.append(np.concatenate([np.zeros(len(rest)), np.abs(press[:, k] - edge)]))
        limits.append(holds[0] * half)
    if foot is not None:
        studs = HOLDS_N * foot[2] * foot[3]
        if hung:
            most.append(np.concatenate([np.ones(len(rest)), zero]))
            limits.append(studs)
        for k in (0, 1):
            low, high = foot[k] * 8.0, (foot[k] + foot[k + 2]) * 8.0
            for edge, way in ((low if hung else high, 1), (high if hung else low, -1)):
                most.append(np.concatenate([way * (rest[:, k] - edge), zero]))
                limits.append(studs * (high - low) / 2)
    found = linprog(
        np.zeros(len(rest) + len(press)), np.array(most), np.array(limits), np.array(equal), np.array(right)
    )
    return bool(found.status == 0)


assert LEAST_OVER >= LEAST_TOUCH
