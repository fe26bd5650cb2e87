"""What of a body a straight wire passes nearest.

Cells of one state are boxes, and the distance to them is exact. In cells that round or sloping outlines pass,
boxes are halved, the nearest first, until one lies wholly in a piece that is in the way, or nothing that is
left can be nearer than what was found.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Collection, Iterator

import numpy as np

from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import State
from fitplan.verify.body import STATE_CODES, Body, BodyPiece, halves, holds
from fitplan.verify.distance import line_to_boxes, line_to_shape, nearest_in_prism, nearest_on_line
from fitplan.verify.overlap import beyond_edges, contained, nearest_outline, overlap
from fitplan.verify.shapes import PLANE, Disc, Prism, Shape

WIRE_GRAIN = 0.05
"""Boxes on outlines that are smaller than this (mm) are not halved; the state in their middle decides."""
CLOSE = 0.02
"""Distances to round and sloping solids are told to this (mm)."""


def nearest(
    body: Body, start: Vec, end: Vec, reach: float, states: Collection[State]
) -> tuple[float, BodyPiece] | None:
    """Return the piece in one of these states that a straight line passes nearest, and at what distance.

    None when none is nearer than ``reach`` (mm).
    """
    codes = [STATE_CODES[state] for state in states]
    low = np.minimum(start, end) - reach
    high = np.maximum(start, end) + reach
    cells = body.cells
    near = np.flatnonzero(((cells.low < high) & (cells.high > low)).all(axis=1) & body.cells_in(codes))
    best, piece = reach, -1
    if near.size:
        away = line_to_boxes(start, end, cells.low[near], cells.high[near])
        row = int(away.argmin())
        if away[row] < best:
            best, piece = float(away[row]), int(cells.governs[near[row]])
    touched = ((body.mixed_low < high) & (body.mixed_high > low)).all(axis=1)
    for number in np.flatnonzero(touched):
        box, stack = body.mixed[int(number)]
        nearer = _Cell(body, codes).nearest(start, end, box, stack, best)
        if nearer is not None:
            best, piece = nearer
    return (best, body.pieces[piece]) if piece >= 0 else None


class _Cell:
    """The search in one cell that outlines pass; ``codes`` are the states that are in the way."""

    def __init__(self, body: Body, codes: list[int]) -> None:
        self._body = body
        self._codes = codes

    def nearest(
        self, start: Vec, end: Vec, box: Box, stack: list[int], best: float
    ) -> tuple[float, int] | None:
        """Return what in a cell is nearer to a line than ``best``, and how near, the nearest boxes first."""
        found: tuple[float, int] | None = None
        order = itertools.count()
        heap = [(line_to_shape(start, end, box), next(order), box, stack)]
        while heap:
            away, _, box, stack = heapq.heappop(heap)
            if away >= best - CLOSE:
                break
            span = _span_near(start, end, box, best)
            left = self._left(span, best - CLOSE, box, stack) if span is not None else []
            wanted = [int(self._body.codes[index]) in self._codes for index in left]
            if not any(wanted):
                continue
            if all(wanted):
                best, found = away, (away, left[-1])
                continue
            longest = max(range(3), key=lambda i: box.size[i])
            if box.size[longest] <= WIRE_GRAIN:
                index = self._governing(box.center, left)
                if int(self._body.codes[index]) in self._codes:
                    best, found = away, (away, index)
                continue
            assert span is not None
            for point in self._witnesses(span, box, left):
                index = self._governing(point, left)
                reach = _point_to_line(point, start, end)
                if reach < best and int(self._body.codes[index]) in self._codes:
                    best, found = reach, (reach, index)
            for half in halves(box, longest, box.center[longest]):
                near = line_to_shape(start, end, half)
                if near < best - CLOSE:
                    heapq.heappush(heap, (near, next(order), half, left))
        return found

    def _left(self, span: tuple[Vec, Vec], radius: float, box: Box, stack: list[int]) -> list[int]:
        """Return which pieces of a stack still matter for what of a wire lies in a box."""
        left: list[int] = []
        for index in reversed(stack):
            shape = self._body.pieces[index].shape
            if index == stack[0]:
                left.insert(0, index)
                break
            if not overlap(box, shape) or line_to_shape(*span, shape) >= radius:
                continue
            if self._body.covered(shape, box, left):
                continue
            left.insert(0, index)
            if contained(box, box, shape, 1e-9) or _wire_inside(*span, radius, box, shape):
                break  # what was drawn before is covered
        return left

    def _witnesses(self, span: tuple[Vec, Vec], box: Box, left: list[int]) -> Iterator[Vec]:
        """Yield points of a box where a piece that is in the way may come nearest to a wire."""
        yield box.center
        for index in left:
            shape = self._body.pieces[index].shape
            if not isinstance(shape, Prism):
                continue
            if int(self._body.codes[index]) in self._codes:
                point = nearest_in_prism(nearest_on_line(*span, shape)[1], shape)
                if _in_box(point, box):
                    yield point
                continue
            # Just beyond the side of a clear piece, where its surroundings begin.
            for point in span:
                beyond = _beyond_side(point, shape)
                if _in_box(beyond, box):
                    yield beyond

    def _governing(self, point: Vec, left: list[int]) -> int:
        """Return which of some pieces governs at a point; the first holds it anyway."""
        holders = (index for index in reversed(left[1:]) if holds(self._body.pieces[index].shape, point))
        return next(holders, left[0])


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
        return contained(box, box, shape, 1e-9)
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


def _beyond_side(point: Vec, shape: Prism) -> Vec:
    """Return the point just beyond the side of a prism that is nearest to a point inside it."""
    first, second = PLANE[shape.axis]
    spot = (point[first], point[second])
    foot = nearest_outline(spot, shape.profile)
    away = math.dist(spot, foot)
    share = 1.0 + CLOSE / 4 / away if away > 0.0 else 1.0
    found = list(point)
    found[first] = spot[0] + share * (foot[0] - spot[0])
    found[second] = spot[1] + share * (foot[1] - spot[1])
    return (found[0], found[1], found[2])


def _point_to_line(point: Vec, start: Vec, end: Vec) -> float:
    step = [b - a for a, b in zip(start, end, strict=True)]
    square = sum(s * s for s in step)
    along = sum(s * (p - a) for s, p, a in zip(step, point, start, strict=True))
    share = min(max(along / square, 0.0), 1.0) if square else 0.0
    return math.dist(point, [a + share * s for a, s in zip(start, step, strict=True)])


def _in_box(point: Vec, box: Box) -> bool:
    return all(low <= value <= high for low, value, high in zip(box.low, point, box.high, strict=True))
