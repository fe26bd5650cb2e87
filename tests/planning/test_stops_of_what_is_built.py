"""Something more in a train that is built, and no stop where a plan that keeps nothing has none."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

import fitplan.planning.kept_plan as kept_plan
from fitplan.files.read import read_train
from fitplan.files.starter import write_copy
from fitplan.model.as_built import AsBuilt, BuiltPart, Rework, Reworked
from fitplan.model.found import Finding
from fitplan.model.plan import Plan
from fitplan.planning.kept import Released
from fitplan.planning.outgrown import NOTHING_OUTGROWN
from fitplan.planning.run import plan_train
from fitplan.planning.run_state import PlanOptions
from fitplan.recheck import recheck
from fitplan.workbench.as_built import as_built_of

BUILT = ("board", "cells", "lamp")


def _stop(subject: str = "access", what: str = "the horn") -> Finding:
    return Finding(subject, "stop", "cells in van", f"{what} must come out", 1.0, 0.0, "out", "-", "-")


@dataclass(frozen=True)
class _Plan:
    """A complete plan with some stops, that undid so much."""

    findings: tuple[Finding, ...]
    rework: Rework = field(default_factory=Rework)
    complete: bool = True
    unplaced: tuple[str, ...] = ()
    assembly: tuple[Any, ...] = ()
    assembly_blocked: tuple[str, ...] = ()

    @property
    def built(self) -> Any:
        there = tuple(BuiltPart(need, "p", "van", "+x+y+z", (0.0, 0.0, 0.0)) for need in BUILT)
        placements = tuple(SimpleNamespace(need=need, vehicle="van") for need in (*BUILT, "horn"))
        train = SimpleNamespace(vehicles=(SimpleNamespace(name="van"),), as_built=AsBuilt(parts=there))
        return SimpleNamespace(
            train=train, placements=placements, harness=SimpleNamespace(unreached=()), vehicle_of=lambda _: ""
        )


def _kept(
    monkeypatch: pytest.MonkeyPatch, stops: Any, subject: str = "access", what: str = "the horn"
) -> tuple[list[Released], Any]:
    """Return what was released one after the other, and the plan, where ``stops`` counts what stands."""
    monkeypatch.setattr(kept_plan, "outgrown", lambda train, plan: NOTHING_OUTGROWN)
    monkeypatch.setattr(kept_plan, "may_stay", lambda train, one: True)
    asked: list[Released] = []

    def planned(released: Released) -> Any:
        asked.append(released)
        undone = BUILT if released.everything else sorted(released.parts)
        changes = tuple(
            Reworked("moved", "part", one, "van", f"move {one}", "it made room") for one in undone
        )
        changes += (Reworked("new", "part", "horn", "van", "it goes in"),)
        return _Plan((_stop(subject, what),) * stops(released), Rework(changes))

    there = tuple(BuiltPart(need, "p", "van", "+x+y+z", (0.0, 0.0, 0.0)) for need in BUILT)
    train: Any = SimpleNamespace(as_built=AsBuilt(parts=there), needs=(), vehicles=())
    return asked, kept_plan.plan_kept(train, PlanOptions(), planned)


def test_the_part_that_removes_a_stop_makes_way_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wires first, then parts one at a time; all other wires are held again; why is told."""
    asked, plan = _kept(monkeypatch, lambda one: 0 if one.everything or "cells" in one.parts else 1)
    van = frozenset({"van"})
    assert asked == [
        Released(),
        Released(everything=True),
        Released(frozenset(), van),
        Released(frozenset({"board"}), van),
        Released(frozenset({"cells"}), van),
        Released(frozenset({"cells"})),
    ]
    assert plan.findings == ()
    assert [(one.name, one.why) for one in plan.rework.changes] == [
        ("cells", "else a stop stands at cells in van: the horn must come out"),
        ("horn", ""),
    ]


def test_where_nothing_helps_nothing_is_undone(monkeypatch: pytest.MonkeyPatch) -> None:
    """A plan that keeps nothing has the stop as well."""
    asked, plan = _kept(monkeypatch, lambda one: 1)
    assert asked == [Released(), Released(everything=True)]
    assert [one.name for one in plan.rework.changes] == ["horn"]


@pytest.mark.parametrize("what", ["the lamp", "the foghorn"])
def test_for_a_stop_that_stood_before_nothing_is_undone(monkeypatch: pytest.MonkeyPatch, what: str) -> None:
    """What names nothing that is new was there, or is not mended by other places of it."""
    asked, plan = _kept(monkeypatch, lambda one: 0 if one.everything else 1, what=what)
    assert asked == [Released()]
    assert len(plan.findings) == 1


def test_one_stop_fewer_is_worth_it_though_another_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    """As few as a plan that keeps nothing, no fewer are asked for."""
    asked, plan = _kept(monkeypatch, lambda one: 1 if one.everything or "lamp" in one.parts else 2)
    assert len(plan.findings) == 1
    assert [one.name for one in plan.rework.changes] == ["lamp", "horn"]
    assert asked[-1] == Released(frozenset({"lamp"}))


@pytest.mark.parametrize("subject", ["supply", "pins", "nets", "asked"])
def test_places_are_not_changed_for_what_hangs_on_parts(
    monkeypatch: pytest.MonkeyPatch, subject: str
) -> None:
    """No other place makes cells last longer."""
    asked, plan = _kept(monkeypatch, lambda one: 0 if one.everything else 1, subject)
    assert asked == [Released()]
    assert [one.name for one in plan.rework.changes] == ["horn"]


def _frozen(folder: Path) -> tuple[Path, Plan]:
    path = write_copy(folder / "train", "tipper")
    return path, plan_train(read_train(path))


def test_a_horn_in_a_tipper_that_is_built_leaves_the_cells_reached(tmp_path: Path) -> None:
    """The only place left for the horn is before the cells, so little is undone that gives it another."""
    path, plan = _frozen(tmp_path)
    assert plan.works
    text = path.read_text()
    path.write_text(text.replace("needs:\n", "needs:\n  - {name: horn, part: sounder-12mm}\n"))
    again = plan_train(replace(read_train(path), as_built=as_built_of(plan)))
    assert again.works
    assert not recheck(again).problems
    parts = [one for one in again.rework.changes if one.thing == "part" and one.change != "new"]
    assert 0 < len(parts) < len(plan.built.placements)
    assert all(one.why.startswith("else a stop stands at cells") for one in parts)
