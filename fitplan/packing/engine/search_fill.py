"""The complete search for plain blocks in a cavity that pays for every void.

It needs what puzzles and tight boxes have: one space, every item a single solid box without clearances that
may lie in all its turned poses anywhere.  Sizes are divided by their greatest common divisor first.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np

from fitplan.packing.engine.free_offsets import Kind, union_volume
from fitplan.packing.engine.problem import IntBox, Placed, Problem, anywhere
from fitplan.packing.engine.search_slices import SlicedSearch

MOST_FRAMES = 2_000
MOST_CELLS = 800_000
MOST_LENGTH = 32_000


class FillProblem:
    """Plain blocks and a cavity, turned so that a chosen axis points up.

    Raises
    ------
    ValueError
        When the problem is of another kind.
    """

    def __init__(self, problem: Problem, kinds: Sequence[Kind]) -> None:
        homes = {variant.space for item in problem.items for variant in item.variants}
        if len(homes) != 1:
            raise ValueError("the items do not share one space")
        self.problem = problem
        self.kinds = tuple(kinds)
        self.space = problem.spaces[homes.pop()]
        self.edges: list[tuple[int, int, int]] = []
        for kind in kinds:
            self.edges.append(_edges(problem, kind))
        hull = self.space.hull
        inside = []
        for box in self.space.obstacles:
            low = [max(box[i], hull[i]) for i in range(3)]
            high = [min(box[i + 3], hull[i + 3]) for i in range(3)]
            if all(a < b for a, b in zip(low, high, strict=True)):
                inside.append([*(low[i] - hull[i] for i in range(3)), *(high[i] - hull[i] for i in range(3))])
        self.size = [hull[i + 3] - hull[i] for i in range(3)]
        lengths = [*self.size, *itertools.chain(*self.edges), *itertools.chain(*inside)]
        self.unit = math.gcd(*lengths)
        self.size = [length // self.unit for length in self.size]
        self.obstacles = [[value // self.unit for value in box] for box in inside]
        self.blocks = [tuple(edge // self.unit for edge in edges) for edges in self.edges]
        if max(self.size) > MOST_LENGTH:
            raise ValueError("the cavity is too long")
        solid = union_volume(tuple(_box(box) for box in self.obstacles)) if self.obstacles else 0
        self.free = math.prod(self.size) - solid
        self.budget = self.free - sum(
            math.prod(block) * len(kind.names) for block, kind in zip(self.blocks, kinds, strict=True)
        )
        if self.budget >= 2**31:
            raise ValueError("more void than the searches for plain blocks can count")

    def placed(self, kind: int, sides: list[int], at: list[int]) -> Placed:
        """Return the place of a block by its turned edges and its low corner as seen from the hull's."""
        hull = self.space.hull
        for free in self.kinds[kind].variants:
            box = free.variant.shape.solid[0]
            if [box[i + 3] - box[i] for i in range(3)] == sides:
                x, y, z = (at[i] + hull[i] - box[i] for i in range(3))
                return Placed(free.index, (x, y, z))
        raise AssertionError("the fill search used a pose that the item does not have")


def _box(values: Sequence[int]) -> IntBox:
    x0, y0, z0, x1, y1, z1 = values
    return (x0, y0, z0, x1, y1, z1)


def _edges(problem: Problem, kind: Kind) -> tuple[int, int, int]:
    item = next(item for item in problem.items if item.name == kind.names[0])
    turned = set()
    for variant in item.variants:
        shape = variant.shape
        if len(shape.solid) != 1 or shape.clearances or variant.cost != item.variants[0].cost:
            raise ValueError("an item is not a plain block")
        if any(box not in variant.domain for box in anywhere(shape, problem.spaces[variant.space].hull)):
            raise ValueError("an item may not lie everywhere")
        box = shape.solid[0]
        turned.add((box[3] - box[0], box[4] - box[1], box[5] - box[2]))
    first = min(turned)
    hull = problem.spaces[item.variants[0].space].hull
    for way in itertools.permutations(first):
        if way not in turned and all(way[i] <= hull[i + 3] - hull[i] for i in range(3)):
            raise ValueError("an item may not be turned freely")
    return first


