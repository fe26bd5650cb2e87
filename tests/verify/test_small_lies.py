"""Small questions of the second check, each just true and just no longer: equality, pins, drawers, sums."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from typing import Any

import pytest

from fitplan.model.buying import Article
from fitplan.model.needed import Choice, Preference
from fitplan.model.nets import PinRef
from fitplan.model.on_hand import OnHand
from fitplan.model.pins_used import PinUse
from fitplan.model.placed import Rebuild
from fitplan.model.plan import Plan
from fitplan.model.proposed import Option
from fitplan.model.train import SourceFile
from fitplan.model.wiring import Spool
from fitplan.verify.buying import _owned
from fitplan.verify.choice import _apart, check_choice
from fitplan.verify.conductors import check_conductors
from fitplan.verify.detours import check_detours
from fitplan.verify.findings import same
from fitplan.verify.lists import _compare
from fitplan.verify.nets import _pins
from fitplan.verify.origin import check_origin
from fitplan.verify.pin_map import _kept_free
from fitplan.verify.result import Checked, Problem, Tally, Trusted
from fitplan.verify.scene import sites_of
from fitplan.verify.wires import sees_along
from fitplan.workbench.as_built import as_built_of

from .lies import built_with, needs_with, problems, train_with, wire_with
from .test_lies_in_words import CHOSEN, OTHER, with_options
from .two_vehicles import EYE, LAMP, WIRES, plan

NAN = math.nan


@dataclass(frozen=True)
class Row:
    name: str
    figure: float


@dataclass(frozen=True)
class Other:
    name: str
    figure: float


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        (1.0, 1.0, True),
        (1.0, 1.0 + 5e-7, True),
        (1.0, 1.0 + 5e-6, False),
        (1e6, 1e6 + 0.5, True),
        (1e6, 1e6 + 5, False),
        (0.0, 5e-7, True),
        (NAN, NAN, True),
        (NAN, 1.0, False),
        (1.0, NAN, False),
        (math.inf, math.inf, True),
        (math.inf, -math.inf, False),
        (1, 1.0, True),
        ((1.0, 2.0), (1.0, 2.0), True),
        ((1.0, 2.0), (1.0, 3.0), False),
        ((1.0,), (1.0, 2.0), False),
        ((), (), True),
        (Row("a", 1.0), Row("a", 1.0 + 5e-7), True),
        (Row("a", 1.0), Row("b", 1.0), False),
        (Row("a", 1.0), Row("a", 2.0), False),
        (Row("a", 1.0), Other("a", 1.0), False),
        ("a", "a", True),
        ("a", "b", False),
        ("1", 1, False),
        ((Row("a", NAN),), (Row("a", NAN),), True),
        ((1.0,), 1.0, False),
    ],
)
def test_two_results_are_the_same_to_a_millionth(one: object, other: object, alike: bool) -> None:
    assert same(one, other) is alike


def test_a_sheet_holds_what_is_written_on_it() -> None:
    """Counts add up by kind, figures are told to four digits, nothing is taken on trust no times."""
    sheet = Tally()
    sheet.count("pins")
    sheet.count("wires", 3)
    sheet.count("pins", 2)
    sheet.problem("wire", "w", "thin", 1.23456789, "mm")
    sheet.problem("wire", "w", "long")
    sheet.note("wire", "w", "odd", 2.00004999, "mm")
    sheet.trust("proofs", 2, "why")
    sheet.trust("nothing", 0, "why")
    report = sheet.report()
    assert report.checked == (Checked("pins", 3), Checked("wires", 3))
    assert report.problems == (
        Problem("wire", "w", "thin", 1.2346, "mm"),
        Problem("wire", "w", "long", 0.0, ""),
    )
    assert report.notes == (Problem("wire", "w", "odd", 2.0, "mm"),)
    assert report.trusted == (Trusted("proofs", 2, "why"),)
    assert not report.holds
    assert Tally().report().holds


def compared(said: list[object], fresh: list[object]) -> list[tuple[str, str, float]]:
    sheet = Tally()
    _compare("buying", [f"row {n}" for n in range(len(said))], said, fresh, sheet)
    report = sheet.report()
    assert report.checked == (Checked("rows of lists made again", len(fresh)),)
    return [(one.where, one.message, one.figure) for one in report.problems]


def test_lists_are_held_against_those_made_again() -> None:
    rows: list[object] = [Row(f"{n}", float(n)) for n in range(12)]
    assert compared(rows, rows) == []
    assert compared(rows, rows[:-1]) == [("list", "has 12 rows; made again it has 11", 0.0)]
    wrong = [replace(one, figure=-1.0) for one in rows]  # type: ignore[type-var]
    told = compared(wrong, rows)
    shown = [one for one in told if one[0].startswith("row")]
    assert [where for where, *_ in shown] == [f"row {n}" for n in range(len(shown))]
    left = 12 - len(shown)
    assert told[len(shown) :] == [("list", f"and {left} more rows are not", 12.0)]
    few = [*wrong[: len(shown)], *rows[len(shown) :]]
    assert compared(few, rows) == shown


def test_a_net_asks_for_the_pins_of_its_own_rows_alone() -> None:
    """A board's chosen pins for this net; a named pin; a role by its first pin; another's are none."""
    uses = (
        PinUse("board", "D5", "light", "", "output", "D5"),
        PinUse("board", "D3", "light", "", "output", "D3"),
        PinUse("board", "D7", "other", "", "output", "D7"),
        PinUse("spare", "D9", "light", "", "output", "D9"),
    )
    built = built_with(plan(), pin_map=uses).built
    light, ground = built.train.nets
    assert _pins(built, light, PinRef("board", "*")) == ["D3", "D5"]
    assert _pins(built, ground, PinRef("board", "*")) == []
    assert _pins(built, light, PinRef("lamp", "IN")) == ["IN"]
    assert _pins(built, ground, PinRef("lamp", "ground")) == ["GND"]
    assert _pins(built, ground, PinRef("lamp", "plus")) == []
    assert _pins(built, ground, PinRef("nobody", "GND")) == []


@pytest.mark.parametrize(
    ("wanted", "told", "lacks"),
    [(1, False, 0), (2, False, 0), (3, False, 1), (4, False, 2), (4, True, 0)],
)
def test_pins_are_kept_free_as_many_as_are_asked_for(wanted: int, told: bool, lacks: int) -> None:
    """Two of the board lie free; one that serves a net, one of another kind or board does not count."""
    uses = (
        PinUse("board", "D1", "", "", "analog", "D1"),
        PinUse("board", "D2", "", "", "analog", "D2"),
        PinUse("board", "D3", "light", "", "analog", "D3"),
        PinUse("board", "D4", "", "", "output", "D4"),
        PinUse("eye", "D5", "", "", "analog", "D5"),
    )
    asks = Choice("controller", pins=(("analog", wanted),))
    made = needs_with(built_with(plan(), pin_map=uses), "board", choice=asks)
    sheet = Tally()
    _kept_free(made.built, told, sheet)
    report = sheet.report()
    assert report.checked == (Checked("pins kept free", 1),)
    assert [one.figure for one in report.problems] == ([float(lacks)] if lacks else [])
    if lacks:
        (problem,) = report.problems
        assert problem.message == f"keeps 2 of {wanted} analog pins free, and no finding says so"


def article(**values: Any) -> Article:
    """A row of the list: two of a lamp are wanted, and one to spare."""
    return replace(Article("electronics", "lamp", 2.0, 1.0, "pcs", ("front",), part="lamp"), **values)


def owned(*rows: Article, parts: int = 3, metres: float = 5.0) -> list[str]:
    made = train_with(plan(), owned=OnHand((("lamp", parts),)))
    wiring = replace(made.built.train.wiring, spools=(Spool("BK", metres),))
    made = replace(train_with(made, wiring=wiring), buying=rows)
    sheet = Tally()
    _owned(made, sheet)
    return [one.message for one in sheet.report().problems]


MORE_THAN_WANTED = "takes more from the drawer than is wanted"


def test_what_is_there_already_is_no_more_than_is_wanted_and_than_lies_there() -> None:
    assert owned(article(owned=0.0)) == []
    assert owned(article(owned=3.0)) == []
    assert owned(article(owned=-1.0)) == [MORE_THAN_WANTED]
    assert owned(article(owned=4.0), parts=9) == [MORE_THAN_WANTED]
    assert owned(article(owned=3.0), parts=2) == ["takes 3 from a drawer with 2"]
    assert owned(article(owned=2.0), article(owned=1.0), parts=2) == ["takes 3 from a drawer with 2"]
    wire = replace(article(owned=3.0), name="stranded wire, AWG 28, BK", part="")
    assert owned(wire) == []
    assert owned(wire, metres=2.0) == ["takes more from the spools than is on them"]
    assert owned(wire, wire, metres=5.0) == ["takes more from the spools than is on them"]


def test_a_wire_that_carries_too_much_is_told_by_how_much() -> None:
    """AWG 28: 0.127 · 92^(8/39) mm, in circular mils over 711 an ampere: 224.8 mA."""
    most = 1000 * (0.127 * 92 ** (8 / 39) / 25.4 * 1000) ** 2 / 711
    made = wire_with(plan(), 4, current_ma=300.0)
    (problem,) = (p for p in problems(check_conductors, made.built, ()) if "bears" in p.message)
    assert problem.figure == pytest.approx(300 - most, rel=1e-2)
    assert problem.unit == "mA"


def test_a_wire_with_one_leg_of_no_length_is_not_pulled_taut() -> None:
    """It is told where wires are checked; one whose legs are whole is looked at leg by leg."""

    def taut(made: Plan) -> dict[str, int]:
        sheet = Tally()
        check_detours(made.built, sites_of(made.built), sheet)
        return {one.what: one.count for one in sheet.report().checked}

    whole = taut(plan())["taut ways"]
    assert whole == sum(len(one.legs) for one in WIRES)
    for leg in (0, 1):
        legs = list(WIRES[0].legs)
        legs[leg] = replace(legs[leg], points=legs[leg].points[:1])
        assert taut(wire_with(plan(), 1, legs=tuple(legs)))["taut ways"] == whole - 2
        legs[leg] = replace(WIRES[0].legs[leg], vehicle="tender")
        assert taut(wire_with(plan(), 1, legs=tuple(legs)))["taut ways"] == whole - 2
    assert taut(wire_with(plan(), 1, inside=3))["taut ways"] == whole - 2


def test_a_wire_that_lies_as_it_was_built_need_not_be_taut() -> None:
    """Laid round a bow it says why; as it was built it is let be, unless it lies another way now."""
    whole, leg = plan(), WIRES[0].legs[0]
    first, *others = leg.points
    bow = (first, (42.0, 15.0, 32.3), *others)
    slack = wire_with(whole, 1, legs=(replace(leg, points=bow), *WIRES[0].legs[1:]), detours=())

    def loose(made: Plan) -> list[str]:
        sheet = Tally()
        check_detours(made.built, sites_of(made.built), sheet)
        return [one.message for one in sheet.report().problems if "does not say why" in one.message]

    assert len(loose(slack)) == 1
    assert loose(train_with(slack, as_built=as_built_of(slack))) == []
    assert len(loose(train_with(slack, as_built=as_built_of(whole)))) == 1


# -- straight pieces of wires, and wishes ------------------------------------------------------------------

WALL_Y = 40.0
FAR_OFF = ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0))


def sees(outer: float, away: float, *, close: bool) -> bool:
    """Whether a piece of a wire so far from the wagon's side wall, high above all parts, keeps off it."""
    made = wire_with(plan(), 1, outer_mm=outer)
    piece = ((30.0, WALL_Y - away, 46.0), (34.0, WALL_Y - away, 46.0))
    site = sites_of(made.built)["wagon"]
    return sees_along(made.built.harness.wires[0], piece, piece if close else FAR_OFF, site)


