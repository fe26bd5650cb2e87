"""The same bytes wherever a plan is made: ``python -m tests.install.same_bytes [PYTHON …]``.

Plans the starter with other hash seeds, from another folder, in other locales and time zones, on one
processor, and with other Pythons that have the dependencies, named by their programs; compares every file.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from fitplan.files.starter import write_starter
from tests.install.environments import ROOT

ONE = "import os; os.sched_setaffinity(0, {0})\n" if hasattr(os, "sched_setaffinity") else ""
PROGRAM = "import sys\nsys.argv[0] = 'fitplan'\nfrom fitplan.cli import main\nmain()\n"


def made(place: Path, python: str, program: str = PROGRAM, **settings: str) -> dict[str, str]:
    """Plan the starter and return a digest of each file."""
    place.mkdir(parents=True)
    write_starter(place / "mine")
    clean = {key: value for key, value in os.environ.items() if key != "PYTHONHASHSEED"}
    done = subprocess.run(
        [python, "-c", program, "plan", "mine", "-o", "build"],
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


def main(pythons: list[str]) -> int:
    """Print the table; return 1 when a file differs."""
    ways: dict[str, dict[str, str]] = {
        "hash seed 0": {"PYTHONHASHSEED": "0"},
        "hash seed 4242": {"PYTHONHASHSEED": "4242"},
        "locale C": {"LC_ALL": "C", "PYTHONUTF8": "0"},
        "locale tr_TR": {"LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8", "TZ": "Asia/Kathmandu"},
    }
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        first = made(place / "first", sys.executable)
        rows = {way: made(place / way / "a folder, ä", sys.executable, **more) for way, more in ways.items()}
        rows["one processor"] = made(place / "one", sys.executable, ONE + PROGRAM)
        for number, python in enumerate(pythons):
            rows[python] = made(place / f"python {number}", python)
    print(f"{len(first)} files" if "" not in first else f"no plan: {first['']}")
    wrong = int("" in first)
    for way, found in rows.items():
        other = sorted(name for name in first.keys() | found.keys() if first.get(name) != found.get(name))
        wrong |= bool(other)
        told = f"{len(other)} differ: {other[:3]} {found.get('', '')}" if other else "the same"
        print(f"{way:30} {told}")
    return int(wrong)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
