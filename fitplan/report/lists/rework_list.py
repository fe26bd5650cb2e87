"""What a plan changes of what is built: a row for each thing that is new, moved, unsoldered or cut again."""

from __future__ import annotations

from collections import Counter

from fitplan.model.as_built import NOTHING_BUILT, REWORK
from fitplan.model.plan import Plan
from fitplan.report.lists.plan_list import PlanList
from fitplan.report.lists.wording import counted

_ORDER = (*REWORK, "left at home", "new")


def rework_list(plan: Plan) -> PlanList | None:
    """Return the changes, what is undone first; None where nothing was built."""
    if plan.built.train.as_built == NOTHING_BUILT:
        return None
    rows = tuple(
        (one.change, one.thing, one.name, one.vehicle, one.words, one.why, "" if one.change not in REWORK else
         "yes" if one.must else "in this plan")
        for one in sorted(plan.rework.changes, key=lambda one: _ORDER.index(one.change))
    )  # fmt: skip
    columns = ("change", "of", "name", "vehicle", "what", "why", "must go")
    return PlanList("rework", "What changes of what is built", columns, rows, rework_words(plan))


def rework_words(plan: Plan) -> str:
    """Return in a sentence or two what stays, is new and is undone; empty where nothing was built."""
    if plan.built.train.as_built == NOTHING_BUILT:
        return ""
    rework = plan.rework
    fresh = Counter(one.thing for one in rework.changes if one.change == "new")
    kept = f"{counted(rework.kept_parts, 'part')} and {counted(rework.kept_wires, 'wire')} stay as built"
    new = ", ".join(counted(count, thing) for thing, count in fresh.items())
    said = f"{kept}; {new} new." if new else f"{kept}; nothing is new."
    if not rework.undone:
        return f"{said} Nothing that is built is undone."
    undone: Counter[str] = Counter(one.change for one in rework.changes)
    what = ", ".join(f"{undone[change]} {change}" for change in REWORK if undone[change])
    if rework.proved:
        return f"{said} Undone: {what}; no plan undoes less."
    return (
        f"{said} Undone: {what}; {rework.least} of {rework.undone} must be, the others may not be the least."
    )
