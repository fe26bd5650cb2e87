"""What is added, exchanged, drawn in and told to be shorter: one lie at a time, each check alone."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import CellPack
from fitplan.model.found import Finding
from fitplan.model.needed import Exchange
from fitplan.model.part import Access, Clearance, Part
from fitplan.model.placed import Fastening, Piece, Shelf
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Cylinder, Place, Vec, pose_named
from fitplan.model.ways_in import Exchanged, Moves, WayOut
from fitplan.model.wired import Detour, PairDrawnIn
from fitplan.verify.detours import check_detours
from fitplan.verify.exchange import check_exchanges
from fitplan.verify.fastenings import check_fastenings
from fitplan.verify.pairs_inside import check_pairs_inside, drawn_in
from fitplan.verify.result import Problem
from fitplan.verify.scene import sites_of
from fitplan.verify.shapes import shape_of
from fitplan.verify.shelves import check_shelves, held_at_its_side

from .lies import (
    built_with,
    harness_with,
    needs_with,
    notes,
    only,
    placed_with,
    problems,
    train_with,
    wire_with,
)
from .two_vehicles import FLOOR, LAMP, plan


def studded() -> Plan:
    """The plan with studs on the wagon's floor: one in the middle of each 8 mm."""
    old = plan()
    vehicles = tuple(
        replace(entry, vehicle=replace(entry.vehicle, floor_finish="studded"))
        if entry.name == "wagon"
        else entry
        for entry in old.built.train.vehicles
    )
    return train_with(old, vehicles=vehicles)


def brick(name: str, low: Vec, size: Vec) -> Piece:
    x, y, z = low
    return Piece(name, Box(low, (x + size[0], y + size[1], z + size[2])))


PLATE = brick("plate 1 × 2", (24, 16, FLOOR), (8, 16, 3.2))
UPPER = brick("plate 1 × 1", (24, 24, FLOOR + 3.2), (8, 8, 3.2))


def carried(*pieces: Piece, kind: str = "plates", studs: int = 2, steady: bool = True) -> tuple[Problem, ...]:
    """What is said of what carries the lamp, which lies 10 mm above the floor."""
    shelf = Shelf(kind, pieces, studs, steady)  # type: ignore[arg-type]
    at = Place(pose_named("+x+y+z"), (24.0, 22.0, FLOOR + 10.0))
    old = placed_with(studded(), "lamp", shelf=shelf, place=at)
    return problems(check_shelves, sites_of(old.built)["wagon"])


def test_shelves_that_hold() -> None:
    """A plate on two studs; a second upon it; studs on top; a pad that touches; a block."""
    assert carried(PLATE) == ()
    assert carried(PLATE, UPPER) == ()
    studs = brick("studs", (25, 17, FLOOR + 3.2), (6, 6, 1.7))
    assert carried(PLATE, studs) == ()
    on_its_side = brick("tile 1 × 2", (24, 16, FLOOR + 3.2), (3.2, 16, 8))
    side = brick("brick with a stud on its side 1 × 1", (27.2, 24, FLOOR), (8, 8, 9.6))
    assert [p.message for p in carried(PLATE, on_its_side) if "lies beside" in p.message] == []
    assert [p.message for p in carried(side) if "is no brick" in p.message] == []
    pad = brick("pad", (24, 22, FLOOR + 8.0), (6, 6, 2.0))
    assert carried(pad, kind="pad", studs=0) == ()
    block = brick("block", (23, 21, FLOOR + 1.8), (8, 8, 8.2))
    assert carried(block, kind="block", studs=0) == ()


