"""What the checks tell of trains drawn up by hand: the same figures as ever, and the same in a mirror.

``python -m tests.checks.test_told`` writes the figures again, to be read before they are kept.
"""

from __future__ import annotations

import re
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

from fitplan.checks import run_checks
from fitplan.model.plan import BuiltTrain
from tests.report.sample import sample_plan
from tests.verify import two_vehicles

from .mirrored import mirrored
from .test_registry import ODD

TOLD = Path(__file__).with_name("told.txt")
TRAINS: dict[str, BuiltTrain] = {
    **{f"odd {number}": built for number, built in enumerate(ODD)},
    "sample": sample_plan().built,
    "two vehicles": two_vehicles.plan().built,
}


@cache
def rows(name: str, in_a_mirror: bool = False) -> Counter[str]:
    """Subject, severity, place, figure, limit and unit of every finding."""
    built = mirrored(TRAINS[name]) if in_a_mirror else TRAINS[name]
    return Counter(
        f"{one.subject} | {one.severity} | {one.where} | {one.figure:.6g} for {one.limit:.6g} {one.unit}"
        for outcome in run_checks(built)
        for one in outcome.findings
    )


@cache
def told() -> dict[str, Counter[str]]:
    found: dict[str, Counter[str]] = {}
    name = ""
    for line in TOLD.read_text("utf-8").splitlines():
        if line.startswith("  "):
            found[name][line.strip()] += 1
        else:
            name = line
            found[name] = Counter()
    return found


@pytest.mark.parametrize("name", TRAINS)
def test_what_was_told_is_told(name: str) -> None:
    """Every finding of the list is there with its figure and limit; new ones may stand beside them."""
    assert told()[name] - rows(name) == Counter()


@pytest.mark.parametrize("name", TRAINS)
def test_a_mirror_shows_the_same_figures(name: str) -> None:
    """Left and right have no weight of their own: each finding has its image, with the same figure."""
    image = Counter({re.sub("left|right", "side", row): count for row, count in rows(name, True).items()})
    straight = Counter({re.sub("left|right", "side", row): count for row, count in rows(name).items()})
    assert image == straight


if __name__ == "__main__":
    text = "".join(f"{name}\n" + "".join(f"  {row}\n" for row in rows(name).elements()) for name in TRAINS)
    TOLD.write_text(text, "utf-8")