@pytest.mark.parametrize(
    ("outer", "close", "least"),
    [(2.0, False, 0.95), (1.0, False, 0.45), (0.6, False, 0.25), (2.0, True, 0.35), (0.6, True, 0.25)],
)
def test_a_straight_piece_keeps_half_its_outside_from_a_wall(outer: float, close: bool, least: float) -> None:
    """Within 0.05 mm; within 4 mm of an end of its leg no more than 0.4 mm."""
    assert sees(outer, least + 0.01, close=close)
    assert not sees(outer, least - 0.01, close=close)


def test_a_piece_of_which_one_end_is_close_keeps_all_of_it_farther_off() -> None:
    """From 4 mm beyond an end of the leg on the whole half counts."""
    made = wire_with(plan(), 1, outer_mm=2.0)
    site, one = sites_of(made.built)["wagon"], made.built.harness.wires[0]
    for reach, free in ((3.9, True), (4.3, False)):
        piece = ((30.0, WALL_Y - 0.5, 46.0), (30.0 + reach, WALL_Y - 0.5, 46.0))
        assert sees_along(one, piece, (piece[0], FAR_OFF[0]), site) is free


def option(**homes: str) -> Option:
    parts = tuple((need, "any", vehicle) for need, vehicle in homes.items())
    return Option(parts, 1, 0, 0, 0.0, 0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("kind", "other", "homes", "told"),
    [
        ("near", "cell", {"board": "loco", "cell": "loco"}, (False,)),
        ("near", "cell", {"board": "loco", "cell": "wagon"}, (True,)),
        ("same side as", "cell", {"board": "loco", "cell": "wagon"}, (True,)),
        ("reachable from", "roof", {"board": "loco"}, (False,)),
        ("reachable from", "hatch", {"board": "loco"}, (True,)),
        ("reachable from", "hatch", {"board": "wagon"}, (False,)),
        ("near", "loco/motor", {"board": "loco"}, (False,)),
        ("near", "loco/motor", {"board": "wagon"}, (True,)),
        ("near", "cell", {"cell": "loco"}, (False,)),
        ("near", "cell", {"board": "loco"}, (False,)),
        ("far from", "cell", {"board": "loco", "cell": "wagon"}, ()),
    ],
)
def test_wishes_for_one_vehicle_are_parted_or_not(
    kind: Any, other: str, homes: dict[str, str], told: tuple[bool, ...]
) -> None:
    """By where both are; a lid is wherever one has its name; what has no place parts nothing."""
    loco, wagon = plan().built.train.vehicles
    (roof,) = wagon.vehicle.openings
    hatched = replace(wagon, vehicle=replace(wagon.vehicle, openings=(roof, replace(roof, name="hatch"))))
    made = train_with(plan(), vehicles=(loco, hatched), preferences=(Preference("board", kind, other),))
    assert _apart(made.built.train, option(**homes)) == told


