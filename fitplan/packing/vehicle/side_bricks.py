"""Bricks on studs beside a part that keep it from sliding: for each way the fewest, and the closest of those.

A stack of up to three bricks (against toppling up to six), one or two studs along the part and one or two
deep, stands on the body's studs no further from the part's side than a stud, and faces it over half a stud
and a plate at least. It runs into nothing that is there and into no way by which something comes out. One
stack holds one way; every stud is looked at. Its studs hold what the part weighs at 1 g sideways and the pull
of a lead, as a lever about the far edge (`STUD_HOLDS_N`). All lengths are in tenths of a millimetre; sizes
are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fitplan.lattice.cover import TENTHS
from fitplan.model.facts import STUD_HOLDS_N, sideways_n
from fitplan.model.placed import Piece, Placement
from fitplan.model.solids import Direction, axis_of, is_forward
from fitplan.model.vehicle import Vehicle
from fitplan.packing.access.disassembly import part_rows
from fitplan.packing.access.slide import Rows
from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.addition_shapes import CELL, LAYER, in_mm
from fitplan.packing.vehicle.additions import bricks_stand_free, stud_levels

_TALL = 3 * LAYER
_MOST_BRICKS = 3
_HIGHEST = 6
"""Against toppling a stack is no higher."""
MOST_GAP = CELL
"""No further from a part stands what holds it."""
LEAST_ACROSS = CELL // 2
LEAST_UP = LAYER
"""So much of a part's side it faces, and over so much of a part lies the plate of a strap."""


def side_bricks(
    vehicle: Vehicle, removed: frozenset[str], placement: Placement, way: Direction, around: Rows
) -> tuple[Piece, ...]:
    """Return the stack that keeps a part from sliding one way, from below; empty where no stud takes one."""
    return next(stacks_beside(vehicle, removed, placement, way, around), ())


def stacks_beside(
    vehicle: Vehicle,
    removed: frozenset[str],
    placement: Placement,
    way: Direction,
    around: Rows,
    least_top: int = 0,
) -> Iterator[tuple[Piece, ...]]:
    """Yield stacks that keep a part from sliding one way, the fewest bricks first, each from below.

    Parameters
    ----------
    around
        What they may not run into besides body and part: other parts, wires, ways out (tenths).
    least_top
        So high above the rail head they must reach, in tenths, to keep a part from toppling.
    """
    rows = part_rows(placement)
    own, solid = rows.tolist(), np.concatenate([rows, around])
    push = sideways_n(placement.part)
    for stack in sorted(_stacks(vehicle, removed, own, way, least_top)):
        if stack.holds(push) and bricks_stand_free(vehicle, removed, list(stack.boxes), solid):
            short, long = sorted((stack.long, stack.deep))
            yield tuple(Piece(f"brick {short} × {long}", in_mm(box)) for box in stack.boxes)


@dataclass(frozen=True, order=True)
class _Stack:
    """Bricks on top of each other; sorted by their number, depth, how far the part may slide, and length."""

    count: int
    deep: int
    gap: int
    short: int
    lever: float
    """How far above its studs the part pushes (mm)."""
    boxes: tuple[IntBox, ...]

    @property
    def long(self) -> int:
        return -self.short

    def holds(self, push_n: float) -> bool:
        """Return whether its studs hold a push: straight, and as a lever about the far edge."""
        studs = self.long * self.deep * STUD_HOLDS_N
        return push_n <= studs and push_n * self.lever <= studs * self.deep * CELL / 2 / TENTHS


def _stacks(
    vehicle: Vehicle,
    removed: frozenset[str],
    own: Sequence[Sequence[int]],
    way: Direction,
    least_top: int = 0,
) -> Iterator[_Stack]:
    """Yield the lowest stack on each stud, or pair of studs, that would hold the part."""
    axis, forwards = axis_of(way), is_forward(way)
    across = 1 - axis
    for studs in stud_levels(vehicle, removed):
        for x, y in np.argwhere(studs >= 0).tolist():
            level = int(studs[x, y])
            for long, deep in ((2, 1), (1, 1), (2, 2), (1, 2)):
                size = [deep, deep]
                size[across] = long
                cells = studs[x : x + size[0], y : y + size[1]]
                if cells.shape != (size[0], size[1]) or (cells != level).any():
                    continue
                most = _MOST_BRICKS if least_top <= level else -(-(least_top - level) // _TALL)
                if most > _HIGHEST:
                    continue
                edges = (x * CELL, y * CELL), ((x + size[0]) * CELL, (y + size[1]) * CELL)
                boxes = tuple(
                    (*edges[0], level + number * _TALL, *edges[1], level + (number + 1) * _TALL)
                    for number in range(max(most, _MOST_BRICKS))
                )
                for count in range(1, len(boxes) + 1):
                    if boxes[count - 1][5] < least_top:
                        continue
                    met = _gap(own, (*boxes[0][:3], *boxes[count - 1][3:]), axis, forwards)
                    if met is not None:
                        yield _Stack(count, deep, met[0], -long, met[1] / TENTHS, boxes[:count])
                        break


def _gap(own: Sequence[Sequence[int]], box: IntBox, axis: int, forwards: bool) -> tuple[int, float] | None:
    """Return how far the part may slide until it meets bricks, and how high above their studs it pushes.

    None where it does not meet them rightly.
    """
    across = 1 - axis
    gaps = []
    for row in own:
        shared = min(row[across + 3], box[across + 3]) - max(row[across], box[across])
        up = min(row[5], box[5]) - max(row[2], box[2])
        gap = box[axis] - row[axis + 3] if forwards else row[axis] - box[axis + 3]
        if shared >= LEAST_ACROSS and up >= LEAST_UP and gap >= 0:
            middle = (min(row[5], box[5]) + max(row[2], box[2])) / 2 - box[2]
            gaps.append((gap, middle))
    return min(gaps) if gaps and min(gaps)[0] <= MOST_GAP else None
