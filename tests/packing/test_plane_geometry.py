"""Hulls of contacts, undersides, beams behind bricks, ends taken off: against triangles, points and cells."""

from __future__ import annotations

import math
import random
from itertools import combinations, product

import numpy as np
import pytest

from fitplan.model.solids import Direction
from fitplan.packing.access.slide import passes
from fitplan.packing.engine.infeasible_subset import most_cut, shortened
from fitplan.packing.engine.problem import IntBox, ItemClearance, Shape, Space, Variant, anywhere
from fitplan.packing.engine.search_places import _some
from fitplan.packing.vehicle.hidden_beam import _area, _union
from fitplan.packing.vehicle.support import (
    LEAST_EDGE,
    Rect,
    Underside,
    borne_by,
    contacts,
    faces_of,
    middle_of,
    resting_faces,
    stands,
    stands_firmly,
)
from fitplan.packing.vehicle.window_places import _shrunk


def _box(edges: list[int]) -> IntBox:
    a, b, c, d, e, f = edges
    return (a, b, c, d, e, f)


def in_a_triangle(point: tuple[float, float], patches: list[Rect]) -> bool:
    """A point is in a hull just where it is in a triangle of the points (Carathéodory, 1907)."""
    points = sorted({(x, y) for x0, y0, x1, y1 in patches for x in (x0, x1) for y in (y0, y1)})
    for a, b, c in combinations(points, 3):
        turns = [
            (q[0] - p[0]) * (point[1] - p[1]) - (q[1] - p[1]) * (point[0] - p[0])
            for p, q in ((a, b), (b, c), (c, a))
        ]
        area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        if area and (all(turn >= 0 for turn in turns) or all(turn <= 0 for turn in turns)):
            return True
    return False


def patches_of(dice: random.Random) -> list[Rect]:
    found = []
    for _ in range(dice.randint(1, 3)):
        x, y = dice.randint(-30, 30), dice.randint(-30, 30)
        found.append((x, y, x + dice.randint(1, 25), y + dice.randint(1, 25)))
    return found


@pytest.mark.parametrize("seed", range(6))
def test_a_middle_stands_in_the_hull_of_its_contacts(seed: int) -> None:
    dice = random.Random(seed)
    for _ in range(12):
        patches = patches_of(dice)
        for _ in range(12):
            at = (dice.randint(-40, 60) / 2, dice.randint(-40, 60) / 2)
            assert stands(at, patches) is in_a_triangle(at, patches)
        x, y, *_ = patches[0]
        assert stands((x, y), patches)
    assert not stands((0.0, 0.0), [])


def test_a_middle_stands_firmly_two_millimetres_within() -> None:
    """A foot of 100 × 60 tenths: its middle from 20 to 80 and from 20 to 40."""
    for x, y in product((19, 20, 50, 80, 81), (19, 20, 40, 41)):
        assert stands_firmly((x, y), [(0, 0, 100, 60)]) is (20 <= x <= 80 and 20 <= y <= 40)


def test_the_middle_of_boxes_is_that_of_their_cells() -> None:
    boxes = [(0, 0, 0, 4, 6, 2), (4, 2, 0, 10, 4, 5), (-3, 0, 7, 0, 9, 8)]
    cells = np.array([
        (x + 0.5, y + 0.5) for a, b, c, d, e, f in boxes
        for x in range(a, d) for y in range(b, e) for _ in range(c, f)
    ])  # fmt: skip
    assert middle_of(boxes) == pytest.approx(tuple(cells.mean(axis=0)))


@pytest.mark.parametrize(("wide", "carries"), [(LEAST_EDGE - 1, False), (LEAST_EDGE, True)])
@pytest.mark.parametrize("axis", [0, 1])
def test_a_contact_narrower_than_a_millimetre_carries_nothing(wide: int, carries: bool, axis: int) -> None:
    part = [(0, 0, 50, 100, 80, 90)]
    low, high = [0, 0, 0], [100, 80, 50]
    low[axis] = (100, 80)[axis] - wide
    high[axis] += 40
    below = np.array([[*low, *high]])
    whole = [0, 0, 100, 80]
    whole[axis] = low[axis]
    assert contacts(resting_faces(part), below, 0) == ([tuple(whole)] if carries else [])


