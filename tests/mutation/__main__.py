"""See the package: ``python -m tests.mutation ROOM --seed N --count N``."""

from __future__ import annotations

import argparse
import os
import random
import sys
from pathlib import Path

import pytest

from tests.mutation.operators import Mutant, mutants_of
from tests.mutation.planting import users_of_constant
from tests.mutation.reach import Note, Reach
from tests.mutation.session import ENDLESS, NOTICED, NOWHERE, Outcome, Planter

ROOT = Path(__file__).parents[2]
ROOMS = {
    "packing": ["tests/packing", "tests/attack/test_vehicles.py"],
    "verify": ["tests/verify", "tests/attack/test_damaged_plans.py"],
    "checks": ["tests/checks", "tests/circuit"],
    "circuit": ["tests/circuit", "tests/checks"],
    "routing": ["tests/routing"],
}
OPTIONS = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:cov", "--no-header", "-o", "addopts="]


def main(arguments: list[str]) -> int:
    """Plant faults in one room and print what was noticed."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation")
    parser.add_argument("room", choices=sorted(ROOMS))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=50)
    parser.add_argument(
        "--reach", type=Path, default=None, help="file that keeps which tests reach which line"
    )
    parser.add_argument(
        "--most-reach-s", type=float, default=3600, help="processor time for finding that out"
    )
    parser.add_argument(
        "--most-tests-s", type=float, default=20, help="processor time of tests for one fault"
    )
    parser.add_argument("--only", default="", help="plant only in files whose path holds this")
    parser.add_argument("--tests", nargs="*", default=None, help="run these instead of the room's own tests")
    parser.add_argument("--again", type=Path, default=None, help="plant those of a former list that survived")
    given = parser.parse_args(arguments)
    reach_path = given.reach or Path(f".mutation-{given.room}.json")
    tests = given.tests or ROOMS[given.room]
    reach = _reach(reach_path, tests, given.most_reach_s)
    files = sorted((ROOT / "fitplan" / given.room).rglob("*.py"))
    every = [mutant for file in files for mutant in mutants_of(ROOT, file) if given.only in mutant.file]
    sample = random.Random(f"{given.room} {given.seed}").sample(every, min(given.count, len(every)))
    if given.again is not None:
        left = given.again.read_text()
        sample = [
            mutant
            for mutant in sample
            if any(str(mutant) in row for row in left.splitlines() if not row.startswith(NOTICED))
        ]
    chosen = [
        (mutant, _chosen(reach, mutant, files, given.most_tests_s)) for mutant in sorted(sample, key=str)
    ]
    planter = Planter(ROOT, chosen)
    pytest.main([*OPTIONS, "--capture=no", *tests], plugins=[planter])
    return _told(given.room, given.seed, len(every), planter)


def _reach(path: Path, tests: list[str], most_s: float) -> Reach:
    """Return which tests reach which line, found out in a process of its own: nothing stays remembered."""
    sys.stdout.flush()
    pid = os.fork()
    if pid == 0:
        reach = Reach.read(path)
        pytest.main(
            [*OPTIONS, *tests], plugins=[Note(ROOT, [f"fitplan/{room}" for room in ROOMS], reach, most_s)]
        )
        reach.write(path)
        sys.stdout.flush()
        os._exit(0)
    os.waitpid(pid, 0)
    return Reach.read(path)


def _chosen(reach: Reach, mutant: Mutant, files: list[Path], most_s: float) -> list[str]:
    """Return the tests that reach a fault, the cheapest first, as many as there is time for."""
    places = [(mutant.file, mutant.line)] if mutant.function else users_of_constant(ROOT, mutant, files)
    found, spent = [], 0.0
    for test in reach.tests_of(places):
        spent += reach.cost_s[test]
        if found and spent > most_s:
            break
        found.append(test)
    return found


def _told(room: str, seed: int, every: int, planter: Planter) -> int:
    """Print the share that was noticed, and each fault that was not."""
    counted = [outcome for outcome in planter.outcomes if outcome.answer != NOWHERE]
    seen = [one for one in counted if one.answer in (NOTICED, ENDLESS) and one.by not in planter.unsound]
    for outcome in counted:
        if outcome not in seen:
            _print(outcome)
    for test in planter.unsound:
        print(f"fails without a fault, too: {test}")
    share = len(seen) / max(len(counted), 1)
    print(f"{room}: seed {seed}, {len(counted)} of {every} faults planted, {len(seen)} noticed ({share:.0%})")
    return 0


def _print(outcome: Outcome) -> None:
    print(f"  left: {outcome.answer}: {outcome.mutant}")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
