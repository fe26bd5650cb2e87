"""What the train file asks for and does not get is told, and what it gets is not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.checks.asked import check_asked
from fitplan.model.plan import BuiltTrain, Finding, Harness
from fitplan.model.solids import Box
from fitplan.model.train import Choice, Train, TrainVehicle
from fitplan.model.vehicle import BuiltIn
from tests.circuit.sample_parts import shuttle, vehicle


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


def test_both_ways_want_two_eyes() -> None:
    """A train that runs both ways with one ranger is told; with two, or one way only, it is not."""
    base = shuttle()
    one = replace(base, needs=tuple(need for need in base.needs if need.name != "rear eyes"))
    assert told(one, "both ways")
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
