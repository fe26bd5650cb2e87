"""Leads as bought: room for what is left over is found where there is any; every lie about one is noticed."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fitplan.checks.leads import check_leads, surplus_of
from fitplan.errors import FitplanError
from fitplan.files.find import examples_folder
from fitplan.files.read import read_train
from fitplan.lattice.frame import Frame
from fitplan.model.electrical import Lead
from fitplan.model.found import Outcome
from fitplan.model.plan import Plan
from fitplan.model.solids import Box
from fitplan.model.wired import BoughtLead, Leg, Unreached, Wire, WireEnd
from fitplan.planning.ready_made import BESIDE, _grown, _Room, _with_length, folds, with_leads
from fitplan.verify import verify

LEAD = Lead("socket", "socket", (100.0,), 28, 1.5, 2.0)


def _wire(points: tuple[tuple[float, float, float], ...]) -> Wire:
    end = WireEnd("pin", "a", "b", "wagon", points[0], 0.0)
    return Wire(1, "n", "signal", "BK", 28, 1.5, end, end, (Leg("wagon", points),), 10.0, (), 100.0, 1.0, 0.0)


@pytest.mark.parametrize("seed", range(6))
def test_a_fold_is_found_where_trying_every_box_finds_one(seed: int) -> None:
    """On small random rooms the search answers as trying every box at every place does."""
    rng = np.random.default_rng(seed)
    frame = Frame((0.0, 0.0, 0.0), (14, 12, 9), 0.8)
    free = rng.random(frame.shape) > 0.004 * (1 + seed)
    own = np.zeros(frame.shape, dtype=np.bool_)
    own[2:10, 5, 3] = True
    surplus = 14.0
    room = _Room(frame, free.copy(), {1: own})
    found = room.fold(_wire(((2.0, 4.4, 2.8), (8.0, 4.4, 2.8))), surplus, LEAD)
    near = _grown(own, BESIDE)
    tops = []
    for fold in folds(surplus, LEAD.outer_mm, LEAD.bend_mm):
        for sides in set(itertools.permutations(math.ceil(edge / 0.8 - 1e-9) for edge in fold)):
            for at in itertools.product(*(range(n - s + 1) for n, s in zip(frame.shape, sides, strict=True))):
                box = tuple(slice(a, a + s) for a, s in zip(at, sides, strict=True))
                if free[box].all() and near[box].any():
                    tops.append(at[2] + sides[2])
    assert (found is not None) == bool(tops)
    if found is not None:
        assert found.high[2] == pytest.approx(0.8 * min(tops))
        window = frame.box_slice(found, "inward")
        assert free[window].all()
        room.take(found)
        assert not room.free[window].any()


def test_the_example_plugs_its_bank_in(planned: Callable[[str], Plan]) -> None:
    """The shortest lead that reaches is taken; it is bought once, brings ground as well; the plan holds."""
    plan = planned("clay-run")
    assert plan.works
    (lead,) = [wire for wire in plan.built.harness.wires if wire.lead and not wire.inside]
    (back,) = [wire for wire in plan.built.harness.wires if wire.inside]
    assert lead.lead is not None
    assert lead.lead.fold is not None
    figures = plan.built.train.catalogue["lead-usb-a-mini-b"].figure(Lead)
    assert figures is not None
    needed = lead.cut_mm - surplus_of(lead)
    assert lead.lead.length_mm == min(length for length in figures.lengths_mm if length >= needed)
    assert (back.inside, back.role, back.start.pin, back.end.pin) == (
        lead.number,
        "ground",
        "minus",
        "USB-GND",
    )
    assert "unplug that lead first" in " ".join(one.message for one in plan.findings if one.where == "brain")


def test_what_is_left_over_is_tied(planned: Callable[[str], Plan]) -> None:
    """A fold that lies is tied together; one that stands up is taped to what is within a stud, or down."""
    plan = planned("clay-run")

    def told(fold: Box) -> str:
        found = check_leads(_bought(plan, fold=fold).built).findings
        return next(one.remedy for one in found if "are left over" in one.message)

    bank = next(one.bounds for one in plan.built.placements if one.need == "bank")
    x, y, z = bank.low[0], bank.low[1], bank.high[2] + 3.0
    assert told(_fold(plan)) == "tie what is left over together where it lies"
    standing = Box((x, y, z), (x + 30.0, y + 8.0, z + 54.0))
    assert told(standing).endswith("it stands 54 mm high, so tape it to bank")
    assert told(_moved(standing, z=100.0)).endswith("so tape its foot down")


def test_a_lead_that_reaches_nothing_brings_no_ground(planned: Callable[[str], Plan]) -> None:
    """Its own ground is told as not reached with it, the socket as free; nothing contradicts that."""
    plan = planned("clay-run")
    harness = plan.built.harness
    wires = tuple(wire for wire in harness.wires if wire.lead is None and not wire.inside)
    lost = Unreached("bank lead", "bank", "plus", "no way")
    built = with_leads(replace(plan.built, harness=replace(harness, wires=wires, unreached=(lost,))))
    assert [(one.net, one.owner, one.pin) for one in built.harness.unreached] == [
        ("bank lead", "bank", "plus"),
        ("ground", "bank", "minus"),
    ]
    assert not any("socket is taken" in one.message for one in check_leads(built).findings)
    found = [one for one in plan.findings if "socket is taken" not in one.message]
    again = replace(plan, built=built, outcomes=(Outcome("leads", tuple(found)),))
    told = " ".join(one.message for one in verify(again).problems)
    assert "not joined" not in told
    assert "socket taken" not in told
    assert with_leads(built).harness.unreached == built.harness.unreached


def _bought(plan: Plan, **changes: object) -> Plan:
    wires = tuple(
        replace(wire, lead=replace(wire.lead, **changes)) if wire.lead is not None else wire  # type: ignore[arg-type]
        for wire in plan.built.harness.wires
    )
    return replace(plan, built=replace(plan.built, harness=replace(plan.built.harness, wires=wires)))


def _fold(plan: Plan) -> Box:
    leads = [wire.lead for wire in plan.built.harness.wires if wire.lead is not None]
    assert leads[0].fold is not None
    return leads[0].fold


def _moved(box: Box, x: float = 0.0, z: float = 0.0) -> Box:
    low, high = box.low, box.high
    return Box((low[0] + x, low[1], low[2] + z), (high[0] + x, high[1], high[2] + z))


LIES: dict[str, Callable[[Plan], Plan]] = {
    "another length": lambda plan: _bought(plan, length_mm=100.0),
    "a length that is not sold": lambda plan: _bought(plan, length_mm=150.0),
    "another lead": lambda plan: _bought(plan, part_id="lead-usb-a-micro-b"),
    "no room for the rest": lambda plan: _bought(plan, fold=None),
    "room in the deck": lambda plan: _bought(plan, fold=_moved(_fold(plan), z=-8.0)),
    "room far away": lambda plan: _bought(plan, fold=_moved(_fold(plan), z=80.0)),
    "too little room": lambda plan: _bought(
        plan, fold=Box(_fold(plan).low, tuple(x - 9.0 for x in _fold(plan).high))
    ),  # type: ignore[arg-type]
    "cut, and nobody says so": lambda plan: _bought(plan, fold=None, shortened=True),
    "no ground": lambda plan: replace(
        plan,
        built=replace(
            plan.built,
            harness=replace(
                plan.built.harness, wires=tuple(w for w in plan.built.harness.wires if not w.inside)
            ),
        ),
    ),
    "bought and cut from the spool": lambda plan: replace(
        plan,
        built=replace(
            plan.built,
            harness=replace(
                plan.built.harness, wires=tuple(replace(w, lead=None) for w in plan.built.harness.wires)
            ),
        ),
    ),
}


@pytest.mark.parametrize("lie", LIES)
def test_a_lie_about_a_lead_is_noticed(lie: str, planned: Callable[[str], Plan]) -> None:
    """What is wrong with a lead is told by the checker, as something of that lead or its net."""
    damaged = LIES[lie](planned("clay-run"))
    told = [problem for problem in verify(damaged).problems if problem.subject in ("lead", "net", "wire")]
    assert told, lie


def test_a_lead_must_fit_its_sockets(tmp_path: Path) -> None:
    """A lead with the wrong plug is one clear mistake, which names the sockets."""
    for file in (examples_folder() / "clay-run").glob("*.yaml"):
        text = file.read_text(encoding="utf-8").replace("lead-usb-a-mini-b", "lead-usb-a-micro-b")
        (tmp_path / file.name).write_text(text, encoding="utf-8")
    with pytest.raises(
        FitplanError, match=r"from type A to micro-B.*type A at bank\.plus, mini-B at brain\.USB"
    ):
        read_train(tmp_path / "train.yaml")


def test_what_a_lead_loses_is_not_reckoned_from_a_rounded_figure() -> None:
    """1 mA over 25 mm of AWG 28 is 6 µV, told as 10: over 300 mm it is 69 µV, told as 70 (ρ/A, IEC 60028)."""
    short = replace(
        _wire(((0.0, 0.0, 0.0), (25.0, 0.0, 0.0))), current_ma=1.0, awg=28, cut_mm=25.0, drop_v=1e-5
    )
    square_mm = math.pi / 4 * 0.3211**2
    volts = 1e-3 * 0.3 / 58 * (1 + 0.00393 * 20) * 1.02 / square_mm
    assert _with_length(short, 300.0, (), BoughtLead("lead", 300.0, "v", None)).drop_v == pytest.approx(
        volts, abs=5e-6
    )
