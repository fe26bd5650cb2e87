"""The fit table held against places and boxes: rows that are true, and one lie at a time."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from fitplan.budget import Budget
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Outcome
from fitplan.model.needed import Choice, Need
from fitplan.model.part import Clearance
from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.proposed import FitPlace, FitRow
from fitplan.model.solids import Box, Place, poses
from fitplan.model.vehicle import Zone
from fitplan.model.wired import Harness
from fitplan.packing.vehicle.pack import Packer
from fitplan.planning.fit_table import fit_rows
from fitplan.verify.body import Body, BodyPiece
from fitplan.verify.clear_room import ClearRoom
from fitplan.verify.fit_rows import check_fit_rows
from fitplan.verify.result import Tally
from tests.packing.small_trains import block, hollow, train_of

from .lies import problems

SMALL, LONG, STEPPED = (
    block("small", (30.0, 26.0, 20.0)),
    block("long", (60.0, 26.0, 20.0)),
    replace(
        block("stepped", (60.0, 26.0, 20.0)),
        envelope=(Box((0.0, 0.0, 0.0), (30.0, 26.0, 20.0)), Box((30.0, 0.0, 0.0), (60.0, 6.0, 20.0))),
    ),
)
LAMP = block("lamp", (10.0, 10.0, 10.0))
WALL = ("wall", Box((24.0, 8.0, 19.2), (32.0, 40.0, 41.6)), 3.0)
TRAIN = train_of(
    (hollow("short", 8, 6, 7), hollow("long", 12, 6, 7), hollow("parted", 8, 6, 7, removable=(WALL,))),
    (
        Need("board", (SMALL, LONG, STEPPED), choice=Choice("controller")),
        Need("lamp", (LAMP,), vehicles=("short",)),
    ),
)
PLACED = (
    Placement("board", SMALL, "long", Place(poses()[0], (8.0, 8.0, 19.2)), "the body"),
    Placement("lamp", LAMP, "short", Place(poses()[0], (8.0, 8.0, 19.2)), "the body"),
)
ROWS = fit_rows(TRAIN, Packer({entry.name: entry.vehicle for entry in TRAIN.vehicles}), Budget.usual())


def made(rows: tuple[FitRow, ...] = ROWS) -> Plan:
    return Plan(
        built=BuiltTrain(TRAIN, PLACED, Harness(), ()),
        verdict="fits",
        fit=rows,
        assembly=(),
        assembly_blocked=(),
        options=(),
        outcomes=(Outcome("pins", ()),),
    )


def said(part: str, vehicle: str) -> FitRow:
    return next(row for row in ROWS if (row.part_id, row.vehicle) == (part, vehicle))


def with_row(part: str, vehicle: str, change: Callable[[FitRow], FitRow]) -> Plan:
    return made(tuple(change(row) if row == said(part, vehicle) else row for row in ROWS))


def test_rows_that_are_true() -> None:
    """Clear are 48 and 80 mm; the wall parts its wagon. What boxes confirm is not taken on trust."""
    assert [(row.part_id, row.vehicle, row.verdict) for row in ROWS] == [
        ("small", "short", "fits"),
        ("small", "long", "fits"),
        ("small", "parted", "fits after a rebuild"),
        ("long", "short", "cannot fit"),
        ("long", "long", "fits"),
        ("long", "parted", "cannot fit"),
        ("stepped", "short", "cannot fit"),
        ("stepped", "long", "fits"),
        ("stepped", "parted", "cannot fit"),
    ]
    sheet = Tally()
    check_fit_rows(made(), sheet)
    report = sheet.report()
    assert report.problems == ()
    trusted = {entry.what: entry.count for entry in report.trusted}
    # Neither solid of the stepped one is too long by itself.
    assert trusted == {"that parts cannot fit": 2, "words and proofs of what cannot fit": 4}
    counts = {entry.what: entry.count for entry in report.checked}
    assert counts["places of the fit table"] == 6  # in the short wagon beside the lamp
    assert counts["what is missing, axis by axis"] == 4


def _moved(row: FitRow, by: float) -> FitRow:
    (mine, *rest) = row.places
    x, y, z = mine.place.offset
    return replace(row, places=(replace(mine, place=Place(mine.place.pose, (x + by, y, z))), *rest))


NO = {
    "verdict": "cannot fit",
    "reason": "no room",
    "proof": "every pose was tried",
    "places": (),
    "cost": 0.0,
}
FAR = FitPlace("board", "long", Place(poses()[0], (8.0, 8.0, 19.2)))


@pytest.mark.parametrize(
    ("part", "vehicle", "change", "words"),
    [
        ("small", "short", lambda row: _moved(row, 200.0), "where it would lie, board stands"),
        ("small", "short", lambda row: _moved(row, -9.0), "runs"),
        ("small", "short", lambda row: replace(row, places=row.places[:1]), "not beside lamp"),
        ("small", "short", lambda row: replace(row, places=()), "no place shows it"),
        ("small", "short", lambda row: replace(row, places=(row.places[0], *row.places)), "overlap"),
        ("small", "long", lambda row: replace(row, places=said("long", "long").places), "no place shows it"),
        ("small", "short", lambda row: replace(row, **NO, remove=()), "the box round it goes in"),
        ("small", "parted", lambda row: replace(row, **NO, remove=()), "the box round it goes in"),
        ("small", "parted", lambda row: replace(row, remove=(), cost=0.0), "with 0 bricks out"),
        ("small", "parted", lambda row: replace(row, cost=2.0), "its bricks cost 3"),
        ("small", "parted", lambda row: replace(row, reason=""), "expected 'take out wall'"),
        ("small", "parted", lambda row: replace(row, verdict="fits", reason="", remove=(), cost=0.0), "wall"),
        (
            "small",
            "long",
            lambda row: replace(row, verdict="fits after a rebuild", remove=("wall",)),
            "no removable brick",
        ),
        ("small", "long", lambda row: replace(row, proof=""), "rests on nothing"),
        ("small", "long", lambda row: replace(row, missing_mm=1.0), "fits, and 1 mm are missing"),
        ("small", "long", lambda row: replace(row, verdict="not decided", places=()), "is placed there"),
        ("long", "short", lambda row: replace(row, verdict="fits", places=(FAR,)), "runs"),
        ("long", "short", lambda row: replace(row, proof=""), "nothing is said of why"),
        ("long", "short", lambda row: replace(row, places=(FAR,)), "has a place or a rebuild"),
        ("long", "short", lambda row: replace(row, missing_mm=row.missing_mm / 2), "its reason says"),
        ("long", "short", lambda row: replace(row, missing_mm=0.0), "its figure is 0"),
        ("long", "short", lambda row: replace(row, axis="width"), "its figure says"),
        ("long", "short", lambda row: replace(row, pose="+y+z+x"), "take other room"),
        ("long", "short", lambda row: replace(row, vehicle="tender"), "is in no vehicle"),
        ("long", "short", lambda row: replace(row, need="horn"), "is not what horn asks for"),
        ("long", "short", lambda row: replace(row, part_id="horn"), "is not what board asks for"),
        ("long", "short", lambda row: said("long", "long"), "stands in the fit table twice"),
        ("long", "short", lambda row: said("long", "long"), "is no row of the fit table"),
    ],
)
def test_rows_that_are_not(part: str, vehicle: str, change: Callable[[FitRow], FitRow], words: str) -> None:
    """Each lie alone."""
    told = problems(check_fit_rows, with_row(part, vehicle, change))
    assert any(words in problem.message for problem in told), told


@pytest.mark.parametrize("short", [11.0, 13.0])
def test_what_is_missing_is_missing(short: float) -> None:
    """12 mm of length are; a row that says so a millimetre off, in every word, is noticed."""
    row = said("long", "short")
    assert row.missing_mm == pytest.approx(11.8)  # bricks play
    wrong = replace(
        row,
        missing_mm=short,
        reason=row.reason.replace("11.8 mm", f"{short} mm").replace("48.2", f"{60.0 - short}"),
    )
    told = problems(check_fit_rows, with_row("long", "short", lambda _: wrong))
    assert [p.message for p in told] == [
        "does not go in either with what is said to be missing" if short < 12 else "lacks less than 13 mm"
    ]


def test_boxes_keep_off_what_must_sit_there() -> None:
    """Beside a lamp that keeps the whole wagon clear, the box round the board refutes nothing."""
    wide = replace(LAMP, clearances=(Clearance("air", "air", Box((0.0, 0.0, 0.0), (48.0, 32.0, 22.4))),))
    train = replace(TRAIN, needs=(TRAIN.needs[0], Need("lamp", (wide,), vehicles=("short",))))
    lies = Placement("lamp", wide, "short", Place(poses()[0], (8.0, 8.0, 19.2)), "the body")
    row = replace(said("small", "short"), **NO)
    plan = replace(made((row,)), built=BuiltTrain(train, (PLACED[0], lies), Harness(), ()), outcomes=())
    assert problems(check_fit_rows, plan) == ()
    assert problems(check_fit_rows, replace(plan, built=BuiltTrain(TRAIN, PLACED, Harness(), ())))


@pytest.mark.parametrize("seed", range(40))
def test_clear_room_agrees_with_every_place_on_a_grid(seed: int) -> None:
    """Boxes of whole millimetres in bodies of whole millimetres: one that goes in goes in on the grid."""
    dice = random.Random(seed)
    shape = (12, 10, 8)
    hull = Box((0.0, 0.0, 0.0), (12.0, 10.0, 8.0))
    pieces, taken = [], np.zeros(shape, dtype=bool)
    for _ in range(dice.randint(2, 9)):
        low = [dice.randint(-1, edge - 1) for edge in shape]
        high = [low[i] + dice.randint(1, 5) for i in range(3)]
        state = dice.choice(("fixed", "fixed", "keep-clear", "free"))
        box = Box(
            (float(low[0]), float(low[1]), float(low[2])), (float(high[0]), float(high[1]), float(high[2]))
        )
        pieces.append(BodyPiece(box, state, "piece"))  # type: ignore[arg-type]
        taken[tuple(slice(max(a, 0), b) for a, b in zip(low, high, strict=True))] = state != "free"
    room = ClearRoom(Body(Box((-2.0,) * 3, (20.0,) * 3), "free", pieces), hull, strict=True)
    for _ in range(12):
        x, y, z = (dice.randint(1, edge) for edge in shape)
        goes = any(
            not taken[i : i + x, j : j + y, k : k + z].any()
            for i in range(13 - x)
            for j in range(11 - y)
            for k in range(9 - z)
        )
        assert room.holds((x, y, z)) is goes
        assert room.holds((x - 0.3, y - 0.3, z - 0.3)) or not goes


def test_zones_are_obstacles_to_those_that_they_shut_out() -> None:
    """In a zone a place does not hold, and where all room is a zone the box round a part refutes nothing."""
    shut = Zone("hands off", Box((8.0, 8.0, 19.2), (88.0, 56.0, 41.6)), parts=False, only=("lamp",))
    vehicles = tuple(
        replace(entry, vehicle=replace(entry.vehicle, zones=(shut,))) for entry in TRAIN.vehicles
    )
    train = replace(TRAIN, vehicles=vehicles)
    plan = replace(
        made((said("small", "short"),)), built=BuiltTrain(train, PLACED, Harness(), ()), outcomes=()
    )
    told = problems(check_fit_rows, plan)
    assert [p.message for p in told] == [
        "is said to fit; where it would lie, board stands in the zone hands off, which is shut to it"
    ]
    assert problems(check_fit_rows, replace(plan, fit=(replace(said("small", "short"), **NO),))) == ()
