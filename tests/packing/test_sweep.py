"""The sweep over many parts: all cores, a journal, and going on after a stop."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from fitplan.errors import OutputError
from fitplan.planning.sweep import sweep, sweep_trains
from tests.packing.small_trains import block, hollow, train_of

PARTS = [block(f"b{size}", (float(size), 20.0, 10.0)) for size in (20, 60, 70)]
TRAIN = train_of((hollow("short", 8, 6, 9), hollow("long", 12, 6, 9)), ())


def test_a_sweep_asks_every_part_of_every_vehicle() -> None:
    """Three blocks and two wagons give six rows, and the verdicts follow the clear lengths 48 and 80 mm."""
    rows = sweep(TRAIN, PARTS, processes=1)
    assert [(row.part_id, row.vehicle, row.verdict) for row in rows] == [
        ("b20", "short", "fits"),
        ("b20", "long", "fits"),
        ("b60", "short", "cannot fit"),
        ("b60", "long", "fits"),
        ("b70", "short", "cannot fit"),
        ("b70", "long", "fits"),
    ]


def test_several_processes_give_the_same_rows() -> None:
    """Two workers answer as one does."""
    assert sweep(TRAIN, PARTS, processes=2) == sweep(TRAIN, PARTS, processes=1)


def test_without_memory_that_processes_share_one_process_asks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where processes cannot share memory (/dev/shm read-only, say), the rows are the same."""

    def none(*_: object, **__: object) -> None:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    rows = sweep(TRAIN, PARTS, processes=1)
    monkeypatch.setattr("fitplan.planning.sweep.ProcessPoolExecutor", none)
    assert sweep(TRAIN, PARTS, processes=2) == rows


def test_a_stopped_sweep_goes_on_where_it_left_off(tmp_path: Path) -> None:
    """Answers in the journal are not asked again, and a line cut off in writing is."""
    journal = tmp_path / "answers.jsonl"
    whole = sweep(TRAIN, PARTS, journal=journal, processes=1)
    lines = journal.read_text(encoding="utf-8").splitlines()
    journal.write_text("\n".join(lines[:2]) + "\n" + lines[2][:40], encoding="utf-8")
    told: list[float] = []
    again = sweep(
        TRAIN, PARTS, journal=journal, processes=1, progress=lambda stage, share: told.append(share)
    )
    assert again == whole
    assert told[0] == pytest.approx(2 / 6)
    assert len(journal.read_text(encoding="utf-8").splitlines()) == 6


def test_a_journal_of_another_train_is_refused(tmp_path: Path) -> None:
    """Answers about one train are not taken for another's."""
    journal = tmp_path / "answers.jsonl"
    sweep(TRAIN, PARTS[:1], journal=journal, processes=1)
    other = train_of((hollow("short", 9, 6, 9),), ())
    with pytest.raises(OutputError, match="another train"):
        sweep(other, PARTS[:1], journal=journal, processes=1)


def test_several_trains_share_a_journal(tmp_path: Path) -> None:
    """Two trains in one sweep: the rows of each as alone, and a stopped one goes on in the second train."""
    journal = tmp_path / "answers.jsonl"
    other = train_of((hollow("wide", 9, 8, 9),), ())
    alone = [sweep(TRAIN, PARTS, processes=1), sweep(other, PARTS, processes=1)]
    both = [(TRAIN, PARTS), (other, PARTS)]
    assert list(sweep_trains(both, journal=journal, processes=1)) == alone
    lines = journal.read_text(encoding="utf-8").splitlines()
    assert len(lines) == 9
    journal.write_text("\n".join(lines[:7]) + "\n" + lines[7][:30], encoding="utf-8")
    told: list[float] = []
    again = sweep_trains(both, journal=journal, processes=1, progress=lambda stage, share: told.append(share))
    assert list(again) == alone
    assert (told[0], told[1]) == pytest.approx((0.5, 0.5 + 1 / 6))
    with pytest.raises(OutputError, match="another train"):
        sweep(TRAIN, PARTS, journal=journal, processes=1)


def test_another_process_goes_on_with_a_journal(tmp_path: Path) -> None:
    """What tells journals apart is the same whatever the seed of hashes: trains hold sets."""
    program = (
        "from fitplan import read_train\nfrom fitplan.planning.sweep import _mark\n"
        "print(_mark(read_train('market-tram'), 1.0, 0))"
    )
    marks = {
        subprocess.run(
            [sys.executable, "-c", program],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(marks) == 1
