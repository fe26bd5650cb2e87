"""Where a body is too narrow for all wires together, though each of them gets through alone.

A hole that is drawn in an inner wall joins what lies on both sides of it; how many wires it carries is
another matter. So the rooms of single wires are parted there, and each place where two of them meet is told
with its size: bundles go through it side by side. It is a measure of how wires are laid and proves nothing.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear import label_spaces
from fitplan.lattice.clear_radius import clear_squares, roomy

Labels = NDArray[np.uint32]
_BELOW = (slice(1, None), slice(None, -1))
"""Along an axis: each voxel but the first, and the one below it."""


@dataclass(frozen=True)
class Narrow:
    """A narrow place between two rooms.

    Attributes
    ----------
    clear_mm
        The diameter of the thickest bundle that goes through.
    wide_mm
        How far it reaches across the way, no less than that: bundles lie side by side there.
    """

    rooms: tuple[int, int]
    clear_mm: float
    wide_mm: float


def grow(labels: Labels, within: NDArray[np.bool_], steps: int | None = None) -> None:
    """Let rooms grow into what no room has, in place: by so many voxels along each axis, or to the end."""
    for step in itertools.count():
        if step == steps:
            break
        named = np.count_nonzero(labels)
        for axis in range(3):
            along, free = np.moveaxis(labels, axis, 0), np.moveaxis(within, axis, 0)
            for here, there in (_BELOW, _BELOW[::-1]):
                unnamed = free[here] & (along[here] == 0)
                np.copyto(along[here], along[there].copy(), where=unnamed)
        if np.count_nonzero(labels) == named:
            break


def parted_where_narrow(
    room: NDArray[np.bool_],
    free: NDArray[np.bool_],
    clear_mm: Callable[[NDArray[np.int32]], NDArray[np.float64]],
    one_mm: float,
    all_mm: float,
    pitch: float,
) -> tuple[Labels, tuple[Narrow, ...]]:
    """Return rooms, a number from 1 for each, and the narrow places between them.

    Parameters
    ----------
    room
        (x, y, z) bool, where the middle of a wire of ``one_mm`` may be.
    free
        (x, y, z) bool, where anything of it may be.
    clear_mm
        Returns the diameter that is clear round the middles of (n, 3) voxels.
    all_mm
        The diameter of all wires in one bundle: what has room for it parts no rooms.
    """
    wide = room & roomy(clear_squares(free), all_mm / 2, pitch)
    labels, count = label_spaces(wide)
    # Corners and dead ends belong to what lies before them, and in a narrow place two rooms meet.
    grow(labels, room)
    for rest in _pieces(room & (labels == 0)):
        count += 1
        labels[tuple(rest.T)] = count
    # Middles of voxels are half a voxel from their faces: so much is clear beside the outermost at the least.
    beside = (2 * math.ceil(one_mm / 2 / pitch - 0.5) + 1) * pitch
    found = []
    joined = list(range(count + 1))
    for pair, patch in _meetings(labels):
        clear = float(clear_mm(patch).max())
        if clear >= all_mm:
            # What has room for all of them was parted by voxels alone.
            first, last = sorted(_first_of(joined, one) for one in pair)
            joined[last] = first
        else:
            long = float(np.ptp(patch, axis=0).max()) * pitch + beside
            found.append(Narrow(pair, clear, max(long, clear)))
    same = np.array([_first_of(joined, one) for one in range(count + 1)], dtype=np.uint32)
    pairs = ((one, int(same[one.rooms[0]]), int(same[one.rooms[1]])) for one in found)
    narrows = tuple(Narrow((a, b), one.clear_mm, one.wide_mm) for one, a, b in pairs if a != b)
    return same[labels], narrows


def _first_of(joined: list[int], one: int) -> int:
    while joined[one] != one:
        one = joined[one]
    return one


def _pieces(cells: NDArray[np.bool_]) -> Iterator[NDArray[np.int32]]:
    """Yield the voxels (n, 3) of each connected piece."""
    where = np.argwhere(cells).astype(np.int32)
    if not len(where):
        return
    low, high = where.min(axis=0), where.max(axis=0) + 1
    window = tuple(slice(a, b) for a, b in zip(low.tolist(), high.tolist(), strict=True))
    numbers, count = label_spaces(np.ascontiguousarray(cells[window]))
    of_each = numbers[tuple((where - low).T)]
    order = np.argsort(of_each, kind="stable")
    yield from np.split(where[order], np.searchsorted(of_each[order], np.arange(2, count + 1)))


def _meetings(labels: Labels) -> Iterator[tuple[tuple[int, int], NDArray[np.int32]]]:
    """Yield each place where two rooms meet: their numbers, and the voxels (n, 3) on both sides."""
    touching: dict[tuple[int, int], NDArray[np.bool_]] = {}
    for axis in range(3):
        along = np.moveaxis(labels, axis, 0)
        above, below = (along[part] for part in _BELOW)
        meets = (above != below) & (above != 0) & (below != 0)
        pairs = np.unique(np.sort(np.stack([above[meets], below[meets]], axis=1), axis=1), axis=0)
        for a, b in pairs.tolist():
            cells = np.moveaxis(touching.setdefault((a, b), np.zeros(labels.shape, dtype=bool)), axis, 0)
            here = meets & (np.minimum(above, below) == a) & (np.maximum(above, below) == b)
            for part in _BELOW:
                cells[part] |= here
    for pair, cells in sorted(touching.items(), key=lambda one: one[0]):
        yield from zip(itertools.repeat(pair), _pieces(cells))
