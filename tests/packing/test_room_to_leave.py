"""Offsets a part may leave by, beside each offset tried."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from fitplan.lattice.cover import IntBox
from fitplan.model.solids import Box
from fitplan.model.vehicle import Opening
from fitplan.packing.access.reachable_offsets import room_to_leave

SIDES = ["+x", "-x", "+y", "-y", "+z", "-z"]


@pytest.mark.parametrize("out", SIDES)
@pytest.mark.parametrize("seed", range(2))
def test_a_part_of_several_boxes_stays_in_the_hull_but_in_front_of_its_opening(seed: int, out: str) -> None:
    """Inside: just the offsets at which every box is in the hull. Ahead: up to where all of it is out."""
    rng = np.random.default_rng(seed)
    low = rng.integers(-3, 3, (3, 3))
    mover = np.concatenate([low, low + rng.integers(1, 4, (3, 3))], axis=1).astype(np.int64)
    hull = IntBox(0, 0, 0, 12, 11, 10)
    room = room_to_leave(mover, hull, Opening("lid", Box((0.0, 0.0, 0.0), (1.0, 1.0, 1.0)), out))
    axis, forwards = "xyz".index(out[1]), out[0] == "+"
    for offset in product(range(-9, 20), repeat=3):
        moved = mover + np.array([*offset, *offset])
        held = (moved[:, :3] >= 0).all(axis=0) & (moved[:, 3:] <= np.array(hull[3:])).all(axis=0)
        beside = all(held[k] for k in range(3) if k != axis)
        back = (
            bool((moved[:, axis] >= 0).all())
            if forwards
            else bool((moved[:, axis + 3] <= hull[axis + 3]).all())
        )
        inside = all(room[k] <= offset[k] <= room[k + 3] for k in range(3))
        beyond = (room[axis + 3] if forwards else -room[axis]) >= 20
        if beside and back and (held[axis] or beyond):
            assert inside
        elif not (beside and back):
            assert not inside
    out_of_it = room[axis + 3] if forwards else room[axis]
    wholly = mover[:, axis] + out_of_it if forwards else mover[:, axis + 3] + out_of_it
    assert (wholly > hull[axis + 3]).all() if forwards else (wholly < 0).all()
