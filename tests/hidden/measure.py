"""Asks the planner for the trains of some seeds and counts what it found."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass

from fitplan.planning.run import PlanOptions, plan_train
from fitplan.surface import read_train
from fitplan.verify import verify
from tests.hidden.trains import draw, hidden_plan


@dataclass(frozen=True)
class Found:
    """What came of one hidden train.

    Attributes
    ----------
    complete
        Planned completely: every part, every net, every way in, and held by the independent checker.
    false_cannot
        The planner said that it cannot be, though it can.
    why
        The first thing that is missing; empty when complete.
    metres, hidden_metres
        Wire in the plan, and in the plan that was hidden.
    seconds
        Processor time of the planner.
    """

    seed: int
    vehicles: int
    parts: int
    complete: bool
    false_cannot: bool
    why: str
    metres: float
    hidden_metres: float
    seconds: float


def measure(seeds: Iterable[int], difficulty: int) -> Iterable[Found | None]:
    """Yield what is found for each seed; None where the draw has no plan that the checker holds."""
    catalogue = read_train("harbour-line").catalogue
    for seed in seeds:
        hidden = draw(seed, difficulty, catalogue)
        answer = hidden_plan(hidden)
        if answer is None:
            yield None
            continue
        began = time.process_time()
        plan = plan_train(hidden.train, PlanOptions())
        seconds = time.process_time() - began
        report = verify(plan)
        whys = [f"no place: {name}: {why}" for name, why in plan.unplaced]
        whys += [
            f"no wire: {lost.net} to {lost.owner}: {lost.reason}" for lost in plan.built.harness.unreached
        ]
        whys += [f"no way in: {text}" for text in plan.assembly_blocked]
        whys += [f"does not hold: {problem.where}: {problem.message}" for problem in report.problems]
        yield Found(
            seed,
            len(hidden.train.vehicles),
            len(hidden.train.needs),
            not whys,
            plan.verdict == "cannot fit",
            whys[0] if whys else "",
            sum(wire.cut_mm for wire in plan.built.harness.wires) / 1000,
            sum(wire.cut_mm for wire in answer.built.harness.wires) / 1000,
            seconds,
        )
