"""The one meaning of a plan's verdict and of a fit table's; `report/lists/verdict_words.py` words them.

There are five grades: *fits*; *fits, but* something stops it; *fits after a rebuild* (which may have its
*but* as well); *cannot fit*; *not decided*.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from fitplan.budget import LATE
from fitplan.model.plan import Plan
from fitplan.model.proposed import HOLDING, FitRow, Verdict

Grade: TypeAlias = Literal["fits", "fits, but", "fits after a rebuild", "cannot fit", "not decided"]

_BETTER_FIRST: tuple[Verdict, ...] = ("fits", "fits after a rebuild", "not decided", "cannot fit")


def grade(plan: Plan) -> Grade:
    """Return the grade of a plan; a rebuild that is hindered as well is *fits, but*."""
    if plan.verdict in ("cannot fit", "not decided") or plan.unplaced:
        return "not decided" if plan.verdict == "not decided" else "cannot fit"
    return plan.verdict if plan.works else "fits, but"


@dataclass(frozen=True)
class FitVerdict:
    """What a fit table comes to, each part taken by itself beside what must sit there anyway.

    Attributes
    ----------
    needs
        Those of the weakest verdict, in the order of the table.
    late
        Whether a deadline left something open.
    """

    verdict: Verdict
    needs: tuple[str, ...]
    late: bool

    @property
    def holds(self) -> bool:
        """Whether everything that was asked about has a vehicle that holds it."""
        return self.verdict in HOLDING


def fit_verdict(rows: Sequence[FitRow]) -> FitVerdict:
    """Return the verdict of a fit table: the weakest of its needs', of each the best of its rows."""
    best: dict[str, Verdict] = {}
    for row in rows:
        known = best.get(row.need, row.verdict)
        best[row.need] = min(known, row.verdict, key=_BETTER_FIRST.index)
    weakest: Verdict = max(best.values(), key=_BETTER_FIRST.index, default="fits")
    needs = tuple(need for need, verdict in best.items() if verdict == weakest)
    late = any(row.verdict == "not decided" and LATE in row.reason for row in rows)
    return FitVerdict(weakest, needs, late)
