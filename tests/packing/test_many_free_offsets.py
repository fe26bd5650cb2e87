"""Free offsets in many boxes, against every whole and half offset of a room marked on a grid."""

from __future__ import annotations

import random

import numpy as np
import pytest

from fitplan.packing.engine.free_offsets import allowed, free_pieces, subtract
from fitplan.packing.engine.problem import (
    ItemClearance,
    PackingProblem,
    Shape,
    Space,
    Variant,
)

SIDE = 20


def marked(boxes: np.ndarray, closed: bool) -> np.ndarray:
    """All offsets 0, 1/2, 1 … SIDE along each axis that lie in any of some boxes."""
    grid = np.zeros([2 * SIDE + 1] * 3, dtype=bool)
    give = 0 if closed else 1
    for box in np.clip(boxes, -1, SIDE + 1).tolist():
        x, y, z = (slice(max(2 * box[i] + give, 0), max(2 * box[i + 3] + 1 - give, 0)) for i in range(3))
        grid[x, y, z] = True
    return grid


def drawn(rng: random.Random, count: int, least: int, most: int) -> np.ndarray:
    low = [[rng.randint(-3, SIDE) for _ in range(3)] for _ in range(count)]
    return np.array([[*row, *(v + rng.randint(least, most) for v in row)] for row in low], dtype=np.int64)


@pytest.mark.parametrize("seed", range(8))
def test_what_is_left_is_what_no_open_box_holds(seed: int) -> None:
    """Some hundred boxes are left, none within another, and the same whatever order the open ones have."""
    rng = random.Random(seed)
    whole = np.array([[0, 0, 0, SIDE, SIDE, SIDE]])
    forbidden = drawn(rng, 50, 1, 7)
    left = allowed(whole, forbidden)
    assert len(left) > 50
    assert (marked(left, True) == ~marked(forbidden, False)).all()
    within = (left[:, None, :3] >= left[None, :, :3]) & (left[:, None, 3:] <= left[None, :, 3:])
    assert len(left) > 600 or (within.all(axis=2).sum(axis=1) == 1).all()
    mixed = forbidden[rng.sample(range(50), 50)]
    assert (allowed(whole, np.concatenate([mixed, mixed[:9]])) == left).all()


@pytest.mark.parametrize("seed", range(4))
def test_many_closed_boxes_at_once(seed: int) -> None:
    """Overlapping closed boxes, some flat, less open ones that lie partly beside all of them."""
    rng = random.Random(seed)
    closed = np.clip(drawn(rng, 70, 0, 9), 0, SIDE)
    opened = drawn(rng, 25, 1, 6)
    left = subtract(closed.astype(np.int32), opened.astype(np.int32))
    assert (marked(left, True) == (marked(closed, True) & ~marked(opened, False))).all()


@pytest.mark.parametrize("seed", range(4))
def test_a_shape_clear_of_obstacles_and_its_room_clear_of_walls(seed: int) -> None:
    """Each offset anew: the shape's boxes against obstacles, its strict rooms against walls alone."""
    rng = random.Random(seed)
    obstacles = [tuple(row) for row in drawn(rng, 12, 1, 4).tolist()]
    walls = [tuple(row) for row in drawn(rng, 5, 1, 4).tolist()]
    solid = ((0, 0, 0, 2, 3, 1), (1, 0, 1, 2, 2, 3))
    rooms = (ItemClearance((2, 0, 0, 5, 1, 1)), ItemClearance((0, 3, 0, 1, 6, 1), clear_of_obstacles=False))
    hull = (0, 0, 0, SIDE, SIDE, SIDE)
    space = Space(hull, tuple(obstacles), walls=tuple(walls))  # type: ignore[arg-type]
    variant = Variant("as is", Shape(solid, rooms), ((-2, 1, 0, 15, 30, 4), (4, 4, 9, 12, 12, 9)))
    left = marked(free_pieces(variant, PackingProblem((space,), ())), True)
    inside = ((0, 1, 0, 15, 17, 4), (4, 4, 9, 12, 12, 9))
    wanted = marked(np.array(inside), True)
    for standing, own in ((obstacles, solid), (walls, (rooms[0].box,))):
        for box in standing:
            for mine in own:
                met = [box[i] - mine[i + 3] for i in range(3)] + [box[i + 3] - mine[i] for i in range(3)]
                wanted &= ~marked(np.array([met]), False)
    assert (left == wanted).all()
