"""The complete search that confirms the one by order: of another build, in a kernel and memory of its own.

What is known of the items is the least difference of their offsets, two by two, closed under addition, so a
chain over other items rules out that one lies beside another; the search by order knows ranges alone.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fitplan.kernels import load
from fitplan.packing.engine.free_offsets import ItemKind
from fitplan.packing.engine.problem import Placed, bounds_of

MOST_ITEMS = 64
MOST_LEVELS = 1_500
MOST_NUMBERS = 8_000_000
"""Of all levels' matrices together."""
MOST_LENGTH = 1 << 26
"""Coordinates beyond this are not searched: their sums would not fit into the kernel's numbers."""


class SidesSearch:
    """One run of the search.

    Attributes
    ----------
    overrun
        Whether the search ran out of room and was given up, which proves nothing.

    Raises
    ------
    OverflowError
        When there are too many items, or coordinates that are too large.
    """

    def __init__(self, kinds: Sequence[ItemKind]) -> None:
        tables: list[NDArray[np.int64]] = []
        count = 0
        boxes: list[Sequence[int]] = []
        names: list[str] = []
        firsts: list[int] = []
        counts: list[int] = []
        twins: list[int] = []
        for kind in kinds:
            first = count
            for free in kind.variants:
                shape = free.variant.shape
                whole = [*shape.solid, *(clearance.box for clearance in shape.clearances)]
                head = [free.index, free.variant.space, len(boxes), len(shape.solid), len(whole)]
                many = (len(free.pieces), 1)
                tables.append(np.hstack([np.tile(head, many), free.pieces, np.tile(bounds_of(whole), many)]))
                count += len(free.pieces)
                boxes += whole
            for number, name in enumerate(kind.names):
                twins.append(len(names) - 1 if number else -1)
                names.append(name)
                firsts.append(first)
                counts.append(count - first)
        if len(names) > MOST_ITEMS:
            raise OverflowError(f"more than {MOST_ITEMS} items")
        rows = np.concatenate([np.zeros((0, 17), dtype=np.int64), *tables])
        corners = np.array(boxes, dtype=np.int64).reshape(-1, 6)
        most = max(np.abs(rows[:, 5:]).max(initial=0), np.abs(corners).max(initial=0))
        if most >= MOST_LENGTH:
            raise OverflowError("coordinates too large to be searched")
        self._names, self._rows = names, rows
        self.kernel = load("packing_sides")
        self._first_step = self.kernel.steps
        put, empty = self.kernel.put, self.kernel.empty
        width = len(names) + 1
        levels = min(MOST_LEVELS, MOST_NUMBERS // (3 * width * width))
        self._out = empty((len(names), 4), np.int32)
        state = self.kernel.call(
            "sides_start", put(rows.astype(np.int32)), put(corners.astype(np.int32)),
            *(put(np.array(row, dtype=np.int32)) for row in (firsts, counts, twins)), len(names), levels,
            empty((levels, self.kernel.call("sides_frame_bytes")), np.uint8),
            empty((levels, 3, width, width), np.int32, zeroed=False), empty((levels, len(names)), np.int32),
        )  # fmt: skip
        self._dead, self.overrun = state == 0, state == -2

    @property
    def nodes(self) -> int:
        """Nodes of the search tree so far."""
        return int(self.kernel.call("sides_nodes"))

    @property
    def steps(self) -> int:
        """Steps of the search's inner loops so far."""
        return self.kernel.steps - self._first_step

    def run(self, steps: int) -> dict[str, Placed] | bool | None:
        """Search some steps further: places, False when exhausted, None when there is more to do."""
        if self._dead:
            return False
        if self.overrun:
            return None
        state = self.kernel.call("sides_run", float(steps))
        self._dead, self.overrun = state == 0, state == -2
        if state != 1:
            return False if state == 0 else None
        self.kernel.call("sides_places", self._out)
        found = self.kernel.view(self._out, (len(self._names), 4), np.int32).tolist()
        return {
            name: Placed(int(self._rows[option, 0]), (x, y, z))
            for name, (option, x, y, z) in zip(self._names, found, strict=True)
        }
