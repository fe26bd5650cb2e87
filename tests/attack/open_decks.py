"""Heavy loads on random open wagons: does every plan stand up to the second check, and does nothing tip?

    python -m tests.attack.open_decks [COUNT] [--from SEED]

Wagons of all lengths, six or eight studs wide, with walls or without, with a rib across or none, studded or
smooth; a bank or cells, a board, a regulator; one wagon or two. Printed are plans that do not hold, what they
say of support beyond notes, and how many of each there were.
"""

from __future__ import annotations

import argparse
import random
import tempfile
from pathlib import Path

from fitplan.errors import ContradictionError
from fitplan.files.read import read_train
from fitplan.planning.run import plan_train
from fitplan.surface import confirm

HEAVY = (
    "bank-stick", "bank-flat", "cells-aa-4", "cells-aa-4-stack", "cells-aa-6-stack", "cells-18650-2",
    "cells-aa-3",
)  # fmt: skip
BOARDS = (
    "controller-compact-5v", "controller-compact-5v-pins", "controller-mid-5v", "controller-54-dense",
    "controller-54-dense-pins", "controller-small-5v",
)  # fmt: skip


def write_train(folder: Path, seed: int) -> Path:
    """Write a train of one or two open wagons, by a seed; return its file."""
    pick = random.Random(seed)
    long, wide, walls = pick.choice((12, 14, 16, 18, 22)), pick.choice((6, 6, 8)), pick.choice((0, 2, 4, 6))
    inside = ["#" + "." * (long - 2) + "#"] * (wide - 2)
    sides = ["#" * long, *inside, "#" * long] if walls else ["." * long] * wide
    layers = ['  - {name: deck, plates: 4, rows: "#"}']
    if pick.random() < 0.5:
        at, high = pick.randrange(3, long - 3), pick.choice((1, 2, 3))
        rib = "." * at + "#" + "." * (long - at - 1)
        layers.append(f'  - {{name: rib, plates: {high}, rows: ["{rib} x{wide}"]}}')
    layers.append(f"  - {{name: sides, plates: {max(walls, 1)}, rows: {sides!r}}}")
    body = "\n".join(layers)
    (folder / "wagon.yaml").write_text(
        f"vehicle: Open wagon\nkind: wagon\nfootprint: {long} x {wide}\n"
        f"floor finish: {pick.choice(('studded', 'smooth'))}\n"
        f"mass: 80\nmass center: [{long * 4}, {wide * 4}, 20]\nbase: 5 plates\nlayers:\n{body}\n"
        f"couplings: [{{end: front, pivot: {8 * long - 8}, height: 10, length: 10}}, "
        "{end: rear, pivot: 8, height: 10, length: 9}]\n"
        f"wheels: {{kind: axles, at: [24, {8 * long - 24}], driven: [no, no], radius: 8.5}}\n",
        encoding="utf-8",
    )
    load, board, two = pick.choice(HEAVY), pick.choice(BOARDS), pick.random() < 0.5
    needs = [f"{{name: load, part: {load}}}", f"{{name: brain, part: {board}}}"]
    nets = [
        "{name: ground, role: ground, joins: [load.minus, brain.GND]}",
        "{name: five, role: supply, joins: [load.plus, brain.5V]}",
    ]
    if not load.startswith("bank"):
        needs.append("{name: lift, part: regulator-step-up-down-5v}")
        nets = [
            "{name: ground, role: ground, joins: [load.minus, lift.GND, brain.GND]}",
            "{name: plus, role: supply, joins: [load.plus, lift.in]}",
            "{name: five, role: supply, joins: [lift.out, brain.5V]}",
        ]
    vehicles = "{name: one, file: wagon.yaml}" + (", {name: two, file: wagon.yaml}" if two else "")
    file = folder / "train.yaml"
    file.write_text(
        f"train: open wagons {seed}\nvehicles: [{vehicles}]\nneeds: [{', '.join(needs)}]\n"
        f"nets: [{', '.join(nets)}]\ntrack: {{radius: 40 studs}}\nrunning: {{speed: 250, push pull: no}}\n",
        encoding="utf-8",
    )
    return file


def main() -> None:
    """Plan them all and print what is wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", nargs="?", type=int, default=60)
    parser.add_argument("--from", dest="first", type=int, default=0)
    asked = parser.parse_args()
    refused = tipping = warned = whole = 0
    for seed in range(asked.first, asked.first + asked.count):
        with tempfile.TemporaryDirectory() as folder:
            plan = plan_train(read_train(write_train(Path(folder), seed)))
        whole += plan.complete
        try:
            confirm(plan)
        except ContradictionError as error:
            refused += 1
            print(f"{seed}: {error}")
        told = [one for one in plan.findings if one.subject == "support" and one.severity != "note"]
        tipping += any(one.severity == "stop" for one in told)
        warned += any(one.severity == "caution" for one in told)
        for one in told:
            print(f"{seed}: {one.severity}: {one.message}")
    print(
        f"{asked.count} trains of open wagons: {whole} complete; {refused} refused by the second check, "
        f"{tipping} with a stop about support, {warned} with a caution about it"
    )


if __name__ == "__main__":
    main()
