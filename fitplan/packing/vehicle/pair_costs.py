"""What many places of one part have to do with another part that lies."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Boxes = NDArray[np.int64]


def shares(boxes: Boxes, others: Boxes) -> NDArray[np.float64]:
    """Return (n,) how much of the boxes (n, k, 6) is taken by others: (m, 6), or (n, m, 6) row by row."""
    x, y, z = (np.maximum(high - low, 0).astype(float) for low, high in _common(boxes, others))
    shared = (x * y * z).sum(axis=-1)
    x, y, z = np.moveaxis(np.maximum(boxes[..., 3:] - boxes[..., :3], 0).astype(float), -1, 0)
    whole = x * y * z
    found: NDArray[np.float64] = np.minimum(
        np.divide(shared, whole, out=np.zeros_like(shared), where=whole > 0), 1.0
    ).sum(axis=1)
    return found


def meet(boxes: Boxes, others: Boxes) -> NDArray[np.bool_]:
    """Return (n,) whether any of the boxes (n, k, 6) overlaps any of the others (m, 6)."""
    if not boxes.shape[1] or not len(others):
        return np.zeros(len(boxes), dtype=bool)
    x, y, z = (low < high for low, high in _common(boxes, others))
    return np.asarray((x & y & z).any(axis=(1, 2)), dtype=np.bool_)


def _common(boxes: Boxes, others: Boxes) -> Iterator[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    """Yield axis by axis from where to where each box and each other share room, (n, k, m) each."""
    for axis in range(3):
        low, high = boxes[:, :, None, axis], boxes[:, :, None, axis + 3]
        yield np.maximum(low, others[..., None, :, axis]), np.minimum(high, others[..., None, :, axis + 3])


def under_taken(cores: Boxes, others: Boxes) -> NDArray[np.float64]:
    """Return (n,) how much of columns (n, 6), from above, others shut at any height: (m, 6) or (n, m, 6)."""
    others = np.broadcast_to(others, (len(cores), *others.shape[-2:])).copy()
    low, high = cores[:, None, 2], cores[:, None, 5]
    met = (others[..., 2] < high) & (others[..., 5] > low)
    others[..., 2], others[..., 5] = np.where(met, low, 0), np.where(met, high, 0)
    return shares(cores[:, None], others)


def nearest(pins: NDArray[np.int64], points: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return (n,) the least way along the axes from any of the pins (n, k, 3) to any of the points (m, 3)."""
    x, y, z = (np.abs(pins[:, :, None, axis] - points[:, axis]) for axis in range(3))
    return np.asarray((x + y + z).min(axis=(1, 2)), dtype=np.int64)


@dataclass(frozen=True, eq=False)
class PairCosts:
    """What n places of a part have to do with another part that lies somewhere.

    Attributes
    ----------
    overlap
        (n,) bool.
    before_pins
        (n,) each, what it costs that one lies before pins of the other, or where the other is built up to.
    away
        (n,) by net, from the nearest pin of the one to the nearest of the other (tenths).
    """

    overlap: NDArray[np.bool_]
    before_pins: tuple[NDArray[np.float64], ...]
    away: Mapping[int, NDArray[np.int64]]

    def of(self, rows: slice) -> PairCosts:
        """Return the same of some of the places."""
        away = {net: values[rows] for net, values in self.away.items()}
        return PairCosts(self.overlap[rows], tuple(values[rows] for values in self.before_pins), away)
