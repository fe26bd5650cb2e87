"""What a part misses in a vehicle, and what would be enough: bodies of other sizes, asked again."""

from __future__ import annotations

import random
import re
from pathlib import Path

from fitplan.files.read import read_train
from fitplan.model.proposed import FitRow
from fitplan.planning.sweep import sweep

WALL = 8.0
PARTS = ("bank-stick", "cells-18650-2", "controller-mid-5v", "display-pane-38")
AXES = ("length", "width", "height")
TRAIN = """train: box
vehicles: [{name: box, file: box.yaml}]
needs: [{name: thing, part: PART}]
running: {speed: 100}
"""


def asked(folder: Path, part: str, size: tuple[float, ...]) -> FitRow:
    """Ask whether a part goes into a box of walls, open at its lid, of so much clear room as drawn (mm)."""
    outer = [round(value + 2 * WALL, 1) for value in size]
    top = round(24 + size[2], 1)
    walls = [
        ((0, 0, 16), (outer[0], outer[1], 24)),
        ((0, 0, 24), (WALL, outer[1], top)),
        ((round(outer[0] - WALL, 1), 0, 24), (outer[0], outer[1], top)),
        ((WALL, 0, 24), (round(outer[0] - WALL, 1), WALL, top)),
        ((WALL, round(outer[1] - WALL, 1), 24), (round(outer[0] - WALL, 1), outer[1], top)),
        ((0, 0, top), (outer[0], outer[1], round(top + 3.2, 1))),
    ]
    inner = f"from: [8, 8, 24], to: [{outer[0] - WALL:.1f}, {outer[1] - WALL:.1f}, {top:.1f}]"
    lid = f"from: [8, 8, {top:.1f}], to: [{outer[0] - WALL:.1f}, {outer[1] - WALL:.1f}, {top + 3.2:.1f}]"
    solids = "".join(f"  - {{smooth: yes, box: {{from: {list(a)}, to: {list(b)}}}}}\n" for a, b in walls)
    (folder / "box.yaml").write_text(
        f"vehicle: Box\nkind: railcar\nfootprint: {-(-outer[0] // 8):.0f} x {-(-outer[1] // 8):.0f}\n"
        "floor finish: smooth\nmass: 300\n"
        f"solids:\n{solids}  - {{state: free, box: {{{inner}}}}}\n"
        f"openings: [{{name: lid, box: {{{lid}}}, out: up}}]\n"
        f"wheels: {{kind: axles, at: [16, {outer[0] - 16:.1f}], radius: 7}}\n",
        encoding="utf-8",
    )
    (folder / "train.yaml").write_text(TRAIN.replace("PART", part), encoding="utf-8")
    train = read_train(folder / "train.yaml")
    (row,) = sweep(train, [train.catalogue[part]], processes=1)
    return row


def test_what_is_told_to_be_enough_is_and_less_than_what_is_missing_is_not(tmp_path: Path) -> None:
    """The size that is told takes the part; no body that is still short of what is missing does.

    Between the two, where plugs lie on the way out, the least body is found by bisection: it has grown by at
    least what was missing, and by no more than to what is enough.
    """
    random_sizes = random.Random(5)
    refused = 0
    for turn in range(6):
        part = PARTS[turn % len(PARTS)]
        size = tuple(round(random_sizes.uniform(*span), 1) for span in ((45, 100), (20, 50), (12, 35)))
        row = asked(tmp_path, part, size)
        if row.verdict != "cannot fit":
            continue
        refused += 1
        lacks = {axis: float(mm) for mm, axis in re.findall(r"([\d.]+) mm of (\w+)", row.reason)}
        told = re.search(r"; ([\d.]+) × ([\d.]+) × ([\d.]+) mm.* would be enough", row.reason)
        assert lacks
        assert told is not None
        enough = tuple(max(float(told[1 + i]), size[i]) for i in range(3))
        assert asked(tmp_path, part, enough).verdict == "fits"
        short = tuple(size[i] + max(lacks.get(AXES[i], 0.0) - 0.3, 0.0) for i in range(3))
        assert asked(tmp_path, part, short).verdict == "cannot fit"
        low, high = 0.0, 1.0
        while high - low > 0.15:
            middle = (low + high) / 2
            grown = tuple(round(one + middle * (top - one), 1) for one, top in zip(size, enough, strict=True))
            low, high = (low, middle) if asked(tmp_path, part, grown).verdict == "fits" else (middle, high)
        for axis, mm in lacks.items():
            growth = high * (enough[AXES.index(axis)] - size[AXES.index(axis)])
            assert growth > mm - 0.4, (part, size, row.reason)
    assert refused >= 3
