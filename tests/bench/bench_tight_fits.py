"""Tight fits of real parts: the share decided in a question's usual work, beside a general solver.

Run ``python -m tests.bench.bench_tight_fits [--seeds N] [--limit SECONDS]``.  OR-Tools is in the extra
``bench``; without it the second column stays empty.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections import Counter

from fitplan.budget import QUESTION
from fitplan.files.catalogue import read_catalogue
from fitplan.packing.engine.problem import PackingProblem
from fitplan.packing.engine.solve import solve
from tests.bench.packing_references import shapes_cp_sat
from tests.bench.tight_fits import small_enough, tight_fit


def reference(problem: PackingProblem, limit_s: float) -> tuple[str, float] | None:
    """Ask the general solver, when it is there."""
    try:
        return shapes_cp_sat(problem, limit_s)
    except ImportError:
        return None


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=5, help="cases in a row")
    parser.add_argument("--limit", type=float, default=10.0, help="seconds for the general solver")
    parser.add_argument("--counts", default="3,5,7,10", help="how many parts")
    parser.add_argument("--alone", action="store_true", help="without the general solver")
    chosen = parser.parse_args()
    parts = small_enough(list(read_catalogue().values()))
    print(f"{len(parts)} parts of the catalogue")
    whole: Counter[str] = Counter()
    general: Counter[str] = Counter()
    for count in (int(word) for word in chosen.counts.split(",")):
        for void in (0.0, 0.05, 0.1, 1.0):
            for grown in (False, True):
                ours: Counter[str] = Counter()
                theirs: Counter[str] = Counter()
                spent, voids = [], []
                for seed in range(chosen.seeds):
                    case = tight_fit(parts, count, void, grown, seed)
                    voids.append(case.void)
                    begin = time.process_time()
                    answer = solve(case.problem, QUESTION)
                    spent.append(time.process_time() - begin)
                    ours[answer.status] += 1
                    if case.fits:
                        assert answer.status != "cannot_fit", seed
                    other = None if chosen.alone else reference(case.problem, chosen.limit)
                    if other is not None:
                        theirs[other[0]] += 1
                        assert {answer.status, other[0]} != {"fits", "cannot_fit"}, seed
                whole += ours
                general += theirs
                body = "a bare box" if void == 1.0 else f"cut to {void:.0%}"
                title = f"{count:3d} parts, {'one grown' if grown else 'as packed'}, {body}"
                columns = [
                    f"{name}: fits {found['fits']} cannot {found['cannot_fit']} open {found['not_decided']}"
                    for name, found in (("ours", ours), ("general", theirs))
                ]
                times = f"median {statistics.median(spent):5.2f} s, worst {max(spent):5.2f} s of processor"
                print(
                    f"{title:38} void {statistics.mean(voids):5.1%}  {columns[0]}, {times}  {columns[1]}",
                    flush=True,
                )
    for name, found in (("ours", whole), ("general solver", general)):
        total = sum(found.values())
        if total:
            print(f"{name}: {1 - found['not_decided'] / total:.0%} decided of {total}")


if __name__ == "__main__":
    main()
