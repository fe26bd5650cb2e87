"""The list that is bought from: leads that parts come with, what is in the drawer, what is counted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from fitplan.model.buying import Article
from fitplan.model.electrical import OwnLeads
from fitplan.model.placed import Rebuild
from fitplan.model.plan import Plan
from fitplan.model.wired import BoughtLead
from fitplan.model.wiring import Spool
from fitplan.verify.buying import check_buying, from_the_spool

from .lies import built_with, harness_with, problems, train_with
from .test_lies_in_what_is_bought import article, shopped
from .two_vehicles import WIRES


def told(plan: Plan) -> list[tuple[str, str, float]]:
    return [(one.where, one.message, one.figure) for one in problems(check_buying, plan)]


def with_leads(plan: Plan, lengths: dict[str, float], *, of: Sequence[str] = ("IN", "GND", "OUT")) -> Plan:
    """Return a plan of which some parts come with a lead at some of their pins."""
    placed = []
    for one in plan.built.placements:
        if one.need in lengths:
            pins = tuple(replace(pin, joint="attached") if pin.name in of else pin for pin in one.part.pins)
            own = OwnLeads(lengths[one.need], "bare", 28, 1.0)
            one = replace(one, part=replace(one.part, pins=pins, electrical=(*one.part.electrical, own)))
        placed.append(one)
    return built_with(plan, placements=tuple(placed))


@pytest.mark.parametrize(
    ("lengths", "spool", "joints"),
    [
        # A wire of 200 mm from the board to the lamp; ends lie over one another by 8 mm: laps of 16.
        ({}, 200.0, 0),
        ({"cell": 500.0}, 200.0, 0),
        ({"lamp": 150.0}, 200 + 16 - 150, 1),
        ({"board": 150.0}, 200 + 16 - 150, 1),
        ({"lamp": 199.9}, 16.1, 1),
        ({"lamp": 200.0}, 0.0, 0),
        ({"lamp": 300.0}, 0.0, 0),
        ({"lamp": 120.0, "board": 120.0}, 0.0, 1),  # joined to each other
        ({"lamp": 108.0, "board": 108.0}, 0.0, 1),  # 200 and one lap
        ({"lamp": 107.0, "board": 108.0}, 200 + 32 - 215, 2),
    ],
)
def test_what_comes_from_the_spool(lengths: dict[str, float], spool: float, joints: int) -> None:
    built = with_leads(shopped(), lengths).built
    assert built.train.wiring.allowances.splice_overlap == 8.0
    wire = replace(WIRES[0], cut_mm=200.0)
    assert from_the_spool(built, wire) == (pytest.approx(spool), joints)
    # A pin that has none, and an end that is at no pin, bring nothing.
    if len(lengths) == 1 and joints:
        other = with_leads(shopped(), lengths, of=("GND",)).built
        assert from_the_spool(other, wire) == (200.0, 0)
        ends = {"board": "start", "lamp": "end"}
        (end,) = (ends[name] for name in lengths)
        loose = replace(wire, **{end: replace(getattr(wire, end), kind="connector")})
        assert from_the_spool(built, loose) == (200.0, 0)


def test_what_parts_bring_is_not_bought_and_its_joints_are_sleeved() -> None:
    """The lamp's two leads are 20 mm long; its two wires are joined to them."""
    plan = with_leads(shopped(), {"lamp": 20.0})
    light, ground = (w.cut_mm for w in WIRES if "lamp" in (w.start.owner, w.end.owner))
    assert sorted(told(plan)) == sorted(
        [
            ("stranded wire, AWG 28, BK", "is listed with another length than is cut",
             pytest.approx(sum(w.cut_mm for w in WIRES if w.colour == "BK") / 1000)),
            ("stranded wire, AWG 28, YE", "is listed with another length than is cut",
             pytest.approx(light / 1000)),
            ("wire 1 joint 1", "has 0 sleeves in the list", 0.0),
            ("wire 3 joint 1", "has 0 sleeves in the list", 0.0),
        ]
    )  # fmt: skip
    black = sum(w.cut_mm for w in WIRES if w.colour == "BK") - ground + ground + 16 - 20
    rows = [
        ("YE", article("stranded wire, AWG 28, YE", (light + 16 - 20) / 1000)),
        ("BK", article("stranded wire, AWG 28, BK", black / 1000)),
        ("s", article("heat-shrink 1.6 mm", 20.0, serves=("wire 1 joint 1", "wire 3 joint 1"))),
    ]
    assert told(with_leads(shopped(*rows), {"lamp": 20.0})) == []
    # What it brings is long enough for the one at its own pin, and that wire is not listed.
    whole = with_leads(shopped(("YE", None)), {"lamp": light}, of=("IN",))
    assert told(whole) == []


