"""What several rooms' tests share: example trains, read and planned once a run."""

from __future__ import annotations

import dataclasses
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Generator
from pathlib import Path

import pytest
from filelock import FileLock
from hypothesis import settings

from fitplan.files.find import find_train
from fitplan.files.plan_json import plan_from_json
from fitplan.files.read import read_train
from fitplan.model.plan import Plan
from fitplan.model.train import Train

# The same examples in every run: a change decides and not chance. FITPLAN_EXPLORE=1 looks for new ones.
settings.register_profile("same", derandomize=True, deadline=None)
settings.register_profile("explore", derandomize=False, deadline=None)
settings.load_profile("explore" if os.environ.get("FITPLAN_EXPLORE") else "same")

ROOT = Path(__file__).parent.parent
UNCOUNTED = (
    "tests/attack/",
    "tests/checks/test_adds.py",
    "tests/checks/test_workbench.py",
    "tests/files/test_part_copy.py",
    "tests/hidden/",
    "tests/kernels/test_limits.py",
    "tests/meshes/test_brick_models.py",
    "tests/meshes/test_from_mesh.py",
    "tests/planning/test_own_leads.py",
    "tests/planning/test_pins_that_parts_lack.py",
    "tests/planning/test_ports_before_pockets.py",
    "tests/planning/test_rooms_that_meet_beyond_a_coupling.py",
    "tests/report/test_browser.py",
    "tests/report/test_sheets.py",
    "tests/routing/test_boards.py",
    "tests/routing/test_coupling.py",
    "tests/test_",
    "tests/workbench/test_order_of_work.py",
)
"""Tests that walk where others have been: counting lines makes them take twice as long, inner loops more."""
COUNTED_CASES = 2
"""Of the cases of one test so many have their lines counted: what is beyond walks where these have been."""
Planned = Callable[[str], Plan]
"""Gives the plan of an example by its name."""
_CASES = pytest.StashKey[Counter[str]]()
"""How many cases of each test have run."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put these first, as they take long: what is short is left to fill up the time of several processes."""
    items.sort(key=lambda item: not item.nodeid.startswith(UNCOUNTED))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, object, object]:
    """Count no lines while certain tests and their fixtures run, nor in further cases of the others."""
    counting = item.config.pluginmanager.get_plugin("_cov")
    if counting is None or counting.cov_controller is None or _is_counted(item):
        return (yield)
    counting.cov_controller.pause()
    try:
        return (yield)
    finally:
        counting.cov_controller.resume()


def _is_counted(item: pytest.Item) -> bool:
    """Return whether lines are counted while a test runs; each is asked about once."""
    cases = item.session.stash.setdefault(_CASES, Counter())
    test = item.nodeid.partition("[")[0]
    cases[test] += 1
    return not test.startswith(UNCOUNTED) and cases[test] <= COUNTED_CASES


@pytest.fixture(scope="session")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Planned:
    """Return what gives the plan of an example; it is planned once, however many processes run tests."""
    folder = tmp_path_factory.getbasetemp()
    folder = folder.parent if "PYTEST_XDIST_WORKER" in os.environ else folder
    known: dict[str, Plan] = {}

    def plan_of(name: str) -> Plan:
        if name not in known:
            known[name] = _plan_once(name, folder / f"{name}.plan.json")
        return known[name]

    return plan_of


PLAN = """
import sys
from pathlib import Path
from fitplan.files.find import find_train
from fitplan.files.plan_json import plan_to_json
from fitplan.files.read import read_train
from fitplan.planning.run import plan_train
Path(sys.argv[2]).write_bytes(plan_to_json(plan_train(read_train(find_train(sys.argv[1])))))
"""


def _plan_once(name: str, kept: Path) -> Plan:
    """Return the plan of an example, from the file that another process left, or planned and left there.

    It is planned in a process of its own: counting its lines would take as long as planning does.
    """
    train = read_train(find_train(name))
    with FileLock(kept.with_suffix(".lock")):
        if not kept.is_file():
            subprocess.run([sys.executable, "-c", PLAN, name, str(kept)], cwd=ROOT, check=True)
    plan = plan_from_json(kept.read_bytes())
    # A file keeps those parts of the catalogue only that the plan names.
    return dataclasses.replace(plan, built=dataclasses.replace(plan.built, train=train))


@pytest.fixture(scope="session")
def harbour_line() -> Train:
    """Return the demo train as its files describe it."""
    return read_train(find_train("harbour-line"))


@pytest.fixture(scope="session")
def harbour_plan(planned: Planned) -> Plan:
    """Return the plan of the demo train."""
    return planned("harbour-line")
