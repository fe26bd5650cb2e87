"""What hangs from the wagon's roof, straps over its lamp, and what studs bear: by hand, one lie at a time.

A stud holds about 1 N (common practice, no source); g is 9.80665 m/s² (ISO 80000-3).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.part import Part
from fitplan.model.placed import Fastening, Piece, Shelf
from fitplan.model.solids import Box, Place, Vec, pose_named
from fitplan.model.vehicle import BodySolid, Opening
from fitplan.verify.fastenings import check_fastenings
from fitplan.verify.result import Problem
from fitplan.verify.scene import sites_of
from fitplan.verify.shelves import check_shelves

from .lies import built_with, placed_with, problems
from .two_vehicles import FLOOR, LAMP, plan

G = 9.80665
CEILING = 51.2


def piece(name: str, low: Vec, size: Vec) -> Piece:
    x, y, z = low
    return Piece(name, Box(low, (x + size[0], y + size[1], z + size[2])))


def wagon(built: BuiltTrain, *body: BodySolid, **changes: Any) -> BuiltTrain:
    """The train with another wagon."""
    loco, old = built.train.vehicles
    vehicle = replace(old.vehicle, body=(*old.vehicle.body, *body), **changes)
    return replace(built, train=replace(built.train, vehicles=(loco, replace(old, vehicle=vehicle))))


TOP = piece("plate 1 × 2", (24, 16, CEILING - 3.2), (8, 16, 3.2))


def hung(
    *pieces: Piece,
    studs: int = 2,
    at: Vec = (25.0, 21.0, 30.0),
    grams: float = 5.0,
    lids: tuple[Box, ...] = (),
) -> list[str]:
    """What is said of a lamp, 6 × 6 × 6 mm, that hangs from a roof without a lid."""
    shelf = Shelf("hanger", pieces or (TOP,), studs, True)
    lamp = replace(LAMP, mass_g=grams)
    old = placed_with(plan(), "lamp", part=lamp, shelf=shelf, place=Place(pose_named("+x+y+z"), at))
    openings = tuple(Opening(f"lid {n}", box, "+z") for n, box in enumerate(lids))
    built = wagon(old.built, openings=openings)
    return [one.message for one in problems(check_shelves, sites_of(built)["wagon"])]


NOTHING_ABOVE = "what carries lamp hangs from no roof that stays"
ON_NONE = "what carries lamp is said to stand on 2 studs; it stands on 0"


def test_what_hangs_is_pressed_to_undersides_of_a_roof_that_stays() -> None:
    assert hung() == []
    assert hung(studs=3) == ["what carries lamp is said to stand on 3 studs; it stands on 2"]
    four = piece("plate 2 × 2", (24, 16, CEILING - 3.2), (16, 16, 3.2))
    assert hung(four, studs=4) == []
    # The plate that touches the roof is the one that holds, wherever it is named.
    under = piece("plate 1 × 1", (24, 16, CEILING - 6.4), (8, 8, 3.2))
    assert hung(under, TOP) == hung(TOP, under) == []
    low = replace(TOP, box=Box((24, 16, CEILING - 3.3), (32, 32, CEILING - 0.1)))
    assert hung(low) == [NOTHING_ABOVE, ON_NONE]


@pytest.mark.parametrize(
    ("lid", "left"),
    [
        (Box((8, 8, CEILING), (72, 40, 54.4)), 0),
        (Box((8, 8, CEILING), (72, 24, 54.4)), 1),
        (Box((8, 24, CEILING), (72, 40, 54.4)), 1),
        (Box((8, 8, CEILING), (24, 40, 54.4)), 2),
        (Box((32, 8, CEILING), (72, 40, 54.4)), 2),
        (Box((8, 8, 54.4), (72, 40, 57.6)), 2),
    ],
)
def test_undersides_of_a_lid_do_not_count(lid: Box, left: int) -> None:
    assert hung(studs=left, lids=(lid,))[:1] == ([NOTHING_ABOVE] if left == 0 else [])


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("sign", [1, -1])
def test_each_stud_holds_a_newton_and_as_a_lever_half_its_width(axis: int, sign: int) -> None:
    """With 10 % to spare: by weight at 2.2 N; 1 N beside the middle turns about the edge away from it.

    Half the width and the way beside it are its arm: 8.8 N mm hold along, 17.6 across.
    """
    middle = (28.0, 24.0)
    grams = 1000 / G
    half = (8, 16)[axis] / 2
    reach = 1.1 * 2 * half - half
    for away, held in ((reach - 0.02, True), (reach + 0.02, False)):
        at = [middle[0] - 3, middle[1] - 3, 30.0]
        at[axis] += sign * away
        found = hung(at=(at[0], at[1], at[2]), grams=grams)
        beside = f"do not hold the 1.00 N of lamp, {away:.0f} mm beside them"
        assert found == ([] if held else [f"2 studs of what carries it, at 1 N each, {beside}"])
    for newtons, count in ((2.19, 0), (2.21, 2)):
        assert len(hung(at=(middle[0] - 3, middle[1] - 3, 30.0), grams=newtons / G * 1000)) == count


def test_the_lever_is_to_the_middle_of_all_its_solids() -> None:
    """Two boxes, 6 × 6 × 6 and 6 × 6 × 18 mm, side by side: the middle is 7.5 mm from the first's end."""
    lamp = replace(LAMP, mass_g=1000 / G, envelope=(Box((0, 0, 0), (6, 6, 6)), Box((6, 0, 0), (12, 6, 18))))
    for x, held in (
        (28 - 7.5 + 4.7, True),
        (28 - 7.5 + 4.9, False),
        (28 - 7.5 - 4.7, True),
        (28 - 7.5 - 4.9, False),
    ):
        shelf = Shelf("hanger", (TOP,), 2, True)
        place = Place(pose_named("+x+y+z"), (x, 21.0, 25.0))
        built = wagon(placed_with(plan(), "lamp", part=lamp, shelf=shelf, place=place).built, openings=())
        assert (problems(check_shelves, sites_of(built)["wagon"]) == ()) == held


