"""A bank drawn up by hand that feeds a board by a lead: each figure just true and just no longer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from fitplan.model.electrical import Bank, Controller, Regulator
from fitplan.model.found import Finding
from fitplan.model.nets import Net, PinRef
from fitplan.model.part import Access, Clearance, Mount, Pin
from fitplan.model.placed import Fastening, Piece
from fitplan.model.plan import Plan
from fitplan.model.solids import Box
from fitplan.model.ways_in import Exchanged, Moves, WayOut
from fitplan.model.wired import BoughtLead
from fitplan.verify.banks import check_banks
from fitplan.verify.result import Tally
from fitplan.verify.scene import sites_of

from .lies import built_with, harness_with, needs_with, placed_with, problems, train_with, wire_with
from .two_vehicles import BOARD, FLOOR, WIRES, part, pin, plan

BUTTON, SOCKET = Access("button", "switch", "+z", True), Access("charging socket", "socket", "+x", True)
USB = Bank(5.0, 2000.0, 3.7, 0.85, 2000.0, 10.0)
BANK = part(
    "bank",
    Box((0, 0, 0), (20, 10, 8)),
    mount=Mount(),
    pins=(Pin("plus", "plus", (0, 3, 5), "-x"), Pin("minus", "ground", (0, 7, 5), "-x")),
    access=(BUTTON, SOCKET),
    electrical=(USB,),
)
CHIP = Controller(5.0, 20.0, 40.0, 4.3, 20.0, 500.0, usb_ma=500.0, usb_drop_v=0.3)
FED = replace(
    BOARD,
    pins=(*BOARD.pins, Pin("USB", "5v", (0, 8, 1), "-x", joint="plug", socket="micro-B")),
    electrical=(CHIP,),
)
OHM = 0.2345
"""Of a metre of AWG 28 at 40 °C, by a table (`two_vehicles.wire`)."""
LOST = 0.040 * OHM * 4.0
"""At a peak of 40 mA in both conductors of a lead of 2 m."""
UP: Moves = (("+z", 40.0),)


def banked(**changes: Any) -> Plan:
    """The small plan with a bank for its cell, a lead of two conductors from it to the board's socket."""
    old = placed_with(placed_with(plan(), "cell", part=BANK), "board", part=FED)
    five = Net("five", "supply", (PinRef("cell", "plus"), PinRef("board", "USB")))
    train = old.built.train
    needs = tuple(
        replace(need, candidates={"cell": (BANK,), "board": (FED,)}.get(need.name, need.candidates))
        for need in train.needs
    )
    old = train_with(old, nets=(*train.nets, five), needs=needs)
    lead = replace(
        WIRES[3], number=5, net="five", role="supply", lead=BoughtLead("lead", 2000.0, "loco"), cut_mm=2000.0,
        start=pin("cell", "plus", "loco", (16, 31, 24.2)), end=pin("board", "USB", "loco", (20, 18, 20.2)),
    )  # fmt: skip
    second = replace(lead, number=6, net="ground", role="ground", inside=5, lead=lead.lead)
    old = harness_with(old, wires=(*WIRES, lead, second))
    ways = tuple(
        Exchanged("cell", "loco", one.name, True, True, False, (), (), WayOut((), "roof", UP))
        for one in (BUTTON, SOCKET)
    )
    return built_with(old, exchanged=ways, **changes)


STAYS = Finding("supply", "note", "cell", "the bank stays on", 20.0, 10.0, "mA", "nothing", "sum")
TAKEN = Finding("leads", "note", "board", "its socket is taken", 1.0, 1.0, "sockets", "unplug", "practice")
BEHIND = Finding(
    "leads", "note", "board",
    f"behind the lead from cell there are {5 - LOST:.2f} V at peak, behind its own diode {4.7 - LOST:.2f} V",
    4.66, 4.3, "V", "nothing", "figures",
)  # fmt: skip
TRUE = (STAYS, TAKEN, BEHIND)


def said(made: Plan, *findings: Finding) -> list[tuple[str, str]]:
    found = problems(check_banks, made.built, sites_of(made.built), findings or TRUE)
    return [(one.where, one.message) for one in found]


def with_(old: Finding, **changes: Any) -> tuple[Finding, ...]:
    return tuple(replace(one, **changes) if one is old else one for one in TRUE)


