"""What pads and blocks bear, which pieces hold each other, how far a middle lies beside a hull: by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fitplan.model.placed import Piece, Shelf
from fitplan.model.solids import DIRECTIONS, Box, Direction, axis_of, is_forward
from fitplan.model.vehicle import BodySolid
from fitplan.verify.mounts import _added, _beside_hull
from fitplan.verify.scene import Site, sites_of
from fitplan.verify.shapes import Disc, Prism
from fitplan.verify.shelves import _area, _hold, _is_seat

from .lies import placed_with
from .test_hung_and_strapped import wagon
from .two_vehicles import FLOOR, plan

TOP = FLOOR + 9.6


def site_of(shelf: Shelf, *bricks: Box, other: Shelf | None = None) -> Site:
    """The wagon with bricks on its floor, a shelf under its lamp, and one under its eye."""
    made = placed_with(placed_with(plan(), "lamp", shelf=shelf), "eye", shelf=other)
    return sites_of(wagon(made.built, *(BodySolid(one, "fixed", smooth=True) for one in bricks)))["wagon"]


def pad(low: tuple[float, float], high: tuple[float, float], z: float = TOP) -> Shelf:
    return Shelf("pad", (Piece("pad", Box((*low, z), (*high, z + 2))),), 0)


def brick(x0: float, x1: float, y0: float = 16, y1: float = 32, top: float = TOP) -> Box:
    return Box((x0, y0, FLOOR), (x1, y1, top))


def test_a_pad_bears_as_far_as_it_lies_on_something() -> None:
    """Along and across; on two bricks from one to the other; 0.3 mm above them, and no more."""
    long = pad((30, 20), (60, 28))
    box = (30, 20, TOP, 60, 28, TOP + 2)
    for bricks, spans in (
        ((), None),
        ((brick(30, 38),), (30, 20, 38, 28)),
        ((brick(22, 38),), (30, 20, 38, 28)),
        ((brick(50, 70),), (50, 20, 60, 28)),
        ((brick(34, 40), brick(48, 52)), (34, 20, 52, 28)),
        ((brick(48, 52), brick(34, 40)), (34, 20, 52, 28)),
        ((brick(24, 70, 24, 36),), (30, 24, 60, 28)),
        ((brick(24, 70, 12, 25),), (30, 20, 60, 25)),
        ((brick(30, 38, top=TOP - 0.29),), (30, 20, 38, 28)),
        ((brick(30, 38, top=TOP - 0.31),), None),
    ):
        found = _added(site_of(long, *bricks))
        if spans is None:
            assert found == []
            continue
        x0, y0, x1, y1 = spans
        expected = (x0, y0, box[2], x1, y1, box[5])
        assert [(*one.low, *one.high) for one in found] == [pytest.approx(expected, abs=2e-3)]


def test_pads_lie_on_parts_and_on_what_carries_others() -> None:
    """On the eye; on a plate under it; what is no pad bears over all of it, whatever it lies on."""
    site = site_of(pad((4, 18), (14, 30), 40.0))
    eye = next(part for part in site.parts if part.name == "eye")
    assert eye.bounds.high[2] == 40.0
    (found,) = _added(site)
    low = tuple(max(a, b) for a, b in zip((4, 18), eye.bounds.low[:2], strict=True))
    high = tuple(min(a, b) for a, b in zip((14, 30), eye.bounds.high[:2], strict=True))
    assert (*found.low[:2], *found.high[:2]) == pytest.approx((*low, *high), abs=2e-3)
    plate = Shelf("plates", (Piece("plate 1 × 2", Box((32, 16, TOP - 3.2), (40, 32, TOP))),), 2)
    both = _added(site_of(pad((30, 20), (60, 28)), other=plate))
    assert both[0] == plate.boxes[0]
    assert (*both[1].low, *both[1].high) == pytest.approx((32, 20, TOP, 40, 28, TOP + 2), abs=2e-3)
    # Of a pad that bears nothing the one behind it is looked at all the same.
    two = _added(site_of(pad((30, 20), (60, 28)), brick(10, 14, 10, 14), other=pad((8, 8), (12, 12))))
    assert [(*one.low[:2], *one.high[:2]) for one in two] == [pytest.approx((10, 10, 12, 12), abs=2e-3)]
    block = Shelf("block", (Piece("block", Box((30, 20, TOP), (60, 28, TOP + 8))),), 0)
    (one,) = _added(site_of(block, brick(30, 38)))
    assert (one.low[0], one.high[0]) == pytest.approx((30, 38), abs=2e-3)


@pytest.mark.parametrize("seed", range(4))
def test_how_far_a_middle_lies_beside_what_carries_it(seed: int) -> None:
    """Beyond the edge of a box that it is farthest beyond; nothing within it, very far without any."""
    rng = np.random.default_rng(seed)
    for _ in range(50):
        (x0, x1), (y0, y1) = (sorted(rng.uniform(-9, 9, 2)) for _ in range(2))
        spot = (float(rng.uniform(-15, 15)), float(rng.uniform(-15, 15)))
        out = max(x0 - spot[0], spot[0] - x1, y0 - spot[1], spot[1] - y1, 0.0)
        points = [(float(x), float(y)) for x in (x0, x1) for y in (y0, y1)]
        assert _beside_hull(spot, points) == pytest.approx(out)
    # A slanted edge, 3 : 4 : 5.
    assert _beside_hull((4.0, 4.0), [(0, 0), (4, 0), (0, 3)]) == pytest.approx((3 * 4 + 4 * 4 - 12) / 5)
    assert _beside_hull((0.0, 0.0), []) > 100
    assert math.isfinite(_beside_hull((0.0, 0.0), [(1.0, 1.0)]))


@pytest.mark.parametrize("side", DIRECTIONS)
def test_the_face_of_a_box_on_one_side(side: Direction) -> None:
    box = Box((1, 2, 3), (7, 9, 12))
    face = box.face(side)
    axis = axis_of(side)
    plane = box.high[axis] if is_forward(side) else box.low[axis]
    assert face.low[axis] == face.high[axis] == plane
    for k in range(3):
        assert k == axis or (face.low[k], face.high[k]) == (box.low[k], box.high[k])


def put(name: str, low: tuple[float, float, float], size: tuple[float, float, float]) -> Piece:
    x, y, z = low
    return Piece(name, Box(low, (x + size[0], y + size[1], z + size[2])))


def test_pieces_hold_each_other_over_the_cell_of_a_stud() -> None:
    """One on the other with 8 × 8 mm in common; less, or a gap, holds nothing."""
    low = put("plate 2 × 2", (16, 16, 0), (16, 16, 3.2))
    for spot, held in (
        ((16, 16, 3.2), True),
        ((24, 24, 3.2), True),
        ((24, 16, 3.2), True),
        ((28, 16, 3.2), False),
        ((16, 28, 3.2), False),
        ((32, 16, 3.2), False),
        ((16, 16, 3.3), False),
        ((16, 16, 6.4), False),
        ((16, 16, -3.2), True),
        ((32, 16, 0), False),
    ):
        other = put("plate 2 × 2", spot, (16, 16, 3.2))
        assert _hold(low, other) == _hold(other, low) == held, spot


@pytest.mark.parametrize("axis", [0, 1])
def test_a_tile_sits_on_the_side_of_a_brick_with_a_stud_there(axis: int) -> None:
    """Its face against the brick's over 8 × 8 mm; on a brick without that stud it does not."""
    side, plain = "brick with a stud on its side 1 × 1", "brick 1 × 1"
    for far, aside, up, held in (
        (0.0, 0.0, 0.8, True),
        (0.1, 0.0, 0.8, False),
        (-0.1, 0.0, 0.8, False),
        (0.0, 0.5, 0.8, False),
        (0.0, 0.0, 1.6, True),
        (0.0, 0.0, 2.0, False),
    ):
        for sign in (1, -1):
            low, size = [24.0, 24.0, 10.0 + up], [8.0, 8.0, 8.0]
            size[axis] = 3.2
            low[axis] = 32.0 + far if sign > 0 else 24.0 - 3.2 - far
            low[1 - axis] += aside
            tile = put("tile 1 × 1", (low[0], low[1], low[2]), (size[0], size[1], size[2]))
            assert _hold(put(side, (24, 24, 10), (8, 8, 9.6)), tile) == held
            assert _hold(tile, put(side, (24, 24, 10), (8, 8, 9.6))) == held
            assert not _hold(tile, put(plain, (24, 24, 10), (8, 8, 9.6)))
    # At a corner it touches two sides at once, and holds by neither.
    corner = put("tile 1 × 1", (32, 32, 10), (3.2, 8, 8))
    assert not _hold(corner, put(side, (24, 24, 10), (8, 8, 9.6)))


