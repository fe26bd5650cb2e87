"""What the checks tell of trains drawn up by hand: the same figures as ever, and the same in a mirror.

Of words it is kept how many letters they have, and what the numbers in them make: each figure that is told.

``python -m tests.checks.test_told`` writes the figures again, to be read before they are kept.
"""

from __future__ import annotations

import math
import random
import re
from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from fitplan.checks import run_checks
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Bank, Controller
from fitplan.model.found import Finding, Outcome
from fitplan.model.operation import Track
from fitplan.model.part import Part
from fitplan.model.solids import Place, poses
from tests.report.sample import sample_plan
from tests.verify import two_vehicles
from tests.verify.test_lies_in_what_is_bought import BOUGHT, MINUS, PLUS, cut_short, led

from .mirrored import mirrored
from .test_registry import ODD
from .workbench import CASES, Case, findings_of

TOLD = Path(__file__).with_name("told.txt")
SPREAD = 9.0
"""How far (mm) parts are moved from where they were drawn."""


def strewn(built: BuiltTrain, seed: int) -> BuiltTrain:
    """A train with parts moved and turned, other track, other speeds, other masses: right or wrong."""
    dice = random.Random(seed)
    train = built.train
    placed = []
    for one in built.placements:
        x, y, z = (at + dice.uniform(-SPREAD, SPREAD) for at in one.place.offset)
        pose = dice.choice(poses()) if dice.random() < 0.3 else one.place.pose
        placed.append(replace(one, place=Place(pose, (x, y, max(z, 19.2)))))
    vehicles = []
    for entry in train.vehicles:
        x, y, z = entry.vehicle.mass_center or (60.0, 24.0, 30.0)
        middle = (x + dice.uniform(-20, 20), y + dice.uniform(-3, 3), z + dice.uniform(-5, 15))
        mass = entry.vehicle.mass_g * dice.uniform(0.5, 2)
        vehicle = replace(entry.vehicle, mass_g=mass, mass_center=middle)
        vehicles.append(replace(entry, vehicle=vehicle, turned=dice.random() < 0.3))
    track = Track(dice.uniform(180, 500), dice.random() < 0.5, dice.choice([0.0, 3.0, 9.0]))
    running = replace(
        train.running,
        speed=dice.uniform(100, 900),
        margin=dice.uniform(1, 2),
        trip_distance=dice.choice([0.0, 90.0, 300.0]),
        hours=dice.choice([0.0, 3.0, 60.0]),
    )
    needs = tuple(replace(need, duty=dice.uniform(0.2, 1)) for need in train.needs)
    train = replace(train, vehicles=tuple(vehicles), track=track, running=running, needs=needs)
    return replace(built, train=train, placements=tuple(placed))


def plugged(built: BuiltTrain) -> BuiltTrain:
    """A train with a lead, in which a bank feeds a board by its socket, and nothing may be soldered."""
    usb = Controller(3.3, 80.0, 300.0, 4.4, 20.0, 500.0, usb_ma=500.0, usb_drop_v=0.3)  # type: ignore[arg-type]
    feeds = {"bank": (Bank(5.0, 5000.0, 3.7, 0.85, 2000.0, 60.0), "plus"), "board": (usb, "5v")}

    def fed(part: Part) -> Part:
        if part.id not in feeds:
            return part
        figure, role = feeds[part.id]
        pins = tuple(
            replace(pin, role=role, joint="plug" if part.id == "bank" else "solder")  # type: ignore[arg-type]
            if pin.name == "plus"
            else pin
            for pin in part.pins
        )
        return replace(part, electrical=(figure,), pins=pins)

    needs = tuple(replace(need, candidates=tuple(map(fed, need.candidates))) for need in built.train.needs)
    train = replace(built.train, needs=needs, wiring=replace(built.train.wiring, solder=False))
    return replace(
        built, train=train, placements=tuple(replace(one, part=fed(one.part)) for one in built.placements)
    )


