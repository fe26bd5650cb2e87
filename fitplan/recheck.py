"""A plan checked again with all that is at hand: checks run and lists made once more, files read once more.

In: a plan, and its train where the files are known. Out: the report of `fitplan.verify`, which itself knows
neither checks nor files.
"""

from __future__ import annotations

from dataclasses import replace

from fitplan.checks import run_checks
from fitplan.checks.ends import circuit_of
from fitplan.errors import FitplanError
from fitplan.files.catalogue import read_catalogue
from fitplan.model.found import Outcome
from fitplan.model.plan import Plan
from fitplan.model.train import Train
from fitplan.verify import Report, verify
from fitplan.verify.lists import Lists
from fitplan.workbench.buying import buying_list
from fitplan.workbench.sequence import meter_plan


def recheck(plan: Plan, train: Train | None = None) -> Report:
    """Check a plan again in exact millimetres; its findings and lists by finding and making them once more.

    Parameters
    ----------
    train
        The train as its files hold it now; None: vehicles and parts are taken as the plan has them.
    """
    return verify(plan, outcomes=lambda: _outcomes(plan, train), lists=lambda: _lists(plan), train=train)


def _lists(plan: Plan) -> Lists:
    """Make the lists as they were made then, from the findings that the plan has."""
    built = plan.built
    supply = circuit_of(built, None).supply
    meter = meter_plan(built, supply, plan.outcomes, plan.complete)
    return meter, buying_list(built, plan.outcomes)


def _outcomes(plan: Plan, train: Train | None) -> tuple[Outcome, ...]:
    """Run the checks as they were run then: with the whole catalogue, of which a plan keeps what it names."""
    kept = plan.built.train.catalogue
    try:
        catalogue = {**read_catalogue(), **(train.catalogue if train is not None else {}), **kept}
    except FitplanError:
        catalogue = kept
    whole = replace(plan.built.train, catalogue=dict(sorted(catalogue.items())))
    return run_checks(
        replace(plan.built, train=whole),
        plan.fit,
        unplaced=plan.unplaced,
        wider_windows=plan.wider_windows,
    )
