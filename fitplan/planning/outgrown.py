"""Which parts that are built no longer do, with what is wanted now, where another of their candidates would.

A lamp more, and the fuse that is built in trips; a motor more, and the cells are empty too soon. Such parts
are exchanged, as few as can be: what is held to how it is built has one candidate, so the choice cannot.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from fitplan.model.part import Part
from fitplan.model.plan import Plan
from fitplan.model.train import Train
from fitplan.planning.exchanges import exchanges
from fitplan.planning.kept import may_stay
from fitplan.planning.suitability import NOT_WITH, Suitability


@dataclass(frozen=True)
class Outgrown:
    """Built parts, by need, of which other candidates would do, and why these do not."""

    parts: frozenset[str] = frozenset()
    why: str = ""


NOTHING_OUTGROWN = Outgrown()


def outgrown(train: Train, plan: Plan) -> Outgrown:
    """Return what is to be exchanged so that the parts of a plan work together; nothing where they do.

    Nothing, too, where no few others make them work: that is told by the checks.

    Parameters
    ----------
    train
        With all candidates, and what is built of it.
    plan
        A plan in which all that is built stays.
    """
    suitability = Suitability(train)
    chosen = {place.need: place.part for place in plan.built.placements}
    why = suitability.why_not(chosen)
    if not why:
        return NOTHING_OUTGROWN
    for others in _others(train, chosen):
        if not suitability.why_not({**chosen, **others}):
            return Outgrown(frozenset(others), why.partition(NOT_WITH)[0])
    return NOTHING_OUTGROWN


def _others(train: Train, chosen: Mapping[str, Part]) -> Iterator[dict[str, Part]]:
    """Yield other candidates for built parts, those of fewer parts first, then of parts with fewer wires."""
    ends = [end.owner for wire in train.as_built.wires for end in (wire.start, wire.end)]
    there = [
        one.need
        for one in train.as_built.parts
        if one.need in chosen and may_stay(train, one) and chosen[one.need].id == one.part
    ]
    there.sort(key=lambda need: (ends.count(need), need))
    return exchanges({need: train.need(need).others(chosen[need].id) for need in there})
