"""By which straight moves a part comes out of a room: small cases by hand, in every direction."""

from __future__ import annotations

import numpy as np
import pytest

from fitplan.model.solids import DIRECTIONS, Direction, axis_of, is_forward
from fitplan.packing.access.long_ways import (
    StraightMoves,
    _first_open,
    _joining,
    _moves,
    _points,
    _shortened,
    long_way,
    points_of,
)

NONE = np.zeros((0, 6), dtype=np.int64)
ROOM = np.array([-30, -30, -30, 30, 30, 30], dtype=np.int64)
FREE = StraightMoves(NONE)


def test_moves_in_one_direction_are_one_and_lead_through_the_same_points() -> None:
    points = [(0, 0, 0), (5, 0, 0), (9, 0, 0), (9, -4, 0), (9, -4, 6), (9, -4, 2), (7, -4, 2)]
    moves = _moves(points)
    assert moves == (("+x", 9), ("-y", 4), ("+z", 6), ("-z", 4), ("-x", 2))
    assert points_of(moves) == [points[0], *points[2:]]
    assert _moves([(0, 0, 0)]) == ()
    assert points_of((("+y", 3), ("-x", 2), ("+z", 1))) == [(0, 0, 0), (0, 3, 0), (-2, 3, 0), (-2, 3, 1)]


def test_from_box_to_box_one_goes_only_as_far_as_they_share() -> None:
    pieces = np.array([(-2, -2, -2, 3, 3, 3), (3, 2, -9, 8, 9, 9), (-9, 9, -9, 4, 12, -1)], dtype=np.int32)
    assert _points(pieces, [0]) == [(0, 0, 0)]
    assert _points(pieces, [0, 1]) == [(0, 0, 0), (3, 0, 0), (3, 2, 0)]
    assert _points(pieces, [0, 1, 2]) == [(0, 0, 0), (3, 0, 0), (3, 2, 0), (3, 9, 0), (3, 9, -1)]


def test_corners_are_left_out_where_fewer_do() -> None:
    way = [(0, 0, 0), (0, 5, 0), (9, 5, 0), (9, 0, 0)]
    assert _joining(way[0], way[-1], FREE, 2) == []
    assert _joining(way[0], way[-1], FREE, 1) == []
    assert _joining(way[0], way[-1], FREE, 0) is None
    assert _joining(way[0], way[2], FREE, 1) is None
    assert _joining(way[0], way[2], FREE, 2) == [(9, 0, 0)]
    assert _shortened(way, FREE) == [way[0], way[-1]]
    post = StraightMoves(np.array([(4, -1, -1, 6, 1, 1)], dtype=np.int64))
    assert _shortened(way, post) == way
    assert _joining(way[0], way[2], post, 2) == [(0, 5, 0)]
    beside = StraightMoves(np.array([(4, 0, -1, 6, 1, 1)], dtype=np.int64))
    assert _shortened(way, beside) == [way[0], way[-1]]
    stairs = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (2, 1, 0), (2, 2, 0), (2, 2, 2)]
    assert len(_shortened(stairs, FREE)) == 4
    # Two detours one after the other are both left out.
    twice = [*way, (9, 0, 5), (15, 0, 5), (15, 0, 0)]
    assert _shortened(twice, FREE) == [(0, 0, 0), (15, 0, 0)]
    wall = StraightMoves(np.array([(10, -9, -1, 11, 9, 1)], dtype=np.int64))
    assert _shortened(twice, wall) == [(0, 0, 0), (0, 0, 5), (15, 0, 5), (15, 0, 0)]


@pytest.mark.parametrize("out", DIRECTIONS)
def test_one_goes_on_only_until_the_way_out_is_free(out: Direction) -> None:
    """A post before the part: it steps 4 aside and leaves, and no farther aside than that."""
    axis, sign = axis_of(out), 1 if is_forward(out) else -1
    side = (axis + 1) % 3
    low, high = np.full(3, -9), np.full(3, 9)
    low[axis], high[axis] = sorted((2 * sign, 5 * sign))
    high[side] = 4
    post = np.array([[*low, *high]], dtype=np.int64)
    low[side] = -40
    for three in range(3):
        if three not in (axis, side):
            low[three], high[three] = -40, 40
    wall = np.array([[*low, *high]], dtype=np.int64)
    aside = DIRECTIONS[2 * side]
    assert long_way(wall, ROOM, out, 7) == ((aside, 4), (out, 7))
    assert long_way(wall, ROOM, out, 1) == ((aside, 4), (out, 1))
    assert long_way(wall, ROOM, out, 0) == ((aside, 4), (out, 1))
    assert long_way(NONE, ROOM, out, 7) == ((out, 7),)
    assert long_way(NONE, ROOM, out, 0) == ((out, 1),)
    moves = StraightMoves(post)
    points = [
        (0, 0, 0),
        tuple(3 * (n == side) for n in range(3)),
        tuple(4 * (n == side) for n in range(3)),
        tuple(9 * (n == side) for n in range(3)),
    ]
    assert _first_open(points, moves, axis, sign > 0) == 2  # type: ignore[arg-type]
    assert _first_open(points[:2], moves, axis, sign > 0) == 1  # type: ignore[arg-type]
    # The room ends before what stands outside: one goes to its end, and on from there.
    beyond = wall.copy()
    ends = sorted((50 * sign, 60 * sign))
    beyond[0, axis], beyond[0, axis + 3], beyond[0, side], beyond[0, side + 3] = *ends, -40, 40
    assert long_way(beyond, ROOM, out, 37) == ((out, 37),)
    both = np.concatenate([wall, beyond])
    found = long_way(both, ROOM, out, 37)
    assert found is not None
    assert found[0] == (aside, 4)
    assert found[1:] == ((out, 37),)
    low[side], high[side] = -40, 40
    shut = np.array([[*low, *high]], dtype=np.int64)
    assert long_way(shut, ROOM, out, 7) is None


def test_a_move_is_free_beside_what_it_only_touches() -> None:
    post = StraightMoves(np.array([(4, -1, -1, 6, 1, 1), (40, 40, 40, 41, 41, 41)], dtype=np.int64))
    assert post.far == 10 * 42
    assert FREE.far == 20
    assert post.free((0, 0, 0), (4, 0, 0))
    assert not post.free((0, 0, 0), (5, 0, 0))
    assert not post.free((9, 0, 0), (5, 0, 0))
    assert post.free((9, 0, 0), (6, 0, 0))
    assert post.free((0, 1, 0), (9, 1, 0))
    assert post.free_all([(0, 0, 0), (0, 1, 0), (9, 1, 0), (9, 0, 0)])
    assert not post.free_all([(0, 0, 0), (9, 0, 0), (9, 1, 0)])
    assert not post.free_all([(0, 1, 0), (9, 1, 0), (9, 0, 0), (5, 0, 0)])
