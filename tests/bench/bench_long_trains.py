"""Long trains of lit coaches, no two alike, with a complete plan hidden in each: time and memory by length.

    python -m tests.bench.bench_long_trains --vehicles 4 8 16 32 --seeds 1:2

Each train has 15 parts to four vehicles and one board, and is planned as the command line does, with a second
process beside. `wired` is when its wires first ran, by the clock; processor time is of both processes, memory
the most that either had. The exponent is that of a straight line through the logarithms (aim 1.1). Equal
vehicles, of which one is worked out, are in `bench_scale`.
"""

from __future__ import annotations

import argparse
import resource
import time
from multiprocessing.connection import Connection

import numpy as np

from fitplan.planning.run import PlanOptions, plan_train
from fitplan.processes import second_process
from fitplan.surface import read_train
from tests.hidden.measure import doubts_of, in_a_process, inner_length, missing_in
from tests.hidden.oracle import first_long

PARTS = 15
"""To so many vehicles:"""
TO = 4


def _ask(pipe: Connection, vehicles: int, seed: int) -> None:
    catalogue = read_train("harbour-line").catalogue
    hidden, answer, _ = first_long(seed, vehicles, vehicles * PARTS // TO, catalogue)
    drawn, began = time.process_time(), time.perf_counter()
    wired: list[float] = []

    def progress(stage: str, share: float) -> None:
        if stage == "comparing styles of wiring" and not wired:
            wired.append(time.perf_counter() - began)

    with second_process(("fitplan.planning.run",)) as beside:
        plan = plan_train(hidden.train, PlanOptions(), progress, beside)
        clock, spent = time.perf_counter() - began, time.process_time() - drawn
    there = resource.getrusage(resource.RUSAGE_CHILDREN)
    most = max(there.ru_maxrss, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss) / 1000
    spent += there.ru_utime + there.ru_stime
    wire = inner_length(plan.built) / answer.metres
    wires = len(plan.built.harness.wires)
    pipe.send((wires, wired[0], clock, spent, most, wire, missing_in(plan), doubts_of(plan)))


def main() -> None:
    """Print a line a train, then the exponent."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--vehicles", type=int, nargs="+", default=[4, 8, 16])
    parser.add_argument("--seeds", default="1:2", help="first:after")
    asked = parser.parse_args()
    first, after = (int(text) for text in asked.seeds.split(":"))
    print("vehicles.seed  wires  wired s  clock s  processor s    MB  wire / hidden")
    found: list[tuple[int, float]] = []
    for vehicles in asked.vehicles:
        for seed in range(first, after):
            (told,) = in_a_process(_ask, vehicles, seed)
            wires, wired, clock, spent, most, wire, missing, doubted = told
            mark = "held" if not (missing or doubted) else (*missing, *doubted)[0][:120]
            name = f"{vehicles}.{seed}"
            print(
                f"{name:>13} {wires:6d} {wired:8.1f} {clock:8.1f} {spent:12.1f} {most:5.0f} {wire:14.2f}"
                f"  {mark}",
                flush=True,
            )
            found.append((vehicles, spent))
    if len({vehicles for vehicles, _ in found}) > 1:
        slope = np.polyfit(*np.log(np.array(found)).T, 1)[0]
        print(f"exponent of processor time {slope:.2f} (aim 1.1)")


if __name__ == "__main__":
    main()
