"""How far parts fall, what lies beside them, how large a box is enough: each beside a look at every case."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fitplan.lattice.boxes import hull_in_tenths
from fitplan.model.needed import Need
from fitplan.model.part import Clearance, Mount, Part
from fitplan.model.placed import Piece, Shelf
from fitplan.model.solids import DIRECTIONS, Box, axis_of, is_forward
from fitplan.packing.engine.insertion import one_more
from fitplan.packing.engine.problem import (
    Item,
    ItemClearance,
    PackingProblem,
    Placed,
    Shape,
    Space,
    Variant,
    anywhere,
)
from fitplan.packing.vehicle.addition_shapes import UnsupportedPart, in_mm
from fitplan.packing.vehicle.box_shortage import surely_enough
from fitplan.packing.vehicle.lowering import LoweredPart, lower_parts
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.possible_spots import possible_spots
from fitplan.packing.vehicle.reserved_ways import _out_of_reach
from fitplan.packing.vehicle.roomy_places import RoomySearch
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.shelves import _thin_pads
from fitplan.packing.vehicle.straps import Strap, _ways, pad_of
from fitplan.packing.vehicle.support import borne_by, cut_to
from fitplan.packing.vehicle.wishes import WiredNet, WiredPin, Wishes

from .small_trains import block, hollow

Row = tuple[int, int, int, int, int, int]


def boxed(dice: random.Random, low: tuple[int, int, int], high: tuple[int, int, int], most: int) -> Row:
    corner = [dice.randint(a, b) for a, b in zip(low, high, strict=True)]
    x, y, z = corner
    return (x, y, z, x + dice.randint(1, most), y + dice.randint(1, most), z + dice.randint(1, most))


def meets(one: Row, other: Row) -> bool:
    return all(one[k] < other[k + 3] and other[k] < one[k + 3] for k in range(3))


def down(box: Row, by: int) -> Row:
    return (box[0], box[1], box[2] - by, box[3], box[4], box[5] - by)


# -- how far a part falls ----------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(4))
def test_a_part_falls_until_anything_of_it_meets_anything(seed: int) -> None:
    """Step by step: its boxes on other parts, what these keep clear and obstacles, its own rooms on walls."""
    dice = random.Random(seed)
    fell = []
    for _ in range(150):
        own = tuple(boxed(dice, (0, 0, 20), (8, 8, 24), 4) for _ in range(dice.randint(1, 2)))
        rooms = tuple(boxed(dice, (0, 0, 18), (8, 8, 24), 3) for _ in range(dice.randint(0, 2)))
        others = [
            LoweredPart(
                f"other {n}",
                tuple(boxed(dice, (0, 0, 2), (8, 8, 10), 5) for _ in range(dice.randint(1, 2))),
                tuple(boxed(dice, (0, 0, 2), (8, 8, 10), 5) for _ in range(dice.randint(0, 2))),
                0,
                True,
            )
            for n in range(dice.randint(0, 2))
        ]
        obstacles = [boxed(dice, (0, 0, 0), (8, 8, 9), 6) for _ in range(dice.randint(0, 3))]
        walls = obstacles[: dice.randint(0, len(obstacles))]
        lowest = dice.randint(0, 25)
        part = LoweredPart("part", own, rooms, lowest, True)

        def free(by: int, part: LoweredPart = part, others: list[LoweredPart] = others,
                 obstacles: list[Row] = obstacles, walls: list[Row] = walls) -> bool:  # fmt: skip
            mine, kept = [down(b, by) for b in part.boxes], [down(b, by) for b in part.clearances]
            solid = [*obstacles, *(b for one in others for b in (*one.boxes, *one.clearances))]
            shut = [*walls, *(b for one in others for b in one.boxes)]
            return not any(meets(a, b) for a in mine for b in solid) and not any(
                meets(a, b) for a in kept for b in shut
            )

        if not free(0):
            continue
        expected = next((by - 1 for by in range(1, lowest + 1) if not free(by)), lowest)
        held = frozenset(one.name for one in others)
        found = lower_parts([part, *others], obstacles, held, walls=walls)
        assert found[0].drop == expected
        assert all(one.drop == 0 for one in found[1:])
        fell.append(expected == lowest)
    assert len(fell) > 60
    assert set(fell) == {True, False}


# -- one more beside those that lie ------------------------------------------------------------------------

SIDE = 6


@pytest.mark.parametrize("seed", range(6))
def test_one_more_lies_as_low_as_it_goes_in_its_cheapest_pose(seed: int) -> None:
    """In two spaces, beside parts and what they keep clear, with a room of its own: every whole offset."""
    dice = random.Random(seed)
    said = set()
    for _ in range(25):
        hull: Row = (0, 0, 0, SIDE, SIDE, SIDE)
        spaces = tuple(
            Space(hull, tuple(boxed(dice, (0, 0, 0), (4, 4, 4), 3) for _ in range(dice.randint(0, 2))))
            for _ in range(2)
        )
        laid: dict[str, Placed] = {}
        items = []
        for n in range(dice.randint(1, 3)):
            shape = Shape((boxed(dice, (0, 0, 0), (0, 0, 0), 4),), tuple(
                ItemClearance(boxed(dice, (-2, -2, -2), (3, 3, 3), 3)) for _ in range(dice.randint(0, 1))
            ))  # fmt: skip
            home = dice.randint(0, 1)
            variant = Variant("one", shape, anywhere(shape, hull), home)
            items.append(Item(f"item {n}", (variant,)))
            laid[f"item {n}"] = Placed(0, (dice.randint(0, 3), dice.randint(0, 3), dice.randint(0, 3)))
        variants = []
        for n in range(dice.randint(1, 3)):
            own = (ItemClearance(boxed(dice, (-2, -2, -2), (3, 3, 3), 3), dice.random() < 0.5),)
            shape = Shape(
                tuple(boxed(dice, (0, 0, 0), (1, 1, 1), 4) for _ in range(dice.randint(1, 2))),
                own if dice.random() < 0.5 else (),
            )
            variants.append(
                Variant(
                    f"v{n}", shape, anywhere(shape, hull), dice.randint(0, 1), cost=dice.choice((0, 1, 2))
                )
            )
        problem = PackingProblem(spaces, (*items, Item("new", tuple(variants))))

        def at(box: Row, offset: tuple[int, ...]) -> Row:
            x, y, z = offset
            return (box[0] + x, box[1] + y, box[2] + z, box[3] + x, box[4] + y, box[5] + z)

        def fits(variant: Variant, offset: tuple[int, ...], items: list[Item] = items,
                 laid: dict[str, Placed] = laid, spaces: tuple[Space, ...] = spaces) -> bool:  # fmt: skip
            mine = [at(box, offset) for box in variant.shape.solid]
            kept = [(at(one.box, offset), one.clear_of_obstacles) for one in variant.shape.clearances]
            walls = spaces[variant.space].obstacles
            if any(min(box[:3]) < 0 or max(box[3:]) > SIDE for box in mine):
                return False
            if any(meets(a, b) for a in mine for b in walls):
                return False
            if any(meets(a, b) for a, clear in kept if clear for b in walls):
                return False
            for item in items:
                (other,), where = item.variants, laid[item.name].offset
                if other.space != variant.space:
                    continue
                solid = [at(box, where) for box in other.shape.solid]
                rooms = [at(one.box, where) for one in other.shape.clearances]
                if any(meets(a, b) for a in (*mine, *(a for a, _ in kept)) for b in solid):
                    return False
                if any(meets(a, b) for a in mine for b in rooms):
                    return False
            return True

        expected = None
        for number in sorted(range(len(variants)), key=lambda k: (variants[k].cost, k)):
            free = [
                offset
                for offset in itertools.product(range(-1, SIDE + 1), repeat=3)
                if fits(variants[number], offset)
            ]
            if free:
                x, y, z = min(free, key=lambda spot: (spot[2], spot[0], spot[1]))
                expected = Placed(number, (x, y, z))
                break
        assert one_more(problem, laid, "new") == expected
        said.add(expected is None)
    assert False in said


# -- boxes that are enough ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rooms", "enough"),
    [
        ((), "30.0 × 20.0 × 10.0"),
        ((((30, 0, 0), (35, 5, 5), "always"),), "35.0 × 20.0 × 10.0"),
        ((((30, 0, 0), (35, 5, 5), "access"),), "30.0 × 20.0 × 10.0"),
        ((((-4, 0, 0), (0, 5, 5), "always"), ((30, 0, 0), (33, 5, 5), "always")), "37.0 × 20.0 × 10.0"),
        ((((0, 0, 10), (5, 5, 26), "always"),), "30.0 × 26.0 × 20.0"),
        ((((0, -15, 0), (5, 0, 5), "always"),), "35.0 × 30.0 × 10.0"),
    ],
)
def test_the_flattest_box_round_a_part_and_its_rooms(rooms: tuple[Any, ...], enough: str) -> None:
    """Flat, and then as long as it is: its edges in order of their size."""
    part = replace(
        block("b", (30.0, 20.0, 10.0)),
        clearances=tuple(Clearance("room", "plug", Box(low, high), needed) for low, high, needed in rooms),
    )
    assert surely_enough(part) == f"{enough} mm, its room for leads and plugs in it, would be enough"
    upright = replace(part, mount=Mount(upright=True))
    edges = [float(one) for one in enough.split(" × ")]
    size = [float(one) for one in surely_enough(upright).split(" mm")[0].split(" × ")]
    assert sorted(size) == sorted(edges)
    assert size[0] >= size[1]


def test_spots_where_a_part_may_lie_are_the_middles_of_its_solids() -> None:
    """A bar with a knob in an empty room: within a few tenths of where it lies in the room's low corner."""
    solids = (Box((0, 0, 0), (20, 10, 6)), Box((0, 0, 6), (4, 4, 8)))
    part = Part("p", "p", "part", solids, 1.0, "invented", mount=Mount(turnable=False))
    packer = Packer({"wagon": hollow("wagon", 12, 8, 12)})
    spots = possible_spots(packer, "wagon", Wanted(Need("p", (part,)), part), frozenset())
    assert spots is not None
    low = np.array([8.0, 8.0, 19.2])
    middles = np.array([[10.0, 5.0, 3.0], [2.0, 2.0, 7.0]])
    assert spots.shape[1:] == (2, 3)
    assert np.abs(spots - (low + middles)).max(axis=(1, 2)).min() < 0.5
    # Every spot is one of the part as a whole: its two middles always lie alike.
    assert np.allclose(spots[:, 1] - spots[:, 0], middles[1] - middles[0], atol=0.11)
    wall = hollow("wagon", 3, 3, 3)
    tight = Packer({"wagon": wall})
    none = possible_spots(tight, "wagon", Wanted(Need("p", (part,)), part), frozenset())
    assert none is not None
    assert len(none) == 0


