"""A removable brick in a port that wires pass: told, or planned as a rebuild where bodies may be opened."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

import fitplan.planning.opened as opened
from fitplan.model.built import BuiltTrain
from fitplan.model.plan import Plan
from fitplan.model.solids import Box
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BodySolid, Vehicle
from fitplan.planning.opened import opened_at_ports
from fitplan.planning.run import plan_train
from fitplan.recheck import recheck
from fitplan.workbench.as_built import as_built_of
from tests.packing.small_trains import hollow
from tests.workbench.test_kept import _train

GRILLE = ("grille", Box((56.0, 16.0, 19.2), (64.0, 32.0, 28.8)), 1.0)
"""It fills the front port of the wagon."""


def _wagon() -> Vehicle:
    body = hollow("wagon", 8, 6, 8, removable=(GRILLE,))
    (port,) = (one for one in body.ports if one.out == "+x")
    bricks = [one for one in body.body if one.state == "removable"]
    others = [one for one in body.body if one.state != "removable"]
    return replace(body, body=(*others, BodySolid(port.box, "free"), *bricks))


def _asked(harbour_line: Train, may_open: bool) -> Train:
    train = _train(("lamp in wagon 1",))
    vehicles = (train.vehicles[0], TrainVehicle("wagon 1", _wagon()))
    return replace(train, vehicles=vehicles, catalogue=harbour_line.catalogue, may_open=may_open)


def _cautions(plan: Plan) -> list[str]:
    """Return what is advised about the brick where it stands in the port."""
    return [one.remedy for one in plan.findings if one.subject == "gaps" and "grille" in one.message]


@pytest.fixture(scope="module")
def shut(harbour_line: Train) -> Plan:
    return plan_train(_asked(harbour_line, may_open=False))


@pytest.fixture(scope="module")
def open_(harbour_line: Train) -> Plan:
    return plan_train(_asked(harbour_line, may_open=True))


def test_it_is_told_what_to_take_out(shut: Plan) -> None:
    """Where nothing may be opened it stays, and both ways to mend it are named."""
    assert shut.complete
    assert shut.built.rebuilds == ()
    (remedy,) = _cautions(shut)
    assert remedy.startswith("take grille out of wagon 1")
    assert "`may open: yes`" in remedy


def test_it_is_planned_as_a_rebuild(open_: Plan) -> None:
    """It comes out at its price, the note says why, and the plan stands up to its second check."""
    assert open_.complete
    assert [(one.vehicle, one.remove, one.cost) for one in open_.built.rebuilds] == [
        ("wagon 1", ("grille",), 1.0)
    ]
    assert _cautions(open_) == []
    (note,) = (one for one in open_.findings if "grille" in one.message and one.subject == "wire")
    assert note.severity == "note"
    assert note.message.startswith("where wires run grille of wagon 1 in the port front hole would be in")
    assert "take grille out of wagon 1" in note.message
    assert not [one for one in recheck(open_).problems if one.subject != "findings"]


def test_once_built_it_stays_out(open_: Plan) -> None:
    """Planned again as built, nothing is undone, and nothing stands in the port."""
    again = plan_train(replace(open_.built.train, as_built=as_built_of(open_)))
    assert again.rework.undone == 0
    assert _cautions(again) == []
    assert [one.remove for one in again.built.rebuilds] == [("grille",)]


def test_where_no_wire_runs_nothing_comes_out(shut: Plan) -> None:
    """A port that leads no wire may keep its brick."""
    train = shut.built.train
    there = opened_at_ports(train, shut.built)
    assert there is not None
    assert (there.opening.remove, there.cost) == ((("wagon 1", "grille"),), 1.0)
    bare: BuiltTrain = replace(shut.built, harness=replace(shut.built.harness, crossings=()))
    assert opened_at_ports(train, bare) is None


def test_where_the_body_would_not_hold_nothing_comes_out(shut: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    """A brick that carries others stays, and is told."""
    monkeypatch.setattr(opened, "carrying", lambda vehicle, out: SimpleNamespace(holds=False))
    assert opened_at_ports(shut.built.train, shut.built) is None
