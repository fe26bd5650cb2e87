"""Nets that name pins which the chosen part does not have: told as stops, and all else still holds.

A controller of 3.3 V without a 5 V pin is fed by a lead in its socket, a lamp has a resistor in its lead and
no supply pin, and a sensor comes with leads thinner than the wire that is asked for.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from fitplan.model.electrical import Controller, OwnLeads
from fitplan.model.plan import Plan
from fitplan.planning.run import plan_train
from fitplan.surface import read_train
from fitplan.verify import verify
from tests.hidden.variants import variants

BRAIN = "controller-wireless-small as brain"
OTHERS = {"work lights": "lamp-3mm", "front eyes": "ranger-one-eyed-leads"}


@pytest.fixture(scope="module")
def made() -> Plan:
    train = next(train for name, train in variants(read_train("clay-run")) if name == BRAIN)
    needs = tuple(
        replace(need, candidates=(train.catalogue[OTHERS[need.name]],)) if need.name in OTHERS else need
        for need in train.needs
    )
    return plan_train(replace(train, needs=needs))


def test_the_plan_holds_with_its_stops(made: Plan) -> None:
    assert verify(made).problems == ()
    told = {(one.subject, one.where) for one in made.findings if one.severity == "stop"}
    assert {("wire", "brain.5V"), ("wire", "work lights.VCC"), ("nets", "front eyes")} <= told


def test_what_arrives_behind_the_lead_is_told_of_a_board_with_a_regulator_there(made: Plan) -> None:
    """5 V less the lead, and behind the linear regulator its 3.3 V, as it drops 0.3 V at the least."""
    (found,) = [one for one in made.findings if "behind the lead from" in one.message]
    assert (found.where, found.severity, found.figure) == ("brain", "note", 3.3)
    assert "behind its own regulator 3.30 V" in found.message
    assert "5 V pin" not in found.message


def test_nothing_hangs_on_a_pin_that_a_part_lacks(made: Plan) -> None:
    """The bank feeds the board, and what is on its signal pins: neither lamp nor rangers."""
    (brain,) = [place.part for place in made.built.placements if place.need == "brain"]
    figures = brain.figure(Controller)
    assert figures is not None
    (runs,) = [one for one in made.findings if one.where == "bank" and "runs for" in one.message]
    assert figures.regulator is not None
    drawn = figures.current_ma + figures.regulator.quiescent_ma
    said = re.search(r"; (\d+) mAh per running hour", runs.message)
    assert said is not None
    # The emitter's flashes come to 1 mA; the lamp alone would draw 8.
    assert drawn <= float(said[1]) <= drawn + 2


def test_a_wire_is_as_thin_as_the_lead_that_it_is_cut_from(made: Plan) -> None:
    leads = next(one.part.figure(OwnLeads) for one in made.built.placements if one.need == "front eyes")
    assert leads is not None
    mine = [
        wire
        for wire in made.built.harness.wires
        if "front eyes" in (wire.start.owner, wire.end.owner) and wire.role != "signal"
    ]
    assert mine
    assert {wire.awg for wire in mine} == {leads.awg}
    assert any(wire.awg < leads.awg for wire in made.built.harness.wires if wire.net == mine[0].net)
