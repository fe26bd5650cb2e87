"""For each thing that must hold on the workbench one train that is wrong, and that it is told."""

from __future__ import annotations

import pytest

from tests.checks.workbench import CASES, FOLDER, Case, told


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.file)
def test_the_wrong_train_is_told(case: Case) -> None:
    """The finding has its severity, its words, a figure off its limit, and says what to do."""
    found = told(case)
    assert found is not None, case.wrong
    assert found.figure != found.limit
    assert found.remedy
    assert not found.remedy.startswith("nothing to do")


def test_every_wrong_train_stands_in_the_table() -> None:
    """No train file is left out, and each says in its first line what is wrong with it."""
    files = {path.stem for path in FOLDER.glob("*.yaml")} - {"railcar"}
    assert files == {case.file for case in CASES}
    assert all(len(case.wrong) > 20 for case in CASES)
