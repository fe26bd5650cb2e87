"""A plan that keeps silent about a net of the wrong role, or about a signal pin in no net, does not hold."""

from __future__ import annotations

import pytest

from fitplan.files.read import read_train
from fitplan.model.built import BuiltTrain
from fitplan.model.wired import Harness
from fitplan.pins.train_circuit import TrainCircuit
from fitplan.verify.result import Tally
from fitplan.verify.switched_on import check_switched_on
from tests.checks.workbench import CASES, findings_of


@pytest.mark.parametrize(
    ("file", "words"),
    [
        ("03g-motor-on-signal-nets", "is no signal"),
        ("07e-ranger-without-echo", "has its pin ECHO open"),
        ("11n-ground-written-as-supply", "is no supply"),
        ("11o-supply-written-as-signal", "is no signal"),
    ],
)
def test_silence_is_noticed(file: str, words: str) -> None:
    """With the stop the plan holds; without it the circuit is at odds with what is said."""
    case = next(one for one in CASES if one.file == file)
    train = read_train(case.path)
    built = BuiltTrain(train, (), Harness(), TrainCircuit.of(train, {}).pins.uses)
    for told, problems in ((findings_of(case), False), ((), True)):
        sheet = Tally()
        check_switched_on(built, told, sheet)
        assert any(words in one.message for one in sheet.report().problems) == problems
