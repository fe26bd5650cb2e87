"""Where wires are liked: along floors and in corners, where tape holds, and away from what moves."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.box_round import box_round
from fitplan.lattice.clear_radius import clear_squares


@dataclass(frozen=True)
class Preferences:
    """What a millimetre of way costs by where it runs; the liked places cost 1.

    The defaults are a matter of taste: an open way is taken when it is a quarter shorter.

    Attributes
    ----------
    floor
        Cost on a floor with no wall beside it.
    open
        Cost away from floors.
    reach
        Millimetres from a floor or wall within which a wire is on it.
    moving, moving_reach
        Added close to keep-clear space, at most this many millimetres away. The space itself stays closed.
    """

    floor: float = 1.1
    open: float = 1.25
    reach: float = 1.6
    moving: float = 1.0
    moving_reach: float = 3.2


def preference_cost(
    free: NDArray[np.bool_],
    *,
    keep_clear: NDArray[np.bool_] | None = None,
    preferences: Preferences | None = None,
    pitch: float = 0.8,
) -> NDArray[np.float32]:
    """Return (x, y, z) float32, the cost of a millimetre in each voxel, at least 1.

    Parameters
    ----------
    free
        (x, y, z) bool, True where not solid; z points up, and what is outside the map is not solid.
    keep_clear
        (x, y, z) bool, True where something moves. It is neither floor nor wall.
    """
    like = preferences or Preferences()
    solid = ~free if keep_clear is None else ~free & ~keep_clear
    steps = max(int(like.reach / pitch + 1e-9), 1)
    on_floor = _within(solid, 2, -1, steps)
    at_wall = _within(solid, 0, -1, steps) | _within(solid, 0, 1, steps)
    at_wall |= _within(solid, 1, -1, steps) | _within(solid, 1, 1, steps)
    cost = np.where(on_floor, np.where(at_wall, 1.0, like.floor), like.open).astype(np.float32)
    if keep_clear is not None and keep_clear.any():
        edges = math.ceil(like.moving_reach / pitch)
        window = box_round(keep_clear, edges)
        near = clear_squares(~keep_clear[window], within=edges) <= (2 * like.moving_reach / pitch) ** 2
        cost[window][near] += like.moving
    return cost


def _within(solid: NDArray[np.bool_], axis: int, sign: int, steps: int) -> NDArray[np.bool_]:
    """Return True where a solid voxel lies at most so many steps away in one direction."""
    found = np.zeros_like(solid)
    ahead, behind = [slice(None)] * 3, [slice(None)] * 3
    for step in range(1, min(steps, solid.shape[axis] - 1) + 1):
        ahead[axis], behind[axis] = slice(step, None), slice(None, -step)
        if sign > 0:
            found[tuple(behind)] |= solid[tuple(ahead)]
        else:
            found[tuple(ahead)] |= solid[tuple(behind)]
    return found
