"""Clear space: connected spaces, sums over boxes, the largest empty box, what size of box fits, necks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fitplan.kernels import Kernel, load, shared
from fitplan.lattice.cover import IntBox

Faces = Sequence[NDArray[np.float64]]


class Neck(NamedTuple):
    """Where two spaces meet: the middles (voxel indices) of both and of the narrowest place between."""

    lesser: tuple[int, int, int]
    greater: tuple[int, int, int]
    place: tuple[int, int, int]


def label_spaces(
    clear: NDArray[np.bool_], barriers: NDArray[np.uint8] | None = None
) -> tuple[NDArray[np.uint32], int]:
    """Return (x, y, z) uint32, a number from 1 for each connected clear space, 0 elsewhere; and the count.

    Voxels are connected through faces. `barriers` (x, y, z) uint8 closes single faces: bit 1 the lower face
    along x, bit 2 along y, bit 4 along z. Numbers follow the first voxel of each space in C order.
    """
    work = _room(clear.size)
    cells = work.put(clear.astype(np.uint8))
    closed = 0 if barriers is None else work.put(barriers)
    names = work.empty(clear.shape, np.uint32)
    stack = work.empty(clear.size, np.uint32)
    count = int(work.call("label", cells, closed, names, stack, *clear.shape))
    return work.view(names, clear.shape, np.uint32).copy(), count


def box_sums(cells: NDArray[np.bool_]) -> NDArray[np.int32]:
    """Return (x+1, y+1, z+1) int32: how many cells are set below each corner (a summed volume).

    No body has 2³¹ cells: 40 million are the most of a mesh.
    """
    sums = np.zeros(tuple(n + 1 for n in cells.shape), dtype=np.int32)
    inner = sums[1:, 1:, 1:]
    np.cumsum(cells, axis=0, out=inner, dtype=np.int32)
    np.cumsum(inner, axis=1, out=inner)
    np.cumsum(inner, axis=2, out=inner)
    return sums


def within_reach(
    cells: NDArray[np.bool_], edges: Sequence[NDArray[np.int64]], reach: int
) -> NDArray[np.bool_]:
    """Return (x, y, z) bool, True for cells nearer than `reach` to a set cell along all three axes.

    Distances are between the cells' nearest faces, in the unit of the edges; a set cell is within reach of
    itself. Exact for each whole cell when the edges hold all set cells' faces moved by `reach`.
    """
    counts = box_sums(cells)
    for axis, line in enumerate(edges):
        low = np.maximum(np.searchsorted(line, line[:-1] - reach, side="right") - 1, 0)
        high = np.minimum(np.searchsorted(line, line[1:] + reach, side="left"), len(line) - 1)
        counts = np.take(counts, high, axis=axis) - np.take(counts, low, axis=axis)
    near: NDArray[np.bool_] = counts > 0
    return near


def largest_box(clear: NDArray[np.bool_], faces: Faces | None = None) -> IntBox:
    """Return the empty box with the greatest volume, in cells; all zero when nothing is clear.

    Exact: the planes clear through each pair of levels of the shortest axis, and in each of them the largest
    rectangle under a histogram. O(a²·b·c) steps for a ≤ b, c cells, and less where bounds cut it short.

    Parameters
    ----------
    clear
        (x, y, z) bool.
    faces
        Coordinates of the cell faces along each axis when cells are not cubes of one size.
    """
    order = sorted(range(3), key=lambda axis: clear.shape[axis])
    lines = faces or [np.arange(n + 1, dtype=np.float64) for n in clear.shape]
    work = _room(clear.size)
    turned = np.ascontiguousarray(clear.transpose(order)).astype(np.uint8)
    addresses = [work.put(np.ascontiguousarray(lines[axis], dtype=np.float64)) for axis in order]
    cells = work.put(turned)
    plane = work.empty(turned.shape[1:], np.uint8)
    rows = work.empty(3 * (turned.shape[2] + 1), np.uint32)
    out = work.empty(6, np.uint32)
    work.call("largest_box", cells, plane, rows, *addresses, out, *turned.shape)
    found = work.view(out, 6, np.uint32).tolist()
    corners = [0] * 6
    for place, axis in enumerate(order):
        corners[axis], corners[axis + 3] = found[place], found[place + 3]
    return IntBox(*corners)


class SizeTest:
    """Whether a box of a given size fits into clear cells, in any position (not only on whole cells)."""

    def __init__(self, clear: NDArray[np.bool_], faces: Faces) -> None:
        self._work = load("voxels")
        self._shape = clear.shape
        self._lines = faces
        self._longest: dict[tuple[float, ...], int] = {}
        self._faces = [self._work.put(np.ascontiguousarray(line, dtype=np.float64)) for line in faces]
        cells = self._work.put(clear.astype(np.uint8))
        self._sums = self._work.empty(tuple(n + 1 for n in clear.shape), np.uint32)
        self._out = self._work.empty(3, np.uint32)
        self._work.call("box_sums", cells, self._sums, *clear.shape)

    def position(self, size: tuple[float, float, float]) -> tuple[int, int, int] | None:
        """Return the cells of the first lower corner at which a box of this size is in the clear, or None.

        Exact: a box that fits can be pushed towards the lower side along each axis until it meets a cell
        face, so only corners on faces need to be tried.
        """
        if not self._work.call("fits", self._sums, *self._faces, *map(float, size), self._out, *self._shape):
            return None
        x, y, z = self._work.view(self._out, 3, np.uint32).tolist()
        return (x, y, z)

    def longest(self, size: tuple[float, float, float], axis: int, step: float) -> float:
        """Return how long a box can be along an axis with the other two of its sizes, in whole steps.

        Less than its own size there, which is known not to fit; 0 when not even a step fits.
        """
        beside = size[:axis] + size[axis + 1 :]
        key = (axis, *beside, step)
        if key not in self._longest:
            whole = round(float(self._lines[axis][-1] - self._lines[axis][0]) / step) + 2
            self._longest[key] = int(
                self._work.call(
                    "longest", self._sums, *self._faces, *map(float, size), axis, step, whole, *self._shape
                )
            )
        return min(self._longest[key], max(round(size[axis] / step) - 1, 0)) * step


def necks(radius: NDArray[np.float64], prominence: float, most: int = 1000) -> list[Neck]:
    """Return the necks between wide places, given the clear radius in mm around each voxel (0 where solid).

    Voxels are taken in from the widest to the narrowest. Where two spaces meet, each of which has a place
    wider by at least `prominence` mm in radius, there is a neck. Room is kept for `most`; with more
    they are looked for again.
    """
    flat = np.ravel(radius).astype(np.float32)
    count = int((flat > 0).sum())
    order = np.argsort(-flat, kind="stable")[:count].astype(np.uint32)
    work = _room(radius.size)
    out = work.empty((most, 3), np.uint32)
    ordered, radii = work.put(order), work.put(flat)
    up, peak = work.empty(flat.size, np.uint32), work.empty(flat.size, np.uint32)
    found = int(work.call("necks", ordered, count, radii, up, peak, prominence, out, most, *radius.shape))
    if found > most:
        return necks(radius, prominence, found)
    rows: list[list[int]] = work.view(out, (found, 3), np.uint32).tolist()
    return [Neck(*(_index(cell, radius.shape) for cell in row)) for row in rows]


def _index(cell: int, shape: tuple[int, ...]) -> tuple[int, int, int]:
    x, y, z = np.unravel_index(cell, shape)
    return (int(x), int(y), int(z))


def _room(cells: int) -> Kernel:
    """Return the shared kernel, or one of its own for a block so large that its memory should go back."""
    if cells > 4_000_000:
        return load("voxels")
    return shared("voxels")
