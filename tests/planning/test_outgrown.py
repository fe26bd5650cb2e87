"""Parts that are built and no longer do with what is wanted now."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

import fitplan.planning.kept_plan as kept_plan
from fitplan.files.read import read_train
from fitplan.files.starter import write_starter
from fitplan.model.as_built import AsBuilt, BuiltPart, Rework, Reworked
from fitplan.model.found import Finding
from fitplan.model.train import Train
from fitplan.model.wired import Unreached
from fitplan.planning.kept import Released
from fitplan.planning.outgrown import NOTHING_OUTGROWN, Outgrown, outgrown
from fitplan.planning.run_state import PlanOptions

SWITCH = "  - {name: switch, part: switch-slide}\n"
FUSE = (
    "  - {name: fuse, choose: [junction-resettable-fuse-smallest, junction-resettable-fuse-small, "
    "junction-resettable-fuse]}\n"
)
LAMP = "  - {name: lamp, part: lamp-5mm}\n"


def _train(folder: Path, more: str) -> Train:
    """Return the railcar with a fuse and what is added to its needs."""
    path = write_starter(folder / "railcar")
    text = path.read_text()
    assert SWITCH in text
    path.write_text(text.replace(SWITCH, SWITCH + more))
    return read_train(path)


def _with(train: Train, **built: str) -> tuple[Train, Any]:
    """Return the train with parts built, and a plan that has them, and the first of the list of others."""
    there = tuple(
        BuiltPart(need, part, "railcar", "+x+y+z", (40.0, 12.0, 20.0)) for need, part in built.items()
    )
    chosen = [
        SimpleNamespace(
            need=need.name,
            part=next((one for one in need.candidates if one.id == built.get(need.name)), need.candidates[0]),
        )
        for need in train.needs
    ]
    plan = SimpleNamespace(built=SimpleNamespace(placements=chosen))
    return replace(train, as_built=AsBuilt(parts=there)), plan


SMALL, LARGE = "junction-resettable-fuse-small", "junction-resettable-fuse"


def test_a_fuse_that_trips_is_outgrown(tmp_path: Path) -> None:
    """It holds what the railcar takes, but not with a lamp more: another of its list is asked for."""
    plain, lit = _train(tmp_path / "a", FUSE), _train(tmp_path / "b", FUSE + LAMP)
    assert outgrown(*_with(plain, fuse=SMALL)) == NOTHING_OUTGROWN
    found = outgrown(*_with(lit, fuse=SMALL))
    assert found.parts == {"fuse"}
    assert "trips in running" in found.why
    assert "not with" not in found.why
    assert outgrown(*_with(lit, fuse=LARGE)) == NOTHING_OUTGROWN
    # What is not built is the choice's own affair.
    assert outgrown(*_with(lit)) == NOTHING_OUTGROWN


def test_where_no_other_would_do_nothing_is_exchanged(tmp_path: Path) -> None:
    """The only fuse of its list: the checks tell of it."""
    one = FUSE.replace("junction-resettable-fuse-smallest, ", "").replace(", junction-resettable-fuse]", "]")
    assert outgrown(*_with(_train(tmp_path, one + LAMP), fuse=SMALL)) == NOTHING_OUTGROWN


@pytest.mark.parametrize("goes_in", ["at once", "with its wires", "never"])
def test_it_is_exchanged_where_little_is_undone(monkeypatch: pytest.MonkeyPatch, goes_in: str) -> None:
    """The plan that exchanges it is taken where it is complete; else all stays, and the checks tell of it."""
    monkeypatch.setattr(
        kept_plan, "outgrown", lambda train, plan: Outgrown(frozenset({"fuse"}), "it trips in running")
    )
    monkeypatch.setattr(kept_plan, "_rooms_made", lambda *_: ())
    monkeypatch.setattr(kept_plan, "_at_fault", lambda plan: frozenset({"railcar"}))
    there = BuiltPart("fuse", "f", "railcar", "+x+y+z", (0.0, 0.0, 0.0))
    train: Any = SimpleNamespace(as_built=AsBuilt(parts=(there,)), needs=())
    asked: list[Released] = []

    def planned(released: Released) -> Any:
        asked.append(released)
        exchanged = "fuse" in released.parts
        sound = not exchanged or (
            goes_in == "at once" or (goes_in == "with its wires" and bool(released.vehicles))
        )
        change = Reworked("exchanged", "part", "fuse", "railcar", "put another there", "another part serves")
        return _Plan(sound, Rework((change,) if exchanged else ()))

    plan: Any = kept_plan.plan_kept(train, PlanOptions(), planned)
    assert asked[:2] == [Released(), Released(frozenset({"fuse"}))]
    assert not any(one.everything for one in asked)
    if goes_in == "never":
        assert plan.rework.changes == ()
    else:
        assert [one.why for one in plan.rework.changes] == ["it trips in running"]
    assert plan.complete


@dataclass(frozen=True)
class _Plan:
    """A plan that is complete or not."""

    complete: bool
    rework: Rework
    unplaced: tuple[str, ...] = ()
    assembly_blocked: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def built(self) -> Any:
        lost = () if self.complete else (Unreached("ground", "fuse", "a", "shut in"),)
        train = SimpleNamespace(as_built=AsBuilt(), needs=(), nets=())
        return SimpleNamespace(train=train, harness=SimpleNamespace(unreached=lost))
