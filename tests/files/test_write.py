"""Writing folders and files whole or not at all."""

from __future__ import annotations

import errno
import os
import tempfile
from pathlib import Path
from typing import Any

import pytest

from fitplan.errors import OutputError
from fitplan.files import write
from fitplan.files.read import read_train
from fitplan.files.starter import STARTER_FILES, write_starter
from fitplan.files.write import check_file, check_goals, check_room, write_file, write_folder


def everything(folder: Path) -> dict[str, bytes | None]:
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
    }


def test_new_folder_holds_all_files_and_nothing_else(tmp_path: Path) -> None:
    """A folder that did not exist holds exactly what was asked for, subfolders included."""
    write_folder(tmp_path / "a" / "b", {"one.txt": b"1", "sub/two.txt": b"2"})
    assert everything(tmp_path / "a") == {
        "b": None, "b/one.txt": b"1", "b/sub": None, "b/sub/two.txt": b"2",
    }  # fmt: skip


def test_existing_files_of_other_names_stay(tmp_path: Path) -> None:
    """Files of the same name are replaced, others are left alone, and no staging folder remains."""
    (tmp_path / "old.txt").write_bytes(b"old")
    (tmp_path / "mine.txt").write_bytes(b"mine")
    write_folder(tmp_path, {"old.txt": b"new", "more.txt": b"more"})
    assert everything(tmp_path) == {"mine.txt": b"mine", "more.txt": b"more", "old.txt": b"new"}


@pytest.mark.parametrize("failing", range(1, 5))
def test_failing_move_puts_everything_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: int
) -> None:
    """Whichever of the moves fails, the folder is as it was before."""
    (tmp_path / "a.txt").write_bytes(b"old a")
    (tmp_path / "b.txt").write_bytes(b"old b")
    before = everything(tmp_path)
    real, calls = os.replace, [0]

    def replace(source: Path, goal: Path) -> None:
        calls[0] += 1
        if calls[0] == failing:
            raise OSError(errno.EIO, "Input/output error")
        real(source, goal)

    monkeypatch.setattr(write.os, "replace", replace)
    with pytest.raises(OutputError, match="Input/output error"):
        write_folder(tmp_path, {"a.txt": b"new a", "b.txt": b"new b"})
    assert everything(tmp_path) == before


def test_full_disk_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk is full while files are written, neither files nor made folders remain."""

    def write_bytes(self: Path, data: bytes) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "write_bytes", write_bytes)
    with pytest.raises(OutputError, match="No space left"):
        write_folder(tmp_path / "deep" / "out", {"a.txt": b"a"})
    assert everything(tmp_path) == {}


def test_interrupt_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A user who interrupts the writing finds no half-written folder."""

    def write_bytes(self: Path, data: bytes) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "write_bytes", write_bytes)
    with pytest.raises(KeyboardInterrupt):
        write_folder(tmp_path / "out", {"a.txt": b"a"})
    assert everything(tmp_path) == {}


def test_goal_that_is_a_file_or_a_folder_is_refused(tmp_path: Path) -> None:
    """A folder that is a file, a file that is a folder, and a subfolder that is a file are told apart."""
    (tmp_path / "file").write_bytes(b"")
    (tmp_path / "folder" / "a.txt").mkdir(parents=True)
    before = everything(tmp_path)
    with pytest.raises(OutputError, match=r"file is a file, expected a folder"):
        write_folder(tmp_path / "file" / "deeper", {"a.txt": b""})
    with pytest.raises(OutputError, match=r"a folder of that name stands there"):
        write_folder(tmp_path / "folder", {"a.txt": b""})
    with pytest.raises(OutputError, match=r"file is a file, expected a folder"):
        write_folder(tmp_path, {"file/a.txt": b""})
    assert everything(tmp_path) == before


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_folder_without_permission(tmp_path: Path) -> None:
    """A folder that may not be written to is named with the reason."""
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match="Permission denied"):
        write_folder(tmp_path, {"a.txt": b""})


def test_names_cannot_lead_out(tmp_path: Path) -> None:
    """A file name cannot leave the folder that it is written into."""
    for name in ("../a.txt", "/a.txt", "sub/../../a.txt", ""):
        with pytest.raises(ValueError, match="leads out of the folder"):
            write_folder(tmp_path, {name: b""})


