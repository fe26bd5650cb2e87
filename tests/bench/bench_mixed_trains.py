"""Trains joined of starters, with parts drawn at random: planned, held, and planned again once built.

    python -m tests.bench.bench_mixed_trains [--seeds 0:60] [--seconds 300]

One to three starters are coupled, some turned round; of their own needs most are asked for, beside a supply
with what suits it, a board, and now and then a charger, a fuse, a switch, a sounder or a sensor. What cannot
be coupled is not drawn. Printed is how each ended: whether the second check holds it, what has no place and
what is not reached; then, with all of it taken for built, what the same train undoes (nothing should be), and
what one part more undoes. The last line gives the shares that hold.
"""

from __future__ import annotations

import argparse
import random
import re
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from importlib import resources
from multiprocessing.connection import Connection
from pathlib import Path

from fitplan.errors import FitplanError
from fitplan.files.read import read_train
from fitplan.model.as_built import AsBuilt
from fitplan.model.train import Train
from fitplan.planning.run import PlanOptions, plan_train
from fitplan.workbench.as_built import as_built_of
from tests.hidden.measure import bound, doubts_of, in_a_process

STARTERS = ("coach", "double-deck", "shunter", "tank-engine", "tipper", "tram", "road-vehicle", "railcar")
SUPPLIES = (
    ("cells-18650-1", "regulator-step-up-5v", True),
    ("cells-18650-1-protected", "regulator-step-up-down-5v", True),
    ("pouch-103450", "regulator-step-up-5v", True),
    ("pouch-402030", "regulator-step-up-5v", True),
    ("cells-aa-2-stack", "regulator-step-up-5v-tiny", False),
    ("cells-aaa-2", "regulator-step-up-5v-tiny", False),
    ("cells-aa-4-stack", "regulator-step-down-5v-tiny", False),
    ("cells-aaa-4-stack", "regulator-linear-5v-low-drop", False),
    ("cells-18650-2", "regulator-step-down-5v-tiny", False),
    ("cells-9v-block", "regulator-linear-5v", False),
    ("bank-stick", "", False),
    ("bank-flat", "", False),
)
"""Cells or a bank, what makes 5 V of it, and whether it is charged by a board."""
CHARGERS = ("charger-protected", "charger-protected-gentle", "charger-protected-gentlest", "charger-plain")
SWITCHES = ("switch-slide", "switch-slide-small", "switch-rocker", "switch-push", "switch-slide-leads")
BOARDS = (
    "controller",
    "[controller-small-5v, controller-compact-5v]",
    "[controller-compact-5v-pins, controller-small-5v-pins]",
)
CONNECTORS = ("connector-4-small", "connector-4-keyed", "connector-6-keyed", "connector-6-header")
OTHERS = {
    "ranger-one-eyed": ("ranger-one-eyed", "ranger-one-eyed-leads", "sensor-time-of-flight"),
    "lamp-5mm": ("lamp-5mm", "lamp-5mm-leads", "lamp-3mm"),
    "emitter-5mm": ("emitter-5mm", "emitter-5mm-leads", "emitter-3mm"),
}
"""What may stand in a starter instead."""
_NEED = re.compile(r"  - \{name: ((?:eye|emitter|tail lamp|lights|driver)\b[^,]*),.*", re.M)
_MORE = "  - {name: one more, part: lamp-3mm}\n"


def written(seed: int, folder: Path) -> Path:
    """Write a train with its vehicle files, and return its train file."""
    dice = random.Random(seed)
    names = [dice.choice(STARTERS) for _ in range(dice.choice((1, 1, 2, 2, 3)))]
    vehicles, needs = [], []
    for number, starter in enumerate(names, 1):
        vehicle, own = copied(starter, number, folder)
        turned = ", turned: yes" if dice.random() < 0.2 else ""
        vehicles.append(f"  - {{name: {vehicle} {number}, file: {number}.yaml{turned}}}\n")
        for line in own:
            if dice.random() < 0.8:
                needs.append(_other_parts(line, vehicle, number, dice))
    supply, lift, charged = dice.choice(SUPPLIES)
    chosen = {"supply": supply} | ({"lift": lift} if lift else {})
    if charged and dice.random() < 0.6:
        chosen["charger"] = dice.choice(CHARGERS)
    if lift and dice.random() < 0.8:
        chosen["switch"] = dice.choice(SWITCHES)
    if lift and dice.random() < 0.4:
        chosen["fuse"] = "junction-resettable-fuse"
    for name, part, share in (("reed", "sensor-reed", 0.2), ("line", "sensor-reflective-board", 0.2)):
        if dice.random() < share:
            chosen[name] = part
    needs += [f"  - {{name: {name}, part: {part}}}\n" for name, part in chosen.items()]
    needs.append(f"  - {{name: brain, choose: {dice.choice(BOARDS)}}}\n")
    if dice.random() < 0.4:
        needs.append("  - {name: buzzer, choose: {family: sounder}}\n")
    more = "may open: yes\n" if dice.random() < 0.3 else ""
    if len(names) > 1 and dice.random() < 0.5:
        more += f"wiring: {{coupling connector: {dice.choice(CONNECTORS)}}}\n"
    slow = dice.choice((60, 90))
    path = folder / "train.yaml"
    path.write_text(
        f"train: Mixed {seed}\nvehicles:\n{''.join(vehicles)}needs:\n{''.join(needs)}usual nets: yes\n{more}"
        "track: {radius: 40 studs}\n"
        f"running: {{speed: 200, speed in curves: {slow}, hours: 1, margin: 25, push pull: no}}\n",
        encoding="utf-8",
    )
    return path


