"""Writing files so that they appear whole or not at all."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path, PurePosixPath

from fitplan.errors import OutputError


def write_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a folder: all of them, or none.

    Everything is written beside its goal first. A new folder then appears in one step; in a folder that is
    there already the files are moved to their places, and when a move fails, what was moved is put back.
    Files of the same names are replaced, others are left alone.

    Parameters
    ----------
    folder
        Where the files go.
    files
        Contents by name; a name may lead into subfolders (``sheets/loco.svg``).

    Raises
    ------
    OutputError
        When the folder or a file in it cannot be written; nothing is changed then.
    """
    folder = Path(folder)
    contents = {safe_name(name): content for name, content in files.items()}
    made: list[Path] = []
    stage: Path | None = None
    try:
        check_goals(folder, [folder / name for name in contents])
        is_new = not folder.exists()
        place = folder.parent if is_new else folder
        _make(place, made)
        stage = Path(tempfile.mkdtemp(prefix=".fitplan-", dir=place))
        whole = stage / "new"
        whole.mkdir()
        for name, content in contents.items():
            (whole / name).parent.mkdir(parents=True, exist_ok=True)
            (whole / name).write_bytes(content)
        if is_new:
            os.rename(whole, folder)  # noqa: PTH104 - fails when the goal has appeared meanwhile
        else:
            for name in contents:
                _make((folder / name).parent, made)
            _move_all({folder / name: whole / name for name in contents}, stage)
    except OSError as error:
        _remove(stage, made)
        raise OutputError(f"cannot write to {folder}: {error.strerror or error}") from None
    except BaseException:
        _remove(stage, made)
        raise
    _remove(stage, [])


def write_file(path: Path, content: bytes) -> None:
    """Write one file: whole, or not at all.

    Raises
    ------
    OutputError
        When it cannot be written; what stood there before is then still there.
    """
    path = Path(path)
    write_folder(path.parent, {path.name: content})


def safe_name(name: str) -> PurePosixPath:
    """Return a name inside a folder as a path.

    Raises
    ------
    ValueError
        When it leads out of the folder.
    """
    inside = PurePosixPath(name)
    if inside.is_absolute() or ".." in inside.parts or not inside.parts:
        raise ValueError(f"the file name {name!r} leads out of the folder")
    return inside


def check_goals(folder: Path, goals: Iterable[Path]) -> None:
    """Refuse goals that cannot be files before anything is touched."""
    for place in (folder, *folder.parents):
        if place.exists():
            if not place.is_dir():
                raise OutputError(f"cannot write to {folder}: {place} is a file, expected a folder")
            break
    for goal in goals:
        if goal.is_dir():
            raise OutputError(f"cannot write {goal}: a folder of that name stands there")
        for place in goal.parents:
            if place == folder:
                break
            if place.exists() and not place.is_dir():
                raise OutputError(f"cannot write {goal}: {place} is a file, expected a folder")


def _make(folder: Path, made: list[Path]) -> None:
    missing = [place for place in (folder, *folder.parents) if not place.exists()]
    for place in reversed(missing):
        place.mkdir()
        made.append(place)


def _move_all(staged: Mapping[Path, Path], stage: Path) -> None:
    """Move the staged files to their goals; put everything back when one move fails."""
    done: list[tuple[Path, Path | None]] = []
    try:
        for number, (goal, new) in enumerate(staged.items()):
            old = None
            if goal.exists() or goal.is_symlink():
                old = stage / f"old-{number}"
                os.replace(goal, old)  # noqa: PTH105 - the same call as below, for one kind of failure
            done.append((goal, old))
            os.replace(new, goal)  # noqa: PTH105
    except BaseException:
        for goal, old in reversed(done):
            with contextlib.suppress(OSError):
                goal.unlink(missing_ok=True)
                if old is not None:
                    os.replace(old, goal)  # noqa: PTH105
        raise


def _remove(stage: Path | None, made: list[Path]) -> None:
    """Remove the stage and, the innermost first, the folders that were made and are empty."""
    if stage is not None:
        shutil.rmtree(stage, ignore_errors=True)
    for place in reversed(made):
        with contextlib.suppress(OSError):
            place.rmdir()
