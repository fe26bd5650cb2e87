"""What is told of leads, of places with too few pins, of a bus and of levels: each case, by hand."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from typing import Any

import pytest

from fitplan.checks.leads import _apart, _lengths, _own, _tied
from fitplan.checks.pin_facts import _pull_ups
from fitplan.checks.pin_levels import PinSettings, _in_its_lead, _too_low
from fitplan.checks.wire_ends import end_findings
from fitplan.circuit.net_ends import ResolvedEnd
from fitplan.model.electrical import BusDevice, Controller, Load, OwnLeads
from fitplan.model.part import Pin
from fitplan.model.plan import Plan
from fitplan.model.solids import Box
from fitplan.model.wired import BoughtLead, Harness, Splice
from fitplan.model.wiring_facts import Shortage, WiringFacts
from tests.verify.lies import placed_with, train_with, wire_with
from tests.verify.two_vehicles import CELL, FLOOR, LAMP, plan

FLAT = Box((16, 8, FLOOR), (40, 14, FLOOR + 5))


def bought(**lead: Any) -> Plan:
    """The wire of the lamp as a lead of 200 mm of which 30 are left over."""
    made = BoughtLead("lead", 200.0, "wagon", **lead)
    return wire_with(plan(), 1, lead=made, cut_mm=170.0, allowances=(("bends", 2.0), ("surplus", 30.0)))


def test_what_is_left_over_of_a_lead_is_told() -> None:
    (one,) = _lengths(bought(fold=FLAT).built)
    assert (one.severity, one.where, one.figure, one.limit) == ("note", "wire 1 (light)", 30.0, 200.0)
    assert one.message == (
        "buy the lead of 200 mm; 30 mm are left over: "
        "wagon, folded into 24.0 × 6.0 × 5.0 mm at x 16, y 8, z 19"
    )
    (own,) = _lengths(bought(fold=FLAT, own=True).built)
    assert own.message.startswith("take its own lead of 200 mm; 30 mm")
    assert list(_lengths(plan().built)) == []
    assert list(_lengths(wire_with(bought(fold=FLAT), 1, inside=2).built)) == []


@pytest.mark.parametrize(
    ("cut", "severity", "figure", "limit"), [(201.0, "stop", 201.0, 200.0), (200.0, "caution", 0.0, 0.0)]
)
def test_a_lead_that_is_cut_reaches_or_does_not(
    cut: float, severity: str, figure: float, limit: float
) -> None:
    (one,) = _lengths(wire_with(bought(shortened=True), 1, cut_mm=cut).built)
    assert (one.severity, one.figure, one.limit, one.unit) == (severity, figure, limit, "mm")
    words = "no lead reaches: 201 mm are wanted, the longest is 200 mm" if cut > 200 else "cut it to 200 mm"
    assert words in one.message


STANDS = "tie what is left over together: it stands 9 mm high, so "


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        ((40, 8, FLOOR), (48, 16, FLOOR + 8), "tie what is left over together where it lies"),
        ((40, 8, FLOOR), (48, 16, FLOOR + 9), STANDS + "tape its foot down"),
        ((33.9, 20, FLOOR), (41.9, 28, FLOOR + 9), STANDS + "tape it to lamp"),
        ((34.1, 20, FLOOR), (42.1, 28, FLOOR + 9), STANDS + "tape its foot down"),
        ((20, 33.9, FLOOR), (28, 41.9, FLOOR + 9), STANDS + "tape it to lamp"),
        ((20, 20, FLOOR + 13.9), (28, 28, FLOOR + 22.9), STANDS + "tape it to lamp"),
        ((20, 20, FLOOR + 14.1), (28, 28, FLOOR + 23.1), STANDS + "tape its foot down"),
    ],
)  # fmt: skip
def test_what_stands_is_taped_to_what_is_within_a_stud(low: Any, high: Any, words: str) -> None:
    """The lamp ends at x 26, y 26 and 6 mm above the floor."""
    made = bought(fold=Box(low, high))
    assert _tied(made.built, made.built.harness.wires[0]) == words


def test_there_is_nothing_to_tie_without_a_fold() -> None:
    for made in (plan(), bought()):
        assert _tied(made.built, made.built.harness.wires[0]) == "nothing to do"


def test_boxes_are_as_far_apart_as_their_nearest_points() -> None:
    """Beside the least over a grid of points of both, which finds corners and faces alike."""
    dice = random.Random(3)
    for _ in range(40):
        boxes = []
        for _ in range(2):
            low = [dice.randint(0, 6) for _ in range(3)]
            boxes.append((low, [one + dice.randint(0, 4) for one in low]))
        (a, b), (c, d) = boxes
        least = min(math.dist(p, q) for p in _grid(a, b) for q in _grid(c, d))
        one, other = (Box((*map(float, low),), (*map(float, high),)) for low, high in boxes)  # type: ignore[arg-type]
        assert _apart(one, other) == pytest.approx(least)
        assert _apart(other, one) == pytest.approx(least)


def _grid(low: list[int], high: list[int]) -> list[tuple[int, int, int]]:
    spans = [range(a, b + 1) for a, b in zip(low, high, strict=True)]
    return [(x, y, z) for x in spans[0] for y in spans[1] for z in spans[2]]


def with_own(cell: float, lamp: float = 0.0, *, solder: bool = True, cut: float = 60.0) -> list[Any]:
    """Wire 4 from a cell (and to a lamp) that comes with leads so long; what is told of it."""
    made = plan()
    for need, part, long in (("cell", CELL, cell), ("lamp", LAMP, lamp)):
        if long:
            pins = tuple(replace(pin, joint="attached") for pin in part.pins)
            made = placed_with(
                made, need, part=replace(part, pins=pins, electrical=(OwnLeads(long, "bare", 28, 1.0),))
            )
    if lamp:
        made = wire_with(made, 4, end=made.built.harness.wires[2].end)
    made = wire_with(made, 4, cut_mm=cut)
    wiring = replace(made.built.train.wiring, solder=solder)
    made = train_with(made, wiring=wiring)
    return [one for one in _own(made.built) if one.where.startswith("wire 4")]


def test_leads_that_parts_come_with_are_cut_or_joined() -> None:
    """Laps of 8 mm at each joint; without an iron what must be joined is a stop."""
    (one,) = with_own(80.0)
    assert (one.severity, one.figure, one.message) == (
        "note",
        0.0,
        "is 60 mm of the lead that cell comes with",
    )
    assert one.remedy == "cut it where it arrives"
    assert [one.severity for one in with_own(80.0, solder=False)] == ["note"]
    (one,) = with_own(40.0)
    assert (one.severity, one.figure) == ("note", 1.0)
    assert one.message == "is 40 mm of the lead that cell comes with and 36 mm of wire joined to it"
    assert one.remedy == "solder and sleeve it before it is laid"
    (one,) = with_own(40.0, solder=False)
    assert (one.severity, one.figure) == ("stop", 1.0)
    assert one.message.endswith("36 mm of wire joined to it: 1 joints to solder")
    (one,) = with_own(40.0, 50.0)
    assert (
        one.message == "is 38 mm of the lead that cell comes with and 38 mm of the lead that lamp comes with"
    )
    assert with_own(0.0) == []


# -- pins, buses, levels -----------------------------------------------------------------------------------


def test_places_with_too_few_pins_and_splices_out_of_sight() -> None:
    short = Shortage("five", "cell", "plus", "loco", 4, 2, False)
    board = replace(short, board=True)
    splices = (
        Splice("S1", "five", "loco", (1.0, 2.0, 3.0), (1, 2)),
        Splice("S2", "five", "loco", (4, 5, 6), (3,)),
    )
    facts = WiringFacts(shortages=(short, board), hidden_splices=("S2",))
    one, other, hidden = end_findings(Harness(splices=splices, facts=facts))
    for found in (one, other):
        assert (found.severity, found.where, found.figure, found.limit) == (
            "caution",
            "cell.plus in loco",
            4.0,
            2.0,
        )
        assert found.message.endswith("which has room for 2: the rest meet in a splice before it")
    assert one.message.startswith("4 wires of the net five want to end at cell.plus")
    assert other.message.startswith("4 wires of the net five want a pin of cell,")
    assert one.remedy.startswith("put in a distribution board")
    assert other.remedy.startswith("take a distribution board with more pins")
    assert hidden.where == "S2 in loco at 4.0, 5.0, 6.0 mm"


@pytest.mark.parametrize(
    ("ohms", "told"),
    [
        ((), (1e6, 12000.0, True)),
        ((0.0,), (1e6, 12000.0, True)),
        ((12001.0,), (12001.0, 12000.0, True)),
        ((12000.0,), None),
        ((10000.0, 0.0), None),
        ((2000.0, 2000.0), None),
        ((1000.0,), None),
        ((2000.0, 1998.0), (999.0, 1000.0, False)),
    ],
)
def test_pull_ups_hold_a_line_between_one_and_twelve_kilohms(
    ohms: tuple[float, ...], told: tuple[float, float, bool] | None
) -> None:
    """Side by side their conductances add (Kirchhoff); none at all hold nothing."""
    devices = {f"d{n}": BusDevice("0x29", False, "", ohm) for n, ohm in enumerate(ohms)}
    found = list(_pull_ups("brain", devices))
    if told is None:
        assert found == []
        return
    (one,) = found
    assert (one.severity, one.where, one.figure, one.limit) == ("caution", "brain", told[0], told[1])
    assert ("no pull-ups that hold it" in one.message) is told[2]
    assert one.remedy.startswith("solder 4.7" if told[2] else "take the pull-ups off")


BRAIN = Controller(3.3, 20.0, 40.0, 3.0, 20.0, 500.0, None, False, ())
SIGNAL = Pin("IN", "signal", (0, 0, 0), "+x", wants=frozenset({"output"}))
SUPPLY = Pin("VCC", "supply", (0, 0, 0), "+x")


def low(
    load: Load | None, *pins: Pin, fed: float | None = None, brain: float = 3.3, share: float = 0.7
) -> tuple[Any, ...]:
    part = replace(LAMP, pins=pins, electrical=() if load is None else (load,))
    end = ResolvedEnd("light", "lamp", "IN", pins[:1], part)
    volts = {} if fed is None else {"lamp": fed}
    found = _too_low("brain.D1", end, replace(BRAIN, logic_v=brain), volts, PinSettings(high_share=share))
    return tuple((one.severity, one.figure, one.limit, bool(one.add)) for one in found)


def test_a_high_level_is_seven_tenths_of_what_the_receiver_is_fed_with() -> None:
    """Of its own level where it states one; without a supply pin it lives on what the pin gives."""
    five = Load(4.5, 5.5, 10.0, 10.0)
    assert low(None, SIGNAL, SUPPLY) == ()
    assert low(five, SIGNAL) == (("stop", 3.3, 4.5, False),)
    assert low(replace(five, min_v=3.3), SIGNAL) == ()
    assert low(replace(five, min_v=3.31), SIGNAL) == (("stop", 3.3, 3.31, False),)
    assert low(five, SIGNAL, SUPPLY, fed=5.0) == (("caution", 3.3, 3.5, True),)
    assert low(replace(five, min_v=3.0), SIGNAL, SUPPLY, fed=5.0) == (("caution", 3.3, 3.5, False),)
    assert low(five, SIGNAL, SUPPLY, fed=4.71) == ()
    assert low(five, SIGNAL, SUPPLY, fed=4.72) == (("caution", 3.3, 3.3, True),)
    assert low(five, SIGNAL, SUPPLY) == ()
    assert low(five, SIGNAL, SUPPLY, fed=9.0) == (("caution", 3.3, 3.85, True),)
    assert low(replace(five, max_v=0.0), SIGNAL, SUPPLY, fed=9.0) == (("caution", 3.3, 3.5, True),)
    assert low(replace(five, logic_v=3.3), SIGNAL, SUPPLY, fed=9.0) == ()
    assert low(replace(five, logic_v=6.0), SIGNAL, SUPPLY, fed=3.0) == (("caution", 3.3, 4.2, True),)
    assert low(five, SIGNAL, SUPPLY, fed=5.0, share=0.65) == ()
    nobody = replace(ResolvedEnd("light", "lamp", "IN", (SIGNAL,)), part=None)
    assert _too_low("brain.D1", nobody, BRAIN, {}, PinSettings()) == []


@pytest.mark.parametrize(
    ("load", "words"),
    [
        (None, "use one that stands 5 V, or a board of 3.3 V or less"),
        (Load(1.0, 3.3, 0.0, 0.0), "use one that stands 5 V, or a board of 3.3 V or less"),
        (Load(1.0, 3.3, 10.0, 10.0), "solder 180 Ω into the lead of lamp for 10 mA"),
        (Load(1.0, 3.3, 10.0, 20.0), "solder 91 Ω into the lead of lamp for 20 mA"),
    ],
)
def test_what_keeps_volts_off_a_lamp(load: Load | None, words: str) -> None:
    """1.7 V at 10 mA are 170 Ω, at 20 mA 85: the next of the series E24 (IEC 60063) above."""
    assert _in_its_lead("lamp", load, 5.0, 3.3).startswith(words)
