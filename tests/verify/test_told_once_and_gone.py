"""What no wire reaches is told once, and of what was built what has no place any more has to go."""

from __future__ import annotations

import itertools
from types import SimpleNamespace
from typing import Any

import pytest

from fitplan.model.wired import Unreached
from fitplan.verify import choice, kept
from fitplan.verify.choice import check_choice
from fitplan.verify.kept import _has_to_go
from fitplan.verify.result import Tally


def test_what_no_wire_reaches_is_told_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each of several is; twice the same is a problem, once for each; how many there are is trusted."""
    for name in ("_verdict", "_options", "_rebuilds", "_left_out"):
        monkeypatch.setattr(choice, name, lambda plan, sheet: None)
    one, two, three = (Unreached("n", owner, "p", "why") for owner in ("a", "b", "c"))
    for lost, twice in (
        ((), []),
        ((one,), []),
        ((one, two, three), []),
        ((one, two, one), [one]),
        ((two, two, two, one, one, three), [one, two]),
    ):
        plan: Any = SimpleNamespace(
            built=SimpleNamespace(harness=SimpleNamespace(unreached=lost), placements=()), proved=False
        )
        sheet = Tally()
        check_choice(plan, sheet)
        assert [problem.message for problem in sheet.report().problems] == [
            f"is told twice: {entry}" for entry in sorted(map(str, twice))
        ]


@pytest.mark.parametrize("ends", list(itertools.product(["S1", "S2", "pin"], repeat=2)))
@pytest.mark.parametrize("goes", [0, 1, 2, 3])
def test_a_splice_has_to_go_with_any_wire_that_ends_in_it(
    monkeypatch: pytest.MonkeyPatch, ends: tuple[str, str], goes: int
) -> None:
    """At either end, by its own name; a pin of that name, or wires elsewhere, are nothing to it."""

    def end(name: str) -> Any:
        return SimpleNamespace(
            kind="pin" if name == "pin" else "splice", owner="S1" if name == "pin" else name
        )

    wires = [
        SimpleNamespace(number=0, start=end(ends[0]), end=end(ends[1])),
        SimpleNamespace(number=1, start=end("S2"), end=end("pin")),
    ]
    monkeypatch.setattr(kept, "_wire_has_to_go", lambda wire, built, gone: bool(goes >> wire.number & 1))
    built: Any = SimpleNamespace(
        train=SimpleNamespace(vehicles=(), needs=(), as_built=SimpleNamespace(wires=wires))
    )
    for name in ("S1", "S2", "S3"):
        one: Any = SimpleNamespace(thing="splice", name=name)
        wanted = (bool(goes & 1) and name in ends) or (bool(goes & 2) and name == "S2")
        assert _has_to_go(one, built, set()) is wanted
    for number in (0, 1):
        wire: Any = SimpleNamespace(thing="wire", name=str(number))
        assert _has_to_go(wire, built, set()) is bool(goes >> number & 1)


@pytest.mark.parametrize(
    ("vehicle", "part", "need", "goes"),
    [("a", "eye", "p", False), ("gone", "eye", "p", True), ("a", "lamp", "p", True), ("a", "eye", "q", True)],
)
def test_a_part_has_to_go_without_its_vehicle_its_need_or_its_kind(
    vehicle: str, part: str, need: str, goes: bool
) -> None:
    candidates = [SimpleNamespace(id="eye"), SimpleNamespace(id="other")]
    built: Any = SimpleNamespace(
        train=SimpleNamespace(
            vehicles=[SimpleNamespace(name=name) for name in "ab"],
            needs=[SimpleNamespace(name=need, candidates=candidates)],
            as_built=SimpleNamespace(
                parts=[
                    SimpleNamespace(need="other", vehicle="nowhere", part="none"),
                    SimpleNamespace(need="p", vehicle=vehicle, part=part),
                ]
            ),
        )
    )
    one: Any = SimpleNamespace(thing="part", name="p")
    assert _has_to_go(one, built, set()) is goes
    assert _has_to_go(SimpleNamespace(thing="coupling", name="p"), built, set()) is False  # type: ignore[arg-type]
