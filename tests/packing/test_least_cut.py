"""How much is to be taken off one of several parts so that all go in: the least, beside every cut."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

import fitplan.packing.vehicle.shortage as shortage
from fitplan.budget import Budget
from fitplan.packing.vehicle.shortage import _least_cut, _Shortening


def cut(
    monkeypatch: pytest.MonkeyPatch, most: dict[str, tuple[int, ...]], enough: dict[tuple[str, int], int]
) -> Any:
    """The least cut where items may lose so much along an axis, and where so much off one is enough."""
    tried: list[tuple[str, int, int]] = []

    class Asking:
        def __init__(self, problem: Any, items: Any, budget: Any, seed: int) -> None:
            assert [item.name for item in items] == [name for name in "abc" if name in most]

        def fits(self, item: Any, axis: int, length: int) -> bool:
            tried.append((item.name, axis, length))
            return length >= enough.get((item.name, axis), 10**6)

    monkeypatch.setattr(shortage, "_Shortening", Asking)
    monkeypatch.setattr(shortage, "most_cut", lambda shape, axis, clear: shape[axis])
    items = [
        SimpleNamespace(
            name=name,
            variants=[SimpleNamespace(shape=most.get(name, (9, 9, 9))), SimpleNamespace(shape=(0, 0, 0))],
        )
        for name in "abc"
    ]
    problem: Any = SimpleNamespace(items=items)
    found = _least_cut(problem, list(most), Budget(1), 0)
    assert all(length > 0 for *_, length in tried)
    return found


def test_the_least_cut_is_what_any_part_along_any_axis_can_do_with(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = {"a": (40, 30, 20), "b": (50, 50, 50)}
    assert cut(monkeypatch, whole, {}) is None
    for least in (1, 2, 7, 19, 20):
        assert cut(monkeypatch, whole, {("a", 2): least}) == (least, 2, "a")
        assert cut(monkeypatch, whole, {("b", 1): least, ("a", 0): 31}) == (least, 1, "b")
        assert cut(monkeypatch, whole, {("a", 0): least, ("b", 1): 31}) == (least, 0, "a")
        # Of equals the first that was found.
        assert cut(monkeypatch, whole, {("a", 1): least, ("b", 0): least}) == (least, 1, "a")
    assert cut(monkeypatch, whole, {("a", 2): 21}) is None
    assert cut(monkeypatch, {"a": (0, 0, 1), "c": (0, 3, 0)}, {("a", 2): 1, ("c", 1): 1}) == (1, 2, "a")
    assert cut(monkeypatch, {"a": (0, 0, 0), "c": (0, 3, 0)}, {("c", 1): 1}) == (1, 1, "c")


def test_a_cut_is_asked_of_the_poses_that_are_long_enough_while_the_budget_lasts(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[Any] = []
    answers = iter(["fits", "not_decided", "cannot_fit", "fits"])

    def solved(problem: Any, budget: Budget, *, seed: int, proofs: bool) -> Any:
        asked.append((problem.items, budget.steps, seed, proofs))
        return SimpleNamespace(status=next(answers), work=400)

    monkeypatch.setattr(shortage, "solve", solved)
    monkeypatch.setattr(shortage, "most_cut", lambda shape, axis, clear: shape[axis])
    monkeypatch.setattr(
        shortage,
        "shortened",
        lambda variant, space, axis, clear, length: f"{variant.shape} less {length} in {space}",
    )
    monkeypatch.setattr(shortage, "replace", lambda item, variants: (item, variants))
    monkeypatch.setattr(shortage, "PackingProblem", lambda spaces, items: SimpleNamespace(items=items))
    item: Any = SimpleNamespace(variants=[SimpleNamespace(shape=(n, 5, 0), space=n % 2) for n in (3, 4, 6)])
    other: Any = "another"
    problem: Any = SimpleNamespace(spaces=("even", "odd"))
    asking = _Shortening(problem, [other, item], Budget(1000), 8)
    assert [asking.fits(item, 0, length) for length in (4, 3)] == [True, False]
    assert asked[0][0] == ("another", (item, ("(4, 5, 0) less 4 in even", "(6, 5, 0) less 4 in even")))
    assert len(asked[1][0][1][1]) == 3
    assert asked[0][1:] == (round(1000 * 0.01 / 0.1), 8, False)
    # What no pose can lose is not asked; after 1200 of 1000 steps nothing is.
    assert not asking.fits(item, 0, 7)
    assert not asking.fits(item, 2, 1)
    assert len(asked) == 2
    assert [asking.fits(item, 0, 3), asking.fits(item, 0, 3)] == [False, False]
    assert len(asked) == 3