@pytest.mark.parametrize(
    ("pieces", "more", "words"),
    [
        ((PLATE,), {"kind": "pad", "studs": 0}, "is called pad; it is made of plate 1 × 2"),
        ((brick("pad", (24, 22, FLOOR + 8), (6, 6, 2)),), {}, "is called plates; it is made of pad"),
        ((brick("pad", (24, 22, FLOOR + 8), (6, 6, 2)),), {"kind": "pad", "studs": 1}, "stand on 1 studs"),
        ((PLATE,), {"steady": False}, "to be steady, or not, otherwise"),
        ((brick("pad", (24, 22, FLOOR + 7.9), (6, 6, 2)),), {"kind": "pad", "studs": 0}, "does not touch it"),
        ((PLATE,), {"studs": 3}, "is said to stand on 3 studs; it stands on 2"),
        ((brick("plate 1 × 2", (24, 16, FLOOR + 1.8), (8, 16, 3.2)),), {}, "it stands on 0"),
        (
            (brick("plate 1 × 3", (24, 16, FLOOR), (8, 16, 3.2)),),
            {},
            "the plate 1 × 3 under lamp is 8.0 × 16.0",
        ),
        ((brick("plate 1 × 2", (24, 16, FLOOR), (8, 16, 9.6)),), {}, "the plate 1 × 2 under lamp is"),
        ((brick("slope 1 × 2", (24, 16, FLOOR), (8, 16, 3.2)),), {}, "is no brick, plate or tile"),
        ((brick("plate 1 × 2", (25, 16, FLOOR), (8, 16, 3.2)),), {}, "lies beside the stud grid"),
        ((brick("plate 1 × 2", (24, 17, FLOOR), (8, 16, 3.2)),), {}, "lies beside the stud grid"),
        (
            (PLATE, brick("studs", (25, 17, FLOOR + 3.2), (6, 6, 1.8))),
            {},
            "the studs under lamp are 1.8 mm high",
        ),
        ((PLATE, brick("studs", (25, 17, FLOOR + 3.3), (6, 6, 1.7))), {}, "are on no piece"),
        (
            (PLATE, replace(UPPER, box=Box((24, 24, FLOOR + 3.3), (32, 32, FLOOR + 6.5)))),
            {},
            "joined to nothing",
        ),
        ((PLATE, brick("plate 1 × 1", (24, 32, FLOOR + 3.2), (8, 8, 3.2))), {}, "joined to nothing by studs"),
        (
            (PLATE, brick("plate 1 × 1", (24, 24, FLOOR + 3.1), (8, 8, 3.2))),
            {},
            "of what carries lamp overlap",
        ),
        ((brick("brick 1 × 2", (24, 16, FLOOR), (8, 16, 9.6)), UPPER), {}, "overlap"),
        (
            (PLATE, brick("brick 1 × 1", (24, 24, FLOOR + 3.2), (8, 8, 9.6))),
            {},
            "brick 1 × 1 under lamp runs into lamp",
        ),
        ((brick("plate 1 × 2", (0, 16, FLOOR), (8, 16, 3.2)),), {}, "runs into fixed bricks"),
    ],
)
def test_shelves_that_do_not(pieces: tuple[Piece, ...], more: dict[str, object], words: str) -> None:
    """Names, sizes, studs, joints, room."""
    told = carried(*pieces, **more)  # type: ignore[arg-type]
    assert any(words in problem.message for problem in told), told


def test_pads_are_thinner_than_a_plate_and_shelves_keep_off_each_other() -> None:
    """A pad among plates is judged by its thinnest edge; two parts' shelves may not overlap."""
    thick = brick("pad", (24, 22, FLOOR + 6.7), (6, 6, 3.3))
    assert any("as thick as a plate" in p.message for p in carried(PLATE, thick))
    thin = brick("pad", (24, 22, FLOOR + 6.9), (6, 6, 3.1))
    assert not any("as thick as a plate" in p.message for p in carried(PLATE, thin))
    shelf = Shelf("plates", (PLATE,), 2, True)
    old = placed_with(placed_with(studded(), "lamp", shelf=shelf), "eye", shelf=shelf)
    told = problems(check_shelves, sites_of(old.built)["wagon"])
    assert sum("runs into what carries" in p.message for p in told) == 2


# -- fastenings --------------------------------------------------------------------------------------------


def fastened(
    *fastenings: Fastening, findings: tuple[Finding, ...] = (), lamp: Part = LAMP, **more: object
) -> tuple[Problem, ...]:
    """What is said of fastenings of the lamp, which stands on the studs: its ends at x 20 and 26."""
    at = Place(pose_named("+x+y+z"), (20.0, 20.0, FLOOR + 1.7))
    old = built_with(placed_with(studded(), "lamp", place=at, part=lamp, **more), fastenings=fastenings)
    return problems(check_fastenings, old.built, sites_of(old.built), findings)


BESIDE = brick("brick 1 × 2", (32, 16, FLOOR), (8, 16, 9.6))
HELD = Fastening("lamp", "wagon", ("+x",), (BESIDE,))
TAPED = Fastening("lamp", "wagon", ("+x", "-x"), (), 10.0)


