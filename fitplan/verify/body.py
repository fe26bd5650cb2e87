"""The body of a vehicle in exact millimetres: which state governs at each point.

What is drawn later replaces what was drawn before, so the state at a point is that of the last solid that
contains it. The planes of all boxes cut the hull into cells. A cell that no round or sloping outline passes
has one state; in any other the solids drawn after its last box are kept as a short list, in order, and are
asked one by one, latest first.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import Box, Solid, Vec
from fitplan.model.vehicle import State
from fitplan.verify.distance import line_to_boxes, line_to_shape, nearest_in_prism, nearest_on_line
from fitplan.verify.overlap import (
    beyond_edges,
    bounds_overlap,
    inside,
    nearest_outline,
    overlap,
    overlap_boxes,
    shadow_box,
    way_out,
)
from fitplan.verify.shapes import PLANE, Disc, Prism, Shape, shape_of

GRAIN = 0.02
"""Boxes where outlines cross that are smaller than this (mm) are not divided further: they only touch."""
WIRE_GRAIN = 0.05
"""The same for wires; the state in the middle of the box then speaks for it."""


@dataclass(frozen=True)
class Piece:
    """A solid of the body with its state and what to call it in a message."""

    shape: Shape
    state: State
    name: str


@dataclass(frozen=True)
class Hit:
    """A piece that something runs into, a box round what they share, and how deep that is (mm)."""

    piece: Piece
    region: Box
    depth: float


@dataclass(frozen=True)
class _Cells:
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

    def __init__(self, hull: Box, background: State, pieces: Sequence[Piece]) -> None:
        self.pieces = (Piece(hull, background, background), *pieces)
        self._states = np.array([_STATE_CODES[piece.state] for piece in self.pieces])
        planes = [_planes(self.pieces, hull, axis) for axis in range(3)]
        grid, mixed = self._draw(planes)
        self._cells = _runs(planes, grid, mixed)
        self._mixed = [
            (
                Box(
                    tuple(planes[i][cell[i]] for i in range(3)),
                    tuple(planes[i][cell[i] + 1] for i in range(3)),
                ),
                [int(grid[cell]), *later],
            )
            for cell, later in sorted(mixed.items())
        ]
        self._mixed_low = np.array([box.low for box, _ in self._mixed]).reshape(-1, 3)
        self._mixed_high = np.array([box.high for box, _ in self._mixed]).reshape(-1, 3)

    def _draw(
        self, planes: list[NDArray[np.float64]]
    ) -> tuple[NDArray[np.int64], dict[tuple[int, int, int], list[int]]]:
        """Return the piece that governs each cell, and for cells cut by an outline the later pieces too."""
        grid = np.zeros(tuple(len(line) - 1 for line in planes), dtype=np.int64)
        mixed: dict[tuple[int, int, int], list[int]] = {}
        for index, piece in enumerate(self.pieces):
            if index == 0:
                continue
            bounds = piece.shape.bounds
            span = []
            for axis in range(3):
                first = int(np.searchsorted(planes[axis], bounds.low[axis] + 1e-9, "right")) - 1
                last = int(np.searchsorted(planes[axis], bounds.high[axis] - 1e-9, "left"))
                span.append((max(first, 0), min(last, len(planes[axis]) - 1)))
            if any(first >= last for first, last in span):
                continue
            block = tuple(slice(first, last) for first, last in span)
            if isinstance(piece.shape, Box):
                grid[block] = index
                continue
            shape = tuple(last - first for first, last in span)
            at = np.stack(np.meshgrid(*(np.arange(first, last) for first, last in span), indexing="ij"), -1)
            cells = at.reshape(-1, 3)
            low = np.stack([planes[i][cells[:, i]] for i in range(3)], axis=1)
            high = np.stack([planes[i][cells[:, i] + 1] for i in range(3)], axis=1)
            touched = overlap_boxes(piece.shape, low, high)
            whole = touched & _boxes_inside(piece.shape, low, high)
            view = grid[block]
            view[whole.reshape(shape)] = index
            for cell in cells[touched & ~whole]:
                mixed.setdefault((int(cell[0]), int(cell[1]), int(cell[2])), []).append(index)
        left = {cell: [index for index in later if index > grid[cell]] for cell, later in mixed.items()}
        return grid, {cell: later for cell, later in left.items() if later}

    def hits(self, shape: Shape, states: Collection[State]) -> list[Hit]:
        """Return the pieces in one of these states that a shape shares inner points with, one hit a piece."""
        codes = [_STATE_CODES[state] for state in states]
        found: dict[int, Box] = {}
        cells = self._cells
        bounds = shape.bounds
        near = np.flatnonzero(
            ((cells.low < np.asarray(bounds.high)) & (cells.high > np.asarray(bounds.low))).all(axis=1)
            & np.isin(self._states[cells.governs], codes)
        )
        for row in near[overlap_boxes(shape, cells.low[near], cells.high[near])]:
            part = shadow_box(shape, Box(tuple(cells.low[row]), tuple(cells.high[row])))
            if part is not None:
                _join(found, int(cells.governs[row]), part)
        hits = {
            index: Hit(self.pieces[index], Box(_plain(box.low), _plain(box.high)), min(box.size))
            for index, box in found.items()
        }
        for number in np.flatnonzero(overlap_boxes(shape, self._mixed_low, self._mixed_high)):
            box, stack = self._mixed[int(number)]
            met = self._search(shape, box, stack, codes)
            if met is not None:
                known = hits.get(met[0])
                if known is None or known.depth < met[2]:
                    hits[met[0]] = Hit(self.pieces[met[0]], met[1], float(met[2]))
        return [hit for _, hit in sorted(hits.items())]

    def _search(
        self, shape: Shape, box: Box, stack: list[int], codes: list[int]
    ) -> tuple[int, Box, float] | None:
        """Return where in a cell a shape lies in a piece of one of these states: index, box, depth."""
        part = shadow_box(shape, box)
        if part is None:
            return None
        left = list(stack)
        while len(left) > 1:
            index = left[-1]
            piece = self.pieces[index].shape
            if not overlap(shape, piece, part):
                left.pop()
            elif int(self._states[index]) in codes:
                return index, part, min(*part.size, way_out(shape, piece)[0])
            elif inside(shape, part, piece, 1e-9):
                return None
            else:
                break
        wanted = [int(self._states[index]) in codes for index in left]
        if not any(wanted):
            return None
        if len(left) == 1:
            return left[0], part, min(part.size)
        if len(left) == 2:
            # All of the cell is in the way but what one clear piece leaves, and the shape stands out of it.
            return left[0], part, self._standing_out(shape, part, self.pieces[left[1]].shape)
        longest = max(range(3), key=lambda i: part.size[i])
        if part.size[longest] <= GRAIN:
            return None
        for half in _halves(part, longest, part.center[longest]):
            met = self._search(shape, half, left, codes)
            if met is not None:
                return met
        return None

    @staticmethod
    def _standing_out(shape: Shape, within: Box, holder: Shape) -> float:
        """Return by how much a shape inside a box stands out of a holder at most, to 1e-4 mm."""
        near, far = 0.0, max(within.size)
        while far - near > 1e-4:
            middle = (near + far) / 2
            if inside(shape, within, holder, middle):
                far = middle
            else:
                near = middle
        return far

    def nearest(
        self, start: Vec, end: Vec, reach: float, states: Collection[State]
    ) -> tuple[float, Piece] | None:
        """Return the piece in one of these states that a straight line passes nearest, and at what distance.

        None when none is nearer than ``reach`` (mm).
        """
        codes = [_STATE_CODES[state] for state in states]
        low = np.minimum(start, end) - reach
        high = np.maximum(start, end) + reach
        cells = self._cells
        near = np.flatnonzero(
            ((cells.low < high) & (cells.high > low)).all(axis=1)
            & np.isin(self._states[cells.governs], codes)
        )
        best, piece = reach, -1
        if near.size:
            away = line_to_boxes(start, end, cells.low[near], cells.high[near])
            row = int(away.argmin())
            if away[row] < best:
                best, piece = float(away[row]), int(cells.governs[near[row]])
        touched = ((self._mixed_low < high) & (self._mixed_high > low)).all(axis=1)
        for number in np.flatnonzero(touched):
            box, stack = self._mixed[int(number)]
            met = self._meets(start, end, best, box, stack, codes)
            if met < 0:
                continue
            # It is nearer than the best so far; halve in on how near.
            far, near_by = 0.0, best
            while near_by - far > 0.005:
                middle = (far + near_by) / 2
                closer = self._meets(start, end, middle, box, stack, codes) if middle > 0.0 else -1
                if closer >= 0:
                    near_by, met = middle, closer
                else:
                    far = middle
            best, piece = near_by, met
        return (best, self.pieces[piece]) if piece >= 0 else None

    def _meets(
        self, start: Vec, end: Vec, radius: float, box: Box, stack: list[int], codes: list[int]
    ) -> int:
        """Return a piece in one of these states that a straight wire runs into inside a cell, or −1.

        The wire is all that lies nearer than ``radius`` to the line.
        """
        span = _span_near(start, end, box, radius)
        if span is None or line_to_shape(start, end, box) >= radius:
            return -1
        left = list(stack)
        while len(left) > 1:
            index = left[-1]
            shape = self.pieces[index].shape
            if not overlap(box, shape):
                left.pop()
                continue
            if isinstance(shape, Prism):
                away, nearest = nearest_on_line(*span, shape)
                if away >= radius:
                    left.pop()
                    continue
                if int(self._states[index]) in codes and _in_box(nearest_in_prism(nearest, shape), box):
                    return index
            if inside(box, box, shape, 1e-9):
                left = [index]
            elif int(self._states[index]) not in codes and _wire_inside(*span, radius, box, shape):
                return -1
            else:
                break
        wanted = [int(self._states[index]) in codes for index in left]
        if not any(wanted):
            return -1
        if all(wanted):
            return left[-1]
        if len(left) == 2 and _breaks_out(*span, radius, box, self.pieces[left[1]].shape):
            return left[0]
        longest = max(range(3), key=lambda i: box.size[i])
        if box.size[longest] <= WIRE_GRAIN:
            # On an outline: the state in the middle of the grain speaks for it.
            holders = (index for index in reversed(left) if _holds(self.pieces[index].shape, box.center))
            index = next(holders, left[0])
            return index if int(self._states[index]) in codes else -1
        halves = _halves(box, longest, box.center[longest])
        for half in sorted(halves, key=lambda half: line_to_shape(start, end, half)):
            index = self._meets(start, end, radius, half, left, codes)
            if index >= 0:
                return index
        return -1

    def state_at(self, point: Vec) -> State:
        """Return the state at a point, straight from the drawing order."""
        for piece in reversed(self.pieces[1:]):
            if _holds(piece.shape, point):
                return piece.state
        return self.pieces[0].state


_STATE_CODES: dict[State, int] = {"fixed": 0, "removable": 1, "keep-clear": 2, "free": 3, "outside": 4}


def pieces_of(solids: Sequence[Solid], state: State, name: str) -> tuple[Piece, ...]:
    """Return solids as pieces in one state under one name."""
    return tuple(Piece(shape_of(solid), state, name) for solid in solids)


def _planes(pieces: Sequence[Piece], hull: Box, axis: int) -> NDArray[np.float64]:
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
) -> _Cells:
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
    low = np.stack([planes[i][starts[:, i]] for i in range(3)], axis=1)
    high = np.stack([planes[i][ends[:, i] + 1] for i in range(3)], axis=1)
    return _Cells(low, high, marked[tuple(starts.T)])


def _boxes_inside(prism: Prism, low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which of many boxes lie wholly inside a prism."""
    axis, plane = prism.axis, list(PLANE[prism.axis])
    found: NDArray[np.bool_] = (low[:, axis] >= prism.low - 1e-9) & (high[:, axis] <= prism.high + 1e-9)
    near, far = low[:, plane], high[:, plane]
    if isinstance(prism.profile, Disc):
        middle = np.asarray(prism.profile.center)
        reach = np.maximum(np.abs(near - middle), np.abs(far - middle))
        found &= np.hypot(reach[:, 0], reach[:, 1]) <= prism.profile.radius + 1e-9
        return found
    corners = prism.profile.corners
    for p, q in zip(corners, corners[1:] + corners[:1], strict=True):
        length = math.dist(p, q)
        if length == 0.0:
            continue
        normal = np.array([(q[1] - p[1]) / length, -(q[0] - p[0]) / length])
        furthest = np.where(normal > 0, far, near) @ normal
        found &= furthest <= float(normal @ np.asarray(p)) + 1e-9
    return found


