"""A tile on the side of a brick that a part lies against, with tape: the brick stands on a stack of one stud.

What lies against it is flat, as of what is round tape holds a line. Nothing heavy hangs on glue, and the one
stud under the stack bears the part beside it as a lever. All lengths are in tenths of a millimetre; sizes are
common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fitplan.packing.vehicle.addition_shapes import (
    CELL,
    CLIP_MOST_G,
    LAYER,
    LEAST_HELD,
    SEAT,
    Candidate,
    UnsupportedPart,
    bears_push,
    box_of,
    levers,
    piece,
    stack,
)
from fitplan.packing.vehicle.support import height_of_middle, middle_of


def clips(studs: NDArray[np.int64], part: UnsupportedPart, ceiling: NDArray[np.int64]) -> Iterator[Candidate]:
    """Yield columns with a tile on a side stud that the part lies against.

    Parameters
    ----------
    studs
        (long, wide) int64, the level that each cell's stud stands on; −1 where there is none.
    ceiling
        (long, wide) int64, how far up it is free above each stud.
    """
    if part.mass_g > CLIP_MOST_G:
        return
    long, wide = studs.shape
    center, middle = middle_of(part.boxes), height_of_middle(part.boxes)
    low = [min(box[i] for box in part.boxes) for i in range(3)]
    high = [max(box[i + 3] for box in part.boxes) for i in range(3)]
    reach = 2 * LAYER
    for i in range(max((low[0] - reach) // CELL - 1, 0), min(-(-(high[0] + reach) // CELL) + 1, long)):
        for j in range(max((low[1] - reach) // CELL - 1, 0), min(-(-(high[1] + reach) // CELL) + 1, wide)):
            level, cell = int(studs[i, j]), (i, j, i + 1, j + 1)
            # The column turns over its edge before the tile comes off its side stud, which is nearer.
            if level < 0 or not levers(part.mass_g, cell, center):
                continue
            bear = bears_push(part.push_n, middle - level, ((cell, 1),))
            for base in range(level, int(ceiling[i, j]) - 3 * LAYER + 1, LAYER):
                for candidate in _sides(part, cell, level, base):
                    yield replace(candidate, bears=bear)


def _sides(
    part: UnsupportedPart, cell: tuple[int, int, int, int], level: int, base: int
) -> Iterator[Candidate]:
    x0, y0, x1, y1 = (value * CELL for value in cell)
    z0 = base + SEAT
    for axis, forwards in ((0, True), (0, False), (1, True), (1, False)):
        tile = [x0, y0, z0, x1, y1, z0 + CELL]
        tile[axis], tile[axis + 3] = (
            (tile[axis + 3], tile[axis + 3] + LAYER) if forwards else (tile[axis] - LAYER, tile[axis])
        )
        face = tile[axis + 3] if forwards else tile[axis]
        for box in part.flat[axis] if part.flat else part.boxes:
            gap = box[axis] - face if forwards else face - box[axis + 3]
            if not 0 <= gap < LAYER:
                continue
            touch = [max(tile[k], box[k]) for k in range(3)] + [min(tile[k], box[k]) for k in range(3, 6)]
            across = [k for k in range(3) if k != axis]
            sizes = [touch[k + 3] - touch[k] for k in across]
            if min(sizes) <= 0 or sizes[0] * sizes[1] < LEAST_HELD:
                continue
            touch[axis], touch[axis + 3] = (face, box[axis]) if forwards else (box[axis + 3], face)
            pieces = (
                *stack(cell, level, base),
                piece(cell, "brick with a stud on its side", base, base + 3 * LAYER),
                ("tile 1 × 1", box_of(tile)),
            )
            yield Candidate("clip", pieces, (("pad", box_of(touch)),) if gap else (), 1, True)
