"""What a meter is said to show of the plan drawn up by hand: true as worked out, and one lie at a time."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fitplan.circuit.supply import build_supply
from fitplan.model.electrical import Fuse, Switch
from fitplan.model.found import Finding, Outcome
from fitplan.model.meter import NO_METER, MeterPlan, MeterTest, Probe
from fitplan.model.part import Part, Pin
from fitplan.model.plan import Plan
from fitplan.verify.meter import _groups, check_meter
from fitplan.workbench.sequence import meter_plan

from . import two_vehicles
from .lies import harness_with, notes, problems

PLAN = two_vehicles.plan()
METER = meter_plan(PLAN.built, build_supply(PLAN.built.train, {}), (), True)
TRUE = replace(PLAN, meter=METER)
STOP = Finding("wire", "stop", "loco", "too thin", 1.0, 2.0, "mA", "take another", "a table")
HOME = {placement.need: placement.vehicle for placement in PLAN.built.placements}


def probe(owner: str, pin: str) -> Probe:
    return Probe("pin", owner, pin, HOME[owner])


APART = (probe("board", "OUT"), probe("board", "GND"))
JOINED = (probe("cell", "minus"), probe("lamp", "GND"))


def said(**changes: Any) -> Plan:
    return replace(TRUE, meter=replace(METER, **changes))


def reading(place: int, **changes: Any) -> Plan:
    tests = tuple(replace(one, **changes) if n == place else one for n, one in enumerate(METER.tests))
    return said(tests=tests)


def of(stage: str) -> int:
    """The first reading of a stage."""
    return next(n for n, one in enumerate(METER.tests) if one.stage == stage)


def covered(**changes: Any) -> Plan:
    return said(coverage=replace(METER.coverage, **changes))


def powered(held: str = "") -> MeterPlan:
    """The sequence with a reading that has the cells in."""
    last = METER.tests[-1]
    more = MeterTest(last.number + 1, "source", "loco", "", "V", (APART,), 1.0, 2.0, (), "")
    return replace(METER, tests=(*METER.tests, more), held=held)


LINE, BESIDE = of("continuity"), of("neighbours")


def test_a_sequence_that_is_true() -> None:
    """Cells in where nothing forbids it, held where a stop does; a plan without readings is noted."""
    assert problems(check_meter, TRUE) == ()
    assert problems(check_meter, replace(TRUE, meter=powered())) == ()
    held = replace(TRUE, outcomes=(Outcome("wire", (STOP,)),), meter=replace(METER, held="a stop"))
    assert problems(check_meter, held) == ()
    for harmless in (replace(STOP, severity="note"), replace(STOP, subject="view")):
        told = replace(TRUE, outcomes=(Outcome("view", (harmless,)),), meter=powered())
        assert problems(check_meter, told) == ()
    (note,) = notes(check_meter, replace(PLAN, meter=NO_METER))
    assert note.message == "has no readings"
    assert notes(check_meter, harness_with(replace(PLAN, meter=NO_METER), wires=())) == ()


LIES: dict[str, tuple[Plan, str]] = {
    "numbers": (reading(0, number=2), "is not numbered through"),
    "order": (said(tests=tuple(
        replace(one, number=n) for n, one in enumerate(METER.tests[::-1], 1)
    )), "before all is read without"),
    "bounds": (reading(LINE, low=9.0, high=9.0), "has no bounds that a reading can keep"),
    "no bound": (reading(LINE, low=float("inf"), high=None), "has no bounds that a reading can keep"),
    "no leads": (reading(BESIDE, pairs=()), "has no bounds that a reading can keep"),
    "volts of a wire": (reading(LINE, quantity="V"), "measures V in the stage continuity"),
    "a place that is none": (
        reading(LINE, pairs=((probe("board", "OUT"), probe("lamp", "plus")),)), "touches lamp.plus"
    ),
    "joined, and is not": (reading(LINE, pairs=(APART,)), "is of places that no wires join"),
    "apart, and is not": (reading(BESIDE, pairs=(APART, JOINED)), "is of places that copper joins"),
    "wires that are not in it": (reading(LINE, wires=(1, 2, 3, 4)), "does not say rightly whether wire"),
    "wires left out": (reading(LINE, wires=()), "does not say rightly whether wire"),
    "fewer opens": (covered(opens=3), "of 4 open wires are told"),
    "fewer told": (covered(opens_told=3), "of 4 open wires are told"),
    "more than all": (covered(swaps=2, swaps_told=3), "tells 3 of 2 faults"),
    "less than none": (covered(shorts=2, shorts_told=-1), "tells -1 of 2 faults"),
    "untold, and unnamed": (covered(shorts=METER.coverage.shorts + 1), "does not name all that is not told"),
    "named, and told": (covered(untold=(*METER.coverage.untold, "x")), "does not name all that is not told"),
    "held for nothing": (said(held="a stop"), "does not say rightly whether anything may be switched on"),
    "a stop, and not held": (
        replace(TRUE, outcomes=(Outcome("wire", (STOP,)),)), "does not say rightly whether anything"
    ),
    "cells in at a stop": (
        replace(TRUE, outcomes=(Outcome("wire", (STOP,)),), meter=powered("a stop")), "puts the cells in"
    ),
    "cells in, and a part is missing": (
        replace(TRUE, unplaced=(("lamp", "too high"),), meter=powered("it is missing")), "puts the cells in"
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", LIES)
def test_a_lie_of_the_meter_is_told(case: str) -> None:
    """Each alone."""
    made, words = LIES[case]
    told = problems(check_meter, made)
    assert any(words in problem.message for problem in told), told


@pytest.mark.parametrize("stage", ["source", "power"])
@pytest.mark.parametrize(("quantity", "holds"), [("V", True), ("mA", None), ("Ω", False)])
def test_what_is_measured_with_the_cells_in(stage: str, quantity: str, holds: bool | None) -> None:
    """At the source volts; later volts or currents; never ohms."""
    meter = powered()
    last = replace(meter.tests[-1], stage=stage, quantity=quantity)  # type: ignore[arg-type]
    told = problems(check_meter, replace(TRUE, meter=replace(meter, tests=(*meter.tests[:-1], last))))
    right = holds if holds is not None else stage == "power"
    assert any("measures" in one.message for one in told) is not right


def test_what_parts_join_inside() -> None:
    """Grounds, rails of one voltage, named groups; a junction's supply pins, never a switch's ends."""

    def groups(*pins: tuple[str, str, str], family: str = "part", figure: Any = None) -> list[list[str]]:
        drawn = tuple(Pin(name, role, (0, 0, 0), "+x", joined=joined) for name, role, joined in pins)  # type: ignore[arg-type]
        figures = (figure,) if figure is not None else ()
        made = Part("p", "p", family, two_vehicles.LAMP.envelope, 1.0, "ours", pins=drawn, electrical=figures)
        return _groups(made)

    assert groups(("G", "ground", ""), ("H", "ground", ""), ("S", "signal", "")) == [["G", "H"]]
    assert groups(("a", "5v", ""), ("b", "3v3", ""), figure=Switch(1, 1)) == []
    assert groups(("a", "5v", ""), ("b", "5v", ""), figure=Switch(1, 1)) == [["a", "b"]]
    assert groups(("a", "supply", ""), ("b", "supply", "")) == [["a", "b"]]
    assert groups(("a", "supply", ""), ("b", "plus", ""), figure=Switch(1, 1)) == []
    assert groups(("a", "supply", ""), ("b", "plus", ""), figure=Fuse(1, 2), family="connector") == []
    assert groups(("a", "signal", "x"), ("b", "signal", "x"), ("c", "signal", "y")) == [["a", "b"]]
    assert groups(("a", "supply", "x"), ("b", "supply", ""), ("c", "raw", "")) == [["b", "c"]]