# -- straps: the lamp stands on studs, x and y from 20 to 26, its top 7.7 mm above the floor ---------------

STACKS = (
    piece("brick 1 × 1", (16, 8, FLOOR), (8, 8, 9.6)),
    piece("brick 1 × 1", (16, 32, FLOOR), (8, 8, 9.6)),
)
OVER = piece("plate 1 × 4", (16, 8, FLOOR + 9.6), (8, 32, 3.2))


def strapped(
    *bricks: Piece, ways: tuple[str, ...] = ("+z",), body: tuple[BodySolid, ...] = (), lamp: Part = LAMP
) -> list[str]:
    """What is said of a strap over the lamp."""
    place = Place(pose_named("+x+y+z"), (20.0, 20.0, FLOOR + 1.7))
    fastening = Fastening("lamp", "wagon", ways, bricks or (*STACKS, OVER))  # type: ignore[arg-type]
    old = built_with(placed_with(plan(), "lamp", place=place, part=lamp), fastenings=(fastening,))
    built = wagon(old.built, *body, floor_finish="studded")
    found: tuple[Problem, ...] = problems(check_fastenings, built, sites_of(built), ())
    return [one.message for one in found]


def along(*pieces: Piece) -> tuple[Piece, ...]:
    """The same along the wagon: x and y of everything exchanged."""
    return tuple(
        replace(one, box=Box((one.box.low[1], one.box.low[0], one.box.low[2]),
                             (one.box.high[1], one.box.high[0], one.box.high[2])))
        for one in pieces
    )  # fmt: skip


NOT_OVER = "nothing lies over lamp, which is said to be strapped"
ON_NOTHING = "the strap over lamp lies on nothing that holds it"


def test_a_strap_on_two_stacks_holds() -> None:
    assert strapped() == []
    assert strapped(*along(*STACKS, OVER)) == []
    # A stack of three plates each, up to the same height.
    low = [piece("plate 1 × 1", (16, y, FLOOR + n * 3.2), (8, 8, 3.2)) for y in (8, 32) for n in range(3)]
    assert strapped(*low, OVER) == []


def raised(by: float) -> tuple[Piece, ...]:
    more = [piece("plate 1 × 1", (16, y, FLOOR + 9.6), (8, 8, by)) for y in (8, 32)]
    return (*STACKS, *more, replace(OVER, box=Box((16, 8, FLOOR + 9.6 + by), (24, 40, FLOOR + 12.8 + by))))


def beside(x: float = 0, y: float = 0) -> tuple[Piece, ...]:
    return tuple(
        replace(one, box=Box((one.box.low[0] + x, one.box.low[1] + y, one.box.low[2]),
                             (one.box.high[0] + x, one.box.high[1] + y, one.box.high[2])))
        for one in (*STACKS, OVER)
    )  # fmt: skip


