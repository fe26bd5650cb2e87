"""The bundled catalogue in a form that is read in a fifth of the time of its files, only while it is theirs.

``python -m fitplan.files.reference`` writes it again; a test keeps it up to date. It carries the digest of
the files: with another one, where somebody has changed them, they are read themselves.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from fitplan.files.codec import Codec
from fitplan.model.part import Part
from fitplan.model.solids import Pose, poses

FORM = "parts.jsonl"
"""Its name in the folder of the catalogue."""
_WORDED: dict[type, dict[str, Any]] = {Pose: {pose.name: pose for pose in poses()}}


def form_of(parts: Mapping[str, Part], digest: str) -> str:
    """Return the form of some parts: the digest of their files in the first line, then a part a line."""
    codec = Codec({}, _WORDED)
    lines = [digest, *(codec.encode_fields(part) for part in parts.values())]
    return "".join(json.dumps(line, ensure_ascii=False, separators=(",", ":")) + "\n" for line in lines)


def read_form(folder: Path, digest: str) -> dict[str, Part] | None:
    """Return the parts of a folder's form by id; None when it has none that is of its files."""
    codec = Codec({}, _WORDED)
    try:
        first, *lines = (folder / FORM).read_text(encoding="utf-8").rstrip("\n").split("\n")
        if json.loads(first) != digest:
            return None
        parts = [codec.decode_fields(Part, json.loads(line)) for line in lines]
    except (OSError, ValueError):  # none there, no text, or damaged
        return None
    return {part.id: part for part in parts}
