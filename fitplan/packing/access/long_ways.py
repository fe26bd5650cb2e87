"""Ways of many straight moves: through the closed boxes that free offsets fall into.

Offsets at which a part is free fall into closed boxes; within a box it slides anywhere, and boxes that
touch are joined. So whether a part comes out at all by straight moves, however many, is a question of which
boxes are joined; and the moves follow from a chain of them. The same account says from where a part may be
taken out (`reachable_offsets`) and by which moves, so neither can deny what the other claims.
"""

from __future__ import annotations

import itertools
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.kernels import shared
from fitplan.model.solids import DIRECTIONS, Direction, axis_of, is_forward
from fitplan.packing.access.slide import Moves, Rows
from fitplan.packing.engine.free_offsets import allowed

Point: TypeAlias = tuple[int, int, int]
Pieces: TypeAlias = NDArray[np.int32]

MOST_BOXES = 6000
"""More boxes of offsets than this are not searched: whether there is a way is then not decided."""


def free_boxes_of(forbidden: Rows, room: NDArray[np.int64]) -> Pieces | None:
    """Return closed boxes (n, 6) of offsets in a room that no open forbidden box enters; exact.

    None when there are too many to tell.

    Parameters
    ----------
    room
        (6,), lower and upper corner.
    """
    if (room[:3] > room[3:]).any():
        return np.zeros((0, 6), dtype=np.int32)
    try:
        pieces = allowed(room[None, :], forbidden)
    except OverflowError:
        return None
    return pieces if len(pieces) <= MOST_BOXES else None


def _reached_from(
    pieces: Pieces, start: NDArray[np.bool_], goal: NDArray[np.bool_]
) -> tuple[int, NDArray[np.int32]]:
    """Go from box to box that touch or overlap, nearest first, until a goal.

    Returns
    -------
    tuple
        The first goal, or -1; and for each box the one that it was reached from: -1 at the start, -2 where
        nobody came.
    """
    kernel = shared("slide")
    before = kernel.put(np.where(start, -1, -2).astype(np.int32))
    scratch = kernel.empty(2 * len(pieces), np.uint32, zeroed=False)
    wanted = kernel.put(goal.astype(np.uint8))
    rows = kernel.put(np.ascontiguousarray(pieces.T, dtype=np.int32))
    end = kernel.call("go_through", rows, len(pieces), before, wanted, scratch)
    return end, kernel.view(before, len(pieces), np.int32).copy()


