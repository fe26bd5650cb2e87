"""Where boxes go into a vehicle, by the planes of its exact cells: no search, no rounding.

A box that has a place can be pushed down along each axis until it touches something, so only places at the
planes of the cells need be looked at; sums over all cells before each plane tell at once what lies in a box.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import Box
from fitplan.verify.body import STATE_CODES, Body
from fitplan.verify.scene import BLOCKED

_TOUCH = 1e-6
Floats = NDArray[np.float64]


class ClearRoom:
    """The room of a body inside a hull.

    Parameters
    ----------
    strict
        Whether cells that round or sloping outlines pass are in the way as a whole; else they are free.
    taken
        More boxes that are in the way.
    """

    def __init__(self, body: Body, hull: Box, *, strict: bool, taken: Iterable[Box] = ()) -> None:
        cells = body.cells
        codes = [STATE_CODES[state] for state in BLOCKED]
        blocked = body.cells_in(codes)
        low, high = cells.low[blocked], cells.high[blocked]
        more = list(taken)
        if more:
            low = np.concatenate([low, np.array([box.low for box in more])])
            high = np.concatenate([high, np.array([box.high for box in more])])
        if strict:
            low, high = np.concatenate([low, body.mixed_low]), np.concatenate([high, body.mixed_high])
        self._planes = [
            _planes(np.concatenate([low[:, i], high[:, i]]), hull.low[i], hull.high[i]) for i in range(3)
        ]
        counts = [len(line) - 1 for line in self._planes]
        full = np.zeros(counts, dtype=np.int64)
        # From the last plane that lies no further than a box's low face to the first no nearer than its high.
        first = np.stack(
            [np.searchsorted(self._planes[i], low[:, i] + _TOUCH, "right") - 1 for i in range(3)], axis=1
        )
        last = np.stack([np.searchsorted(self._planes[i], high[:, i] - _TOUCH) for i in range(3)], axis=1)
        first = np.maximum(first, 0)
        for one, other in zip(first.tolist(), last.tolist(), strict=True):
            full[one[0] : other[0], one[1] : other[1], one[2] : other[2]] = 1
        self._sums = np.zeros([n + 1 for n in counts], dtype=np.int64)
        self._sums[1:, 1:, 1:] = full.cumsum(0).cumsum(1).cumsum(2)

    def holds(self, size: Sequence[float]) -> bool:
        """Return whether a box of this size (mm) has a place in which it touches at most."""
        spans: list[tuple[NDArray[np.intp], NDArray[np.intp]]] = []
        for line, edge in zip(self._planes, size, strict=True):
            ends = line[:-1] + edge
            starts = np.flatnonzero(ends <= line[-1] + _TOUCH)
            spans.append((starts, np.searchsorted(line, ends[starts] - _TOUCH)))
        if not all(len(starts) for starts, _ in spans):
            return False
        inside = np.zeros(tuple(len(starts) for starts, _ in spans), dtype=np.int64)
        for corner in range(8):
            picks = [spans[i][1 if corner >> i & 1 else 0] for i in range(3)]
            sign = 1 if corner.bit_count() % 2 else -1
            inside += sign * self._sums[np.ix_(*picks)]
        return bool((inside == 0).any())


def _planes(values: Floats, low: float, high: float) -> Floats:
    line = np.unique(np.clip(np.concatenate([values, [low, high]]), low, high))
    kept: Floats = line[np.concatenate([[True], np.diff(line) > _TOUCH])]
    return kept
