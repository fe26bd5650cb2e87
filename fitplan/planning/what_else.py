"""What else would fit: the choices that were not taken, and every allowed part in every vehicle."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fitplan.budget import LATE
from fitplan.kernels import reused_memory
from fitplan.model.proposed import FitRow, Option
from fitplan.model.train import Train
from fitplan.planning.choice import Choosing
from fitplan.planning.fit_table import asked_rows, fit_rows
from fitplan.planning.run_state import PlanningRun

MOST_EARLY = 60
"""A fit table of so many rows at most is asked for while parts are chosen: vehicles wait for longer ones."""


@dataclass(frozen=True)
class WhatElse:
    """The choices that were not taken, the fit table, and whether a deadline left some of it open.

    Either is empty where it was not asked for.
    """

    options: tuple[Option, ...]
    rows: tuple[FitRow, ...]
    late: bool


def is_asked_early(train: Train) -> bool:
    """Whether the fit table is so short that a second process makes it while parts are chosen."""
    return 0 < len(asked_rows(train)) <= MOST_EARLY


def ask_rows(run: PlanningRun, left_out: frozenset[str] = frozenset()) -> WhatElse:
    """Ask for the fit table.

    Parameters
    ----------
    run
        It is changed: give a copy when more is to be asked of it.
    left_out
        What found no place: it is asked about in every vehicle, so that the table says what is short.
    """
    budget = run.options.budget.ending("what else would fit")
    with reused_memory():
        rows = fit_rows(run.train, run.packer, budget, also=left_out)
    return WhatElse((), rows, any(LATE in row.reason for row in rows))


def ask_what_else(
    choosing: Choosing, run: PlanningRun, free: PlanningRun | None = None, *, with_rows: bool = True
) -> WhatElse:
    """Ask for the choices that were not taken, and for the fit table.

    Parameters
    ----------
    choosing
        It asks ``run`` (`Choosing.asking`); all that it refers to goes to another process.
    run
        It is changed: give a copy when more is to be asked of it.
    free
        Where what is built is held: a run of the train in which nothing is, for the fit table.
    with_rows
        Whether the fit table is not asked for elsewhere; where something is left out it is asked for anyway.
    """
    beside_best = run.options.budget.ending("what else would fit").share("runners-up")
    with reused_memory():
        options = choosing.runners_up(beside_best)
    found, left_out = WhatElse(options, (), beside_best.late), frozenset(choosing.best.left_out)
    if not with_rows and not left_out:
        return found
    fit = ask_rows(free or run, left_out)
    return replace(found, rows=fit.rows, late=found.late or fit.late)
