"""The starter: a small train with comments in its files that plans as it stands."""

from __future__ import annotations

from pathlib import Path

from fitplan.errors import OutputError
from fitplan.files.write import write_folder

STARTER_FOLDER = Path(__file__).resolve().parent / "starter"
"""Where the starter's files lie in the package."""
STARTER_FILES = ("train.yaml", "railcar.yaml", "parts/own-part.yaml")
"""The files of the starter; the first is the train file."""


def write_starter(folder: Path) -> Path:
    """Write the starter's files into a new or empty folder, and return the path of its train file.

    Raises
    ------
    OutputError
        When the folder holds anything already, or cannot be written.
    """
    folder = Path(folder)
    try:
        full = folder.is_dir() and any(folder.iterdir())
    except OSError as error:
        raise OutputError(f"cannot read {folder}: {error.strerror or error}") from None
    if full:
        raise OutputError(f"{folder} is not empty: name a folder that does not exist yet")
    write_folder(folder, {name: (STARTER_FOLDER / name).read_bytes() for name in STARTER_FILES})
    return folder / STARTER_FILES[0]