# -- small rooms and pads ----------------------------------------------------------------------------------


@pytest.mark.parametrize("out", DIRECTIONS)
@pytest.mark.parametrize("reach", [0, 700])
def test_what_is_too_deep_for_a_finger(out: Any, reach: int) -> None:
    """From the hull's plane, where the mover's rear face lies ``reach`` in, and on: all else is open."""
    vehicle = hollow("wagon", 12, 8, 12)
    hull = hull_in_tenths(vehicle)
    mover = np.array([[10, 20, 30, 40, 50, 60], [0, 25, 35, 45, 55, 58]])
    (row,) = _out_of_reach(vehicle, mover, out, reach).tolist()
    axis = axis_of(out)
    if is_forward(out):
        edge = hull[axis + 3] - reach - min(mover[:, axis])
        assert row[axis + 3] == edge
        row[axis + 3] = 10**6
    else:
        edge = hull[axis] + reach - max(mover[:, axis + 3])
        assert row[axis] == edge
        row[axis] = -(10**6)
    assert max(row[:3]) <= -100_000
    assert min(row[3:]) >= 100_000


def test_pads_lie_under_what_touches_them() -> None:
    """A pad under three boxes of a part: two lie on it, one of them by less than a millimetre."""
    pad = (0, 0, 100, 200, 100, 120)
    part = UnsupportedPart(
        ((0, 0, 120, 60, 90, 200), (150, 20, 120, 260, 80, 180), (70, 0, 125, 140, 90, 160),
         (195, 0, 120, 300, 9, 130)),
        (), (), 30.0, 0.3,
    )  # fmt: skip
    shelf = Shelf("pad", (Piece("pad", in_mm(pad)),), 0)
    assert _thin_pads(shelf, part) == ((0, 0, 100, 60, 90, 120), (150, 20, 100, 200, 80, 120))
    assert _thin_pads(None, part) == _thin_pads(replace(shelf, kind="block"), part) == ()
    assert borne_by(pad, part.boxes) == [(0, 0, 60, 90), (150, 20, 200, 80)]


