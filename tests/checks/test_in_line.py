"""What lies in the supply line carries what flows through it; banks stay awake by what draws for good."""

from __future__ import annotations

import pytest

from fitplan.checks import run_unplaced_checks
from fitplan.checks.board_loads import Ahead
from fitplan.checks.supply_ways import LIGHT, PLUGGED, usual_ways
from fitplan.circuit.supply_tree import Rail, RailLoad
from fitplan.files.catalogue import read_catalogue
from tests.circuit.sample_parts import need, net, train

CATALOGUE = read_catalogue()


@pytest.mark.parametrize(("ahead", "told"), [(True, False), (False, True)])
def test_a_switch_carries_what_is_behind_it_alone(ahead: bool, told: bool) -> None:
    """Two servos of 700 mA ahead of a switch for 1 A do not pass it; behind it they do, with the start."""
    parts = {
        "cells": "cells-aa-4-stack-nimh",
        "switch": "switch-slide",
        "lift": "regulator-step-up-down-5v",
        "brain": "controller-compact-5v",
        "one": "servo-micro",
        "two": "servo-micro",
    }
    servos = ("one.VCC", "two.VCC")
    nets = [
        net("ground", "ground", "cells.minus", "lift.GND", "brain.GND", "one.GND", "two.GND"),
        net("raw", "supply", "cells.plus", "switch.a", *(servos if ahead else ())),
        net("on", "supply", "switch.b", "lift.in", *(() if ahead else servos)),
        net("five", "supply", "lift.out", "brain.5V"),
        net("say", "signal", "brain.*", "one.IN"),
        net("ask", "signal", "brain.*", "two.IN"),
    ]
    made = train([need(name, CATALOGUE[id]) for name, id in parts.items()], nets, catalogue=CATALOGUE)
    found = [one for outcome in run_unplaced_checks(made) for one in outcome.findings]
    stops = [one for one in found if one.severity == "stop" and one.where == "switch"]
    assert [one.figure for one in stops] == ([2300.0] if told else [])


@pytest.mark.parametrize(("at_times", "name"), [(False, PLUGGED), (True, LIGHT)])
def test_what_draws_at_times_keeps_no_bank_awake(at_times: bool, name: str) -> None:
    """A board of 20 mA and 80 mA more: on for good they keep a bank of 60 mA awake, at times they do not."""
    brain = CATALOGUE["controller-compact-5v"]
    loads = (RailLoad("brain", 20.0, 40.0, 3.8), RailLoad("arm", 80.0, 100.0, 4.5, 6.0, at_times=at_times))
    ways = usual_ways({"bank": CATALOGUE["bank-stick"], brain.id: brain}, brain, loads)
    assert [way.name for way in ways] == [name]


@pytest.mark.parametrize(
    ("volts", "stands"), [(4.4, False), (4.5, True), (6.0, True), (8.0, True), (8.1, False), (9.0, False)]
)
def test_a_motor_that_states_no_volts_keeps_about_its_own(volts: float, stands: bool) -> None:
    """It runs at 6 V today: three quarters of that to a third more do, a 9 V block does not."""
    motor = RailLoad("motor", 200.0, 2500.0)
    assert Ahead(Rail("raw", (motor,)), 6.0).stands(volts, 1.1 * volts) == stands
    assert Ahead(Rail("raw", (RailLoad("arm", 9.0, 9.0, 2.0, 20.0),)), 6.0).stands(volts, 1.1 * volts)
