"""A strap of plates over a part: a plate across it on stacks beside it, which hold it down and between.

Every plate of a common size that reaches from studs on one side of the part to studs on the other is looked
at; its underside lies less than a plate above the part. The one with the fewest pieces is taken, then the one
of the fewest studs. Where none has room, a plate from a stack on one side alone, one or two studs deep, that
reaches past the part's middle. What lifts it, the part's weight upside down and the pull of a lead, is held
by its studs (`STUD_HOLDS_N`): shared out between two stacks; of one stack as a lever about its far edge. All
lengths are in tenths of a millimetre; sizes are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass

import numpy as np

from fitplan.model.facts import STUD_HOLDS_N, sideways_n
from fitplan.model.placed import Piece, Placement
from fitplan.model.solids import Direction
from fitplan.model.vehicle import Vehicle
from fitplan.packing.access.disassembly import part_rows
from fitplan.packing.access.slide import Rows
from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.addition_shapes import (
    CELL,
    LAYER,
    box_of,
    in_mm,
    piece,
    rect_of,
    rectangles,
    stack,
)
from fitplan.packing.vehicle.additions import bricks_stand_free, stud_levels
from fitplan.packing.vehicle.lowering import SUPPORT_GAP
from fitplan.packing.vehicle.reaching_additions import ends_of
from fitplan.packing.vehicle.side_bricks import LEAST_ACROSS, LEAST_UP, MOST_GAP
from fitplan.packing.vehicle.support import FIRMLY, LEAST_EDGE, Rect, middle_of

Pieces = tuple[tuple[str, IntBox], ...]
_DEEPEST = 2
"""A strap from one side stands on so many studs along it at the most."""


@dataclass(frozen=True, order=True)
class Strap:
    """A strap that would do: how many stacks are missing to two, how many pieces and studs it has."""

    missing: int
    count: int
    studs: int
    pieces: Pieces
    axis: int
    """Along which it runs."""
    lifts_n: float
    """What would lift it off its studs, at the part's middle."""
    feet: tuple[Rect, ...]
    """The cells that it stands on."""
    over: tuple[Rect, ...]
    """Where it lies over the highest faces of the part."""

    @property
    def under(self) -> int:
        """Height of the plate's underside."""
        return self.pieces[-1][1][2]


def straps(
    vehicle: Vehicle,
    removed: frozenset[str],
    placement: Placement,
    around: Rows,
    wanted: Collection[Direction] = (),
    presses: Callable[[Strap], bool] | None = None,
) -> Iterator[tuple[tuple[Piece, ...], tuple[Direction, ...]]]:
    """Yield straps over a part, the cheapest first: stacks, last the plate, and the ways in which it holds.

    Where it must press the part down, a pad fills the gap to it.

    Parameters
    ----------
    around
        What it may not run into besides body and part: other parts, wires, ways out (tenths).
    wanted
        Level ways of which it must hold one; none: it need only hold the part down.
    presses
        Whether a strap keeps a part from tipping that rests on one side only; None where it stands.
    """
    rows = part_rows(placement)
    solid, push = np.concatenate([rows, around]), sideways_n(placement.part)
    for one in sorted(straps_over(vehicle, removed, rows)):
        if push > one.lifts_n:
            continue
        ways = _ways(one, rows)
        if wanted and not set(ways) & set(wanted):
            continue
        if presses is not None and not presses(one):
            continue
        pads = pad_of(one, int(rows[:, 5].max())) if presses is not None else ()
        pieces = (*one.pieces[:-1], *pads, one.pieces[-1])
        if bricks_stand_free(vehicle, removed, [box for _, box in pieces], solid):
            yield tuple(Piece(name, in_mm(box)) for name, box in pieces), (*ways, "+z")


def pad_of(one: Strap, high: int) -> Pieces:
    """Return the pad between the highest faces of a part and a strap that presses it down, if any."""
    if one.under - high <= SUPPORT_GAP:
        return ()
    x0, y0 = (min(rect[k] for rect in one.over) for k in (0, 1))
    x1, y1 = (max(rect[k] for rect in one.over) for k in (2, 3))
    return (("pad", (x0, y0, high, x1, y1, one.under)),)


def _ways(one: Strap, rows: Rows) -> tuple[Direction, ...]:
    """Return the level ways in which a stack of a strap faces a box of a part, a stud away at the most."""
    axis, across = one.axis, 1 - one.axis
    columns: dict[tuple[int, ...], list[int]] = {}
    for _, box in one.pieces[:-1]:
        columns.setdefault((*box[:2], *box[3:5]), []).extend((box[2], box[5]))
    ways: tuple[Direction, Direction] = ("-x", "+x") if axis == 0 else ("-y", "+y")
    found = set()
    for column, levels in columns.items():
        first = np.maximum(rows[:, across], column[across])
        last = np.minimum(rows[:, across + 3], column[across + 2])
        upwards = np.minimum(rows[:, 5], max(levels)) - np.maximum(rows[:, 2], min(levels))
        faced = (last - first >= LEAST_ACROSS) & (upwards >= LEAST_UP)
        gaps = rows[:, axis] - column[axis + 2], column[axis] - rows[:, axis + 3]
        found |= {
            way for way, gap in zip(ways, gaps, strict=True) if np.any(faced & (gap >= 0) & (gap <= MOST_GAP))
        }
    return tuple(way for way in ways if way in found)


