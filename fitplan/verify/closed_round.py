"""What the body closes all round a way: rooms of a cut across it that nowhere reach the open air.

The body is cut in the middle between each two of its planes; what is clear there is parted into rooms. A cell
that a round or sloping outline passes counts as clear: what only such outlines close is not seen.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby, pairwise

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import Vec
from fitplan.verify.body import STATE_CODES, Body
from fitplan.verify.sliding import STATES_IN_THE_WAY

Room = tuple[int, int, int]
"""An axis, the number of the cut across it, and that of the room."""


@dataclass(frozen=True)
class Passing:
    """A closed room that a way passes: where (mm along the way, and the point), and to which side."""

    room: Room
    along: float
    at: Vec
    side: int


class Cuts:
    """A body, asked what is closed round a way."""

    def __init__(self, body: Body) -> None:
        blocked = body.cells_in([STATE_CODES[state] for state in STATES_IN_THE_WAY])
        self._low, self._high = body.cells.low[blocked], body.cells.high[blocked]
        hull = np.array([body.hull.low, body.hull.high])
        self._lines = [
            np.unique(np.round(np.concatenate([self._low[:, i], self._high[:, i], hull[:, i]]), 6))
            for i in range(3)
        ]
        self._marks: list[list[float]] = [line.tolist() for line in self._lines]
        self._middles: list[list[float]] = [((line[1:] + line[:-1]) / 2).tolist() for line in self._lines]
        self._known: dict[tuple[int, int], NDArray[np.int64]] = {}

    def passed(self, way: Sequence[Vec]) -> Iterator[Passing]:
        """Yield the closed rooms that a way passes, one after the other, in mm along it."""
        gone = 0.0
        for start, end in pairwise(way):
            long = math.dist(start, end)
            yield from sorted(self._on_a_piece(start, end, gone, long), key=lambda passing: passing.along)
            gone += long

    def _on_a_piece(self, start: Vec, end: Vec, gone: float, long: float) -> Iterator[Passing]:
        for axis in range(3):
            one, two = start[axis], end[axis]
            if one == two:
                continue
            middles = self._middles[axis]
            for cut in range(bisect_right(middles, min(one, two)), bisect_right(middles, max(one, two))):
                share = (middles[cut] - one) / (two - one)
                x, y, z = (a + share * (b - a) for a, b in zip(start, end, strict=True))
                room = self._room(axis, cut, (x, y, z))
                if room:
                    yield Passing((axis, cut, room), gone + share * long, (x, y, z), 1 if two > one else -1)

    def width(self, room: Room) -> float:
        """Return how wide a room is at its narrowest: the lesser edge of the largest square in it (mm)."""
        return self._largest(room, None)

    def narrow(self, run: Sequence[Passing], edge: float) -> Iterator[tuple[float, list[Passing]]]:
        """Yield what is narrower than an edge (mm) of rooms passed in a row, each hole by itself."""
        widths = [self.width(one.room) for one in run]
        for small, places in groupby(range(len(run)), key=lambda place: widths[place] < edge):
            if small:
                part = list(places)
                yield min(widths[place] for place in part), [run[place] for place in part]

    def lets_through(self, room: Room, edges: tuple[float, float]) -> bool:
        """Return whether a box with these edges across passes a room."""
        return self._largest(room, edges) > 0.0

    def together(self, axis: int, level: float, one: Vec, other: Vec) -> bool:
        """Return whether two points, moved into a cut at a level, lie in one room of it."""
        cut = int(np.searchsorted(self._lines[axis], level, "right")) - 1
        if not 0 <= cut < len(self._lines[axis]) - 1:
            return False
        return self._room(axis, cut, one) == self._room(axis, cut, other)

    def _room(self, axis: int, cut: int, point: Vec) -> int:
        """Return the number of the closed room that holds a point, the nearest one; 0 for the open air."""
        rooms = self._cut(axis, cut)
        u, v = (i for i in range(3) if i != axis)
        here = int(rooms[bisect_left(self._marks[u], point[u]), bisect_left(self._marks[v], point[v])])
        if here >= 0:
            return here
        offs = []
        for i in (u, v):
            line = np.concatenate([[-np.inf], self._lines[i], [np.inf]])
            offs.append(np.maximum(np.maximum(line[:-1] - point[i], point[i] - line[1:]), 0.0))
        far = np.where(rooms >= 0, np.add.outer(offs[0], offs[1]), np.inf)
        return int(rooms.flat[int(far.argmin())])

    def _cut(self, axis: int, cut: int) -> NDArray[np.int64]:
        """Return the rooms of a cut by number: -1 solid, 0 the open air; a rim of it lies round the body."""
        key = (axis, cut)
        if key not in self._known:
            u, v = (i for i in range(3) if i != axis)
            middle = self._middles[axis][cut]
            met = (self._low[:, axis] < middle) & (self._high[:, axis] > middle)
            rooms = np.full((len(self._lines[u]) + 1, len(self._lines[v]) + 1), -2, dtype=np.int64)
            spans = [
                [np.searchsorted(self._lines[i], edge[met, i] - 1e-6) + 1 for edge in (self._low, self._high)]
                for i in (u, v)
            ]
            for a, b, c, d in zip(*spans[0], *spans[1], strict=True):
                rooms[a:b, c:d] = -1
            self._known[key] = _numbered(rooms)
        return self._known[key]

    def _largest(self, room: Room, edges: tuple[float, float] | None) -> float:
        """Return the edge of the largest square in a room; with edges given, whether such a box has room."""
        axis, cut, number = room
        rooms = self._cut(axis, cut)
        u, v = (i for i in range(3) if i != axis)
        here = rooms[1:-1, 1:-1] == number
        rows, columns = np.flatnonzero(here.any(axis=1)), np.flatnonzero(here.any(axis=0))
        best = 0.0
        for top in rows.tolist():
            open_ = np.ones(here.shape[1], dtype=bool)
            for bottom in range(top, int(rows[-1]) + 1):
                open_ &= here[bottom]
                if not open_.any():
                    break
                high = float(self._lines[u][bottom + 1] - self._lines[u][top])
                wide = self._longest(open_, columns, v)
                if edges is None:
                    best = max(best, min(high, wide))
                elif any(a <= high + 1e-6 and b <= wide + 1e-6 for a, b in (edges, edges[::-1])):
                    return 1.0
        return best

    def _longest(self, open_: NDArray[np.bool_], columns: NDArray[np.int64], v: int) -> float:
        best = run = 0.0
        for column in columns.tolist():
            run = run + float(self._lines[v][column + 1] - self._lines[v][column]) if open_[column] else 0.0
            best = max(best, run)
        return best

    def same(self, one: Sequence[Vec], other: Sequence[Vec]) -> bool:
        """Return whether two ways with the same ends pass the same closed rooms."""
        return not once([*self.passed(one), *self.passed(other[::-1])])


@lru_cache(maxsize=16)  # a vehicle's body with the same lids off is the same one, and asked for again
def cuts_of(body: Body) -> Cuts:
    """Return the cuts of a body."""
    return Cuts(body)


def once(passings: Sequence[Passing]) -> list[Passing]:
    """Return those whose room is passed more often to one side than to the other."""
    net: Counter[Room] = Counter()
    for one in passings:
        net[one.room] += one.side
    return [one for one in passings if net[one.room]]


def _numbered(rooms: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return a cut with its rooms numbered in the order of their first cells, which are -2 so far."""
    # A rim all round, and a plain list: cell by cell an array is slow.
    cells = np.pad(rooms, 1, constant_values=-1).ravel().tolist()
    wide = rooms.shape[1] + 2
    number = 0
    for first in range(len(cells)):
        if cells[first] != -2:
            continue
        cells[first] = number
        stack = [first]
        while stack:
            cell = stack.pop()
            for beside in (cell - wide, cell - 1, cell + 1, cell + wide):
                if cells[beside] == -2:
                    cells[beside] = number
                    stack.append(beside)
        number += 1
    return np.array(cells, dtype=np.int64).reshape(-1, wide)[1:-1, 1:-1]
