"""The packing engine beside general-purpose solvers, on puzzles, hidden cuts and near misses.

Run ``python tests/bench/bench_packing.py [--quick] [--seeds N] [--references] [--only WORD]``.  A row gives
the share decided and the median time; references run on the same cases in the same run, each alone.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from fitplan.budget import Budget
from fitplan.packing.engine.placement_check import check_placement
from fitplan.packing.engine.problem import PackingProblem, blocks
from fitplan.packing.engine.solve import solve
from tests.packing.engine_cases import CONWAY, SLOTHOUBER_GRAATSMA, cube, hidden_cut
from tests.packing.engine_hard_cases import grown_cut, near_miss

LIMIT_S = 10.0

PUZZLES = (
    ("Slothouber–Graatsma 3×3×3", SLOTHOUBER_GRAATSMA, 3, "fits"),
    ("Conway 5×5×5", CONWAY, 5, "fits"),
    ("26 of 1×2×4 in 6×6×6", [(1, 2, 4)] * 26, 6, "fits"),
    ("27 of 1×2×4 in 6×6×6", [(1, 2, 4)] * 27, 6, "cannot_fit"),
    ("41 of 1×2×4 in 7×7×7", [(1, 2, 4)] * 41, 7, "fits"),
    ("42 of 1×2×4 in 7×7×7", [(1, 2, 4)] * 42, 7, "cannot_fit"),
    ("125 of 1×2×4 in 10×10×10", [(1, 2, 4)] * 125, 10, "cannot_fit"),
    ("Hoffman: 27 of 4×5×6 in 15×15×15", [(4, 5, 6)] * 27, 15, "fits"),
)


def ours(problem: PackingProblem, limit_s: float, seed: int = 0) -> tuple[str, float]:
    """Answer with the engine; a packing is checked by the checker."""
    start = time.monotonic()
    answer = solve(problem, Budget(10**9, limit_s, start + limit_s), seed=seed)
    spent = time.monotonic() - start
    if answer.status == "fits":
        assert check_placement(problem, answer.placements) == []
    return answer.status, spent


def references() -> dict[str, Callable[[PackingProblem, float], tuple[str, float]]]:
    """Return the references that are installed."""
    from tests.bench import packing_references as found

    usable: dict[str, Callable[[PackingProblem, float], tuple[str, float]]] = {}
    try:
        import ortools  # noqa: F401

        usable["CP-SAT pairwise"] = found.pairwise_cp_sat
        usable["CP-SAT voxels"] = found.voxel_cp_sat
    except ImportError:
        print("CP-SAT: skipped, OR-Tools is not installed (pip install ortools)")
    try:
        import py3dbp  # noqa: F401

        usable["py3dbp"] = found.py3dbp_packer
    except ImportError:
        print("py3dbp: skipped, it is not installed (pip install py3dbp)")
    return usable


def row(name: str, outcomes: Iterable[tuple[str, float]]) -> list[tuple[str, float]]:
    """Print one row: share decided, verdicts, median and worst seconds; return what it was given."""
    found = list(outcomes)
    counts = Counter(status for status, _ in found)
    seconds = [spent for _, spent in found]
    decided = sum(counts.values()) - counts["not_decided"]
    print(
        f"{name:<44} {100 * decided / len(found):5.0f} % decided of {len(found):3d}"
        f"  fits {counts['fits']:3d}  cannot {counts['cannot_fit']:3d}"
        f"  median {statistics.median(seconds):7.3f} s  worst {max(seconds):7.3f} s",
        flush=True,
    )
    return found


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer seeds")
    parser.add_argument("--seeds", type=int, default=20, help="cases in a row")
    parser.add_argument("--references", action="store_true", help="run the references as well")
    parser.add_argument("--limit", type=float, default=LIMIT_S, help="seconds for one case")
    parser.add_argument("--only", default="", help="rows whose name holds this")
    chosen = parser.parse_args()
    seeds = range(3 if chosen.quick else chosen.seeds)
    others = references() if chosen.references else {}
    for name, sizes, edge, known in PUZZLES:
        if chosen.only not in name:
            continue
        problem = blocks(sizes, cube(edge))
        outcomes = [ours(problem, chosen.limit, seed) for seed in list(seeds)[:5]]
        assert all(status in (known, "not_decided") for status, _ in outcomes)
        row(name, outcomes)
        for title, reference in others.items():
            row(f"  {title}", [reference(problem, chosen.limit)])
    groups: list[tuple[str, list[PackingProblem]]] = []
    pooled: dict[str, list[tuple[str, float]]] = {}
    for shape in ("box", "L", "U"):
        for pieces in (5, 8, 12, 16):
            cases = [hidden_cut(pieces, seed, shape) for seed in seeds]
            groups.append((f"hidden cut, {shape}, {pieces} blocks", cases))
    for shape in ("box", "L", "U"):
        cases = [grown_cut(pieces, seed, shape) for pieces in (5, 12, 16) for seed in seeds]
        groups.append((f"one block grown, {shape}", cases))
    for void in (0.0, 0.02, 0.05, 0.1, 0.2, 0.3):
        for pieces in (6, 9, 12, 14, 16):
            cases = [near_miss(pieces, seed, void) for seed in seeds]
            groups.append((f"near miss, {pieces} blocks, {void:.0%} void", cases))
    for shape in ("L", "U"):
        for pieces in (9, 12):
            cases = [near_miss(pieces, seed, 0.0, shape) for seed in seeds]
            groups.append((f"near miss, {shape}, {pieces} blocks", cases))
    for name, cases in groups:
        if chosen.only not in name:
            continue
        found = row(name, [ours(problem, chosen.limit) for problem in cases])
        if name.startswith("near miss"):
            most = "up to 12 blocks" if len(cases[0].items) <= 12 else "14 and 16 blocks"
            pooled.setdefault(f"near miss, all rows, {most}", []).extend(found)
        for title, reference in others.items():
            if title != "CP-SAT voxels":  # millions of places at a millimetre
                row(f"  {title}", [reference(problem, chosen.limit) for problem in cases[:3]])
    for name, found in pooled.items():
        row(name, found)


if __name__ == "__main__":
    main()
