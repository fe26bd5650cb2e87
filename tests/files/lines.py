"""A small line of two vehicles with its own catalogue, to be changed one place at a time."""

from __future__ import annotations

import shutil
from functools import cache
from pathlib import Path

from fitplan.errors import InputError
from fitplan.files.read import read_catalogue, read_train
from fitplan.model.part import Part
from fitplan.model.train import Train

DATA = Path(__file__).parent / "data"
FILES = ("train.yaml", "loco.yaml", "parts/own.yaml")


@cache
def catalogue() -> dict[str, Part]:
    return read_catalogue([DATA / "catalogue"])


def line() -> Train:
    return read_train(DATA / "line" / "train.yaml", catalogue())


def changed(folder: Path, file: str, old: str, new: str) -> Path:
    """Copy the line to a folder, change the first occurrence of a text in a file, return the train file."""
    if not folder.exists():
        shutil.copytree(DATA / "line", folder)
    text = (folder / file).read_text(encoding="utf-8")
    assert old in text
    (folder / file).write_bytes(text.replace(old, new, 1).encode("utf-8", "surrogateescape"))
    return folder / "train.yaml"


def mistakes_of(train: Path) -> list[str]:
    """Return the mistakes of a train as lines with paths from its folder, empty when there are none."""
    try:
        read_train(train, catalogue())
    except InputError as error:
        return str(error).replace(f"{train.parent}/", "").replace(f"{train.parent}\\", "").split("\n")
    return []
