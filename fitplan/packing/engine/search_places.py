"""The two searches over shapes that are unions of boxes: a quick one and a complete one.

The quick search lays the least free kind next, at corners of what is left of its domain, and looks ahead
whether everything else keeps a place; it restarts from other corners with growing width and noise.  The
complete search gives an item one of its free boxes of offsets, and branches on the six sides of two boxes
that overlap when everything is pushed to its low end; positions are never enumerated, so its cost does not
depend on the unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fitplan.kernels import load
from fitplan.packing.engine.free_offsets import ItemKind
from fitplan.packing.engine.problem import IntBox, Placed, bounds_of

MOST_ITEMS = 64
ARENA_BOXES = 400_000
MOST_LEVELS = 1_500
MOST_EDGES = 60_000
"""How many times one item may be told to lie beside another on one branch of the complete search."""
MOST_QUICK_PIECES = 4_000
"""Above so many free boxes in all, the quick search looks at some of them only."""


class PlacesProblem:
    """Kinds of items laid out in a kernel's memory."""

    def __init__(self, kinds: Sequence[ItemKind]) -> None:
        self.kinds = list(kinds)
        self.count = sum(len(kind.names) for kind in kinds)
        if self.count > MOST_ITEMS:
            raise OverflowError(f"more than {MOST_ITEMS} items")
        self.kernel = load("packing_places")
        self._first_step = self.kernel.steps
        types: list[tuple[int, int, int]] = []
        variants: list[tuple[int, ...]] = []
        shapes: list[IntBox] = []
        pieces = []
        self.indices: list[int] = []
        total = 0
        for k, kind in enumerate(kinds):
            types.append((len(kind.names), len(variants), len(kind.variants)))
            for free in kind.variants:
                shape = free.variant.shape
                rooms = [clearance.box for clearance in shape.clearances]
                first = len(shapes)
                shapes += [*shape.solid, *rooms]
                variants.append(
                    (
                        k,
                        free.variant.space,
                        free.variant.cost,
                        first,
                        len(shape.solid),
                        first + len(shape.solid),
                        len(rooms),
                        total,
                        len(free.pieces),
                        *bounds_of([*shape.solid, *rooms]),
                    )
                )
                self.indices.append(free.index)
                pieces.append(free.pieces)
                total += len(free.pieces)
        self.variants = variants
        self.types = types
        put = self.kernel.put
        taken = self.kernel.call(
            "places_problem",
            put(np.array(types, dtype=np.int32)),
            len(types),
            put(np.array(variants, dtype=np.int32)),
            len(variants),
            put(np.array(shapes, dtype=np.int32)),
            put(np.concatenate(pieces).astype(np.int32)),
        )
        if not taken:
            raise OverflowError("more items than the kernel holds")

    @property
    def steps(self) -> int:
        """Steps of the search's inner loops so far."""
        return self.kernel.steps - self._first_step

    def named(self, rows: Sequence[Sequence[int]]) -> dict[str, Placed]:
        """Turn rows of (variant, x, y, z) into places by item name."""
        waiting = [list(kind.names) for kind in self.kinds]
        places = {}
        for variant, x, y, z in rows:
            name = waiting[self.variants[variant][0]].pop(0)
            places[name] = Placed(self.indices[variant], (int(x), int(y), int(z)))
        return places


