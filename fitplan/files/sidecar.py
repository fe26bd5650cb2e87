"""Sidecar files: the boxes of a body that are too many for a text that a person reads.

A numpy archive (``.npz``) with ``boxes`` (n, 6) int32, lower and upper corners in ten-thousandths of a
millimetre; ``states`` (n,) uint8, places in the list of states; ``bricks`` (n,) uint16, places in ``names``;
and ``names``, the removable bricks. Boxes are drawn in order, after the layers and before the solids.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from fitplan.files.sources import heard
from fitplan.model.solids import Box
from fitplan.model.vehicle import STATES, BodySolid

_UNIT = 10_000
MOST_BOXES = 100_000
"""A body of more boxes than this is not read."""


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


def read_sidecar(path: Path) -> tuple[BodySolid, ...]:
    """Return the boxes of a sidecar.

    Raises
    ------
    BadSidecar
        When it is not there, damaged, or holds what no body can be.
    """
    try:
        data = path.read_bytes()
        heard(path, data)
        with np.load(io.BytesIO(data), allow_pickle=False) as archive:
            boxes = np.asarray(archive["boxes"], dtype=np.int64)
            states, bricks = np.asarray(archive["states"]), np.asarray(archive["bricks"])
            names = [str(name) for name in np.asarray(archive["names"])]
    except FileNotFoundError:
        raise BadSidecar("a file that is not there") from None
    except (OSError, ValueError, KeyError, TypeError, EOFError, zipfile.BadZipFile) as error:
        reason = str(error).split("\n")[0] or type(error).__name__
        raise BadSidecar(f"a file that cannot be read ({reason})") from None
    count = len(boxes)
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
