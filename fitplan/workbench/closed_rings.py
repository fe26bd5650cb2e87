"""Where the body of a vehicle closes round a way, its lids off: holes that a wire is led through.

The body's faces cut the hull into cells. Across each axis the clear cells of one slab hang together in rooms;
one that nowhere reaches the open air is closed all round by the body. What runs through it from one side to
the other, and back nowhere, cannot be laid in from outside: one of its ends must be led through. A way that
leaves by the room that it came in by has passed nothing: a roof that stays on is no hole for what is brought
in under it and stays there.

A ring that no plane across an axis holds whole, as in a slanting wall, is not seen.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear import label_spaces, largest_box
from fitplan.lattice.cover import TENTHS
from fitplan.model.solids import AXES, Box, Vec
from fitplan.model.work import InnerHole
from fitplan.packing.access.slide import Rows

_PAD = 100
"""Width of the rim of open air round the hull, in tenths."""

Slab = tuple[int, int, int]
"""A room across an axis: axis, slab, and the room's number."""


@dataclass(frozen=True)
class Passed:
    """A closed room that a way passes: how far along the way (mm), and whether upwards along the axis."""

    slab: Slab
    along: float
    upwards: bool


class ClosedRings:
    """A body with some of its lids off, asked what closes round a way.

    Parameters
    ----------
    bodies
        (n, 6) rows of box corners in tenths of a mm for each lid that is off: what stands in all, stands.
    hull
        The vehicle's hull in mm.
    """

    def __init__(self, bodies: Sequence[Rows], hull: Box) -> None:
        rows = np.concatenate(bodies)
        self._edges: list[NDArray[np.int64]] = []
        for axis in range(3):
            low, high = round(hull.low[axis] * TENTHS), round(hull.high[axis] * TENTHS)
            line = np.unique(np.concatenate([rows[:, axis], rows[:, axis + 3], [low, high]]))
            self._edges.append(np.concatenate([[line[0] - _PAD], line, [line[-1] + _PAD]]))
        shape = tuple(len(line) - 1 for line in self._edges)
        solid = np.ones(shape, dtype=np.bool_)
        for body in bodies:
            solid &= self._drawn(body, shape)
        self._faces = [line / TENTHS for line in self._edges]
        self._middles = [(line[1:] + line[:-1]) / 2 for line in self._faces]
        self._rooms = [self._across(~solid, axis) for axis in range(3)]
        self._openings: dict[Slab, InnerHole] = {}
        self._known: dict[tuple[Vec, ...], tuple[Passed, ...]] = {}

    def _drawn(self, rows: Rows, shape: tuple[int, ...]) -> NDArray[np.bool_]:
        solid = np.zeros(shape, dtype=np.bool_)
        ends = [
            [np.searchsorted(line, rows[:, axis + side]).tolist() for side in (0, 3)]
            for axis, line in enumerate(self._edges)
        ]
        (x0, x1), (y0, y1), (z0, z1) = ends
        for place in range(len(rows)):
            solid[x0[place] : x1[place], y0[place] : y1[place], z0[place] : z1[place]] = True
        return solid

    def _across(self, clear: NDArray[np.bool_], axis: int) -> NDArray[np.int32]:
        """Return rooms across an axis by number: 0 solid, -1 what reaches the open air."""
        labels, count = label_spaces(clear, np.full(clear.shape, 1 << axis, dtype=np.uint8))
        open_air = np.zeros(count + 1, dtype=np.bool_)
        for other in range(3):
            if other != axis:
                for side in (0, -1):
                    open_air[np.unique(np.take(labels, side, axis=other))] = True
        open_air[0] = False
        rooms = labels.astype(np.int32)
        rooms[open_air[labels]] = -1
        return rooms

    def passed(self, way: Sequence[Vec]) -> tuple[Passed, ...]:
        """Return the closed rooms that a way of straight pieces passes (points in mm), piece by piece."""
        asked = tuple(way)
        if asked not in self._known:
            self._known[asked] = self._pass(asked)
        return self._known[asked]

    def _pass(self, way: Sequence[Vec]) -> tuple[Passed, ...]:
        points = np.array(way, dtype=float)
        runs = np.diff(points, axis=0)
        long = np.sqrt((runs**2).sum(axis=1))
        gone = np.concatenate([[0.0], np.cumsum(long)])
        found: list[tuple[int, Passed]] = []
        for axis in range(3):
            pieces, slabs, shares, rooms = self._crossed(axis, points, runs)
            along = gone[pieces] + shares * long[pieces]
            upwards = runs[pieces, axis] > 0
            for piece, slab, room, far, up in zip(
                *(row.tolist() for row in (pieces, slabs, rooms, along, upwards)), strict=True
            ):
                if room > 0:
                    found.append((piece, Passed((axis, slab, room), far, up)))
        found.sort(key=lambda one: one[0])
        return tuple(one for _, one in found)

    def same(self, one: Sequence[Vec], other: Sequence[Vec]) -> bool:
        """Return whether two ways with the same ends pass the same closed rooms: one is laid as the other."""
        passed = [*self.passed(one), *self.passed(other[::-1])]
        return not left_over(passed)

    def _crossed(
        self, axis: int, points: NDArray[np.float64], runs: NDArray[np.float64]
    ) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64], NDArray[np.int32]]:
        """Return where a way crosses the middles of slabs: piece, slab, share of the piece, and the room."""
        middles = self._middles[axis]
        ends = np.searchsorted(middles, points[:, axis], side="right")
        first = np.minimum(ends[:-1], ends[1:])
        count = np.abs(np.diff(ends))
        pieces = np.repeat(np.arange(len(count)), count)
        slabs = np.arange(len(pieces)) - np.repeat(np.cumsum(count) - count, count) + first[pieces]
        shares = (middles[slabs] - points[pieces, axis]) / runs[pieces, axis]
        at = points[pieces] + shares[:, None] * runs[pieces]
        return pieces, slabs, shares, self._rooms_at(axis, slabs, at)

    def _rooms_at(
        self, axis: int, slabs: NDArray[np.int64], points: NDArray[np.float64]
    ) -> NDArray[np.int32]:
        """Return the rooms that points lie in, each in its slab: for one in brick the nearest."""
        cells = [slabs] * 3
        for i in range(3):
            if i != axis:
                found = np.searchsorted(self._faces[i], points[:, i], side="right") - 1
                cells[i] = np.clip(found, 0, len(self._middles[i]) - 1)
        rooms: NDArray[np.int32] = self._rooms[axis][tuple(cells)]
        for number in np.flatnonzero(rooms == 0).tolist():
            rooms[number] = self._nearest(axis, int(slabs[number]), points[number])
        return rooms

    def _nearest(self, axis: int, slab: int, point: NDArray[np.float64]) -> int:
        """Return the room across an axis that is nearest to a point."""
        rooms = np.take(self._rooms[axis], slab, axis=axis)
        off = [
            np.maximum(np.maximum(self._faces[i][:-1] - point[i], point[i] - self._faces[i][1:]), 0.0)
            for i in range(3)
            if i != axis
        ]
        away = np.where(rooms != 0, np.hypot.outer(*off), np.inf)
        return int(rooms.flat[int(away.argmin())])

    def hole(self, slabs: Iterable[Slab]) -> InnerHole:
        """Return the narrowest of some rooms that a way passes one after the other, as a hole.

        It is as long as those beside it are the same.
        """
        found = [self.opening(slab) for slab in slabs]
        least = min(found, key=lambda hole: hole.size[0] * hole.size[1])
        place, axis = found.index(least), AXES.index(least.axis)
        low, high = least.box.low[axis], least.box.high[axis]
        for further in (found[place + 1 :], found[:place][::-1]):
            for box in (hole.box for hole in further):
                if box.with_span(axis, low, high) != least.box.with_span(axis, low, high):
                    break
                low, high = min(low, box.low[axis]), max(high, box.high[axis])
        return InnerHole(least.axis, least.box.with_span(axis, low, high))

    def opening(self, slab: Slab) -> InnerHole:
        """Return the largest box that passes a room."""
        if slab not in self._openings:
            self._openings[slab] = self._find_opening(slab)
        return self._openings[slab]

    def _find_opening(self, slab: Slab) -> InnerHole:
        axis, place, number = slab
        window: list[slice] = [slice(None)] * 3
        window[axis] = slice(place, place + 1)
        cells = self._rooms[axis][tuple(window)] == number
        faces = [line[place : place + 2] if i == axis else line for i, line in enumerate(self._faces)]
        found = largest_box(cells, faces)
        low = [float(faces[i][found[i]]) for i in range(3)]
        high = [float(faces[i][found[i + 3]]) for i in range(3)]
        return InnerHole(AXES[axis], Box((low[0], low[1], low[2]), (high[0], high[1], high[2])))


def left_over(passed: Iterable[Passed]) -> frozenset[Slab]:
    """Return the rooms that ways pass more often one way than the other."""
    count: dict[Slab, int] = {}
    for one in passed:
        count[one.slab] = count.get(one.slab, 0) + (1 if one.upwards else -1)
    return frozenset(slab for slab, net in count.items() if net)
