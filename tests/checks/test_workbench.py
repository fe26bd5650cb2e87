"""For each thing that must hold on the workbench one train that is wrong, and that it is told."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from fitplan.checks.access import check_access
from fitplan.checks.lift_out import short_wires
from fitplan.files.read import read_train
from fitplan.model.built import BuiltTrain
from fitplan.model.wired import Harness
from fitplan.pins.train_circuit import TrainCircuit
from fitplan.verify.lifted import check_lifted
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
    """The finding has its severity, its words, a figure off its limit, and says once each what to do."""
    found = told(case)
    assert found is not None, case.wrong
    assert found.figure != found.limit
    assert found.remedy
    assert not found.remedy.startswith("nothing to do")
    things = re.split(r", or |; ", found.remedy)
    assert len(things) == len(set(things))


@pytest.mark.parametrize(
    "case", [one for one in PLANNED_CASES if one.file.startswith(IN_TESTS)], ids=lambda case: case.file
)
def test_the_plan_of_a_wrong_train_tells(case: PlannedCase) -> None:
    """What no check sees before parts have places, the plan says."""
    assert case.says(plan_of(case)), case.wrong


def test_wires_that_hold_a_part_back_are_refused() -> None:
    """Cells that come out every evening, their wires cut shorter step by step: refused where they hold back.

    The straight line from where a wire is held is all that code of another kind asks; where that is missed
    the checks find more missing.
    """
    built = plan_of(next(case for case in PLANNED_CASES if case.file == "19-cells-on-short-wires")).built
    refused = 0
    for less in range(0, 160, 10):
        wires = tuple(replace(wire, cut_mm=wire.cut_mm - less) for wire in built.harness.wires)
        shorter = replace(built, harness=replace(built.harness, wires=wires))
        short = {one.wire.number: one for entry in built.exchanged for one in short_wires(shorter, entry)}
        sheet = Tally()
        check_lifted(shorter, (), sheet)
        problems = sheet.report().problems
        refused += bool(problems)
        assert not problems or less
        for one in problems:
            number = int(one.message.split()[1])
            assert one.figure <= short[number].missing + 0.1
        sheet = Tally()
        check_lifted(shorter, check_access(shorter).findings, sheet)
        assert sheet.report().problems == ()
    assert refused > 5


def test_every_line_has_a_train() -> None:
    """From the first line to the last each has a wrong train."""
    assert {int(case.file[:2]) for case in (*CASES, *PLANNED_CASES)} == set(range(1, 26))


def test_every_wrong_train_stands_in_the_table() -> None:
    """No train file is left out, and each says in its first line what is wrong with it."""
    vehicles = {
        "railcar",
        "sunk-railcar",
        "walled-wagon",
        "stepped-wagon",
        "glazed-railcar",
        "ribbed-deck",
        "low-walls",
    }
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
