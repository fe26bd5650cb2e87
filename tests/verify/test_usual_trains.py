"""Trains of any parts, wired as usual: what the second check finds wrong, the checks have told."""

from __future__ import annotations

import pytest

from fitplan.checks.registry import run_unplaced_checks
from fitplan.files.catalogue import read_catalogue
from fitplan.files.usual_owners import NotUsualError
from fitplan.model.built import BuiltTrain
from fitplan.model.wired import Harness
from fitplan.verify.result import Tally
from fitplan.verify.switched_on import check_switched_on
from tests.files.usual_trains import drawn, wired_as_usual

CATALOGUE = read_catalogue()
DRAWS, CHUNK = 96, 12


@pytest.mark.parametrize("first", range(0, DRAWS, CHUNK))
def test_what_is_wrong_when_switched_on_is_told(first: int) -> None:
    """Many of the trains are sound; where one is not, a stop names what is wrong or what it follows from."""
    looked_at = sound = 0
    for seed in range(first, first + CHUNK):
        parts = drawn(seed, CATALOGUE)
        try:
            train = wired_as_usual(parts)
        except NotUsualError:
            continue
        findings = tuple(one for outcome in run_unplaced_checks(train) for one in outcome.findings)
        sheet = Tally()
        check_switched_on(BuiltTrain(train, (), Harness(), ()), findings, sheet)
        told = [part.id for part in parts.values()]
        assert sheet.report().problems == (), (seed, told)
        looked_at += 1
        stopped = {one.subject for one in findings if one.severity == "stop"}
        sound += not stopped & {"nets", "supply", "pins"}
    assert looked_at >= CHUNK // 2
    assert sound


@pytest.mark.parametrize(
    "named",
    [
        {"supply": "cells-aa-1", "lift": "regulator-linear-5v"},
        {
            "supply": "cells-aa-2",
            "lift": "regulator-linear-5v-small",
            "second": "regulator-step-down-adjustable",
        },
    ],
)
def test_what_a_starved_regulator_feeds_is_told_with_it(named: dict[str, str]) -> None:
    """One or two cells cannot drive a linear regulator; the stop at it stands for all that lies behind it."""
    named = {"brain": "controller-small-5v", **named, "servo": "servo-micro"}
    train = wired_as_usual({name: CATALOGUE[one] for name, one in named.items()})
    built = BuiltTrain(train, (), Harness(), ())
    findings = tuple(one for outcome in run_unplaced_checks(train) for one in outcome.findings)
    assert any(one.severity == "stop" and one.where == "lift" for one in findings)
    sheet, silent = Tally(), Tally()
    check_switched_on(built, findings, sheet)
    check_switched_on(built, (), silent)
    assert sheet.report().problems == ()
    assert {"brain", "servo"} <= {one.where for one in silent.report().problems}
