"""The same bytes wherever a plan is made: ``python -m tests.install.same_bytes [--train TRAIN] [PYTHON …]``.

Plans the starter, or an example, with other hash seeds, from another folder, in other locales and time zones,
on one processor, and with other Pythons that have the dependencies, named by their programs; compares every
file. A program may be a script that starts a Python elsewhere, under emulation say.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from fitplan.files.starter import write_starter
from tests.install.environments import ROOT

ONE = "import os; os.sched_setaffinity(0, {0})\n" if hasattr(os, "sched_setaffinity") else ""
STARTER = "mine"
PROGRAM = "import sys\nsys.argv[0] = 'fitplan'\nfrom fitplan.cli import main\nmain()\n"


def made(place: Path, python: str, train: str, program: str = PROGRAM, **settings: str) -> dict[str, str]:
    """Plan a train and return a digest of each file."""
    place.mkdir(parents=True)
    if train == STARTER:
        write_starter(place / STARTER)
    clean = {key: value for key, value in os.environ.items() if key != "PYTHONHASHSEED"}
    done = subprocess.run(
        [python, "-c", program, "plan", train, "-o", "build"],
        cwd=place, env={**clean, "PYTHONPATH": str(ROOT), **settings},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    files = sorted(path for path in (place / "build").rglob("*") if path.is_file())
    # A plan that stands, with a stop or without.
    if done.returncode not in (0, 1) or not files:
        return {"": f"status {done.returncode}: {done.stderr[-500:]}"}
    return {
        path.relative_to(place).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files
    }


def main(arguments: list[str]) -> int:
    """Print the table; return 1 when a file differs."""
    parser = argparse.ArgumentParser(prog="python -m tests.install.same_bytes")
    parser.add_argument("--train", default=STARTER, help="name of an example; else the starter")
    parser.add_argument("--pythons-only", action="store_true", help="leave the other ways out")
    parser.add_argument("pythons", nargs="*")
    given = parser.parse_args(arguments)
    train = given.train
    ways: dict[str, dict[str, str]] = {
        "hash seed 0": {"PYTHONHASHSEED": "0"},
        "hash seed 4242": {"PYTHONHASHSEED": "4242"},
        "locale C": {"LC_ALL": "C", "PYTHONUTF8": "0"},
        "locale tr_TR": {"LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8", "TZ": "Asia/Kathmandu"},
    }
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        first = made(place / "first", sys.executable, train)
        rows: dict[str, dict[str, str]] = {}
        if not given.pythons_only:
            for way, more in ways.items():
                rows[way] = made(place / way / "a folder, ä", sys.executable, train, **more)
            rows["one processor"] = made(place / "one", sys.executable, train, ONE + PROGRAM)
        for number, python in enumerate(given.pythons):
            rows[python] = made(place / f"python {number}", python, train)
    print(f"{train}: {len(first)} files" if "" not in first else f"no plan: {first['']}")
    wrong = int("" in first)
    for way, found in rows.items():
        other = sorted(name for name in first.keys() | found.keys() if first.get(name) != found.get(name))
        wrong |= bool(other)
        told = f"{len(other)} differ: {other[:3]} {found.get('', '')}" if other else "the same"
        print(f"{way:30} {told}")
    return int(wrong)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