def test_fastenings_that_hold() -> None:
    """A brick 6 mm before the part; one on top of another; 10 mm of tape for 5 g."""
    assert fastened(HELD) == ()
    upper = replace(BESIDE, box=Box((32, 16, FLOOR + 9.6), (40, 32, FLOOR + 19.2)))
    assert fastened(replace(HELD, bricks=(BESIDE, upper))) == ()
    assert fastened(TAPED) == ()
    # A thin part before the seam of two bricks: neither alone faces enough of it, both together do.
    thin = replace(LAMP, envelope=(Box((0, 0, 0), (6, 6, 4)),))
    seam = FLOOR + 1.7 + 2.0
    low, high = (replace(BESIDE, box=Box((32, 16, z), (40, 32, z + 9.6))) for z in (seam - 9.6, seam))
    assert not any(
        "no brick holds" in one.message for one in fastened(replace(HELD, bricks=(low, high)), lamp=thin)
    )
    assert any("no brick holds" in one.message for one in fastened(replace(HELD, bricks=(low,)), lamp=thin))


@pytest.mark.parametrize(
    ("fastening", "words"),
    [
        (replace(HELD, need="horn"), "horn is fastened, and is not there"),
        (replace(HELD, vehicle="loco"), "lamp is fastened, and is not there"),
        (replace(HELD, tape_mm=9.0), "by bricks or by tape, one of both"),
        (replace(HELD, ways=()), "by bricks or by tape, one of both"),
        (replace(TAPED, tape_mm=0.0), "by bricks or by tape, one of both"),
        (replace(HELD, ways=("-x",)), "no brick holds lamp towards -x"),
        (replace(HELD, ways=("+y",)), "no brick holds lamp towards +y"),
        (replace(HELD, bricks=(brick("brick 1 × 2", (40, 16, FLOOR), (8, 16, 9.6)),)), "no brick holds lamp"),
        (replace(HELD, bricks=(brick("brick 1 × 1", (32, 24, FLOOR), (8, 8, 9.6)),)), "no brick holds lamp"),
        (replace(HELD, bricks=(BESIDE, BESIDE)), "two bricks beside lamp overlap"),
        (
            replace(HELD, bricks=(replace(BESIDE, box=Box((32, 16, FLOOR + 1.8), (40, 32, FLOOR + 11.4))),)),
            "stands on 0 studs, not on 2",
        ),
        (replace(HELD, bricks=(replace(BESIDE, name="brick 1 × 1"),)), "brick 1 × 1 under lamp is"),
        (replace(HELD, bricks=(brick("brick 1 × 2", (24, 16, FLOOR), (8, 16, 9.6)),)), "runs into lamp"),
    ],
)
def test_fastenings_that_do_not(fastening: Fastening, words: str) -> None:
    """Where it is, which way it holds, whether it stands and has room."""
    told = fastened(fastening)
    assert any(words in problem.message for problem in told), told


@pytest.mark.parametrize(("long", "holds"), [(12.0, True), (11.0, True), (4.0, True), (3.9, False)])
def test_a_brick_holds_what_it_touches_and_what_is_a_stud_away(long: float, holds: bool) -> None:
    """It begins at x 32, the lamp at 20: from none to 8 mm between them."""
    lamp = replace(LAMP, envelope=(Box((0, 0, 0), (long, 6, 6)),))
    told = [one.message for one in fastened(HELD, lamp=lamp)]
    assert told == ([] if holds else ["no brick holds lamp towards +x"])


def test_bricks_keep_out_of_clearances_and_shelves_and_tape_is_enough() -> None:
    """Room for a plug, what carries another part, and the grams that tape holds."""
    plug = replace(LAMP, clearances=(Clearance("plug", "plug", Box((6, 0, 0), (13, 6, 6))),))
    assert any("stands in plug of lamp" in p.message for p in fastened(HELD, lamp=plug))
    shelf = Shelf("plates", (brick("plate 1 × 2", (32, 16, FLOOR), (8, 16, 3.2)),), 2)
    assert any("runs into what carries lamp" in p.message for p in fastened(HELD, shelf=shelf))
    heavy = replace(LAMP, mass_g=400.0)
    assert any("are too little for the 400 g" in p.message for p in fastened(TAPED, lamp=heavy))
    pack = CellPack("alkaline", "LR6", 4, 2200.0, 0.15, 1000.0, cell_mass_g=100.0)
    assert any("for the 405 g" in p.message for p in fastened(TAPED, lamp=replace(LAMP, electrical=(pack,))))


