"""Quality against time: a train planned with deadlines of 5, 15 and 60 s, beside the plan without one.

Run it with ``python -m tests.bench.bench_deadline [TRAIN]``. The clock is the processor time of one process
that plans, checks again and makes all files, so other work does not count; a deadline is kept when
`total` is no more than 10 % and 1 s beyond it.
"""

from __future__ import annotations

import sys
from time import process_time

import pytest

from fitplan.budget import Budget
from fitplan.planning.run import PlanOptions, plan_train
from fitplan.recheck import recheck
from fitplan.report.lists.verdict_words import verdict_words
from fitplan.report.plan_folder import plan_files
from fitplan.surface import read_train

DEADLINES = (5.0, 15.0, 60.0, None)


def main() -> None:
    """Print a row for each deadline."""
    name = sys.argv[1] if len(sys.argv) > 1 else "harbour-line"
    print("deadline  total  kept  holds  placed  unreached  wire m  verdict")
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("fitplan.budget.monotonic", process_time)
        for deadline in DEADLINES:
            start = process_time()
            plan = plan_train(read_train(name), PlanOptions(Budget.usual(deadline_s=deadline)))
            holds = recheck(plan).holds
            plan_files(plan)
            total = process_time() - start
            kept = deadline is None or total <= 1.1 * deadline + 1.0
            metres = sum(wire.cut_mm for wire in plan.built.harness.wires) / 1000
            placed = f"{len(plan.built.placements)}/{len(plan.built.train.needs)}"
            words = ("yes" if kept else "no", "yes" if holds else "NO", placed)
            print(
                f"{deadline or 'none':>8} {total:6.1f}  {words[0]:4}  {words[1]:5} {words[2]:>7}"
                f" {len(plan.unreached):10d} {metres:7.2f}  {verdict_words(plan)}",
                flush=True,
            )


if __name__ == "__main__":
    main()