def test_what_two_boxes_share_across_an_axis() -> None:
    assert [_area((2.0, 3.0, 5.0), axis) for axis in range(3)] == [15.0, 10.0, 6.0]
    assert _area((-1.0, 3.0, 5.0), 0) == 15.0
    assert _area((-1.0, 3.0, 5.0), 1) == _area((1.0, 0.0, 5.0), 2) == _area((-1.0, -3.0, 5.0), 2) == 0.0


@pytest.mark.parametrize(
    ("name", "x", "y", "z", "axis", "seat"),
    [
        ("plate 1 × 2", 28, 20, FLOOR, 2, True),
        ("plate 1 × 2", 28, 28, FLOOR, 2, True),
        ("plate 1 × 2", 24, 20, FLOOR, 2, False),
        ("plate 1 × 2", 32, 20, FLOOR, 2, False),
        ("plate 1 × 2", 28, 16, FLOOR, 2, False),
        ("plate 1 × 2", 28, 32, FLOOR, 2, False),
        ("plate 1 × 2", 28, 20, FLOOR + 0.02, 2, False),
        ("plate 1 × 2", 28, 20, FLOOR, 0, False),
        ("pad", 28, 20, FLOOR, 2, False),
        ("block", 28, 20, FLOOR, 2, False),
        ("studs", 28, 20, FLOOR, 2, False),
    ],
)
def test_a_stud_goes_into_a_piece_that_stands_on_it(
    name: str, x: float, y: float, z: float, axis: int, seat: bool
) -> None:
    """Its middle within the piece, its foot as low; pads, blocks and studs take none."""
    piece = Piece(name, Box((24, 16, FLOOR), (32, 32, FLOOR + 3.2)))
    assert _is_seat(piece, Prism(axis, Disc((x, y), 2.4), z, z + 1.7)) == seat
    assert not _is_seat(piece, Box((27, 19, FLOOR), (29, 21, FLOOR + 1.7)))
