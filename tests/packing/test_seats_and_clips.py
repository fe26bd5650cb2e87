"""Seats at windows and on faces on every side, tiles on side studs, studs as posts: beside every case."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fitplan.model.electrical import Ranger
from fitplan.model.needed import Need
from fitplan.model.part import Access, Mount
from fitplan.model.placed import Placement
from fitplan.model.solids import (
    DIRECTIONS,
    ORIGIN,
    Box,
    Cylinder,
    Direction,
    Place,
    axis_of,
    is_forward,
    opposite,
    plane_of,
    pose_named,
)
from fitplan.model.vehicle import BuiltIn, Face, Window
from fitplan.packing.engine.problem import Placed, Variant
from fitplan.packing.vehicle import additions, shelves, side_studs
from fitplan.packing.vehicle.addition_shapes import UnsupportedPart
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packed_items import _with_volume, standing_part
from fitplan.packing.vehicle.part_places import _exits, _points, _rise
from fitplan.packing.vehicle.seats import Wanted, seats, view_ahead
from fitplan.packing.vehicle.views import view_of
from fitplan.packing.vehicle.window_places import _count, _of_rows
from fitplan.packing.vehicle.wishes import ASIDE_MM, EXIT_MM, WiredPin

from .small_trains import block, hollow

ROOM = hollow("v", 12, 8, 12)
CELL, LAYER, SEAT = 80, 32, 8
"""A stud's cell and a plate in tenths; a side stud's tile begins 0.8 mm above the underside of its brick."""


def boxes_of(found: Any) -> dict[str, list[tuple[int, ...]]]:
    by_pose: dict[str, list[tuple[int, ...]]] = {}
    for seat in found:
        by_pose.setdefault(seat.pose.name, []).extend(seat.offsets)
    return by_pose


def near(span: tuple[float, float], rng: random.Random) -> float:
    """A coordinate at, just within or just beyond either end of a span, or in its middle, in tenths."""
    low, high = span
    at = rng.choice((low, high, low - 0.1, high + 0.1, low + 0.1, high - 0.1, (low + high) / 2))
    return round(at, 1)


@pytest.mark.parametrize("out", DIRECTIONS)
@pytest.mark.parametrize("lens", [Box((20.0, 4.0, 2.0), (20.0, 10.0, 8.0)), None])
def test_what_looks_out_has_its_lens_in_the_window_on_any_side(out: Direction, lens: Box | None) -> None:
    """Every tenth at and beside the limits: inside the outline, its front in the wall, all in the hull."""
    axis = axis_of(out)
    hull = ROOM.hull
    low, high = [30.0, 20.0, 24.0], [60.0, 44.0, 46.0]
    edge = plane_of(hull, out)
    low[axis], high[axis] = (edge - 8, edge) if is_forward(out) else (edge, edge + 8)
    window = Window("gap", Box((low[0], low[1], low[2]), (high[0], high[1], high[2])), out)
    part = block("eye", (20.0, 14.0, 10.0), mount=Mount(looks="+x", lens=lens, needs_support=False))
    found = boxes_of(
        seats(part, Need("eye", (part,), looks=("v", "gap")), "v", replace(ROOM, windows=(window,)))
    )
    front = lens or Box((20.0, 0.0, 0.0), (20.0, 14.0, 10.0))
    rng = random.Random(axis)
    turned = [pose for pose in part.mount.allowed_poses() if pose.turn_direction("+x") == out]
    assert set(found) == {pose.name for pose in turned}
    said = set()
    for pose in turned:
        still = Place(pose, (0.0, 0.0, 0.0))
        eye, whole = still.move_solid(front).bounds, still.move_solid(part.bounds).bounds
        plane = plane_of(eye, out)
        spans = []
        for k in range(3):
            ends = [(hull.low[k] - whole.low[k], hull.high[k] - whole.high[k])]
            if k == axis:
                ends.append((window.box.low[k] - plane, window.box.high[k] - plane))
            else:
                ends.append((window.box.low[k] - eye.low[k], window.box.high[k] - eye.high[k]))
            spans.append((max(a for a, _ in ends), min(b for _, b in ends)))
        for _ in range(60):
            spot = [near(span, rng) for span in spans]
            fits = all(a - 1e-6 <= value <= b + 1e-6 for value, (a, b) in zip(spot, spans, strict=True))
            at = [round(value * 10) for value in spot]
            inside = any(all(box[k] <= at[k] <= box[k + 3] for k in range(3)) for box in found[pose.name])
            assert inside == fits, (pose.name, spot)
            said.add(fits)
    assert said == {True, False}


@pytest.mark.parametrize("out", DIRECTIONS)
@pytest.mark.parametrize("sits", ["-z", "+x"])
def test_what_sits_lies_on_its_face_on_any_side(out: Direction, sits: Direction) -> None:
    """Its side in the plane of the face, its middle over the face; in the middle it is liked."""
    axis = axis_of(out)
    motor = Box((36.0, 24.0, 30.0), (60.0, 40.0, 42.0))
    low, high = [40.0, 26.0, 32.0], [56.0, 37.0, 40.0]
    edge = plane_of(motor, out)
    low[axis] = high[axis] = edge
    face = Face("side", Box((low[0], low[1], low[2]), (high[0], high[1], high[2])), out)
    vehicle = replace(ROOM, built_in=(BuiltIn("motor", "motor", (motor,), faces=(face,)),))
    part = block("lamp", (9.0, 6.0, 5.0), mount=Mount(sits=sits))
    every = seats(part, Need("lamp", (part,), sits=("v", "motor", "side")), "v", vehicle)
    assert {seat.cost for seat in every} == {0, 1}
    for seat in every:
        assert seat.pose.turn_direction(sits) == opposite(out)
        still = Place(seat.pose, (0.0, 0.0, 0.0)).move_solid(part.bounds).bounds
        for box in seat.offsets:
            for corner in (box[:3], box[3:]):
                moved = [value / 10 for value in corner]
                under = plane_of(still, opposite(out)) + moved[axis]
                assert under == pytest.approx(edge)
                for k in range(3):
                    if k != axis:
                        middle = still.center[k] + moved[k]
                        half = 0.1001 if seat.cost == 0 else (high[k] - low[k]) / 2
                        assert abs(middle - (low[k] + high[k]) / 2) <= half + 1e-6
    # Its middle reaches both ends of the face, to a tenth.
    wide = [seat for seat in every if seat.cost == 1]
    assert wide
    for seat in wide:
        still = Place(seat.pose, (0.0, 0.0, 0.0)).move_solid(part.bounds).bounds
        for k in range(3):
            if k != axis:
                ends = [still.center[k] + box[k + end] / 10 for box in seat.offsets for end in (0, 3)]
                assert min(ends) == pytest.approx(low[k], abs=0.11)
                assert max(ends) == pytest.approx(high[k], abs=0.11)


@pytest.mark.parametrize("out", DIRECTIONS)
def test_the_line_ahead_of_a_lens(out: Direction) -> None:
    """A hair about its middle, from its front as long as the hull, whichever way it is turned."""
    front = Box((20.0, 4.0, 2.0), (20.0, 10.0, 8.0))
    part = block("eye", (20.0, 14.0, 10.0), mount=Mount(looks="+x", lens=front))
    axis = axis_of(out)
    for pose in part.mount.allowed_poses():
        if pose.turn_direction("+x") != out:
            continue
        lens = Place(pose, (0.0, 0.0, 0.0)).move_solid(front).bounds
        box = view_ahead(part, pose, ROOM.hull)
        plane, long = plane_of(lens, out) * 10, ROOM.hull.size[axis] * 10
        ends = (plane, plane + long) if is_forward(out) else (plane - long, plane)
        assert (box[axis], box[axis + 3]) == pytest.approx(ends, abs=1)
        for k in range(3):
            if k != axis:
                assert box[k] < lens.center[k] * 10 < box[k + 3]
                assert box[k + 3] - box[k] <= 4


def test_what_a_part_looks_out_of_or_sits_on() -> None:
    """Its frame and lens; how its beam spreads; where it needs support its height is no matter of liking."""
    window = Window("gap", Box((88.0, 16.0, 24.0), (96.0, 48.0, 44.0)), "+x")
    face = Face("top", Box((40.0, 24.0, 42.0), (56.0, 40.0, 42.0)), "+z")
    motor = BuiltIn("motor", "motor", (Box((36.0, 20.0, 30.0), (60.0, 44.0, 42.0)),), faces=(face,))
    vehicle = replace(ROOM, windows=(window,), built_in=(motor,))
    spot = Box((20, 2, 2), (20, 9, 9))
    for mount, lens, level in (
        (Mount(looks="-y"), Box((0, 0, 0), (20, 0, 10)), (0, 1)),
        (Mount(), Box((20, 0, 0), (20, 14, 10)), (0, 1)),
        (Mount(looks="+x", lens=spot, needs_support=False), spot, (0, 1, 2)),
    ):
        eye = replace(block("eye", (20.0, 14.0, 10.0), mount=mount), electrical=())
        view = view_of(Wanted(Need("eye", (eye,), looks=("v", "gap")), eye), vehicle)
        assert view is not None
        assert (view.frame, view.out, view.lens, view.slope, view.level) == (
            window.box,
            "+x",
            lens,
            0.0,
            level,
        )
        assert view_of(Wanted(Need("eye", (eye,), looks=("v", "none")), eye), vehicle) is None
        assert view_of(Wanted(Need("eye", (eye,)), eye), vehicle) is None
    for half, slope in ((45.0, 1.0), (60.0, 3**0.5), (80.0, 3**0.5)):
        eye = replace(
            block("eye", (20.0, 14.0, 10.0)), electrical=(Ranger("sound", half, 20.0, 3000.0, 60.0),)
        )
        view = view_of(Wanted(Need("eye", (eye,), looks=("v", "gap")), eye), vehicle)
        assert view is not None
        assert view.slope == pytest.approx(slope)
    for mount, lens in (
        (Mount(), Box((0, 0, 0), (20, 14, 0))),
        (Mount(sits="+y"), Box((0, 14, 0), (20, 14, 10))),
        (Mount(sits="+y", lens=Box((1, 2, 3), (4, 5, 6))), Box((1, 2, 3), (4, 5, 6))),
    ):
        lamp = block("lamp", (20.0, 14.0, 10.0), mount=mount)
        view = view_of(Wanted(Need("lamp", (lamp,), sits=("v", "motor", "top")), lamp), vehicle)
        assert view is not None
        assert (view.frame, view.out, view.lens) == (face.box, "+z", lens)
        assert (view.slope, view.level) == (0.0, (0, 1, 2))
        for sits in (("v", "lamp", "top"), ("v", "motor", "side")):
            assert view_of(Wanted(Need("lamp", (lamp,), sits=sits), lamp), vehicle) is None


# -- tiles on side studs -----------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(8))
def test_every_tile_on_a_side_stud_is_looked_at(seed: int) -> None:
    """Each column on each stud, each height of its brick, each of its four sides, beside each box of a part.

    The part lies less than a plate from the tile and against 16 mm² of it at least; the one stud, 1 N in the
    middle of its cell, holds the part's weight about the edge of its cell.
    """
    rng = random.Random(seed)
    studs = np.full((7, 6), 192)
    for _ in range(8):
        studs[rng.randrange(7), rng.randrange(6)] = rng.choice((-1, 224))
    ceiling = np.where(
        studs < 0, 0, np.array([[rng.choice((250, 400, 600, 900)) for _ in range(6)] for _ in range(7)])
    )
    boxes = []
    for _ in range(rng.randint(1, 2)):
        x, y, z = rng.randrange(80, 400), rng.randrange(80, 300), rng.randrange(230, 420)
        boxes.append((x, y, z, x + rng.randint(20, 200), y + rng.randint(20, 200), z + rng.randint(20, 150)))
    grams = rng.choice((1.0, 10.0, 20.0))
    part = UnsupportedPart(tuple(boxes), (), (), grams, grams / 1000 * 9.81)
    volumes = [np.prod([b[k + 3] - b[k] for k in range(3)]) for b in boxes]
    middle = [np.average([(b[k] + b[k + 3]) / 2 for b in boxes], weights=volumes) for k in (0, 1)]
    expected = set()
    for i, j in itertools.product(range(7), range(6)):
        level = int(studs[i, j])
        away = [abs(middle[k] - (at + 0.5) * CELL) / 10 for k, at in enumerate((i, j))]
        if level < 0 or any(grams / 1000 * 9.80665 * (far - 4) > 1.0 * 4 for far in away):
            continue
        for base in range(level, 2000, LAYER):
            if base + 3 * LAYER > ceiling[i, j]:
                break
            for axis, sign in itertools.product((0, 1), (1, -1)):
                tile = [i * CELL, j * CELL, base + SEAT, (i + 1) * CELL, (j + 1) * CELL]
                tile.append(base + SEAT + CELL)
                if sign > 0:
                    tile[axis], tile[axis + 3] = tile[axis + 3], tile[axis + 3] + LAYER
                    face = tile[axis + 3]
                else:
                    tile[axis], tile[axis + 3] = tile[axis] - LAYER, tile[axis]
                    face = tile[axis]
                for box in boxes:
                    gap = box[axis] - face if sign > 0 else face - box[axis + 3]
                    across = [k for k in range(3) if k != axis]
                    shared = [min(tile[k + 3], box[k + 3]) - max(tile[k], box[k]) for k in across]
                    if not 0 <= gap < LAYER or min(shared) <= 0 or shared[0] * shared[1] < 1600:
                        continue
                    pad: tuple[int, ...] = ()
                    if gap:
                        ends = [0] * 6
                        for k in across:
                            ends[k], ends[k + 3] = max(tile[k], box[k]), min(tile[k + 3], box[k + 3])
                        ends[axis], ends[axis + 3] = sorted((face, box[axis] if sign > 0 else box[axis + 3]))
                        pad = tuple(ends)
                    expected.add(((i, j), level, base, tuple(tile), pad))
    found = []
    for one in side_studs.clips(studs, part, ceiling):
        *column, brick, tile_piece = one.pieces
        assert brick[0].startswith("brick with a stud on its side")
        cell = (brick[1][0] // CELL, brick[1][1] // CELL)
        level = column[0][1][2] if column else brick[1][2]
        assert brick[1][2] == (column[-1][1][5] if column else level)
        pad = one.over[0][1] if one.over else ()
        found.append((cell, level, brick[1][2], tuple(tile_piece[1]), tuple(pad)))
    assert sorted(found) == sorted(expected)
    assert list(side_studs.clips(studs, replace(part, mass_g=20.0 + 0.1), ceiling)) == []
    for flat in ((boxes, ()), ((), boxes), ((), ())):
        held = list(side_studs.clips(studs, replace(part, flat=flat), ceiling))
        ways = sorted(thin(one.pieces[-1][1]) for one in held)
        assert ways == sorted(thin(tile) for *_, tile, _ in expected if flat[thin(tile)])


def thin(box: tuple[int, ...]) -> int:
    """The axis along which a box is thinnest."""
    return min(range(3), key=lambda k: box[k + 3] - box[k])


def test_a_pad_of_tape_lies_against_what_is_flat() -> None:
    """A board on both sides, what is round at its ends alone, turned as the part is."""
    board, eye = Box((0.0, 0.0, 0.0), (1.6, 22.0, 20.0)), Cylinder("x", (1.6, 11.0, 10.0), 12.5, 8.1)
    part = replace(block("eye", (1.0, 1.0, 1.0)), envelope=(board, eye))
    for pose, along in (("+x+y+z", 0), ("+y-x+z", 1)):
        found = shelves._flat_sides(Placement("eye", part, "loco", Place(pose_named(pose), ORIGIN), ""))
        counts = [len(boxes) for boxes in found]
        assert counts[along] > counts[1 - along] == 1


# -- studs, cells, exits -----------------------------------------------------------------------------------


def test_studs_are_posts_but_on_the_level_that_a_piece_stands_on() -> None:
    """4.8 mm wide and 1.7 high in the middle of each cell, for each storey."""
    storeys = (np.array([[192, -1], [224, 192]]), np.array([[-1, 500], [-1, -1]]))
    ground: Any = type("Ground", (), {"storeys": storeys})()
    every = {(0, 0, 192), (1, 0, 224), (1, 1, 192), (0, 1, 500)}
    for level in (192, 224, 500, 7):
        posts = {
            (i * 80 + 16, j * 80 + 16, z, i * 80 + 64, j * 80 + 64, z + 17) for i, j, z in every if z != level
        }
        assert {tuple(row) for row in additions._studs_but(ground, level).tolist()} == posts


def test_heights_that_leave_less_than_a_plate() -> None:
    """Whole plates from a level, with studs of 1.7 mm on them or without."""
    for level, bottom in itertools.product((192, 224), range(192, 400, 7)):
        expected = {
            (top, knobs)
            for top in range(level + LAYER, 500, LAYER)
            for knobs in (17, 0)
            if top + knobs <= bottom < top + knobs + LAYER
        }
        assert set(additions._heights(level, bottom)) == expected


def test_how_far_up_it_is_free_above_each_stud() -> None:
    """Cell by cell: the lowest underside above the stud of anything over the cell, the hull's top else."""
    rng = np.random.default_rng(3)
    for _ in range(30):
        studs = np.where(rng.random((5, 4)) < 0.2, -1, 192 + 32 * rng.integers(0, 3, (5, 4)))
        low = rng.integers([-20, -20, 100], [380, 300, 400], (4, 3))
        rows = np.concatenate([low, low + rng.integers(5, 200, (4, 3))], axis=1)
        ground: Any = type("Ground", (), {"hull": (0, 0, 0, 400, 320, 900), "obstacles": rows[:2]})()
        part = UnsupportedPart((tuple(rows[2].tolist()),), (tuple(rows[3].tolist()),), ())
        found = additions._ceilings(ground, studs, part)
        for i, j in np.ndindex(5, 4):
            if studs[i, j] < 0:
                assert found[i, j] == 0
                continue
            over = [
                max(int(row[2]), int(studs[i, j]))
                for row in rows
                if row[0] < (i + 1) * 80 and row[3] > i * 80 and row[1] < (j + 1) * 80 and row[4] > j * 80
                if row[5] > studs[i, j]
            ]
            assert found[i, j] == min([900, *over])


