"""Which candidates are tried before anything has a place: one at a time, those with fewer stops are kept."""

from __future__ import annotations

import pytest

from fitplan.checks import registry
from fitplan.checks.registry import run_unplaced_checks
from fitplan.checks.settings import CheckSettings
from fitplan.model.found import Finding, Outcome
from fitplan.model.train import Train
from tests.circuit.sample_parts import need, part, train


class Judge:
    """Stands in for the checks: so many stops for each first candidate, by its id, and two notes."""

    def __init__(self, **stops: int) -> None:
        self.stops = stops
        self.asked: list[str] = []

    def __call__(self, train: Train, settings: CheckSettings) -> tuple[Outcome, ...]:
        first = [one.candidates[0].id for one in train.needs]
        self.asked.append(" ".join(first))
        each = [
            Finding("nets", severity, name, "", 0.0, 0.0, "", "", "")  # type: ignore[arg-type]
            for name in first
            for severity in (*("stop",) * self.stops.get(name, 0), "note", "caution")
        ]
        return (Outcome("nets", tuple(each[::2])), Outcome("pins", tuple(each[1::2])))


def taken(judge: Judge, monkeypatch: pytest.MonkeyPatch, *needs: str) -> list[str]:
    """The first candidates of each need in what is answered."""
    monkeypatch.setattr(registry, "_unplaced", judge)
    made = train([need(f"n{i}", *map(part, names.split())) for i, names in enumerate(needs)], [])
    outcomes = run_unplaced_checks(made)
    found = {one.where for outcome in outcomes for one in outcome.findings}
    return [name for names in needs for name in names.split() if name in found]


@pytest.mark.parametrize(
    ("stops", "needs", "found", "tried"),
    [
        ({}, ("a b", "c d"), ["a", "c"], 1),
        ({"b": 1}, ("a b", "c d"), ["a", "c"], 1),
        ({"a": 1}, ("a b", "c d"), ["b", "c"], 2),
        ({"a": 1, "c": 1}, ("a b", "c d"), ["b", "d"], 3),
        ({"a": 1, "b": 1}, ("a b",), ["a"], 2),  # no better
        ({"a": 1, "b": 2}, ("a b",), ["a"], 2),
        ({"a": 3, "b": 2, "x": 1, "y": 2}, ("a b x y",), ["x"], 4),
        ({"a": 3, "b": 2}, ("a b x y",), ["x"], 3),  # with none left no more is tried
        ({"c": 1}, ("a", "c d", "e f"), ["a", "d", "e"], 2),
        ({"c": 1}, ("a b", "c"), ["a", "c"], 2),
    ],
)
def test_the_candidate_that_leaves_fewer_stops(
    stops: dict[str, int], needs: tuple[str, ...], found: list[str], tried: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """Need by need in order, every other need as it was taken before."""
    judge = Judge(**stops)
    assert taken(judge, monkeypatch, *needs) == found
    assert len(judge.asked) == tried
    assert all(len(one.split()) == len(needs) for one in judge.asked)


def test_a_candidate_that_is_tried_keeps_the_others_behind_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each candidate is tried once, none is lost."""
    seen: list[list[str]] = []

    def judge(made: Train, settings: CheckSettings) -> tuple[Outcome, ...]:
        seen.append([one.id for one in made.needs[0].candidates])
        return (Outcome("nets", (Finding("nets", "stop", "a", "", 0.0, 0.0, "", "", ""),)),)

    monkeypatch.setattr(registry, "_unplaced", judge)
    run_unplaced_checks(train([need("n", *map(part, "abc")), need("m", part("d"))], []))
    assert seen == [["a", "b", "c"], ["b", "a", "c"], ["c", "a", "b"]]


@pytest.mark.parametrize("good", [24, 25])
def test_no_more_than_two_dozen_are_tried(good: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The 24th other candidate is looked at, the 25th is not."""
    names = [f"c{i}" for i in range(27)]
    judge = Judge(**{name: 1 for i, name in enumerate(names) if i != good})
    assert taken(judge, monkeypatch, " ".join(names)) == [f"c{good}" if good == 24 else "c0"]
    assert len(judge.asked) == 1 + 24
