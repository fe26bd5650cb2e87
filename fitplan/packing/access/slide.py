"""Whether a part slides out of where it is by straight moves, in whole tenths of a millimetre.

Seen from the part, everything that stands around it is grown by the part's own shape: an obstacle box and a
box of the part give one open box of offsets at which the two overlap (Lozano-Pérez, IEEE Trans. Computers
C-32, 1983). The part is then a point that must get from where it is to infinity without entering such a box;
touching is allowed. The last move runs in the opening's direction; up to two moves go before it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.kernels import shared
from fitplan.model.solids import DIRECTIONS, Direction, axis_of, is_forward

Corners: TypeAlias = tuple[int, int, int, int, int, int]
MOST_MOVES = 3
"""Ways of so many straight moves are searched through."""
Moves: TypeAlias = tuple[tuple[Direction, int], ...]
Rows: TypeAlias = NDArray[np.int64]
"""Boxes as rows ``x0 y0 z0 x1 y1 z1``, (n, 6), in tenths of a millimetre."""

FAR = 100_000
"""Offsets that nothing in a vehicle reaches (tenths of a millimetre): 10 m."""


def rows_of(boxes: Iterable[Sequence[int]]) -> Rows:
    """Return boxes as rows."""
    return np.array([tuple(box) for box in boxes], dtype=np.int64).reshape(-1, 6)


def share_room(rows: Rows, standing: Rows) -> bool:
    """Return whether any box of one list shares room with any of the other; touching is none."""
    return bool(sharing_room(rows, standing).any())


def sharing_room(rows: Rows, standing: Rows) -> NDArray[np.bool_]:
    """Return (n,) which boxes of one list share room with any of the other; touching is none."""
    kernel, count = shared("slide"), len(rows)
    own = kernel.put(np.ascontiguousarray(rows, dtype=np.int32))
    around = kernel.put(np.ascontiguousarray(standing.T, dtype=np.int32))
    met = kernel.empty(count, np.uint8, zeroed=False)
    kernel.call("share_room", own, count, around, len(standing), met)
    return kernel.view(met, count, np.uint8).astype(np.bool_)


def forbidden_offsets(mover: Rows, standing: Rows) -> Rows:
    """Return the open boxes of offsets at which a moved part overlaps what stands around it."""
    low = standing[:, None, :3] - mover[None, :, 3:]
    high = standing[:, None, 3:] - mover[None, :, :3]
    return np.concatenate([low, high], axis=2).reshape(-1, 6)


def beyond_opening(mover: Rows, opening: Corners, out: Direction) -> Rows:
    """Return the offsets at which a part is beyond an opening's outer plane, its middle beside the outline.

    What stands out beyond the outline may pass where nothing is in its way: gaps often join.
    """
    axis = axis_of(out)
    forwards = is_forward(out)
    low, high = mover[:, :3].min(axis=0), mover[:, 3:].max(axis=0)
    found: list[list[int]] = []
    for across in range(3):
        if across == axis:
            continue
        for below in (True, False):
            row = [-FAR, -FAR, -FAR, FAR, FAR, FAR]
            if forwards:
                row[axis] = opening[axis + 3] - int(high[axis])
            else:
                row[axis + 3] = opening[axis] - int(low[axis])
            if below:
                row[across + 3] = opening[across] - int(low[across] + high[across]) // 2
            else:
                row[across] = opening[across + 3] + -int(low[across] + high[across]) // 2
            found.append(row)
    return rows_of(found)


def overlaps_at_rest(forbidden: Rows) -> bool:
    """Return True when the part overlaps something where it is."""
    return bool(((forbidden[:, :3] < 0) & (forbidden[:, 3:] > 0)).all(axis=1).any())


def passes(forbidden: Rows, out: Direction, at: int) -> bool:
    """Return whether there is any offset across from which the way out is free, once the part is so far out.

    Parameters
    ----------
    at
        Offset along ``out``'s axis (tenths).
    """
    kernel, count = shared("slide"), len(forbidden)
    rows = kernel.put(np.ascontiguousarray(forbidden.T, dtype=np.int32))
    scratch = kernel.empty(19 * count + 4, np.int32, zeroed=False)
    return bool(kernel.call("passes", rows, count, DIRECTIONS.index(out), at, scratch))


def slide_out(
    forbidden: Rows,
    out: Direction,
    leave: int,
    most: int = MOST_MOVES,
    firsts: tuple[Direction, ...] = DIRECTIONS,
    turn: int = 0,
) -> Moves | None:
    """Return straight moves that bring a part out, the last one in direction ``out``, or None.

    Parameters
    ----------
    forbidden
        From `forbidden_offsets`.
    leave
        Offset along ``out`` at which the part is outside (tenths); earlier moves go no further than that
        either.
    most
        How many moves there may be, at most 3. Fewer are preferred, then a shorter way.
    firsts, turn
        Directions that the first move may take, and how far it goes at least before another follows
        (tenths); for ways of at most two moves.
    """
    kernel, count = shared("slide"), len(forbidden)
    rows = kernel.put(np.ascontiguousarray(forbidden.T, dtype=np.int32))
    scratch = kernel.empty((20, count), np.int32, zeroed=False)
    moves = kernel.empty((MOST_MOVES, 2), np.int32, zeroed=False)
    ways = sum(1 << DIRECTIONS.index(way) for way in firsts)
    number = kernel.call(
        "slide_out", rows, count, DIRECTIONS.index(out), leave, most, ways, turn, scratch, moves
    )
    found = kernel.view(moves, (number, 2), np.int32).tolist()
    return tuple((DIRECTIONS[way], distance) for way, distance in found) or None
