"""What of the order of work stands as it was built: a change to a train that runs begins there."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fitplan.model.as_built import NOTHING_BUILT
from fitplan.model.plan import Plan
from fitplan.model.work import Act, WorkStep
from fitplan.report.lists.wording import counted, runs_word

AS_BUILT = "stands as built: "
"""Before the words of a step of which nothing is left to do."""
_SHARED: tuple[Act, ...] = ("cut", "join", "crimp", "house", "thread")
"""Steps of which a part may be left to do, wire by wire."""


@dataclass(frozen=True)
class Standing:
    """What stays as it was built: wires by number, parts by need, splices by name; nothing in a new train."""

    wires: frozenset[int]
    parts: frozenset[str]
    splices: frozenset[str]

    @classmethod
    def of(cls, plan: Plan) -> Standing:
        """Return what a plan leaves as it was built."""
        before = plan.built.train.as_built
        if before == NOTHING_BUILT:
            return cls(frozenset(), frozenset(), frozenset())
        undone = {(one.thing, one.name) for one in plan.rework.changes}
        wires = {one.number for one in before.wires if ("wire", str(one.number)) not in undone}
        wires |= {one.second for one in before.wires if one.second and one.number in wires}
        parts = {one.need for one in before.parts}
        return cls(
            frozenset(wires & {wire.number for wire in plan.built.harness.wires}),
            frozenset(name for name in parts if not undone & {("part", name), ("addition", name)}),
            frozenset(one.name for one in before.splices if ("splice", one.name) not in undone),
        )

    def holds(self, step: WorkStep) -> bool:
        """Tell whether nothing of a step is left to do; lids and readings are done each time."""
        if step.act in ("place", "fasten"):
            return set(step.parts) <= self.parts
        if step.act not in ("splice", *_SHARED):
            return False
        worked = {*step.wires, *(number for number, _ in step.ends)}
        stays = bool(worked) and worked <= self.wires and set(step.parts) <= self.parts
        return stays and (not step.splice or step.splice in self.splices)

    def left(self, step: WorkStep) -> WorkStep:
        """Return a step with what is left to do of it alone: all of it where its part does not stay."""
        if step.act not in _SHARED or self.holds(step) or not set(step.parts) <= self.parts:
            return step
        wires = tuple(number for number in step.wires if number not in self.wires)
        ends = tuple(end for end in step.ends if end[0] not in self.wires)
        return replace(step, wires=wires, ends=ends)

    def told(self, step: WorkStep) -> str:
        """Return what stands of a step that has something left to do, as the end of its words."""
        there = sorted(set(step.wires) - set(self.left(step).wires))
        if not there:
            return ""
        many = len(there) > 1
        return (
            f" (wire{'s' if many else ''} {runs_word(tuple(there))} {'stand' if many else 'stands'} as built)"
        )


def standing_words(plan: Plan) -> str:
    """Return how to read the order of work of a change, in a sentence; empty for a new train."""
    if not plan.work.steps or plan.built.train.as_built == NOTHING_BUILT:
        return ""
    undone = plan.rework.undone
    first = f"First undo what the list of changes names ({counted(undone, 'thing')}). " if undone else ""
    return (
        f"{first}The train is built in part: what stands is marked, and done again only where it had to come "
        "out to get at what is new."
    )
