"""Trains as a maker draws them, with parts that nobody would expect together: drawn from the whole catalogue.

Bodies are those of `measured_trains`, the starters' coaches among them; to a supply with what suits it come a
board of any kind and some of everything else, a part of them tied to a vehicle. Nothing says that it fits or
runs; what comes out must hold.
"""

from __future__ import annotations

import random
import re
from pathlib import Path

from tests.bench.bench_mixed_trains import CHARGERS, SUPPLIES, SWITCHES, copied
from tests.hidden.measured_trains import write_measured_train

_BOARDS = (
    "controller-small-5v", "controller-compact-5v", "controller-compact-5v-pins", "controller-stamp-5v",
    "controller-mid-5v", "controller-54-dense", "controller-wireless-small", "controller-small-5v-usb",
)  # fmt: skip
_COACHES = ("coach", "coach", "double-deck", "railcar")
_OTHERS = (
    (0.8, "lamp", ("lamp-5mm", "lamp-3mm", "lamp-5mm-leads")),
    (0.4, "tail lamp", ("lamp-5mm", "lamp-3mm")),
    (0.5, "step lamp", ("lamp-5mm", "lamp-3mm", "lamp-5mm-leads", "lamp-3mm-leads")),
    (0.15, "strip", ("lamp-strip-leads",)),
    (0.5, "buzzer", ("sounder-12mm", "sounder-board", "sounder-disc")),
    (0.3, "reed", ("sensor-reed",)),
    (0.2, "hall", ("sensor-hall-switch",)),
    (0.2, "light", ("sensor-light",)),
    (0.3, "servo", ("servo-micro", "servo-slim")),
    (0.15, "camera", ("camera-board-small", "camera-board")),
    (0.1, "coil", ("coil-receiver-small", "coil-receiver-flat")),
    (0.3, "fuse", ("junction-resettable-fuse", "junction-resettable-fuse-large")),
)  # fmt: skip
"""How often, as what, and which of these."""


def write_odd_train(seed: int, folder: Path) -> Path:
    """Write a random train's files into a folder; return its train file."""
    dice = random.Random(seed)
    needs = _needs(dice)
    if dice.random() < 0.4:
        name, _ = copied(dice.choice(_COACHES), 1, folder)
        vehicles, kept = f"vehicles:\n  - {{name: {name} 1, file: 1.yaml}}\n", list[str]()
        rest = "usual nets: yes\ntrack: {radius: 40 studs}\nrunning: {speed: 150, hours: 1, push pull: no}\n"
    else:
        text = write_measured_train(seed, folder).read_text(encoding="utf-8")
        vehicles = text[text.index("vehicles:") : text.index("needs:")]
        asked = text[text.index("needs:") : text.index("usual nets")]
        kept = [
            row
            for row in re.findall(r"  - \{name: .*\n", asked)
            if re.match(r"  - \{name: (?:\w+ eyes|emitter),", row) and dice.random() < 0.6
        ]
        rest = text[text.index("usual nets") :]
    names = re.findall(r"name: ([^,}]+),", vehicles)
    rows = []
    for name, part in needs:
        tied = f", in: [{dice.choice(names)}]" if dice.random() < 0.4 else ""
        rows.append(f"  - {{name: {name}, part: {part}{tied}}}\n")
    path = folder / "train.yaml"
    path.write_text(
        f"train: Odd {seed}\n{vehicles}needs:\n{''.join(kept)}{''.join(rows)}{rest}", encoding="utf-8"
    )
    return path


def _needs(dice: random.Random) -> list[tuple[str, str]]:
    supply, lift, charged = dice.choice(SUPPLIES)
    needs = [("supply", supply), ("brain", dice.choice(_BOARDS))]
    if lift:
        needs.append(("lift", lift))
    if charged and dice.random() < 0.6:
        needs.append(("charger", dice.choice(CHARGERS)))
    if dice.random() < 0.7:
        needs.append(("switch", dice.choice(SWITCHES)))
    needs += [(name, dice.choice(parts)) for share, name, parts in _OTHERS if dice.random() < share]
    dice.shuffle(needs)
    return needs
