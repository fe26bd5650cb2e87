"""Check a packing with exact whole-number comparisons; shares no code with any search."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from fitplan.packing.engine.problem import IntBox, PackingProblem, Placed


def check_placement(
    problem: PackingProblem, placements: Mapping[str, Placed], *, partial: bool = False
) -> list[str]:
    """Return what is wrong with a packing, one sentence each; empty when it is valid.

    Every pair of boxes is compared: solids against the hull, obstacles and each other, clearances against
    obstacles (unless they are excused) and other items' solids.

    Parameters
    ----------
    partial
        Accept a packing that places only some of the items.
    """
    faults: list[str] = []
    names = {item.name for item in problem.items}
    faults += [f"{name} is not an item of the problem" for name in placements if name not in names]
    if not partial:
        faults += [f"{item.name} is not placed" for item in problem.items if item.name not in placements]
    laid: list[tuple[str, int, NDArray[np.int64], NDArray[np.int64]]] = []
    for item in problem.items:
        placed = placements.get(item.name)
        if placed is None:
            continue
        if not 0 <= placed.variant < len(item.variants):
            faults.append(f"{item.name} has no variant {placed.variant}")
            continue
        variant = item.variants[placed.variant]
        offset = np.array(placed.offset, dtype=np.int64)
        domain = _array(variant.domain)
        if not np.any(np.all((domain[:, :3] <= offset) & (offset <= domain[:, 3:]), axis=1)):
            faults.append(f"{item.name} lies outside its domain at {placed.offset}")
        space = problem.spaces[variant.space]
        shift = np.concatenate([offset, offset])
        solid = _array(variant.shape.solid) + shift
        hull = np.array(space.hull, dtype=np.int64)
        if np.any(solid[:, :3] < hull[:3]) or np.any(solid[:, 3:] > hull[3:]):
            faults.append(f"{item.name} reaches outside {space.name or 'the hull'}")
        every = variant.shape.clearances
        strict = [clearance.box for clearance in every if clearance.clear_of_obstacles]
        obstacles = _array(space.obstacles)
        if _overlap(solid, obstacles):
            faults.append(f"{item.name} overlaps an obstacle")
        if _overlap(_array(strict) + shift, _array(space.off_limits)):
            faults.append(f"a clearance of {item.name} overlaps an obstacle")
        laid.append((item.name, variant.space, solid, _array([c.box for c in every]) + shift))
    for k, (name, home, solid, room) in enumerate(laid):
        for other, other_home, other_solid, other_room in laid[:k]:
            if home != other_home:
                continue
            if _overlap(solid, other_solid):
                faults.append(f"{name} overlaps {other}")
            if _overlap(solid, other_room) or _overlap(room, other_solid):
                faults.append(f"{name} and {other} block each other's clearance")
    return faults


def _array(boxes: list[IntBox] | tuple[IntBox, ...]) -> NDArray[np.int64]:
    return np.array(boxes, dtype=np.int64).reshape(-1, 6)


def _overlap(ours: NDArray[np.int64], theirs: NDArray[np.int64]) -> bool:
    """Return whether any box of one list shares an interior point with any of the other."""
    low = np.maximum(ours[:, None, :3], theirs[None, :, :3])
    high = np.minimum(ours[:, None, 3:], theirs[None, :, 3:])
    return bool(np.any(np.all(low < high, axis=2)))