SAMPLE, TWO = sample_plan().built, two_vehicles.plan().built
TRAINS: dict[str, BuiltTrain] = {
    **{f"odd {number}": built for number, built in enumerate(ODD)},
    "sample": SAMPLE,
    "two vehicles": TWO,
    "a lead": plugged(led()),
    "a lead cut short": plugged(cut_short()),
    "a lead that does not reach": led(
        replace(PLUS, cut_mm=180.0, lead=replace(BOUGHT, shortened=True)), MINUS
    ),
    **{f"odd {number}, strewn": strewn(ODD[number], number) for number in (0, 3)},
    "sample, strewn": strewn(SAMPLE, 0),
    **{f"two vehicles, strewn {seed}": strewn(TWO, seed) for seed in range(3)},
}


@cache
def outcomes(name: str) -> tuple[Outcome, ...]:
    return run_checks(TRAINS[name])


def row(one: Finding) -> str:
    """Subject, severity, place, figure, limit and unit of a finding."""
    return f"{one.subject} | {one.severity} | {one.where} | {one.figure:.6g} for {one.limit:.6g} {one.unit}"


def spoken(one: Finding) -> str:
    """A finding's row with a measure of its words."""
    words = [
        one.message,
        one.remedy,
        one.source,
        *(f"{add.name} {add.quantity:g} {add.unit}" for add in one.add),
    ]
    return f"{row(one)} | {measure(words)}"


def measure(words: list[str]) -> str:
    """How many letters there are in words, and what all numbers in them make."""
    numbers = [float(number) for text in words for number in re.findall(r"-?\d+\.?\d*", text)]
    return f"{sum(map(len, words))} letters, numbers of {math.fsum(numbers):.7g}"


def findings(of: tuple[Outcome, ...]) -> Counter[str]:
    """The rows of all findings."""
    return Counter(row(one) for outcome in of for one in outcome.findings)


def said(of: tuple[Outcome, ...]) -> Counter[str]:
    """The same with a measure of their words."""
    return Counter(spoken(one) for outcome in of for one in outcome.findings)


def sums(of: tuple[Outcome, ...]) -> Counter[str]:
    """How many rows and letters each table has, and what its numbers make; the same of each plot."""
    found: Counter[str] = Counter()
    for outcome in of:
        for table in outcome.tables:
            cells = [
                f"{cell:.6g}" if isinstance(cell, float) else str(cell) for row in table.rows for cell in row
            ]
            found[f"{outcome.subject}, {table.title} | {len(table.rows)} rows, {measure(cells)}"] += 1
        for plot in outcome.plots:
            levels = [level for _, level in plot.limits]
            lines = [math.fsum(part) for curve in plot.curves for part in (curve.x, curve.y)]
            drawn = " ".join(f"{one:.5g}" for one in (*levels, *lines))
            found[f"{outcome.subject}, {plot.title} | {drawn}"] += 1
    return found


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
    """Every figure of the list is there; new ones may stand beside them."""
    assert told()[name] - said(outcomes(name)) - sums(outcomes(name)) == Counter()


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.file)
def test_what_was_told_of_a_wrong_train_is_told(case: Case) -> None:
    """Every stop and caution before anything has a place."""
    assert wrong(case) == told()[case.file]


def wrong(case: Case) -> Counter[str]:
    return Counter(spoken(one) for one in findings_of(case) if one.severity != "note")


@pytest.mark.parametrize("name", TRAINS)
def test_a_mirror_shows_the_same_figures(name: str) -> None:
    """Left and right have no weight of their own: each finding has its image, with the same figure.

    Shares of rays are left out where parts lie askew: rays are cast in an order that is no mirror's.
    """
    image = findings(run_checks(mirrored(TRAINS[name])))
    straight = findings(outcomes(name))
    rays = re.compile("view .*%" if "strewn" in name else "no row")
    sides = [
        Counter(re.sub("left|right", "side", line) for line in one.elements() if not rays.match(line))
        for one in (image, straight)
    ]
    assert sides[0] == sides[1]


if __name__ == "__main__":
    lines = []
    for name in TRAINS:
        lines += [name, *(f"  {one}" for of in (said, sums) for one in of(outcomes(name)).elements())]
    for case in CASES:
        lines += [case.file, *(f"  {one}" for one in wrong(case).elements())]
    TOLD.write_text("\n".join(lines) + "\n", "utf-8")
