"""A folder that fitplan writes again and again, beside files that are somebody else's.

A hidden folder ``.fitplan`` keeps a list of what fitplan wrote, with a digest of each file. Written again,
the folder loses what was fitplan's and is no longer part of the new set; a file that fitplan did not write,
or that was changed since, is never touched.

A new folder appears in one step. In a folder that is there, the new files are written aside and a journal
says what will be moved; from then on the change is made, whatever comes between: an interrupt completes it,
a failing move undoes it, and after a kill the next command that opens the folder does one or the other. All
that either takes lies ready by then, so a full disk does not keep it from being done. One writer at a time
holds the lock, which a dead process gives back.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import tempfile
import time
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from fitplan.errors import OutputError
from fitplan.files.owned_reading import FORMAT, OWN, Owned, journal_of, owned_files
from fitplan.files.sources import digest
from fitplan.files.write import check_goals, check_room, fill, safe_name, told, umask

_NEW = ".fitplan-new-"
_WAIT_S = 30.0
STALE_S = 60.0
"""A stage that nobody holds is litter when it is older than this; a younger one's writer may be about to."""
_LEAST_FREE = 48_000_000
"""So many bytes must be free before a plan is made; the demo's files take 4 MB, long trains some more."""
_MOST_FILES = 200
"""So many files must find a place; the demo has sixty."""


def check_folder(folder: Path, names: Iterable[str] = (), *, force: bool = False) -> None:
    """Refuse a folder that could not be written later: told before an hour of planning and not after.

    Parameters
    ----------
    names
        Files that will be written in any case.
    force
        Whether files that fitplan did not write may be replaced.

    Raises
    ------
    OutputError
        When it is a file, cannot be written, has no room, or holds somebody's own files of these names.
    """
    folder = Path(folder)
    goals = [folder / safe_name(name) for name in names]
    with told(f"to {folder}"):
        check_goals(folder, goals)
    check_room(folder, _LEAST_FREE, _MOST_FILES)
    if folder.is_dir():
        recover(folder)
        _refuse_what_is_not_ours(folder, {safe_name(name).as_posix(): None for name in names}, force)


def write_owned(folder: Path, files: Mapping[str, bytes], *, train: str = "", force: bool = False) -> None:
    """Write a set of files into a folder so that it holds the whole set, or what it held before.

    Parameters
    ----------
    files
        Contents by name; a name may lead into subfolders.
    train
        Where the train is that the files are about, as seen from the folder.
    force
        Whether files that fitplan did not write may be replaced.

    Raises
    ------
    OutputError
        When the folder cannot be written or holds somebody's own files of these names; nothing is changed
        then.
    """
    folder = Path(folder)
    contents = {safe_name(name).as_posix(): content for name, content in files.items()}
    check_goals(folder, [folder / name for name in contents])
    owned = Owned({name: digest(content) for name, content in contents.items()}, train)
    with told(f"to {folder}"):
        if not folder.exists() and _write_new(folder, contents, owned):
            return
        (folder / OWN).mkdir(exist_ok=True)
        with _lock(folder):
            _recover(folder)
            _refuse_what_is_not_ours(folder, contents, force)
            _replace(folder, contents, owned)


def recover(folder: Path) -> None:
    """Complete or undo what a killed run left half done in a folder; without any, do nothing."""
    own = Path(folder) / OWN
    try:
        if not own.is_dir() or not any(
            entry.name != "manifest.json" and entry.name != "lock" for entry in own.iterdir()
        ):
            return
        with _lock(Path(folder)):
            _recover(Path(folder))
    except OSError as error:
        raise OutputError(f"cannot put {folder} in order after a run that was killed: {error}") from None


# -- a new folder ------------------------------------------------------------------------------------------


