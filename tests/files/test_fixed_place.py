"""Places in a maker's words: from the train file to the place that is meant, and back from the list."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from fitplan.files.find import find_train
from fitplan.files.plan_json import plan_from_json, plan_to_json
from fitplan.files.read import read_train
from fitplan.model.needed import FixedPlace
from fitplan.planning.run import plan_train
from fitplan.recheck import recheck
from fitplan.report.lists.result_lists import place_key, place_list
from tests.conftest import Planned
from tests.files.lines import catalogue, changed, mistakes_of

POWER = "{name: power, choose: {family: cells, volts: 6, hours: 2}}"
LONG, WIDE = 12 * 8.0, 4 * 8.0


def with_place(folder: Path, words: str) -> Path:
    """Return the train file in which the supply is fixed by these words."""
    return changed(folder / "line", "train.yaml", POWER, f"{POWER[:-1]}, at: {{{words}}}}}")


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        ("vehicle: van, from rear: 2 studs", FixedPlace("van", planes=(("-x", 16.0),))),
        ("vehicle: van, from front: 2 studs", FixedPlace("van", planes=(("+x", LONG - 16.0),))),
        ("vehicle: van, from right: 1 stud", FixedPlace("van", planes=(("-y", 8.0),))),
        ("vehicle: van, from left: 1 stud", FixedPlace("van", planes=(("+y", WIDE - 8.0),))),
        ("vehicle: van, above rail: 20.5", FixedPlace("van", planes=(("-z", 20.5),))),
        (
            "vehicle: van, top towards: left, front towards: up",
            FixedPlace("van", towards=(("+z", "+y"), ("+x", "+z"))),
        ),
        ("vehicle: van, pose: +y-x+z", FixedPlace("van", "+y-x+z")),
        ("vehicle: van, offset: [1, 2, 3]", FixedPlace("van", "+x+y+z", (1.0, 2.0, 3.0))),
    ],
)
def test_words_mean_a_place(tmp_path: Path, words: str, meant: FixedPlace) -> None:
    """Distances count from the footprint's faces, 12 × 4 studs; an offset alone stands as drawn."""
    train = read_train(with_place(tmp_path, words), catalogue())
    assert train.need("power").pinned == meant


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (
            "vehicle: van",
            "found a vehicle alone; expected 'from rear' or another key of a place; or 'in' for a vehicle",
        ),
        (
            "vehicle: van, from rear: 8, from front: 8",
            "found both 'from rear' and 'from front'; expected one of them, as they say the same",
        ),
        (
            "vehicle: van, plug towards: rear",
            "found 'plug towards' of 'power', which has no socket; expected 'front towards' or 'top towards'",
        ),
        (
            "vehicle: van, front towards: rearward",
            "found 'rearward'; expected front, rear, left, right, up or down (did you mean 'rear'?)",
        ),
        (
            "vehicle: van, from back: 8",
            "found the unknown key 'from back'; expected vehicle, from rear, from front, from right, from"
            " left, above rail, top towards, front towards, plug towards, pose or offset",
        ),
    ],
)
def test_mistakes_in_a_place_are_told(tmp_path: Path, words: str, told: str) -> None:
    """Nothing said, the same said twice, a socket that is not there, words that are none."""
    (mistake,) = mistakes_of(with_place(tmp_path, words))
    assert told in mistake


def test_places_as_they_are_listed_give_the_same_plan(tmp_path: Path, planned: Planned) -> None:
    """Every key that the list of places gives, pasted into the train file: the same places and wires."""
    plan = planned("clay-run")
    folder = tmp_path / "clay-run"
    folder.mkdir()
    for file in find_train("clay-run").parent.glob("*.yaml"):
        (folder / file.name).write_bytes(file.read_bytes())
    train = folder / "train.yaml"
    text = train.read_text("utf-8")
    for placement in plan.built.placements:
        line = re.compile(rf"(  - \{{name: {placement.need}, .*)\}}(\s+#.*)?$", re.MULTILINE)
        text, count = line.subn(rf"\1, {place_key(placement)}}}\2", text)
        assert count == 1
    train.write_text(text, encoding="utf-8")
    again = plan_train(read_train(train))
    assert {(one.need, one.place) for one in again.built.placements} == {
        (one.need, one.place) for one in plan.built.placements
    }
    assert again.built.harness.wires == plan.built.harness.wires
    assert recheck(again).holds
    assert plan_from_json(plan_to_json(again)).built.train.needs == again.built.train.needs
    # The same plan, said to be fixed elsewhere: the checker finds the part beside its place.
    first = again.built.train.need("bank")
    assert first.pinned is not None
    side, plane = first.pinned.planes[0]
    for wrong in (
        replace(first.pinned, planes=((side, plane + 1.0),)),
        replace(first.pinned, towards=(("plug", "+z"),)),
    ):
        needs = tuple(
            replace(need, pinned=wrong) if need is first else need for need in again.built.train.needs
        )
        built = replace(again.built, train=replace(again.built.train, needs=needs))
        assert "bank is not where it was pinned" in [
            f"{problem.where} {problem.message}" for problem in recheck(replace(again, built=built)).problems
        ]


def test_the_list_of_places_names_each_part_once(planned: Planned) -> None:
    """A row a part, with what keeps it there in the last column."""
    plan = planned("clay-run")
    listed = place_list(plan)
    assert [row[1] for row in listed.rows] == [placement.need for placement in plan.built.placements]
    assert all(str(row[-1]).startswith("at: {vehicle: ") for row in listed.rows)