def test_cells_in_boxes_are_counted() -> None:
    rng = np.random.default_rng(5)
    cells = rng.random((5, 6, 4)) < 0.4
    sums = np.zeros((6, 7, 5), dtype=np.int64)
    sums[1:, 1:, 1:] = cells.cumsum(0).cumsum(1).cumsum(2)
    spans = []
    for size in cells.shape:
        first = rng.integers(0, size, 4)
        spans.append((first, np.minimum(first + rng.integers(0, size, 4), size)))
    found = _count(sums, spans)
    rows, single = [], []
    for at in itertools.product(range(4), repeat=3):
        ends = [(int(spans[k][0][n]), int(spans[k][1][n])) for k, n in enumerate(at)]
        count = int(cells[tuple(slice(*end) for end in ends)].sum())
        assert found[at] == count
        rows.append([value for end in ends for value in end])
        single.append(count)
    assert _of_rows(sums, np.array(rows)).tolist() == single


@pytest.mark.parametrize("out", DIRECTIONS)
def test_the_room_before_pins_that_look_one_way(out: Direction) -> None:
    """About all of them, and so far before the foremost; those that look another way have their own."""
    axis = axis_of(out)
    pins = [WiredPin("a", (2.0, 3.0, 4.0), out), WiredPin("a", (6.0, 1.0, 4.5), out)]
    other = WiredPin("a", (9.0, 9.0, 9.0), opposite(out))
    assert _points("+x+y+z", pins).tolist() == [[20, 30, 40], [60, 10, 45]]
    rows = _exits("+x+y+z", [[pins[0], other], [pins[1]]]).tolist()
    assert len(rows) == 2
    low, high = (
        [20 - 10 * ASIDE_MM, 10 - 10 * ASIDE_MM, 40 - 10 * ASIDE_MM],
        [60 + 10 * ASIDE_MM, 30 + 10 * ASIDE_MM, 45 + 10 * ASIDE_MM],
    )
    points = [(20, 30, 40), (60, 10, 45)]
    if is_forward(out):
        low[axis] = min(point[axis] for point in points)
        high[axis] = max(point[axis] for point in points) + 10 * EXIT_MM
    else:
        low[axis] = min(point[axis] for point in points) - 10 * EXIT_MM
        high[axis] = max(point[axis] for point in points)
    assert [*low, *high] in rows
    assert _exits("+x+y+z", []).shape == (0, 6)


