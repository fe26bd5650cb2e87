"""Trains drawn with the ruler's forms, no answer in them: how many end how, and whether what comes out holds.

    python -m tests.bench.bench_measured_trains --seeds 0:20 [--seconds 300] [--odd]

With ``--odd`` their parts are drawn from the whole catalogue (`tests.bench.odd_parts`).
Each is planned in a process of its own, its processor time bounded. A plan must be held by the independent
checker whatever its verdict; an error of the input is counted apart, as the drawing is then at fault.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from multiprocessing.connection import Connection
from pathlib import Path

from fitplan.errors import FitplanError
from fitplan.files.read import read_train
from fitplan.planning.run import plan_train
from tests.bench.odd_parts import write_odd_train
from tests.hidden.measure import bound, doubts_of, in_a_process
from tests.hidden.measured_trains import write_measured_train


def main() -> None:
    """Print a line a train, then how many ended how."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="0:20", help="first and last but one")
    parser.add_argument("--seconds", type=int, default=300, help="processor time a train may take")
    parser.add_argument("--odd", action="store_true", help="parts drawn from the whole catalogue")
    asked = parser.parse_args()
    first, last = (int(word) for word in asked.seeds.split(":"))
    counts: Counter[str] = Counter()
    for seed in range(first, last):
        told = in_a_process(_plan, seed, asked.seconds, asked.odd)
        kind, text, seconds = told[0] if told else ("no answer in time", "", float(asked.seconds))
        counts[kind] += 1
        print(f"{seed}: {kind}, {seconds:.1f} s: {text[:160]}", flush=True)
    print("; ".join(f"{kind} {count}" for kind, count in sorted(counts.items())))


def _plan(pipe: Connection, seed: int, seconds: int, odd: bool) -> None:
    """Plan a train and send how it ended, why, and its processor time."""
    with tempfile.TemporaryDirectory() as folder:
        try:
            train = read_train((write_odd_train if odd else write_measured_train)(seed, Path(folder)))
        except FitplanError as error:
            pipe.send(("not read", str(error), 0.0))
            return
    began = bound(seconds)
    plan = plan_train(train)
    spent = bound(600) - began
    if doubts := doubts_of(plan):
        pipe.send(("DOES NOT HOLD", "; ".join(doubts[:3]), spent))
        return
    stops = [f"{one.where}: {one.message}" for one in plan.findings if one.severity == "stop"]
    kind = f"{plan.verdict}, held" if plan.unplaced or not stops else f"{plan.verdict} but, held"
    pipe.send((kind, "; ".join(stops[:2]), spent))


if __name__ == "__main__":
    main()