def test_a_strap_lies_over_its_part_by_less_than_a_plate() -> None:
    """The top is 1.9 mm below the plate; a plate more is 5.1; beside the lamp it lies over nothing."""
    assert strapped(*raised(3.2)) == [NOT_OVER]
    assert strapped(*beside(x=16)) == [NOT_OVER]
    assert strapped(*along(*beside(x=16))) == [NOT_OVER]
    assert strapped(*STACKS) == [NOT_OVER]
    for grown, words in ((-1.29, []), (-1.31, [NOT_OVER]), (1.89, [])):
        lamp = replace(LAMP, envelope=(Box((0, 0, 0), (6, 6, 6 + grown)),))
        assert strapped(lamp=lamp) == words
    tall = replace(LAMP, envelope=(Box((0, 0, 0), (6, 6, 8.0)),))
    assert strapped(lamp=tall)[:1] == [NOT_OVER]


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("end", [0, 1])
def test_a_strap_lies_on_both_its_ends(end: int, turned: bool) -> None:
    """On a stack, or bricks of the body that are as high and have a stud there; else one end bears all.

    One stud turns about its far edge: 1 N · 4 mm over the 15 mm, or 17 from the other end, to the middle.
    """
    lamp, bears = replace(LAMP, mass_g=400 / G), (4 / 15, 4 / 17)[end]
    lifted = f"0.40 N lift the strap over lamp; its studs bear {bears:.2f} N"
    bricks: tuple[Piece, ...] = (STACKS[end], OVER)
    bricks = along(*bricks) if turned else bricks
    (box,) = (one.box for one in (along(STACKS[1 - end]) if turned else (STACKS[1 - end],)))
    assert strapped(*bricks) == []
    assert strapped(*bricks, lamp=lamp) == [lifted]
    assert strapped(*bricks, lamp=lamp, body=(BodySolid(box, "fixed"),)) == []
    lower = Box(box.low, (*box.high[:2], box.high[2] - 3.2))
    assert strapped(*bricks, lamp=lamp, body=(BodySolid(lower, "fixed"),)) == [lifted]
    inwards = beside(y=8)[0] if end == 1 else beside(y=-8)[1]
    short = (STACKS[end], inwards, OVER)
    assert lifted in strapped(*(along(*short) if turned else short), lamp=lamp)
    assert ON_NOTHING in strapped(*(along(OVER) if turned else (OVER,)))


def test_what_a_strap_holds_sideways_its_stacks_need_not_bear() -> None:
    """They hold it towards both, and a heavy part by the plate over it: 1 N · 24 mm over 13, no more."""
    heavy = replace(LAMP, mass_g=180.0)
    too_heavy = replace(LAMP, mass_g=220.0)
    assert strapped(lamp=too_heavy) == ["2.16 N lift the strap over lamp; its studs bear 1.85 N"]
    assert strapped(ways=("+y", "-y", "+z"), lamp=heavy) == []
    assert strapped(ways=("+x", "+z"), lamp=heavy) == ["no brick holds lamp towards +x"]


# -- what the studs of one brick beside it bear -----------------------------------------------------------


def pushed(newtons: float, way: str, *bricks: Piece, high: float = 6.0, wide: float = 6.0) -> list[str]:
    """What is said of a lamp of this weight that bricks hold one way."""
    lamp = replace(LAMP, mass_g=newtons / G * 1000, envelope=(Box((0, 0, 0), (6, wide, high)),))
    return strapped(*bricks, ways=(way,), lamp=lamp)


BESIDE: dict[str, tuple[Vec, Vec]] = {
    "+x": ((32, 16, FLOOR), (8, 16, 9.6)),
    "-x": ((8, 16, FLOOR), (8, 16, 9.6)),
    "+y": ((16, 32, FLOOR), (16, 8, 9.6)),
    "-y": ((16, 8, FLOOR), (16, 8, 9.6)),
}


@pytest.mark.parametrize("way", sorted(BESIDE))
def test_two_studs_bear_two_newtons_or_less_as_a_lever(way: str) -> None:
    """Met between 1.7 and 7.7 mm above the floor, at 4.7: 2 N · 4 mm over it; at 3.45 2 N by the studs."""
    brick = piece("brick 1 × 2", *BESIDE[way])
    lever = 2 * 4 / 4.7
    for newtons, held in (((lever + 0.01) / 0.95 - 0.003, True), ((lever + 0.01) / 0.95 + 0.003, False)):
        said = f"{newtons:.2f} N push lamp towards {way}; the studs of what holds it bear {lever:.2f} N"
        assert pushed(newtons, way, brick) == ([] if held else [said])
    for newtons, held in ((2.01 / 0.95 - 0.003, True), (2.01 / 0.95 + 0.003, False)):
        assert (pushed(newtons, way, brick, high=3.5) == []) == held


def test_the_best_of_several_stacks_counts() -> None:
    """A small stack first and a large one behind it in the list: the large one bears."""
    small = piece("brick 1 × 1", (32, 16, FLOOR), (8, 8, 9.6))
    large = piece("brick 1 × 2", (32, 24, FLOOR), (8, 16, 9.6))

    def held(*bricks: Piece) -> bool:
        return pushed(1.9, "+x", *bricks, high=3.5, wide=14.0) == []

    assert held(large, small)
    assert held(small, large)
    assert not held(small)


@pytest.mark.parametrize(("long", "words"), [(2, [ON_NOTHING]), (3, [])])
def test_a_strap_from_one_side_reaches_past_the_middle(long: int, words: list[str]) -> None:
    """The lamp's middle is at 23 mm: a plate up to 24 bears nothing, one up to 32 does."""
    over = piece(f"plate 1 × {long}", (16, 8, FLOOR + 9.6), (8, 8.0 * long, 3.2))
    assert strapped(STACKS[0], over) == words
