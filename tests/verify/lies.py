"""What one check of the room says of a plan, and small changes to the plan drawn up by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from fitplan.model.plan import Plan
from fitplan.model.wired import Wire
from fitplan.verify.result import Problem, Tally

Check = Callable[..., None]


def problems(check: Check, *about: object) -> tuple[Problem, ...]:
    """Run one check alone and return its problems."""
    sheet = Tally()
    check(*about, sheet)
    return sheet.report().problems


def notes(check: Check, *about: object) -> tuple[Problem, ...]:
    """Run one check alone and return its notes."""
    sheet = Tally()
    check(*about, sheet)
    return sheet.report().notes


def only(check: Check, *about: object, words: str, figure: float | None = None) -> Problem:
    """Return the one problem that a check has; it says this, and is this large."""
    (problem,) = problems(check, *about)
    assert words in problem.message, problem
    assert figure is None or abs(problem.figure - figure) < 1e-3, problem
    return problem


def built_with(old: Plan, **changes: Any) -> Plan:
    return replace(old, built=replace(old.built, **changes))


def harness_with(old: Plan, **changes: Any) -> Plan:
    return built_with(old, harness=replace(old.built.harness, **changes))


def train_with(old: Plan, **changes: Any) -> Plan:
    return built_with(old, train=replace(old.built.train, **changes))


def wire_with(old: Plan, number: int, **changes: Any) -> Plan:
    wires: tuple[Wire, ...] = old.built.harness.wires
    return harness_with(old, wires=tuple(replace(w, **changes) if w.number == number else w for w in wires))


def needs_with(old: Plan, name: str, **changes: Any) -> Plan:
    needs = old.built.train.needs
    return train_with(old, needs=tuple(replace(n, **changes) if n.name == name else n for n in needs))


def placed_with(old: Plan, name: str, **changes: Any) -> Plan:
    placed = old.built.placements
    return built_with(old, placements=tuple(replace(p, **changes) if p.need == name else p for p in placed))
