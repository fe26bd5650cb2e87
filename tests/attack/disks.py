"""Full disks, read-only ones, limits, no temporary folder: ``python -m tests.attack.disks [COUNT]``.

First sets of files are written over others while a disk has less and less room, or takes fewer and fewer
files, or files may be less and less long: a folder must hold one set whole each time. Then whole commands on
such disks: status, processor time, what is told, and whether what stood there before still does. Needs Linux
and root, as it mounts small disks of its own.
"""

from __future__ import annotations

import contextlib
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

from fitplan.errors import OutputError
from fitplan.files.owned_folder import write_owned
from tests.attack.kills import NEW, OLD, whole
from tests.install.environments import ROOT

FULL, READ_ONLY, NOBODY = "full disk", "read-only disk", 65534
WROTE = {
    "plan": ("plan", "mine", "-o", "{disk}/build"),
    "sweep": ("sweep", "mine", "--parts", "controller", "-o", "{disk}/journal"),
    "new": ("new", "{disk}/other"),
    "compare": ("compare", "build", "build", "-o", "{disk}/same.html"),
    "vehicle measure": ("vehicle", "measure", "box wagon", "--defaults", "-o", "{disk}/wagon.yaml"),
    "vehicle from-mesh": ("vehicle", "from-mesh", "build/meshes/train.glb", "--units", "m", "-o",
                          "{disk}/again.yaml"),
    "vehicle photo": ("vehicle", "photo", "-o", "{disk}/photo.html"),
    "parts copy": ("parts", "copy", "lamp-5mm", "-o", "{disk}/lamp.yaml"),
}  # fmt: skip
"""Commands that write, by name."""


@contextlib.contextmanager
def disk(options: str) -> Iterator[Path]:
    """Give a small disk in memory."""
    place = Path(tempfile.mkdtemp(prefix="fitplan-disk-"))
    subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(place)], check=True)
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)
        place.rmdir()


def fill(place: Path, leave: int) -> None:
    """Fill a disk but for so many bytes."""
    ballast = place / "ballast"
    ballast.write_bytes(b"")
    free = shutil.disk_usage(place).free
    ballast.write_bytes(bytes(max(0, free - leave)))


def written_on(folder: Path) -> str:
    """Write the new set over the old one, and return what the folder holds afterwards."""
    with contextlib.suppress(OutputError):
        write_owned(folder, NEW)
    return whole(folder)


def with_little_room(leave: int) -> str:
    """Return what a folder holds after a disk with so many bytes left was written to."""
    with disk("size=4m") as place:
        write_owned(place / "out", OLD)
        fill(place, leave)
        return written_on(place / "out")


def with_few_files(count: int) -> str:
    """Return what a folder holds after a disk that takes so many files more was written to."""
    with disk("size=4m,nr_inodes=400") as place:
        write_owned(place / "out", OLD)
        for number in range(os.statvfs(place).f_favail - count):
            (place / f"ballast {number}").write_bytes(b"")
        return written_on(place / "out")


def with_short_files(most: int) -> str:
    """Return what a folder holds after it was written to by a process whose files may be so long."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "out"
        write_owned(folder, OLD)
        pid = os.fork()
        if pid == 0:
            resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
            with contextlib.suppress(OutputError):
                write_owned(folder, NEW)
            os._exit(0)
        return whole(folder) if os.waitpid(pid, 0)[1] == 0 else ""


def command(
    words: tuple[str, ...],
    work: Path,
    place: Path,
    program: tuple[str, ...] = (sys.executable, "-m", "fitplan"),
    **how: object,
) -> tuple[int, str, float]:
    """Run a command; return its status, its last words, and the processor time it took."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(
        [*program, *(word.replace("{disk}", str(place)) for word in words)],
        cwd=work, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True, check=False,
        **how,  # type: ignore[call-overload]
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    used = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return done.returncode, (done.stderr.strip().splitlines() or [""])[-1], used


def told(what: str, status: int, words: str, used: float, expected: int) -> bool:
    """Print one row; return whether it is as it should be."""
    well = status == expected and "Traceback" not in words and "fault of the program" not in words
    print(f"{'' if well else 'BAD '}{what:42} {status} {used:6.1f} s  {words[:110]}", flush=True)
    return well


