"""The complete search for plain blocks that leave little void: what has the fewest places is laid next."""

from __future__ import annotations

import itertools
import math

import numpy as np

from fitplan.packing.engine.problem import Placed
from fitplan.packing.engine.search_fill import FillProblem
from fitplan.packing.engine.search_slices import SlicedSearch

MOST_BLOCKS = 48
MOST_OBSTACLES = 64
MOST_LEVELS = 600
MOST_EDGES = 30_000


class CornerSearch(SlicedSearch):
    """One run of the search, in which laid blocks keep a range of positions.

    Parameters
    ----------
    axes
        Order in which the kernel sees the axes.
    shortcuts
        Bound narrow gaps by the void that is left, search one order of exchangeable blocks, and lay the
        second largest single block into one half on each axis only (the largest divides the search less).
        A confirming run does without the first two, and holds another block to one half.
    one_each
        Give each of the points of `single_points` to one block, instead of looking for corners.

    Raises
    ------
    ValueError
        When there are too many blocks or obstacles.
    """

    def __init__(
        self,
        plain: FillProblem,
        *,
        axes: tuple[int, int, int] = (0, 1, 2),
        shortcuts: bool = True,
        one_each: bool = False,
    ) -> None:
        self._plain, self._axes = plain, axes
        obstacles = apart(plain.obstacles)
        count = sum(len(kind.names) for kind in plain.kinds)
        if count > MOST_BLOCKS or len(obstacles) > MOST_OBSTACLES:
            raise ValueError("too many blocks or obstacles")
        order = sorted(range(len(plain.blocks)), key=lambda k: (-math.prod(plain.blocks[k]), plain.blocks[k]))
        self._order = order
        self._count = count
        rows = [(len(plain.kinds[k].names), *plain.blocks[k]) for k in order]
        firsts = list(itertools.accumulate((row[0] for row in rows), initial=0))
        singles = [firsts[k] for k, row in enumerate(rows) if row[0] == 1]
        held = min(1 if shortcuts else 2, len(singles) - 1)
        mirrored = singles[held] if singles and not obstacles else -1
        turned = [[box[a] for a in axes] + [box[a + 3] for a in axes] for box in obstacles]
        super().__init__("packing_corner", "corner")
        put, empty, call = self.kernel.put, self.kernel.empty, self.kernel.call
        if one_each:
            points = single_points(plain)
            if points is None:
                raise ValueError("not every block covers just one point")
            seen = np.array(points, dtype=np.int32)[:, list(axes)]
            call("corner_points", put(seen), len(seen), min(min(block) for block in plain.blocks))
        else:
            call("corner_points", 0, 0, 0)
        self._ranges = empty((MOST_LEVELS, count, 9), np.int32)
        state = call(
            "corner_start", empty((MOST_LEVELS, call("corner_frame_bytes")), np.uint8), self._ranges,
            MOST_LEVELS, empty((MOST_EDGES, 4), np.int32), MOST_EDGES, put(np.array(rows, dtype=np.int32)),
            len(rows), put(np.array(turned or [[0] * 6], dtype=np.int32)), len(obstacles),
            *(plain.size[a] for a in axes), plain.budget,
            -1 if one_each else mirrored, 3 if shortcuts else 0,
        )  # fmt: skip
        self._begin(state)

    def _places(self) -> dict[str, Placed]:
        plain = self._plain
        level = self.kernel.call("corner_level")
        rows = self.kernel.view(self._ranges, (MOST_LEVELS, self._count, 9), np.int32)[level].tolist()
        places = {}
        at = 0
        for kind in self._order:
            for name in plain.kinds[kind].names:
                low, sides = [0, 0, 0], [0, 0, 0]
                for place, axis in enumerate(self._axes):
                    low[axis], sides[axis] = rows[at][place] * plain.unit, rows[at][6 + place] * plain.unit
                places[name] = plain.placed(kind, sides, low)
                at += 1
        return places


def single_points(plain: FillProblem) -> list[tuple[int, int, int]] | None:
    """Return as many points as there are blocks, each block covering just one; None when there are none.

    Let the shortest edge be m, and no edge reach 2m.  On each axis take the cells m - 1, 2m - 1, …: wherever
    it lies, a block covers at least one of them on each axis.  When there are as many such points in the
    cavity as blocks, each is covered by one block of its own (Hoffman's 27 blocks are of this kind).
    """
    least = min(min(block) for block in plain.blocks)
    if plain.obstacles or max(max(block) for block in plain.blocks) >= 2 * least:
        return None
    lines = [range(least - 1, length, least) for length in plain.size]
    points = list(itertools.product(*lines))
    count = sum(len(kind.names) for kind in plain.kinds)
    return [(x, y, z) for x, y, z in points] if len(points) == count else None


def apart(boxes: list[list[int]]) -> list[list[int]]:
    """Return boxes that share no interior point and fill the same space."""
    if not boxes:
        return []
    array = np.array(boxes)
    cuts = [np.unique(array[:, [axis, axis + 3]]).tolist() for axis in range(3)]
    filled = np.zeros([len(cut) - 1 for cut in cuts], dtype=bool)
    for box in boxes:
        filled[tuple(slice(cuts[a].index(box[a]), cuts[a].index(box[a + 3])) for a in range(3))] = True
    found = []
    for i, j, k in np.argwhere(filled).tolist():
        if not filled[i, j, k]:
            continue
        ends = [i + 1, j + 1, k + 1]
        for axis in range(3):
            while ends[axis] < filled.shape[axis]:
                part = [slice(i, ends[0]), slice(j, ends[1]), slice(k, ends[2])]
                part[axis] = slice(ends[axis], ends[axis] + 1)
                if not filled[tuple(part)].all():
                    break
                ends[axis] += 1
        filled[i : ends[0], j : ends[1], k : ends[2]] = False
        found.append(
            [cuts[0][i], cuts[1][j], cuts[2][k], cuts[0][ends[0]], cuts[1][ends[1]], cuts[2][ends[2]]]
        )
    return found
