"""Quality against time: trains planned with deadlines of 5 to 60 s, beside the plan without one.

Run it with ``python -m tests.bench.bench_deadline [TRAIN…]``; all examples when none is named. Each plan is
the whole command with all its files, in processes of its own, by the clock as a user sees it: a deadline is
kept when that is no more than 10 % and 1 s beyond it. The clock knows nothing of other work on the machine,
so it must be quiet; the processor time of all processes stands beside it.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path
from time import perf_counter

from fitplan.files.find import example_names
from fitplan.recheck import recheck
from fitplan.report.lists.verdict_words import verdict_words
from fitplan.surface import read_plan

DEADLINES = (5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 60.0, None)


def planned(train: str, deadline: float | None, folder: Path) -> tuple[float, float]:
    """Plan a train into a folder; return seconds by the clock and of the processors."""
    command = [sys.executable, "-m", "fitplan", "plan", train, "-o", str(folder)]
    command += [] if deadline is None else ["--deadline", str(deadline)]
    before, start = os.times(), perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, check=False)
    after, wall = os.times(), perf_counter() - start
    used = after.children_user + after.children_system - before.children_user - before.children_system
    return wall, used


def main() -> None:
    """Print a row for each train and deadline."""
    print(
        "train             deadline  clock  processor  kept  holds  placed  wires   not laid  metres  verdict"
    )
    for train in sys.argv[1:] or example_names():
        for deadline in DEADLINES:
            with tempfile.TemporaryDirectory() as scratch:
                folder = Path(scratch) / "build"
                wall, used = planned(train, deadline, folder)
                plan = read_plan(folder)
            kept = deadline is None or wall <= 1.1 * deadline + 1.0
            metres = sum(wire.cut_mm for wire in plan.built.harness.wires) / 1000
            placed = f"{len(plan.built.placements)}/{len(plan.built.train.needs)}"
            print(
                f"{train:17} {deadline or 'none':>8} {wall:6.1f} {used:10.1f}  {'yes' if kept else 'NO':4}"
                f"  {'yes' if recheck(plan).holds else 'NO':5} {placed:>7} {len(plan.built.harness.wires):6d}"
                f" {len(plan.unreached):10d} {metres:7.2f}  {verdict_words(plan)}",
                flush=True,
            )


if __name__ == "__main__":
    main()
