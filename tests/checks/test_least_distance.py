"""How near a wire comes to boxes: beside points set along it one by one."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from fitplan.checks.wire_clearance import least_distance
from fitplan.model.solids import Box


@pytest.mark.parametrize("seed", range(30))
def test_the_least_distance_is_that_of_points_along_the_way(seed: int) -> None:
    """Four thousand points a stretch are never nearer, and one of them is hardly farther off."""
    rng = np.random.default_rng(seed)
    points = rng.uniform(-30, 30, (int(rng.integers(2, 5)), 3))
    boxes = []
    for _ in range(int(rng.integers(1, 4))):
        low = rng.uniform(-20, 20, 3)
        high = low + rng.uniform(0.5, 9, 3)
        boxes.append(Box(tuple(low.tolist()), tuple(high.tolist())))
    shares = np.linspace(0, 1, 4001)[:, None]
    along = np.concatenate([a + shares * (b - a) for a, b in pairwise(points)])
    nearest = min(
        float(
            np.linalg.norm(
                np.maximum(np.maximum(np.array(box.low) - along, along - np.array(box.high)), 0), axis=1
            ).min()
        )
        for box in boxes
    )
    found = least_distance(points, boxes)
    step = float(np.linalg.norm(np.diff(points, axis=0), axis=1).max()) / 4000
    assert nearest - step <= found <= nearest + 1e-9


def test_a_point_and_the_inside_of_a_box() -> None:
    """A single point has its own distance; a way through a box has none, wherever it passes."""
    box = Box((0.0, 0.0, 0.0), (2.0, 3.0, 4.0))
    assert least_distance(np.array([[5.0, 7.0, 4.0]]), [box]) == pytest.approx(5.0)
    assert least_distance(np.array([[-9.0, 1.0, 1.0], [1.9, 1.0, 1.0]]), [box]) == 0.0
    assert least_distance(np.array([[-9.0, 2.0, 1.0], [11.0, 2.0, 1.0]]), [box]) == 0.0
