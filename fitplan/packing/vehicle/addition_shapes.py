"""What additions are described by: parts that hang, pieces on the stud grid, and what a candidate costs.

What a stack bears is reckoned about the edge of its foot that it would turn over, with each stud pulled in
the middle of its foot (`STUD_HOLDS_N`, common practice, no source).

All lengths are in tenths of a millimetre. Sizes of pieces and their heights are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.cover import TENTHS
from fitplan.model.facts import G_M_S2, STUD_HOLDS_N
from fitplan.model.placed import Piece, Shelf, ShelfKind
from fitplan.model.solids import Box
from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.support import Rect
from fitplan.units import PLATE, STUD, STUD_HEIGHT

CELL = round(STUD * TENTHS)
LAYER = round(PLATE * TENTHS)
KNOB = round(STUD_HEIGHT * TENTHS)
SIZES = ((1, 1), (1, 2), (1, 3), (1, 4), (1, 6), (1, 8), (2, 2), (2, 3), (2, 4), (2, 6))
"""Footprints in studs that bricks, plates and tiles are common in (common practice, no source)."""
LEAST_TOUCH = 20
"""A contact under a part is at least so long and wide."""
LEAST_HELD = 1600
"""A part's side lies against a tile with at least so much of its face (tenths of a mm, squared)."""
CLIP_MOST_G = 20.0
"""No more than this hangs on one side stud, glued to its tile (common practice, no source)."""
SEAT = 8
"""A tile on a side stud begins so far above the underside of its brick, which is three plates high."""
FEET = ((2, 1), (1, 2), (2, 2))
"""Cells of a column beside a part, the fewest first."""
FOOTPRINTS = tuple(sorted({*SIZES, *((wide, long) for long, wide in SIZES)}))


@dataclass(frozen=True)
class UnsupportedPart:
    """A part that nothing carries: its solid boxes, what it keeps clear itself, and what is around it."""

    boxes: tuple[IntBox, ...]
    own_room: tuple[IntBox, ...]
    around: tuple[IntBox, ...]
    """Other parts with what they keep clear, and what has been added already."""
    mass_g: float = 0.0
    push_n: float = 0.0
    """What pushes it sideways in a tumble: its weight at 1 g, and the pull of a lead."""
    flat: tuple[tuple[IntBox, ...], ...] = ()
    """Its boxes with a flat side along x, and along y, as tape holds nothing round; empty: all are flat."""


Merit: TypeAlias = tuple[bool, bool, bool, int]
"""Not steady, not firm, not bearing a push sideways, and how many pieces."""


@dataclass(frozen=True)
class Candidate:
    """One addition; ``merit`` and then ``size`` sort from the cheapest up."""

    kind: ShelfKind
    pieces: tuple[tuple[str, IntBox], ...]
    over: tuple[tuple[str, IntBox], ...]
    """What lies between the last piece and the part: the piece's own studs, and a pad."""
    studs: int
    steady: bool
    touch: Rect | None = None
    """Where the part comes to lie on it from above."""
    firm: bool = True
    """Whether the part's middle lies well within what carries it, and not at its edge."""
    bears: bool = True
    """Whether its studs bear the part's push sideways."""

    @property
    def merit(self) -> Merit:
        """What is looked at before all else."""
        return self.judged(self.steady, self.firm)

    def judged(self, steady: bool, firm: bool) -> Merit:
        """Return its merit where it turns out how the part stands on it."""
        return (not steady, not firm, not self.bears, len(self.pieces))

    @property
    def size(self) -> tuple[int, int, tuple[tuple[str, IntBox], ...]]:
        """What tells those of equal merit apart: few studs in all, a thin pad, and any fixed order."""
        area = sum((box[3] - box[0]) * (box[4] - box[1]) * (box[5] - box[2]) for _, box in self.pieces)
        thick = sum(min(box[i + 3] - box[i] for i in range(3)) for name, box in self.over if name == "pad")
        return (area, thick, self.pieces)

    def as_shelf(self) -> Shelf:
        """Return the addition in millimetres."""
        pieces = [Piece(name, in_mm(box)) for name, box in (*self.pieces, *self.over)]
        return Shelf(self.kind, tuple(pieces), self.studs, self.steady)


def bottoms(boxes: Sequence[IntBox]) -> Iterator[tuple[int, list[IntBox]]]:
    """Yield each height at which a part has an underside, with those of its boxes that have it there."""
    for bottom in sorted({box[2] for box in boxes}):
        yield bottom, [box for box in boxes if box[2] == bottom]