def straps_over(vehicle: Vehicle, removed: frozenset[str], rows: Rows) -> Iterator[Strap]:
    """Yield every strap over a part, whatever it runs into and whatever lifts it.

    Parameters
    ----------
    rows
        The part's boxes (tenths).
    """
    boxes = [box_of(row) for row in rows.tolist()]
    high = max(box[5] for box in boxes)
    tops, middle = [box for box in boxes if box[5] == high], middle_of(boxes)
    low, far = rows[:, :2].min(axis=0).tolist(), rows[:, 3:5].max(axis=0).tolist()
    for studs in stud_levels(vehicle, removed):
        for arm in map(rect_of, rectangles(studs.shape, tops).tolist()):
            for axis in (0, 1):
                across = 1 - axis
                shared = min(arm[across + 2] * CELL, far[across]) - max(arm[across] * CELL, low[across])
                wide = arm[across + 2] - arm[across]
                if shared < LEAST_ACROSS or wide > 2 or arm[axis + 2] - arm[axis] < 2:
                    continue
                first, last = ends_of(arm, axis)
                if first[axis + 2] * CELL <= low[axis] and last[axis] * CELL >= far[axis]:
                    ends = [(foot, level) for foot in (first, last) for level in _level(studs, foot)]
                    if len(ends) == 2:
                        yield from _strap(arm, axis, ends, tops, middle)
                for at_first in (True, False):
                    edge = arm[axis + 2] if at_first else arm[axis]
                    reach = edge * CELL - middle[axis]
                    if (reach if at_first else -reach) < FIRMLY:
                        continue
                    for deep in range(1, min(_DEEPEST, arm[axis + 2] - arm[axis] - 1) + 1):
                        foot = _end(arm, axis, deep, at_first=at_first)
                        if foot[axis + 2] * CELL <= low[axis] if at_first else foot[axis] * CELL >= far[axis]:
                            for level in _level(studs, foot):
                                yield from _strap(arm, axis, [(foot, level)], tops, middle)


def _end(arm: Rect, axis: int, deep: int, *, at_first: bool) -> Rect:
    edges = list(arm)
    edges[axis + 2 if at_first else axis] = arm[axis] + deep if at_first else arm[axis + 2] - deep
    return (edges[0], edges[1], edges[2], edges[3])


def _level(studs: Rows, foot: Rect) -> Iterator[int]:
    """Yield the level that all of a foot's studs stand on, if they do."""
    cells = studs[foot[0] : foot[2], foot[1] : foot[3]]
    if cells[0, 0] >= 0 and (cells == cells[0, 0]).all():
        yield int(cells[0, 0])


def _strap(
    arm: Rect, axis: int, ends: list[tuple[Rect, int]], tops: list[IntBox], middle: tuple[float, float]
) -> Iterator[Strap]:
    """Yield a plate on its stacks, if these end at one height less than a plate above the part."""
    high = tops[0][5]
    under = high + (ends[0][1] - high) % LAYER
    if any((under - level) % LAYER or under < level for _, level in ends):
        return
    stacks = [one for foot, level in ends for one in stack(foot, level, under)]
    pieces = (*stacks, piece(arm, "plate", under, under + LAYER))
    feet = [foot for foot, _ in ends]
    area = (arm[2] - arm[0]) * (arm[3] - arm[1])
    lifts = _lifts_n(feet, axis, middle[axis])
    over = tuple(_shared(arm, box) for box in tops)
    met = tuple(rect for rect in over if min(rect[2] - rect[0], rect[3] - rect[1]) >= LEAST_EDGE)
    yield Strap(2 - len(ends), len(pieces), area, pieces, axis, lifts, tuple(feet), met)


def _shared(arm: Rect, box: IntBox) -> Rect:
    """Return what an arm, in cells, and a box have in common from above (tenths)."""
    low = [max(arm[k] * CELL, box[k]) for k in (0, 1)]
    high = [min(arm[k + 2] * CELL, box[k + 3]) for k in (0, 1)]
    return (low[0], low[1], high[0], high[1])


def _lifts_n(feet: list[Rect], axis: int, middle: float) -> float:
    """Return what pulls one of the feet off its studs, applied at the part's middle along the strap."""
    holds = [(foot[2] - foot[0]) * (foot[3] - foot[1]) * STUD_HOLDS_N for foot in feet]
    at = [(foot[axis] + foot[axis + 2]) * CELL / 2 for foot in feet]
    if len(feet) == 2:
        span, away = at[1] - at[0], middle - at[0]
        return min(holds[0] * span / (span - away), holds[1] * span / away)
    half = (feet[0][axis + 2] - feet[0][axis]) * CELL / 2
    return holds[0] * half / (abs(middle - at[0]) + half)
