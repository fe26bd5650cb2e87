"""What is told of trunks, trees, openings, plugged leads and measured figures: each case, by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fitplan.checks.leads import _across, _plugged
from fitplan.checks.measured import told_as_measured
from fitplan.checks.wire import _opening
from fitplan.checks.wire_trunks import tree_findings, trunk_findings, trunk_table
from fitplan.model import led_through
from fitplan.model.as_built import AsBuilt
from fitplan.model.electrical import Controller
from fitplan.model.found import Finding, Outcome
from fitplan.model.measured import Measured, MeasuredFigure
from fitplan.model.proposed import LeastOpening
from fitplan.model.solids import Box
from fitplan.model.vehicle import Hole
from fitplan.model.wired import BoughtLead, Leg, Unreached
from fitplan.model.wiring_facts import Trunk, Unproved
from tests.verify.lies import built_with, harness_with, placed_with, train_with, wire_with
from tests.verify.two_vehicles import BOARD, plan

BRANCHED = Trunk("five", "loco", (("lamp", "lamp 2"), ("eye",)), 120.4, 100.6)
STRUNG = Trunk("ground", "wagon", (("lamp",), ("eye", "horn")), 90.0, 80.0, branched=False)


def test_trunks_that_found_no_room_are_told_and_the_others_stand_in_a_table() -> None:
    (one,) = trunk_findings((BRANCHED, STRUNG))
    assert (one.severity, one.where, one.figure, one.limit) == ("caution", "ground in wagon", 0.0, 1.0)
    assert one.message.startswith("the net ground runs on through pins of small loads (lamp, eye, horn): ")
    table = trunk_table((BRANCHED, STRUNG))
    assert table is not None
    assert table.rows == (("five", "loco", "lamp – lamp 2; eye", 120, 101, 20),)
    assert trunk_table((STRUNG,)) is None
    assert trunk_table(()) is None
    assert list(trunk_findings((BRANCHED,))) == []


@pytest.mark.parametrize(
    ("cost", "least", "gap"),
    [(200.0, 150.0, 25.0), (300.0, 200.0, 33.3), (200.0, 200.0, 0.0), (0.0, 0.0, 0.0)],
)
def test_trees_that_are_not_proved_are_told_by_how_much_too_long_they_may_be(
    cost: float, least: float, gap: float
) -> None:
    (one,) = tree_findings((Unproved("five", "loco", 7, cost, least),))
    assert (one.severity, one.where, one.figure, one.limit) == ("note", "five in loco", gap, 0.0)
    assert f"over 7 places is not proved to be the shortest: it counts {cost:.0f} mm" in one.message
    assert one.message.endswith(f"none counts less than {least:.0f} mm")


HOLE = Hole("hole 1", "brick left out", Box((0, 8, 24), (8, 16, 33.6)), "x", "-x", 1, 2.0)
OPEN = LeastOpening((("loco", HOLE),), (("wagon", "lid"),), 4.0, 4.0, "walls all round", planned=True)
WORDS = "take lid out of wagon; take out of loco hole 1"
WHY = "as it is, no place of the parts lets the wires through: walls all round"


NEXT = "write `may open: yes` into the train file, and it is planned with and checked"
FIRST = "open it before anything is built in"
MAY = f"{WHY}; the cheapest that may help is {WORDS}; with anything cheaper it cannot be"
LEAST = "and nothing cheaper can be"


@pytest.mark.parametrize(
    ("changes", "built", "said", "remedy"),
    [
        ({}, False, f"{WHY}; opened: {WORDS}, {LEAST}", FIRST),
        (
            {"least": 3.0},
            False,
            f"{WHY}; opened: {WORDS}, and nothing below 3 can be; what lies between is not decided",
            FIRST,
        ),
        ({"proof": ""}, False, f"as it is, no way was found for all wires; opened: {WORDS}, {LEAST}", FIRST),
        ({"planned": False}, False, MAY, NEXT),
        ({}, True, f"opened already, as it is built: {WORDS}", "nothing to do: it is open"),
        ({"planned": False}, True, MAY, NEXT),
    ],
)
def test_what_must_be_opened(changes: dict[str, Any], built: bool, said: str, remedy: str) -> None:
    opening = replace(OPEN, **changes)
    before = AsBuilt(holes=OPEN.holes, bricks_out=OPEN.remove) if built else AsBuilt()
    made = built_with(train_with(plan(), as_built=before), opening=opening)
    (one,) = _opening(made.built)
    assert (one.severity, one.where, one.figure, one.limit) == ("note", "loco, wagon", 4.0, opening.least)
    assert one.message == said
    assert one.remedy == remedy
    assert list(_opening(plan().built)) == []
    for half in (AsBuilt(holes=OPEN.holes), AsBuilt(bricks_out=OPEN.remove)):
        (one,) = _opening(train_with(made, as_built=half).built)
        assert "as it is built" not in one.message or not opening.planned


@pytest.mark.parametrize(
    ("often", "severity"), [("daily", "caution"), ("storage", "note"), ("never", "note")]
)
def test_a_lead_over_a_coupling_is_unplugged_to_part_it(
    often: Any, severity: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At the end in the vehicle ahead; two legs, a lead, and this coupling, or nothing is told."""
    made = wire_with(plan(), 1, lead=BoughtLead("lead", 200.0, "loco"))
    loco, wagon = made.built.train.vehicles
    couplings = tuple(replace(one, parted=often) for one in loco.vehicle.couplings)
    made = train_with(
        made, vehicles=(replace(loco, vehicle=replace(loco.vehicle, couplings=couplings)), wagon)
    )
    (one,) = _across(made.built)
    assert (one.severity, one.where, one.figure) == (severity, "wire 1 (light)", 14.0)
    assert one.message == (
        "runs over loco to wagon in one piece: to part loco from wagon unplug it at board and draw it out"
        " through rear hole"
    )
    assert one.remedy == (
        "have the two in one vehicle, or part it there"
        if often == "daily"
        else "switch the train off before you unplug it"
    )
    wire = made.built.harness.wires[0]
    legs = tuple(Leg(leg.vehicle, leg.points[::-1], leg.leaves, leg.enters) for leg in wire.legs[::-1])
    turned = wire_with(made, 1, start=wire.end, end=wire.start, legs=legs)
    (one,) = _across(turned.built)
    assert "unplug it at board" in one.message
    keeps = {("board",): "unplug it at lamp", ("board", "lamp"): "undo where it was cut and joined"}
    for thick, said in keeps.items():
        plugs: dict[str, Any] = dict.fromkeys(thick, (30.0, 30.0, 30.0))
        with monkeypatch.context() as patched:
            patched.setattr(led_through, "plug_at", lambda _, end, plugs=plugs: plugs.get(end.owner))
            for one in (*_across(made.built), *_across(turned.built)):
                assert said in one.message
                assert one.severity == ("caution" if len(thick) > 1 else severity)
    (crossing,) = made.built.harness.crossings
    (one,) = _across(harness_with(made, crossings=(replace(crossing, wires=()), crossing)).built)
    assert one.where == "wire 1 (light)"
    assert list(_across(plan().built)) == []
    assert list(_across(wire_with(made, 1, inside=3).built)) == []
    assert list(_across(wire_with(made, 1, legs=made.built.harness.wires[0].legs[:1]).built)) == []


