"""Findings: each whole in itself, none missing; where the checks were run again, the same as then."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from fitplan.model.found import Finding, Outcome
from fitplan.model.plan import Plan
from fitplan.verify.result import Tally

SUBJECTS = (
    "pins",
    "supply",
    "heat",
    "view",
    "stopping",
    "curves",
    "balance",
    "wire",
    "access",
    "safety",
    "wiring",
)
"""Every plan has one outcome of each of these, and of any other subject one at most."""
_NEAR = 1e-6


def check_findings(plan: Plan, again: Callable[[], Sequence[Outcome]] | None, sheet: Tally) -> None:
    """Check that outcomes are whole, tell the stops that this room can see, and are what a second run gives.

    Parameters
    ----------
    again
        Gives the outcomes of the same checks, run again on what is built; None where nobody can.
    """
    if not plan.outcomes:
        return
    named = [outcome.subject for outcome in plan.outcomes]
    for subject in dict.fromkeys((*SUBJECTS, *named)):
        sheet.count("subjects of checks")
        if named.count(subject) != 1:
            sheet.problem("findings", subject, f"has {named.count(subject)} outcomes; expected one")
    for finding in plan.findings:
        sheet.count("findings")
        _whole(finding, named, sheet)
    _unreached_are_told(plan, sheet)
    if again is None:
        everything = sum(len(outcome.findings) for outcome in plan.outcomes)
        sheet.trust("findings and tables of the checks", everything, "the checks were not run again")
        return
    fresh = {outcome.subject: outcome for outcome in again()}
    for outcome in plan.outcomes:
        if outcome.subject in fresh:
            _compare(outcome, fresh.pop(outcome.subject), sheet)
        else:
            count = len(outcome.findings) + len(outcome.tables)
            sheet.trust(f"findings and tables of {outcome.subject}", count, "it cannot be run again")
    for subject in sorted(set(fresh) - set(named)):
        sheet.problem("findings", subject, "was checked, and the plan holds no outcome of it")


def _whole(finding: Finding, named: list[str], sheet: Tally) -> None:
    where = f"{finding.subject}, {finding.where}"
    texts = (finding.where, finding.message, finding.remedy, finding.source, finding.unit)
    if not all(text.strip() for text in texts):
        sheet.problem("findings", where, "lacks a place, message, unit, remedy or source")
    if finding.subject not in named:
        sheet.problem("findings", where, "is of a subject that has no outcome")
    if math.isnan(finding.figure) or math.isnan(finding.limit):
        sheet.problem("findings", where, "has a figure that is no number")


def _unreached_are_told(plan: Plan, sheet: Tally) -> None:
    """Check that every pin that no wire reaches is a stop, and every such stop a pin."""
    stops = {(one.where, one.message) for one in plan.findings if one.severity == "stop"}
    for lost in plan.built.harness.unreached:
        where = f"{lost.owner}.{lost.pin}" if lost.owner else lost.net
        sheet.count("what no wire reaches")
        if not any(place == where or lost.net in message or where in message for place, message in stops):
            sheet.problem("findings", where, f"is reached by no wire of {lost.net}, and no stop says so")


def _compare(said: Outcome, fresh: Outcome, sheet: Tally) -> None:
    """Hold an outcome against the same check run again."""
    mine = list(said.findings)
    for finding in fresh.findings:
        sheet.count("findings found again")
        known = next((one for one in mine if same(one, finding)), None)
        if known is not None:
            mine.remove(known)
            continue
        near = next(
            (one for one in mine if (one.where, one.message) == (finding.where, finding.message)), None
        )
        what = f"{finding.severity} on {finding.where}: {finding.message}"
        if near is None:
            sheet.problem("findings", said.subject, f"lacks the {what}")
        else:
            mine.remove(near)
            sheet.problem("findings", said.subject, f"is not as found: {what}")
    for finding in mine:
        message = f"holds the {finding.severity} on {finding.where}, which is not found: {finding.message}"
        sheet.problem("findings", said.subject, message)
    sheet.count("tables and plots made again", len(fresh.tables) + len(fresh.plots))
    if len(said.tables) != len(fresh.tables) or not all(map(same, said.tables, fresh.tables)):
        sheet.problem("findings", said.subject, "has a table that is not what the check gives")
    if len(said.plots) != len(fresh.plots) or not all(map(same, said.plots, fresh.plots)):
        sheet.problem("findings", said.subject, "has a plot that is not what the check gives")


def same(one: object, other: object) -> bool:
    """Return whether two results are equal, numbers to a millionth: other machines may round otherwise."""
    if isinstance(one, int | float) and isinstance(other, int | float):
        return math.isclose(one, other, rel_tol=_NEAR, abs_tol=_NEAR) or (one != one and other != other)
    if isinstance(one, tuple) and isinstance(other, tuple):
        return len(one) == len(other) and all(map(same, one, other))
    if hasattr(one, "__dataclass_fields__") and type(one) is type(other):
        return all(same(getattr(one, name), getattr(other, name)) for name in one.__dataclass_fields__)
    return one == other
