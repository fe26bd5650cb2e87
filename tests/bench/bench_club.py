"""A club's layout in one sweep: ``python -m tests.bench.bench_club [TRAINS [VEHICLES [PARTS]]]``.

Trains of vehicles from the examples and the gallery, each a little different, and parts of the catalogue in
several sizes are asked in one sweep on all cores, with a journal. The sweep is killed once half of the
answers stand there, and gone on with. Prints answers, processor time, the most memory of all its processes
together, and what the whole would take: 30 trains of 12 vehicles, 500 parts.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import tempfile
import time
from collections import Counter
from contextlib import suppress
from dataclasses import fields, is_dataclass, replace
from functools import cache
from itertools import cycle, islice
from pathlib import Path
from typing import Any

from fitplan.files.catalogue import examples_folder, read_catalogue
from fitplan.files.read import read_train
from fitplan.model.part import Part
from fitplan.model.solids import Cylinder
from fitplan.model.train import Train, TrainVehicle
from fitplan.planning.sweep import sweep_trains
from tests.install.environments import ROOT

WHOLE = (30, 12, 500)
LENGTHS = ("envelope", "clearances", "pins", "mount")
"""What of a part holds points and solids."""


def scaled(value: Any, by: float) -> Any:
    """Return what holds points and solids with every length multiplied, in whole tenths of a millimetre."""
    if isinstance(value, Cylinder):
        radius, length = round(value.radius * by, 1), round(value.length * by, 1)
        return replace(value, start=scaled(value.start, by), radius=radius, length=length)
    if isinstance(value, tuple):
        if len(value) == 3 and all(isinstance(one, float | int) for one in value):
            return tuple(round(one * by, 1) for one in value)
        return tuple(scaled(one, by) for one in value)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(
            value, **{one.name: scaled(getattr(value, one.name), by) for one in fields(value) if one.init}
        )
    return value


@cache
def parts(count: int) -> tuple[Part, ...]:
    """Return so many parts: all of the catalogue but wires, then the same a little smaller or larger."""
    own = [part for part in read_catalogue().values() if part.family != "wire"]
    found = []
    for number, part in enumerate(islice(cycle(own), count)):
        turn = number // len(own)
        by = 1 + 0.06 * ((turn + 1) // 2) * (-1) ** turn
        if turn:
            own_fields = {name: scaled(getattr(part, name), by) for name in LENGTHS}
            part = replace(part, id=f"{part.id}-{turn}", **own_fields)
        found.append(part)
    return tuple(found)


@cache
def vehicles() -> tuple[TrainVehicle, ...]:
    """Return every vehicle of the examples and the gallery."""
    files = sorted(examples_folder().glob("*/train.yaml"))
    files += sorted((ROOT / "fitplan" / "files" / "gallery").glob("*/train.yaml"))
    return tuple(entry for file in files for entry in read_train(file).vehicles)


def club(trains: int, long: int) -> list[Train]:
    """Return the trains: each begins elsewhere in the list of vehicles, and each has its own masses."""
    base = read_train(examples_folder() / "narrow-crane-wagon" / "train.yaml")
    found = []
    for number in range(trains):
        own = islice(cycle(vehicles()), 5 * number, 5 * number + long)
        entries = tuple(
            replace(
                entry, name=f"v{i}", vehicle=replace(entry.vehicle, mass_g=entry.vehicle.mass_g + number + i)
            )
            for i, entry in enumerate(own)
        )
        found.append(replace(base, name=f"train {number}", vehicles=entries, needs=(), nets=()))
    return found


def asked(trains: int, long: int, count: int, journal: Path) -> None:
    """Ask it all, and print what it took."""
    every = [(train, parts(count)) for train in club(trains, long)]
    answers: Counter[str] = Counter()
    for rows in sweep_trains(every, journal=journal):
        answers.update(row.verdict for row in rows)
    print(f"  {answers.total()} answers: {dict(answers)}", flush=True)


def taken(pid: int) -> tuple[float, float]:
    """Return MB and seconds of processor time of a process and its children; shared memory counts once."""
    mb = spent = 0.0
    with suppress(OSError, ValueError, IndexError):
        text = Path(f"/proc/{pid}/smaps_rollup").read_text("ascii")
        mb = float(text.partition("Pss:")[2].split()[0]) / 1024
        ticks = Path(f"/proc/{pid}/stat").read_text("ascii").rpartition(")")[2].split()[11:15]
        spent = sum(map(int, ticks)) / os.sysconf("SC_CLK_TCK")
        for child in Path(f"/proc/{pid}/task/{pid}/children").read_text("ascii").split():
            more = taken(int(child))
            mb, spent = mb + more[0], spent + more[1]
    return mb, spent


def run(trains: int, long: int, count: int, journal: Path, until: float) -> tuple[float, float]:
    """Run the sweep in a process, killed when so many answers stand there; return its most MB and seconds."""
    process = multiprocessing.get_context("spawn").Process(target=asked, args=(trains, long, count, journal))
    process.start()
    most = spent = 0.0
    while process.is_alive():
        mb, so_far = taken(process.pid or 0)
        most, spent = max(most, mb), max(spent, so_far)
        if journal.exists() and journal.read_bytes().count(b"\n") >= until:
            process.kill()
            break
        time.sleep(0.5)
    process.join()
    assert process.exitcode in (0, -signal.SIGKILL)
    return most, spent


def main(trains: int, long: int, count: int) -> None:
    """Print the figures."""
    questions = trains * long * count
    newline = b"\n"
    whole = WHOLE[0] * WHOLE[1] * WHOLE[2]
    print(f"{trains} trains of {long} vehicles, {count} parts: {questions} questions")
    with tempfile.TemporaryDirectory() as name:
        journal = Path(name) / "journal"
        begun = time.monotonic()
        most, spent = run(trains, long, count, journal, questions / 2)
        print(f"  killed after {journal.read_bytes().count(newline)} answers; gone on with:", flush=True)
        again = run(trains, long, count, journal, float("inf"))
        most, spent = max(most, again[0]), spent + again[1]
        lines = journal.read_text("utf-8").splitlines()
    print(f"  {len(lines)} lines in the journal, {len(set(lines))} different; {most:.0f} MB at most")
    each = spent / questions
    print(f"  {spent:.0f} s of processor time in {time.monotonic() - begun:.0f} s, {each:.3f} s a question")
    print(f"  {whole} questions would take {whole * each / 3600:.1f} h of processor time")


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    main(*(given + [2, 12, 40][len(given) :]))