def test_what_is_told_truly_is_let_stand() -> None:
    assert said(banked()) == []
    sheet = Tally()
    check_banks(banked().built, sites_of(banked().built), TRUE, sheet)
    assert {one.what: one.count for one in sheet.report().checked} == {
        "banks": 1,
        "buttons and sockets of banks": 2,
        "sockets taken by leads": 1,
        "volts behind leads": 1,
    }
    assert said(plan(), *()) == [("board", "is said to have its socket taken; no lead is plugged into it")]


@pytest.mark.parametrize(
    ("figure", "told"), [(20.0, False), (21.9, False), (18.1, False), (22.1, True), (17.9, True)]
)
def test_the_least_current_is_told_to_five_per_cent_and_a_milliampere(figure: float, told: bool) -> None:
    words = f"is said to give {figure:g} mA at the least; its loads come to 20.0 mA"
    assert said(banked(), *with_(STAYS, figure=figure)) == ([("cell", words)] if told else [])


@pytest.mark.parametrize(
    "changes",
    [{"subject": "nets"}, {"where": "board"}, {"unit": "mAh"}, {"limit": 11.0}, {"message": "it stays on"}],
)
def test_a_finding_that_is_another_does_not_tell_it(changes: dict[str, Any]) -> None:
    """Subject, place, unit, limit, and that it speaks of a bank: each must be right."""
    missed = ("cell", "0 findings say whether it stays on; expected one")
    assert said(banked(), *with_(STAYS, **changes)) == [missed]
    assert said(banked(), *TRUE, STAYS) == [("cell", "2 findings say whether it stays on; expected one")]


@pytest.mark.parametrize(
    ("off_below", "severity", "told"),
    [(20.0, "note", False), (20.04, "note", False), (20.1, "note", True), (25.0, "note", True),
     (25.0, "caution", False), (25.0, "stop", False)],
)  # fmt: skip
def test_a_bank_that_falls_asleep_is_a_caution(off_below: float, severity: Any, told: bool) -> None:
    sleepy = replace(BANK, electrical=(replace(USB, off_below_ma=off_below),))
    made = placed_with(banked(), "cell", part=sleepy)
    found = said(made, *with_(STAYS, limit=off_below, severity=severity))
    words = f"may switch itself off below {off_below:g} mA, and no caution says so"
    assert found == ([("cell", words)] if told else [])


def behind(first: float, second: float, **changes: Any) -> tuple[Finding, ...]:
    words = f"behind the lead from cell there are {first:.3f} V at peak, behind its own diode {second:.3f} V"
    return with_(BEHIND, message=words, **changes)


@pytest.mark.parametrize("by", [0.0, 0.011, -0.011, 0.013, -0.013])
@pytest.mark.parametrize("second", [False, True])
def test_volts_behind_a_lead_are_told_to_a_hundredth(by: float, second: bool) -> None:
    """5 V less what both conductors lose at the board's peak; then less its diode."""
    right = [5 - LOST, 5 - LOST - 0.3]
    told = [right[0] + by * (not second), right[1] + by * second]
    found = said(banked(), *behind(*told))
    if abs(by) < 0.012:
        assert found == []
    else:
        (one,) = found
        assert one[1].startswith(f"is said to have {told[second]:.3f} V behind its lead; 40 mA leave ")
        assert one[1].endswith(f"{right[second]:.2f} V")


@pytest.mark.parametrize(
    ("brown_out", "severity", "told"),
    [(4.66, "note", False), (4.672, "note", False), (4.676, "note", True), (4.9, "stop", False)],
)
def test_a_board_that_gives_up_behind_its_lead_is_a_stop(brown_out: float, severity: Any, told: bool) -> None:
    weak = replace(FED, electrical=(replace(CHIP, brown_out_v=brown_out),))
    made = placed_with(banked(), "board", part=weak)
    words = f"stops below {brown_out:g} V behind its lead; no stop"
    assert said(made, *with_(BEHIND, severity=severity)) == ([("board", words)] if told else [])


@pytest.mark.parametrize(("behind", "told"), [(3.3, False), (4.7 - LOST, True)])
def test_a_raw_pin_in_a_socket_has_the_regulator_behind_it(behind: float, told: bool) -> None:
    """A linear regulator of 3.3 V lets 3.30 V through: a diode behind the socket is another board's."""
    linear = Regulator("linear", 3.3, 3.6, 5.5, 500.0, dropout_v=0.3)
    pins = tuple(replace(one, role="raw") if one.socket and one.role != "ground" else one for one in FED.pins)
    raw = replace(FED, electrical=(replace(CHIP, logic_v=3.3, regulator=linear, brown_out_v=3.0),), pins=pins)
    words = BEHIND.message.split("behind its own")[0] + f"behind its own regulator {behind:.2f} V"
    found = said(placed_with(banked(), "board", part=raw), *with_(BEHIND, message=words))
    assert [where for where, text in found if "behind its lead" in text] == (["board"] if told else [])