def test_what_would_tip_has_tape_or_a_finding() -> None:
    """A part that is not steady; bricks that hold it one way do not keep it from tipping."""
    assert any("would tip" in p.message for p in fastened(HELD, steady=False))
    assert fastened(replace(TAPED, ways=()), steady=False) == ()
    told = Finding("support", "caution", "lamp in wagon", "tips", 1.0, 1.0, "mm", "tape", "practice")
    assert fastened(findings=(told,), steady=False) == ()
    assert any(
        "would tip" in p.message for p in fastened(findings=(replace(told, severity="note"),), steady=False)
    )
    assert any(
        "would tip" in p.message for p in fastened(findings=(replace(told, subject="view"),), steady=False)
    )


# -- what is exchanged -------------------------------------------------------------------------------------

# The lamp's top is at 25.2, the vehicle's at 54.4; what gets at a side is 6 mm deep unless told.
SWITCH, SOCKET = Access("button", "switch", "+z", True), Access("plug", "socket", "+z", True)
CELLS = Access("tray", "cells", "+z", True)
UP: Moves = (("+z", 40.0),)


def reached(
    access: Access,
    entry: Exchanged | None,
    *,
    exchange: Exchange | None = None,
    findings: tuple[Finding, ...] = (),
    over: bool = False,
    shut: bool = False,
) -> tuple[Problem, ...]:
    """What is said of how an access of the lamp is come by.

    ``over``: the eye lies right above it; ``shut``: no opening of the wagon opens often.
    """
    old = placed_with(plan(), "lamp", part=replace(LAMP, access=(access,)))
    if shut:
        loco, wagon = old.built.train.vehicles
        openings = tuple(replace(one, often=False) for one in wagon.vehicle.openings)
        wagon = replace(wagon, vehicle=replace(wagon.vehicle, openings=openings))
        old = train_with(old, vehicles=(loco, wagon))
    old = needs_with(old, "lamp", exchange=exchange or Exchange(("roof",), 1, 0))
    if over:
        old = placed_with(
            old, "eye", place=Place(pose_named("+x+y+z"), (20, 20, FLOOR + 12)), carried_by="the body"
        )
    old = built_with(old, exchanged=(entry,) if entry is not None else ())
    return problems(check_exchanges, old.built, sites_of(old.built), findings)


def by(of: Access, *ways: WayOut, **more: object) -> Exchanged:
    made = Exchanged("lamp", "wagon", of.name, of.often, True, of.kind == "cells", (), ways[:-1], ways[-1])
    return replace(made, **more)  # type: ignore[arg-type]


HAND = WayOut((), "roof", UP)
OUT = WayOut(("lamp",), "roof", UP)


def test_accesses_that_are_come_by() -> None:
    """A switch by a finger, a socket by its plug, cells with their part, one from under another part."""
    assert reached(SWITCH, by(SWITCH, HAND)) == ()
    assert reached(SOCKET, by(SOCKET, HAND)) == ()
    assert reached(CELLS, by(CELLS, OUT)) == ()
    eye = WayOut(("eye",), "roof", UP)
    assert reached(SWITCH, by(SWITCH, eye, HAND), over=True) == ()
    rare = replace(SWITCH, often=False)
    assert reached(rare, by(rare, HAND)) == ()