@pytest.mark.parametrize(
    ("off", "wrong"), [(-0.0006, True), (-0.0004, False), (0.0004, False), (0.0006, True)]
)
def test_metres_are_told_to_half_a_millimetre(off: float, wrong: bool) -> None:
    metres = WIRES[0].cut_mm / 1000 + off
    found = told(shopped(("YE", article("stranded wire, AWG 28, YE", metres))))
    words = "is listed with another length than is cut"
    assert found == [("stranded wire, AWG 28, YE", words, pytest.approx(metres, abs=1e-4))] * wrong


@pytest.mark.parametrize("metres", [0.14, 1.0])
def test_wire_that_nothing_is_cut_of(metres: float) -> None:
    """Of a colour that no wire has; and a colour that is cut, and is not listed."""
    words = "is listed with another length than is cut"
    found = told(shopped(("x", article("stranded wire, AWG 28, RD", metres))))
    assert found == [("stranded wire, AWG 28, RD", words, metres)]
    whole = replace(WIRES[0], cut_mm=1000.0 * metres)
    lost = harness_with(shopped(("YE", None)), wires=(whole, *WIRES[1:]))
    assert told(lost) == [("stranded wire, AWG 28, YE", words, 0.0)]


@pytest.mark.parametrize("field", ["needed", "spare", "each", "owned"])
def test_nothing_is_less_than_nothing(field: str) -> None:
    """To half a millimetre, as metres are; each of the figures of a row by itself."""
    for value, wrong in ((-0.0004, False), (-0.0006, True)):
        row = replace(Article("electronics", "felt", 0.5, 0.5, "m", ("lamp",)), **{field: value})
        found = [one for one in told(shopped(("x", row))) if one[1] == "is less than nothing"]
        assert found == [("felt", "is less than nothing", pytest.approx(value, abs=1e-4))] * wrong
    least = replace(Article("electronics", "felt", 1.0, 0.25, "m", ("lamp",)), owned=1.5)
    assert ("felt", "is less than nothing", -0.25) in told(shopped(("x", least)))


def drawer(parts: dict[str, int], owned: float, spools: tuple[Spool, ...] = (), wire: float = 0.0) -> Plan:
    metres = WIRES[0].cut_mm / 1000
    made = shopped(
        ("lamp", article("lamp", 1.0, "lamp", owned=owned)),
        ("YE", replace(article("stranded wire, AWG 28, YE", metres, owned=wire), spare=9.0)),
    )
    train = made.built.train
    return train_with(
        made, owned=replace(train.owned, parts=parts), wiring=replace(train.wiring, spools=spools)
    )


def test_what_lies_in_the_drawer_is_taken_once() -> None:
    assert told(drawer({"lamp": 1}, 1.0)) == []
    assert told(drawer({"lamp": 3}, 1.0)) == []
    assert told(drawer({}, 1.0)) == [("lamp", "takes 1 from a drawer with 0", 1.0)]
    assert told(drawer({"eye": 1}, 1.0)) == [("lamp", "takes 1 from a drawer with 0", 1.0)]
    words = ("lamp", "takes more from the drawer than is wanted", 3.0)
    found = told(drawer({"lamp": 9}, 3.0))
    assert words in found
    # One of two rows of one part each.
    twice = drawer({"lamp": 1}, 1.0)
    twice = replace(twice, buying=(*twice.buying, article("lamp", 0.0, "lamp", owned=1.0)))
    assert told(twice) == [("lamp", "takes 2 from a drawer with 1", 2.0)]


@pytest.mark.parametrize(("wire", "wrong"), [(2.0, False), (2.0004, False), (2.0006, True)])
def test_what_is_on_spools_is_taken_once(wire: float, wrong: bool) -> None:
    spools = (Spool("YE", 0.5), Spool("YE", 1.5))
    words = ("wire", "takes more from the spools than is on them", pytest.approx(wire, abs=1e-4))
    assert told(drawer({}, 0.0, spools, wire)) == [words] * wrong


