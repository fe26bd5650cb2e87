"""Arguments that settle a problem without any search: no place at all, and too much volume."""

from __future__ import annotations

import itertools
from functools import lru_cache

import numpy as np

from fitplan.packing.engine.candidate_points import lowest_free_point
from fitplan.packing.engine.free_offsets import ItemKind, union_volume
from fitplan.packing.engine.problem import IntBox, PackingProblem, Proof, Space


def quick_proof(problem: PackingProblem, kinds: tuple[ItemKind, ...]) -> Proof | None:
    """Return a proof that the items cannot all be placed when a short argument shows it.

    A proof with no confirmations is one that could not be confirmed the second way.
    """
    for kind in kinds:
        if not any(len(free.pieces) for free in kind.variants):
            return _no_place(problem, kind.names[0])
    # What lies free by itself is not too large.
    return _volume(problem, kinds) if len(problem.items) > 1 else None


def _no_place(problem: PackingProblem, name: str) -> Proof:
    item = next(item for item in problem.items if item.name == name)
    text = f"{name} has no place even with nothing else there: every pose meets an obstacle or the hull."
    try:
        point = next(
            (
                point
                for variant in item.variants
                if (point := lowest_free_point(variant, problem.spaces[variant.space])) is not None
            ),
            None,
        )
    except (OverflowError, MemoryError):
        return Proof("no place", text, (), (name,))
    if point is not None:
        raise AssertionError(f"two accounts of where {name} can lie differ")
    ways = (
        "the offsets that obstacles leave, cut box by box, are none",
        "every lowest point of every pose was looked at in turn",
    )
    return Proof("no place", text, ways, (name,))


def _volume(problem: PackingProblem, kinds: tuple[ItemKind, ...]) -> Proof | None:
    """All items need more volume than the spaces that they may go into hold."""
    used = {free.variant.space for kind in kinds for free in kind.variants}
    need = sum(kind.least_volume * len(kind.names) for kind in kinds)
    room = sum(free_volume(problem.spaces[index]) for index in used)
    if need <= room:
        return None
    names = tuple(name for kind in kinds for name in kind.names)
    text = f"The {len(names)} items fill {need} cubic units, and only {room} are free."
    again = sum(_free_volume_by_slices(problem.spaces[index]) for index in used)
    ways = ("the volumes of the items' unions of boxes summed", "the free volume summed slice by slice")
    return Proof("volume", text, ways if need > again else (), names)


@lru_cache(maxsize=512)  # the same vehicle is asked about with many sets of parts
def free_volume(space: Space) -> int:
    """Return the volume of the hull less the obstacles, exactly."""
    x0, y0, z0, x1, y1, z1 = space.hull
    inside = tuple(
        clipped for obstacle in space.obstacles if (clipped := _clip(obstacle, space.hull)) is not None
    )
    return (x1 - x0) * (y1 - y0) * (z1 - z0) - (union_volume(inside) if inside else 0)


def _clip(box: IntBox, hull: IntBox) -> IntBox | None:
    low = [max(box[i], hull[i]) for i in range(3)]
    high = [min(box[i + 3], hull[i + 3]) for i in range(3)]
    if any(a >= b for a, b in zip(low, high, strict=True)):
        return None
    return (low[0], low[1], low[2], high[0], high[1], high[2])


def _free_volume_by_slices(space: Space) -> int:
    """Return the same volume a second way: each slice of constant section, its rows' free lengths added."""
    x0, y0, z0, x1, y1, z1 = space.hull
    boxes = np.array(space.obstacles, dtype=np.int64).reshape(-1, 6)
    total = 0
    xs = np.unique(np.clip(np.concatenate([[x0, x1], boxes[:, 0], boxes[:, 3]]), x0, x1)).tolist()
    for left, right in itertools.pairwise(xs):
        here = boxes[(boxes[:, 0] <= left) & (boxes[:, 3] >= right)]
        ys = np.unique(np.clip(np.concatenate([[y0, y1], here[:, 1], here[:, 4]]), y0, y1)).tolist()
        for low, high in itertools.pairwise(ys):
            rows = here[(here[:, 1] <= low) & (here[:, 4] >= high)]
            free, at = 0, z0
            for bottom, top in sorted(zip(rows[:, 2].tolist(), rows[:, 5].tolist(), strict=True)):
                free += max(0, min(bottom, z1) - at)
                at = max(at, min(top, z1))
            total += (free + max(0, z1 - at)) * (right - left) * (high - low)
    return int(total)