def test_contacts_are_no_more_than_so_far_below_and_never_above() -> None:
    faces = resting_faces([(0, 0, 50, 100, 80, 90)])
    for top, most, met in (
        (50, 0, True),
        (49, 0, False),
        (49, 1, True),
        (30, 20, True),
        (29, 20, False),
        (51, 20, False),
    ):
        below = np.array([[20, 10, 0, 60, 120, top]])
        assert contacts(faces, below, most) == ([(20, 10, 60, 80)] if met else [])


def test_undersides_that_touch_and_are_as_low_are_one() -> None:
    """Three boxes in a row, the middle one 1 mm higher, then 1.1; one apart; one that touches at a corner."""
    a, b, c = (0, 0, 0, 10, 10, 9), (10, 0, 10, 20, 10, 19), (20, 0, 0, 30, 10, 9)
    assert faces_of([c, b, a]) == (Underside((0, 0, 30, 10), 0),)
    higher = (10, 0, 11, 20, 10, 19)
    assert faces_of([a, higher, c]) == (
        Underside((0, 0, 10, 10), 0), Underside((20, 0, 30, 10), 0), Underside((10, 0, 20, 10), 11)
    )  # fmt: skip
    for other, one in (
        ((10, 10, 0, 20, 20, 5), True),
        ((11, 0, 0, 20, 10, 5), False),
        ((0, 11, 0, 10, 20, 5), False),
        ((0, 10, 0, 10, 20, 5), True),
    ):
        assert len(faces_of([a, other])) == (1 if one else 2)
        assert len(faces_of([other, a])) == (1 if one else 2)


# -- beams -------------------------------------------------------------------------------------------------

FRAME, RADIUS = ((-2.0, 3.0), (1.0, 2.5)), 1.7
WHOLE = 5 * 1.5 + 2 * RADIUS * (5 + 1.5) + math.pi * RADIUS**2


