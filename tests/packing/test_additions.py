"""The cheapest addition under a part that hangs: pieces that exist, on studs, and none cheaper."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import fitplan.packing.vehicle.shelves as shelves
from fitplan.model.needed import Need
from fitplan.model.part import Mount, Part
from fitplan.model.placed import SHELF_WORDS, Piece, Placement, Shelf
from fitplan.model.solids import Box, Cylinder, Place, pose_named
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid, Vehicle, Window
from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.addition_shapes import CELL, KNOB, LAYER, SIZES, UnsupportedPart
from fitplan.packing.vehicle.additions import cheapest_addition
from fitplan.packing.vehicle.lowering import Carried
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.room_for_parts import bricks_of
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.shelves import with_shelves
from fitplan.verify.mounts import check_mounts
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site, standing
from fitplan.verify.shelves import check_shelves

from .listed_means import feet_in, fewest_pieces, meets
from .small_trains import hollow

FLOOR = 192
"""Level that the studs of a `hollow` vehicle stand on; its inside begins at x = y = 8 mm."""


def studded(long: int, wide: int, plates: int) -> Vehicle:
    return replace(hollow("v", long, wide, plates), floor_finish="studded")


def hanging(box: IntBox, *around: IntBox) -> UnsupportedPart:
    return UnsupportedPart((box,), (), around)


def room_below(box: IntBox) -> IntBox:
    return (box[0], box[1], FLOOR + KNOB, box[3], box[4], box[2])


def placed(box: IntBox, name: str = "part") -> Placement:
    """A block where it hangs."""
    size = tuple((box[i + 3] - box[i]) / 10 for i in range(3))
    made = Part(name, name, "lamp", (Box((0, 0, 0), size),), 5.0, "invented for a test", mount=Mount())  # type: ignore[arg-type]
    at = (box[0] / 10, box[1] / 10, box[2] / 10)
    return Placement(name, made, "v", Place(pose_named("+x+y+z"), at), "shelf")


def wrong(vehicle: Vehicle, *placements: Placement) -> list[str]:
    """What the independent checker finds wrong with the shelves and with what carries the parts."""
    site = Site(TrainVehicle("v", vehicle), frozenset(), tuple(standing(one) for one in placements))
    sheet = Tally()
    check_shelves(site, sheet)
    needs = {one.need: Need(one.need, (one.part,)) for one in placements}
    check_mounts(site, needs, sheet)
    return [problem.message for problem in sheet.report().problems]


def over(one: IntBox, other: IntBox) -> bool:
    return all(one[i] < other[i + 3] and other[i] < one[i + 3] for i in (0, 1))


def added(vehicle: Vehicle, box: IntBox, *others: IntBox) -> Shelf:
    """The addition under a block, beside other blocks, after the checker has seen it."""
    beside = [replace(placed(other, f"other {i}"), carried_by="the body") for i, other in enumerate(others)]
    level = max(one[5] for one in bricks_of(vehicle, frozenset()) if over(one, box) and one[5] <= box[2])
    hanging_part = Carried("part", 0, "shelf", (*box[:2], level, *box[3:5], box[2]))
    settled = [hanging_part, *(Carried(other.need, 0, "the body") for other in beside)]
    part, *rest = with_shelves(vehicle, frozenset(), [placed(box), *beside], settled)
    assert part.shelf is not None
    needy = [replace(one, part=replace(one.part, mount=Mount(needs_support=False))) for one in rest]
    assert wrong(vehicle, part, *needy) == []
    return part.shelf


def test_a_pad_ends_where_what_it_lies_on_ends() -> None:
    """A board 1.6 mm above a post that ends before its middle: the pad ends there, too.

    A pad drawn on into the air is found by the checker: it says how far the middle lies beside the post.
    """
    post = BodySolid(Box((16, 16, 19.2), (24, 32, 38.4)), "fixed", smooth=True)
    bare = hollow("v", 8, 6, 16)
    vehicle = replace(bare, floor_finish="smooth", body=(*bare.body, post))
    board = (160, 170, 400, 500, 310, 420)
    hanging_part = Carried("part", 0, "shelf", (160, 170, 384, 500, 310, 400))
    (part,) = with_shelves(vehicle, frozenset(), [placed(board)], [hanging_part])
    assert part.shelf is not None
    assert (part.shelf.kind, part.steady) == ("pad", False)
    assert part.shelf.boxes == (Box((16, 17, 38.4), (24, 31, 40.0)),)
    drawn_on = Piece("pad", Box((16, 17, 38.4), (50, 31, 40.0)))
    lie = replace(part, shelf=Shelf("pad", (drawn_on,), 0, True), steady=True)
    assert wrong(vehicle, lie) == ["part is said to stand, and its middle lies 9.0 mm beside what carries it"]


def test_a_pad_is_never_under_the_flank_of_something_round() -> None:
    """A round part 1.6 mm over a post under its flank alone, which its lowest line passes by: it is unsteady.

    A pad on the post alone would touch nothing of it.
    """
    post = BodySolid(Box((16, 16, 19.2), (28, 19, 38.4)), "fixed", smooth=True)
    bare = hollow("v", 8, 6, 16)
    vehicle = replace(bare, floor_finish="smooth", body=(*bare.body, post))
    tube = Part("part", "part", "lamp", (Cylinder("x", (0, 8, 8), 12, 8),), 5.0, "invented for a test")
    there = Placement("part", tube, "v", Place(pose_named("+x+y+z"), (16.0, 16.0, 40.0)), "shelf")
    hanging_part = Carried("part", 0, "shelf", (160, 160, 384, 280, 320, 400))
    (part,) = with_shelves(vehicle, frozenset(), [there], [hanging_part])
    assert part.shelf is not None
    assert not part.steady
    assert wrong(vehicle, part) == []


@pytest.mark.parametrize(("ledge", "stands"), [(0.5, False), (0.9, False), (1.0, True), (1.5, True)])
def test_what_bears_on_narrow_ledges_alone_does_not_stand(ledge: float, stands: bool) -> None:
    """A board over a gap between two posts, less and more than a millimetre on either; the checker agrees."""
    posts = [
        BodySolid(Box((16, y, 19.2), (48, y + 4, 38.4)), "fixed", smooth=True)
        for y in (17 + ledge - 4, 31 - ledge)
    ]
    bare = hollow("v", 8, 6, 16)
    vehicle = replace(bare, floor_finish="smooth", body=(*bare.body, *posts))
    hanging_part = Carried("part", 0, "shelf", (200, 170, 384, 400, 310, 400))
    (part,) = with_shelves(vehicle, frozenset(), [placed((200, 170, 400, 400, 310, 420))], [hanging_part])
    assert part.shelf is not None
    assert (part.shelf.kind, part.steady) == ("pad", stands)
    assert wrong(vehicle, part) == []


@pytest.mark.parametrize(("grams", "pressed"), [(20.0, False), (21.0, True)])
def test_what_is_heavy_and_stands_on_nothing_is_pressed(
    monkeypatch: pytest.MonkeyPatch, grams: float, pressed: bool
) -> None:
    """The lower half of a pair carries it; up to 20 g tape does, and the pair is not asked for."""
    half = Shelf("bracket", (Piece("plate 2 × 2", Box((16, 16, 35.2), (32, 32, 38.4))),), 2, False)
    monkeypatch.setattr(shelves, "cheapest_pair", lambda *asked: SimpleNamespace(shelf=half))
    post = BodySolid(Box((16, 16, 19.2), (24, 32, 38.4)), "fixed", smooth=True)
    bare = hollow("v", 8, 6, 16)
    vehicle = replace(bare, floor_finish="smooth", body=(*bare.body, post))
    board = placed((160, 170, 400, 500, 310, 420))
    board = replace(board, part=replace(board.part, mass_g=grams))
    hanging_part = Carried("part", 0, "shelf", (160, 170, 384, 500, 310, 400))
    (part,) = with_shelves(vehicle, frozenset(), [board], [hanging_part])
    assert part.shelf is not None
    assert (part.shelf == half) == pressed
    assert not part.steady


def test_a_pad_is_enough_below_a_plate() -> None:
    """A block 2 mm above the studs gets foam; nothing is built."""
    box = (160, 160, FLOOR + KNOB + 20, 320, 320, FLOOR + 150)
    shelf = added(studded(8, 6, 12), box)
    assert (shelf.kind, shelf.cost) == ("pad", 0)
    assert shelf.words == "a pad of foam or tape, 2.0 mm"


def test_plates_under_a_block() -> None:
    """A block 4 plates and a stud above the floor stands on a brick and a plate of the fewest studs."""
    box = (160, 160, FLOOR + 4 * LAYER + KNOB, 240, 240, FLOOR + 250)
    shelf = added(studded(8, 6, 12), box)
    assert shelf.kind == "plates"
    assert [piece.name for piece in shelf.parts] == ["brick 1 × 1", "plate 1 × 1"]
    assert (shelf.cost, shelf.studs) == (2, 1)


def test_a_bracket_reaches_over_another_part() -> None:
    """Where another block fills the floor below, a stack beside it carries a plate that reaches under."""
    box = (160, 160, FLOOR + 6 * LAYER + KNOB, 400, 320, FLOOR + 330)
    below = (160, 80, FLOOR + KNOB, 400, 400, FLOOR + 150)
    shelf = added(studded(8, 6, 14), box, below)
    assert shelf.kind == "bracket"
    assert shelf.cost == 4
    assert [piece.name.split()[0] for piece in shelf.parts] == ["brick", "plate", "plate", "plate"]
    assert shelf.studs == 2


def test_a_tile_at_its_side_where_nothing_goes_under() -> None:
    """Over a block as wide as the part and up to its underside, a stack beside holds it at its side."""
    box = (210, 80, FLOOR + 200, 450, 400, FLOOR + 330)
    below = (210, 80, FLOOR + KNOB, 450, 400, FLOOR + 165)
    shelf = added(studded(8, 6, 14), box, below)
    assert shelf.kind == "clip"
    assert [piece.name for piece in shelf.pieces[-2:]] == ["tile 1 × 1", "pad"]
    assert any("stud on its side" in piece.name for piece in shelf.pieces)


def test_a_plate_over_two_stacks_where_both_ends_are_free() -> None:
    """Over a block that leaves one stud on either side, a plate lies on two stacks of one stud."""
    box = (160, 160, FLOOR + 4 * LAYER + KNOB, 480, 240, FLOOR + 330)
    below = (160, 80, FLOOR + KNOB, 480, 400, FLOOR + 3 * LAYER)
    posts = [(x, y, FLOOR + KNOB, x + 80, y + 80, FLOOR + 330) for x in (80, 480) for y in (80, 240, 320)]
    shelf = added(studded(8, 6, 14), box, below, *posts)
    assert shelf.kind == "bridge"
    assert [piece.name for piece in shelf.parts] == ["brick 1 × 1", "plate 1 × 6", "brick 1 × 1"]


def roofed(long: int, wide: int, plates: int) -> Vehicle:
    """The same with a smooth floor, and a roof that stays."""
    return replace(hollow("v", long, wide, plates), openings=())


def test_a_plate_hangs_from_a_roof_that_stays() -> None:
    """Over a smooth floor a stack from the roof carries a plate; from a roof that lifts off none does."""
    box = (160, 160, 330, 300, 240, 400)
    vehicle = roofed(8, 6, 12)
    shelf = added(vehicle, box)
    assert (shelf.kind, shelf.studs) == ("hanger", 2)
    assert max(piece.box.high[2] for piece in shelf.parts) == pytest.approx(19.2 + 12 * 3.2)
    heavy = replace(hanging(box), mass_g=300.0)
    assert cheapest_addition(vehicle, frozenset(), heavy, room_below(box)).kind == "block"
    lifts = cheapest_addition(hollow("v", 8, 6, 12), frozenset(), hanging(box), room_below(box))
    assert lifts.kind == "block"
    part = replace(placed(box), shelf=shelf, carried_by="a plate that hangs from the roof")
    lower = tuple(
        replace(
            piece,
            box=Box(
                (*piece.box.low[:2], piece.box.low[2] - 0.5), (*piece.box.high[:2], piece.box.high[2] - 0.5)
            ),
        )
        for piece in shelf.pieces
    )
    assert any("hangs" in one for one in wrong(vehicle, replace(part, shelf=replace(shelf, pieces=lower))))


@pytest.mark.parametrize("seed", range(8))
def test_nothing_that_hangs_is_cheaper(seed: int) -> None:
    """On seeded scenes without studs below, what hangs takes as few pieces as at any place tried."""
    dice = random.Random(seed)
    x, y = dice.randrange(80, 300), dice.randrange(80, 240)
    z = FLOOR + dice.randrange(60, 200)
    box = (x, y, z, x + dice.randrange(60, 180), y + dice.randrange(40, 120), z + dice.randrange(30, 90))
    roof = FLOOR + 12 * LAYER
    best: int | None = None
    for (m, n), i, j in itertools.product({*SIZES, *((b, a) for a, b in SIZES)}, range(1, 7), range(1, 5)):
        if i + m > 7 or j + n > 5:
            continue
        near = (max(i * CELL, box[0]), max(j * CELL, box[1]))
        far = (min((i + m) * CELL, box[3]), min((j + n) * CELL, box[4]))
        middle = ((box[0] + box[3]) / 2, (box[1] + box[4]) / 2)
        if min(far[0] - near[0], far[1] - near[1]) < 20 or not all(
            near[k] <= middle[k] <= far[k] for k in (0, 1)
        ):
            continue
        for layers in range(1, 12):
            top = roof - layers * LAYER
            if not 0 <= box[2] - top - KNOB < LAYER:
                continue
            for a, b in ((2, 1), (1, 2)):
                for u, v, _, _ in feet_in(i, j, m, n, a, b) if m >= a and n >= b else ():
                    column = (u * CELL, v * CELL, top, (u + a) * CELL, (v + b) * CELL, roof)
                    count = fewest_pieces(layers, False)
                    if not meets(column, box) and count is not None:
                        best = count + 1 if best is None else min(best, count + 1)
    found = cheapest_addition(roofed(8, 6, 12), frozenset(), hanging(box), room_below(box))
    assert (found.kind == "hanger" and found.steady) == (best is not None)
    if best is not None:
        assert found.cost == best


def test_no_studs_no_bricks() -> None:
    """On a smooth floor nothing can be joined by studs: a block is proposed."""
    box = (160, 160, FLOOR + 100, 320, 320, FLOOR + 200)
    found = cheapest_addition(hollow("v", 8, 6, 12), frozenset(), hanging(box), room_below(box))
    assert found.kind == "block"


def test_a_pad_bears_a_part_only_where_it_reaches_its_underside() -> None:
    """A board on edge: the pad ends at the strip that is lowest, beside the middle, so it does not stand."""
    smooth = hollow("v", 14, 6, 24)
    strip, rest = (200, 200, 252, 800, 216, 780), (200, 120, 264, 800, 200, 780)
    part = UnsupportedPart((strip, rest), (), ())
    assert not cheapest_addition(smooth, frozenset(), part, (200, 120, 240, 800, 216, 252)).steady
    wide = UnsupportedPart(((200, 120, 252, 800, 216, 780),), (), ())
    assert cheapest_addition(smooth, frozenset(), wide, (200, 120, 240, 800, 216, 252)).steady


def test_plates_reach_past_the_middle_of_what_they_carry() -> None:
    """A slab of 64 mm here and there over studs: a plate never ends just under its middle."""
    box = (164, 160, FLOOR + LAYER + KNOB, 804, 320, FLOOR + 330)
    for ahead in range(0, 80, 8):
        here = (box[0] + ahead, box[1], box[2], box[3] + ahead, *box[4:])
        shelf = added(studded(14, 6, 14), here)
        touched = [piece.box for piece in shelf.pieces if piece.name == "studs"]
        middle = (here[0] + here[3]) / 20
        assert min(one.low[0] for one in touched) + 2.0 <= middle <= max(one.high[0] for one in touched) - 2.0


def test_nothing_heavy_hangs_on_a_side_stud() -> None:
    """Where a tile at its side holds 20 g, 21 g get something under them, or tip."""
    box = (210, 80, FLOOR + 200, 450, 400, FLOOR + 330)
    below = (210, 80, FLOOR + KNOB, 450, 400, FLOOR + 165)
    for grams, kind in ((20.0, "clip"), (21.0, "block")):
        part = replace(hanging(box, below), mass_g=grams)
        shelf = cheapest_addition(studded(8, 6, 14), frozenset(), part, room_below(box))
        assert shelf.kind == kind


def test_the_column_of_a_side_stud_bears_its_part_as_a_lever() -> None:
    """One stud holds 1 N × 4 mm over its near edge: 0.196 N beside it at 17 mm, not at 41, there 0.078 N."""
    short = (210, 80, FLOOR + 200, 450, 400, FLOOR + 330)
    below = (210, 80, FLOOR + KNOB, 450, 400, FLOOR + 165)
    part = replace(hanging(short, below), mass_g=20.0)
    assert cheapest_addition(studded(8, 6, 14), frozenset(), part, room_below(short)).kind == "clip"
    long = (*short[:3], 930, *short[4:])
    under = (*below[:3], 930, *below[4:])
    part = replace(hanging(long, under), mass_g=20.0)
    assert cheapest_addition(studded(14, 6, 14), frozenset(), part, room_below(long)).kind == "block"
    light = replace(part, mass_g=8.0)
    shelf = cheapest_addition(studded(14, 6, 14), frozenset(), light, room_below(long))
    assert shelf.kind == "clip"
    heavy = replace(placed(long), shelf=shelf, carried_by=SHELF_WORDS["clip"])
    heavy = replace(heavy, part=replace(heavy.part, mass_g=20.0))
    assert any("1 studs of what carries it, at 1 N each" in one for one in wrong(studded(14, 6, 14), heavy))


def test_a_wrong_shelf_is_found() -> None:
    """The checker tells a piece of the wrong size, one off the grid, one in the air, and missing studs."""
    vehicle = studded(8, 6, 12)
    box = (160, 160, FLOOR + 4 * LAYER + KNOB, 240, 240, FLOOR + 250)
    shelf = added(vehicle, box)
    brick, plate, _ = shelf.pieces

    def told(*pieces: object, studs: int = 1) -> list[str]:
        return wrong(vehicle, replace(placed(box), shelf=replace(shelf, pieces=pieces, studs=studs)))

    assert told(*shelf.pieces) == []
    assert any("said to stand on 2 studs" in text for text in told(*shelf.pieces, studs=2))
    assert any("is 8.0 × 8.0 × 9.6 mm" in text for text in told(replace(brick, name="brick 1 × 2"), plate))
    assert any("no brick, plate or tile" in text for text in told(replace(brick, name="wedge 1 × 1"), plate))
    low, high = brick.box.low, brick.box.high
    aside = replace(brick, box=Box((low[0] + 2, *low[1:]), (high[0] + 2, *high[1:])))
    assert any("beside the stud grid" in text for text in told(aside, plate))
    raised = replace(plate, box=Box((*low[:2], high[2] + 1), (*high[:2], high[2] + 4.2)))
    assert any("joined to nothing" in text for text in told(brick, raised))
    assert any("runs into part" in text for text in told(brick, replace(raised, box=Box(low, (24, 24, 40)))))


def test_a_part_in_a_window_is_carried_by_what_is_cheapest() -> None:
    """A block that its window holds up is given plates by the packer, and they are cleared of its wall."""
    gap = Window("gap", Box((0, 16, 32), (8, 32, 44)), "-x")
    vehicle = replace(hollow("v", 10, 6, 12, windows=(gap,)), floor_finish="studded")
    eye = Part(
        "eye", "eye", "sensor", (Box((0, 0, 0), (12, 12, 10)),), 3.0, "invented for a test",
        mount=Mount(looks="+x", lens=Box((12, 1, 1), (12, 11, 9)), upright=True),
    )  # fmt: skip
    need = Need("eye", (eye,), looks=("v", "gap"))
    packing = Packer({"v": vehicle}).pack_as_it_is("v", (Wanted(need, eye),))
    (place,) = packing.placements
    assert place.shelf is not None
    assert place.shelf.kind in ("plates", "bracket")
    assert wrong(vehicle, place) == []


def test_bricks_of_the_body_are_stood_on_too() -> None:
    """A block over a low wall of the body gets a stack on the wall's own studs, which is shorter."""
    wall = BodySolid(Box((16, 16, 19.2), (24, 32, 28.8)), "fixed")
    vehicle = studded(8, 6, 12)
    vehicle = replace(vehicle, body=(*vehicle.body, wall))
    box = (160, 160, FLOOR + 5 * LAYER + KNOB, 240, 320, FLOOR + 300)
    shelf = added(vehicle, box)
    assert shelf.cost == 2
    assert shelf.pieces[0].box.low[2] == pytest.approx(28.8)