def joined(pieces: Pieces, start: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which boxes are joined to those at the start by boxes that touch or overlap."""
    _, before = _reached_from(pieces, start, np.zeros(len(pieces), dtype=bool))
    reached: NDArray[np.bool_] = before != -2
    return reached


def long_way(forbidden: Rows, room: NDArray[np.int64], out: Direction, leave: int) -> Moves | None:
    """Return straight moves from offset 0 to the end of a room in a direction, and out; None if not found.

    Parameters
    ----------
    room
        (6,), the offsets that may be passed; its far side in direction ``out`` is outside.
    leave
        Offset along ``out`` at which the part is outside.
    """
    pieces = free_boxes_of(forbidden, room)
    if pieces is None or not len(pieces):
        return None
    axis, forwards = axis_of(out), is_forward(out)
    goal = pieces[:, axis + 3] >= room[axis + 3] if forwards else pieces[:, axis] <= room[axis]
    chain = _chain(pieces, goal)
    if chain is None:
        return None
    straight = StraightMoves(forbidden)
    points = _shortened(_points(pieces, chain), straight)
    last = _first_open(points, straight, axis, forwards)
    points = points[: last + 1]
    moves = _moves(points)
    done = points[-1][axis] if forwards else -points[-1][axis]
    if moves and moves[-1][0] == out:
        way, distance = moves[-1]
        return (*moves[:-1], (way, distance + max(leave - done, 0)))
    return (*moves, (out, max(leave - done, 1)))


def _chain(pieces: Pieces, goal: NDArray[np.bool_]) -> list[int] | None:
    """Return the fewest boxes, each touching the next, from one that holds offset 0 to a goal."""
    start = np.all((pieces[:, :3] <= 0) & (pieces[:, 3:] >= 0), axis=1)
    end, before = _reached_from(pieces, start, goal)
    if end < 0:
        return None
    chain = [end]
    while before[chain[-1]] >= 0:
        chain.append(int(before[chain[-1]]))
    return chain[::-1]


def _points(pieces: Pieces, chain: list[int]) -> list[Point]:
    """Return corner points of a way along axes through a chain of boxes, from offset 0."""
    points: list[Point] = [(0, 0, 0)]
    for here, there in itertools.pairwise(chain):
        low = np.maximum(pieces[here, :3], pieces[there, :3])
        high = np.minimum(pieces[here, 3:], pieces[there, 3:])
        target = np.clip(np.array(points[-1]), low, high).tolist()
        for axis in range(3):
            at = list(points[-1])
            if at[axis] != target[axis]:
                at[axis] = target[axis]
                points.append((at[0], at[1], at[2]))
    return points


class StraightMoves:
    """Which straight moves along an axis stay clear of forbidden boxes; each is asked about once."""

    def __init__(self, forbidden: Rows) -> None:
        self._low = [np.ascontiguousarray(forbidden[:, axis]) for axis in range(3)]
        self._high = [np.ascontiguousarray(forbidden[:, axis + 3]) for axis in range(3)]
        self._known: dict[tuple[Point, Point], bool] = {}
        self.far = 10 * (int(np.abs(forbidden).max(initial=1)) + 1)
        """Beyond all of them, in every direction."""

    def free(self, one: Point, other: Point) -> bool:
        """Tell whether no open forbidden box meets the move from one point to another."""
        known = self._known.get((one, other))
        if known is None:
            met = np.ones(len(self._low[0]), dtype=bool)
            for axis, (a, b) in enumerate(zip(one, other, strict=True)):
                met &= (self._low[axis] < max(a, b)) & (self._high[axis] > min(a, b))
            known = self._known[one, other] = not bool(met.any())
        return known

    def free_all(self, points: list[Point]) -> bool:
        """Tell whether a way through these points is free."""
        return all(self.free(one, other) for one, other in itertools.pairwise(points))


def points_of(moves: Moves) -> list[Point]:
    """Return the points of a way from offset 0, the last one outside."""
    points: list[Point] = [(0, 0, 0)]
    for way, distance in moves:
        at = list(points[-1])
        at[axis_of(way)] += distance if is_forward(way) else -distance
        points.append((at[0], at[1], at[2]))
    return points


def _shortened(points: list[Point], straight: StraightMoves) -> list[Point]:
    """Leave out corners where a way of fewer moves joins two points of the way."""
    again = True
    while again:
        again = False
        for first in range(len(points)):
            for last in range(len(points) - 1, first + 1, -1):
                between = _joining(points[first], points[last], straight, last - first - 1)
                if between is not None:
                    points = [*points[: first + 1], *between, *points[last:]]
                    again = True
                    break
            if again:
                break
    return points


def _joining(one: Point, other: Point, straight: StraightMoves, fewer_than: int) -> list[Point] | None:
    """Return the corners between two points on a free way of fewer corners than some, or None."""
    axes = [axis for axis in range(3) if one[axis] != other[axis]]
    if len(axes) - 1 >= fewer_than:
        return None
    for order in itertools.permutations(axes):
        corners = [one]
        for axis in order:
            at = list(corners[-1])
            at[axis] = other[axis]
            corners.append((at[0], at[1], at[2]))
        if straight.free_all(corners):
            return corners[1:-1]
    return None


def _first_open(points: list[Point], straight: StraightMoves, axis: int, forwards: bool) -> int:
    """Return the first point of a way from which the way out is free to infinity."""
    for number, point in enumerate(points):
        end = list(point)
        end[axis] = straight.far if forwards else -straight.far
        if straight.free(point, (end[0], end[1], end[2])):
            return number
    return len(points) - 1


def _moves(points: list[Point]) -> Moves:
    found: list[tuple[Direction, int]] = []
    for one, other in itertools.pairwise(points):
        axis = next(i for i in range(3) if one[i] != other[i])
        step = other[axis] - one[axis]
        way = DIRECTIONS[2 * axis + (step < 0)]
        if found and found[-1][0] == way:
            found[-1] = (way, found[-1][1] + abs(step))
        else:
            found.append((way, abs(step)))
    return tuple(found)
