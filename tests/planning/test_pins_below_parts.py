"""Pins of what is built in that a part would cover: it is raised above them, where there is room."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from fitplan.files.read import read_train
from fitplan.files.starter import write_copy
from fitplan.model.built import BuiltTrain
from fitplan.model.train import Train
from fitplan.model.wired import Harness
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.wishes import Wishes
from fitplan.planning.run import plan_train
from fitplan.planning.run_state import PlanningRun, PlanOptions
from fitplan.planning.vehicle_places import LooseLayouts
from fitplan.recheck import recheck

FED_BY_A_BANK = {
    "  - {name: cells, choose: {parts: [cells-aa-4-stack, cells-aa-4], hours: 1}}\n": "",
    "  - {name: lift, part: regulator-step-up-down-5v}\n": "",
    "  - {name: switch, part: switch-slide}\n": "  - {name: bank, part: bank-stick}\n",
    "joins: [lift.out, brain.5v,": "joins: [brain.5v,",
}
"""A van with a bank as long as all of its room before the motor, instead of four cells."""


def _van(folder: Path) -> Train:
    path = write_copy(folder / "van", "road vehicle")
    text = path.read_text()
    for old, new in FED_BY_A_BANK.items():
        assert old in text
        text = text.replace(old, new)
    path.write_text(text)
    return read_train(path)


def test_a_bank_over_a_motor_leaves_its_pins_to_wires(tmp_path: Path) -> None:
    """It lies a plate above them; as low as it may it would cover them with itself or with its plug."""
    plan = plan_train(_van(tmp_path))
    assert plan.complete
    assert not recheck(plan).problems
    bank = plan.built.placement("bank")
    motor = next(one for one in plan.built.train.vehicle("van").vehicle.built_in if one.name == "motor")
    assert bank is not None
    over = [pin.at for pin in motor.pins if bank.bounds.low[0] < pin.at[0] < bank.bounds.high[0]]
    assert all(bank.bounds.low[2] >= at[2] + 3.2 - 1e-6 for at in over)


@pytest.mark.parametrize("room", [True, False])
def test_a_plate_is_kept_before_pins_that_were_walled_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, room: bool
) -> None:
    """Only once they were, only before theirs; and where that leaves no places, without."""
    asked: list[Wishes] = []

    def packed(
        self: Packer, name: str, wanted: Any, removed: Any, wishes: Wishes, **_: Any
    ) -> Packing | None:
        asked.append(wishes)
        return None if wishes.kept and not room else Packing(name, "fits", ())

    monkeypatch.setattr(Packer, "pack_roomily", packed)
    train = _van(tmp_path)
    run = PlanningRun.of(train, PlanOptions())
    built = BuiltTrain(train, (), Harness(), ())
    loose = LooseLayouts(run, built, Packing("van", "fits", ()))
    assert loose.built_in == {"van/motor"}
    for dear in (frozenset[str](), frozenset({"bank"})):
        assert loose.layout(0, dear=dear) is not None
        assert asked.pop().kept == ()
    assert loose.layout(0, dear=frozenset({"van/motor"})) is not None
    (kept,) = asked[0].kept
    assert kept.low == pytest.approx((31.0, 19.0, 38.4))
    assert kept.high == pytest.approx((33.0, 29.0, 41.6))
    assert [one.kept for one in asked[1:]] == ([] if room else [()])
