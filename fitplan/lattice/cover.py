"""Blocks of cells into few boxes, in whole cells and in whole tenths of a millimetre."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.errors import FitplanError
from fitplan.kernels import shared
from fitplan.model.solids import AXES, Box, Cylinder, Solid, Vec, Wedge, axis_of, is_forward

TENTHS = 10
"""Whole units in a millimetre."""
STEP = 0.8
"""Width in mm of the strips that a round or sloping solid is cut into by default."""
_SLACK = 1e-5
_SPINE = 0.5
"""Half the width in mm of the spine that an inner stair of a cylinder gets."""


_Piece: TypeAlias = tuple[Vec, Vec]
"""Two corners in mm of a piece of a solid; a box without the checks of one."""


class IntBox(NamedTuple):
    """A box between two corners in whole tenths of a millimetre (or in whole cells)."""

    x0: int
    y0: int
    z0: int
    x1: int
    y1: int
    z1: int

    @property
    def size(self) -> tuple[int, int, int]:
        """Edges along x, y and z."""
        return (self.x1 - self.x0, self.y1 - self.y0, self.z1 - self.z0)

    @property
    def volume(self) -> int:
        """Product of the edges."""
        dx, dy, dz = self.size
        return dx * dy * dz

    @property
    def mm(self) -> Box:
        """The box in millimetres, for corners in tenths."""
        x0, y0, z0, x1, y1, z1 = (corner / TENTHS for corner in self)
        return Box((x0, y0, z0), (x1, y1, z1))


def cover(
    must: NDArray[np.bool_],
    may: NDArray[np.bool_] | None = None,
    edges: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]] | None = None,
    most: int = 100_000,
) -> list[IntBox] | None:
    """Return few boxes (in cells) whose union holds all of `must` and nothing but `must` and `may`.

    The boxes may overlap; each is as large as it can be. Greedy, so few but not provably the fewest.

    Parameters
    ----------
    must, may
        (x, y, z) bool; `may` None: nothing else.
    edges
        Coordinates of the cell faces along each axis when cells are not cubes: the boxes that cover the
        greatest bare volume are preferred.
    most
        Give up beyond so many boxes and return None.
    """
    work = shared("voxels")
    cells = must.astype(np.uint8)
    if may is not None:
        cells |= may.astype(np.uint8) * np.uint8(2)
    faces = edges or tuple(np.arange(n + 1, dtype=np.float64) for n in must.shape)
    addresses = [work.put(np.ascontiguousarray(line, dtype=np.float64)) for line in faces]
    cells_at = work.put(cells)
    sums = work.empty(tuple(n + 1 for n in must.shape), np.uint32)
    out = work.empty((most, 6), np.uint32)
    count = int(work.call("cover", cells_at, sums, *addresses, out, most, *must.shape))
    if count > most:
        return None
    rows = work.view(out, (count, 6), np.uint32).astype(np.int64).tolist()
    return [IntBox(*row) for row in rows]


def covered(
    must: NDArray[np.bool_],
    may: NDArray[np.bool_] | None = None,
    edges: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]] | None = None,
    most: int = 100_000,
) -> list[IntBox]:
    """Return the same as `cover`.

    Raises
    ------
    FitplanError
        There would be too many boxes.
    """
    found = cover(must, may, edges, most)
    if found is None:
        raise FitplanError(f"found a body that falls into more than {most} boxes; draw it more coarsely")
    return found


def _down(value: float) -> int:
    return math.floor(value * TENTHS + _SLACK)


def _up(value: float) -> int:
    return math.ceil(value * TENTHS - _SLACK)


def box_in_tenths(box: Box, outward: bool) -> IntBox | None:
    """Return a box in whole tenths, corners rounded outwards or inwards; None when nothing is left."""
    return _piece_in_tenths((box.low, box.high), outward)


def _piece_in_tenths(piece: _Piece, outward: bool) -> IntBox | None:
    # Written out: a train asks for tens of thousands.
    (x0, y0, z0), (x1, y1, z1) = piece
    first, last = (_down, _up) if outward else (_up, _down)
    a, b, c, d, e, f = first(x0), first(y0), first(z0), last(x1), last(y1), last(z1)
    return IntBox(a, b, c, d, e, f) if a < d and b < e and c < f else None


@lru_cache(maxsize=8192)  # a body is cut up again and again, with other bricks taken out of it
def solid_in_tenths(solid: Solid, outward: bool, step: float = STEP) -> tuple[IntBox, ...]:
    """Return boxes in whole tenths that hold a solid (outward) or lie within it.

    A box is itself. Cylinders and wedges are cut into strips `step` mm wide, each as broad as the solid is at
    its broadest there (outward) or its narrowest. A step of at least a cylinder's diameter gives the square
    round it, or the square within it.
    """
    match solid:
        case Cylinder():
            pieces = _disc_strips(solid, outward, step)
        case Wedge():
            pieces = _half_strips(solid, outward, step)
        case _:
            pieces = [(solid.low, solid.high)]
    boxes = (_piece_in_tenths(piece, outward) for piece in pieces)
    return tuple(_joined([box for box in boxes if box is not None]))


def _joined(boxes: list[IntBox]) -> list[IntBox]:
    """Join neighbours in the list that make up one box together."""
    found: list[IntBox] = []
    for box in boxes:
        if found:
            last = found[-1]
            differ = [axis for axis in range(3) if (last[axis], last[axis + 3]) != (box[axis], box[axis + 3])]
            if len(differ) == 1 and last[differ[0] + 3] >= box[differ[0]] >= last[differ[0]]:
                corners = [*last]
                corners[differ[0] + 3] = max(last[differ[0] + 3], box[differ[0] + 3])
                found[-1] = IntBox(*corners)
                continue
        found.append(box)
    return found


def _piece(low: dict[int, float], high: dict[int, float]) -> _Piece:
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def _disc_strips(solid: Cylinder, outward: bool, step: float) -> list[_Piece]:
    along = AXES.index(solid.axis)
    one, other = (axis for axis in range(3) if axis != along)
    radius, bounds = solid.radius, solid.bounds
    if step >= 2 * radius:
        half = radius if outward else radius / math.sqrt(2)
        low = {along: bounds.low[along], one: solid.start[one] - half, other: solid.start[other] - half}
        high = {along: bounds.high[along], one: solid.start[one] + half, other: solid.start[other] + half}
        return [_piece(low, high)]
    count = math.ceil(radius / step)
    # All cuts but the outermost are moved to whole tenths, so that strips do not gape once rounded.
    cuts = [min(k * step, radius) for k in range(count + 1)]
    pieces: list[_Piece] = []
    for side in (-1, 1):
        spans = [(near, far) for near, far in pairwise(cuts) if far > near]
        for near, far in reversed(spans) if side < 0 else spans:
            ends = sorted(_on_tenths(solid.start[one] + side * cut, cut < radius) for cut in (near, far))
            half = _half_width(solid, one, ends, outward)
            if half <= 0:
                continue
            low = {along: bounds.low[along], one: ends[0], other: solid.start[other] - half}
            high = {along: bounds.high[along], one: ends[1], other: solid.start[other] + half}
            pieces.append(_piece(low, high))
    if not outward:
        # Strips fall short of the outermost tenths; a thin spine across them reaches all but the last.
        thin = min(_SPINE, radius / 4)
        reach = math.sqrt(radius**2 - thin**2)
        low = {along: bounds.low[along], one: solid.start[one] - reach, other: solid.start[other] - thin}
        high = {along: bounds.high[along], one: solid.start[one] + reach, other: solid.start[other] + thin}
        pieces.append(_piece(low, high))
    return pieces


def _on_tenths(value: float, moved: bool) -> float:
    return round(value * TENTHS) / TENTHS if moved else value


def _half_width(solid: Cylinder, axis: int, ends: list[float], outward: bool) -> float:
    """Half width of the disc over a strip whose faces have been moved to whole tenths."""
    middle = solid.start[axis]
    first, last = (_down, _up) if outward else (_up, _down)
    low, high = first(ends[0]) / TENTHS - middle, last(ends[1]) / TENTHS - middle
    aside = 0.0 if outward and low < 0 < high else min(abs(low), abs(high))
    if not outward:
        aside = max(abs(low), abs(high))
    return math.sqrt(max(solid.radius**2 - aside**2, 0.0))


def _half_strips(solid: Wedge, outward: bool, step: float) -> list[_Piece]:
    base, back = (axis_of(face) for face in (solid.base, solid.back))
    box = solid.box
    depth, height = box.size[back], box.size[base]
    count = max(1, math.ceil(depth / step - _SLACK))
    first, last = (_down, _up) if outward else (_up, _down)
    pieces: list[_Piece] = []
    for k in range(count):
        near, far = k * step, min((k + 1) * step, depth)
        low, high = dict(enumerate(box.low)), dict(enumerate(box.high))
        if not is_forward(solid.back):
            low[back] = _on_tenths(box.low[back] + near, k > 0)
            high[back] = _on_tenths(box.low[back] + far, k < count - 1)
            share = (first(low[back]) / TENTHS if outward else last(high[back]) / TENTHS) - box.low[back]
        else:
            low[back] = _on_tenths(box.high[back] - far, k < count - 1)
            high[back] = _on_tenths(box.high[back] - near, k > 0)
            share = box.high[back] - (last(high[back]) / TENTHS if outward else first(low[back]) / TENTHS)
        room = height * (1 - min(max(share / depth, 0.0), 1.0))
        if room <= 0:
            continue
        if not is_forward(solid.base):
            high[base] = box.low[base] + room
        else:
            low[base] = box.high[base] - room
        pieces.append(_piece(low, high))
    return pieces


def corner_of(box: IntBox, edges: tuple[NDArray[np.int64], ...]) -> IntBox:
    """Return a box in cells as a box between the faces of those cells."""
    low = (int(line[start]) for line, start in zip(edges, box[:3], strict=True))
    high = (int(line[stop]) for line, stop in zip(edges, box[3:], strict=True))
    return IntBox(*low, *high)
