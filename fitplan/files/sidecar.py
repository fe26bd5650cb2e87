"""Sidecar files: the boxes of a body that are too many for a text that a person reads.

A numpy archive (``.npz``) with ``boxes`` (n, 6) int32, lower and upper corners in ten-thousandths of a
millimetre; ``states`` (n,) uint8, places in the list of states; ``bricks`` (n,) uint16, places in ``names``;
and ``names``, the removable bricks. Boxes are drawn in order, after the layers and before the solids.
"""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from fitplan.files.sources import as_stored, heard
from fitplan.model.solids import Box
from fitplan.model.vehicle import STATES, BodySolid

_UNIT = 10_000
MOST_BOXES = 100_000
"""A body of more boxes than this is not read."""
_FURTHEST = 20_000
"""No box lies further out than this, in mm."""
_MOST_BYTES = 20_000_000
_MOST_UNFOLDED = 40_000_000
"""Largest file, packed and unpacked: both hold the most boxes several times over."""


class BadSidecar(ValueError):  # noqa: N818 - told as a mistake of the vehicle file that names it
    """A sidecar cannot be read; the text says what was found."""


def sidecar_bytes(solids: Sequence[BodySolid]) -> bytes:
    """Return the sidecar that holds some boxes, always the same bytes for the same boxes.

    Raises
    ------
    ValueError
        When a solid is no box.
    """
    names = sorted({entry.removable for entry in solids if entry.removable})
    boxes, states, bricks = [], [], []
    for entry in solids:
        if not isinstance(entry.solid, Box):
            raise ValueError("a sidecar holds boxes only")
        boxes.append([round(c * _UNIT) for c in (*entry.solid.low, *entry.solid.high)])
        states.append(STATES.index(entry.state))
        bricks.append(names.index(entry.removable) if entry.removable else 0)
    stream = io.BytesIO()
    np.savez_compressed(
        stream,
        boxes=np.array(boxes, dtype=np.int32).reshape(-1, 6),
        states=np.array(states, dtype=np.uint8),
        bricks=np.array(bricks, dtype=np.uint16),
        names=np.array(names, dtype=np.str_),
    )
    return stream.getvalue()


def _check_unfolded(data: bytes) -> None:
    """Refuse an archive before it is unpacked when it says that it is large once unpacked."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        entries = archive.infolist()
        whole = sum(entry.file_size for entry in entries)
    if whole > _MOST_UNFOLDED or len(entries) > 16:
        raise BadSidecar(f"an archive of {len(entries)} entries and {whole} bytes once unpacked")


def read_sidecar(path: Path) -> tuple[BodySolid, ...]:
    """Return the boxes of a sidecar.

    Raises
    ------
    BadSidecar
        When it is not there, damaged, or holds what no body can be.
    """
    try:
        path = as_stored(path)
        if not path.is_file():
            raise BadSidecar("a file that is not there")
        if path.stat().st_size > _MOST_BYTES:
            raise BadSidecar(f"a file of {path.stat().st_size} bytes")
        data = path.read_bytes()
        heard(path, data)
        _check_unfolded(data)
        with np.load(io.BytesIO(data), allow_pickle=False) as archive:
            boxes, states, bricks, named = (
                np.asarray(archive[key]) for key in ("boxes", "states", "bricks", "names")
            )
    except FileNotFoundError:
        raise BadSidecar("a file that is not there") from None
    except BadSidecar:
        raise
    except (
        OSError, ValueError, KeyError, TypeError, EOFError, OverflowError, MemoryError, SyntaxError,
        NotImplementedError, RuntimeError, zipfile.BadZipFile, zlib.error, struct.error,
    ) as error:  # fmt: skip
        reason = str(error).split("\n")[0] or type(error).__name__
        raise BadSidecar(f"a file that cannot be read ({reason})") from None
    if any(array.dtype.kind not in "iu" for array in (boxes, states, bricks)) or named.dtype.kind != "U":
        raise BadSidecar("a file whose figures are no whole numbers, or whose names are no texts")
    if boxes.ndim != 2 or named.ndim != 1:
        raise BadSidecar("a file whose lists do not belong together")
    names = [str(name) for name in named]
    count = len(boxes)
    furthest = float(np.abs(boxes.astype(np.float64)).max(initial=0.0))
    if furthest > _FURTHEST * _UNIT or states.min(initial=0) < 0 or bricks.min(initial=0) < 0:
        raise BadSidecar("a file with a box far outside any vehicle, or an unknown state")
    boxes = boxes.astype(np.int64)
    if boxes.ndim != 2 or boxes.shape[1:] != (6,) or states.shape != (count,) or bricks.shape != (count,):
        raise BadSidecar("a file whose lists do not belong together")
    if not 1 <= count <= MOST_BOXES:
        raise BadSidecar(f"a file with {count} boxes")
    if (boxes[:, 3:] <= boxes[:, :3]).any() or int(states.max()) >= len(STATES):
        raise BadSidecar("a file with a box without volume or an unknown state")
    removable = states == STATES.index("removable")
    if removable.any() and int(bricks[removable].max()) >= len(names):
        raise BadSidecar("a file with a removable box without a name")
    found = []
    for row, state, brick in zip((boxes / _UNIT).tolist(), states.tolist(), bricks.tolist(), strict=True):
        word = STATES[state]
        box = Box((row[0], row[1], row[2]), (row[3], row[4], row[5]))
        found.append(BodySolid(box, word, names[brick] if word == "removable" else ""))
    return tuple(found)
