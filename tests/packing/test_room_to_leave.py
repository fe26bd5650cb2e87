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
    offsets = np.array(list(product(range(-9, 20), repeat=3)))
    low, high = mover[None, :, :3] + offsets[:, None], mover[None, :, 3:] + offsets[:, None]
    held = (low >= 0).all(axis=1) & (high <= np.array(hull[3:])).all(axis=1)
    beside = np.delete(held, axis, axis=1).all(axis=1)
    back = (low[..., axis] >= 0).all(axis=1) if forwards else (high[..., axis] <= hull[axis + 3]).all(axis=1)
    inside = ((offsets >= room[:3]) & (offsets <= room[3:])).all(axis=1)
    beyond = (room[axis + 3] if forwards else -room[axis]) >= 20
    assert inside[beside & back & (held[:, axis] | beyond)].all()
    assert not inside[~(beside & back)].any()
    assert inside.any()
    out_of_it = room[axis + 3] if forwards else room[axis]
    wholly = mover[:, axis] + out_of_it if forwards else mover[:, axis + 3] + out_of_it
    assert (wholly > hull[axis + 3]).all() if forwards else (wholly < 0).all()