def rectangles(shape: tuple[int, ...], faces: Sequence[IntBox]) -> NDArray[np.int32]:
    """Return rectangles of cells, (n, 4), of common sizes, that reach under the hull of some faces."""
    rows = np.array(faces, dtype=np.int64)
    low, high = rows[:, :2].min(axis=0) // CELL, -(-rows[:, 3:5].max(axis=0) // CELL)
    every = _every_rectangle(shape)
    found: NDArray[np.int32] = every[((every[:, :2] < high) & (every[:, 2:] > low)).all(axis=1)]
    return found


@lru_cache(maxsize=64)
def _every_rectangle(shape: tuple[int, ...]) -> NDArray[np.int32]:
    """Return all rectangles of common sizes in a grid of (long, wide) cells, (n, 4)."""
    long, wide = shape
    found = [
        (i, j, i + m, j + n) for m, n in FOOTPRINTS for i in range(long - m + 1) for j in range(wide - n + 1)
    ]
    return np.array(found, dtype=np.int32).reshape(-1, 4)


def touching(arms: NDArray[np.int32], faces: Sequence[IntBox]) -> Iterator[tuple[Rect, Rect]]:
    """Yield each arm that touches a part's underside, with the rectangle round all its contacts."""
    under, over = np.array(faces, dtype=np.int32), arms[:, :, None] * np.int32(CELL)
    (x0, x1), (y0, y1) = (
        (np.maximum(over[:, i], under[:, i]), np.minimum(over[:, i + 2], under[:, i + 3])) for i in (0, 1)
    )
    met = (x1 - x0 >= LEAST_TOUCH) & (y1 - y0 >= LEAST_TOUCH)
    some, far = met.any(axis=1), np.iinfo(np.int32).max
    met = met[some]
    low = [np.where(met, edge[some], far).min(axis=1) for edge in (x0, y0)]
    high = [np.where(met, edge[some], -far).max(axis=1) for edge in (x1, y1)]
    touches = np.stack([*low, *high], axis=1)
    for arm, touch in zip(arms[some].tolist(), touches.tolist(), strict=True):
        yield rect_of(arm), rect_of(touch)


Arms: TypeAlias = tuple[tuple[int, tuple[tuple[Rect, Rect], ...]], ...]
"""By height of an underside, rectangles of cells that reach under it, each with where they touch it."""


def arms_under(shape: tuple[int, ...], part: UnsupportedPart) -> Arms:
    """Return all arms that reach under a part over a grid of (long, wide) cells."""
    return _arms_under(shape, part.boxes)


@lru_cache(maxsize=64)  # what is around a part changes more often than where it lies
def _arms_under(shape: tuple[int, ...], boxes: tuple[IntBox, ...]) -> Arms:
    return tuple(
        (bottom, tuple(touching(rectangles(shape, faces), faces))) for bottom, faces in bottoms(boxes)
    )


