"""Find the train file that a user means: a path, a folder, or the name of an example."""

from __future__ import annotations

from pathlib import Path

from fitplan.errors import InputError, Mistake, nearest_name
from fitplan.files.catalogue import examples_folder

TRAIN_FILE = "train.yaml"


def example_names() -> tuple[str, ...]:
    """Return the names of the bundled examples."""
    return tuple(sorted(path.parent.name for path in examples_folder().glob(f"*/{TRAIN_FILE}")))


def find_train(name: str) -> Path:
    """Return the train file of a path, of a folder with a ``train.yaml``, or of an example's name.

    Raises
    ------
    InputError
        When there is no such file, folder or example.
    """
    path = Path(name)
    if path.is_dir() and (path / TRAIN_FILE).is_file():
        return path / TRAIN_FILE
    if path.exists():
        return path
    if name in example_names():
        return examples_folder() / name / TRAIN_FILE
    near = [entry.name for entry in path.parent.glob("*")] if path.parent.is_dir() else []
    hint = nearest_name(path.name, [*near, *example_names()])
    expected = f"a train file, a folder with a {TRAIN_FILE}, or an example ({', '.join(example_names())})"
    raise InputError([Mistake(path, 0, 0, "nothing of this name", expected, hint)])
