"""The fewest bricks round a window that must go, so that a part which is too large for it looks out of it.

Asked of a body that layer drawings tell, on its grid of studs and plates. A place of the part asks for all
cells that it overlaps, that it keeps clear, and that lie ahead of its lens right through the wall. Of places
with nothing of the grid between them the one that touches it asks for the least, so these are looked at, all
of them, from those that ask for the least on; the play of bricks is given to them. The packer then says of
the body without these cells whether the part really goes in, and beside what else: the first set that it says
*fits* of is proposed. It is the least when no set before it was refuted or left open; a set that was refuted
may yet lie in a larger one that no place here asks for, so it counts as one stud and plate more.

Over the gap lies a plate that reaches a stud farther on both sides, where there is a brick to rest on.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import hull_in_tenths, part_boxes
from fitplan.lattice.counting import sums_below
from fitplan.lattice.cover import TENTHS, solid_in_tenths
from fitplan.model.solids import ORIGIN, Box, Place, Pose, axis_of, is_forward
from fitplan.model.vehicle import Vehicle, Window
from fitplan.model.wider_window import WiderWindow
from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.addition_shapes import in_tenths
from fitplan.packing.vehicle.body_support import left_hanging
from fitplan.packing.vehicle.hidden_beam import hidden_share
from fitplan.packing.vehicle.middles import held_in_the_middle
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packing import Packing
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
    without_bricks,
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
_SHUT = 1e-3
Ints = NDArray[np.int64]
Counts = NDArray[np.int32]


@dataclass(frozen=True, order=True)
class _Cut:
    """Cells that must go for some places of a part; ``order`` sorts from the least up."""

    bricks: int
    removables: int
    off_middle: int
    cells: tuple[Cell, ...]
    outline: tuple[Cell, Cell]


def wider_window(
    packer: Packer, name: str, wanted: Wanted, beside: Sequence[Wanted] = ()
) -> WiderWindow | None:
    """Return the least widening of the window that a part wants to look out of; None where none is found.

    Parameters
    ----------
    packer
        Of the train as it is drawn.
    beside
        What else is to lie in the vehicle.
    """
    vehicle = packer.vehicle(name)
    window = next((one for one in vehicle.windows if (name, one.name) == wanted.need.looks), None)
    cells = StudCells.of(vehicle)
    if window is None or cells is None or axis_of(window.out) == 2:
        return None
    found: set[_Cut] = set()
    for pose in wanted.part.mount.allowed_poses():
        if pose.turn_direction(wanted.part.mount.looks or "+x") == window.out:
            found.update(_WindowPlaces(vehicle, cells, window, wanted, pose).cuts())
    least: int | None = None
    for cut in sorted(found)[:MOST_ASKED]:
        changed, removed = _changed(vehicle, cells, window, cut)
        if _stays_shut(vehicle, _outline(cells, window, cut)):
            least = cut.bricks if least is None else min(least, cut.bricks)
            continue
        alone = Packer({name: changed}).pack_as_it_is(name, (wanted,), removed)
        if alone.verdict == "fits":
            least = cut.bricks if least is None else min(least, cut.bricks)
            return _proposal(vehicle, cells, window, wanted, cut, changed, removed, alone, beside, least)
        sure = cut.bricks + int(alone.verdict == "cannot fit")
        least = sure if least is None else min(least, sure)
    return None


def _proposal(
    vehicle: Vehicle,
    cells: StudCells,
    window: Window,
    wanted: Wanted,
    cut: _Cut,
    changed: Vehicle,
    removed: frozenset[str],
    alone: Packing,
    beside: Sequence[Wanted],
    least: int,
) -> WiderWindow:
    name = alone.vehicle
    together = Packer({name: changed}).pack_as_it_is(name, (wanted, *beside), removed) if beside else alone
    packing = together if together.verdict == "fits" else alone
    packing = _in_the_middle(changed, wanted, beside if packing is together else (), removed, packing)
    place = next(one.place for one in packing.placements if one.need == wanted.need.name)
    gone = frozenset(cell for cell in cut.cells if cells.kinds[cell] == BRICK)
    plates, one_sided = _plates(cells, frozenset(cut.cells))
    return WiderWindow(
        need=wanted.need.name,
        part_id=wanted.part.id,
        vehicle=name,
        window=window.name,
        outline=_outline(cells, window, cut),
        out=cells.boxes(gone),
        remove=tuple(sorted(removed)),
        size=cut.bricks,
        least=least,
        plates=plates,
        rests_on_one_side=one_sided,
        carried=left_hanging(vehicle, changed, removed).text,
        place=place,
        alone=bool(beside) and together.verdict != "fits",
        hidden_before=round(hidden_share(vehicle, frozenset(), wanted, window, place), 4),
        hidden_after=round(hidden_share(changed, removed, wanted, window, place), 4),
    )


def _in_the_middle(
    changed: Vehicle,
    wanted: Wanted,
    beside: Sequence[Wanted],
    removed: frozenset[str],
    packing: Packing,
) -> Packing:
    """Return the parts packed with the ranger in the middle of the widened window, where that goes."""
    place = next(one for one in packing.placements if one.need == wanted.need.name)
    held = held_in_the_middle(wanted, changed, place, 0.0)
    if held is None:
        return packing
    name = packing.vehicle
    found = Packer({name: changed}).pack_as_it_is(name, (held, *beside), removed, proofs=False)
    return found if found.verdict == "fits" else packing


def _changed(vehicle: Vehicle, cells: StudCells, window: Window, cut: _Cut) -> tuple[Vehicle, frozenset[str]]:
    """Return the vehicle without the cells, its window as wide as that makes it, and what is taken out."""
    gone = frozenset(cell for cell in cut.cells if cells.kinds[cell] == BRICK)
    removed = frozenset(str(cells.names[cell]) for cell in cut.cells if cells.kinds[cell] == REMOVABLE)
    wide = replace(window, box=_outline(cells, window, cut))
    windows = tuple(wide if one is window else one for one in vehicle.windows)
    return replace(without_bricks(vehicle, cells.boxes(gone)), windows=windows), removed


def _outline(cells: StudCells, window: Window, cut: _Cut) -> Box:
    """Return the widened window: as wide as its cells, as thick as it was."""
    box = cells.box(*cut.outline)
    low, high = list(box.low), list(box.high)
    along = axis_of(window.out)
    low[along], high[along] = window.box.low[along], window.box.high[along]
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def _stays_shut(vehicle: Vehicle, outline: Box) -> bool:
    """Return whether a pane or something built in stands in a window, which no brick of the layers is."""
    stuck = [entry.solid for entry in drawn_in(vehicle) if entry.state == "fixed"]
    stuck += [solid for built in vehicle.built_in for solid in built.solids]
    return any(
        all(box.low[i] < outline.high[i] - _SHUT and box.high[i] > outline.low[i] + _SHUT for i in range(3))
        for box in (solid.bounds for solid in stuck)
    )


class _WindowPlaces:
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

    def cuts(self) -> Iterator[_Cut]:
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

    def _least(self, places: Ints, ranges: list[list[tuple[Ints, Ints]]]) -> Iterator[_Cut]:
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
        asked = _AskedCells(self._cells)
        known: dict[bytes, _Cut] = {}
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

    def _cut(self, cells: tuple[Cell, ...], row: Ints, off_middle: int) -> _Cut:
        bricks = sum(int(self._cells.kinds[cell] == BRICK) for cell in cells)
        x0, x1, y0, y1, z0, z1 = row[-6:].tolist()
        return _Cut(bricks, len(cells) - bricks, off_middle, cells, ((x0, y0, z0), (x1, y1, z1)))

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
    """Which bricks lie in any of several boxes, for many rows of boxes at once."""

    def __init__(self, cells: StudCells) -> None:
        self._at = np.argwhere(np.isin(cells.kinds, (BRICK, REMOVABLE)))

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


def _plates(cells: StudCells, gone: frozenset[Cell]) -> tuple[tuple[Box, ...], bool]:
    """Return the plates over a gap, and whether one of them, or what lies there, rests on one side only."""
    long, wide, high = cells.kinds.shape

    def bears(i: int, j: int, k: int) -> bool:
        inside = 0 <= i < long and 0 <= j < wide and 0 <= k < high
        return inside and (i, j, k) not in gone and cells.kinds[i, j, k] in (BRICK, REMOVABLE, HARD)

    plates: list[Box] = []
    one_sided = False
    for i, k in sorted({(i, k) for i, j, k in gone if bears(i, j, k + 1)}):
        # The whole gap in this row, with what was open before; what goes is somewhere in it.
        row = [j for j in range(wide) if not bears(i, j, k) and bears(i, j, k + 1)]
        for first, last in _runs(row):
            if not any((i, j, k) in gone for j in range(first, last + 1)):
                continue
            left, right = bears(i, first - 1, k), bears(i, last + 1, k)
            one_sided |= not (left and right)
            if left or right:
                low, high_ = first - int(left), last + 1 + int(right)
                plates.append(cells.box((i, low, k + 1), (i + 1, high_, k + 2)))
    return tuple(plates), one_sided


def _runs(numbers: list[int]) -> Iterator[tuple[int, int]]:
    """Yield first and last of each unbroken run of ascending numbers."""
    start = 0
    for end in range(1, len(numbers) + 1):
        if end == len(numbers) or numbers[end] != numbers[end - 1] + 1:
            yield numbers[start], numbers[end - 1]
            start = end


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