class FillSearch(SlicedSearch):
    """One run of the search that fills the cavity from one side.

    Parameters
    ----------
    up
        The axis along which the cavity is filled.
    flipped
        Fill from the high end of that axis.
    shortcuts
        Use the pruning by reachable lengths and by mirror images; a confirming run does without.
    """

    def __init__(
        self, plain: FillProblem, *, up: int = 2, flipped: bool = False, shortcuts: bool = True
    ) -> None:
        self._plain, self._up, self._flipped = plain, up, flipped
        self._axes = [axis for axis in range(3) if axis != up] + [up]
        width, depth, height = (plain.size[axis] for axis in self._axes)
        self._height = height
        obstacles = []
        for box in plain.obstacles:
            turned = [box[axis] for axis in self._axes] + [box[axis + 3] for axis in self._axes]
            if flipped:
                turned[2], turned[5] = height - turned[5], height - turned[2]
            obstacles.append(turned)
        xs = sorted({0, width, *(b[0] for b in obstacles), *(b[3] for b in obstacles)})
        ys = sorted({0, depth, *(b[1] for b in obstacles), *(b[4] for b in obstacles)})
        known: dict[tuple[tuple[int, int], ...], int] = {}
        columns = [
            known.setdefault(_free_intervals(obstacles, x, y, height), len(known))
            for x in xs[:-1]
            for y in ys[:-1]
        ]
        pairs = [pair for column in known for pair in column]
        starts = np.cumsum([0] + [len(column) for column in known])
        order = sorted(range(len(plain.blocks)), key=lambda k: (-math.prod(plain.blocks[k]), plain.blocks[k]))
        self._order = order
        single = next((k for k, t in enumerate(order) if len(plain.kinds[t].names) == 1), -1)
        super().__init__("packing_fill", "fill")
        put, empty, call = self.kernel.put, self.kernel.empty, self.kernel.call
        rows = [(len(plain.kinds[t].names), *plain.blocks[t]) for t in order]
        frame_bytes = call("fill_frame_bytes")
        state = call(
            "fill_start", empty((MOST_FRAMES, frame_bytes), np.uint8), MOST_FRAMES,
            empty((MOST_CELLS, 4), np.int16), MOST_CELLS,
            put(np.array(rows, dtype=np.int32)), len(rows),
            put(np.array(xs, dtype=np.int32)), len(xs) - 1, put(np.array(ys, dtype=np.int32)), len(ys) - 1,
            put(np.array(columns, dtype=np.int32)), put(starts.astype(np.int32)),
            put(np.array([*pairs, (0, 0)], dtype=np.int32)),
            put(np.array(obstacles or [[0] * 6], dtype=np.int32)), len(obstacles),
            height, plain.budget, single if shortcuts and not obstacles else -1,
            int(shortcuts),
        )  # fmt: skip
        self._begin(state)

    def _places(self) -> dict[str, Placed]:
        plain = self._plain
        waiting = [list(kind.names) for kind in plain.kinds]
        out = self.kernel.empty(7, np.int32)
        places = {}
        for level in range(self.kernel.call("fill_level") + 2):
            if not self.kernel.call("fill_laid", level, out):
                continue
            row = self.kernel.view(out, 7, np.int32).tolist()
            kind = self._order[row[0]]
            edges, low = row[1:4], row[4:7]
            if self._flipped:
                low[2] = self._height - low[2] - edges[2]
            at, sides = [0, 0, 0], [0, 0, 0]
            for place, axis in enumerate(self._axes):
                at[axis], sides[axis] = low[place] * plain.unit, edges[place] * plain.unit
            if not waiting[kind]:
                break
            places[waiting[kind].pop(0)] = plain.placed(kind, sides, at)
        return places


def _free_intervals(obstacles: list[list[int]], x: int, y: int, height: int) -> tuple[tuple[int, int], ...]:
    """Free stretches of the column above a point of the plan."""
    over = sorted((b[2], b[5]) for b in obstacles if b[0] <= x < b[3] and b[1] <= y < b[4])
    free, at = [], 0
    for low, high in over:
        if low > at:
            free.append((at, low))
        at = max(at, high)
    if at < height:
        free.append((at, height))
    return tuple(free)
