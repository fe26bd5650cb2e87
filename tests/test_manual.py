"""The manual page, the completion, and the table of exit status: made of what the commands are."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from fitplan.cli import app
from fitplan.cli.endings import EXIT_STATUS
from fitplan.cli.manual import PAGE, manual_page

ROOT = Path(__file__).parents[1]


def test_the_page_that_is_installed_is_the_one_of_the_commands() -> None:
    """Each command, argument and option stands in it; ``python -m fitplan.cli.manual`` writes it again."""
    assert PAGE.read_text("utf-8") == manual_page()
    for command in app.registered_commands:
        assert command.callback is not None
        name = (command.name or command.callback.__name__).replace("-", "\\-")
        assert f".SS fitplan {name}" in manual_page()


@pytest.mark.skipif(shutil.which("groff") is None, reason="no groff to set the page with")
def test_the_page_is_set_without_a_warning() -> None:
    """No request that is none, no character that cannot be set."""
    command = ["groff", "-man", "-K", "utf8", "-Tutf8", "-ww", "-z", str(PAGE)]
    assert subprocess.run(command, capture_output=True, text=True, check=True).stderr == ""


def test_exit_statuses_are_one_table() -> None:
    """The README tells of them what the manual page tells."""
    rows = re.findall(r"^\| (\d+) \| (.+) \|$", (ROOT / "README.md").read_text("utf-8"), re.MULTILINE)
    assert {int(status): words for status, words in rows} == EXIT_STATUS


def completed(words: str) -> list[str]:
    """Return what a shell is offered for the last of some words."""
    count = len(words.split()) - (0 if words.endswith(" ") else 1)
    environment = {
        **os.environ,
        "PYTHONPATH": str(ROOT),
        "_FITPLAN_COMPLETE": "complete_bash",
        "COMP_WORDS": words,
        "COMP_CWORD": str(count),
    }
    done = subprocess.run(
        [sys.executable, "-m", "fitplan"], env=environment, capture_output=True, text=True, check=False
    )
    return done.stdout.split()


def test_shells_complete_commands_options_and_trains() -> None:
    """What has begun goes on: a command, an option, an example's name."""
    assert completed("fitplan ver") == ["verify"]
    assert "--deadline" in completed("fitplan fit --d")
    assert completed("fitplan plan harb") == ["harbour-line"]
