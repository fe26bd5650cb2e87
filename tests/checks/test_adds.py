"""What a remedy tells to put in or to add stands beside it as a thing to have."""

from __future__ import annotations

import re

from fitplan.model.found import Finding
from fitplan.model.plan import Plan
from tests.checks.workbench import CASES, findings_of

_THING = re.compile(r"^(?:put|add) (?:an? |plates |\d+ g |\d+(?:\.\d+)? k?Ω )")
"""How a remedy begins that tells to have something, and does not only move what is there."""


def _carries(found: Finding) -> bool:
    return bool(found.add) or not _THING.match(found.remedy)


def test_remedies_of_a_plan_name_what_to_have(harbour_plan: Plan) -> None:
    """Every remedy that says to put or add a thing carries it, and the list to buy has it."""
    for found in harbour_plan.findings:
        assert _carries(found), found.remedy
        for asked in found.add:
            assert any(one.name == asked.name and found.where in one.serves for one in harbour_plan.buying)


def test_remedies_of_wrong_trains_name_what_to_have() -> None:
    """The same of every finding of trains that are wrong on purpose; some of them ask for something."""
    every = [found for case in CASES for found in findings_of(case)]
    for found in every:
        assert _carries(found), found.remedy
    assert len({asked.name for found in every for asked in found.add}) >= 2