def commands(work: Path) -> int:
    """Run the commands on disks that take nothing; return how many did not end as they should."""
    bad = 0
    for name, words in WROTE.items():
        with disk("size=1m") as place:
            fill(place, 0)
            bad += not told(f"{name}, {FULL}", *command(words, work, place), 2)
        with disk("size=64m,ro") as place:
            bad += not told(f"{name}, {READ_ONLY}", *command(words, work, place), 2)
    with disk("size=64m,mode=755") as place:
        as_nobody = command(WROTE["plan"], work, place, user=NOBODY)
        bad += not told("plan, a folder of somebody else", *as_nobody, 2)
    with disk("size=64m,nr_inodes=12") as place:
        bad += not told("plan, a disk for 12 files", *command(WROTE["plan"], work, place), 2)
    with disk("size=64m") as place:
        short = command(WROTE["plan"], work, place, preexec_fn=lambda: resource.setrlimit(
            resource.RLIMIT_FSIZE, (200_000, 200_000)))  # fmt: skip
        bad += not told("plan, files of 200 kB at most", *short, 2)
    return bad


def filled_meanwhile(work: Path) -> bool:
    """Plan into a folder on a disk that is filled while it is planned: the old plan must stand."""
    with disk("size=80m") as place:
        shutil.copytree(work / "build", place / "build")
        before = digest(place / "build")
        process = subprocess.Popen(
            [sys.executable, "-m", "fitplan", "plan", "mine", "-o", str(place / "build")],
            cwd=work, env={**os.environ, "PYTHONPATH": str(ROOT)}, stderr=subprocess.PIPE, text=True,
            stdout=subprocess.DEVNULL,
        )  # fmt: skip
        known = (place / "build").stat().st_mtime_ns
        while process.poll() is None and (place / "build").stat().st_mtime_ns == known:
            time.sleep(0.05)  # until it has tried whether it may write there
        time.sleep(1.0)
        fill(place, 300_000)
        words = process.communicate()[1].strip().splitlines()[-1]
        same = digest(place / "build") == before
        well = told("plan, a disk that fills meanwhile", process.returncode, words, 0.0, 2)
        print(f"{'' if same else 'BAD '}    the plan that stood there {'stands' if same else 'is lost'}")
        return well and same


def digest(folder: Path) -> dict[str, bytes]:
    """Return what a folder holds but for fitplan's lock."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def without_temporary_folder(work: Path) -> int:
    """Run commands where nothing can be written, nor shared, but on the disk they are told to write to."""
    bad = 0
    for name, status in (("plan", 0), ("sweep", 1), ("vehicle measure", 0), ("vehicle from-mesh", 0)):
        with disk("size=64m") as place:
            shut = " && ".join(
                f"mount --rbind {spot} {spot} && mount -o remount,bind,ro {spot}"
                for spot in (tempfile.gettempdir(), "/var/tmp", "/dev/shm", str(work))
            )
            asked = " ".join(f"'{word}'" for word in WROTE[name])
            script = f"{shut} && cd '{work}' && TMPDIR=/nowhere exec '{sys.executable}' -m fitplan {asked}"
            ended = command((script,), work, place, program=("unshare", "-m", "sh", "-c"))
            bad += not told(f"{name}, no temporary folder", *ended, status)
    return bad


def main(count: int) -> int:
    """Print the tables; return 1 when something was not as it should be."""
    print(f"{'the new set over the old one':30}{'tried':>7}{'old set':>9}{'new set':>9}{'mixture':>9}")
    bad = 0
    rows: tuple[tuple[str, Callable[[int], str], int], ...] = (
        ("a disk with less and less room", with_little_room, 400_000),
        ("room for fewer and fewer files", with_few_files, 60),
        ("files may be shorter", with_short_files, 10_000),
    )
    for name, how, most in rows:
        came = Counter(how(most * number // count) for number in range(count))
        print(f"{name:30}{count:7}{came['old']:9}{came['new']:9}{came['']:9}", flush=True)
        bad += came[""]
    with disk("size=200m") as work:
        print("commands: status, processor time, last words")
        if command(("new", "mine"), work, work)[0] or command(("plan", "mine", "-o", "build"), work, work)[0]:
            print("the starter is not planned")
            return 1
        bad += commands(work) + (not filled_meanwhile(work)) + without_temporary_folder(work)
    return min(bad, 1)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 60))
