"""The commonest slips of a hand, told as somebody would who does not know YAML."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from fitplan.errors import InputError
from fitplan.files.catalogue import examples_folder
from fitplan.files.read import read_train


@pytest.mark.parametrize(
    ("file", "old", "new", "place", "words"),
    [
        (
            "train.yaml",
            "command delay: 0.15",
            "command delay: 0,15",
            "train.yaml:34",
            "write 0.15 with a point",
        ),
        (
            "brake-van.yaml",
            "mass:",
            "mass: 0,5 #",
            "brake-van.yaml",
            "write 0.5 with a point, not with a comma",
        ),
        ("train.yaml", "name: brain", "name:brain", "train.yaml:15", "a space after the colon of `name:`"),
        ("train.yaml", "track: {", "track:{", "train.yaml:33", "put a space after the colon of `track:`"),
        ("train.yaml", "{speed: 250", "{speed:250", "train.yaml:34", "after the colon: `speed: 250`"),
        ("train.yaml", "name: brain", 'name: "brain', "train.yaml:14:11", "a quote that is opened here"),
        ("train.yaml", "name: brain", "name: 'brain", "train.yaml:14:11", "a quote that is opened here"),
        ("train.yaml", "part: lamp-5mm", "part: Lamp_5mm", "train.yaml:20", "did you mean 'lamp-5mm'?"),
        ("train.yaml", "train: ", "train: #", "train.yaml:", "a text that begins with `#` stands in quotes"),
        ("train.yaml", "{radius: 40 studs", "{radius: 0,5", "train.yaml:33", "0.5"),
        ("train.yaml", "part: lamp-5mm", "part: LAMP_5mm", "train.yaml:20", "did you mean 'lamp-5mm'?"),
        ("brake-van.yaml", "base: ", "base: 0,5 #", "brake-van.yaml", "write 0.5 with a point"),
        (
            "train.yaml",
            "{name: shunter",
            "{name: #shunter",
            "train.yaml:9",
            "a text that begins with `#` stands",
        ),
        (
            "train.yaml",
            "running: {speed: 250, speed in",
            "running:\n  speed:250 # mm/s\n  speed in",
            "train.yaml:36",
            "colon of `speed:`, in the line above",
        ),
        ("train.yaml", "track: {", "track {", "train.yaml:33:", "put a colon after the key: `track:`"),
        ("train.yaml", "\nneeds:\n", "\nneeds\n", "train.yaml:13:1", "put a colon after it: `needs:`"),
        ("train.yaml", "{name: shunter", "{name shunter", "train.yaml:9", "the key: `name: shunter`"),
    ],
)
def test_slips(tmp_path: Path, file: str, old: str, new: str, place: str, words: str) -> None:
    """Where it is, and what to write."""
    folder = Path(shutil.copytree(examples_folder() / "harbour-line", tmp_path / "train"))
    text = (folder / file).read_text("utf-8")
    assert old in text
    (folder / file).write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(InputError) as told:
        read_train(folder / "train.yaml")
    first = str(told.value.mistakes[0])
    assert place in first
    assert words in first
    for jargon in ("mapping", "scalar", "token", "stream", "node", "parser"):
        assert jargon not in str(told.value)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("speed: 150", "speed: 0,15"), ("speed: 150", "speed:150"),
        ("part: controller-large-54", "part: CONTROLLER_large_54"),
    ],
)  # fmt: skip
def test_one_slip_is_told_once(tmp_path: Path, old: str, new: str) -> None:
    """Within braces a comma makes a key of what follows; usual nets miss no part that is merely misspelt."""
    folder = Path(shutil.copytree(examples_folder() / "narrow-crane-wagon", tmp_path / "train"))
    text = (folder / "train.yaml").read_text("utf-8")
    assert old in text
    (folder / "train.yaml").write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(InputError) as told:
        read_train(folder / "train.yaml")
    assert len(told.value.mistakes) == 1


def test_a_vehicle_file_in_the_place_of_a_train() -> None:
    """One mistake, which says what the file is."""
    with pytest.raises(InputError) as told:
        read_train(examples_folder() / "harbour-line" / "shunter.yaml")
    assert [mistake.found for mistake in told.value.mistakes] == ["the vehicle file of 'Quay shunter'"]
