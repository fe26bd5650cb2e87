"""What the train file asks for and does not get is told, and what it gets is not."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from fitplan.checks.asked import check_asked
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.needed import Choice
from fitplan.model.solids import Box, Cylinder
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BodySolid, BuiltIn
from fitplan.model.wired import Harness
from fitplan.verify.built_in import check_built_in
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site
from tests.circuit.sample_parts import cells, shuttle, vehicle


def told(made: Train, word: str) -> list[Finding]:
    outcome = check_asked(BuiltTrain(made, (), Harness(), ()))
    return [one for one in outcome.findings if word in one.message]


@pytest.mark.parametrize(("hours", "stopped"), [(1.0, False), (20.0, True)])
def test_hours_that_the_cells_do_not_reach(hours: float, stopped: bool) -> None:
    """Four AA at the raw pin last no 20 h: the choice's own hours are held against them."""
    base = shuttle()
    choice = Choice("cells", min_hours=hours)
    needs = tuple(replace(one, choice=choice) if one.name == "cells" else one for one in base.needs)
    found = told(replace(base, needs=needs), "are asked of cells")
    assert bool(found) == stopped
    if stopped:
        assert found[0].figure < found[0].limit == 20.0
        least = re.search(r"ask for ([\d.]+) h", found[0].remedy)
        assert least is not None
        assert found[0].figure - 0.1 < float(least[1]) <= found[0].figure


def test_hours_of_what_gives_up_with_fresh_cells() -> None:
    """Two cells keep nothing running at a regulator of 5 V: no fewer hours are to be asked for."""
    base = shuttle(supply=cells(count=2))
    choice = Choice("cells", min_hours=2.0)
    needs = tuple(replace(one, choice=choice) if one.name == "cells" else one for one in base.needs)
    (found,) = told(replace(base, needs=needs), "are asked of cells")
    assert "with fresh cells brain already" in found.message
    assert found.remedy.endswith("feed brain otherwise")


def test_hours_count_the_leads(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the wires cost is gone before a thing gives up: the hours are those of the supply's own check."""
    base = shuttle()
    choice = Choice("cells", min_hours=20.0)
    needs = tuple(replace(one, choice=choice) if one.name == "cells" else one for one in base.needs)
    made = replace(base, needs=needs)
    (bare,) = told(made, "are asked of cells")
    monkeypatch.setattr("fitplan.checks.asked.lead_ohms", lambda *_: {"brain": 2.0})
    (wired,) = told(made, "are asked of cells")
    assert wired.figure < bare.figure


def test_both_ways_want_two_eyes() -> None:
    """A train that runs both ways with one ranger is told; with two, or one way only, it is not."""
    base = shuttle()
    one = replace(base, needs=tuple(need for need in base.needs if need.name != "rear eyes"))
    (caution,) = told(one, "both ways is not said")
    assert caution.severity == "caution"
    (stop,) = told(replace(one, running=replace(one.running, push_pull=True)), "to run both ways")
    assert stop.severity == "stop"
    assert not told(base, "both ways")
    assert not told(replace(one, running=replace(one.running, push_pull=False)), "both ways")


@pytest.mark.parametrize(("kind", "expected"), [("receiver", False), ("motor", True), ("", True)])
def test_an_emitter_wants_a_receiver(kind: str, expected: bool) -> None:
    """An emitter on a receiver is not told; on a motor or on nothing it is."""
    base = shuttle()
    item = BuiltIn("thing", kind or "other", (Box((0, 0, 0), (1, 1, 1)),))
    sits = ("shunter", "thing", "eye") if kind else None
    needs = tuple(replace(one, sits=sits) if one.name == "emitter" else one for one in base.needs)
    vehicles = (TrainVehicle("shunter", vehicle(built_in=(item,))),)
    assert bool(told(replace(base, needs=needs, vehicles=vehicles), "no receiver")) == expected


def test_what_drives_the_train() -> None:
    """No motor, no driven axle, and neither are each told; with both, and of wagons alone, nothing is."""
    base = shuttle()
    shunter = base.vehicles[0].vehicle
    motor = BuiltIn("motor", "motor", (Box((40, 10, 30), (80, 30, 40)),))

    def words(kind: str, items: tuple[BuiltIn, ...], driven: bool) -> str:
        wheels = replace(shunter.wheels, driven=(driven,) * len(shunter.wheels.at))
        made = replace(shunter, kind=kind, built_in=items, wheels=wheels)
        found = check_asked(
            BuiltTrain(replace(base, vehicles=(TrainVehicle("one", made),)), (), Harness(), ())
        )
        return " ".join(one.message for one in found.findings if one.unit == "motors and axles")

    assert "nothing drives" in words("loco", (), False)
    assert "no axle is driven" in words("loco", (motor,), False)
    assert "no motor is built in" in words("loco", (), True)
    assert not words("loco", (motor,), True)
    assert not words("wagon", (), False)


@pytest.mark.parametrize(
    ("deep", "round_one"), [(3.2, False), (0.2, False), (0.0, False), (6.4, True), (0.0, True)]
)
def test_a_motor_in_the_floor(deep: float, round_one: bool) -> None:
    """A motor drawn into the floor is told with its depth, and `verify` asks for it by a closed form."""
    base = shuttle()
    shunter = base.vehicles[0].vehicle
    floor = BodySolid(Box((0, 0, 16), (160, 48, 22.4)), "fixed")
    top = 22.4 - deep
    solid = Cylinder("z", (60, 24, top), 20, 8) if round_one else Box((40, 10, top), (80, 34, top + 20))
    made = replace(shunter, body=(floor,), built_in=(BuiltIn("motor", "motor", (solid,)),))
    built = BuiltTrain(replace(base, vehicles=(TrainVehicle("one", made),)), (), Harness(), ())
    found = tuple(one for one in check_asked(built).findings if one.unit == "mm")
    assert bool(found) == (deep > 0.5)
    if found:
        assert found[0].figure == pytest.approx(deep, abs=0.2)
    for told_of, holds in ((found, True), ((), deep < 1)):
        sheet = Tally()
        check_built_in(Site(TrainVehicle("one", made), frozenset(), ()), told_of, sheet)
        assert sheet.report().holds == holds


def test_rangers_whose_word_reaches_no_motor() -> None:
    """With a motor and rangers, and neither an emitter nor a wire to the motor, the train cannot stop."""
    base = shuttle()
    entry = base.vehicles[0]
    motor = BuiltIn("motor", "motor", (Box((0, 0, 0), (1, 1, 1)),))
    moved = replace(base, vehicles=(replace(entry, vehicle=replace(entry.vehicle, built_in=(motor,))),))
    blind = tuple(need for need in moved.needs if need.name != "emitter")
    assert not told(moved, "nothing tells the motor")
    assert told(replace(moved, needs=blind), "nothing tells the motor")
    assert not told(replace(moved, needs=blind, nets=()), "nothing tells the motor")