@pytest.mark.parametrize(
    ("access", "entry", "words"),
    [
        (SWITCH, None, "how button of lamp is come by is not said exactly once"),
        (SWITCH, by(SWITCH, HAND, need="horn"), "horn is exchanged, but is nowhere"),
        (SWITCH, by(SWITCH, HAND, vehicle="loco"), "lamp is here, not in loco"),
        (SWITCH, by(SWITCH, HAND, access="lever"), "the part has no such access"),
        (SWITCH, by(SWITCH, HAND, often=False), "is reached in everyday use, as its part says"),
        (replace(SWITCH, often=False), by(SWITCH, HAND), "is reached in building, as its part says"),
        (SWITCH, by(SWITCH, HAND, cells=True), "is no cells"),
        (CELLS, by(CELLS, OUT, cells=False), "is cells"),
        (SWITCH, by(SWITCH, HAND, bricks=("beam",)), "no brick that can come out"),
        (SWITCH, by(SWITCH, HAND, last=None), "is said to be reached, and no way is given"),
        (
            SWITCH,
            by(SWITCH, HAND, last=None, reached=False),
            "not come by as allowed, and no finding says so",
        ),
        (SWITCH, by(SWITCH, replace(HAND, opening="door")), "'door' is not to be opened for it"),
        (SWITCH, by(SWITCH, WayOut(("horn",), "roof", UP), HAND), "not all of it is in when it comes out"),
        (
            SWITCH,
            by(SWITCH, WayOut(("eye",), "roof", UP), WayOut(("eye",), "roof", UP)),
            "not all of it is in",
        ),
        (CELLS, by(CELLS, HAND), "does not come out"),
        (
            SWITCH,
            by(SWITCH, replace(HAND, moves=(("+z", 71.0),))),
            "lies 71.0 mm in, and what gets at it reaches 70.0",
        ),
        (
            SOCKET,
            by(SOCKET, replace(HAND, moves=(("+z", 77.0),))),
            "lies 77.0 mm in, and what gets at it reaches 76.0",
        ),
        (SOCKET, by(SOCKET, replace(HAND, moves=(("+x", 1.0), ("+z", 40.0)))), "along its own axis first"),
        (
            SOCKET,
            by(SOCKET, replace(HAND, moves=(("+z", 11.8), ("+x", 1.0), ("+z", 20.0)))),
            "11.8 mm behind the plug",
        ),
        (
            SWITCH,
            by(SWITCH, replace(HAND, moves=(("+z", 10.0), ("-z", 1.0), ("+z", 31.0)))),
            "come by from behind",
        ),
        (SWITCH, by(SWITCH, replace(HAND, moves=(("+x", 60.0),))), "fixed"),
    ],
)
def test_accesses_that_are_not(access: Access, entry: Exchanged | None, words: str) -> None:
    """What is said of it, what must be open and out, and how a hand gets there."""
    told = reached(access, entry)
    assert any(words in problem.message for problem in told), told


def test_a_hand_reaches_so_far_and_a_plug_a_plug_farther() -> None:
    """70 mm for a finger; with the 6 mm of the plug's own room 76."""
    for access, far in ((SWITCH, 70.0), (SOCKET, 76.0)):
        assert not [
            p
            for p in reached(access, by(access, replace(HAND, moves=(("+z", far),))))
            if "reaches" in p.message
        ]
    turned = replace(HAND, moves=(("+z", 12.0), ("+x", 1.0), ("+z", 30.0)))
    assert reached(SOCKET, by(SOCKET, turned)) == ()
    assert reached(SWITCH, by(SWITCH, replace(turned, moves=(("+x", 1.0), ("+z", 40.0))))) == ()


def test_more_than_is_allowed_is_told() -> None:
    """Two parts out where one is allowed; a part over it; a note where a stop says so."""
    eye = WayOut(("eye",), "roof", UP)
    none = Exchange(("roof",), 0, 0)
    told = reached(SWITCH, by(SWITCH, eye, HAND), exchange=none, over=True)
    assert [p.message for p in told] == ["button of lamp is not come by as allowed, and no finding says so"]
    stop = Finding("access", "stop", "lamp in wagon", "no", 1.0, 0.0, "parts", "move it", "the train file")
    assert reached(SWITCH, by(SWITCH, eye, HAND), exchange=none, findings=(stop,), over=True) == ()
    told = reached(
        SWITCH, by(SWITCH, eye, HAND), exchange=none, findings=(replace(stop, severity="note"),), over=True
    )
    assert len(told) == 1
    assert any("eye" in p.message for p in reached(SWITCH, by(SWITCH, HAND), over=True))
    wanted = Exchange(("roof",), 1, 0, wanted=True)
    rare = replace(SWITCH, often=False)
    told = reached(rare, by(rare, HAND), exchange=wanted)
    assert [p.message for p in told] == ["how the part itself of lamp is come by is not said exactly once"]
    none_named = Exchange((), 1, 0)
    assert reached(CELLS, by(CELLS, OUT), exchange=none_named) == ()
    told = reached(CELLS, by(CELLS, OUT), exchange=none_named, shut=True)
    assert any("not to be opened" in p.message for p in told)
    assert reached(rare, by(rare, HAND), exchange=none_named, shut=True) == ()


# -- connectors drawn in -----------------------------------------------------------------------------------

