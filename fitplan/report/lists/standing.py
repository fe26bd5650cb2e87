"""The order of work of a change to what is built: which steps stand, and what is left of the others."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.as_built import Standing
from fitplan.model.plan import Plan
from fitplan.model.work import Act, WorkStep
from fitplan.report.lists.wording import runs_word

AS_BUILT = "stands as built: "
"""Before the words of a step of which nothing is left to do."""
_SHARED: tuple[Act, ...] = ("cut", "join", "crimp", "house", "thread")
"""Steps of which a part may be left to do, wire by wire."""


def standing_of(plan: Plan) -> Standing:
    """Return what a plan leaves as it was built."""
    return Standing.of(plan.built.train.as_built, plan.rework)


def stands(step: WorkStep, there: Standing) -> bool:
    """Tell whether nothing of a step is left to do; lids and readings are done each time."""
    if step.act in ("place", "fasten"):
        return set(step.parts) <= there.parts
    if step.act not in ("splice", *_SHARED):
        return False
    worked = {*step.wires, *(number for number, _ in step.ends)}
    stays = bool(worked) and worked <= there.wires and set(step.parts) <= there.parts
    return stays and (not step.splice or step.splice in there.splices)


def left_of(step: WorkStep, there: Standing) -> WorkStep:
    """Return a step with what is left to do of it alone: all of it where its part does not stay."""
    if step.act not in _SHARED or stands(step, there) or not set(step.parts) <= there.parts:
        return step
    wires = tuple(number for number in step.wires if number not in there.wires)
    ends = tuple(end for end in step.ends if end[0] not in there.wires)
    return replace(step, wires=wires, ends=ends)


def what_stands_of(step: WorkStep, there: Standing) -> str:
    """Return which wires of a step stand that has something left to do, as the end of its words."""
    wires = sorted(set(step.wires) - set(left_of(step, there).wires))
    if not wires:
        return ""
    many = len(wires) > 1
    return f" (wire{'s' if many else ''} {runs_word(wires)} {'stand' if many else 'stands'} as built)"
