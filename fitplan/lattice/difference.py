"""Boxes less a box: what is left of each is cut off side by side. The one home of it, in tenths or mm.

A union of offsets less many boxes at once is another matter, with a kernel of its own
(`packing.engine.free_offsets.subtract`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Number = TypeVar("Number", bound=np.generic)


def without(boxes: NDArray[Number], hole: Sequence[float]) -> NDArray[Number]:
    """Return what of boxes lies outside a hole.

    Parameters
    ----------
    boxes
        (n, 6), low and high corners; they may overlap.
    hole
        (6,), low and high corner; what only touches it stays whole.

    Returns
    -------
    ndarray
        (m, 6) of the same type; the pieces of a box are apart from one another and stand in its place.
    """
    low, high = np.array(hole[:3]), np.array(hole[3:])
    meets = np.all((boxes[:, :3] < high) & (boxes[:, 3:] > low), axis=1)
    if not meets.any():
        return boxes
    found: list[NDArray[Number]] = []
    for box, met in zip(boxes, meets, strict=True):
        if not met:
            found.append(box)
            continue
        rest = box.copy()
        for axis in range(3):
            for end, other in ((axis, axis + 3), (axis + 3, axis)):
                if rest[end] < hole[end] if end == axis else rest[end] > hole[end]:
                    piece = rest.copy()
                    piece[other] = rest[end] = hole[end]
                    found.append(piece)
    return np.array(found, dtype=boxes.dtype).reshape(-1, 6)
