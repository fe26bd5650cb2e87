"""Flat masks of cells as rectangles and as border lines, in whole cells."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def rectangles(mask: NDArray[np.bool_]) -> list[tuple[int, int, int, int]]:
    """Return disjoint index rectangles ``(x0, y0, x1, y1)`` that cover a mask ``(x, y)`` exactly.

    Runs along x are found first and joined with equal runs in the next row.
    """
    found: list[tuple[int, int, int, int]] = []
    if not mask.any():
        return found
    rows: list[set[tuple[int, int]]] = [set() for _ in range(mask.shape[1] + 1)]
    for y, start, end in _runs(mask.T):
        rows[y].add((start, end))
    open_runs: dict[tuple[int, int], int] = {}
    for y, runs in enumerate(rows):
        for run in [run for run in open_runs if run not in runs]:
            found.append((run[0], open_runs.pop(run), run[1], y))
        for run in sorted(runs):
            open_runs.setdefault(run, y)
    return sorted(found)


def outlines(mask: NDArray[np.bool_]) -> list[tuple[int, int, int, int]]:
    """Return the straight border lines ``(x0, y0, x1, y1)`` of a mask ``(x, y)`` as cut indices."""
    padded = np.pad(mask, 1)
    across_x = padded[1:, 1:-1] != padded[:-1, 1:-1]
    across_y = padded[1:-1, 1:] != padded[1:-1, :-1]
    return [
        *((x, start, x, end) for x, start, end in _runs(across_x)),
        *((start, y, end, y) for y, start, end in _runs(across_y.T)),
    ]


def _runs(rows: NDArray[np.bool_]) -> list[tuple[int, int, int]]:
    """Return each run of True along the rows of ``(n, m) bool``: the row, its first place, and its end."""
    framed = np.zeros((rows.shape[0], rows.shape[1] + 2), dtype=np.int8)
    framed[:, 1:-1] = rows
    steps = framed[:, 1:] - framed[:, :-1]
    row, start = np.nonzero(steps == 1)
    end = np.nonzero(steps == -1)[1]
    return list(zip(row.tolist(), start.tolist(), end.tolist(), strict=True))