@given(
    low=st.tuples(st.integers(80, 420), st.integers(80, 260), st.integers(230, 420)),
    size=st.tuples(st.integers(30, 140), st.integers(30, 140), st.integers(20, 100)),
)
@settings(max_examples=30, deadline=None)
def test_whatever_is_added_holds_when_checked_again(low: tuple[int, ...], size: tuple[int, ...]) -> None:
    """Wherever a block hangs, what carries it runs into nothing, is joined by studs, and reaches it."""
    box = (low[0], low[1], low[2], low[0] + size[0], low[1] + size[1], low[2] + size[2])
    assert added(studded(8, 6, 14), box).kind != "block"


def test_the_mirror_image_takes_as_many_pieces() -> None:
    """Seen in a mirror along the length, a block is carried by as many pieces of the same kind."""
    dice = random.Random(5)
    for _ in range(20):
        x, y, z = dice.randrange(80, 420), dice.randrange(80, 260), dice.randrange(230, 420)
        long = dice.randrange(30, 140)
        box = (x, y, z, x + long, y + 60, z + 50)
        image = (640 - x - long, y, z, 640 - x, y + 60, z + 50)
        one, other = (added(studded(8, 6, 14), seen) for seen in (box, image))
        assert (one.kind, one.cost, one.studs) == (other.kind, other.cost, other.studs)
