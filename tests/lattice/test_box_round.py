"""The smallest box round what is True, and clear room that is measured in it."""

from __future__ import annotations

import numpy as np
import pytest

from fitplan.lattice.box_round import box_round
from fitplan.lattice.clear_radius import clear_squares


@pytest.mark.parametrize("wider", [0, 1, 3])
def test_a_box_holds_all_and_is_the_smallest(wider: int) -> None:
    """By enumeration, up to the borders; round nothing it is one voxel."""
    rng = np.random.default_rng(wider)
    for _ in range(30):
        some = rng.random((7, 5, 9)) > 0.98
        box = box_round(some, wider)
        rows = np.argwhere(some) if some.any() else np.zeros((1, 3), dtype=int)
        for part, line, size in zip(box, rows.T, some.shape, strict=True):
            assert part == slice(max(line.min() - wider, 0), min(line.max() + wider + 1, size))


@pytest.mark.parametrize("outside_solid", [False, True])
@pytest.mark.parametrize("to", ["face", "middle"])
def test_room_in_a_block_with_walls_is_that_without_them(outside_solid: bool, to: str) -> None:
    """However thick they are; counted voxel by voxel, and the walls themselves have none."""
    rng = np.random.default_rng(5)
    for _ in range(6):
        inner = rng.random((4, 5, 3)) > 0.2
        free = np.pad(inner, ((3, 0), (2, 4), (0, 0)))
        squares = clear_squares(free, to=to, outside_solid=outside_solid)  # type: ignore[arg-type]
        around = np.pad(free, 3 if outside_solid else 0)
        solid = np.argwhere(~around) - (3 if outside_solid else 0)
        for cell in np.argwhere(free):
            steps = np.abs(solid - cell)
            halves = np.maximum(2 * steps - (1 if to == "face" else 0), 0)
            assert squares[tuple(cell)] == (halves**2).sum(axis=1).min()
        assert not squares[~free].any()
