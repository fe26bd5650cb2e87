"""A stress train: 8 vehicles, 60 nets. How long until no conflict is left, counted by independent code.

Run: ``python -m tests.bench.bench_harness_stress``.
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import perf_counter, process_time

sys.path.insert(0, str(Path(__file__).parents[2]))

from fitplan.routing.negotiation.negotiate import negotiate
from tests.routing.conflict_counts import count_conflicts
from tests.routing.stress_train import stress_train


def main() -> None:
    """Route several stress trains and print a line for each."""
    print("vehicles  nets  seed  voxels   seconds  CPU s  rounds  settled  conflicts counted  wires mm")
    equal, mixed = (1.3,), (0.8, 1.0, 1.4, 2.0)
    for vehicles, nets, seed, wires in (
        (8, 60, 0, equal),
        (8, 60, 1, equal),
        (8, 60, 2, equal),
        (8, 60, 3, mixed),
        (8, 120, 4, equal),
    ):
        train = stress_train(vehicles, nets, seed, wires)
        begin, own = perf_counter(), process_time()
        done = negotiate(train.free, train.runs, places=train.places)
        seconds, own = perf_counter() - begin, process_time() - own
        faults = count_conflicts(
            train.free,
            [None if way is None else way.voxels for way in done.ways],
            [(run.starts, run.goals) for run in train.runs],
            [run.diameter for run in train.runs],
            places=[(place.voxels, place.capacity) for place in train.places],
        )
        print(
            f"{vehicles:8d} {nets:5d} {seed:5d} {train.free.size:8d}"
            f" {seconds:9.2f} {own:6.2f} {done.rounds:7d}"
            f"  {'yes' if done.settled else 'no':>7s} {faults.total:18d}"
            f"  {', '.join(str(wire) for wire in wires)}"
        )


if __name__ == "__main__":
    main()
