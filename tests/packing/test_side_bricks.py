"""What keeps a load from sliding: bricks on studs beside it, as brute force finds them, else tape."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.support import SupportSettings, check_support, tape_needed
from fitplan.files.load_room import open_for_loads
from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.placed import (
    SHELF_WORDS,
    TAPE_MM2_PER_G,
    TAPE_WIDTH,
    Fastening,
    Piece,
    Placement,
    Shelf,
)
from fitplan.model.solids import Box, Direction, Place, pose_named
from fitplan.model.vehicle import BodySolid, Vehicle
from fitplan.model.wired import Harness
from fitplan.packing.access.slide import rows_of
from fitplan.packing.vehicle.side_bricks import side_bricks
from fitplan.planning.fastenings import with_fastenings
from fitplan.verify.fastenings import check_fastenings
from fitplan.verify.result import Tally
from fitplan.verify.scene import sites_of

from .small_trains import block, hollow, train_of

DECK = 19.2
WAYS: tuple[Direction, ...] = ("+x", "-x", "+y", "-y")


def deck(long: int = 10, wide: int = 6, *, studs: bool = True, posts: tuple[Box, ...] = ()) -> Vehicle:
    """A flat deck, open on all sides, with posts on it."""
    length, width = 8.0 * long, 8.0 * wide
    body = (
        BodySolid(Box((0, 0, 16), (length, width, DECK)), "fixed"),
        BodySolid(Box((0, 0, DECK), (length, width, DECK + 3.2)), "free"),
        *(BodySolid(post, "fixed") for post in posts),
    )
    finish = "studded" if studs else "smooth"
    bare = replace(hollow("v", long, wide, 6), top=DECK + 3.2, body=body, openings=(), ports=())
    return open_for_loads(replace(bare, floor_finish=finish))


def laid(
    vehicle: Vehicle, low: tuple[float, float], size: tuple[float, float, float], mass: float = 72.0
) -> BuiltTrain:
    """A load on the studs of a deck, or on the deck where it is smooth."""
    part = block("bank", size, mass_g=mass)
    z = DECK + (1.8 if vehicle.floor_finish == "studded" else 0.0)
    place = Placement("bank", part, "v", Place(pose_named("+x+y+z"), (*low, z)), "the body")
    return BuiltTrain(train_of((vehicle,), (Need("bank", (part,)),)), (place,), Harness(), ())


def wrong(built: BuiltTrain) -> list[str]:
    sheet = Tally()
    findings = check_support(built, SupportSettings()).findings
    check_fastenings(built, sites_of(built), findings, sheet)
    return [problem.message for problem in sheet.report().problems]


def held(built: BuiltTrain) -> dict[Direction, str]:
    """What holds each way."""
    return {way: "bricks" if entry.bricks else "tape" for entry in built.fastenings for way in entry.ways}


def test_bricks_hold_a_load_all_round() -> None:
    made = with_fastenings(laid(deck(), (18, 14), (40, 20, 20)))
    assert held(made) == dict.fromkeys(WAYS, "bricks")
    (entry,) = made.fastenings
    assert [brick.name for brick in entry.bricks] == ["brick 1 × 2"] * 4
    assert wrong(made) == []
    assert {found.severity for found in check_support(made, SupportSettings()).findings} == {"note"}


def test_a_brick_holds_by_the_face_it_stands_before() -> None:
    """Beside a ledge, close to the face further back; not before an empty corner of the box round it."""
    built = laid(deck(), (18, 14), (40, 17.2, 20))
    (place,) = built.placements
    face, ledge = Box((0, 0, 0), (40, 17.2, 20)), Box((8, 17.2, 0), (40, 18.8, 20))
    part = replace(place.part, envelope=(face, ledge))
    made = with_fastenings(replace(built, placements=(replace(place, part=part),)))
    assert held(made)["+y"] == "bricks"
    (entry,) = made.fastenings
    assert any((brick.box.low[1], brick.box.high[0]) == (32.0, 24.0) for brick in entry.bricks)
    assert wrong(made) == []
    long_ledge = replace(part, envelope=(Box((0, 0, 0), (40, 6, 20)), Box((0, 6, 0), (10, 18, 20))))
    far = tuple(
        replace(brick, box=Box((40, 32, DECK + 9.6 * number), (56, 40, DECK + 9.6 * (number + 1))))
        for number, brick in enumerate(entry.bricks[:2])
    )
    told = (Fastening("bank", "v", ("+y",), far),)
    empty = replace(built, placements=(replace(place, part=long_ledge),), fastenings=told)
    assert wrong(empty) == ["no brick holds bank towards +y"]


def test_tape_holds_where_no_stud_is() -> None:
    """On a smooth deck, enough for the load: 57 cm² a kilogram."""
    made = with_fastenings(laid(deck(studs=False), (18, 14), (40, 20, 20)))
    assert held(made) == dict.fromkeys(WAYS, "tape")
    (entry,) = made.fastenings
    assert 72 * TAPE_MM2_PER_G <= entry.tape_mm * TAPE_WIDTH < 72 * TAPE_MM2_PER_G + 5 * TAPE_WIDTH
    assert wrong(made) == []
    assert wrong(replace(made, fastenings=(replace(entry, tape_mm=entry.tape_mm - 5),)))


def test_a_light_part_that_would_tip_is_taped() -> None:
    """Up to 20 g tape does; a heavier one stays a stop."""
    for mass, severities in ((6.0, {"note"}), (72.0, {"stop"})):
        built = laid(hollow("v", 10, 6, 12), (18, 14), (40, 20, 20), mass)
        (place,) = built.placements
        leaning = replace(built, placements=(replace(place, steady=False),))
        made = with_fastenings(leaning)
        found = check_support(made, SupportSettings()).findings
        assert {one.severity for one in found} == severities
        assert wrong(made) == []
        if mass < 20:
            sheet = Tally()
            check_fastenings(replace(made, fastenings=()), sites_of(made), found, sheet)
            assert "would tip" in sheet.report().problems[0].message


def test_one_strip_of_tape_holds_a_part_every_way() -> None:
    """What would tip and slide on a smooth deck is taped once; the checker tells a second strip."""
    built = laid(deck(studs=False), (18, 14), (40, 20, 20), 6.0)
    (place,) = built.placements
    made = with_fastenings(replace(built, placements=(replace(place, steady=False),)))
    (entry,) = made.fastenings
    assert (set(entry.ways), entry.tape_mm) == (set(WAYS), tape_needed(place))
    assert wrong(made) == []
    (told,) = check_support(made, SupportSettings()).findings
    assert "sliding" in told.message
    assert "tipping" in told.message
    assert wrong(replace(made, fastenings=(entry, entry))) == ["bank is taped 2 times"]


def test_a_strap_holds_what_would_tip() -> None:
    """A heavy part that rests on one side only is strapped down; the checker tells a strap that is not."""
    built = laid(deck(), (18, 14), (40, 17, 20))
    (place,) = built.placements
    leaning = replace(built, placements=(replace(place, steady=False),))
    made = with_fastenings(leaning)
    over = next(entry for entry in made.fastenings if "+z" in entry.ways)
    assert [piece.name for piece in over.bricks][-1] in ("plate 1 × 4", "plate 1 × 6")
    assert over.words.endswith("as a strap over it")
    assert wrong(made) == []
    assert {one.severity for one in check_support(made, SupportSettings()).findings} == {"note"}
    plate = over.bricks[-1]
    high = replace(
        plate,
        box=Box((*plate.box.low[:2], plate.box.low[2] + 3.2), (*plate.box.high[:2], plate.box.high[2] + 3.2)),
    )
    lifted = replace(over, bricks=(*over.bricks[:-1], high))
    others = tuple(entry for entry in made.fastenings if entry is not over)
    assert any("nothing lies over" in one for one in wrong(replace(made, fastenings=(lifted, *others))))
    gone = replace(over, bricks=(over.bricks[0], plate))
    assert any("lies on nothing" in one for one in wrong(replace(made, fastenings=(gone, *others))))
    side = min(piece.box.low[1] for piece in over.bricks[:-1])
    half = replace(over, bricks=tuple(p for p in over.bricks if p is plate or p.box.low[1] == side))
    assert any("0.71 N lift the strap" in one for one in wrong(replace(made, fastenings=(half, *others))))


def test_a_strap_from_one_side_where_the_other_has_no_room() -> None:
    """A wall on the far side leaves studs on one: two deep hold 72 g as a lever, and not 250 g."""
    wall = Box((0, 32, DECK), (80, 48, DECK + 40))
    for mass, held_down in ((72.0, True), (250.0, False)):
        ends = tuple(Box((x, 0, DECK), (x + 16, 48, DECK + 40)) for x in (0, 64))
        built = laid(deck(posts=(wall, *ends)), (18, 16.2), (40, 15.6, 20), mass)
        (place,) = built.placements
        made = with_fastenings(replace(built, placements=(replace(place, steady=False),)))
        straps = [entry for entry in made.fastenings if "+z" in entry.ways]
        assert bool(straps) == held_down
        assert wrong(made) == []
        for over in straps:
            *stack, plate = [one for one in over.bricks if one.name != "pad"]
            assert {(one.box.low[1], one.box.high[1]) for one in stack} == {(0.0, 16.0)}
            assert plate.box.high[1] >= place.bounds.center[1] + 2.0
            assert over.ways == ("-y", "+z")
            heavier = replace(place, part=replace(place.part, mass_g=250.0), steady=False)
            said = wrong(replace(made, placements=(heavier,)))
            assert any("N lift the strap over bank; its studs bear" in one for one in said)


def test_a_heavy_load_takes_deeper_bricks() -> None:
    """What 72 g push one row of studs holds; ten times as much asks for more, or for other means."""
    made = with_fastenings(laid(deck(14), (30, 14), (40, 20, 20), 220.0))
    names = {brick.name for entry in made.fastenings for brick in entry.bricks if entry.bricks}
    assert "brick 2 × 2" in names
    assert wrong(made) == []
    light = with_fastenings(laid(deck(14), (30, 14), (40, 20, 20)))
    weak = replace(made, fastenings=light.fastenings)
    assert any("push bank" in one for one in wrong(weak))


def hidden_by(box: Box, other: Box) -> bool:
    return all(box.low[i] < other.high[i] - 1e-6 and other.low[i] < box.high[i] - 1e-6 for i in range(3))


def brute_force(vehicle: Vehicle, load: Box, way: Direction, posts: tuple[Box, ...]) -> bool:
    """Whether any stack of up to three bricks on any studs holds a load one way: plain boxes in mm."""
    axis, forwards = "xy".index(way[1]), way[0] == "+"
    across = 1 - axis
    push = 0.072 * 9.81
    for x, y, long, deep, high in itertools.product(
        range(vehicle.studs_long), range(vehicle.studs_wide), (1, 2), (1, 2), (1, 2, 3)
    ):
        size = [deep, deep]
        size[across] = long
        if x + size[0] > vehicle.studs_long or y + size[1] > vehicle.studs_wide:
            continue
        stack = Box((8.0 * x, 8.0 * y, DECK), (8.0 * (x + size[0]), 8.0 * (y + size[1]), DECK + 9.6 * high))
        gap = stack.low[axis] - load.high[axis] if forwards else load.low[axis] - stack.high[axis]
        shared = [min(stack.high[i], load.high[i]) - max(stack.low[i], load.low[i]) for i in (across, 2)]
        if not (-1e-6 <= gap <= 8 + 1e-6 and shared[0] >= 4 - 1e-6 and shared[1] >= 3.2 - 1e-6):
            continue
        # The push comes half-way up what they share; the studs hold 1 N each, about the far edge.
        lever = (min(stack.high[2], load.high[2]) + max(stack.low[2], load.low[2])) / 2 - DECK
        held = push <= long * deep and push * lever <= long * deep * deep * 4
        lower = high > 1 and min(stack.high[2] - 9.6, load.high[2]) - max(DECK, load.low[2]) >= 3.2 - 1e-6
        if held and not lower and not any(hidden_by(stack, other) for other in (load, *posts)):
            return True
    return False


tenths = st.integers(0, 480).map(lambda value: value / 10)


@given(
    low=st.tuples(tenths, tenths.filter(lambda value: value <= 28)),
    size=st.tuples(st.integers(80, 320), st.integers(80, 200), st.integers(40, 200)),
    posts=st.sets(st.tuples(st.integers(0, 9), st.integers(0, 5)), max_size=5),
)
@settings(max_examples=25, deadline=None)
def test_bricks_are_found_where_any_are(
    low: tuple[float, float], size: tuple[int, int, int], posts: set[tuple[int, int]]
) -> None:
    """For each way alone bricks are found just when some stack of up to three holds; the checker agrees."""
    load = Box((*low, DECK + 1.8), tuple(a + b / 10 for a, b in zip((*low, DECK + 1.8), size, strict=True)))  # type: ignore[arg-type]
    walls = tuple(Box((8.0 * x, 8.0 * y, DECK), (8.0 * x + 8, 8.0 * y + 8, DECK + 19.2)) for x, y in posts)
    walls = tuple(wall for wall in walls if not hidden_by(wall, load))
    vehicle = deck(posts=walls)
    built = laid(vehicle, low, tuple(edge / 10 for edge in size))  # type: ignore[arg-type]
    # Posts carry studs of their own on top, which the enumeration leaves out.
    for way in WAYS:
        found = side_bricks(vehicle, frozenset(), built.placements[0], way, rows_of(()))
        reachable = brute_force(vehicle, load, way, walls)
        if not walls:
            assert bool(found) == reachable, way
        elif found:
            assert reachable
        if found:
            made = replace(built, fastenings=(Fastening("bank", "v", (way,), found),))
            assert wrong(made) == []


@pytest.mark.parametrize("shift", [(0.0, 0.0, 3.2), (4.0, 0.0, 0.0), (16.0, 0.0, 0.0)])
def test_the_checker_notices_bricks_that_do_not_hold(shift: tuple[float, float, float]) -> None:
    """Raised off its studs, off the grid, or moved away from the load."""
    made = with_fastenings(laid(deck(), (18, 14), (40, 20, 20)))
    (entry,) = made.fastenings
    first = entry.bricks[0]
    moved = replace(
        first,
        box=Box(
            tuple(a + b for a, b in zip(first.box.low, shift, strict=True)),  # type: ignore[arg-type]
            tuple(a + b for a, b in zip(first.box.high, shift, strict=True)),  # type: ignore[arg-type]
        ),
    )
    told = replace(entry, bricks=(moved, *entry.bricks[1:]))
    assert wrong(replace(made, fastenings=(told,)))


def on_a_stack(mass: float, *pieces: Piece, middle: float = 44.0) -> BuiltTrain:
    """A load of 40 × 16 × 20 mm on pieces of a shelf, with tape and nothing beside it."""
    (place,) = laid(deck(), (0, 0), (40, 16, 20), mass).placements
    top = max(piece.box.high[2] for piece in pieces)
    shelf = Shelf("pad" if pieces[0].name == "pad" else "plates", pieces, 0 if pieces[0].name == "pad" else 1)
    at = Place(pose_named("+x+y+z"), (middle - 20, 20, top))
    lifted = replace(place, place=at, shelf=shelf, carried_by=SHELF_WORDS[shelf.kind])
    bare = laid(deck(), (0, 0), (40, 16, 20), mass)
    tape = Fastening("bank", "v", WAYS, (), tape_needed(lifted))
    return replace(bare, placements=(lifted,), fastenings=(tape,))


def test_what_studs_under_a_load_do_not_bear_is_told() -> None:
    """On one stud, its middle 30.9 mm above it, 4 N mm bear 0.13 N; 0.71 N push 72 g."""
    low = Piece("brick 1 × 1", Box((40, 24, DECK), (48, 32, DECK + 9.6)))
    high = Piece("brick 1 × 1", Box((40, 24, DECK + 9.6), (48, 32, DECK + 19.2)))
    studs = Piece("studs", Box((40, 24, DECK + 19.2), (48, 32, DECK + 20.9)))
    made = on_a_stack(72.0, low, high, studs)
    (told,) = [one for one in check_support(made, SupportSettings()).findings if one.unit == "N"]
    assert (told.severity, told.figure, told.limit) == ("caution", 0.13, 0.71)
    sheet = Tally()
    check_fastenings(made, sites_of(made), (), sheet)
    messages = [problem.message for problem in sheet.report().problems]
    assert any("0.71 N push bank; the studs under it bear 0.13 N" in one for one in messages)


@pytest.mark.parametrize(
    ("mass", "middle", "past"), [(72.0, 44.0, None), (72.0, 52.0, 1.0), (6.0, 52.0, None)]
)
def test_pads_that_end_under_the_middle_of_a_load_are_told(
    mass: float, middle: float, past: float | None
) -> None:
    """A pad up to 53 mm bears what has its middle at 44; at 52 mm 72 g are told and strapped."""
    pad = Piece("pad", Box((38, 20, DECK + 1.7), (53, 36, DECK + 3.7)))
    made = on_a_stack(mass, pad, middle=middle)
    told = [one for one in check_support(made, SupportSettings()).findings if one.limit == 2.0]
    assert [one.figure for one in told] == ([] if past is None else [past])
    sheet = Tally()
    check_fastenings(made, sites_of(made), (), sheet)
    said = [problem.message for problem in sheet.report().problems]
    assert any("reaches 1.0 mm past its middle" in one for one in said) == (past is not None)
    assert not any("past its middle" in one for one in wrong(made))
    strapped = with_fastenings(replace(made, fastenings=()))
    assert any("+z" in one.ways for one in strapped.fastenings) == (past is not None)
