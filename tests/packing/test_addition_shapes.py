"""Shapes of what is added under a part, and shapes that are shortened, beside plain enumeration."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from fitplan.model.solids import Box
from fitplan.packing.engine.infeasible_subset import most_cut, shortened
from fitplan.packing.engine.problem import ItemClearance, Shape, Space, Variant
from fitplan.packing.vehicle.addition_shapes import (
    CELL,
    FOOTPRINTS,
    LAYER,
    LEAST_TOUCH,
    in_mm,
    in_tenths,
    rectangles,
    stack,
    touching,
)


@pytest.mark.parametrize("seed", range(6))
def test_rectangles_are_all_that_reach_under_a_face(seed: int) -> None:
    """Every footprint in every place of the floor whose cells overlap the rectangle round the faces."""
    rng = np.random.default_rng(seed)
    long, wide = 9, 6
    low = rng.integers(0, 400, (3, 2))
    faces = [
        (x, y, 50, x + int(rng.integers(1, 200)), y + int(rng.integers(1, 90)), 60) for x, y in low.tolist()
    ]
    x0, y0 = min(f[0] for f in faces), min(f[1] for f in faces)
    x1, y1 = max(f[3] for f in faces), max(f[4] for f in faces)
    expected = set()
    for m, n in FOOTPRINTS:
        for i, j in itertools.product(range(long - m + 1), range(wide - n + 1)):
            left, right = i * CELL, (i + m) * CELL
            near, far = j * CELL, (j + n) * CELL
            # From the cell in which the rectangle begins to the one in which it ends.
            if right > x0 // CELL * CELL and left < x1 and far > y0 // CELL * CELL and near < y1:
                expected.add((i, j, i + m, j + n))
    found = [tuple(row) for row in rectangles((long, wide), faces).tolist()]
    assert set(found) == expected
    assert len(found) == len(expected)


@pytest.mark.parametrize("seed", range(6))
def test_a_touch_is_round_all_contacts(seed: int) -> None:
    """Each face alone is met by the arm or not; contacts thinner than the least do not count."""
    rng = np.random.default_rng(seed)
    for _ in range(60):
        faces = []
        for _ in range(3):
            x, y = rng.integers(-50, 300, 2).tolist()
            faces.append((x, y, 0, x + int(rng.integers(1, 120)), y + int(rng.integers(1, 120)), 20))
        arm = (int(rng.integers(0, 3)), int(rng.integers(0, 3)), 3, 4)
        a0, b0, a1, b1 = (value * CELL for value in arm)
        met = [
            (max(f[0], a0), max(f[1], b0), min(f[3], a1), min(f[4], b1))
            for f in faces
            if min(f[3], a1) - max(f[0], a0) >= LEAST_TOUCH and min(f[4], b1) - max(f[1], b0) >= LEAST_TOUCH
        ]
        expected = []
        if met:
            columns = list(zip(*met, strict=True))
            expected = [(arm, (min(columns[0]), min(columns[1]), max(columns[2]), max(columns[3])))]
        assert list(touching(np.array([arm], dtype=np.int32), faces)) == expected


@pytest.mark.parametrize("layers", range(9))
def test_a_stack_fills_its_height_with_as_few_pieces_as_there_can_be(layers: int) -> None:
    """Bricks of three layers first, then plates; one upon the other without a gap."""
    made = stack((2, 1, 4, 2), 170, 170 + layers * LAYER)
    assert len(made) == layers // 3 + layers % 3
    at = 170
    for name, box in made:
        assert name in ("brick 1 × 2", "plate 1 × 2")
        assert box[2] == at
        assert box[5] - box[2] == (3 if name.startswith("brick") else 1) * LAYER
        assert (box[0], box[1], box[3], box[4]) == (2 * CELL, CELL, 4 * CELL, 2 * CELL)
        at = box[5]
    assert at == 170 + layers * LAYER


def test_tenths_and_millimetres() -> None:
    """A box there and back; halves are rounded to the nearest."""
    box = Box((1.04, -2.26, 3.0), (4.57, 5.0, 60.01))
    assert in_tenths(box) == (10, -23, 30, 46, 50, 600)
    assert in_mm((10, -23, 30, 46, 50, 600)) == Box((1.0, -2.3, 3.0), (4.6, 5.0, 60.0))


def cells(boxes: list[tuple[int, ...]]) -> set[tuple[int, ...]]:
    return {c for b in boxes for c in itertools.product(*(range(b[i], b[i + 3]) for i in range(3)))}


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("low_end", [True, False])
@pytest.mark.parametrize("room_out", [0, 2])
def test_a_shortened_shape_is_the_whole_less_one_end(axis: int, low_end: bool, room_out: int) -> None:
    """Cell by cell; where the place ended at the hull it goes on by what came off the solid itself."""

    def turned(box: tuple[int, ...]) -> tuple[int, ...]:
        flipped = box if low_end else (9 - box[3], box[1], box[2], 9 - box[0], box[4], box[5])
        order = [(i - axis) % 3 for i in range(3)]
        return tuple(flipped[i] for i in order) + tuple(flipped[i + 3] for i in order)

    solid = [turned((2, 0, 0, 7, 2, 3)), turned((4, 0, 0, 9, 4, 2))]
    kept = [turned((2 - room_out, 0, 0, 4, 1, 1))] if room_out else []
    free = turned((0, 4, 0, 9, 5, 1))
    clearances = (*(ItemClearance(b) for b in kept), ItemClearance(free, False))  # type: ignore[arg-type]
    shape = Shape(tuple(solid), clearances)  # type: ignore[arg-type]
    hull = turned((2, 0, 0, 9, 4, 3))
    variant = Variant("v", shape, ((0, 0, 0, 0, 0, 0),))
    space = Space(hull)  # type: ignore[arg-type]
    whole = 7 + room_out
    assert most_cut(shape, axis, low_end) == whole - 1
    for length in range(1, whole):
        found = shortened(variant, space, axis, low_end, length)
        gone = cells([turned((2 - room_out, 0, 0, 2 - room_out + length, 9, 9))])
        assert cells(list(found.shape.solid)) == cells(solid) - gone
        rooms = [c.box for c in found.shape.clearances if c.clear_of_obstacles]
        assert cells(rooms) == cells(kept) - gone
        assert [c.box for c in found.shape.clearances if not c.clear_of_obstacles] == [free]
        more = max(length - room_out, 0)
        expected = [0] * 6
        expected[axis if low_end else axis + 3] = -more if low_end else more
        assert found.domain == (tuple(expected),)
    # Where the place does not end at the hull, it stays as it is.
    wide = Space(tuple(v - 5 for v in hull[:3]) + tuple(v + 5 for v in hull[3:]))  # type: ignore[arg-type]
    assert shortened(variant, wide, axis, low_end, whole - 1).domain == variant.domain
