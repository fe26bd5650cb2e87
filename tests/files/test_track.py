"""Trains that cannot stand on their track, told at the place in the train file."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from fitplan.errors import InputError
from fitplan.files.catalogue import examples_folder
from fitplan.files.read import read_train


def mistakes(tmp_path: Path, file: str, old: str, new: str) -> list[str]:
    """Return what is told of the demo train with one text in one file replaced."""
    folder = tmp_path / "train"
    shutil.copytree(examples_folder() / "harbour-line", folder)
    text = (folder / file).read_text("utf-8")
    assert old in text
    (folder / file).write_text(text.replace(old, new), "utf-8")
    with pytest.raises(InputError) as told:
        read_train(folder / "train.yaml")
    return [str(mistake).replace(f"{folder}/", "") for mistake in told.value.mistakes]


def test_a_radius_without_its_unit(tmp_path: Path) -> None:
    """40 for 40 studs: the figure, which vehicle cannot stand there, the least, and what was meant."""
    assert mistakes(tmp_path, "train.yaml", "radius: 40 studs", "radius: 40") == [
        "train.yaml:33:8: found a radius of 40 mm, in which 'ice wagon' with 144 mm from axle to axle "
        "cannot stand; expected a radius of at least 108 mm (write 40 studs for 320 mm)"
    ]


def test_couplings_that_never_meet(tmp_path: Path) -> None:
    """A coupling 80 mm above the other, with 34 mm from pivot to pivot."""
    told = mistakes(tmp_path, "ice-wagon.yaml", "height: 10, length: 9", "height: 90, length: 9")
    assert [text.split(": found ")[1].split(";")[0] for text in told] == [
        "couplings of 'shunter' and 'ice wagon' 80 mm apart in height, and 34 mm long from pivot to pivot",
        "couplings of 'ice wagon' and 'brake van' 80 mm apart in height, and 34 mm long from pivot to pivot",
    ]


def test_a_coupled_vehicle_on_one_axle(tmp_path: Path) -> None:
    """One axle steers nothing in a train."""
    told = mistakes(tmp_path, "brake-van.yaml", "at: [40, 120], driven: [no, no]", "at: [80], driven: [no]")
    assert len(told) == 1
    assert "'brake van' coupled, with 1 axle or bogie; expected two axles" in told[0]