def test_a_pad_is_cut_to_what_carries_it() -> None:
    """The rectangle round what it shares with patches of a millimetre and more; its height stays."""
    pad = (100, 100, 7, 300, 200, 31)
    assert cut_to([(0, 0, 130, 140), (250, 120, 400, 400)], pad) == (100, 100, 7, 300, 200, 31)
    assert cut_to([(0, 0, 130, 140)], pad) == (100, 100, 7, 130, 140, 31)
    assert cut_to([(120, 110, 180, 170), (160, 150, 220, 180)], pad) == (120, 110, 7, 220, 180, 31)
    assert cut_to([(120, 110, 180, 170), (291, 0, 400, 400)], pad) == (120, 110, 7, 180, 170, 31)
    assert cut_to([(291, 0, 400, 400), (0, 0, 400, 109)], pad) is None


def strap(under: int, *stacks: Row, axis: int = 0, over: tuple[tuple[int, ...], ...] = ()) -> Strap:
    pieces = (*(("brick 1 × 1", box) for box in stacks), ("plate 1 × 4", (0, 0, under, 320, 80, under + 32)))
    return Strap(0, len(pieces), 4, pieces, axis, 1.0, (), over)  # type: ignore[arg-type]


@pytest.mark.parametrize(("gap", "pad"), [(0, False), (1, False), (2, True), (20, True)])
def test_a_pad_fills_the_gap_under_a_strap(gap: int, pad: bool) -> None:
    one = strap(500 + gap, over=((10, 20, 60, 70), (90, 5, 130, 40)))
    assert pad_of(one, 500) == ((("pad", (10, 5, 500, 130, 70, 500 + gap)),) if pad else ())


