"""The body of a vehicle in exact millimetres: which state governs at each point.

What is drawn later replaces what was drawn before, so the state at a point is that of the last solid that
contains it. The planes of all boxes cut the hull into cells. A cell that no round or sloping outline passes
has one state; in any other the solids drawn after its last box are kept as a short list, in order, and are
asked one by one, latest first.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import Box, Vec, bounds_of
from fitplan.model.vehicle import State
from fitplan.verify.overlap import (
    EDGE,
    bounds_overlap,
    contained,
    overlap,
    overlap_boxes,
    shadow_box,
    way_out,
)
from fitplan.verify.shapes import PLANE, Disc, Prism, Shape

GRAIN = 0.1
"""Where outlines of several round or sloping solids cross, boxes smaller than this (mm) only touch."""

_Met: TypeAlias = tuple[int, Box, Callable[[], float]]
"""A piece that is met, a box round what is shared, and what tells how deep that is (mm)."""


@dataclass(frozen=True)
class BodyPiece:
    """A solid of the body with its state and what to call it in a message."""

    shape: Shape
    state: State
    name: str
    smooth: bool = False


@dataclass(frozen=True)
class Hit:
    """A piece that something runs into, a box round what they share, and how deep that is (mm)."""

    piece: BodyPiece
    region: Box
    depth: float


@dataclass(frozen=True)
class StateCells:
    """Cells with one state, as corners (n, 3), and the index of the piece that governs each (n,)."""

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    governs: NDArray[np.int64]


class Body:
    """Pieces in drawing order, cut into cells.

    Parameters
    ----------
    hull
        The box that is cut into cells. Nothing is known outside it.
    background
        The state where no piece is drawn.
    pieces
        In drawing order.
    """

    def __init__(self, hull: Box, background: State, pieces: Sequence[BodyPiece]) -> None:
        self.hull = hull
        self.pieces = (BodyPiece(hull, background, background), *pieces)
        self.codes = np.array([STATE_CODES[piece.state] for piece in self.pieces])
        planes = [_planes(self.pieces, hull, axis) for axis in range(3)]
        grid, mixed = self._draw(planes)
        self.cells = _runs(planes, grid, mixed)
        x, y, z = (line.tolist() for line in planes)
        self.mixed = [
            (Box((x[i], y[j], z[k]), (x[i + 1], y[j + 1], z[k + 1])), [int(grid[i, j, k]), *later])
            for (i, j, k), later in sorted(mixed.items())
        ]
        self.mixed_low = _columns([box.low for box, _ in self.mixed])
        self.mixed_high = _columns([box.high for box, _ in self.mixed])

    def _draw(
        self, planes: list[NDArray[np.float64]]
    ) -> tuple[NDArray[np.int64], dict[tuple[int, int, int], list[int]]]:
        """Return the piece that governs each cell, and for cells cut by an outline the later pieces too."""
        grid = np.zeros(tuple(len(line) - 1 for line in planes), dtype=np.int64)
        mixed: dict[tuple[int, int, int], list[int]] = {}
        low, high = self._bounds
        first = [
            np.maximum(np.searchsorted(line, low[:, i] + 1e-9, "right") - 1, 0).tolist()
            for i, line in enumerate(planes)
        ]
        last = [
            np.minimum(np.searchsorted(line, high[:, i] - 1e-9, "left"), len(line) - 1).tolist()
            for i, line in enumerate(planes)
        ]
        for index, piece in enumerate(self.pieces):
            span = [(first[i][index], last[i][index]) for i in range(3)]
            if index == 0 or any(one >= other for one, other in span):
                continue
            view = grid[tuple(slice(one, other) for one, other in span)]
            if isinstance(piece.shape, Box):
                view[...] = index
                continue
            lines = [line[one : other + 1] for line, (one, other) in zip(planes, span, strict=True)]
            touched, whole = _cells_met(piece.shape, lines)
            view[whole] = index
            for cell in (np.argwhere(touched & ~whole) + [one for one, _ in span]).tolist():
                mixed.setdefault((cell[0], cell[1], cell[2]), []).append(index)
        left = {cell: [index for index in later if index > grid[cell]] for cell, later in mixed.items()}
        return grid, {cell: later for cell, later in left.items() if later}

    def cells_in(self, codes: list[int]) -> NDArray[np.bool_]:
        """Return which cells of one state are in one of these (n,)."""
        wanted = np.zeros(len(STATE_CODES), dtype=bool)
        wanted[codes] = True
        return wanted[self._cell_codes]

    @cached_property
    def _cell_codes(self) -> NDArray[np.int64]:
        return self.codes[self.cells.governs]

    def hits(self, shape: Shape, states: Collection[State]) -> list[Hit]:
        """Return the pieces in one of these states that a shape shares inner points with, one hit a piece."""
        codes = [STATE_CODES[state] for state in states]
        whole = self._whole_joined(shape, codes)
        hits = {index: Hit(self.pieces[index], box, min(box.size)) for index, box in whole.items()}
        for index, part, deep in self._mixed_met(shape, codes):
            known, depth = hits.get(index), float(deep())
            if known is None or known.depth < depth:
                hits[index] = Hit(self.pieces[index], part, depth)
        return [hit for _, hit in sorted(hits.items())]

    def regions(self, shape: Shape, states: Collection[State]) -> list[Box]:
        """Return boxes round all that a shape shares with pieces in one of these states.

        Cells of one piece alone are joined; where pieces cut one another, as at studs, each cell is a box of
        its own, so that none of what is touched is lost.
        """
        codes = [STATE_CODES[state] for state in states]
        whole = self._whole_joined(shape, codes)
        return list(whole.values()) + [part for _, part, _ in self._mixed_met(shape, codes)]

    def _whole_joined(self, shape: Shape, codes: list[int]) -> dict[int, Box]:
        """Return by piece the box round all that a shape shares with it in cells of one state."""
        found: dict[int, Box] = {}
        for index, part in self._whole(shape, codes):
            found[index] = bounds_of((found[index], part)) if index in found else part
        return found

    def _whole(self, shape: Shape, codes: list[int]) -> Iterator[tuple[int, Box]]:
        """Yield piece and shared box for each cell of one state that a shape meets."""
        cells = self.cells
        bounds = shape.bounds
        near = np.flatnonzero(
            ((cells.low < np.asarray(bounds.high)) & (cells.high > np.asarray(bounds.low))).all(axis=1)
            & self.cells_in(codes)
        )
        met = near[overlap_boxes(shape, cells.low[near], cells.high[near])]
        corners = (cells.low[met].tolist(), cells.high[met].tolist(), cells.governs[met].tolist())
        for low, high, governs in zip(*corners, strict=True):
            part = shadow_box(shape, Box((low[0], low[1], low[2]), (high[0], high[1], high[2])))
            if part is not None:
                yield governs, part

    def _mixed_met(self, shape: Shape, codes: list[int]) -> Iterator[_Met]:
        """Yield what is met in each cell of several pieces in which a shape meets one."""
        for number in np.flatnonzero(overlap_boxes(shape, self.mixed_low, self.mixed_high)):
            box, stack = self.mixed[int(number)]
            met = self._search(shape, box, stack, codes)
            if met is not None:
                yield met

    def _search(self, shape: Shape, box: Box, stack: list[int], codes: list[int]) -> _Met | None:
        """Return where in a cell a shape lies in a piece of one of these states."""
        part = shadow_box(shape, box)
        if part is None:
            return None
        left: list[int] = []
        for index in reversed(stack):
            piece = self.pieces[index].shape
            if index != stack[0] and (not overlap(shape, piece, part) or self.covered(piece, part, left)):
                continue
            if index != stack[0] and not left and int(self.codes[index]) in codes:
                return index, part, partial(_depth, shape, part, piece)
            left.insert(0, index)
            if index == stack[0] or contained(shape, part, piece, 1e-9):
                break  # what was drawn before is covered
        wanted = [int(self.codes[index]) in codes for index in left]
        if not any(wanted):
            return None
        if all(wanted):
            return left[-1], part, partial(min, part.size)
        if len(left) == 2:
            # All of the cell is in the way but what one clear piece leaves, and the shape stands out of it.
            return left[0], part, partial(self._standing_out, shape, part, self.pieces[left[1]].shape)
        longest = max(range(3), key=lambda i: part.size[i])
        if part.size[longest] <= GRAIN:
            return None
        for half in halves(part, longest, part.center[longest]):
            met = self._search(shape, half, left, codes)
            if met is not None:
                return met
        return None

    def covered(self, shape: Shape, box: Box, later: list[int]) -> bool:
        """Return True when what of a shape lies in a box lies inside one of the pieces drawn later."""
        return any(contained(shape, box, self.pieces[index].shape, 1e-9) for index in later)

    @staticmethod
    def _standing_out(shape: Shape, within: Box, holder: Shape) -> float:
        """Return by how much a shape inside a box stands out of a holder at most, to 1e-4 mm."""
        near, far = 0.0, max(within.size)
        while far - near > 1e-4:
            middle = (near + far) / 2
            if contained(shape, within, holder, middle):
                far = middle
            else:
                near = middle
        return far

    def state_at(self, point: Vec) -> State:
        """Return the state at a point, straight from the drawing order."""
        at = np.array(point)
        low, high = self._bounds
        near = (np.minimum(high, at + 1e-7) - np.maximum(low, at - 1e-7) > EDGE).all(axis=1)
        for index in np.flatnonzero(near)[::-1]:
            piece = self.pieces[int(index)]
            if index and holds(piece.shape, point):
                return piece.state
        return self.pieces[0].state

    @cached_property
    def _bounds(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """(n, 3) lower and upper corners of the boxes round all pieces."""
        bounds = [piece.shape.bounds for piece in self.pieces]
        return _columns([box.low for box in bounds]), _columns([box.high for box in bounds])


STATE_CODES: dict[State, int] = {"fixed": 0, "removable": 1, "keep-clear": 2, "free": 3, "outside": 4}


def _depth(shape: Shape, part: Box, piece: Shape) -> float:
    """Return how deep a shape lies in a piece within a box that they share."""
    return min(*part.size, way_out(shape, piece)[0])


def _planes(pieces: Sequence[BodyPiece], hull: Box, axis: int) -> NDArray[np.float64]:
    """Return the ordered planes of all boxes and bounds across an axis, inside the hull."""
    every = [
        value for piece in pieces for value in (piece.shape.bounds.low[axis], piece.shape.bounds.high[axis])
    ]
    low, high = hull.low[axis], hull.high[axis]
    line = np.unique(np.clip(np.array(every), low, high))
    keep = np.concatenate([[True], np.diff(line) > 1e-9])
    found: NDArray[np.float64] = line[keep]
    return found


def _runs(
    planes: list[NDArray[np.float64]],
    grid: NDArray[np.int64],
    mixed: dict[tuple[int, int, int], list[int]],
) -> StateCells:
    """Return the cells without outlines, neighbours along x that one piece governs joined."""
    marked = grid.copy()
    for cell in mixed:
        marked[cell] = -1
    changes = np.ones(marked.shape, dtype=bool)
    changes[1:] = marked[1:] != marked[:-1]
    starts = np.argwhere((changes & (marked >= 0)).transpose(1, 2, 0))[:, [2, 0, 1]]
    # Along x, a run ends where the next change is, or at the last plane.
    last = np.ones(marked.shape, dtype=bool)
    last[:-1] = changes[1:]
    ends = np.argwhere((last & (marked >= 0)).transpose(1, 2, 0))[:, [2, 0, 1]]
    low = np.stack([planes[i][starts[:, i]] for i in range(3)]).T
    high = np.stack([planes[i][ends[:, i] + 1] for i in range(3)]).T
    return StateCells(low, high, marked[tuple(starts.T)])


def _cells_met(
    prism: Prism, planes: Sequence[NDArray[np.float64]]
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which cells between planes share inner points with a prism, and which lie wholly inside it."""
    low, high = [line[:-1] for line in planes], [line[1:] for line in planes]
    bounds = prism.bounds
    met = [np.minimum(high[i], bounds.high[i]) - np.maximum(low[i], bounds.low[i]) > EDGE for i in range(3)]
    axis, (u, v) = prism.axis, PLANE[prism.axis]
    touched, inside = met[u][:, None] & met[v], np.ones((len(low[u]), len(low[v])), dtype=bool)
    if isinstance(prism.profile, Disc):
        near, far = [], []
        for i, middle in zip((u, v), prism.profile.center, strict=True):
            near.append(np.maximum(np.maximum(low[i] - middle, middle - high[i]), 0.0))
            far.append(np.maximum(np.abs(low[i] - middle), np.abs(high[i] - middle)))
        touched &= np.hypot.outer(*near) < prism.profile.radius - EDGE
        inside &= np.hypot.outer(*far) <= prism.profile.radius + 1e-9
    else:
        for side in prism.profile.half_planes():
            one, other = (
                np.multiply.outer((low[i], high[i]), n) for i, n in zip((u, v), side.normal, strict=True)
            )
            touched &= np.add.outer(one.min(axis=0), other.min(axis=0)) < side.limit - EDGE
            inside &= np.add.outer(one.max(axis=0), other.max(axis=0)) <= side.limit + 1e-9
    held = (low[axis] >= prism.low - 1e-9) & (high[axis] <= prism.high + 1e-9)
    along = [1, 1, 1]
    along[axis] = -1
    across = [len(line) for line in low]
    across[axis] = 1
    touched = touched.reshape(across) & met[axis].reshape(along)
    return touched, touched & inside.reshape(across) & held.reshape(along)


def _columns(points: Sequence[Vec]) -> NDArray[np.float64]:
    """Return points as (n, 3), each axis in one stretch of memory: all are compared axis by axis."""
    return np.array(points, dtype=np.float64).reshape(-1, 3).copy(order="F")


def halves(box: Box, axis: int, middle: float) -> tuple[Box, Box]:
    """Return a box cut in two across an axis."""
    return (
        box.with_span(axis, box.low[axis], middle),
        box.with_span(axis, middle, box.high[axis]),
    )


def holds(shape: Shape, point: Vec) -> bool:
    """Return True when a point lies inside a shape or on its surface, to 1e-7 mm."""
    grain = Box(
        (point[0] - 1e-7, point[1] - 1e-7, point[2] - 1e-7),
        (point[0] + 1e-7, point[1] + 1e-7, point[2] + 1e-7),
    )
    return bounds_overlap(shape.bounds, grain) and overlap(shape, grain)