def test_a_file_that_stands_there_is_replaced_with_force_only(tmp_path: Path) -> None:
    """Before the work and when it is written; what has the same content already is left as it is."""
    goal = tmp_path / "new" / "loco.yaml"
    check_file(goal)
    assert not goal.parent.exists(), "asking leaves nothing behind"
    write_file(goal, b"1")
    write_file(goal, b"1")
    for refused in (lambda: check_file(goal), lambda: write_file(goal, b"2")):
        with pytest.raises(OutputError, match=r"loco.yaml: a file stands there; .* --force"):
            refused()
    assert everything(tmp_path / "new") == {"loco.yaml": b"1"}
    check_file(goal, force=True)
    write_file(goal, b"2", force=True)
    assert everything(tmp_path / "new") == {"loco.yaml": b"2"}


@pytest.mark.skipif(os.name != "posix", reason="devices and links as files")
def test_what_is_no_ordinary_file_is_never_replaced(tmp_path: Path) -> None:
    """A device, a pipe and a folder are refused, with force too; a link is replaced, not what it leads to."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "folder").mkdir()
    (tmp_path / "far").write_bytes(b"far away")
    (tmp_path / "link").symlink_to(tmp_path / "far")
    for name, words in (("pipe", "no ordinary file"), ("folder", "a folder of that name")):
        with pytest.raises(OutputError, match=words):
            write_file(tmp_path / name, b"", force=True)
    with pytest.raises(OutputError, match="--force"):
        write_file(tmp_path / "link", b"new")
    write_file(tmp_path / "link", b"new", force=True)
    assert (tmp_path / "far").read_bytes() == b"far away"


def test_a_file_that_cannot_be_written_leaves_the_old_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither a failing move nor a full disk costs the file that stands there, and no litter stays."""
    goal = tmp_path / "loco.yaml"
    goal.write_bytes(b"old")

    def fail(*_: object) -> None:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(write.os, "replace", fail)
    with pytest.raises(OutputError, match=r"loco.yaml: Input/output error"):
        write_file(goal, b"new", force=True)
    usage = write.shutil.disk_usage(tmp_path)
    monkeypatch.setattr(write.shutil, "disk_usage", lambda place: usage._replace(free=1_000_000))
    with pytest.raises(OutputError, match="1 MB are free there"):
        write_file(goal, b"new", force=True)
    assert everything(tmp_path) == {"loco.yaml": b"old"}


def test_starter_can_be_read(tmp_path: Path) -> None:
    """The starter's files are written where asked, and hold no mistake."""
    path = write_starter(tmp_path / "mine")
    train = read_train(path)
    assert [need.name for need in train.needs] == [
        "brain",
        "eye",
        "emitter",
        "supply",
        "lift",
        "switch",
        "tail lamp",
    ]
    assert all(need.candidates for need in train.needs)
    assert {str(file.relative_to(tmp_path / "mine")) for file in (tmp_path / "mine").rglob("*.yaml")} == set(
        STARTER_FILES
    )


def test_starter_overwrites_nothing(tmp_path: Path) -> None:
    """A folder that holds anything is left as it is."""
    (tmp_path / "note.txt").write_text("mine")
    with pytest.raises(OutputError, match="is not empty"):
        write_starter(tmp_path)
    assert everything(tmp_path) == {"note.txt": b"mine"}


def test_without_a_temporary_folder_the_goal_serves(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Libraries that keep things for a while find a place, and where there is one it stays."""
    usual = tempfile.gettempdir()
    check_room(tmp_path / "new", 1)
    assert tempfile.gettempdir() == usual
    monkeypatch.setattr(tempfile, "tempdir", None)
    monkeypatch.setattr(tempfile, "_candidate_tempdir_list", lambda: [str(tmp_path / "nowhere")])
    with pytest.raises(FileNotFoundError):
        tempfile.gettempdir()
    check_room(tmp_path / "new", 1)
    with tempfile.TemporaryFile():
        assert tempfile.gettempdir() == str(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_goes_while_it_is_asked_about_is_no_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another run takes an emptied folder away between two questions: nothing stands in the way then."""
    inner = tmp_path / "out" / "x"
    inner.mkdir(parents=True)
    real = Path.stat

    def stat(self: Path, *args: Any, **more: Any) -> Any:
        found = real(self, *args, **more)
        if self == inner:
            inner.rmdir()
        return found

    monkeypatch.setattr(Path, "stat", stat)
    check_goals(tmp_path / "out", [inner / "y"])
    assert not inner.exists()
    inner.write_bytes(b"")
    monkeypatch.setattr(Path, "stat", real)
    with pytest.raises(OutputError, match="x is a file, expected a folder"):
        check_goals(tmp_path / "out", [inner / "y"])
