"""Lists that are made anew from what is built: the meter sequence and the buying list, item by item.

`meter` and `buying` work out by means of their own what matters of them: what copper joins, which broken
wires are told, all that is cut, crimped and added. What else stands in them (limits of readings, words,
spares, prices) follows from the plan by rules, and is held here against the same lists made once more.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fitplan.model.buying import Article
from fitplan.model.meter import MeterPlan
from fitplan.model.plan import Plan
from fitplan.verify.findings import same
from fitplan.verify.result import Tally

Lists = tuple[MeterPlan, tuple[Article, ...]]
_SHOWN = 3


def check_lists(plan: Plan, again: Callable[[], Lists] | None, sheet: Tally) -> None:
    """Check that both lists are what they are when they are made again.

    Parameters
    ----------
    again
        Makes the lists of the plan once more; None where nobody can.
    """
    if again is None:
        why = "the lists were not made again"
        sheet.trust("limits and words of readings", len(plan.meter.tests), why)
        sheet.trust("spares, prices and words of the buying list", len(plan.buying), why)
        return
    meter, buying = again()
    if plan.buying or plan.outcomes:
        _compare("buying", [one.name for one in plan.buying], plan.buying, buying, sheet)
    if plan.meter.tests or plan.outcomes:
        names = [f"reading {one.number}" for one in plan.meter.tests]
        _compare("meter", names, plan.meter.tests, meter.tests, sheet)
        sheet.count("coverage made again")
        if not same(plan.meter.coverage, meter.coverage):
            sheet.problem("meter", "coverage", "is not what the sequence covers when it is made again")
        if plan.meter.held != meter.held:
            sheet.problem("meter", "sequence", f"is held back for another reason: {meter.held or 'none'}")


def _compare(
    subject: str, names: Sequence[str], said: Sequence[object], fresh: Sequence[object], sheet: Tally
) -> None:
    sheet.count("rows of lists made again", len(fresh))
    if len(said) != len(fresh):
        sheet.problem(subject, "list", f"has {len(said)} rows; made again it has {len(fresh)}")
    wrong = [name for name, one, other in zip(names, said, fresh, strict=False) if not same(one, other)]
    for name in wrong[:_SHOWN]:
        sheet.problem(subject, name, "is not as it is made again")
    if len(wrong) > _SHOWN:
        sheet.problem(subject, "list", f"and {len(wrong) - _SHOWN} more rows are not", len(wrong), "rows")
