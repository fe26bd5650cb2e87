"""What is to be done about a plan: what stops, what to change, set, bend and mind, in this order."""

from __future__ import annotations

import re
from dataclasses import dataclass

from fitplan.model.found import Finding, Severity
from fitplan.model.plan import Plan
from fitplan.report.lists.wording import added_words, shorten

_LENGTH = re.compile(r"\d+(?:\.\d+)? mm")
_MOST_NAMED = 3
_WEIGHTS: tuple[Severity, ...] = ("stop", "caution", "note")


@dataclass(frozen=True)
class Action:
    """One thing to do: in words, about what, where, and the first finding that asks for it."""

    words: str
    about: str
    place: str
    weight: Severity
    finding: Finding | None


def actions_of(plan: Plan) -> tuple[Action, ...]:
    """Return everything that is to be done, the most pressing first; what is asked of several is told once.

    What mends two things at one place is told with the weightier.
    First what stops the train and what must change, then bricks that come out, a fuse, what is set, how wires
    are laid; last what is always minded with cells, irons and small parts.
    """
    asking = [found for found in plan.findings if asks(found)]
    weights: dict[tuple[str, str], list[Severity]] = {}
    for found in asking:
        weights.setdefault((found.where, found.remedy), []).append(found.severity)
    asking = [
        found
        for found in asking
        if found.severity == min(weights[found.where, found.remedy], key=_WEIGHTS.index)
    ]
    together: dict[tuple[str, str], list[Finding]] = {}
    for found in asking:
        together.setdefault((found.severity, _LENGTH.sub("", found.remedy)), []).append(found)
    told = [(_rank(group[0]), _action(group)) for group in together.values()]
    told += [(_REBUILD, action) for action in _rebuilding(plan)]
    return tuple(action for _, action in sorted(told, key=lambda item: item[0]))


def asks(found: Finding) -> bool:
    """Whether something is to be done about a finding."""
    return not found.remedy.startswith("nothing to do")


_REBUILD = (2, 0)


def _rank(found: Finding) -> tuple[int, int]:
    """Return the place of a finding among all: its weight, unless it is one of what is always minded."""
    usual = found.subject == "safety" and "fuse" not in found.remedy
    if found.severity == "stop":
        return (0, 0)
    if usual:
        return (5, _WEIGHTS.index(found.severity))
    if found.severity == "caution":
        return (1, 0)
    if "fuse" in found.remedy:
        return (2, 1)
    return (3, 0) if found.subject == "stopping" else (4, 0)


def _action(group: list[Finding]) -> Action:
    """Word what several findings ask for: lengths that differ are told one after another."""
    first = group[0]
    places = list(dict.fromkeys(found.where for found in group))
    about = ", ".join(places[:_MOST_NAMED])
    if len(places) > _MOST_NAMED:
        about += f" and {len(places) - _MOST_NAMED} more"
    words = first.remedy
    lengths = [_LENGTH.findall(found.remedy) for found in group]
    if len({found.remedy for found in group}) > 1 and all(len(each) == 1 for each in lengths):
        listed = " and ".join(
            f"{each[0]} at {shorten(found.where, 40)}" for each, found in zip(lengths, group, strict=True)
        )
        words = _LENGTH.sub(lambda _: listed, first.remedy, count=1)
    return Action(words, f"{first.subject}, {about}", about, first.severity, first)


def _rebuilding(plan: Plan) -> list[Action]:
    return [
        Action(
            f"take out {', '.join(rebuild.remove) or 'nothing'}, add {added_words(rebuild)}",
            f"rebuild, {rebuild.vehicle}",
            rebuild.vehicle,
            "note",
            None,
        )
        for rebuild in plan.built.rebuilds
    ]
