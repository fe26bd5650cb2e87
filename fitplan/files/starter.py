"""Trains to start from: the starter with its comments, or a copy of an example; each plans as it stands."""

from __future__ import annotations

from pathlib import Path

from fitplan.errors import InputError, Mistake, OutputError, nearest_name
from fitplan.files.catalogue import examples_folder
from fitplan.files.find import TRAIN_FILE, example_names
from fitplan.files.write import write_folder

STARTER_FOLDER = Path(__file__).resolve().parent / "starter"
"""Where the starter's files lie in the package."""
GALLERY_FOLDER = Path(__file__).resolve().parent / "gallery"
"""Where further trains to start from lie in the package, a folder each."""
STARTER_FILES = (TRAIN_FILE, "railcar.yaml", "parts/own-part.yaml")
"""The files of the starter; the first is the train file."""
_COPIED = (".yaml", ".glb", ".stl", ".npz")
"""Endings of the files of an example that its train is read from."""


def write_starter(folder: Path) -> Path:
    """Write the starter's files into a new or empty folder, and return the path of its train file.

    Raises
    ------
    OutputError
        When the folder holds anything already, or cannot be written.
    """
    return _write_new(Path(folder), {name: (STARTER_FOLDER / name).read_bytes() for name in STARTER_FILES})


def gallery_names() -> tuple[str, ...]:
    """Return the names of the trains to start from; `railcar` is the starter with its comments."""
    return tuple(sorted(["railcar", *(path.parent.name for path in GALLERY_FOLDER.glob(f"*/{TRAIN_FILE}"))]))


def write_copy(folder: Path, example: str) -> Path:
    """Write a copy of a train into a new or empty folder, and return the path of its train file.

    Parameters
    ----------
    example
        Its name in the gallery, or an example's; blanks may stand for hyphens.

    Raises
    ------
    InputError
        When there is none of this name.
    OutputError
        When the folder holds anything already, or cannot be written.
    """
    name = "-".join(example.lower().split())
    if name == "railcar":
        return write_starter(folder)
    if name not in (*gallery_names(), *example_names()):
        expected = f"a starter: {', '.join(gallery_names())}; or an example: {', '.join(example_names())}"
        near = nearest_name(name, [*gallery_names(), *example_names()])
        raise InputError([Mistake(Path(example), 0, 0, "no starter or example of this name", expected, near)])
    source = (GALLERY_FOLDER if name in gallery_names() else examples_folder()) / name
    files = {
        path.relative_to(source).as_posix(): path.read_bytes()
        for path in sorted(source.rglob("*"))
        if path.suffix in _COPIED
    }
    return _write_new(Path(folder), files)


def _write_new(folder: Path, files: dict[str, bytes]) -> Path:
    try:
        full = folder.is_dir() and any(folder.iterdir())
    except OSError as error:
        raise OutputError(f"cannot read {folder}: {error.strerror or error}") from None
    if full:
        raise OutputError(f"{folder} is not empty: name a folder that does not exist yet")
    write_folder(folder, files)
    return folder / TRAIN_FILE
