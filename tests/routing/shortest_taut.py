"""The shortest taut way between two voxels: what ways that are pulled once are held against."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear_radius import clear_squares
from fitplan.routing.ways.shortest_ways import WayMap
from fitplan.routing.ways.taut import Tautener, TautWay

LATTICE_EXCESS = 1.1280928
"""How much longer than the straight one a 26-neighbour way is at most (Nash, Koenig, Tovey, AAAI 2010)."""

_TURNS = [(x, y, z) for x in (False, True) for y in (False, True) for z in (False, True)]


def shortest_taut(
    pull: Tautener,
    field: WayMap,
    start: Sequence[int],
    goal: Sequence[int],
    *,
    detours: int = 4,
    start_point: Sequence[float] | None = None,
    goal_point: Sequence[float] | None = None,
) -> TautWay | None:
    """Return the shortest taut way found between two voxels, or None when there is no way.

    The voxel way that is shortest in steps need not lead round the same side as the shortest taut one. So
    all eight mirrored choices among equally short voxel ways are pulled taut, then ways over voxels far
    off those found so far. Only voxels come into question over which a voxel way is at most
    `LATTICE_EXCESS` times as long as the best taut way, since no way over others can be shorter.
    The result does not depend on the handedness of the map.

    Parameters
    ----------
    field
        The same map, for the search.
    detours
        How many times to look for another way round.
    start_point, goal_point
        Points in voxel coordinates, within sight of the voxels' middles, where the way begins and ends.
    """
    best: TautWay | None = None
    found: dict[bytes, NDArray[np.int32]] = {}
    before = np.zeros((0, 3)) if start_point is None else np.array([start_point], dtype=np.float64)
    after = np.zeros((0, 3)) if goal_point is None else np.array([goal_point], dtype=np.float64)

    def consider(voxels: NDArray[np.int32]) -> None:
        nonlocal best
        if voxels.tobytes() in found:
            return
        found[voxels.tobytes()] = voxels
        taut = pull.pull(np.concatenate([before, voxels, after]))
        if best is None or taut.length_mm < best.length_mm - 1e-9:
            best = taut

    for turn in _TURNS:
        way = field.way(start, goal, mirrored=turn)
        if way is not None:
            consider(way.voxels)
    if best is None or detours <= 0 or len(best.points) == 2:
        return best
    limit = LATTICE_EXCESS * best.length_mm + 4 * pull.pitch
    there = field.distances([goal], within_mm=limit)
    total = there + field.distances([start], within_mm=limit)
    for _ in range(detours):
        over = _farthest(total <= LATTICE_EXCESS * best.length_mm + 2 * pull.pitch, list(found.values()))
        if not len(over):
            break
        for voxel in over.tolist():
            for turn in _TURNS:
                one, two = field.way(start, voxel, mirrored=turn), field.way(voxel, goal, mirrored=turn)
                if one is not None and two is not None:
                    consider(np.concatenate([one.voxels, two.voxels[1:]]))
    return best


def _farthest(among: NDArray[np.bool_], ways: Sequence[NDArray[np.int32]]) -> NDArray[np.int64]:
    """Return the voxels of a set that lie farthest off the ways, when that is more than a step; 8 at most."""
    cells = np.argwhere(among)
    if not len(cells):
        return cells
    low, high = cells.min(axis=0), cells.max(axis=0) + 1
    box = tuple(slice(a, b) for a, b in zip(low, high, strict=True))
    off = np.ones(high - low, dtype=bool)
    for way in ways:
        inside = way[((way >= low) & (way < high)).all(axis=1)] - low
        off[tuple(inside.T)] = False
    far = np.where(among[box], clear_squares(off, to="middle").astype(np.int64), 0)
    most = far.max()
    return np.argwhere(far == most)[:8] + low if most > 12 else cells[:0]