def _halves(box: Box, axis: int, middle: float) -> tuple[Box, Box]:
    low, high = list(box.low), list(box.high)
    low[axis], high[axis] = middle, middle
    return (
        Box(box.low, (high[0], high[1], high[2])),
        Box((low[0], low[1], low[2]), box.high),
    )


def _span_near(start: Vec, end: Vec, box: Box, reach: float) -> tuple[Vec, Vec] | None:
    """Return the piece of a straight line inside a box grown by ``reach``, or None."""
    first, last = 0.0, 1.0
    step = [b - a for a, b in zip(start, end, strict=True)]
    for axis in range(3):
        low, high = box.low[axis] - reach, box.high[axis] + reach
        if step[axis] == 0.0:
            if not low <= start[axis] <= high:
                return None
            continue
        one, two = (low - start[axis]) / step[axis], (high - start[axis]) / step[axis]
        first, last = max(first, min(one, two)), min(last, max(one, two))
    if first > last:
        return None
    ends = [[start[i] + share * step[i] for i in range(3)] for share in (first, last)]
    return (ends[0][0], ends[0][1], ends[0][2]), (ends[1][0], ends[1][1], ends[1][2])


def _wire_inside(start: Vec, end: Vec, radius: float, box: Box, shape: Shape) -> bool:
    """Return True when what of a straight wire lies in a box surely lies inside a prism.

    The prism is convex, so it holds a wire when it holds the balls at both ends. Where the box reaches no
    further than the prism's end faces, those cannot cut the wire inside the box.
    """
    if isinstance(shape, Box):
        return inside(box, box, shape, 1e-9)
    axis = shape.axis
    if box.low[axis] < shape.low - 1e-9 or box.high[axis] > shape.high + 1e-9:
        return False
    first, second = PLANE[axis]
    for point in (start, end):
        spot = (point[first], point[second])
        if isinstance(shape.profile, Disc):
            room = shape.profile.radius - math.dist(spot, shape.profile.center)
        else:
            room = -beyond_edges(spot, shape.profile)
        if room < radius - 1e-9:
            return False
    return True


