"""What else would fit: the choices that were not taken, and every allowed part in every vehicle."""

from __future__ import annotations

from dataclasses import dataclass

from fitplan.budget import LATE
from fitplan.kernels import reused_memory
from fitplan.model.proposed import FitRow, Option
from fitplan.planning.choice import Choosing
from fitplan.planning.fit_table import fit_rows
from fitplan.planning.run_state import PlanningRun


@dataclass(frozen=True)
class WhatElse:
    """The choices that were not taken, the fit table, and whether a deadline left some of it open."""

    options: tuple[Option, ...]
    rows: tuple[FitRow, ...]
    late: bool


def ask_what_else(choosing: Choosing, run: PlanningRun, free: PlanningRun | None = None) -> WhatElse:
    """Ask for the choices that were not taken, and for the fit table.

    Parameters
    ----------
    choosing
        It asks ``run`` (`Choosing.asking`); all that it refers to goes to another process.
    run
        It is changed: give a copy when more is to be asked of it.
    free
        Where what is built is held: a run of the train in which nothing is, for the fit table.
    """
    budget = run.options.budget.ending("what else would fit")
    beside_best = budget.share("runners-up")
    with reused_memory():
        options = choosing.runners_up(beside_best)
        late = beside_best.late
        # What found no place is asked about in every vehicle, so that the table says what is short.
        asked = run if free is None else free
        rows = fit_rows(asked.train, asked.packer, budget, also=frozenset(choosing.best.left_out))
    return WhatElse(options, rows, late or any(LATE in row.reason for row in rows))
