"""What a Python user needs of fitplan: read a train, plan it, check the plan, write it, read it again.

>>> import fitplan
>>> train = fitplan.read_train("narrow-crane-wagon")
>>> [entry.name for entry in train.vehicles]
['crane wagon']
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from fitplan.errors import FitplanError, InputError
from fitplan.files import plan_json, read
from fitplan.files.find import find_train
from fitplan.files.owned_folder import write_owned
from fitplan.model.plan import Finding, Placement, Plan, Wire
from fitplan.model.train import Train
from fitplan.planning.run import PlanOptions, plan_train
from fitplan.recheck import recheck
from fitplan.report.plan_folder import plan_files
from fitplan.verify import Report

__all__ = [
    "Finding",
    "FitplanError",
    "InputError",
    "Placement",
    "Plan",
    "PlanOptions",
    "Report",
    "Train",
    "Wire",
    "plan_train",
    "read_plan",
    "read_train",
    "verify_plan",
    "write_plan",
]


def read_train(train: str | Path) -> Train:
    """Return a train with its vehicles and parts.

    Parameters
    ----------
    train
        A train file, a folder with a ``train.yaml``, or the name of an example that comes with fitplan.

    Raises
    ------
    InputError
        With every mistake in its files: file, line, what was found, what was expected.
    """
    return read.read_train(find_train(str(train)))


def read_plan(path: str | Path) -> Plan:
    """Return a plan from its ``plan.json``, or from the folder that it was written into.

    Raises
    ------
    InputError
        Where it cannot be read, or is no plan of this version.
    """
    path = Path(path)
    return plan_json.read_plan(path / "plan.json" if path.is_dir() else path)


def verify_plan(plan: Plan, train: Train | None = None) -> Report:
    """Check a plan again by code that knows no solver; ``Report.holds`` tells whether it stands up.

    With its train, what the plan says of vehicles and parts is held against that; what could not be worked
    out again stands in ``Report.trusted``.
    """
    return recheck(plan, train)


def write_plan(
    plan: Plan, folder: str | Path, paper: Literal["A4", "Letter"] = "A4", *, force: bool = False
) -> None:
    """Write all files of a plan into a folder, whole or not at all: lists, page, sheets, drawings, meshes.

    Written again, the folder holds only what belongs to the new plan; files that fitplan did not write stay,
    and are replaced with ``force`` only.

    Raises
    ------
    FitplanError
        Where the folder cannot be written; what lay there stays as it was.
    """
    write_owned(Path(folder), plan_files(plan, paper), force=force)