def test_how_much_higher_middles_lie_than_in_the_lowest_place() -> None:
    outline = np.array([[0, 0, 10, 5, 5, 20], [0, 0, 4, 5, 5, 9], [1, 1, 4, 5, 5, 30]], dtype=float)
    assert _rise(outline).tolist() == [8.5, 0.0, 10.5]
    assert _rise(outline[:0]).tolist() == []


def test_a_placed_part_may_sink_as_far_as_its_domain_lets_it() -> None:
    """Of boxes of offsets that hold its place the lowest; a box without a volume is none."""
    made = replace(block("b", (4.0, 3.0, 2.0)), access=(Access("lid", "switch", "+z", True),))
    need = Need("b", (made,))
    packer = Packer({"v": ROOM})
    problem = packer._problem(packer.cavity("v"), (Wanted(need, made),), "outward")
    variant: Variant = replace(
        problem.items[0].variants[0],
        domain=(
            (0, 0, 50, 90, 90, 90),
            (40, 40, 20, 60, 60, 90),
            (70, 70, 0, 90, 90, 90),
            (0, 0, 0, 90, 90, 60),
        ),
    )
    for at, drop in (((50, 50, 80), 60), ((10, 10, 80), 30), ((80, 80, 80), 80), ((10, 10, 60), 60)):
        assert standing_part(Wanted(need, made), variant, Placed(0, at)).lowest_drop == drop
    rows = [(0, 0, 0, 1, 1, 1), (0, 0, 0, 0, 1, 1), (0, 0, 0, 1, 0, 1), (0, 0, 5, 1, 1, 5)]
    assert _with_volume(rows) == rows[:1]