def _breaks_out(start: Vec, end: Vec, radius: float, box: Box, shape: Shape) -> bool:
    """Return True when the ball at an end of a wire surely leaves a prism inside a box, through its side."""
    if isinstance(shape, Box):
        return False
    first, second = PLANE[shape.axis]
    for point in (start, end):
        spot = (point[first], point[second])
        foot = nearest_outline(spot, shape.profile)
        if math.dist(spot, foot) >= radius - 1e-9:
            continue
        on_side = list(point)
        on_side[first], on_side[second] = foot
        if _in_box((on_side[0], on_side[1], on_side[2]), box):
            return True
    return False


def _in_box(point: Vec, box: Box) -> bool:
    return all(low <= value <= high for low, value, high in zip(box.low, point, box.high, strict=True))


def _join(found: dict[int, Box], index: int, part: Box) -> None:
    known = found.get(index)
    if known is None:
        found[index] = part
        return
    low = tuple(min(a, b) for a, b in zip(known.low, part.low, strict=True))
    high = tuple(max(a, b) for a, b in zip(known.high, part.high, strict=True))
    found[index] = Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def _plain(corner: Vec) -> Vec:
    return (float(corner[0]), float(corner[1]), float(corner[2]))


def _holds(shape: Shape, point: Vec) -> bool:
    grain = Box(
        (point[0] - 1e-7, point[1] - 1e-7, point[2] - 1e-7),
        (point[0] + 1e-7, point[1] + 1e-7, point[2] + 1e-7),
    )
    return bounds_overlap(shape.bounds, grain) and overlap(shape, grain)
