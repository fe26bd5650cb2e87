"""For each thing that must hold on the workbench one train that is wrong, and that it is told."""

from __future__ import annotations

import pytest

from fitplan.files.read import read_train
from fitplan.model.built import BuiltTrain
from fitplan.model.wired import Harness
from fitplan.pins.train_circuit import TrainCircuit
from fitplan.verify.result import Tally
from fitplan.verify.switched_on import check_switched_on
from tests.checks.workbench import (
    CASES,
    FOLDER,
    IN_TESTS,
    PLANNED_CASES,
    Case,
    PlannedCase,
    findings_of,
    plan_of,
    told,
)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.file)
def test_the_wrong_train_is_told(case: Case) -> None:
    """The finding has its severity, its words, a figure off its limit, and says what to do."""
    found = told(case)
    assert found is not None, case.wrong
    assert found.figure != found.limit
    assert found.remedy
    assert not found.remedy.startswith("nothing to do")


@pytest.mark.parametrize(
    "case", [one for one in PLANNED_CASES if one.file.startswith(IN_TESTS)], ids=lambda case: case.file
)
def test_the_plan_of_a_wrong_train_tells(case: PlannedCase) -> None:
    """What no check sees before parts have places, the plan says."""
    assert case.says(plan_of(case)), case.wrong


def test_every_line_has_a_train() -> None:
    """From the first line to the last each has a wrong train."""
    assert {int(case.file[:2]) for case in (*CASES, *PLANNED_CASES)} == set(range(1, 26))


def test_every_wrong_train_stands_in_the_table() -> None:
    """No train file is left out, and each says in its first line what is wrong with it."""
    vehicles = {"railcar", "sunk-railcar", "walled-wagon", "stepped-wagon", "glazed-railcar"}
    files = {path.stem for path in FOLDER.glob("*.yaml")} - vehicles
    assert files == {case.file for case in (*CASES, *PLANNED_CASES)}
    assert all(len(case.wrong) > 20 for case in (*CASES, *PLANNED_CASES))


def test_code_of_another_kind_finds_no_more() -> None:
    """The nets as node volts: all that is wrong there has its stop, or follows from what has one."""
    for case in CASES:
        train = read_train(case.path)
        sheet, pins = Tally(), TrainCircuit.of(train, {}).pins.uses
        check_switched_on(BuiltTrain(train, (), Harness(), pins), findings_of(case), sheet)
        assert sheet.report().problems == (), case.file
