"""Freezing writes places, parts and pins into the train file, and nothing else of it changes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from fitplan.errors import FitplanError
from fitplan.files.find import find_train
from fitplan.files.freeze import frozen
from fitplan.files.read import read_train
from fitplan.model.plan import Plan
from tests.conftest import Planned


def _written(name: str, text: str, folder: Path) -> Path:
    for file in find_train(name).parent.glob("*"):
        if file.is_file():
            (folder / file.name).write_bytes(file.read_bytes())
    path = folder / "train.yaml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize("name", ["harbour-line", "market-tram"])
def test_a_frozen_file_holds_all_places_parts_and_pins(planned: Planned, name: str, tmp_path: Path) -> None:
    """Read again, every need lies where the plan has it, and no net asks for any pin any more."""
    plan = planned(name)
    before = find_train(name).read_text(encoding="utf-8")
    text = frozen(before, plan)
    train = read_train(_written(name, text, tmp_path))
    for placement in plan.built.placements:
        need = train.need(placement.need)
        assert need.pinned is not None
        assert need.pinned.is_whole
        assert need.pinned.vehicle == placement.vehicle
        assert need.pinned.pose == placement.place.pose.name
        assert need.pinned.offset == pytest.approx(placement.place.offset, abs=1e-4)
        assert [part.id for part in need.candidates] == [placement.part.id]
    assert not any(ref.pin == "*" for net in train.nets for ref in net.joins)
    fixed = {(ref.owner, net.name, ref.pin) for net in train.nets for ref in net.joins}
    for use in plan.built.pin_map:
        assert not use.net or (use.controller, use.net, use.pin) in fixed
    comments = re.compile(r"#.*$", re.MULTILINE)
    kept = [line for line in before.splitlines() if not line.startswith("usual nets")]
    assert comments.findall(text) == comments.findall("\n".join(kept))
    keys = [line.split(":")[0] for line in text.splitlines() if line[:1].strip()]
    assert [key for key in keys if key != "nets"] == [
        line.split(":")[0] for line in kept if line[:1].strip() and not line.startswith("nets")
    ]
    assert frozen(text, plan) == text


def test_another_file_is_refused(harbour_plan: Plan) -> None:
    """A file that lacks a need of the plan is not its file."""
    with pytest.raises(FitplanError, match="not the file of this plan"):
        frozen(find_train("market-tram").read_text(encoding="utf-8"), harbour_plan)
    with pytest.raises(FitplanError, match="no train file"):
        frozen("- 1\n", harbour_plan)
