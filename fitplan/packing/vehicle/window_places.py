"""Places of a part that is to look out of a window, and the cells of the body that each asks for.

A place asks for all cells that the part overlaps, that it keeps clear, and that lie ahead of its lens right
through the wall. Of places with nothing of the grid between them the one that touches it asks for the least,
so these are looked at, all of them; the play of bricks is given to them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import hull_in_tenths, part_boxes
from fitplan.lattice.counting import sums_below
from fitplan.lattice.cover import TENTHS, solid_in_tenths
from fitplan.model.solids import ORIGIN, Place, Pose, axis_of, is_forward
from fitplan.model.vehicle import Vehicle, Window
from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.addition_shapes import in_tenths
from fitplan.packing.vehicle.seats import PLAY_TENTHS, Wanted, front_of
from fitplan.packing.vehicle.stud_cells import (
    BRICK,
    CELL,
    HARD,
    LEVEL,
    OUTSIDE,
    REMOVABLE,
    Cell,
    StudCells,
    drawn_in,
)
from fitplan.units import STUD_HEIGHT

MOST_ASKED = 40
"""So many sets of cells are put to the packer; what lies beyond is not decided."""
MOST_PLACES = 2_000_000
"""So many places of one pose are looked at."""
_AT_ONCE = 1024
"""Rows of boxes that are turned into cells together."""
_TOUCH = 2 * PLAY_TENTHS
"""A part that is this much into a brick may yet clear it, with the play of both."""
Ints = NDArray[np.int64]
Counts = NDArray[np.int32]


@dataclass(frozen=True, order=True)
class WindowCut:
    """Cells that must go for some places of a part; ``order`` sorts from the least up."""

    bricks: int
    removables: int
    off_middle: int
    cells: tuple[Cell, ...]
    outline: tuple[Cell, Cell]


class WindowPlaces:
    """All places of a part in one pose that can ask for the least, and the cells that each asks for."""

    def __init__(
        self, vehicle: Vehicle, cells: StudCells, window: Window, wanted: Wanted, pose: Pose
    ) -> None:
        self._cells, self._window = cells, window
        place = Place(pose, ORIGIN)
        part = wanted.part
        solids = part_boxes([place.move_solid(solid) for solid in part.envelope], "inward")
        kept = [
            box
            for clearance in part.clearances
            if clearance.needed == "always" and clearance.kind != "lens"
            for box in part_boxes([place.move_solid(clearance.solid)], "inward")
        ]
        looks = part.mount.looks or "+x"
        lens = place.move_solid(part.mount.lens or front_of(part.bounds, looks)).bounds
        self._lens = in_tenths(lens)
        self._body = in_tenths(place.move_solid(part.bounds).bounds)
        self._along = axis_of(window.out)
        self._solids = [_shrunk(box) for box in solids]
        self._kept = [_shrunk(box) for box in kept]
        self._hull = hull_in_tenths(vehicle, "outward")
        self._studs = (0, round(STUD_HEIGHT * TENTHS)) if vehicle.floor_finish == "studded" else (0,)
        stuck = [entry.solid for entry in drawn_in(vehicle) if entry.state == "fixed"]
        stuck += [solid for built in vehicle.built_in for solid in built.solids]
        self._stuck = [box for solid in stuck for box in solid_in_tenths(solid, False)]
        self._offsets = [self._critical(axis) for axis in range(3)]

    def cuts(self) -> Iterator[WindowCut]:
        """Yield each set of cells that some place asks for, without those that hold another of them."""
        x, y, z = self._offsets
        if not len(x) or not len(y) or not len(z) or len(x) * len(y) * len(z) > MOST_PLACES:
            return
        allowed = np.ones((len(x), len(y), len(z)), dtype=np.bool_)
        ranges = []
        # What is kept clear, and the way ahead of the lens, may reach out of the body; the part may not.
        for boxes, closed in ((self._solids, (HARD, OUTSIDE)), (self._kept, (HARD,)), ([None], (HARD,))):
            sums = sums_below(np.isin(self._cells.kinds, closed))
            for box in boxes:
                spans = self._view() if box is None else self._spans(box)
                allowed &= _count(sums, spans) == 0
                ranges.append(spans)
        for box in self._solids:
            for other in self._stuck:
                hit = [
                    (line + box[axis] < other[axis + 3]) & (line + box[axis + 3] > other[axis])
                    for axis, line in enumerate(self._offsets)
                ]
                allowed &= ~(hit[0][:, None, None] & hit[1][None, :, None] & hit[2][None, None, :])
        if not allowed.any():
            return
        yield from self._least(np.argwhere(allowed), ranges)

    def _least(self, places: Ints, ranges: list[list[tuple[Ints, Ints]]]) -> Iterator[WindowCut]:
        """Yield the sets of cells of places, each once, but only the `MOST_ASKED` of the fewest bricks."""
        rows = np.concatenate(
            [
                np.stack([end[places[:, axis]] for axis in range(3) for end in spans[axis]], axis=1)
                for spans in ranges
            ],
            axis=1,
        )
        sums = sums_below(self._cells.kinds == BRICK)
        # A set holds at least the bricks of its largest box: that is asked first, the whole set only then.
        least = np.max([_of_rows(sums, rows[:, n : n + 6]) for n in range(0, rows.shape[1], 6)], axis=0)
        aside = self._off_middle(places)
        order = np.lexsort((aside, least))
        asked = _AskedCells(self._cells, rows)
        known: dict[bytes, WindowCut] = {}
        for start in range(0, len(order), _AT_ONCE):
            few = sorted(cut.bricks for cut in known.values())[:MOST_ASKED]
            if len(few) == MOST_ASKED and least[order[start]] > few[-1]:
                break
            chunk = order[start : start + _AT_ONCE]
            masks = asked.of(rows[chunk])
            # Of places that ask for the same bricks the first of a chunk is nearest to the middle.
            for key, number in {masks[n].tobytes(): n for n in reversed(range(len(masks)))}.items():
                at = chunk[number]
                cut = self._cut(asked.cells(masks[number]), rows[at], int(aside[at]))
                known[key] = min(cut, known.get(key, cut))
        yield from sorted(known.values())[:MOST_ASKED]

    def _cut(self, cells: tuple[Cell, ...], row: Ints, off_middle: int) -> WindowCut:
        bricks = sum(int(self._cells.kinds[cell] == BRICK) for cell in cells)
        x0, x1, y0, y1, z0, z1 = row[-6:].tolist()
        return WindowCut(bricks, len(cells) - bricks, off_middle, cells, ((x0, y0, z0), (x1, y1, z1)))

    def _off_middle(self, places: Ints) -> Ints:
        """Return (n,), how far lenses lie beside the middle of the window as it is, in tenths of a mm."""
        frame = in_tenths(self._window.box)
        off = np.zeros(len(places), dtype=np.int64)
        for axis in (axis for axis in range(3) if axis != self._along):
            lens = (self._lens[axis] + self._lens[axis + 3]) // 2 + self._offsets[axis][places[:, axis]]
            off += np.abs(lens - (frame[axis] + frame[axis + 3]) // 2)
        return off

    def _critical(self, axis: int) -> Ints:
        """Return the offsets along an axis at which what a place asks for can be least."""
        frame = in_tenths(self._window.box)
        low = self._hull[axis] - self._body[axis] - PLAY_TENTHS
        high = self._hull[axis + 3] - self._body[axis + 3] + PLAY_TENTHS
        if axis == self._along:
            front = self._lens[axis + 3] if is_forward(self._window.out) else self._lens[axis]
            low, high = max(low, frame[axis] - front), min(high, frame[axis + 3] - front)
        else:
            # The lens still looks through some of the window that there is.
            low = max(low, frame[axis] - self._lens[axis + 3] + 1)
            high = min(high, frame[axis + 3] - self._lens[axis] - 1)
        if low > high:
            return np.zeros(0, dtype=np.int64)
        step, start = (LEVEL, self._cells.base) if axis == 2 else (CELL, 0)
        planes = np.arange(self._cells.kinds.shape[axis] + 1) * step + start
        edges = {box[end] for box in (*self._solids, *self._kept, self._seen()) for end in (axis, axis + 3)}
        tops = self._studs if axis == 2 else (0,)
        kept: set[int] = set()
        for top in tops:
            found = {low, high} | {plane + top - edge for plane in planes.tolist() for edge in edges}
            found |= {box[end] - edge for box in self._stuck for end in (axis, axis + 3) for edge in edges}
            line = np.array(sorted(at for at in found if low <= at <= high), dtype=np.int64)
            kept |= set(line[self._asks_least(axis, line)].tolist())
        if axis == 1:
            # Where as little is asked for, the lens in the middle is liked best.
            middle = (frame[1] + frame[4] - self._lens[1] - self._lens[4]) // 2
            kept |= {middle} if low <= middle <= high else set()
        return np.array(sorted(kept), dtype=np.int64)

    def _asks_least(self, axis: int, line: Ints) -> NDArray[np.bool_]:
        """Return (n,) bool, False for offsets along an axis that ask for all that another asks for."""
        columns = []
        for box in (*self._solids, *self._kept, self._seen()):
            first, last = self._span(axis, line, box)
            columns += [-first, last]
        for box in self._solids:
            for other in self._stuck:
                hit = (line + box[axis] < other[axis + 3]) & (line + box[axis + 3] > other[axis])
                columns.append(hit.astype(np.int64))
        rows = np.stack(columns, axis=1)
        kept = np.ones(len(line), dtype=np.bool_)
        for number, row in enumerate(rows):
            less = (rows <= row).all(axis=1)
            less[number] = False
            # Of two that ask for the same the first stays.
            same = (rows == row).all(axis=1)
            kept[number] = not (less & ~same).any() and not same[:number].any()
        return kept

    def _seen(self) -> IntBox:
        """Return what of the wall the lens covers: its box, less what the outline may give."""
        x0, y0, z0, x1, y1, z1 = _shrunk(self._lens)
        give = min(PLAY_TENTHS, max((z1 - z0 - 1) // 2, 0))
        return (x0, y0, z0 + give, x1, y1, z1 - give)

    def _spans(self, box: IntBox) -> list[tuple[Ints, Ints]]:
        """Return along each axis, for each offset, the first cell that a box overlaps and the one behind."""
        return [self._span(axis, line, box) for axis, line in enumerate(self._offsets)]

    def _span(self, axis: int, line: Ints, box: IntBox) -> tuple[Ints, Ints]:
        step, start = (LEVEL, self._cells.base) if axis == 2 else (CELL, 0)
        count = self._cells.kinds.shape[axis]
        first = np.clip(np.floor_divide(line + box[axis] - start, step), 0, count)
        last = -np.floor_divide(-(line + box[axis + 3] - start), step)
        return first, np.clip(np.maximum(last, first), 0, count)

    def _view(self) -> list[tuple[Ints, Ints]]:
        """Return the same for what lies ahead of the lens: from the wall's inside right through it."""
        found = self._spans(self._seen())
        frame = in_tenths(self._window.box)
        along, count = self._along, self._cells.kinds.shape[self._along]
        if is_forward(self._window.out):
            first = np.minimum(found[along][0], frame[along] // CELL)
            found[along] = (np.clip(first, 0, count), np.full_like(first, count))
        else:
            last = np.maximum(found[along][1], -(-frame[along + 3] // CELL))
            found[along] = (np.zeros_like(last), np.clip(last, 0, count))
        return found


class _AskedCells:
    """Which bricks lie in any of several boxes, for many rows of boxes at once.

    Only those near the window are looked at: in the box round all that will be asked about.
    """

    def __init__(self, cells: StudCells, rows: Ints) -> None:
        """Take all ``rows`` (n, 6 × boxes) that will be asked about: first cells and those behind."""
        first = rows.reshape(len(rows), -1, 3, 2)[..., 0].min(axis=(0, 1))
        last = rows.reshape(len(rows), -1, 3, 2)[..., 1].max(axis=(0, 1))
        near = cells.kinds[tuple(slice(a, b) for a, b in zip(first, last, strict=True))]
        self._at = np.argwhere(np.isin(near, (BRICK, REMOVABLE))) + first

    def of(self, rows: Ints) -> NDArray[np.uint8]:
        """Return (n, bytes) uint8, a bit for each brick that lies in one of the boxes of a row."""
        found = np.zeros((len(rows), len(self._at)), dtype=np.bool_)
        for n in range(0, rows.shape[1], 6):
            inside = np.ones(found.shape, dtype=np.bool_)
            for axis in range(3):
                line = self._at[None, :, axis]
                first, last = (rows[:, n + 2 * axis + end, None] for end in (0, 1))
                inside &= (line >= first) & (line < last)
            found |= inside
        return np.packbits(found, axis=1)

    def cells(self, mask: NDArray[np.uint8]) -> tuple[Cell, ...]:
        """Return the cells of a row, ascending."""
        chosen = self._at[np.unpackbits(mask, count=len(self._at)).astype(np.bool_)]
        return tuple((i, j, k) for i, j, k in chosen.tolist())


def _shrunk(box: IntBox) -> IntBox:
    """Return a box without what the play of bricks may take up sideways; never less than a tenth."""
    low, high = list(box[:3]), list(box[3:])
    for axis in (0, 1):
        give = min(_TOUCH, max((high[axis] - low[axis] - 1) // 2, 0))
        low[axis], high[axis] = low[axis] + give, high[axis] - give
    return (low[0], low[1], low[2], high[0], high[1], high[2])


def _count(sums: Counts, spans: list[tuple[Ints, Ints]]) -> Counts:
    """Return (x, y, z), how many set cells lie in the box of each place."""
    for axis, (first, last) in enumerate(spans):
        sums = np.take(sums, last, axis=axis) - np.take(sums, first, axis=axis)
    return sums


def _of_rows(sums: Counts, rows: Ints) -> Ints:
    """Return (n,), how many set cells lie in the box of each row of first and last cells."""
    found = np.zeros(len(rows), dtype=np.int64)
    for number in range(8):
        ends = [(number >> axis) & 1 for axis in range(3)]
        sign = -1 if sum(ends) % 2 == 0 else 1
        found += sign * sums[rows[:, ends[0]], rows[:, 2 + ends[1]], rows[:, 4 + ends[2]]]
    return found
