"""What several rooms' tests share: the demo train, read and planned once a run."""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

from fitplan.files.find import find_train
from fitplan.files.read import read_train
from fitplan.model.plan import Plan
from fitplan.model.train import Train
from fitplan.planning.run import plan_train

# The same examples in every run: a change decides and not chance. FITPLAN_EXPLORE=1 looks for new ones.
settings.register_profile("same", derandomize=True, deadline=None)
settings.register_profile("explore", derandomize=False, deadline=None)
settings.load_profile("explore" if os.environ.get("FITPLAN_EXPLORE") else "same")


@pytest.fixture(scope="session")
def harbour_line() -> Train:
    """Return the demo train as its files describe it."""
    return read_train(find_train("harbour-line"))


@pytest.fixture(scope="session")
def harbour_plan(harbour_line: Train) -> Plan:
    """Return the plan of the demo train."""
    return plan_train(harbour_line)
