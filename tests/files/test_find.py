"""Finding the train file that a user means, and values as plain JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from fitplan.errors import InputError
from fitplan.files.catalogue import examples_folder
from fitplan.files.find import example_names, find_train
from fitplan.files.plain_json import to_plain
from fitplan.model.solids import Box, Place, poses
from tests.files.lines import line


def test_path_folder_and_example_are_found(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file is taken as it is, a folder for the train in it, and a bare name for an example."""
    (tmp_path / "mine").mkdir()
    train = tmp_path / "mine" / "train.yaml"
    train.write_text("train: mine", encoding="utf-8")
    assert find_train(str(train)) == train
    assert find_train(str(tmp_path / "mine")) == train
    monkeypatch.chdir(tmp_path)
    for name in example_names():
        assert find_train(name) == examples_folder() / name / "train.yaml"


def test_what_is_not_there_is_told_with_the_nearest_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A misspelt name of an example or of a file leads to the one that is there."""
    monkeypatch.chdir(tmp_path)
    name = example_names()[0]
    with pytest.raises(InputError, match=f"found nothing of this name; .*did you mean '{name}'"):
        find_train(f"{name}s")
    (tmp_path / "train.yaml").write_text("train: mine", encoding="utf-8")
    with pytest.raises(InputError, match=r"did you mean 'train.yaml'"):
        find_train(str(tmp_path / "trian.yaml"))


def test_values_become_plain_json() -> None:
    """Dataclasses, alone or in sequences, are objects of plain values; a pose is its name."""
    place = Place(poses()[0], (1.0, 2.0, 3.0))
    assert to_plain(place) == {"pose": "+x+y+z", "offset": [1.0, 2.0, 3.0]}
    assert to_plain((Box((0.0, 0.0, 0.0), (1.0, 1.0, 1.0)),)) == [
        {"low": [0.0, 0.0, 0.0], "high": [1.0, 1.0, 1.0]}
    ]
    parts = list(line().catalogue.values())
    assert json.loads(json.dumps(to_plain(parts)))[0]["id"] == parts[0].id
