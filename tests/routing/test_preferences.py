"""Preferred places: corner before floor before open space, and away from what moves."""

from __future__ import annotations

import numpy as np
import pytest

from fitplan.routing.ways.preferences import Preferences, preference_cost
from fitplan.routing.ways.shortest_ways import WayMap


def tray() -> np.ndarray:
    """Return a box 40 × 40 × 20 voxels with a floor and four walls, open above."""
    free = np.zeros((40, 40, 20), bool)
    free[1:-1, 1:-1, 1:] = True
    return free


def test_corner_floor_and_open_space_cost_more_in_turn() -> None:
    """A place in the corner costs 1, on the floor the floor's figure, above it the open one."""
    cost = preference_cost(tray())
    assert cost[1, 20, 1] == pytest.approx(1.0)
    assert cost[20, 20, 1] == pytest.approx(1.1)
    assert cost[20, 20, 15] == pytest.approx(1.25)
    assert cost.min() >= 1.0


def test_a_way_goes_down_to_the_floor() -> None:
    """Between two places above the floor, far apart, the cheap way runs on the floor and costs no more."""
    free = tray()
    plain = WayMap(free).way((2, 20, 9), (37, 20, 9))
    liked = WayMap(free, cost=preference_cost(free, preferences=Preferences(open=3.0))).way(
        (2, 20, 9), (37, 20, 9)
    )
    assert plain is not None
    assert liked is not None
    assert plain.voxels[:, 2].min() == 9
    assert np.median(liked.voxels[:, 2]) <= 3
    assert liked.length_mm > plain.length_mm


def test_ways_keep_away_from_what_moves() -> None:
    """Beside keep-clear space a millimetre costs more, and the space is no wall to tape a wire to."""
    free = tray()
    moving = np.zeros_like(free)
    moving[18:22, 18:22, 1:] = True
    cost = preference_cost(free & ~moving, keep_clear=moving)
    assert cost[17, 20, 1] == pytest.approx(2.1)
    assert cost[12, 20, 1] == pytest.approx(1.1)
    # Told box by box: added is where a voxel's middle is within 3.2 mm of the nearest face of what moves.
    corner = np.zeros_like(free)
    corner[38:, 3:5, 0] = corner[30, 8, 6] = True
    more = preference_cost(free, keep_clear=corner) - preference_cost(free & ~corner | corner)
    cells, moving_at = np.argwhere(free & ~corner), np.argwhere(corner)
    off = np.maximum(np.abs(cells[:, None] - moving_at) - 0.5, 0.0)
    near = 0.8 * np.sqrt((off**2).sum(axis=2)).min(axis=1) <= 3.2
    assert near.any()
    assert (more[tuple(cells.T)] > 0.5).tolist() == near.tolist()