def rounded(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Which points are no farther than the radius from the rectangle."""
    (a, b), (c, d) = FRAME
    return (
        np.hypot(np.maximum(np.maximum(a - x, x - b), 0), np.maximum(np.maximum(c - y, y - d), 0)) <= RADIUS
    )


@pytest.mark.parametrize("seed", range(8))
def test_the_area_of_a_rounded_rectangle_in_another_is_that_of_its_points(seed: int) -> None:
    """By the middles of 400 × 400 cells of the other: what lies on its rim is off by a cell at the most."""
    rng = np.random.default_rng(seed)
    for _ in range(6):
        x0, x1 = sorted(rng.uniform(-5, 6, 2))
        y0, y1 = sorted(rng.uniform(-2, 5.5, 2))
        xs = x0 + (np.arange(400) + 0.5) / 400 * (x1 - x0)
        ys = y0 + (np.arange(400) + 0.5) / 400 * (y1 - y0)
        share = rounded(xs[:, None], ys[None, :]).mean()
        area = (x1 - x0) * (y1 - y0)
        assert _area(FRAME, RADIUS, ((x0, x1), (y0, y1))) == pytest.approx(
            share * area, abs=4e-3 * area + 1e-9
        )


def test_the_whole_area_is_that_of_a_rectangle_and_a_disc_added() -> None:
    """Steiner (1840): area, perimeter times radius, and the disc; its quadrants are alike."""
    assert _area(FRAME, RADIUS, ((-99.0, 99.0), (-99.0, 99.0))) == pytest.approx(WHOLE)
    for xs, ys in product(((-99.0, 0.5), (0.5, 99.0)), ((-99.0, 1.75), (1.75, 99.0))):
        assert _area(FRAME, RADIUS, (xs, ys)) == pytest.approx(WHOLE / 4)
    assert _area(FRAME, RADIUS, ((3.0, 99.0), (2.5, 99.0))) == pytest.approx(math.pi * RADIUS**2 / 4)
    assert _area(FRAME, RADIUS, ((4.8, 9.0), (-9.0, 9.0))) == 0.0


@pytest.mark.parametrize("seed", range(4))
def test_bricks_that_lie_over_one_another_hide_once(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rows = []
    for _ in range(4):
        x0, x1 = sorted(int(v) for v in rng.choice(np.arange(-4, 6), 2, replace=False))
        y0, y1 = sorted(int(v) for v in rng.choice(np.arange(-1, 5), 2, replace=False))
        rows.append(((float(x0), float(x1)), (float(y0), float(y1))))
    cells = [((float(x), float(x + 1)), (float(y), float(y + 1))) for x in range(-4, 6) for y in range(-1, 5)]
    hidden = [cell for cell in cells if any(
        r[0][0] <= cell[0][0] and cell[0][1] <= r[0][1] and r[1][0] <= cell[1][0] and cell[1][1] <= r[1][1]
        for r in rows
    )]  # fmt: skip
    assert _union(FRAME, RADIUS, rows) == pytest.approx(sum(_area(FRAME, RADIUS, cell) for cell in hidden))


# -- ends taken off ----------------------------------------------------------------------------------------

HULL = (-5, 0, 3, 45, 60, 40)


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("low_end", [True, False])
@pytest.mark.parametrize("length", [1, 4, 7])
def test_a_part_with_an_end_taken_off_goes_wherever_what_is_left_goes(
    axis: int, low_end: bool, length: int
) -> None:
    """A solid box: left is a smaller one; its offsets are all that keep it in the hull."""
    box = (2, -3, 1, 22, 14, 12)
    shape = Shape((box,))
    cut = shortened(Variant("v", shape, anywhere(shape, HULL)), Space(HULL), axis, low_end, length)
    edges = list(box)
    edges[axis if low_end else axis + 3] += length if low_end else -length
    left = Shape((_box(edges),))
    assert cut.shape == left
    assert cut.domain == anywhere(left, HULL)
    assert most_cut(shape, axis, low_end) == box[axis + 3] - box[axis] - 1


@pytest.mark.parametrize("axis", [0, 1, 2])
@pytest.mark.parametrize("low_end", [True, False])
def test_room_that_is_kept_clear_goes_first_and_a_domain_inside_stays(axis: int, low_end: bool) -> None:
    """A plug's room 6 long at that end: 4 off are all its own, 9 off are 3 of the solid, too."""
    box = (0, 0, 0, 20, 20, 20)
    room = list(box)
    room[axis], room[axis + 3] = (-6, 0) if low_end else (20, 26)
    lens = ItemClearance(_box(room), clear_of_obstacles=False)
    shape = Shape((box,), (ItemClearance(_box(room), clear_of_obstacles=True), lens))
    inside = ((1, 6, 9, 20, 30, 18),)
    variant = Variant("v", shape, inside)
    assert most_cut(shape, axis, low_end) == 26 - 1
    four = shortened(variant, Space(HULL), axis, low_end, 4)
    assert four.shape.solid == (box,)
    assert four.domain == inside
    (kept, still) = four.shape.clearances
    assert still == lens
    assert kept.box[axis + 3] - kept.box[axis] == 2
    nine = shortened(variant, Space(HULL), axis, low_end, 9)
    (solid,) = nine.shape.solid
    assert solid[axis + 3] - solid[axis] == 17
    assert nine.shape.clearances == (lens,)
    assert nine.domain == inside


def test_very_many_free_boxes_are_thinned_to_the_largest_and_the_lowest() -> None:
    """Of 12 a third the lowest, the others the largest; lower counts four times as much as farther back."""
    rng = np.random.default_rng(5)
    low = rng.integers(0, 50, (60, 3))
    pieces = np.concatenate([low, low + rng.integers(0, 9, (60, 3))], axis=1).astype(np.int32)
    found = {tuple(row) for row in _some(pieces, 12).tolist()}
    size = {tuple(r): math.prod(r[i + 3] - r[i] + 1 for i in range(3)) for r in pieces.tolist()}
    height = {tuple(r): 4 * r[2] + r[0] + r[1] for r in pieces.tolist()}
    assert found <= set(size)
    assert 8 <= len(found) <= 12
    assert sorted(size.values())[-8] <= min(sorted((size[row] for row in found), reverse=True)[:8])
    assert sorted(height.values())[:4] == sorted(height[row] for row in found)[:4]
    assert len(_some(pieces, 60)) == 60


# -- ways straight out -------------------------------------------------------------------------------------


@pytest.mark.parametrize("out", ["+x", "-x", "+y", "-y", "+z", "-z"])
@pytest.mark.parametrize("seed", range(4))
def test_something_passes_where_a_point_beside_what_lies_ahead_is_free(seed: int, out: Direction) -> None:
    """Beside every half step across, within the outline of all that lies ahead of where the way begins."""
    rng = np.random.default_rng([seed, ord(out[0]), ord(out[1])])
    axis, forwards = "xyz".index(out[1]), out[0] == "+"
    one, other = (k for k in range(3) if k != axis)
    answers = set()
    for _ in range(40):
        low = rng.integers(-4, 3, (5, 3))
        rows = np.concatenate([low, low + rng.integers(2, 6, (5, 3))], axis=1).astype(np.int64)
        at = int(rng.integers(-3, 4))
        ahead = rows[rows[:, axis + 3] > at] if forwards else rows[rows[:, axis] < at]
        found = passes(rows, out, at)
        answers.add(found)
        if not len(ahead):
            assert found
            continue
        (u0, v0), (u1, v1) = ahead[:, [one, other]].min(axis=0), ahead[:, [one + 3, other + 3]].max(axis=0)
        free = any(
            not any(r[one] < u < r[one + 3] and r[other] < v < r[other + 3] for r in ahead)
            for u in np.arange(u0 + 0.5, u1, 0.5)
            for v in np.arange(v0 + 0.5, v1, 0.5)
        )
        assert found is free
    assert answers == {True, False}


def test_what_the_play_of_bricks_takes_is_never_all_of_a_box() -> None:
    """Sideways by so much at both ends, and a tenth is left; upright nothing goes."""
    wide = _shrunk((10, 20, 5, 200, 220, 9))
    give = wide[0] - 10
    assert give > 0
    assert wide == (10 + give, 20 + give, 5, 200 - give, 220 - give, 9)
    for edge in range(1, 2 * give + 3):
        x0, y0, z0, x1, y1, z1 = _shrunk((0, 0, 0, edge, edge, edge))
        assert (z0, z1) == (0, edge)
        assert (x0, x1) == (y0, y1)
        assert x1 - x0 == max(edge - 2 * give, 1 if edge % 2 else 2)


@pytest.mark.parametrize("seed", range(4))
def test_what_fills_the_room_under_a_part_touches_its_lowest_faces_there(seed: int) -> None:
    """Beside cells: where both share them over a millimetre at least, and the box begins at its top."""
    dice = random.Random(seed)
    under = (10, 20, 0, 60, 55, 30)
    met = 0
    for _ in range(60):
        x, y, z = dice.randint(-20, 70), dice.randint(-20, 70), dice.choice((29, 30, 30, 31))
        box = (x, y, z, x + dice.randint(1, 40), y + dice.randint(1, 40), z + 5)
        cells = [
            (i, j)
            for i in range(max(-20, box[0]), box[3])
            for j in range(max(-20, box[1]), box[4])
            if 10 <= i < 60 and 20 <= j < 55
        ]
        wide, deep = (len({cell[k] for cell in cells}) for k in (0, 1))
        found = borne_by(under, [box])
        if z == 30 and min(wide, deep) >= LEAST_EDGE:
            first, last = min(cells), max(cells)
            assert found == [(*first, last[0] + 1, last[1] + 1)]
            met += 1
        else:
            assert found == []
    assert met > 0