def test_what_arrives_is_told_once() -> None:
    missed = "findings say what arrives behind its lead; expected one"
    assert said(banked(), STAYS, TAKEN) == [("board", f"0 {missed}")]
    assert said(banked(), *TRUE, BEHIND) == [("board", f"2 {missed}")]
    assert said(banked(), *with_(BEHIND, where="lamp")) == [("board", f"0 {missed}")]
    own = BoughtLead("lead", 2000.0, "loco", own=True)
    for changes in ({"lead": None}, {"lead": own}, {"inside": 1}):
        made = wire_with(banked(), 5, **changes)
        assert ("board", f"0 {missed}") not in said(made, STAYS, TAKEN)


def test_a_socket_that_is_taken_is_told_of_its_board() -> None:
    missing = "is fed by a lead in its socket, and nothing says to unplug it first"
    wrong = "is said to have its socket taken; no lead is plugged into it"
    assert said(banked(), STAYS, BEHIND) == [("board", missing)]
    for changes in ({"subject": "pins"}, {"unit": "V"}):
        assert said(banked(), *with_(TAKEN, **changes)) == [("board", missing)]
    assert said(banked(), *TRUE, replace(TAKEN, where="lamp")) == [("lamp", wrong)]
    bare = replace(FED, pins=tuple(replace(one, socket="") for one in FED.pins))
    assert said(placed_with(banked(), "board", part=bare)) == [("board", wrong)]
    solder = wire_with(wire_with(banked(), 5, lead=None), 6, lead=None)
    assert said(solder, STAYS, TAKEN) == [("board", wrong)]
    # What a part without a place would be plugged into stays as it is said.
    left = tuple(one for one in banked().built.placements if one.need != "cell")
    assert said(built_with(solder, placements=left), STAYS, TAKEN) == []


# -- a button and a socket ---------------------------------------------------------------------------------

WHERE = "{} of cell is not come by with cell in its place, and no caution says so"


def reached(name: str, change: Callable[[Exchanged], Exchanged | None], *more: Finding) -> list[str]:
    made = banked()
    ways = tuple(
        new for one in made.built.exchanged if (new := change(one) if one.access == name else one) is not None
    )
    return [message for _, message in said(built_with(made, exchanged=ways), *TRUE, *more)]


@pytest.mark.parametrize("name", ["button", "charging socket"])
def test_each_is_come_by_with_the_bank_in_its_place(name: str) -> None:
    caution = Finding("access", "caution", "cell", f"{name} of cell: take it out", 1.0, 0.0, "x", "y", "z")
    assert reached(name, lambda one: None) == [f"nothing says how {name} of cell is come by"]
    out = WayOut(("cell",), "roof", UP)
    for wrong in ({"reached": False}, {"last": out}, {"first": (out,)}, {"reached": False, "last": None}):
        assert reached(name, lambda one, w=wrong: replace(one, **w)) == [WHERE.format(name)]  # type: ignore[misc]
        assert reached(name, lambda one, w=wrong: replace(one, **w), caution) == []  # type: ignore[misc]
        for other in ({"severity": "note"}, {"subject": "view"}, {"message": "lid of cell"}):
            told = replace(caution, **other)  # type: ignore[arg-type]
            assert reached(name, lambda one, w=wrong: replace(one, **w), told) == [WHERE.format(name)]  # type: ignore[misc]
    board = WayOut(("board",), "roof", UP)
    assert reached(name, lambda one: replace(one, first=(board,))) == []


def held(box: Box, *, vehicle: str = "loco", moves: Moves = UP, bank: Any = BANK) -> list[str]:
    """What lies in the way of the charging plug, where a brick is pressed on at some place."""
    made = placed_with(banked(), "cell", part=bank)
    brick = Fastening("cell", vehicle, ("+x",), (Piece("brick", box),))
    ways = tuple(replace(one, last=WayOut((), "roof", moves)) for one in made.built.exchanged)
    made = built_with(made, fastenings=(brick,), exchanged=ways)
    return [message for _, message in said(made) if "lies where charging" in message]


IN_THE_WAY = ["the brick beside cell lies where charging socket of cell is come by"]
X, Y = 36.0, 28.0
"""Where the bank's socket is: its end at x 36, from y 28 to 38, from the floor 8 mm up."""