# The rear hole of the loco: x 0 to 8, y 20 to 28, z from the floor 6.4 mm up.
PAIR = Part("pair", "pair", "connector", (Box((0, 0, 0), (10, 6, 4)),), 1.0, "invented")
DRAWN = PairDrawnIn("loco", Box((9, 21, FLOOR), (19, 27, FLOOR + 4)), 14.0)


def pair_in(made: PairDrawnIn | None, part: Part = PAIR) -> BuiltTrain:
    old = plan()
    crossing = replace(old.built.harness.crossings[0], connector="pair", pair=made)
    return train_with(harness_with(old, crossings=(crossing,)), catalogue={"pair": part}).built


def crossed(made: PairDrawnIn | None, part: Part = PAIR) -> tuple[Problem, ...]:
    built = pair_in(made, part)
    (crossing,) = built.harness.crossings
    return problems(lambda sheet: drawn_in(built, crossing, sheet) and None)


def test_pairs_drawn_in() -> None:
    """Size, port, place, and the wire to draw it out again: 14 mm from the end face to its middle."""
    assert crossed(DRAWN) == ()
    assert crossed(None) == ()
    assert crossed(replace(DRAWN, more_mm=13.95)) == ()
    built = pair_in(DRAWN)
    assert problems(check_pairs_inside, built, sites_of(built)) == ()


@pytest.mark.parametrize(
    ("made", "part", "words", "figure"),
    [
        (replace(DRAWN, more_mm=13.8), PAIR, "lies 14.0 mm in, and its wires are 13.8 mm longer", 0.2),
        (replace(DRAWN, vehicle="tender"), PAIR, "behind no port of this coupling", 0),
        (replace(DRAWN, box=Box((9, 21, FLOOR), (18, 27, FLOOR + 4))), PAIR, "at another size", 0),
        (replace(DRAWN, box=Box((9, 21, FLOOR), (19, 26.8, FLOOR + 4))), PAIR, "at another size", 0),
        (
            replace(DRAWN, box=Box((7, 21, FLOOR), (17, 27, FLOOR + 4))),
            PAIR,
            "does not lie behind rear hole",
            -1,
        ),
        (
            replace(DRAWN, box=Box((9, 20, FLOOR), (19, 29, FLOOR + 4))),
            replace(PAIR, envelope=(Box((0, 0, 0), (10, 9, 4)),)),
            "of 9.0 × 4.0 mm does not pass rear hole",
            9,
        ),
        (
            replace(DRAWN, box=Box((9, 21, FLOOR), (19, 28, FLOOR + 7))),
            replace(PAIR, envelope=(Box((0, 0, 0), (10, 7, 7)),)),
            "of 7.0 × 7.0 mm does not pass rear hole",
            7,
        ),
    ],
)
def test_pairs_that_cannot_be_drawn_in(made: PairDrawnIn, part: Part, words: str, figure: float) -> None:
    """One thing wrong with each."""
    found = [p for p in crossed(made, part) if words in p.message]
    assert found, crossed(made, part)
    assert found[0].figure == pytest.approx(figure, abs=1e-3)


def test_a_pair_runs_into_body_and_parts() -> None:
    """The wall of the loco; the board."""
    for low, into in (((9, 2, FLOOR), "fixed"), ((22, 12, FLOOR + 0.5), "board")):
        x, y, z = low
        built = pair_in(replace(DRAWN, box=Box((x, y, z), (x + 10, y + 6, z + 4))))
        assert into in only(check_pairs_inside, built, sites_of(built), words="runs into").message


# -- longer ways -------------------------------------------------------------------------------------------


def detoured(points: tuple[Vec, ...], *told: Detour) -> tuple[Problem, ...]:
    """What is said of wire 4 of the loco, from the cell's minus to the splice, led like this."""
    (wire,) = (w for w in plan().built.harness.wires if w.number == 4)
    old = wire_with(plan(), 4, legs=(replace(wire.legs[0], points=points),), detours=told)
    old = harness_with(old, wires=tuple(w for w in old.built.harness.wires if w.number == 4))
    return problems(check_detours, old.built, sites_of(old.built))


START, END = (16.0, 33.0, 24.2), (12.0, 24.0, 21.0)
LEAD = (13.0, 33.0, 23.0)
SHORTEST = (START, LEAD, END)
ROUND = (START, LEAD, (13.0, 33.0, 45.0), (13.0, 30.0, 45.0), END)


def length(*points: Vec) -> float:
    return sum(math.dist(a, b) for a, b in pairwise(points))


