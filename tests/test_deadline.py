"""A deadline cuts what matters least first and tells it; the plan stands up all the same. A fake clock."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from fitplan.budget import ENDS, FINISH_MOST, LATE, Budget
from fitplan.model.train import Train
from fitplan.planning.run import PlanOptions, plan_train
from fitplan.recheck import recheck
from fitplan.report.lists.verdict_words import summarise, verdict_words
from fitplan.routing.harness.facts import wiring_facts
from fitplan.routing.harness.harness import try_vehicle, wire_train
from fitplan.routing.map.topology import Segment
from fitplan.routing.negotiation.net_joining import NetJoining, NetTask
from fitplan.routing.negotiation.vehicle_wiring import VehicleRouting
from fitplan.routing.negotiation.wired_before import WiredBefore
from fitplan.routing.trees.voxel_trees import PROVED_AT_ONCE
from tests.routing.test_harness import Flow, built_of

SPOTS = {f"p{i}": ("ab"[i % 2], 14.0 + 19.0 * (i % 4), 9.0 + 11.0 * (i // 4)) for i in range(8)}
NETS = {"n": [f"p{i}.p0" for i in range(8)]}
CURRENTS = {name: Flow(10.0, 10.0) for name in NETS}


class Clock:
    """A clock that stands until it is set."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.now = 0.0
        monkeypatch.setattr("fitplan.budget.monotonic", lambda: self.now)


def test_least_important_stages_end_first_and_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Until the end every pin is reached; what is cut are stages that are over, and all are told."""
    clock = Clock(monkeypatch)
    built = built_of(SPOTS, NETS)
    usual = wire_train(built, CURRENTS)
    cuts = []
    for share in (0.0, 0.45, 0.52, 0.6, 0.99):
        clock.now = 0.0
        budget = Budget.usual(deadline_s=10.0)
        clock.now = 10.0 * share
        done = wire_train(built, CURRENTS, budget)
        assert not done.harness.unreached
        assert all(ENDS[stage] < share for stage in done.layout.cut)
        compared = wiring_facts(replace(built, harness=done.harness), done.layout, budget).styles
        assert bool(compared) == (share < ENDS["styles of wiring"])
        if not done.layout.cut:
            assert done.harness == usual.harness
        cuts.append(done.layout.cut | (set() if compared else {"styles of wiring"}))
    assert cuts[0] == set()
    assert cuts[1] == {"styles of wiring"}
    assert cuts[2] == {"styles of wiring", "shortest ways to compare with"}
    assert all(one <= other for one, other in pairwise(cuts))
    assert {"styles of wiring", "shortest ways to compare with"} <= cuts[-1]


@pytest.mark.parametrize("ends", [PROVED_AT_ONCE, PROVED_AT_ONCE + 1])
def test_only_trees_of_many_ends_are_found_quickly_when_it_is_late(
    ends: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A small tree is the same with and without a deadline: quick ones stand in the way of other wires."""
    clock = Clock(monkeypatch)
    spots = {f"p{i}": ("a", 14.0 + 14.0 * (i % 5), 9.0 + 11.0 * (i // 5)) for i in range(ends)}
    built = built_of(spots, {"n": [f"{name}.p0" for name in spots]})
    budget = Budget.usual(deadline_s=10.0)
    clock.now = 9.9
    done = wire_train(built, CURRENTS, budget)
    assert not done.harness.unreached
    assert ("proofs of trees" in done.layout.cut) == (ends > PROVED_AT_ONCE)
    if ends <= PROVED_AT_ONCE:
        assert done.layout.unproved == wire_train(built, CURRENTS).layout.unproved == []


def test_after_the_end_no_more_nets_are_laid_and_all_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nets whose turn came in time are wired; the others are not decided, as the deadline was reached."""
    clock = Clock(monkeypatch)
    spots = {f"{net}{i}": ("a", 14.0 + 19.0 * i, 9.0 + 11.0 * net) for net in range(3) for i in range(2)}
    nets = {f"n{net}": [f"{net}0.p0", f"{net}1.p0"] for net in range(3)}
    budget = Budget.usual(deadline_s=10.0)
    laid = NetJoining.segments_of

    def slow(joining: NetJoining, task: NetTask) -> list[Segment]:
        clock.now += 6.0
        return laid(joining, task)

    monkeypatch.setattr(NetJoining, "segments_of", slow)
    currents = {name: Flow(10.0, 10.0) for name in nets}
    done = wire_train(built_of(spots, nets), currents, budget)
    assert {wire.net for wire in done.harness.wires} == {"n0", "n1"}
    assert {lost.net for lost in done.harness.unreached} == {"n2"}
    assert all(lost.undecided and LATE in lost.reason for lost in done.harness.unreached)
    assert "ways of wires" in done.layout.cut


def test_a_vehicle_that_stays_as_it_is_is_not_wired_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only the vehicle whose parts moved is wired; the harness is the one that all wired anew would have."""
    ran: list[str] = []
    run = VehicleRouting.run

    def watched(work: VehicleRouting) -> VehicleRouting:
        ran.append(work.vehicle)
        return run(work)

    monkeypatch.setattr(VehicleRouting, "run", watched)
    known = WiredBefore()
    built = built_of(SPOTS, NETS)
    first = wire_train(built, CURRENTS, known=known)
    assert sorted(ran) == ["a", "b"]
    ran.clear()
    assert wire_train(built, CURRENTS, known=known).harness == first.harness
    assert ran == []
    moved = built_of({**SPOTS, "p3": ("b", 90.0, 30.0)}, NETS)
    try_vehicle(moved, first, "b", known=known)
    assert ran == ["b"]
    again = wire_train(moved, CURRENTS, known=known)
    assert ran == ["b"]
    assert again.harness == wire_train(moved, CURRENTS).harness


def test_a_plan_that_runs_out_of_time_is_whole_and_says_so(
    harbour_line: Train, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once parts are chosen the clock jumps ahead: all is placed and wired, and the verdict tells."""
    clock = Clock(monkeypatch)

    def progress(stage: str, share: float) -> None:
        if stage == "running wires":
            clock.now = 95.0

    plan = plan_train(harbour_line, PlanOptions(Budget.usual(deadline_s=100.0)), progress)
    assert not plan.unplaced
    assert len(plan.built.harness.wires) > 20
    told = [stage for stage in ENDS if stage in plan.cut_short]
    assert told == list(plan.cut_short)
    assert {"styles of wiring", "shortest ways to compare with", "what else would fit"} <= set(told)
    assert LATE in verdict_words(plan)
    assert all(stage in summarise(plan) for stage in told)
    assert recheck(plan).holds


def test_time_is_left_to_check_and_write(monkeypatch: pytest.MonkeyPatch) -> None:
    """Searches end sooner for more parts, but keep their share; without a clock nothing is cut."""
    Clock(monkeypatch)
    whole = Budget.usual(deadline_s=60.0)
    ends = [whole.searching(needs).until for needs in (1, 7, 60, 300)]
    assert all(end is not None for end in ends)
    assert ends == sorted(ends, reverse=True)  # type: ignore[type-var]
    assert ends[-1] == pytest.approx(60.0 * (1 - FINISH_MOST))
    assert Budget.usual().searching(9) == Budget.usual()
    assert not any(replace(Budget.usual(), steps=1).over(stage) for stage in ENDS)
