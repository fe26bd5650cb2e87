"""Grids of places over what obstacles leave a part: how fine, at which heights."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import pose_named
from fitplan.packing.engine.free_offsets import free_pieces
from fitplan.packing.engine.problem import PackingProblem, Space, Variant
from fitplan.packing.vehicle.pair_costs import Boxes
from fitplan.packing.vehicle.views import View

MOST_PLACES = 1200
"""Places of one part that are looked at; the grid grows coarser until there are no more."""
STEP = 32
"""Finest grid of places (tenths of a mm)."""
FEW_PIECES = 24
"""Up to so many pieces each has a grid of its own."""
MOST_LEVELS = 8
"""So many heights at which a part may stand are looked at: those with the most room."""


def places_on_grid(variant: Variant, problem: PackingProblem, held: bool, view: View | None) -> Boxes:
    """Return (n, 3) offsets on a grid over what the obstacles leave of a variant's domain.

    What nothing holds goes down as far as it may: only the lowest place over each point is of use. For what
    looks out the place nearest the middle of its ``view`` is among them.
    """
    return _places(variant, problem.spaces, held, view)


@lru_cache(maxsize=512)  # the same in every layout of a vehicle, whatever its wires wish
def _places(variant: Variant, spaces: tuple[Space, ...], held: bool, view: View | None) -> Boxes:
    pieces = free_pieces(variant, PackingProblem(spaces, ())).astype(np.int64)
    if not len(pieces):
        return np.zeros((0, 3), dtype=np.int64)
    if held or len(pieces) <= FEW_PIECES:
        return _grid_of_each(pieces, held, view.middle(pose_named(variant.key)) if view else None)
    # One grid for all: on studded floors there are hundreds of pieces.
    low, high = pieces[:, :3].min(axis=0), pieces[:, 3:].max(axis=0)
    step = max(STEP, math.isqrt(int(np.prod(high[:2] - low[:2])) // MOST_PLACES))
    area = np.prod(pieces[:, 3:5] - pieces[:, :2] + 1, axis=1)
    large = pieces[np.argsort(-area, kind="stable")[:FEW_PIECES]]
    lines = [
        np.unique(np.concatenate([np.arange(low[a], high[a] + 1, step), large[:, a], large[:, a + 3]]))
        for a in (0, 1)
    ]
    first = [np.searchsorted(lines[a], pieces[:, a], side="left") for a in (0, 1)]
    after = [np.searchsorted(lines[a], pieces[:, a + 3], side="right") for a in (0, 1)]
    levels, which = np.unique(pieces[:, 2], return_inverse=True)
    widest = np.argsort(-np.bincount(which, weights=area), kind="stable")[:MOST_LEVELS]
    found = []
    for level in np.sort(levels[widest]).tolist():
        at_it = pieces[:, 2] == level
        under = (pieces[:, 2] < level) & (pieces[:, 5] >= level - 1)
        stands, falls = (
            _covered([rows[group] for rows in (*first, *after)], [len(line) for line in lines])
            for group in (at_it, under)
        )
        i, j = np.nonzero(stands & ~falls)
        found.append(np.stack([lines[0][i], lines[1][j], np.full(len(i), level)], axis=1))
    rows: Boxes = np.concatenate(found).astype(np.int64)
    return rows


def _covered(spans: Sequence[NDArray[np.int64]], sizes: Sequence[int]) -> NDArray[np.bool_]:
    """Return which cells of a grid any of some rectangles covers; each: two first cells, two after.

    Each is noted at its corners with alternating signs; running sums along both axes do the rest.
    """
    depth = np.zeros([size + 1 for size in sizes], dtype=np.int64)
    x0, y0, x1, y1 = spans
    some = (x0 < x1) & (y0 < y1)
    for x, y, sign in ((x0, y0, 1), (x0, y1, -1), (x1, y0, -1), (x1, y1, 1)):
        np.add.at(depth, (x[some], y[some]), sign)
    return np.asarray(depth.cumsum(axis=0).cumsum(axis=1)[:-1, :-1] > 0)


def _grid_of_each(pieces: Boxes, held: bool, liked: NDArray[np.int64] | None) -> Boxes:
    """Return (n, 3) offsets on a grid of its own for each piece, lines through what is nearest ``liked``."""
    step = STEP
    while True:
        sides = np.maximum(pieces[:, 3:] - pieces[:, :3], 0)
        counts = np.prod(np.minimum(sides[:, :2] // step + 2, sides[:, :2] + 1), axis=1)
        if counts.sum() <= 3 * MOST_PLACES or step > 400:
            break
        step = round(step * 1.4)
    found = []
    for x0, y0, z0, x1, y1, z1 in pieces.tolist():
        heights = np.array([z0, (z0 + z1) // 2, z1] if held else [z0])
        lines = [_ticks(x0, x1, step), _ticks(y0, y1, step), np.unique(heights)]
        if liked is not None:
            near = np.clip(liked, (x0, y0, z0), (x1, y1, z1))
            lines = [np.union1d(line, near[axis]) for axis, line in enumerate(lines)]
        found.append(np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1).reshape(-1, 3))
    rows: Boxes = np.unique(np.concatenate(found), axis=0)
    if not held:
        under = rows - np.array([0, 0, 1])
        keep = np.ones(len(rows), dtype=bool)
        for piece in pieces:
            keep[np.all((under >= piece[:3]) & (under <= piece[3:]), axis=1)] = False
        rows = rows[keep]
    return rows


def _ticks(low: int, high: int, step: int) -> NDArray[np.int64]:
    inner = np.arange(low + step, high, step, dtype=np.int64)
    return np.unique(np.concatenate([np.array([low, high], dtype=np.int64), inner]))
