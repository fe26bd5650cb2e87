"""Leads cut since their plug passes no port: led through in two, joined again once they are through."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import BodySolid, Port
from fitplan.model.wired import BoughtLead, Harness, Leg, Wire, WireEnd
from fitplan.model.work import InnerHole, WorkStep
from fitplan.report.lists import parted_leads as parted
from fitplan.report.lists.build_sequence import _Wording
from tests.packing.small_trains import hollow, train_of

PLUGS: dict[str, Vec | None] = {"bank": (18.0, 8.5, 15.0), "brain": (10.0, 7.0, 12.0), "lamp": None}


def plan_of(high: float, hole: InnerHole | None = None, *, shortened: bool = True) -> Any:
    """A lead from a brain over a coupling to a bank, whose end is led out by a port so high, studs in it."""
    wagon = hollow("wagon", 12, 6, 9)
    port = Port("hole", Box((0.0, 16.0, 19.2), (8.0, 32.0, 19.2 + high)), "-x")
    body = (*wagon.body, BodySolid(port.box, "free"))
    wagon = replace(wagon, body=body, ports=(port,), floor_finish="studded")
    ends = [WireEnd("pin", owner, "plus", "wagon", (0, 0, 0), 0.0) for owner in ("brain", "bank")]
    legs = (Leg("wagon", (), "", "hole"),)
    wire = Wire(1, "n", "supply", "RD", 24, 3.0, ends[0], ends[1], legs, 10.0, (), 100.0, 1.0, 0.0)
    wire = replace(wire, lead=BoughtLead("lead", 300.0, "wagon", None, shortened=shortened))
    built = BuiltTrain(train_of((wagon,), ()), (), Harness((wire,)), ())
    step = WorkStep(1, "thread", "inside", "wagon", wires=(1,), ends=((1, "end"),), port="hole", hole=hole)
    return SimpleNamespace(built=built, work=SimpleNamespace(steps=(step,)))


NARROW = InnerHole("x", Box((40.0, 16.0, 22.0), (48.0, 32.0, 26.0)))


@pytest.mark.parametrize(
    ("high", "hole", "shortened", "stays"),
    [
        (12.8, None, True, False),  # 11.1 mm over the studs; the plug is 8.5 mm thick and 15 wide
        (9.6, None, True, True),  # 7.9 mm over the studs
        (9.6, None, False, False),  # goes as it is: told elsewhere where it cannot
        (12.8, NARROW, True, True),
    ],
)
def test_what_its_plug_keeps_out_stays_in_two(
    high: float, hole: InnerHole | None, shortened: bool, stays: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parted, "plug_at", lambda _built, end: PLUGS[end.owner])
    plan = plan_of(high, hole, shortened=shortened)
    assert parted.parted_leads(plan) == ({(1, "end"): 1} if stays else {})


def test_it_is_said_when_it_is_cut_and_when_it_is_joined_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parted, "plug_at", lambda _built, end: PLUGS[end.owner])
    plan = plan_of(9.6)
    wires = {1: plan.built.harness.wires[0]}
    words: Any = SimpleNamespace(plan=plan, wires=wires, parted=parted.parted_leads(plan))
    words._cut_from = lambda number: _Wording._cut_from(words, number)
    words._wire_end = lambda end: _Wording._wire_end(words, end)
    cut = WorkStep(1, "cut", "table", wires=(1,))
    assert _Wording._cut(words, cut).endswith("; leave 1 in two, cut near bank.plus, until it is led through")
    (led,) = plan.work.steps
    assert _Wording._halves(words, led).startswith("; join the two pieces of wire 1 again beside the vehicle")
    assert _Wording._halves(words, replace(led, number=2)) == ""