class QuickSearch(PlacesProblem):
    """Repeated bounded runs that look for a packing and prove nothing."""

    def __init__(self, kinds: Sequence[ItemKind], seed: int = 0) -> None:
        super().__init__(_thinned(kinds))
        self._rng = np.random.default_rng(seed)
        pieces = sum(row[8] for row in self.variants)
        self._arena_size = max(ARENA_BOXES, 4 * pieces)
        self._out = self.kernel.empty((self.count, 4), np.int32)
        self._best = self.kernel.empty((self.count, 4), np.int32)
        self._lists = self.kernel.empty(((self.count + 2) * len(self.variants), 2), np.int32)
        self._arena = self.kernel.empty((self._arena_size, 6), np.int32, zeroed=False)
        self.runs = 0
        self.best: dict[str, Placed] = {}

    def run(self) -> dict[str, Placed] | None:
        """Make the next run; returns the places when all items are laid."""
        k = self.runs
        self.runs += 1
        # Towards each corner in turn, floor first; then wider, with noise among equals.
        corner = (0, 1, 2, 3)[k % 4] if k < 16 else int(self._rng.integers(8))
        width = 1 if k < 4 else 4 if k < 16 else (2, 4, 8)[k % 3]
        noise = 0 if k < 8 else (1, 4, 16)[k % 3]
        weights = ((1, 1, 4), (4, 1, 1), (1, 4, 1), (1, 1, 1))[(k // 4) % 4]
        limit = 200_000 if k < 32 else 800_000
        found = self.kernel.call(
            "places_fill", self._out, self._best, self._arena, self._arena_size, self._lists, width, noise,
            corner, *weights, int(self._rng.integers(1 << 31)), limit,
        )  # fmt: skip
        depth = self.kernel.call("places_best_depth")
        if depth > len(self.best):
            self.best = self.named(self.kernel.view(self._best, (self.count, 4), np.int32)[:depth].tolist())
        if not found:
            return None
        return self.named(self.kernel.view(self._out, (self.count, 4), np.int32).tolist())


def _thinned(kinds: Sequence[ItemKind]) -> list[ItemKind]:
    """Keep some of the free boxes where there are very many: the largest ones and the lowest ones."""
    total = sum(len(free.pieces) for kind in kinds for free in kind.variants)
    count = sum(len(kind.variants) for kind in kinds)
    most = max(12, MOST_QUICK_PIECES // max(1, count))
    if total <= MOST_QUICK_PIECES:
        return list(kinds)
    return [
        ItemKind(kind.names, tuple(replace(free, pieces=_some(free.pieces, most)) for free in kind.variants))
        for kind in kinds
    ]


def _some(pieces: NDArray[np.int32], most: int) -> NDArray[np.int32]:
    if len(pieces) <= most:
        return pieces
    sizes = np.prod((pieces[:, 3:] - pieces[:, :3] + 1).astype(float), axis=1)
    largest = np.argsort(-sizes, kind="stable")[: most - most // 3]
    lowest = np.argsort(pieces[:, 2] * 4 + pieces[:, 0] + pieces[:, 1], kind="stable")[: most // 3]
    return pieces[np.union1d(largest, lowest)]


class OrderSearch(PlacesProblem):
    """The complete search; ``run`` returns places, False when exhausted, or None when there is more to do.

    ``overrun`` tells whether the search ran out of room and was given up, which proves nothing.
    """

    def __init__(self, kinds: Sequence[ItemKind]) -> None:
        super().__init__(kinds)
        options: list[tuple[int, int]] = []
        starts, totals, owners = [], [], []
        for k, (count, first, n) in enumerate(self.types):
            start = len(options)
            own = [
                (variant, self.variants[variant][7] + piece)
                for variant in range(first, first + n)
                for piece in range(self.variants[variant][8])
            ]
            options += own
            for _ in range(count):
                starts.append(start)
                totals.append(len(own))
                owners.append(k)
        self._owners = owners
        put, empty = self.kernel.put, self.kernel.empty
        self._options = put(np.array(options, dtype=np.int32).reshape(-1, 2))
        self._ranges = empty((MOST_LEVELS, self.count, 6), np.int32, zeroed=False)
        self._laid = empty((MOST_LEVELS, self.count), np.int32, zeroed=False)
        self._option_rows = options
        first_frame = self.kernel.call(
            "places_order_start", self._options, put(np.array(starts, dtype=np.int32)),
            put(np.array(totals, dtype=np.int32)), put(np.array(owners, dtype=np.int32)),
            empty((MOST_LEVELS, 11), np.int32), empty((MOST_EDGES, 5), np.int32, zeroed=False), MOST_EDGES,
            self._ranges, self._laid,
        )  # fmt: skip
        self._dead, self.overrun = first_frame == 0, first_frame == -2

    @property
    def nodes(self) -> int:
        """Nodes of the search tree so far."""
        return int(self.kernel.call("places_order_nodes"))

    def run(self, steps: int) -> dict[str, Placed] | bool | None:
        """Search some steps further."""
        if self._dead:
            return False
        if self.overrun:
            return None
        state = self.kernel.call("places_order_run", float(steps), MOST_LEVELS)
        if state == 0:
            self._dead = True
            return False
        if state < 0:
            self.overrun = state == -2
            return None
        level = self.kernel.call("places_order_level")
        laid = self.kernel.view(self._laid, (MOST_LEVELS, self.count), np.int32)[level]
        ranges = self.kernel.view(self._ranges, (MOST_LEVELS, self.count, 6), np.int32)[level]
        rows = [(self._option_rows[laid[i]][0], *ranges[i, :3].tolist()) for i in range(self.count)]
        return self.named(rows)
