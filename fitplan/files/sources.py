"""Which files something was read from, with a digest of each: a plan tells what it was made of.

Of texts the digest is without byte order mark and with plain line ends: any system's copy is the same file.
"""

from __future__ import annotations

import hashlib
import os
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

from fitplan.model.train import SourceFile

CATALOGUE = "the catalogue that comes with fitplan"
_heard: ContextVar[dict[Path, str] | None] = ContextVar("files read", default=None)


def heard(path: Path, data: bytes) -> None:
    """Note a file that was read, when somebody listens."""
    record = _heard.get()
    if record is not None:
        record[Path(path)] = digest(data)


@contextmanager
def listening() -> Iterator[dict[Path, str]]:
    """Give the digests of all files that are read meanwhile, by path."""
    record: dict[Path, str] = {}
    token = _heard.set(record)
    try:
        yield record
    finally:
        _heard.reset(token)


def digest(data: bytes) -> str:
    """Return the SHA-256 of some bytes in hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def digest_of_folder(folder: Path, endings: tuple[str, ...]) -> str:
    """Return one digest of all files of a folder with these endings, names counted."""
    whole = hashlib.sha256()
    for path in sorted(folder.iterdir()):
        if path.suffix in endings and path.is_file():
            whole.update(f"{path.name}\0{digest(path.read_bytes())}\n".encode())
    return whole.hexdigest()


def source_files(record: dict[Path, str], folder: Path) -> tuple[SourceFile, ...]:
    """Return what was read as source files, named from a folder with forward slashes, in order of names."""
    found = {}
    for path, content in record.items():
        try:
            name = Path(os.path.relpath(path, folder)).as_posix()
        except ValueError:  # another drive
            name = path.name
        found[name] = content
    return tuple(SourceFile(name, content) for name, content in sorted(found.items()))


def as_stored(path: Path) -> Path:
    """Return a path as the disk has it: an ``ä`` of one character or of two is the same name to a reader."""
    path = Path(path)
    if path.exists() or path.name.isascii() or not path.parent.is_dir():
        return path
    wanted = unicodedata.normalize("NFC", path.name)
    alike = [one for one in path.parent.iterdir() if unicodedata.normalize("NFC", one.name) == wanted]
    return alike[0] if len(alike) == 1 else path