MORE = length(*ROUND) - length(*SHORTEST)
TOLD = Detour("loco", "beside and round other wires", MORE, SHORTEST)


def test_longer_ways_that_are_told_truly() -> None:
    """The shortest way needs none; a longer one is told with what it is more."""
    assert detoured(SHORTEST) == ()
    assert detoured(ROUND, TOLD) == ()
    assert detoured(ROUND, replace(TOLD, more_mm=MORE + 0.04)) == ()


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ((), "mm tighter in loco, and does not say why"),
        ((replace(TOLD, why="a whim"),), "which is no reason"),
        ((replace(TOLD, more_mm=MORE + 0.06),), "the two differ by"),
        ((replace(TOLD, more_mm=MORE - 0.06),), "the two differ by"),
        ((replace(TOLD, vehicle="wagon"),), "where it does not run"),
        ((TOLD, TOLD), "tells 2 longer ways"),
        ((replace(TOLD, shortest=(START,)),), "and not the one that is shorter"),
        ((replace(TOLD, shortest=((16.0, 33.1, 24.2), LEAD, END)),), "ends 0.10 mm beside its end"),
        ((replace(TOLD, shortest=(START, LEAD, (12.0, 24.1, 21.0))),), "ends 0.10 mm beside its end"),
        ((replace(TOLD, shortest=(START, LEAD, (1.0, 30.0, 23.0), END)),), "fixed"),
        ((replace(TOLD, shortest=ROUND, more_mm=0.0),), "mm tighter in loco"),
        ((replace(TOLD, shortest=ROUND, more_mm=0.0),), "the two differ by 0.00 mm"),
    ],
)
def test_longer_ways_that_are_not(told: tuple[Detour, ...], words: str) -> None:
    """What is missing, wrong or no way."""
    found = detoured(ROUND, *told)
    assert any(words in problem.message for problem in found), found


def test_how_much_tighter_a_way_can_be_pulled() -> None:
    """Up and down again: cutting the corners gains all but the straight line, in three rounds."""
    (problem,) = detoured(ROUND)
    straight = math.dist(LEAD, END)
    slack = length(*ROUND[1:]) - straight
    assert 0.8 * slack < problem.figure <= slack + 1e-3
    small = (START, LEAD, (13.0, 33.0, 25.0), END)  # less than a tenth and 5 mm to gain
    assert detoured(small) == ()
    assert notes(check_detours, plan().built, sites_of(plan().built)) == ()


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("gap", [-0.4, 0.0, 0.4, 0.6])
def test_what_was_added_holds_at_a_side_that_it_reaches(axis: int, gap: float) -> None:
    """A shelf no farther than it may be from one side of a part, and beside it in the other directions."""
    bounds = Box((24.0, 22.0, 30.0), (30.0, 28.0, 36.0))
    low, high = [24.0, 22.0, 30.0], [30.0, 28.0, 36.0]
    low[axis], high[axis] = high[axis] + gap, high[axis] + gap + 3.2
    for reach in (0.1, 0.5):
        for aside, beside in ((0.0, True), (5.9, True), (7.0, False)):
            other = 1 - axis
            corner, end = list(low), list(high)
            corner[other], end[other] = corner[other] + aside, end[other] + aside
            box = Box((corner[0], corner[1], corner[2]), (end[0], end[1], end[2]))
            site = sites_of(plan().built)["wagon"]
            site.shelves = (("lamp", box), ("eye", Box((0, 0, 0), (1, 1, 1))))
            assert held_at_its_side(site, "lamp", bounds, reach) == (beside and 0 <= gap <= reach)
            assert not held_at_its_side(site, "eye", bounds, reach)


def test_what_is_round_is_held_at_its_ends() -> None:
    """Against the flank of a cylinder tape holds a line: nothing."""
    eye = shape_of(Cylinder("x", (20.0, 25.0, 30.0), 12.0, 8.0))
    site = sites_of(plan().built)["wagon"]
    site.shelves = (("lamp", Box((22.0, 33.0, 26.0), (30.0, 36.2, 34.0))),)
    assert not held_at_its_side(site, "lamp", eye, 0.3)
    assert held_at_its_side(site, "lamp", eye.bounds, 0.3)
    site.shelves = (("lamp", Box((32.0, 20.0, 26.0), (35.2, 28.0, 34.0))),)
    assert held_at_its_side(site, "lamp", eye, 0.3)
