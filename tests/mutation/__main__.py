"""See the package: ``python -m tests.mutation ROOM --seed N --count N``."""

from __future__ import annotations

import argparse
import os
import sys
import time
from pathlib import Path

import pytest

from tests.mutation.operators import Mutant, mutants_of
from tests.mutation.planting import users_of_constant
from tests.mutation.reach import Note, Reach
from tests.mutation.sample import Sample, kept_in
from tests.mutation.session import Planter

ROOT = Path(__file__).parents[2]
ROOMS = ("packing", "verify", "checks", "circuit", "routing")
OPTIONS = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:cov", "--no-header", "-o", "addopts="]


def main(arguments: list[str]) -> int:
    """Plant faults in one room and print what was noticed."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation")
    parser.add_argument("room", choices=ROOMS)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--for-s", type=float, default=3600, help="end after this time; begin again to go on")
    parser.add_argument("--most-s", type=float, default=20, help="processor time of tests for one fault")
    parser.add_argument("--only", default="", help="plant only in files whose path holds this")
    parser.add_argument("--tests", nargs="*", default=[], help="run these as well as the room's own tests")
    parser.add_argument("--again", action="store_true", help="plant those that were not noticed once more")
    given = parser.parse_args(arguments)
    until = time.monotonic() + given.for_s
    tests = [f"tests/{given.room}", *given.tests]
    reach = _reach(kept_in(f"{given.room}-reach.json"), given.room, tests, until)
    files = sorted((ROOT / "fitplan" / given.room).rglob("*.py"))
    every = [mutant for file in files for mutant in mutants_of(ROOT, file) if given.only in mutant.file]
    name = f"{given.room}{given.only.replace('/', '-')}-{given.seed}"
    sample = Sample.of(kept_in(f"{name}-{given.count}.json"), every, name, given.count)
    if given.again:
        sample.forget(lambda outcome: not outcome.noticed)
    chosen = [(mutant, _chosen(reach, mutant, files, given.most_s)) for mutant in sample.open(every)]
    planter = Planter(ROOT, chosen, reach.cost_s, until)
    if chosen and time.monotonic() < until:
        pytest.main([*OPTIONS, "--capture=no", *tests], plugins=[planter])
    sample.keep(planter.outcomes)
    print(sample.told(given.room, given.seed))
    return 0


def _reach(path: Path, room: str, tests: list[str], until: float) -> Reach:
    """Return which tests reach which line, found out in a process of its own: nothing stays remembered."""
    sys.stdout.flush()
    pid = os.fork()
    if pid == 0:
        reach = Reach.read(path, ROOT)
        pytest.main([*OPTIONS, *tests], plugins=[Note(ROOT, f"fitplan/{room}", reach, path, until)])
        reach.write(path, ROOT)
        sys.stdout.flush()
        os._exit(0)
    os.waitpid(pid, 0)
    return Reach.read(path, ROOT)


def _chosen(reach: Reach, mutant: Mutant, files: list[Path], most_s: float) -> list[str]:
    """Return the tests that reach a fault, the cheapest first, as many as there is time for."""
    places = [(mutant.file, mutant.line)] if mutant.function else users_of_constant(ROOT, mutant, files)
    found: list[str] = []
    spent = 0.0
    for test in reach.tests_of(places):
        spent += reach.cost_s[test]
        if found and spent > most_s:
            break
        found.append(test)
    return found


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
