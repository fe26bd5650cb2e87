"""A folder written again: only what belongs to the new set, nobody's own files touched, never a mixture."""

from __future__ import annotations

import contextlib
import errno
import os
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from fitplan.errors import OutputError
from fitplan.files import owned_folder
from fitplan.files.owned_folder import check_folder, recover, write_owned
from fitplan.files.owned_reading import OWN, owned_files, standing, standing_files

OLD = {"a.txt": b"old a", "b.txt": b"old b", "layers/1.svg": b"one", "layers/2.svg": b"two", "x/y/z": b"deep"}
NEW = {"a.txt": b"new a", "b.txt": b"new b", "layers/1.svg": b"uno", "c.txt": b"new c", "m/n": b"more"}


def shown(folder: Path) -> dict[str, bytes]:
    """Return all files of a folder but those in the hidden one."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and OWN not in path.parts
    }


def every_entry(folder: Path) -> dict[str, tuple[int, bytes]]:
    """Return all that lies in a folder, with when it was changed."""
    return {
        str(path): (path.stat().st_mtime_ns, path.read_bytes() if path.is_file() else b"")
        for path in (folder, *folder.rglob("*"))
    }


def hidden(folder: Path) -> set[str]:
    return {path.relative_to(folder / OWN).as_posix() for path in (folder / OWN).rglob("*")}


def test_a_new_folder_appears_whole(tmp_path: Path) -> None:
    """It holds the files and the list of them, and nothing lies beside it."""
    write_owned(tmp_path / "deep" / "out", OLD, train="../train.yaml")
    assert shown(tmp_path / "deep" / "out") == OLD
    assert owned_files(tmp_path / "deep" / "out").train == "../train.yaml"
    assert set(owned_files(tmp_path / "deep" / "out").files) == set(OLD)
    assert [path.name for path in (tmp_path / "deep").iterdir()] == ["out"]


def test_written_again_it_holds_only_the_new_set(tmp_path: Path) -> None:
    """Old files go with their empty folders; a user's notes stay, also in a folder that loses its files."""
    write_owned(tmp_path / "out", OLD)
    (tmp_path / "out" / "notes.txt").write_bytes(b"mine")
    (tmp_path / "out" / "layers" / "mine.svg").write_bytes(b"mine")
    write_owned(tmp_path / "out", NEW)
    mine = {"notes.txt": b"mine", "layers/mine.svg": b"mine"}
    assert shown(tmp_path / "out") == {**NEW, **mine}
    assert not (tmp_path / "out" / "x").exists()
    assert hidden(tmp_path / "out") == {"lock", "manifest.json"}


def test_a_file_of_somebody_else_is_not_replaced(tmp_path: Path) -> None:
    """Neither one that was there first, nor one that was changed since; with force both are."""
    (tmp_path / "a.txt").write_bytes(b"mine")
    with pytest.raises(OutputError, match=r"a\.txt stands there and was not written by fitplan"):
        check_folder(tmp_path, ["a.txt"])
    with pytest.raises(OutputError, match="--force"):
        write_owned(tmp_path, NEW)
    assert shown(tmp_path) == {"a.txt": b"mine"}
    write_owned(tmp_path, NEW, force=True)
    assert shown(tmp_path) == NEW
    (tmp_path / "c.txt").write_bytes(b"new c, and a remark")
    with pytest.raises(OutputError, match=r"c\.txt stands there"):
        write_owned(tmp_path, OLD | {"c.txt": b"newer c"})
    write_owned(tmp_path, OLD)  # c.txt is no longer part of it: it stays, for it is the user's now
    assert shown(tmp_path) == OLD | {"c.txt": b"new c, and a remark"}


def test_a_link_is_never_written_through(tmp_path: Path) -> None:
    """A link of a file's name is the user's; with force the link goes, and what it led to stays."""
    (tmp_path / "far").write_bytes(b"far away")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "a.txt").symlink_to(tmp_path / "far")
    with pytest.raises(OutputError, match="--force"):
        write_owned(tmp_path / "out", NEW)
    write_owned(tmp_path / "out", NEW, force=True)
    assert (tmp_path / "far").read_bytes() == b"far away"
    assert not (tmp_path / "out" / "a.txt").is_symlink()


