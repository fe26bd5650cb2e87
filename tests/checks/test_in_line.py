"""What lies in the supply line carries what flows through it, not what passes it by."""

from __future__ import annotations

import pytest

from fitplan.checks import run_unplaced_checks
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