@pytest.mark.parametrize(
    ("low", "high", "hits"),
    [
        ((X + 5.9, Y + 2, FLOOR + 2), (X + 14, Y + 6, FLOOR + 6), True),
        ((X + 6.1, Y + 2, FLOOR + 2), (X + 14, Y + 6, FLOOR + 6), False),
        ((X + 2, Y + 9.9, FLOOR + 2), (X + 4, Y + 14, FLOOR + 6), True),
        ((X + 2, Y + 10.1, FLOOR + 2), (X + 4, Y + 14, FLOOR + 6), False),
        ((X + 2, Y + 2, FLOOR + 20), (X + 4, Y + 6, FLOOR + 24), True),
        ((X + 2, Y + 2, FLOOR + 48.1), (X + 4, Y + 6, FLOOR + 52), False),
    ],
)
def test_nothing_lies_on_the_way_of_a_plug(low: Any, high: Any, hits: bool) -> None:
    """A finger's 6 mm before the socket, and up out of the roof by 40 mm; other vehicles do not matter."""
    assert held(Box(low, high)) == (IN_THE_WAY if hits else [])
    assert held(Box(low, high), vehicle="wagon") == []


def test_a_plug_takes_the_room_that_its_part_tells_and_every_move() -> None:
    deep = replace(BANK, clearances=(Clearance("plug", "plug", Box((19, 4, 2), (35, 6, 4)), "access"),))
    far = Box((X + 12, Y + 5, FLOOR + 3), (X + 14, Y + 6, FLOOR + 4))
    assert held(far) == []
    assert held(far, bank=deep) == IN_THE_WAY
    always = replace(BANK, clearances=(replace(deep.clearances[0], needed="always"),))
    assert held(far, bank=always) == []
    # A finger's room on that side is a button's: it says nothing of the plug, where the plug has its own.
    finger = Clearance("button", "finger", Box((19, 0, 2), (35, 2, 4)), "access")
    both = replace(BANK, clearances=(*deep.clearances, finger))
    beside = Box((X + 12, Y + 1, FLOOR + 3), (X + 14, Y + 2, FLOOR + 4))
    assert held(far, bank=both) == IN_THE_WAY
    assert held(beside, bank=both) == []
    assert held(beside, bank=replace(BANK, clearances=(finger,))) == IN_THE_WAY
    behind_it = replace(BANK, clearances=(replace(deep.clearances[0], solid=Box((-15, 4, 2), (1, 6, 4))),))
    assert held(far, bank=behind_it) == []
    side = Box((X + 1, Y + 30, FLOOR + 22), (X + 3, Y + 32, FLOOR + 24))
    assert held(side) == []
    assert held(side, moves=(("+z", 20.0), ("+y", 40.0))) == IN_THE_WAY
    assert held(side, moves=(("+y", 40.0), ("+z", 20.0))) == []
    assert held(side, moves=(("+y", 21.0), ("+z", 20.0))) == IN_THE_WAY


def test_what_is_left_over_of_a_lead_keeps_off_as_well() -> None:
    fold = Box((X + 2, Y + 2, FLOOR + 2), (X + 4, Y + 6, FLOOR + 6))
    made = wire_with(banked(), 5, lead=BoughtLead("lead", 2000.0, "loco", fold=fold))
    words = "what is left over of wire 5 lies where charging socket of cell is come by"
    assert said(made) == [("loco", words)]
    elsewhere = wire_with(banked(), 5, lead=BoughtLead("lead", 2000.0, "wagon", fold=fold))
    assert said(elsewhere) == []


@pytest.mark.parametrize(
    ("off_below", "figure", "told"),
    [(25.0, 20.0, 5.0), (500.0, 20.0, 480.0), (20.04, 20.0, 0), (21.0, 21.0, 0), (22.0, 21.0, 2.0)],
)
def test_how_far_a_bank_is_from_staying_on(off_below: float, figure: float, told: float) -> None:
    """Its loads come to 20 mA; what it is told to give may be off by a milliampere, and is allowed for."""
    bank = replace(BANK, electrical=(replace(USB, off_below_ma=off_below),))
    made = needs_with(placed_with(banked(), "cell", part=bank), "cell", candidates=(bank,))
    findings = with_(STAYS, figure=figure, limit=off_below)
    found = problems(check_banks, made.built, sites_of(made.built), findings)
    words = f"may switch itself off below {off_below:g} mA, and no caution says so"
    assert [(one.message, one.figure) for one in found] == ([(words, pytest.approx(told))] if told else [])