def test_a_socket_that_is_taken_is_told_of_boards_alone() -> None:
    figures = Controller(5.0, 20.0, 40.0, 4.3, 20.0, 500.0, None, True, ())
    pins = (replace(BOARD.pins[0], joint="plug", socket="micro-B"), *BOARD.pins[1:])
    plugged = replace(BOARD, id="board-plugged", pins=pins, electrical=(figures,))

    def told(part: Any) -> list[str]:
        return [one.where for one in _plugged(placed_with(plan(), "board", part=part).built)]

    assert told(plugged) == ["board"]
    (one,) = _plugged(placed_with(plan(), "board", part=plugged).built)
    assert (one.severity, one.figure, one.limit) == ("note", 1.0, 1.0)
    # Of what a lead does not reach nothing is taken, whatever lies before or behind it.
    nets = tuple(replace(one, lead="usb") if one.name == "light" else one for one in plan().built.train.nets)
    lost = placed_with(train_with(plan(), nets=nets), "lamp", part=replace(plugged, id="lamp-plugged"))
    lost = placed_with(lost, "board", part=plugged)
    unreached = harness_with(lost, unreached=(Unreached("light", "lamp", "IN", "too far"),))
    assert [one.where for one in _plugged(lost.built)] == ["board", "lamp"]
    assert [one.where for one in _plugged(unreached.built)] == []
    elsewhere = harness_with(lost, unreached=(Unreached("ground", "lamp", "GND", "too far"),))
    assert [one.where for one in _plugged(elsewhere.built)] == ["board", "lamp"]
    assert told(replace(plugged, id="board")) == []
    assert told(replace(plugged, electrical=())) == []
    assert told(replace(plugged, pins=(replace(pins[0], socket=""), *pins[1:]))) == []
    assert told(replace(plugged, pins=(replace(pins[0], joint="solder"), *pins[1:]))) == []


