"""Counts what is wrong with routed ways, from the voxels alone.

This shares no code with the search or the negotiation: steps are looked up in the map one by one, and room is
found by laying a ball into the map instead of by distances.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.map.bundles import bundle_diameter

_Cell = tuple[int, int, int]


@dataclass(frozen=True)
class ConflictCount:
    """How many faults of each kind routed ways have.

    Attributes
    ----------
    broken
        Ways that are missing, do not join their ends, jump, cut a corner or leave the free space.
    crowded
        Voxels of ways at which the wires that pass it or its neighbours do not fit, as one bundle, around
        any of them.
    overfull
        Places that carry more conductors than they can.
    """

    broken: int
    crowded: int
    overfull: int

    @property
    def total(self) -> int:
        """All faults."""
        return self.broken + self.crowded + self.overfull


def count_conflicts(
    free: NDArray[np.bool_],
    ways: Sequence[NDArray[np.integer] | None],
    ends: Sequence[tuple[Sequence[_Cell], Sequence[_Cell]]],
    diameters: Sequence[float],
    *,
    demands: Sequence[int] | None = None,
    places: Sequence[tuple[Sequence[_Cell] | NDArray[np.integer], int]] = (),
    pitch: float = 0.8,
    near_ends: int = 4,
) -> ConflictCount:
    """Count the faults of routed ways.

    Parameters
    ----------
    free
        (x, y, z) bool, True where a wire may be.
    ways
        (n, 3) voxels of each run, or None.
    ends
        For each run the voxels that it may start and end in.
    diameters, demands
        Outer diameter in mm, and conductors of a place, of each run (1 when not given).
    places
        The voxels of each narrow place and the conductors that it carries.
    near_ends
        Voxels along the longest axis around a run's own ends within which it is not counted.
    """
    # wires farther apart than this many voxels cannot touch
    off = max(int(np.ceil(max(diameters, default=0.0) / pitch - 1e-9)) - 1, 1)
    side = range(-off, off + 1)
    nearby = [(dx, dy, dz) for dx in side for dy in side for dz in side]
    passing: dict[_Cell, set[int]] = defaultdict(set)
    exempt = {tuple(int(c) for c in cell) for cells, _ in places for cell in cells}
    on_ways: set[_Cell] = set()
    broken = 0
    for index, way in enumerate(ways):
        starts, goals = ends[index]
        if way is None or not _is_whole(free, way, starts, goals):
            broken += 1
            continue
        for x, y, z in way.tolist():
            own = any(max(abs(x - a), abs(y - b), abs(z - c)) <= near_ends for a, b, c in (*starts, *goals))
            if own or (x, y, z) in exempt:
                continue
            on_ways.add((x, y, z))
            for dx, dy, dz in nearby:
                cell = (x + dx, y + dy, z + dz)
                inside = all(0 <= p < n for p, n in zip(cell, free.shape, strict=True))
                if inside and cell not in exempt and free[cell]:
                    passing[cell].add(index)
    overfull = 0
    for cells, capacity in places:
        inside_of = {tuple(int(c) for c in cell) for cell in cells}
        through = [
            i for i, way in enumerate(ways) if way is not None and inside_of & {*map(tuple, way.tolist())}
        ]
        overfull += int(sum(1 if demands is None else demands[i] for i in through) > capacity)
    by_company: dict[tuple[int, ...], list[_Cell]] = defaultdict(list)
    for cell in on_ways:
        who = passing[cell]
        by_company[tuple(sorted(who))].append(cell)
    by_thickness: dict[float, list[_Cell]] = defaultdict(list)
    for company, cells_of in by_company.items():
        by_thickness[bundle_diameter(diameters[i] for i in company)].extend(cells_of)
    crowded = sum(
        _without_room(free, cells_of, thick, pitch, nearby) for thick, cells_of in by_thickness.items()
    )
    return ConflictCount(broken, crowded, overfull)


def _is_whole(
    free: NDArray[np.bool_], way: NDArray[np.integer], starts: Sequence[_Cell], goals: Sequence[_Cell]
) -> bool:
    rows = [tuple(row) for row in way.tolist()]
    if rows[0] not in {tuple(s) for s in starts} or rows[-1] not in {tuple(g) for g in goals}:
        return False
    if min(map(min, rows)) < 0 or any(p >= n for row in rows for p, n in zip(row, free.shape, strict=True)):
        return False
    for a, b in pairwise(rows):
        if a == b or max(abs(p - q) for p, q in zip(a, b, strict=True)) > 1:
            return False
        corners = product(*({p, q} for p, q in zip(a, b, strict=True)))
        if not all(free[corner] for corner in corners):
            return False
    return bool(free[rows[0]])


def _without_room(
    free: NDArray[np.bool_], cells: list[_Cell], thick: float, pitch: float, nearby: Sequence[_Cell]
) -> int:
    """Count the voxels near which no ball of this diameter touches free voxels only."""
    radius = thick / 2 / pitch - 1e-6
    reach = int(np.ceil(radius + 0.5))
    border = reach + max(max(step) for step in nearby)
    steps = np.array(list(product(range(-reach, reach + 1), repeat=3)))
    gaps = np.maximum(np.abs(steps) - 0.5, 0.0)
    ball = steps[(gaps**2).sum(axis=1) < max(radius, 1e-9) ** 2]
    padded = np.pad(free, border, constant_values=True)
    at = np.array(cells) + border
    fits = np.zeros(len(cells), dtype=bool)
    for near in nearby:
        left = np.flatnonzero(~fits)
        spots = at[left] + near
        room = padded[tuple(spots.T)].copy()
        for step in ball:
            room &= padded[tuple((spots + step).T)] if room.any() else False
        inside = ((spots >= border) & (spots < border + np.array(free.shape))).all(axis=1)
        fits[left] = room & inside
    return int((~fits).sum())
