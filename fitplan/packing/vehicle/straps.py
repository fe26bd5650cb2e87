"""A strap of plates over a part: two stacks beside it and a plate across, which hold it down and between.

Every plate of a common size that reaches from studs on one side of the part to studs on the other is looked
at; its underside lies less than a plate above the part. The one with the fewest pieces is taken, then the one
of the fewest studs. All lengths are in tenths of a millimetre; sizes are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fitplan.model.placed import Piece, Placement
from fitplan.model.vehicle import Vehicle
from fitplan.packing.access.disassembly import part_rows
from fitplan.packing.access.slide import Rows
from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.addition_shapes import CELL, LAYER, in_mm, piece, rectangles, stack
from fitplan.packing.vehicle.additions import bricks_stand_free, stud_levels
from fitplan.packing.vehicle.reaching_additions import ends_of

Pieces = tuple[tuple[str, IntBox], ...]
_LEAST_ACROSS = CELL // 2
"""A plate lies over at least so much of the part, and its stacks face as much of its sides."""


def strap(
    vehicle: Vehicle, removed: frozenset[str], placement: Placement, around: Rows
) -> tuple[tuple[Piece, ...], int] | None:
    """Return the cheapest strap over a part, its stacks and last its plate, and the axis that it runs along.

    Parameters
    ----------
    around
        What it may not run into besides body and part: other parts, wires, ways out (tenths).
    """
    rows = part_rows(placement)
    solid = np.concatenate([rows, around])
    for _, _, pieces, axis in sorted(_straps(vehicle, removed, rows), key=lambda one: one[:3]):
        if bricks_stand_free(vehicle, removed, [box for _, box in pieces], solid):
            return tuple(Piece(name, in_mm(box)) for name, box in pieces), axis
    return None


def _straps(vehicle: Vehicle, removed: frozenset[str], rows: Rows) -> Iterator[tuple[int, int, Pieces, int]]:
    """Yield the number of pieces, of studs, the pieces, and the axis of every strap that would do."""
    high = int(rows[:, 5].max())
    tops = [_as_box(row) for row in rows.tolist() if row[5] == high]
    low, far = rows[:, :2].min(axis=0).tolist(), rows[:, 3:5].max(axis=0).tolist()
    for studs in stud_levels(vehicle, removed):
        for arm in rectangles(studs.shape, tops):
            for axis in (0, 1):
                across = 1 - axis
                if arm[axis + 2] - arm[axis] < 3 or arm[across + 2] - arm[across] > 2:
                    continue
                first, last = ends_of(arm, axis)
                beside = first[axis + 2] * CELL <= low[axis] and last[axis] * CELL >= far[axis]
                shared = min(arm[across + 2] * CELL, far[across]) - max(arm[across] * CELL, low[across])
                if not beside or shared < _LEAST_ACROSS:
                    continue
                levels = [studs[foot[0] : foot[2], foot[1] : foot[3]] for foot in (first, last)]
                one, other = (int(cells[0, 0]) for cells in levels)
                if min(one, other) < 0 or any((cells != cells[0, 0]).any() for cells in levels):
                    continue
                under = high + (one - high) % LAYER
                if (under - other) % LAYER or under < max(one, other):
                    continue
                pieces = (
                    *stack(first, one, under),
                    *stack(last, other, under),
                    piece(arm, "plate", under, under + LAYER),
                )
                yield len(pieces), (arm[2] - arm[0]) * (arm[3] - arm[1]), pieces, axis


def _as_box(row: list[int]) -> IntBox:
    return (row[0], row[1], row[2], row[3], row[4], row[5])
