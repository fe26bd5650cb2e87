"""Kills, interrupts and other writers while a folder is written: ``python -m tests.attack.kills [COUNT]``.

Processes write a set of files over another and are killed (or interrupted) at random moments; of two that
write at once neither is. Each time the folder must hold one set whole, when it is read as it lies and after
the next run has put it in order. Prints how often that was so.
"""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from fitplan.files.owned_folder import recover, write_owned
from fitplan.files.owned_reading import OWN, standing

OLD = {f"layers/{i}.svg": b"old" * 3000 for i in range(40)} | {"plan.json": b"old"}
NEW = {f"layers/{i}.svg": b"new" * 3000 for i in range(25)} | {"plan.json": b"new", "more/x.csv": b"new"}
CHILD = """
import sys
from pathlib import Path
from fitplan.files.owned_folder import write_owned
from tests.attack.kills import NEW, OLD
print("ready", flush=True)
sys.stdin.readline()
try:
    write_owned(Path(sys.argv[1]), {"old": OLD, "new": NEW}[sys.argv[2]])
except KeyboardInterrupt:
    pass
"""


def started(folder: Path, which: str) -> subprocess.Popen[str]:
    """Start a process that will write a set into a folder when it reads a line."""
    process = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(folder), which],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    process.stdout.readline()
    return process


def go(process: subprocess.Popen[str]) -> None:
    """Let a process begin to write."""
    assert process.stdin is not None
    process.stdin.write("\n")
    process.stdin.flush()


def whole(folder: Path) -> str:
    """Return which set a folder holds; empty when it is a mixture or something lies about."""
    read = standing(folder, "plan.json").read_bytes()
    recover(folder)
    shown = {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and OWN not in path.parts
    }
    hidden = {path.name for path in (folder / OWN).iterdir()}
    if hidden != {"lock", "manifest.json"} or shown["plan.json"] != read:
        return ""
    return "old" if shown == OLD else "new" if shown == NEW else ""


def struck(folder: Path, how: signal.Signals, after_s: float) -> str:
    """Return what a folder holds after its writer was struck down."""
    write_owned(folder, OLD)
    process = started(folder, "new")
    go(process)
    time.sleep(after_s)
    process.send_signal(how)
    process.communicate()
    return whole(folder)


def beside(folder: Path) -> str:
    """Return what a folder holds after two have written into it at once."""
    write_owned(folder, OLD)
    both = [started(folder, which) for which in ("old", "new")]
    for process in both:
        go(process)
    for process in both:
        process.communicate()
    return whole(folder)


def main(count: int) -> int:
    """Print the table; return 1 when a folder held a mixture."""
    chance = random.Random(0)
    rows: dict[str, Counter[str]] = {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "out"
        write_owned(folder, OLD)
        process, begun = started(folder, "new"), time.monotonic()
        go(process)
        process.communicate()
        usual_s = time.monotonic() - begun
        for what, how in (("killed", signal.SIGKILL), ("interrupted", signal.SIGINT)):
            rows[what] = Counter(struck(folder, how, chance.uniform(0, 0.7 * usual_s)) for _ in range(count))
        rows["two at once"] = Counter(beside(folder) for _ in range(count // 4))
    print(f"{'writers':14}{'tried':>7}{'old set':>9}{'new set':>9}{'mixture':>9}")
    for what, came in rows.items():
        print(f"{what:14}{came.total():7}{came['old']:9}{came['new']:9}{came['']:9}")
    return min(1, sum(came[""] for came in rows.values()))


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 200))