def test_a_list_that_leads_out_is_no_list(tmp_path: Path) -> None:
    """A list of files made by a stranger deletes nothing outside the folder."""
    (tmp_path / "precious").write_bytes(b"")
    write_owned(tmp_path / "out", OLD)
    path = tmp_path / "out" / OWN / "manifest.json"
    path.write_text(path.read_text().replace('"a.txt"', '"../precious"'))
    assert owned_files(tmp_path / "out").files == {}
    write_owned(tmp_path / "out", NEW, force=True)
    assert (tmp_path / "precious").exists()


@pytest.mark.parametrize("failing", range(1, 14))
def test_a_failing_move_is_undone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: int) -> None:
    """Whichever move fails, the folder holds the old set."""
    write_owned(tmp_path, OLD, force=True)
    real, calls = os.replace, [0]

    def replace(source: Path, goal: Path) -> None:
        calls[0] += 1
        if calls[0] == failing + 1:  # the first is a list that lies ready
            raise OSError(errno.EIO, "Input/output error")
        real(source, goal)

    monkeypatch.setattr(owned_folder.os, "replace", replace)
    with pytest.raises(OutputError, match="Input/output error"):
        write_owned(tmp_path, NEW)
    assert shown(tmp_path) == OLD
    assert hidden(tmp_path) == {"lock", "manifest.json"}


def _calls_that_change(monkeypatch: pytest.MonkeyPatch, strike: Callable[[], None]) -> None:
    """Let something happen before every call that changes the disk."""
    for owner, name in (
        (os, "replace"), (os, "rename"), (os, "mkdir"), (os, "unlink"), (os, "rmdir"), (Path, "write_bytes"),
        (Path, "write_text"), (Path, "mkdir"), (Path, "unlink"), (Path, "rmdir"),
    ):  # fmt: skip
        real = getattr(owner, name)

        def struck(*args: object, _real: Callable[..., object] = real, **more: object) -> object:
            strike()
            return _real(*args, **more)

        monkeypatch.setattr(owner, name, struck)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills a process of its own")
@pytest.mark.parametrize("first", [True, False], ids=["new folder", "folder that is there"])
def test_a_kill_at_any_moment_leaves_one_set_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, first: bool
) -> None:
    """A process that dies before any of its changes: the next one finds the old set whole, or the new one."""
    monkeypatch.setattr(owned_folder, "STALE_S", 0.0)
    survived = {"old": 0, "new": 0}
    for moment in range(1, 120):
        folder = tmp_path / f"{moment}" / "out"
        if not first:
            write_owned(folder, OLD)
            (folder / "notes.txt").write_bytes(b"mine")
        child = os.fork()
        if child == 0:
            left = [moment]

            def strike(left: list[int] = left) -> None:
                left[0] -= 1
                if left[0] == 0:
                    os._exit(9)

            _calls_that_change(pytest.MonkeyPatch(), strike)
            try:
                write_owned(folder, NEW)
            finally:
                os._exit(0)
        _, status = os.waitpid(child, 0)
        if folder.exists():
            lies = every_entry(folder)
            read = {name: path.read_bytes() for name in NEW if (path := standing(folder, name)).is_file()}
            listed = set(standing_files(folder).files)
            assert every_entry(folder) == lies, "reading changes nothing"
            recover(folder)
            assert read == {name: content for name, content in shown(folder).items() if name in NEW}
            assert listed == set(owned_files(folder).files)
        mine = {} if first else {"notes.txt": b"mine"}
        before = {} if first else {**OLD, **mine}
        now = shown(folder) if folder.exists() else {}
        assert now in (before, {**NEW, **mine}), moment
        survived["old" if now == before else "new"] += 1
        write_owned(folder, NEW)
        assert shown(folder) == {**NEW, **mine}
        assert hidden(folder) == {"lock", "manifest.json"}
        assert [path.name for path in folder.parent.iterdir()] == ["out"], "litter of the killed run is gone"
        if os.waitstatus_to_exitcode(status) == 0:
            break
    assert survived["old"] > 3
    assert survived["new"] > 0
    assert os.waitstatus_to_exitcode(status) == 0, "more moments than were tried"


@pytest.mark.parametrize("moment", range(1, 60, 3))
def test_an_interrupt_at_any_moment_leaves_one_set_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, moment: int
) -> None:
    """Ctrl-C before any of the changes: the folder holds one set, and no litter."""
    write_owned(tmp_path / "out", OLD)
    left = [moment]

    def strike() -> None:
        left[0] -= 1
        if left[0] == 0:
            raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        _calls_that_change(patched, strike)
        with contextlib.suppress(KeyboardInterrupt):
            write_owned(tmp_path / "out", NEW)
    recover(tmp_path / "out")
    assert shown(tmp_path / "out") in (OLD, NEW)
    assert hidden(tmp_path / "out") == {"lock", "manifest.json"}