def copied(starter: str, number: int, folder: Path) -> tuple[str, list[str]]:
    """Copy a starter's vehicle file, and its parts; return the vehicle's name and the lines of its needs."""
    files = resources.files("fitplan.files")
    there = files / "starter" if starter == "railcar" else files / "gallery" / starter
    text = (there / "train.yaml").read_text(encoding="utf-8")
    found = re.search(r"\{name: ([^,]+), file: ([^,}]+)\}", text)
    assert found is not None
    (folder / f"{number}.yaml").write_text((there / found[2]).read_text(encoding="utf-8"), encoding="utf-8")
    if (there / "parts").is_dir():
        (folder / "parts").mkdir(exist_ok=True)
        for own in (there / "parts").iterdir():
            if own.name.endswith(".yaml"):
                (folder / "parts" / own.name).write_text(own.read_text(encoding="utf-8"), encoding="utf-8")
    return found[1], [match[0] for match in _NEED.finditer(text)]


def _other_parts(line: str, vehicle: str, number: int, dice: random.Random) -> str:
    """Return the line of a need for a vehicle with a number, maybe with another part."""
    line = line.replace(f"{vehicle}/", f"{vehicle} {number}/")
    line = _NEED.sub(lambda match: match[0].replace(match[1], f"{match[1]} {number}", 1), line)
    for part, others in OTHERS.items():
        if f"part: {part}," in line:
            line = line.replace(f"part: {part},", f"part: {dice.choice(others)},")
            break
    return f"{line.rstrip()}\n"


def ended(seed: int) -> Iterator[tuple[str, str]]:
    """Yield what came of a train, step by step, as kind and words."""
    with tempfile.TemporaryDirectory() as folder:
        path = written(seed, Path(folder))
        try:
            train = read_train(path)
        except FitplanError as error:
            yield "not drawn", str(error).splitlines()[0].rpartition(": ")[2]
            return
        first = plan_train(train, PlanOptions())
        if doubts := doubts_of(first):
            yield "does not hold", "; ".join(doubts[:3])
            return
        lost = len(first.unplaced) + len(first.built.harness.unreached) + len(first.assembly_blocked)
        yield ("held" if not lost else "held, in part"), first.verdict
        if first.unplaced:
            return
        yield from _again(train, first_built=as_built_of(first), words="again")
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace("usual nets:", f"{_MORE}usual nets:", 1), encoding="utf-8")
        yield from _again(read_train(path), first_built=as_built_of(first), words="one more")


def _again(train: Train, *, first_built: AsBuilt, words: str) -> Iterator[tuple[str, str]]:
    plan = plan_train(replace(train, as_built=first_built), PlanOptions())
    if doubts := doubts_of(plan):
        yield f"{words}: does not hold", "; ".join(doubts[:3])
        return
    undone = [one.words for one in plan.rework.changes if one.change != "new"]
    kind = "nothing undone" if not plan.rework.undone else "some undone"
    yield f"{words}: {kind}", "; ".join(undone[:2])


def main() -> None:
    """Print a line a step, then how many ended how."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="0:60", help="first:end")
    parser.add_argument("--seconds", type=int, default=300, help="processor time a train may take")
    asked = parser.parse_args()
    first, end = map(int, asked.seeds.split(":"))
    counts: Counter[str] = Counter()
    for seed in range(first, end):
        for kind, text in in_a_process(_ended, seed, asked.seconds) or [("no answer", "")]:
            counts[kind] += 1
            print(f"{seed}: {kind}{': ' if text else ''}{text}", flush=True)
    print("; ".join(f"{kind} {count}" for kind, count in sorted(counts.items())))


def _ended(pipe: Connection, seed: int, seconds: int) -> None:
    bound(seconds)
    for one in ended(seed):
        pipe.send(one)


if __name__ == "__main__":
    main()
