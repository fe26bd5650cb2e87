"""How much of a stranger's file is read: told before it is unpacked, so that memory and time are bounded."""

from __future__ import annotations

from pathlib import Path

MOST_BYTES = 400_000_000
"""Largest file, and largest content of an archive once it is unpacked."""
MOST_FACES = 8_000_000
"""Triangles of all objects, each instance counted."""
MOST_OBJECTS = 100_000
"""Objects as the scene places them; one that is placed twice counts twice."""
MOST_LEVELS = 64
"""How deep objects may stand in one another."""


class Unfolded:
    """Counts what a scene becomes once its instances are placed, and refuses what is too much."""

    def __init__(self) -> None:
        self._objects = self._faces = 0

    def add(self, faces: int = 0) -> None:
        """Count one more object.

        Raises
        ------
        ValueError
            When objects or triangles are more than are read.
        """
        self._objects += 1
        self._faces += faces
        if self._objects > MOST_OBJECTS:
            raise ValueError(f"more than {MOST_OBJECTS} objects once instances are placed")
        if self._faces > MOST_FACES:
            raise ValueError(f"more than {MOST_FACES} triangles once instances are placed")


def bounded_bytes(path: Path, most: int = MOST_BYTES) -> bytes:
    """Return the bytes of a regular file that is not too large.

    Raises
    ------
    ValueError
        When it is not there, no regular file (a pipe or a device would never end), or too large.
    """
    try:
        regular = path.is_file()
    except (OSError, ValueError):
        regular = False
    if not regular:
        raise ValueError(f"{path.name[:60]!r} beside it is no file")
    if (size := path.stat().st_size) > most:
        raise ValueError(f"a file of {size / 1e6:.0f} MB; at most {most / 1e6:.0f} MB are read")
    return path.read_bytes()