@lru_cache(maxsize=4096)  # under many arms there are the same stacks
def stack(cells: tuple[int, int, int, int], level: int, top: int) -> tuple[tuple[str, IntBox], ...]:
    """Return a stack of as few pieces as there can be."""
    layers = (top - level) // LAYER
    found = []
    at = level
    for kind, count in [("brick", 3)] * (layers // 3) + [("plate", 1)] * (layers % 3):
        found.append(piece(cells, kind, at, at + count * LAYER))
        at += count * LAYER
    return tuple(found)


def piece(cells: tuple[int, int, int, int], kind: str, low: int, high: int) -> tuple[str, IntBox]:
    """Return a brick, plate or tile over cells, between two heights, with its name."""
    i0, j0, i1, j1 = cells
    short, long = sorted((i1 - i0, j1 - j0))
    return (f"{kind} {short} × {long}", (i0 * CELL, j0 * CELL, low, i1 * CELL, j1 * CELL, high))


def rect_of(edges: Sequence[int]) -> Rect:
    """Return four edges as a rectangle."""
    x0, y0, x1, y1 = edges
    return (x0, y0, x1, y1)


def box_of(edges: Sequence[int]) -> IntBox:
    """Return six edges as a box."""
    x0, y0, z0, x1, y1, z1 = edges
    return (x0, y0, z0, x1, y1, z1)


def in_tenths(box: Box) -> IntBox:
    """Return a box in tenths of a millimetre, to the nearest."""
    return box_of([round(value * TENTHS) for value in (*box.low, *box.high)])


def in_mm(box: IntBox) -> Box:
    """Return a box in millimetres."""
    return Box(
        (box[0] / TENTHS, box[1] / TENTHS, box[2] / TENTHS),
        (box[3] / TENTHS, box[4] / TENTHS, box[5] / TENTHS),
    )


@lru_cache(maxsize=4096)  # the same foot bears the same part at many heights
def levers(mass_g: float, foot: Rect, center: tuple[float, float], *, hung: bool = False) -> bool:
    """Return whether the studs of a foot (cells) hold a part's weight beside it as a lever.

    Parameters
    ----------
    hung
        The foot hangs by its studs, so it turns about the edge away from the part; else about the near one.
    """
    weight = mass_g / 1000 * G_M_S2
    count = (foot[2] - foot[0]) * (foot[3] - foot[1])
    for axis in (0, 1):
        away = abs(center[axis] - (foot[axis] + foot[axis + 2]) * CELL / 2) / TENTHS
        # All studs together hold as if they were in the middle, half a foot's width from its edge.
        half = (foot[axis + 2] - foot[axis]) * CELL / 2 / TENTHS
        if weight * (away + (half if hung else -half)) > count * STUD_HOLDS_N * half:
            return False
    return True


@lru_cache(maxsize=4096)
def bears_push(push_n: float, height: float, feet: tuple[tuple[Rect, int], ...]) -> bool:
    """Return whether studs hold a push that comes ``height`` tenths beside them.

    Parameters
    ----------
    feet
        Cells of each foot, and on how many studs it is. All of them turn over the same edge.
    """
    if push_n > sum(studs for _, studs in feet) * STUD_HOLDS_N:
        return False
    for axis in (0, 1):
        for edge in (min(foot[axis] for foot, _ in feet), max(foot[axis + 2] for foot, _ in feet)):
            most = sum(studs * abs((foot[axis] + foot[axis + 2]) / 2 - edge) for foot, studs in feet)
            if push_n * abs(height) > most * STUD_HOLDS_N * CELL:
                return False
    return True


class Cells:
    """Cells of a grid of studs, asked about rectangle by rectangle: sums of rows and columns answer at once.

    Parameters
    ----------
    cells
        (long, wide) bool.
    """

    def __init__(self, cells: NDArray[np.bool_]) -> None:
        sums = np.zeros((cells.shape[0] + 1, cells.shape[1] + 1), dtype=np.int64)
        sums[1:, 1:] = cells.cumsum(axis=0).cumsum(axis=1)
        self._sums: list[list[int]] = sums.tolist()

    def all(self, rect: Rect) -> bool:
        """Tell whether all cells of a rectangle within the grid are True."""
        i0, j0, i1, j1 = rect
        first, last = self._sums[i0], self._sums[i1]
        return last[j1] - last[j0] - first[j1] + first[j0] == (i1 - i0) * (j1 - j0)

    def blocks(self, rect: Rect, long: int, wide: int) -> Iterator[Rect]:
        """Yield blocks of so many cells within a rectangle all of which are True."""
        i0, j0, i1, j1 = rect
        for i in range(i0, i1 - long + 1):
            first, last = self._sums[i], self._sums[i + long]
            for j in range(j0, j1 - wide + 1):
                if last[j + wide] - last[j] - first[j + wide] + first[j] == long * wide:
                    yield (i, j, i + long, j + wide)

    def any(self, rect: Rect) -> bool:
        """Tell whether any cell of a rectangle within the grid is True."""
        i0, j0, i1, j1 = rect
        first, last = self._sums[i0], self._sums[i1]
        return last[j1] - last[j0] - first[j1] + first[j0] > 0


def foot_of(
    arm: Rect,
    below: Cells,
    mass_g: float,
    center: tuple[float, float],
    push_n: float = 0.0,
    height: float = 0.0,
) -> Rect | None:
    """Return two to four neighbouring cells of an arm on which a column can stand and bear a part, or None.

    The fewest of those that bear a push sideways, too, and where none do the fewest that bear the weight.
    """
    if not below.any(arm):
        return None
    best: Rect | None = None
    for m, n in FEET:
        bears: bool | None = None  # the same wherever the foot is
        for foot in below.blocks(arm, m, n):
            if not levers(mass_g, foot, center):
                continue
            if bears is None:
                bears = bears_push(push_n, height, ((foot, m * n),))
            if bears:
                return foot
            best = best or foot
    return best


def feet_of(arm: Rect, below: Cells, mass_g: float, center: tuple[float, float]) -> Iterator[Rect]:
    """Yield all two to four neighbouring cells of an arm on which a column can stand and bear a part."""
    for m, n in FEET:
        for foot in below.blocks(arm, m, n):
            if levers(mass_g, foot, center):
                yield foot
