"""Freezing writes places, parts and pins into the train file, and nothing else of it changes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from fitplan.errors import FitplanError, InputError
from fitplan.files.find import find_train
from fitplan.files.freeze import frozen
from fitplan.files.read import read_train
from fitplan.model.as_built import AsBuilt
from fitplan.model.plan import Plan
from fitplan.workbench.as_built import as_built_of
from tests.conftest import Planned


def _written(name: str, text: str, folder: Path) -> Path:
    for file in find_train(name).parent.glob("*"):
        if file.is_file():
            (folder / file.name).write_bytes(file.read_bytes())
    path = folder / "train.yaml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("name", ["harbour-line", "market-tram"])
def test_a_frozen_file_holds_all_that_is_built(planned: Planned, name: str, tmp_path: Path) -> None:
    """Read again it is the same to the letter; the rest of the file is too, and freezing twice is once."""
    built = as_built_of(planned(name))
    before = find_train(name).read_text(encoding="utf-8")
    text = frozen(before, built)
    train = read_train(_written(name, text, tmp_path))
    assert train.as_built == built
    assert text.startswith(before.rstrip())
    assert replace(train, as_built=AsBuilt(), files=()) == replace(read_train(find_train(name)), files=())
    assert frozen(text, built) == text
    fewer = replace(built, wires=built.wires[1:])
    later = frozen(text + "\nmay open: no  # as it was\n", fewer)
    assert later.endswith("\nmay open: no  # as it was\n")
    assert read_train(_written(name, later, tmp_path)).as_built == fewer


def test_mistakes_in_what_is_built_are_told(tmp_path: Path) -> None:
    """An end that is none, a corner with two figures, a number twice."""
    block = """
as built:
  wires:
    - {number: 1, net: ground, colour: BK, awg: 28, cut: 50 mm, from: brain, to: splice S1,
       ways: [{vehicle: tram, along: [[1, 2]]}]}
    - {number: 2, net: ground, colour: BK, awg: 28, cut: 50 mm, from: brain.GND, to: splice S1,
       ways: [{vehicle: tram, along: [[1, 2, 3]]}]}
    - {number: 2, net: ground, colour: BK, awg: 28, cut: 50 mm, from: brain.GND, to: connector J1.2,
       ways: [{vehicle: tram, along: [[1, 2, 3]]}]}
"""
    text = find_train("market-tram").read_text(encoding="utf-8") + block
    with pytest.raises(InputError) as told:
        read_train(_written("market-tram", text, tmp_path))
    assert [mistake.found for mistake in told.value.mistakes] == ["'brain'", "a list of 2", "wire 2 again"]


def test_mistakes_in_what_carries_a_part_are_told(tmp_path: Path) -> None:
    """A piece that is none, and a way of building up that is none."""
    block = """
as built:
  parts:
    - {need: eyes, part: ranger-two-eyed, vehicle: tram, pose: +x+y+z, offset: [178.4, 3, 46],
       on: {kind: plates, studs: 1, pieces: [{piece: wedge 1 × 1, box: {from: [0, 0, 0], to: [8, 8, 8]}}]}}
    - {need: brain, part: controller-small-5v, vehicle: tram, pose: +x+y+z, offset: [1, 2, 3],
       on: {kind: glue, pieces: [{piece: pad, box: {from: [0, 0, 0], to: [8, 8, 8]}}]}}
"""
    text = find_train("market-tram").read_text(encoding="utf-8") + block
    with pytest.raises(InputError) as told:
        read_train(_written("market-tram", text, tmp_path))
    assert [mistake.found for mistake in told.value.mistakes] == ["'wedge 1 × 1'", "'glue'"]


def test_another_file_is_refused(harbour_plan: Plan) -> None:
    """A file that lacks a need of the plan is not its file."""
    with pytest.raises(FitplanError, match="not the file of this plan"):
        frozen(find_train("market-tram").read_text(encoding="utf-8"), as_built_of(harbour_plan))
    with pytest.raises(FitplanError, match="no train file"):
        frozen("- 1\n", as_built_of(harbour_plan))
