"""The gallery of trains to start from: each is read without a mistake, is short, and is copied by name."""

from __future__ import annotations

from pathlib import Path

import pytest

from fitplan.errors import InputError
from fitplan.files.read import read_train
from fitplan.files.starter import gallery_names, write_copy

HALF_A_SCREEN = 30
"""Lines of a body: half of the 60 that a screen shows (common practice, no source)."""


def test_the_gallery_has_a_train_for_every_wish() -> None:
    """Eight kinds of vehicles, as a maker would name them."""
    assert gallery_names() == (
        "coach", "double-deck", "railcar", "road-vehicle", "shunter", "tank-engine", "tipper", "tram",
    )  # fmt: skip


@pytest.mark.parametrize("name", [name for name in gallery_names() if name != "railcar"])
def test_each_is_read_and_short(name: str, tmp_path: Path) -> None:
    """A body in half a screen of text, the usual nets, a part by choice and one by name."""
    path = write_copy(tmp_path / "mine", name.replace("-", " "))
    train = read_train(path)
    assert len(train.nets) >= 5
    assert any(need.choice is not None for need in train.needs)
    for body in path.parent.glob("*.yaml"):
        assert len(body.read_text("utf-8").splitlines()) <= HALF_A_SCREEN, body.name


def test_the_railcar_is_the_starter_with_its_comments(tmp_path: Path) -> None:
    """It comes with a part of the maker's own."""
    path = write_copy(tmp_path / "mine", "railcar")
    assert (path.parent / "parts" / "own-part.yaml").is_file()


def test_an_unknown_name_is_told_with_the_nearest(tmp_path: Path) -> None:
    """Nothing is written."""
    with pytest.raises(InputError, match="tank-engine"):
        write_copy(tmp_path / "mine", "tank engin")
    assert not (tmp_path / "mine").exists()