def _write_new(folder: Path, contents: Mapping[str, bytes], owned: Owned) -> bool:
    """Make a folder in one step; False when another has made it meanwhile."""
    made = [place for place in (folder.parent, *folder.parent.parents) if not place.exists()]
    folder.parent.mkdir(parents=True, exist_ok=True)
    _sweep_litter(folder.parent)
    stage: Path | None = None
    try:
        stage = Path(tempfile.mkdtemp(prefix=_NEW, dir=folder.parent))
        (stage / OWN).mkdir()
        with _lock(stage):
            fill(stage, contents)
            _put_json(stage / OWN / "manifest.json", _manifest(owned))
            stage.chmod(0o777 & ~umask())
            try:
                os.rename(stage, folder)  # noqa: PTH104 - fails when the goal has appeared meanwhile
            except OSError:
                if folder.exists():
                    return False
                raise
            stage = None
        return True
    finally:
        if stage is not None:
            shutil.rmtree(stage, ignore_errors=True)
            for place in made:
                with contextlib.suppress(OSError):
                    place.rmdir()


def _sweep_litter(place: Path) -> None:
    """Remove stages of runs that were killed: those whose lock nobody holds.

    A writer makes its stage, then the lock's file, and then takes the lock: between these a living stage
    looks like a dead one, so only age tells.
    """
    for entry in place.glob(f"{_NEW}*"):
        with contextlib.suppress(OSError, OutputError):
            if entry.is_symlink() or time.time() - entry.stat().st_mtime < STALE_S:
                continue
            if (entry / OWN / "lock").is_file():
                with _lock(entry, wait_s=0.0):
                    pass
            shutil.rmtree(entry, ignore_errors=True)


# -- a folder that is there --------------------------------------------------------------------------------


def _refuse_what_is_not_ours(folder: Path, contents: Mapping[str, bytes | None], force: bool) -> None:
    if force:
        return
    ours = owned_files(folder).files
    foreign = []
    for name, content in contents.items():
        goal = folder / name
        if not os.path.lexists(goal):
            continue
        now = digest(goal.read_bytes()) if goal.is_file() and not goal.is_symlink() else ""
        if now != ours.get(name) and (content is None or now != digest(content)):
            foreign.append(name)
    if foreign:
        more = f" and {len(foreign) - 3} more" if len(foreign) > 3 else ""
        were = "was" if len(foreign) == 1 else "were"
        stand = f"stand{'s' if were == 'was' else ''} there and {were}"
        raise OutputError(
            f"cannot write to {folder}: {', '.join(foreign[:3])}{more} {stand} not written by "
            f"fitplan, or {were} changed since; name another folder, or give --force to replace them"
        )


def _replace(folder: Path, contents: Mapping[str, bytes], owned: Owned) -> None:
    before = owned_files(folder).files
    own = folder / OWN
    stage = Path(tempfile.mkdtemp(prefix="stage-", dir=own))
    try:
        fill(stage / "new", contents)
        doomed = [
            name
            for name, content in before.items()
            if name not in contents
            and (folder / name).is_file()
            and not (folder / name).is_symlink()
            and digest((folder / name).read_bytes()) == content
        ]
        journal: dict[str, Any] = {
            "stage": stage.name,
            "put": list(contents),
            "drop": doomed,
            "had": [name for name in contents if os.path.lexists(folder / name)],
            "manifest": _manifest(owned),
            "undo": False,
        }
        for name in (*journal["had"], *doomed):
            (stage / "old" / name).parent.mkdir(parents=True, exist_ok=True)
        _put_json(stage / "manifest.json", journal["manifest"])
        _put_json(stage / "undo.json", {**journal, "undo": True})
        _put_json(own / "journal.json", journal)
    except BaseException:
        shutil.rmtree(stage, ignore_errors=True)
        raise
    try:
        _carry_out(folder, journal)
    except OSError:
        _undo(folder, journal)
        raise
    except BaseException:
        # An interrupt: what is begun is completed first.
        _carry_out(folder, journal)
        raise