@pytest.mark.parametrize("axis", [0, 1])
def test_stacks_hold_the_ways_that_they_stand_close_to(axis: int) -> None:
    """No further than a stud, 8 mm, from the part, not within it, before half a stud and a plate of it."""
    rows = np.array([[200, 200, 0, 260, 260, 100]])
    minus, plus = ("-x", "+x") if axis == 0 else ("-y", "+y")

    def stack(start: int, beside: int = 200, low: int = 0) -> Row:
        edges = [beside, beside, low, beside + 80, beside + 80, low + 96]
        edges[axis], edges[axis + 3] = start, start + 80
        return (edges[0], edges[1], edges[2], edges[3], edges[4], edges[5])

    for before in (-1, 0, 80, 81):
        for behind in (-1, 0, 80, 81):
            one = strap(500, stack(120 - before), stack(260 + behind), axis=axis)
            ways = (*((minus,) if 0 <= before <= 80 else ()), *((plus,) if 0 <= behind <= 80 else ()))
            assert _ways(one, rows) == ways
    for beside, low, holds in (
        (160, 0, True),
        (159, 0, False),
        (220, 0, True),
        (221, 0, False),
        (200, 68, True),
    ):
        assert _ways(strap(500, stack(260, beside, low), axis=axis), rows) == ((plus,) if holds else ())
    # Two bricks on each other are one stack; what protrudes beside a stack holds nothing there.
    assert _ways(strap(500, stack(260, 200, 84), stack(260, 200, 180), axis=axis), rows) == ()
    nose = [260, 300, 0, 300, 340, 100] if axis == 0 else [300, 260, 0, 340, 300, 100]
    assert _ways(strap(500, stack(300), axis=axis), np.array([*rows, nose])) == (plus,)
    assert _ways(strap(500, stack(345), axis=axis), np.array([*rows, nose])) == ()


# -- loose places ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(3))
def test_what_all_places_cost_is_what_each_costs_and_gets_no_more(seed: int) -> None:
    """Beside the others, part by part; taking parts up again never makes it dearer, and somewhere cheaper."""
    parts = [
        block(f"part-{n}", size) for n, size in enumerate(((20, 12, 8), (15, 9, 9), (9, 8, 6), (30, 5, 5)))
    ]
    wanted = tuple(Wanted(Need(one.id, (one,)), one) for one in parts)
    vehicle = hollow("wagon", 12, 6, 10)
    packer = Packer({"wagon": vehicle})
    problem = packer._problem(packer.cavity("wagon"), wanted, "outward")
    pins = [WiredPin(one.id, (1.0, 2.5, one.bounds.high[2]), "+z") for one in parts]
    nets = (
        WiredNet((pins[0], pins[3]), ((80.0, 20.0, 25.0),)),
        WiredNet((pins[1], pins[2]), ((15.0, 30.0, 25.0),)),
    )
    wishes = Wishes(nets)
    search = RoomySearch(wanted, problem, vehicle, wishes, seed)
    assert search.find(better=False) is not None
    each = [float(search._costs(number)[at]) for number, at in search._at.items()]
    first = search._total()
    assert first == pytest.approx(sum(each))
    again = RoomySearch(wanted, problem, vehicle, wishes, seed)
    assert again.find() is not None
    assert again._total() < first - 1e-6