def test_leads_are_bought_once_and_what_parts_bring_is_not() -> None:
    """A wire inside another and one that a part comes with are no lead that is bought."""
    lead = BoughtLead("lead", 100.0, "wagon")
    for changes, count in (
        ({"lead": lead}, 1),
        ({"lead": replace(lead, own=True)}, 0),
        ({"lead": lead, "inside": 2}, 0),
    ):
        wire = replace(WIRES[0], **changes)  # type: ignore[arg-type]
        made = harness_with(shopped(("YE", None)), wires=(wire, *WIRES[1:]))
        assert told(made) == [("lead", "is listed 0 times, for 1 wires", 0.0)] * count


def test_contacts_are_those_of_cavities() -> None:
    """Leads as bought have theirs; one that is cut has not; sockets for pins at parts are no contacts."""
    made = shopped(
        ("a", article("crimp contact for it", 1.0)),
        ("b", article("socket contact for pins at the board", 5.0)),
        ("c", article("crimp contact for it", 4.0, shop="findings ask for")),
    )
    wrong = ("contacts", "1 are listed for 0 cavities", 1.0)
    asked = ("", "no finding asks for crimp contact for it", 1.0)
    assert wrong in told(made)
    assert asked[1] in {one[1] for one in told(made)}
    for changes, count in (
        ({}, 1),
        ({"lead": BoughtLead("lead", 100.0, "wagon")}, 0),
        ({"lead": BoughtLead("lead", 100.0, "wagon", shortened=True)}, 1),
    ):
        wire = replace(WIRES[0], end=replace(WIRES[0].end, kind="connector"), **changes)  # type: ignore[arg-type]
        found = [one[1] for one in told(harness_with(made, wires=(wire, *WIRES[1:]))) if one[0] == "contacts"]
        assert found == ([] if count == 1 else ["1 are listed for 0 cavities"])


def test_resistors_on_boards_are_not_bought() -> None:
    plan = shopped()
    (one,) = plan.built.resistors
    (first, second) = (replace(one, place="board"), replace(one, pin="GND"))
    found = {o[:2] for o in told(built_with(plan, resistors=(first,)))}
    assert found == {("resistors", "1 are listed, 0 soldered in")}
    found = {o[:2] for o in told(built_with(plan, resistors=(one, second)))}
    assert found == {
        ("resistors", "1 are listed, 2 soldered in"),
        ("lamp.GND resistor", "has 0 sleeves in the list"),
    }


def test_pieces_are_those_under_and_beside_parts() -> None:
    """A piece that comes out is not one that is bought; two of a kind are two."""
    plan = shopped()
    (pegs,) = plan.built.fastenings
    (peg,) = pegs.bricks
    words = peg.words
    two = built_with(plan, fastenings=(replace(pegs, bricks=(peg, peg)),))
    assert told(two) == [(words, "is listed 1 times, needed 2 times", 1.0)]
    out = shopped(("peg", article(words, 1.0, shop="comes out")))
    assert told(out) == [(words, "is listed 0 times, needed 1 times", 0.0)]


def test_every_brick_that_comes_out_is_told() -> None:
    plan = shopped()
    more = Rebuild("loco", ("shelf brick", "second"), (), 2.0, 2.0, "carried")
    made = built_with(plan, rebuilds=(more, replace(more, remove=("third",))))
    words = "comes out, and the list does not say so"
    assert told(made) == [("second", words, 0.0), ("third", words, 0.0)]


def test_what_findings_ask_for_is_counted() -> None:
    """By the place, the words, how many and their unit."""
    plan = shopped()
    (outcome,) = plan.outcomes
    (finding,) = outcome.findings
    again = replace(plan, outcomes=(replace(outcome, findings=(finding, finding)),))
    assert [one[1:] for one in told(again)] == [
        ("a finding asks for put a pad under the lamp, which the list has not", 1.0),
        ("a finding asks for resistor 10 kΩ, 0.25 W, which the list has not", 1.0),
    ]
    rows: Any = ("remedy", article("put a pad under the lamp", 2.0, shop="findings ask for"))
    assert [one[1] for one in told(shopped(rows))] == [
        "a finding asks for put a pad under the lamp, which the list has not",
        "no finding asks for put a pad under the lamp",
    ]
