"""Trains drawn with the ruler's forms are read, whatever becomes of them; small ones are planned and held."""

from __future__ import annotations

from pathlib import Path

import pytest

from fitplan.files.read import read_train
from fitplan.planning.run import plan_train
from fitplan.verify import verify
from tests.hidden.measured_trains import write_measured_train


def test_every_drawing_is_read(tmp_path: Path) -> None:
    """Of any seed the files are read without a mistake, and the same seed draws the same train."""
    lengths = set()
    for seed in range(12):
        folder = tmp_path / str(seed)
        folder.mkdir()
        train = read_train(write_measured_train(seed, folder))
        again = read_train(write_measured_train(seed, folder))
        assert train == again
        lengths.add(len(train.vehicles))
        assert train.vehicle("loco").vehicle.built_in
    assert len(lengths) > 1


@pytest.mark.parametrize("seed", [2, 3, 332])
def test_what_comes_out_holds(seed: int, tmp_path: Path) -> None:
    """A window that is too small, a train watched at its rear alone, a sensor shut out: told, and held."""
    plan = plan_train(read_train(write_measured_train(seed, tmp_path)))
    assert verify(plan).problems == ()
    assert any(one.severity == "stop" for one in plan.findings)
