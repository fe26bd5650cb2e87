"""What is to be done: told once, with what is most pressing."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from fitplan.model.found import Finding, Severity
from fitplan.report.lists.actions import actions_of


def told(*found: tuple[Severity, str, str]) -> list[tuple[Severity, str, str]]:
    """Return weight, place and words of what is to be done, of findings given alike."""
    findings = tuple(
        Finding("power", weight, where, "", 1.0, 0.0, "mA", remedy, "") for weight, where, remedy in found
    )
    plan: Any = SimpleNamespace(
        findings=findings, built=SimpleNamespace(rebuilds=()), rebuilds=(), train=SimpleNamespace(vehicles=())
    )
    return [(one.weight, one.place, one.words) for one in actions_of(plan)]


def test_one_remedy_of_one_place_is_told_with_the_weightier() -> None:
    """A fuse that trips in running and bears too much is exchanged once, and not when only one is wrong."""
    assert told(("caution", "fuse", "exchange it"), ("stop", "fuse", "exchange it")) == [
        ("stop", "fuse", "exchange it")
    ]
    assert told(("caution", "fuse", "exchange it")) == [("caution", "fuse", "exchange it")]


def test_what_is_asked_of_several_places_stands_together_by_weight() -> None:
    assert told(
        ("caution", "a", "exchange it"), ("stop", "b", "exchange it"), ("caution", "c", "exchange it")
    ) == [("stop", "b", "exchange it"), ("caution", "a, c", "exchange it")]


def test_nothing_to_do_is_no_action() -> None:
    assert told(("note", "a", "nothing to do"), ("note", "b", "nothing to do at this speed")) == []
