"""Additions that reach across or down: a plate over two stacks, and a plate that hangs from the roof.

* bridge: a plate under the part whose two ends lie on stacks, or on studs of the body; what stands under its
  middle stays where it is, and the two ends may stand on studs of different heights;
* hanger: under a roof that does not lift off a stack hangs from two of its undersides beside the part, and
  a plate below that reaches under the part.

What hangs must not be levered off: it turns about the edge of its foot that is away from the part, and the
pull straight down asks for no more than that. All lengths are in tenths of a millimetre.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import hull_in_tenths
from fitplan.lattice.cover import TENTHS
from fitplan.model.vehicle import Vehicle
from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.addition_shapes import (
    CELL,
    FEET,
    KNOB,
    LAYER,
    Arms,
    Candidate,
    Cells,
    UnsupportedPart,
    bears_push,
    levers,
    piece,
    stack,
)
from fitplan.packing.vehicle.support import height_of_middle, middle_of

Rect = tuple[int, int, int, int]
Levels = NDArray[np.int64]
Mask = NDArray[np.bool_]
Columns = list[list[tuple[int, int]]]


def bridges(
    storeys: Sequence[Levels], ceilings: Sequence[Levels], part: UnsupportedPart, arms: Arms
) -> Iterator[Candidate]:
    """Yield plates under a part that lie on something at both ends."""
    center, middle = middle_of(part.boxes), height_of_middle(part.boxes)
    if not storeys:
        return
    columns = _columns(storeys, ceilings)
    known = {int(level) for studs in storeys for level in np.unique(studs) if level >= 0}
    for bottom, reaching in arms:
        tops = tuple(_tops(bottom, known))
        for arm, touch in reaching:
            for axis in (0, 1):
                if arm[axis + 2] - arm[axis] < 3:
                    continue
                first, last = ends_of(arm, axis)
                for top in tops:
                    under = [tuple(_levels(columns, foot, top - LAYER)) for foot in (first, last)]
                    for one in under[0]:
                        for other in under[1]:
                            pieces = (
                                *stack(first, one, top - LAYER),
                                piece(arm, "plate", top - LAYER, top),
                                *reversed(stack(last, other, top - LAYER)),
                            )
                            steady = touch[0] <= center[0] <= touch[2] and touch[1] <= center[1] <= touch[3]
                            wide = arm[3 - axis] - arm[1 - axis]
                            feet = ((first, wide), (last, wide))
                            bear = bears_push(part.push_n, middle - min(one, other), feet)
                            between = _over(touch, top, bottom)
                            yield Candidate("bridge", pieces, between, 2 * wide, steady, touch, bears=bear)


def hangers(undersides: Sequence[tuple[int, Mask]], part: UnsupportedPart, arms: Arms) -> Iterator[Candidate]:
    """Yield stacks that hang from the roof beside a part, with a plate below that reaches under it.

    Parameters
    ----------
    undersides
        By `roof_undersides`.
    """
    center, middle = middle_of(part.boxes), height_of_middle(part.boxes)
    high = max(box[5] for box in part.boxes)
    over = [(level, Cells(cells)) for level, cells in undersides if level >= high]
    for bottom, reaching in arms if over else ():
        for arm, touch in reaching:
            above = [(level, cells) for level, cells in over if cells.any(arm)]
            steady = touch[0] <= center[0] <= touch[2] and touch[1] <= center[1] <= touch[3]
            for foot in _feet(arm, touch) if above else ():
                for level, cells in above:
                    if not cells.all(foot):
                        continue
                    if not levers(part.mass_g, foot, center, hung=True):
                        continue
                    studs = (foot[2] - foot[0]) * (foot[3] - foot[1])
                    bear = bears_push(part.push_n, level - middle, ((foot, studs),))
                    for top in _tops(bottom, {level}):
                        pieces = (piece(arm, "plate", top - LAYER, top), *stack(foot, top, level))
                        between = _over(touch, top, bottom)
                        yield Candidate("hanger", pieces, between, studs, steady, touch, bears=bear)


def roof_undersides(vehicle: Vehicle, obstacles: NDArray[np.int64]) -> tuple[tuple[int, Mask], ...]:
    """Return the levels of undersides that something may hang from, each with its cells, (long, wide) bool.

    Bricks lie whole plates above the body's underside, and what lifts off holds nothing for good.
    """
    base = hull_in_tenths(vehicle)[2]
    lids = [[round(edge * TENTHS) for edge in (*lid.box.low, *lid.box.high)] for lid in vehicle.openings]
    rows = obstacles.tolist()
    found: dict[int, Mask] = {}
    for x0, y0, z, x1, y1, top in rows:
        if z == base or (z - base) % LAYER or top - z < LAYER:
            continue
        for i in range(-(-x0 // CELL), x1 // CELL):
            for j in range(-(-y0 // CELL), y1 // CELL):
                cell = (i * CELL, j * CELL, z, (i + 1) * CELL, (j + 1) * CELL, z + LAYER)
                under = (*cell[:2], z - LAYER, *cell[3:5], z)
                if not any(_overlap(cell, lid) for lid in lids) and not any(
                    _overlap(under, row) for row in rows
                ):
                    found.setdefault(z, np.zeros((vehicle.studs_long, vehicle.studs_wide), dtype=np.bool_))
                    found[z][i, j] = True
    return tuple(sorted(found.items()))


def _overlap(one: Sequence[int], other: Sequence[int]) -> bool:
    return all(one[k] < other[k + 3] and other[k] < one[k + 3] for k in range(3))


def _tops(bottom: int, levels: Iterable[int]) -> Iterator[int]:
    """Yield tops of plates, whole plates from one of the levels, that leave less than a plate to a part."""
    yield from sorted({bottom - KNOB - (bottom - KNOB - level) % LAYER for level in levels})


def _over(touch: Rect, top: int, bottom: int) -> tuple[tuple[str, IntBox], ...]:
    rest = top + KNOB
    studs: tuple[str, IntBox] = ("studs", (touch[0], touch[1], top, touch[2], touch[3], rest))
    pad: tuple[str, IntBox] = ("pad", (touch[0], touch[1], rest, touch[2], touch[3], bottom))
    return (studs, pad) if rest < bottom else (studs,)


def ends_of(arm: Rect, axis: int) -> tuple[Rect, Rect]:
    """Return the cells at either end of an arm, one stud deep along an axis."""
    i0, j0, i1, j1 = arm
    if axis == 0:
        return (i0, j0, i0 + 1, j1), (i1 - 1, j0, i1, j1)
    return (i0, j0, i1, j0 + 1), (i0, j1 - 1, i1, j1)


def _columns(storeys: Sequence[Levels], ceilings: Sequence[Levels]) -> list[Columns]:
    return [
        np.stack([studs, ceiling], axis=-1).tolist() for studs, ceiling in zip(storeys, ceilings, strict=True)
    ]


def _levels(columns: Sequence[Columns], foot: Rect, top: int) -> Iterator[int]:
    """Yield the levels that studs under all of a foot stand on, from where a stack goes up to a height.

    Parameters
    ----------
    columns
        By storey and cell: the level that its stud stands on, and how far up it is free above.
    """
    for rows in columns:
        level = rows[foot[0]][foot[1]][0]
        if level < 0 or level > top or (top - level) % LAYER:
            continue
        cells = (cell for row in rows[foot[0] : foot[2]] for cell in row[foot[1] : foot[3]])
        if all(other == level and free >= top for other, free in cells):
            yield level


def _feet(arm: Rect, touch: Rect) -> Iterator[Rect]:
    """Yield cells of an arm beside what it touches, two to four, where a stack may hang."""
    i0, j0, i1, j1 = arm
    for m, n in FEET:
        for i in range(i0, i1 - m + 1):
            for j in range(j0, j1 - n + 1):
                foot = (i, j, i + m, j + n)
                low, high = (foot[0] * CELL, foot[1] * CELL), (foot[2] * CELL, foot[3] * CELL)
                if any(low[k] >= touch[k + 2] or high[k] <= touch[k] for k in (0, 1)):
                    yield foot