def _recover(folder: Path) -> None:
    own = folder / OWN
    journal = journal_of(folder)
    if journal is not None:
        if journal["undo"]:
            _undo(folder, journal)
        else:
            try:
                _carry_out(folder, journal)
            except OSError:
                _undo(folder, journal)
    for entry in own.iterdir():
        if entry.name.startswith("stage-"):
            shutil.rmtree(entry, ignore_errors=True)
        elif entry.name not in ("lock", "manifest.json"):
            entry.unlink(missing_ok=True)


def _carry_out(folder: Path, journal: Mapping[str, Any]) -> None:
    """Move the new files to their places and the old ones aside; what is done already is not done again."""
    stage = folder / OWN / journal["stage"]
    for name in journal["put"]:
        new, goal, old = stage / "new" / name, folder / name, stage / "old" / name
        if not new.exists():
            continue
        goal.parent.mkdir(parents=True, exist_ok=True)
        if os.path.lexists(goal):
            old.parent.mkdir(parents=True, exist_ok=True)
            os.replace(goal, old)  # noqa: PTH105
        os.replace(new, goal)  # noqa: PTH105
    for name in journal["drop"]:
        goal, old = folder / name, stage / "old" / name
        if os.path.lexists(goal):
            old.parent.mkdir(parents=True, exist_ok=True)
            os.replace(goal, old)  # noqa: PTH105
    if (stage / "manifest.json").exists():
        os.replace(stage / "manifest.json", folder / OWN / "manifest.json")  # noqa: PTH105
    _close(folder, journal)
    _remove_empty(folder, journal["drop"])


def _remove_empty(folder: Path, names: Iterable[str]) -> None:
    """Remove the subfolders of some files where nothing is left in them, the innermost first."""
    inside = {place for name in names for place in Path(name).parents if place != Path()}
    for place in sorted(inside, reverse=True):
        with contextlib.suppress(OSError):
            (folder / place).rmdir()


def _undo(folder: Path, journal: Mapping[str, Any]) -> None:
    """Put everything back as it was before."""
    stage = folder / OWN / journal["stage"]
    if (stage / "undo.json").exists():
        os.replace(stage / "undo.json", folder / OWN / "journal.json")  # noqa: PTH105
    for name in (*journal["put"], *journal["drop"]):
        goal, old = folder / name, stage / "old" / name
        if os.path.lexists(old):
            goal.parent.mkdir(parents=True, exist_ok=True)
            os.replace(old, goal)  # noqa: PTH105
        elif name in journal["put"] and name not in journal["had"]:
            goal.unlink(missing_ok=True)
    _remove_empty(folder, journal["put"])
    _close(folder, journal)


def _close(folder: Path, journal: Mapping[str, Any]) -> None:
    (folder / OWN / "journal.json").unlink(missing_ok=True)
    shutil.rmtree(folder / OWN / journal["stage"], ignore_errors=True)


# -- small things ------------------------------------------------------------------------------------------


def _manifest(owned: Owned) -> dict[str, Any]:
    return {"format": FORMAT, "version": 1, "train": owned.train, "files": dict(sorted(owned.files.items()))}


def _put_json(path: Path, value: Mapping[str, Any]) -> None:
    """Write a small JSON file in one step."""
    aside = path.with_suffix(".tmp")
    try:
        aside.write_text(json.dumps(value, indent=1, ensure_ascii=False) + "\n", "utf-8", newline="\n")
        os.replace(aside, path)  # noqa: PTH105
    except OSError:
        with contextlib.suppress(OSError):
            aside.unlink()
        raise


@contextlib.contextmanager
def _lock(folder: Path, wait_s: float = _WAIT_S) -> Iterator[None]:
    """Hold a folder's lock; the system gives back what a dead process held."""
    with (folder / OWN / "lock").open("a+b") as file:
        until = time.monotonic() + wait_s
        while not _locked(file.fileno()):
            if time.monotonic() >= until:
                raise OutputError(f"cannot write to {folder}: another fitplan is writing there")
            time.sleep(0.05)
        yield


def _locked(number: int) -> bool:
    try:
        if os.name == "nt":
            import msvcrt

            msvcrt.locking(number, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        else:
            import fcntl

            fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
