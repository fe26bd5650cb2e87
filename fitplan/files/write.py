"""Writing files so that they appear whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import math
import os
import shutil
import stat
import tempfile
import time
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path, PurePosixPath

from fitplan.errors import OutputError

LEAST_FREE = 8_000_000
"""So many bytes must be free before work begins whose result is one file."""
_STAGE = ".fitplan-"
_STALE_S = 3600.0
"""What lies beside a goal and is older than this was left by a run that was killed."""


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
    with told(f"to {folder}"):
        try:
            check_goals(folder, [folder / name for name in contents])
            is_new = not folder.exists()
            place = folder.parent if is_new else folder
            _make(place, made)
            stage = Path(tempfile.mkdtemp(prefix=_STAGE, dir=place))
            whole = stage / "new"
            whole.mkdir()
            fill(whole, contents)
            if is_new:
                os.rename(whole, folder)  # noqa: PTH104 - fails when the goal has appeared meanwhile
            else:
                for name in contents:
                    _make((folder / name).parent, made)
                _move_all({folder / name: whole / name for name in contents}, stage)
        except BaseException:
            _remove(stage, made)
            raise
    _remove(stage, [])


def fill(place: Path, contents: Mapping[str, bytes] | Mapping[PurePosixPath, bytes]) -> None:
    """Write files into a folder that nobody else knows."""
    for name, content in contents.items():
        (place / name).parent.mkdir(parents=True, exist_ok=True)
        (place / name).write_bytes(content)


@contextlib.contextmanager
def told(where: str) -> Iterator[None]:
    """Tell what the system has against writing somewhere as an `OutputError`."""
    try:
        yield
    except OSError as error:
        raise OutputError(f"cannot write {where}: {error.strerror or error}") from None


def check_room(place: Path, least: int, files: int = 1) -> None:
    """Refuse a folder, or one that will be made, which cannot be written to or has no room.

    Where the system has no temporary folder that can be written to, this one serves from now on.

    Parameters
    ----------
    least
        So many bytes must be free, and one file may be that long.
    files
        So many files more must find a place.

    Raises
    ------
    OutputError
        When that is so. Nothing is left behind.
    """
    with told(f"to {place}"):
        there = next(one for one in (place, *place.absolute().parents) if one.exists())
        Path(tempfile.mkdtemp(prefix=_STAGE, dir=there)).rmdir()
        _serve_for_a_while(there)
        free = shutil.disk_usage(there).free
        left = _files_left(there)
    longest = _longest_file()
    wanted = f"and {least / 1e6:.0f} MB are wanted"
    if free < least:
        raise OutputError(f"cannot write to {place}: {free / 1e6:.0f} MB are free there, {wanted}")
    if longest < least:
        raise OutputError(
            f"cannot write to {place}: a file may be {longest / 1e6:.1f} MB long here (ulimit -f), {wanted}"
        )
    if left < files:
        raise OutputError(
            f"cannot write to {place}: the disk takes {left} files more, and {files} are wanted"
        )


def _serve_for_a_while(place: Path) -> None:
    """Let temporary files, those of libraries above all, stand in a folder where there is no other."""
    try:
        tempfile.gettempdir()
    except OSError:
        tempfile.tempdir = str(place)


def _files_left(place: Path) -> float:
    """Return how many files more a disk takes; without end where it does not count them."""
    if not hasattr(os, "statvfs"):
        return math.inf
    found = os.statvfs(place)
    return found.f_favail if found.f_files else math.inf


def _longest_file() -> float:
    """Return how many bytes a file may have that this process writes."""
    try:
        import resource
    except ImportError:  # a system without such limits
        return math.inf
    limit = resource.getrlimit(resource.RLIMIT_FSIZE)[0]
    return math.inf if limit == resource.RLIM_INFINITY else limit


def check_file(path: Path, *, force: bool = False) -> None:
    """Refuse a file that could not be written later: told before the work and not after.

    Parameters
    ----------
    force
        Whether a file that stands there may be replaced.

    Raises
    ------
    OutputError
        When a file stands there, or it cannot be written there.
    """
    path = Path(path)
    with told(str(path)):
        check_goals(path.parent, [path])
        if os.path.lexists(path):
            if path.exists() and not path.is_file():
                raise OutputError(f"cannot write {path}: it is no ordinary file")
            if not force:
                raise OutputError(
                    f"cannot write {path}: a file stands there; name another, or give --force to replace it"
                )
    check_room(path.parent, LEAST_FREE)


def check_journal(path: Path) -> None:
    """Refuse a file that could not be added to later.

    Raises
    ------
    OutputError
        When it is no file, or cannot be written.
    """
    path = Path(path)
    check_goals(path.parent, [path])
    with told(str(path)):
        if path.exists() and not path.is_file():
            raise OutputError(f"cannot write {path}: it is no ordinary file")
        if path.exists():
            path.open("ab").close()
    check_room(path.parent, LEAST_FREE)


def write_file(path: Path, content: bytes, *, force: bool = False) -> None:
    """Write one file in one step: whole, or not at all, and what stood there is there until then.

    Parameters
    ----------
    force
        Whether a file that stands there with other content may be replaced.

    Raises
    ------
    OutputError
        When it cannot be written, or a file stands there; that is then still there.
    """
    path = Path(path)
    made: list[Path] = []
    aside: Path | None = None
    with told(str(path)):
        try:
            if path.is_file() and not path.is_symlink() and path.read_bytes() == content:
                return
            check_file(path, force=force)
            _make(path.parent, made)
            _sweep_litter(path.parent)
            number, name = tempfile.mkstemp(prefix=_STAGE, dir=path.parent)
            aside = Path(name)
            with os.fdopen(number, "wb") as file:
                file.write(content)
            aside.chmod(0o666 & ~umask())
            os.replace(aside, path)  # noqa: PTH105
        except BaseException:
            if aside is not None:
                with contextlib.suppress(OSError):
                    aside.unlink()
            _remove(None, made)
            raise


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
        if (there := _is_folder(place)) is not None:
            if not there:
                raise OutputError(f"cannot write to {folder}: {place} is a file, expected a folder")
            break
    for goal in goals:
        if goal.is_dir():
            raise OutputError(f"cannot write {goal}: a folder of that name stands there")
        for place in goal.parents:
            if place == folder:
                break
            if _is_folder(place) is False:
                raise OutputError(f"cannot write {goal}: {place} is a file, expected a folder")


def _is_folder(place: Path) -> bool | None:
    """Tell whether a place is a folder; None where nothing is.

    Asked once, as another run may take away meanwhile what it emptied.
    """
    try:
        return stat.S_ISDIR(place.stat().st_mode)
    except OSError as error:
        if error.errno in (errno.ENOENT, errno.ENOTDIR, errno.ELOOP):
            return None
        raise


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


def _sweep_litter(folder: Path) -> None:
    """Remove files that killed runs left beside their goals."""
    for entry in folder.glob(f"{_STAGE}*"):
        with contextlib.suppress(OSError):
            if entry.is_file() and not entry.is_symlink() and time.time() - entry.stat().st_mtime > _STALE_S:
                entry.unlink()


def umask() -> int:
    """Return the permissions that new files do not have."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def _remove(stage: Path | None, made: list[Path]) -> None:
    """Remove the stage and, the innermost first, the folders that were made and are empty."""
    if stage is not None:
        shutil.rmtree(stage, ignore_errors=True)
    for place in reversed(made):
        with contextlib.suppress(OSError):
            place.rmdir()
