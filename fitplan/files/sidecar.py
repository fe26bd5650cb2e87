"""Sidecar files: the solids of a body that are too many for a text that a person reads.

A numpy archive (``.npz``) with ``boxes`` (n, 6) int32, lower and upper corners of each solid's bounds in
ten-thousandths of a millimetre; ``kinds`` (n,) uint8, 0 for a box, 1 to 3 for a cylinder along x, y or z, and
from 4 on a wedge by its base and back; ``states`` (n,) uint8, places in the list of states; ``bricks`` (n,)
uint16, places in ``names``; and ``names``, the removable bricks. Solids are drawn in order, after the layers
and before the solids of the vehicle file. Without ``kinds`` all are boxes.
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
from fitplan.model.solids import AXES, DIRECTIONS, Box, Cylinder, Solid, Wedge, axis_of
from fitplan.model.vehicle import STATES, BodySolid

_UNIT = 10_000
_WEDGES = tuple((base, back) for base in DIRECTIONS for back in DIRECTIONS if axis_of(base) != axis_of(back))
_FIRST_WEDGE = 4
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
    """Return the sidecar that holds some solids, always the same bytes for the same solids."""
    names = sorted({entry.removable for entry in solids if entry.removable})
    boxes, kinds, states, bricks = [], [], [], []
    for entry in solids:
        bounds = entry.solid.bounds
        boxes.append([round(c * _UNIT) for c in (*bounds.low, *bounds.high)])
        kinds.append(_kind(entry.solid))
        states.append(STATES.index(entry.state))
        bricks.append(names.index(entry.removable) if entry.removable else 0)
    stream = io.BytesIO()
    np.savez_compressed(
        stream,
        boxes=np.array(boxes, dtype=np.int32).reshape(-1, 6),
        kinds=np.array(kinds, dtype=np.uint8),
        states=np.array(states, dtype=np.uint8),
        bricks=np.array(bricks, dtype=np.uint16),
        names=np.array(names, dtype=np.str_),
    )
    return stream.getvalue()


def _kind(solid: Solid) -> int:
    match solid:
        case Box():
            return 0
        case Cylinder():
            return 1 + AXES.index(solid.axis)
        case Wedge():
            return _FIRST_WEDGE + _WEDGES.index((solid.base, solid.back))


def _solid(kind: int, row: Sequence[float]) -> Solid:
    low, high = (row[0], row[1], row[2]), (row[3], row[4], row[5])
    if kind == 0:
        return Box(low, high)
    if kind >= _FIRST_WEDGE:
        return Wedge(Box(low, high), *_WEDGES[kind - _FIRST_WEDGE])
    along = kind - 1
    across = (along + 1) % 3
    start = [(a + b) / 2 for a, b in zip(low, high, strict=True)]
    start[along] = low[along]
    x, y, z = (round(c, 5) for c in start)
    radius = round((high[across] - low[across]) / 2, 5)
    return Cylinder(AXES[along], (x, y, z), round(high[along] - low[along], 4), radius)


def _check_unfolded(data: bytes) -> None:
    """Refuse an archive before it is unpacked when it says that it is large once unpacked."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        entries = archive.infolist()
        whole = sum(entry.file_size for entry in entries)
    if whole > _MOST_UNFOLDED or len(entries) > 16:
        raise BadSidecar(f"an archive of {len(entries)} entries and {whole} bytes once unpacked")


def read_sidecar(path: Path) -> tuple[BodySolid, ...]:
    """Return the solids of a sidecar.

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
            none = np.zeros(len(boxes) if boxes.ndim else 0, dtype=np.uint8)
            kinds = np.asarray(archive["kinds"]) if "kinds" in archive.files else none
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
    if (
        any(array.dtype.kind not in "iu" for array in (boxes, kinds, states, bricks))
        or named.dtype.kind != "U"
    ):
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
    if kinds.shape != (count,):
        raise BadSidecar("a file whose lists do not belong together")
    if count and not 0 <= int(kinds.min()) <= int(kinds.max()) < _FIRST_WEDGE + len(_WEDGES):
        raise BadSidecar("a file with a solid of an unknown kind")
    if not 1 <= count <= MOST_BOXES:
        raise BadSidecar(f"a file with {count} boxes")
    if (boxes[:, 3:] <= boxes[:, :3]).any() or int(states.max()) >= len(STATES):
        raise BadSidecar("a file with a box without volume or an unknown state")
    removable = states == STATES.index("removable")
    if removable.any() and int(bricks[removable].max()) >= len(names):
        raise BadSidecar("a file with a removable box without a name")
    found = []
    rows = zip((boxes / _UNIT).tolist(), kinds.tolist(), states.tolist(), bricks.tolist(), strict=True)
    for row, kind, state, brick in rows:
        word = STATES[state]
        found.append(BodySolid(_solid(kind, row), word, names[brick] if word == "removable" else ""))
    return tuple(found)