# -- colours, counts, what is taken on trust ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("light", "ground", "sleeved", "told"),
    [
        ("signal", "ground", False, True),
        ("signal", "ground", True, True),
        ("ground", "signal", True, True),
        ("signal", "signal", False, True),
        ("signal", "signal", True, False),
        ("ground", "ground", True, False),
        ("supply", "signal", True, False),
    ],
)
def test_two_nets_of_one_colour_side_by_side(light: Any, ground: Any, sleeved: bool, told: bool) -> None:
    """Sleeves tell them apart, but ground from nothing else while there are colours enough."""
    made = wire_with(plan(), 1, colour="BK", role=light, sleeved=sleeved)
    for number in (2, 3, 4):
        made = wire_with(made, number, role=ground, sleeved=sleeved)
    found = [p.where for p in problems(check_conductors, made.built, ()) if "run side by side" in p.message]
    assert found == (["B1"] if told else [])
    other = wire_with(made, 1, colour="YE")
    assert not [p for p in problems(check_conductors, other.built, ()) if "run side by side" in p.message]


def test_what_the_files_say_is_counted_field_by_field() -> None:
    """All fields of a train but its catalogue, files, source and what is built; and each part."""
    mine = replace(
        plan().built.train, files=(SourceFile("train.yaml", "abc"),), catalogue={"lamp": LAMP, "eye": EYE}
    )
    sheet = Tally()
    check_origin(mine, mine, sheet)
    assert sheet.report().checked == (
        Checked("files compared with the plan", 1),
        Checked("what the files say", len(fields(mine)) - 4 + 2),
    )
    assert sheet.report().trusted == ()


def test_what_options_leave_to_trust_is_counted() -> None:
    sheet = Tally()
    check_choice(with_options(CHOSEN, OTHER), sheet)
    trusted = {one.what: one.count for one in sheet.report().trusted}
    assert trusted["wire and balance of options"] == 2
    assert {one.what: one.count for one in sheet.report().checked}["options"] == 2


@pytest.mark.parametrize(("said", "holds"), [(2.0, True), (2.0 + 5e-7, True), (2.01, False), (1.99, False)])
def test_rebuilds_cost_what_their_bricks_cost(said: float, holds: bool) -> None:
    rebuild = Rebuild("loco", ("shelf brick",), (), said, 1.0, "")
    made = replace(built_with(plan(), rebuilds=(rebuild,)), verdict="fits after a rebuild")
    found = [p.message for p in problems(check_choice, made) if "its bricks cost" in p.message]
    assert (found == []) is holds
