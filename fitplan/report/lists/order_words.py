"""What is known of the order of work, and how to read it, in a few sentences."""

from __future__ import annotations

from fitplan.model.as_built import NOTHING_BUILT
from fitplan.model.plan import Plan
from fitplan.report.lists.wording import counted, millimetres


def order_words(plan: Plan) -> str:
    """Return what is known of the order, in a sentence."""
    work = plan.work
    if not work.steps:
        return ""
    undone = "nothing is undone" if not work.undone else f"{counted(work.undone, 'step')} undone"
    iron = counted(work.iron_inside, "joint") if work.iron_inside else "none"
    proof = "no order of the parts does better" if work.proved else "another order may do better"
    lacking = (f"wire {wire} lacks {millimetres(lack)} to be joined outside" for wire, lack in work.short)
    short = f"{'; '.join(lacking)}." if work.short else ""
    change = _of_a_change(plan)
    return " ".join(
        said
        for said in (f"In this order {undone}; soldered inside a vehicle: {iron}; {proof}.", short, change)
        if said
    )


def _of_a_change(plan: Plan) -> str:
    """Return how to read the order of work of a change; empty for a new train."""
    if not plan.work.steps or plan.built.train.as_built == NOTHING_BUILT:
        return ""
    undone = plan.rework.undone
    first = f"First undo what the list of changes names ({counted(undone, 'thing')}). " if undone else ""
    return (
        f"{first}The train is built in part: what stands is marked, and done again only where it had to come "
        "out to get at what is new."
    )
