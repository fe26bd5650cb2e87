"""How commands end: with output cut off, closed or full, with odd settings, and never with a traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import fitplan
from fitplan.report.terminal.screen import escaped, visible, width

ROOT = Path(fitplan.__file__).parents[1]


def run(words: str, **settings: str) -> subprocess.CompletedProcess[str]:
    """Run a line of a shell with fitplan as ``$F``."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "F": f"{sys.executable} -m fitplan", **settings}
    return subprocess.run(
        ["sh", "-c", words], capture_output=True, text=True, env=environment, check=False, timeout=300
    )


posix = pytest.mark.skipif(os.name != "posix", reason="a shell with redirections")


@posix
def test_a_reader_that_leaves_early_is_no_fault() -> None:
    """Nothing is said when the reader of a pipe has seen enough."""
    ended = run("$F parts --json | head -1")
    assert ended.stderr == ""
    assert ended.stdout == "{\n"


@posix
def test_closed_output_is_no_fault() -> None:
    """With no output to write to, commands still do their work."""
    assert run("$F parts >&-").returncode == 0
    assert run("$F check nothing-of-this-name >&- 2>&-").returncode == 2


@posix
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device that is always full")
@pytest.mark.parametrize("command", ["parts", "parts --json", "check harbour-line"])
def test_a_full_disk_is_told(command: str) -> None:
    """What cannot be written ends in one sentence and exit status 2."""
    ended = run(f"$F {command} >/dev/full")
    assert ended.returncode == 2
    assert ended.stderr.startswith("fitplan: cannot ")
    assert len(ended.stderr.splitlines()) == 1


@posix
@pytest.mark.parametrize("columns", ["wide", "99999999999"])
def test_a_width_that_is_none(columns: str) -> None:
    """COLUMNS may be anything; which of them are widths is asked of the reader itself below."""
    ended = run("$F parts show lamp-5mm", COLUMNS=columns)
    assert (ended.returncode, ended.stderr) == (0, "")


def test_widths() -> None:
    """A width is taken when it is one, and else the usual one."""
    assert [width(text) for text in ("80", "20", "1000")] == [80, 20, 1000]
    none = ("19", "1001", "x", "", "0", "-5", "99999999999", "1e3", "wide")
    assert [width(text) for text in none] == [100] * len(none)


def test_what_cannot_be_seen_is_marked() -> None:
    """Controls, marks of direction, characters without width and halves of pairs; letters and signs stay."""
    for (
        hidden
    ) in "\x1b\x07\x7f\x9b\u202e\u2066\u200b\u200d\u00ad\ufeff\u2028\u115f\u3164\ufe0f\U000e0041\ud800":
        assert visible(f"a{hidden}b") == "a\ufffdb"
        assert escaped(f'"a{hidden}b"').isascii()
    for seen in ("Grüße\n", "шасси", "電車", "a\u0308", "4 × 9 mm, −1 °C …"):
        assert visible(seen) == seen
        assert escaped(seen) == seen


@posix
def test_texts_of_strangers_reach_no_screen_raw(tmp_path: Path) -> None:
    """Names in a train file with escapes, bells and marks of direction: neither tables, errors nor JSON."""
    folder = tmp_path / "train"
    assert run(f"$F new {folder}").returncode == 0
    path = folder / "train.yaml"
    evil = "\\e[31mred\\a\\u202Egnp\\u200B"
    text = path.read_text("utf-8")
    name = text.split("train:", 1)[1].split("\n", 1)[0]
    path.write_text(text.replace(f"train:{name}", f'train: "{evil}"', 1), "utf-8")
    for command in ("check", "check --json", "fit --json"):
        ended = run(f"$F {command} {folder}")
        assert ended.returncode in (0, 1), ended.stderr
        assert not set("\x1b\x07\u202e\u200b") & set(ended.stdout + ended.stderr)
    path.write_text(text.replace("- name: brain", f'- name: "{evil}"', 1) + "nonsense: \x85\n", "utf-8")
    ended = run(f"$F check {folder}")
    assert ended.returncode == 2
    assert not set("\x1b\x07\u202e\u200b") & set(ended.stdout + ended.stderr)


@posix
def test_no_colour_means_none() -> None:
    """With NO_COLOR neither colours nor weights are sent, also to a terminal."""
    script = f"script -qec '{sys.executable} -m fitplan parts show lamp-5mm' /dev/null"
    if run("command -v script").returncode:
        pytest.skip("no command that gives a terminal")
    assert "\x1b[" in run(script, TERM="xterm-256color", NO_COLOR="").stdout
    assert "\x1b[" not in run(script, TERM="xterm-256color", NO_COLOR="1").stdout
