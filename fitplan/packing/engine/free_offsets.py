"""The offsets that obstacles leave to each kind of item, as unions of closed boxes; exact."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fitplan.budget import LATE, Budget
from fitplan.kernels import shared
from fitplan.kernels.load import Kernel
from fitplan.packing.engine.candidate_points import within_hull
from fitplan.packing.engine.problem import IntBox, PackingProblem, Shape, Space, Variant

MOST_PIECES = 60_000
SIZED = 32
"""Bytes of a box with its volume in the kernel's memory."""


@dataclass(frozen=True)
class FreeVariant:
    """A variant of a kind with what the obstacles leave of its domain.

    ``index`` is its place in the item's own tuple of variants; ``pieces`` is ``(n, 6) int32``, closed
    boxes of offsets that cover the free offsets exactly.
    """

    index: int
    variant: Variant
    pieces: NDArray[np.int32]


@dataclass(frozen=True)
class ItemKind:
    """Items that are identical, under the names that the problem gives them."""

    names: tuple[str, ...]
    variants: tuple[FreeVariant, ...]

    @property
    def least_volume(self) -> int:
        """Exact volume of the smallest variant's solid."""
        return min((union_volume(free.variant.shape.solid) for free in self.variants), default=0)


def kinds_of(problem: PackingProblem, budget: Budget | None = None) -> tuple[ItemKind, ...]:
    """Group identical items, drop repeated poses and cut every domain down to what obstacles leave.

    Raises
    ------
    OverflowError
        When a domain falls into more than ``MOST_PIECES`` boxes.
    TimeoutError
        When the budget's deadline is reached on the way.
    """
    groups: dict[tuple[Variant, ...], list[str]] = {}
    for item in problem.items:
        groups.setdefault(item.variants, []).append(item.name)
    known: dict[tuple[Shape, tuple[IntBox, ...], int], NDArray[np.int32]] = {}
    kinds = []
    for variants, names in groups.items():
        kept: dict[tuple[Shape, tuple[IntBox, ...], int], FreeVariant] = {}
        for index in sorted(range(len(variants)), key=lambda k: (variants[k].cost, k)):
            variant = variants[index]
            mark = (variant.shape, variant.domain, variant.space)
            if mark in kept:
                continue
            if budget is not None and budget.late:
                raise TimeoutError(f"{LATE} before the places of each part were worked out")
            if mark not in known:
                known[mark] = free_pieces(variant, problem)
            if len(known[mark]):
                kept[mark] = FreeVariant(index, variant, known[mark])
        kinds.append(ItemKind(tuple(names), tuple(kept.values())))
    return tuple(kinds)


def free_pieces(variant: Variant, problem: PackingProblem) -> NDArray[np.int32]:
    """Return the offsets at which a variant lies in its space clear of obstacles, as closed boxes."""
    return _pieces(variant.shape, variant.domain, problem.spaces[variant.space])


@lru_cache(maxsize=4096)  # the same part is asked into the same vehicle beside many others
def _pieces(shape: Shape, domain: tuple[IntBox, ...], space: Space) -> NDArray[np.int32]:
    inside = np.array(within_hull(domain, shape.bounds, space.hull), dtype=np.int32).reshape(-1, 6)
    strict = [clearance.box for clearance in shape.clearances if clearance.clear_of_obstacles]
    kept_off = ((space.obstacle_rows, shape.solid), (space.off_limits_rows, strict))
    most = sum(len(standing) * len(own) for standing, own in kept_off)
    if not len(inside) or not most:
        return inside
    kernel = shared("packing_places")
    put = kernel.put
    forbidden, count = kernel.empty((most, 6), np.int32, zeroed=False), 0
    for standing, own in kept_off:
        rows = put(np.array(own, dtype=np.int32))
        count = kernel.call("places_meet", put(standing), len(standing), rows, len(own), forbidden, count)
    found = _left(kernel, inside, forbidden, count)
    found.flags.writeable = False
    return found


def allowed(domain: NDArray[np.int64], forbidden: NDArray[np.int64]) -> NDArray[np.int32]:
    """Return a domain, (n, 6) closed boxes, less forbidden offsets, (m, 6) open boxes; as `subtract`."""
    return subtract(domain.astype(np.int32), forbidden.astype(np.int32))


def subtract(closed: NDArray[np.int32], opened: NDArray[np.int32]) -> NDArray[np.int32]:
    """Return a union of closed boxes less a union of open boxes, as closed boxes; exact.

    Raises
    ------
    OverflowError
        When more than ``MOST_PIECES`` boxes would be needed.
    """
    kernel = shared("packing_places")
    return _left(kernel, closed, kernel.put(opened), len(opened))


def _left(kernel: Kernel, closed: NDArray[np.int32], opened: int, count: int) -> NDArray[np.int32]:
    """Return what open boxes in a kernel's memory leave of closed ones."""
    if len(closed) > MOST_PIECES:
        raise OverflowError("the free offsets fall into too many boxes")
    room = kernel.empty((6, MOST_PIECES), np.int32, zeroed=False)
    kernel.view(room, (6, MOST_PIECES), np.int32)[:, : len(closed)] = closed.T
    scratch = kernel.empty(2 * SIZED * count, np.uint8, zeroed=False)
    left = kernel.call("places_leave", room, len(closed), opened, count, scratch, MOST_PIECES)
    if left < 0:
        raise OverflowError("the free offsets fall into too many boxes")
    return kernel.view(room, (6, MOST_PIECES), np.int32)[:, :left].T.copy(order="C")


@lru_cache(maxsize=4096)  # the same shapes and the same vehicles are asked about again and again
def union_volume(boxes: tuple[IntBox, ...]) -> int:
    """Return the exact volume of a union of boxes."""
    if len(boxes) == 1:
        x0, y0, z0, x1, y1, z1 = boxes[0]
        return (x1 - x0) * (y1 - y0) * (z1 - z0)
    array = np.array(boxes, dtype=np.int64)
    cuts = [np.unique(array[:, [axis, axis + 3]]) for axis in range(3)]
    filled = np.zeros([len(cut) - 1 for cut in cuts], dtype=bool)
    first, after = (
        np.stack([np.searchsorted(cuts[axis], array[:, axis + side]) for axis in range(3)], axis=1).tolist()
        for side in (0, 3)
    )
    for (i0, j0, k0), (i1, j1, k1) in zip(first, after, strict=True):
        filled[i0:i1, j0:j1, k0:k1] = True
    x, y, z = (np.diff(cut) for cut in cuts)
    return int(np.einsum("ijk,i,j,k->", filled.astype(np.int64), x, y, z))
