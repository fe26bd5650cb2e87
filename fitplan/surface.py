"""What a Python user needs of fitplan: read a train, plan it, check the plan, write it, read it again.

>>> import fitplan
>>> train = fitplan.read_train("narrow-crane-wagon")
>>> [entry.name for entry in train.vehicles]
['crane wagon']
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from fitplan import __version__
from fitplan.errors import ContradictionError, FitplanError, InputError
from fitplan.files import plan_json, read
from fitplan.files.find import find_train
from fitplan.files.owned_folder import write_owned
from fitplan.model.found import Finding
from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.train import Train
from fitplan.model.wired import Wire
from fitplan.planning.run import PlanOptions, plan_train
from fitplan.planning.suitable_wiring import suitably_wired
from fitplan.recheck import recheck
from fitplan.report.lists.verdict_words import summarise, verdict_words
from fitplan.report.plan_folder import plan_files
from fitplan.verify import Report

MOST_TOLD = 8
"""Contradictions that are told one by one."""

__all__ = [
    "ContradictionError",
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
    "summary",
    "verdict",
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
    path = find_train(str(train))
    return suitably_wired(read.read_train(path), lambda: read.read_other_wirings(path))


def read_plan(path: str | Path) -> Plan:
    """Return a plan from its ``plan.json``, or from the folder that it was written into.

    Raises
    ------
    FitplanError
        Where it cannot be read, or is no plan of this version.
    """
    return plan_json.read_plan(Path(path))


def verify_plan(plan: Plan, train: Train | None = None) -> Report:
    """Check a plan again by code that knows no solver; ``Report.holds`` tells whether it stands up.

    With its train, what the plan says of vehicles and parts is held against that; what could not be worked
    out again stands in ``Report.trusted``.
    """
    return recheck(plan, train)


def verdict(plan: Plan) -> str:
    """Return the verdict of a plan in one sentence, the same as on all lists and pages.

    >>> import fitplan
    >>> crane = fitplan.plan_train(fitplan.read_train("narrow-crane-wagon"))
    >>> fitplan.verdict(crane)
    'cannot fit'
    """
    return verdict_words(plan)


def summary(plan: Plan) -> str:
    """Return the verdict of a plan as a sentence or two that a newcomer understands."""
    return summarise(plan)


def write_plan(
    plan: Plan, folder: str | Path, paper: Literal["A4", "Letter"] = "A4", *, force: bool = False
) -> None:
    """Check a plan again and write all its files into a folder: lists, page, sheets, drawings, meshes.

    Written again, the folder holds only what belongs to the new plan; files that fitplan did not write stay,
    and are replaced with ``force`` only.

    Raises
    ------
    FitplanError
        Where the folder cannot be written; what lay there stays as it was.
    ContradictionError
        When the plan does not stand up to being checked again; nothing is written.
    """
    confirm(plan)
    write_owned(Path(folder), plan_files(plan, paper), force=force)


def confirm(plan: Plan) -> None:
    """Check a plan again before anybody relies on it.

    Raises
    ------
    ContradictionError
        When it does not stand up.
    """
    report = recheck(plan)
    if report.holds:
        return
    told = [f"  {one.where}: {one.message}" for one in report.problems[:MOST_TOLD]]
    if len(report.problems) > MOST_TOLD:
        told.append(f"  and {len(report.problems) - MOST_TOLD} more")
    raise ContradictionError(
        "this plan does not stand up to a second check by code of another kind, so it is not handed on.\n"
        + "\n".join(told)
        + f"\nThat is a fault of fitplan {__version__}, not yours. To report it, send the train file with its"
        f" vehicle and part files, this text, and the seed ({plan.seed}). Another seed may get round it."
    )
