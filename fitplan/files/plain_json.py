"""Any value of the model as plain JSON, for the tables that commands print."""

from __future__ import annotations

from typing import Any

from fitplan.files.codec import Codec
from fitplan.model.solids import Pose, poses


def to_plain(value: Any) -> Any:
    """Return a dataclass, or a sequence of them, as objects and lists of plain JSON values."""
    if isinstance(value, list | tuple):
        return [to_plain(entry) for entry in value]
    codec = Codec({}, {Pose: {pose.name: pose for pose in poses()}})
    return codec.encode(type(value), value)
