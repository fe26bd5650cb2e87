"""What stands in a folder that fitplan writes, read without changing anything.

A run that was killed may have left a change half done. Who reads takes each file from where it is, as the
change will leave it, and leaves putting the folder in order to the next one that writes there.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fitplan.files.write import safe_name

OWN = ".fitplan"
"""The hidden folder; nothing in it is the user's."""
FORMAT = "fitplan-folder"
_LARGEST = 20_000_000
_LONGEST_NAME = 200
"""Longest name of a stage; fitplan's own are short."""


@dataclass(frozen=True)
class Owned:
    """What fitplan wrote into a folder: digests by name, and of what train."""

    files: Mapping[str, str] = field(default_factory=dict)
    train: str = ""


def owned_files(folder: Path) -> Owned:
    """Return what fitplan wrote into a folder; nothing where there is no list or it is damaged."""
    try:
        data = json.loads(_small_text(Path(folder) / OWN / "manifest.json"))
    except (OSError, ValueError, RecursionError):
        return Owned()
    return _owned(data)


def standing_files(folder: Path) -> Owned:
    """Return what fitplan wrote into a folder once a change that was broken off is settled."""
    journal = journal_of(Path(folder))
    if journal is None or journal["undo"]:
        return owned_files(folder)
    return _owned(journal["manifest"])


def standing(folder: Path, name: str) -> Path:
    """Return where a file lies now that a folder holds once a change that was broken off is settled."""
    folder = Path(folder)
    journal = journal_of(folder)
    if journal is None or name not in journal["put"]:
        return folder / name
    aside = folder / OWN / journal["stage"] / ("old" if journal["undo"] else "new") / name
    return aside if aside.is_file() else folder / name


def journal_of(folder: Path) -> dict[str, Any] | None:
    """Return the change that a folder is in the middle of, if any."""
    try:
        found = json.loads(_small_text(folder / OWN / "journal.json"))
        lists = {key: [str(name) for name in found[key]] for key in ("put", "drop", "had")}
        stage = str(found["stage"])
        if len(stage) > _LONGEST_NAME:
            return None
        for name in (*lists["put"], *lists["drop"], *lists["had"], stage):
            safe_name(name)
        return {**lists, "stage": stage, "undo": bool(found["undo"]), "manifest": dict(found["manifest"])}
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


def _owned(data: Any) -> Owned:
    try:
        if data["format"] != FORMAT:
            return Owned()
        files = {str(name): str(content) for name, content in data["files"].items()}
        for name in files:
            safe_name(name)
        return Owned(files, str(data["train"]))
    except (ValueError, KeyError, TypeError, AttributeError):
        return Owned()


def _small_text(path: Path) -> str:
    """Return a file's text; of a pipe, a device or an endless file none."""
    if not path.is_file() or path.stat().st_size > _LARGEST:
        raise ValueError("no list of fitplan's")
    return path.read_text("utf-8")