# -- measured figures --------------------------------------------------------------------------------------


def finding(subject: str, where: str, source: str = "a table") -> Outcome:
    return Outcome(subject, (Finding(subject, "note", where, "so", 1.0, 2.0, "mm", "none", source),))


def told(subject: str, where: str, *what: str, source: str = "a table") -> str:
    """What stands behind a finding once these figures were measured; board and lamp are typical parts."""
    typical = {one: replace(plan().built.placement(one).part, typical=True) for one in ("board", "lamp")}  # type: ignore[union-attr]
    made = plan()
    for name, part in typical.items():
        made = placed_with(made, name, part=part)
    figures = tuple(MeasuredFigure("2026-03-01", one, "1", "2") for one in what)
    made = train_with(made, measured=Measured(figures=figures))
    ((outcome,)) = told_as_measured((finding(subject, where, source),), made.built)
    return outcome.findings[0].source


@pytest.mark.parametrize(
    ("subject", "where", "what", "said"),
    [
        ("stopping", "eye", ("speed",),
         "a table; measured: speed 2026-03-01; typical: deceleration, command delay"),
        ("stopping", "eye", ("speed", "deceleration", "command delay"),
         "a table; measured: speed 2026-03-01, deceleration 2026-03-01, command delay 2026-03-01"),
        ("balance", "loco", ("mass of loco",),
         "a table; measured: mass of loco 2026-03-01; typical: mass of wagon"),
        ("curves", "loco", ("speed", "mass of loco", "mass of wagon"),
         "a table; measured: speed 2026-03-01, mass of loco 2026-03-01, mass of wagon 2026-03-01"),
        ("places", "board", ("outline of board",), "a table; measured: outline of board 2026-03-01"),
        ("places", "board", ("outline of lamp",), "a table; typical: outline of board"),
        ("places", "board, lamp", ("speed",), "a table; typical: outline of board, outline of lamp"),
        ("places", "nobody", ("outline of lamp",), "a table; measured: outline of lamp 2026-03-01;"
         " typical: outline of board"),
        ("view", "eye", ("room of wagon at 3",), "a table; measured: room of wagon at 3 2026-03-01"),
        ("view", "board", ("room of wagon at 3",), "a table; typical: outline of board"),
        ("view", "loco", ("room of loco at 3",), "a table; measured: room of loco at 3 2026-03-01;"
         " typical: outline of board, outline of lamp"),
        ("wiring", "wire 1", ("speed",), "a table; typical: free length of wires between loco and wagon"),
        ("nets", "light", ("speed",), "a table"),
    ],
)  # fmt: skip
def test_a_finding_says_which_of_its_figures_are_measured(
    subject: str, where: str, what: tuple[str, ...], said: str
) -> None:
    assert told(subject, where, *what) == said
    assert told(subject, where, *what, source="") == said.removeprefix("a table").removeprefix("; ")


def test_where_nothing_is_measured_nothing_is_added() -> None:
    before = (finding("stopping", "eye"),)
    assert told_as_measured(before, plan().built) is before