def test_two_writers_at_once(tmp_path: Path) -> None:
    """The folder holds the set of one of them, whichever comes last, and never a mixture."""
    for _ in range(10):
        writers = [
            threading.Thread(target=write_owned, args=(tmp_path / "out", files)) for files in (OLD, NEW) * 2
        ]
        for writer in writers:
            writer.start()
        for writer in writers:
            writer.join()
        assert shown(tmp_path / "out") in (OLD, NEW)


def test_a_stage_just_made_is_no_litter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second writer lets be a stage whose first writer made the lock's file and has yet to take it.

    Taken for litter it was emptied while it was filled: the folder then appeared without its list, and the
    third writer found files that seemed to be somebody else's.
    """
    real = owned_folder._locked
    turns = []

    def locked(number: int) -> bool:
        if not turns:
            turns.append(number)
            write_owned(tmp_path / "another", NEW)
        return real(number)

    monkeypatch.setattr(owned_folder, "_locked", locked)
    write_owned(tmp_path / "out", OLD)
    assert turns
    assert shown(tmp_path / "out") == OLD
    assert shown(tmp_path / "another") == NEW
    assert not list(tmp_path.glob(".fitplan-new-*"))


def test_what_cannot_be_written_is_told_before(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file in the way, a full disk."""
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(OutputError, match="is a file, expected a folder"):
        check_folder(tmp_path / "file")
    check_folder(tmp_path / "new" / "folder", ["a.txt"])
    assert not (tmp_path / "new").exists()
    usage = owned_folder.shutil.disk_usage(tmp_path)
    monkeypatch.setattr(owned_folder.shutil, "disk_usage", lambda place: usage._replace(free=1_000_000))
    with pytest.raises(OutputError, match="1 MB are free there"):
        check_folder(tmp_path / "new")


def test_full_disk_leaves_the_old_set(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk is full while files are written, the old set is still there, and no litter."""
    write_owned(tmp_path / "out", OLD)

    def write_bytes(self: Path, data: bytes) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "write_bytes", write_bytes)
    with pytest.raises(OutputError, match="No space left"):
        write_owned(tmp_path / "out", NEW)
    assert shown(tmp_path / "out") == OLD
    assert hidden(tmp_path / "out") == {"lock", "manifest.json"}


@pytest.mark.parametrize("failing", [0, 1, 2])
def test_a_disk_that_is_full_once_the_move_has_begun(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: int
) -> None:
    """From the journal on nothing is written but names: the move is made, or undone where a move fails."""
    write_owned(tmp_path / "out", OLD)
    begun, moved, real = [False], [0], os.replace

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    def replace(source: Path, goal: Path) -> None:
        moved[0] += begun[0]
        if failing and moved[0] == 2 * failing:
            full()
        real(source, goal)
        if Path(goal).name == "journal.json" and not begun[0]:
            begun[0] = True
            monkeypatch.setattr(Path, "write_bytes", full)
            monkeypatch.setattr(Path, "write_text", full)

    monkeypatch.setattr(owned_folder.os, "replace", replace)
    with contextlib.suppress(OutputError):
        write_owned(tmp_path / "out", NEW)
    monkeypatch.undo()
    assert begun == [True]
    assert shown(tmp_path / "out") == (OLD if failing else NEW)
    assert hidden(tmp_path / "out") == {"lock", "manifest.json"}


@pytest.mark.skipif(not hasattr(os, "fork"), reason="limits a process of its own")
def test_files_that_may_not_be_long_are_told(tmp_path: Path) -> None:
    """A limit on the length of files is told before the work; where it bites all the same, the old stays."""
    import resource

    write_owned(tmp_path / "out", OLD)
    child = os.fork()
    if child == 0:
        status = 1
        try:
            resource.setrlimit(resource.RLIMIT_FSIZE, (4, resource.RLIM_INFINITY))
            with pytest.raises(OutputError, match="may be"):
                check_folder(tmp_path / "out")
            with pytest.raises(OutputError, match="too large"):
                write_owned(tmp_path / "out", {"a.txt": b"longer than it may be"})
            status = 0
        finally:
            os._exit(status)
    assert os.waitpid(child, 0)[1] == 0
    assert shown(tmp_path / "out") == OLD
    assert hidden(tmp_path / "out") == {"lock", "manifest.json"}
