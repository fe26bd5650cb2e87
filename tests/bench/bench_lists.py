"""Lists of parts to choose from: what is chosen of them beside every choice planned by itself.

    python -m tests.bench.bench_lists [--seeds 0:20]

A starter gets a board, cells, a regulator and now and then a switch, a fuse or a charger, each from a list of
up to three; at most eight choices are possible. The train is planned with its lists, and once for each choice
with these parts alone. Of two plans the better one has fewer parts without a place, then fewer ends that
are not reached, then fewer stops. Printed is where a single choice does better, and how often.
"""

from __future__ import annotations

import argparse
import itertools
import math
import random
import tempfile
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path

from fitplan.errors import FitplanError
from fitplan.planning.run import PlanOptions, plan_train
from fitplan.surface import read_train
from tests.bench.bench_mixed_trains import copied

MOST = 8
_STARTERS = ("coach", "double-deck", "shunter", "tank-engine", "tram", "road-vehicle", "railcar")
_LISTS = {
    "brain": (1.0, (
        "controller-small-5v", "controller-compact-5v", "controller-compact-5v-pins", "controller-stamp-5v",
        "controller-mid-5v", "controller-54-dense",
    )),
    "cells": (1.0, (
        "cells-18650-1", "cells-18650-1-protected", "cells-18650-2", "cells-9v-block", "cells-aa-2-stack",
        "cells-aa-2", "cells-aa-3", "cells-aa-4-stack", "cells-aa-4", "cells-aa-6-stack", "cells-aaa-2",
        "cells-aaa-3", "cells-aaa-4-stack", "cells-aaa-4", "pouch-402030", "pouch-103450",
    )),
    "lift": (1.0, (
        "regulator-step-up-5v", "regulator-step-up-5v-tiny", "regulator-step-up-down-5v",
        "regulator-step-down-5v-tiny", "regulator-linear-5v", "regulator-linear-5v-low-drop",
        "regulator-linear-5v-small", "regulator-step-down-adjustable",
    )),
    "switch": (0.6, ("switch-slide", "switch-slide-small", "switch-rocker", "switch-push")),
    "fuse": (0.5, (
        "junction-resettable-fuse", "junction-resettable-fuse-small", "junction-resettable-fuse-largest",
    )),
    "charger": (0.2, ("charger-protected", "charger-protected-gentle", "charger-plain")),
}  # fmt: skip
"""How often, and of which parts."""

Figures = tuple[int, int, int]
"""Parts without a place, ends that are not reached, stops."""


def drawn(seed: int, folder: Path) -> tuple[dict[str, list[str]], str]:
    """Draw lists of parts; return them, and a train file with a gap for its needs; its vehicle is written."""
    dice = random.Random(seed)
    vehicle, own = copied(dice.choice(_STARTERS), 1, folder)
    lists = {
        name: dice.sample(parts, dice.choice((1, 2, 2, 3)))
        for name, (share, parts) in _LISTS.items()
        if dice.random() < share
    }
    while math.prod(map(len, lists.values())) > MOST:
        lists[dice.choice([name for name, some in lists.items() if len(some) > 1])].pop()
    rows = [row.replace(f"{vehicle}/", f"{vehicle} 1/").rstrip() for row in own if dice.random() < 0.7]
    return lists, (
        f"train: Lists {seed}\nvehicles: [{{name: {vehicle} 1, file: 1.yaml}}]\nneeds:\n"
        + "\n".join([*rows, "%s"])
        + "\nusual nets: yes\ntrack: {radius: 40 studs}\nrunning: {speed: 150, hours: 1, push pull: no}\n"
    )


def figures(lists: Mapping[str, Sequence[str]], text: str, folder: Path) -> Figures | None:
    """Plan a train with these lists; None where its file is refused."""
    needs = [f"  - {{name: {name}, choose: [{', '.join(some)}]}}" for name, some in lists.items()]
    path = folder / "train.yaml"
    path.write_text(text % "\n".join(needs), encoding="utf-8")
    try:
        plan = plan_train(read_train(path), PlanOptions())
    except FitplanError:
        return None
    stops = sum(one.severity == "stop" for one in plan.findings)
    return (len(plan.unplaced), len(plan.built.harness.unreached), stops)


def ended(seed: int) -> tuple[str, str]:
    """Return how a train with lists ended beside its single choices, and the figures of both."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        lists, text = drawn(seed, folder)
        together = figures(lists, text, folder)
        alone: dict[tuple[str, ...], Figures] = {}
        for choice in itertools.product(*lists.values()):
            found = figures({one: [part] for one, part in zip(lists, choice, strict=True)}, text, folder)
            if found is not None:
                alone[choice] = found
    if not alone:
        return ("refused" if together is None else "planned, and no single choice is"), ""
    best = min(alone, key=lambda choice: alone[choice])
    if together is None or alone[best] < together:
        return "WORSE", f"{together} of {lists}; {', '.join(best)} gives {alone[best]}"
    return "as good as the best", f"{together} of {len(alone)} choices, the best {alone[best]}"


def main() -> None:
    """Print a line a train, then how many ended how."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="0:20", help="first:end")
    first, end = map(int, parser.parse_args().seeds.split(":"))
    counts: Counter[str] = Counter()
    for seed in range(first, end):
        kind, text = ended(seed)
        counts[kind] += 1
        print(f"{seed}: {kind}: {text}", flush=True)
    print("; ".join(f"{kind} {count}" for kind, count in sorted(counts.items())))


if __name__ == "__main__":
    main()
