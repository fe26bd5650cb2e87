"""The whole demo as a user runs it: seconds, memory of all its processes, and what is installed for it.

Run it with ``python -m tests.bench.bench_demo``. Aims: under 10 s on two idle cores, under 1 GB, under 300 MB
installed. The reference in the same run is an empty Python process that imports numpy.
"""

from __future__ import annotations

import importlib.metadata
import math
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

RUNS = 3
LOOK_S = 0.2
PROC = Path("/proc")


def run_demo(folder: Path) -> tuple[float, float, float, int]:
    """Return wall seconds, processor seconds, peak MB and exit status of one plan of the demo."""
    command = [sys.executable, "-m", "fitplan", "plan", "harbour-line", "-o", str(folder)]
    before = children_seconds()
    start = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    peak = 0.0
    while process.poll() is None:
        peak = max(peak, memory_of(process.pid))
        time.sleep(LOOK_S)
    return time.perf_counter() - start, children_seconds() - before, peak, process.returncode


def children_seconds() -> float:
    """Return the processor seconds of all processes that this one has started and that have ended."""
    used = os.times()
    return used.children_user + used.children_system


def memory_of(pid: int) -> float:
    """Return the MB that a process and its children hold now; nan where the system does not tell it so."""
    if not PROC.is_dir():
        return math.nan
    pages = 0
    for entry in PROC.iterdir():
        try:
            parent = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
            if pid in (int(entry.name), parent):
                pages += int((entry / "statm").read_text().split()[1])
        except (OSError, ValueError, IndexError):
            continue  # not a process, or one that has just ended
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def run_reference() -> float:
    """Return wall seconds of a Python process that imports numpy and ends."""
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", "import numpy"], check=True)
    return time.perf_counter() - start


def needed(name: str, found: dict[str, float]) -> None:
    """Add the installed size in MB of a distribution and of all that it requires at run time."""
    try:
        distribution = importlib.metadata.distribution(name)
    except importlib.metadata.PackageNotFoundError:
        return  # required only on another platform
    key = distribution.metadata["Name"].lower().replace("_", "-")
    if key in found:
        return
    files = [Path(str(distribution.locate_file(file))) for file in distribution.files or []]
    found[key] = sum(path.stat().st_size for path in files if path.is_file()) / 1e6
    for requirement in distribution.requires or []:
        if "extra ==" not in requirement:
            needed(re.split(r"[\s<>=!~;\[(]", requirement, maxsplit=1)[0], found)


def main() -> None:
    """Print the figures."""
    walls, processors, memories = [], [], []
    reference = statistics.median(run_reference() for _ in range(RUNS))
    for _ in range(RUNS):
        with tempfile.TemporaryDirectory() as folder:
            wall, processor, memory, code = run_demo(Path(folder) / "build")
            assert code == 0, f"the demo ended with status {code}"
        walls.append(wall)
        processors.append(processor)
        memories.append(memory)
    print(f"demo plan        wall {statistics.median(walls):6.2f} s   (median of {RUNS}, aim 10)")
    print(f"                 processor {statistics.median(processors):6.2f} s")
    print(f"                 peak memory {max(memories):6.0f} MB, all its processes (aim 1000)")
    print(f"import of numpy  wall {reference:6.2f} s   ratio {statistics.median(walls) / reference:.1f}")
    sizes: dict[str, float] = {}
    needed("fitplan", sizes)
    for name, size in sorted(sizes.items(), key=lambda item: -item[1])[:8]:
        print(f"installed        {name:20} {size:6.1f} MB")
    print(f"installed        {'everything':20} {sum(sizes.values()):6.1f} MB (aim 300)")


if __name__ == "__main__":
    main()
