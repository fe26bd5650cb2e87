"""Room in exact millimetres where voxels count as too narrow: against closed forms and all distances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid
from fitplan.routing.map.exact_clearance import clear_nearby
from tests.routing.test_harness import built_of, wired

MOST = 8.0


@settings(max_examples=40, deadline=None)
@given(st.floats(0.4, 7.0), st.floats(0.0, 0.8), st.floats(0.0, 0.8), st.floats(-0.8, 0.8))
def test_in_a_square_duct_it_is_half_the_width(wide: float, y: float, z: float, off: float) -> None:
    """A ball in a square duct has half its width for a radius (plane geometry), wherever the duct lies."""
    far = 40.0
    duct = [
        [-far, -far, -far, far, y, far],
        [-far, y + wide, -far, far, far, far],
        [-far, -far, -far, far, far, z],
        [-far, -far, z + wide, far, far, far],
    ]
    aside = np.clip(off, -0.4 * wide, 0.4 * wide)
    near = np.array([[0.0, y + wide / 2 + aside, z + wide / 2 - aside]])
    (found,) = clear_nearby(np.array(duct), near, MOST)
    assert wide / 2 - 0.03 <= found <= wide / 2 + 1e-9


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6))
def test_no_ball_is_told_larger_than_one_that_is_clear(seed: int) -> None:
    """Held against the distances from a dense grid round each point to all boxes (brute force)."""
    draw = np.random.default_rng(seed)
    low = draw.uniform(-6, 6, (12, 3))
    boxes = np.concatenate([low, low + draw.uniform(0.2, 4, (12, 3))], axis=1)
    points = draw.uniform(-5, 5, (4, 3))
    line = np.linspace(-1.05, 1.05, 22)
    grid = np.stack(np.meshgrid(line, line, line, indexing="ij"), -1).reshape(-1, 3)
    for point, radius in zip(points, clear_nearby(boxes, points, MOST), strict=True):
        spots = point + grid
        gaps = np.maximum(np.maximum(boxes[:, None, :3] - spots, spots - boxes[:, None, 3:]), 0.0)
        largest = float(np.sqrt((gaps**2).sum(axis=2)).min(axis=0).max())
        here = np.maximum(np.maximum(boxes[:, :3] - point, point - boxes[:, 3:]), 0.0)
        # Between spots of the grid a ball is larger by no more than half a cell's diagonal.
        assert float(np.sqrt((here**2).sum(axis=1)).min()) - 1e-9 <= radius <= min(largest + 0.09, MOST)


def _holed(wide: float) -> BuiltTrain:
    """Return a train whose loco has an inner wall with one square hole, off the grid, that two nets pass."""
    spots = {"p": ("a", 12.0, 10.0), "q": ("a", 84.0, 22.0)}
    built = built_of(spots, {"one": ["p.p0", "q.p0"], "two": ["p.p1", "q.p1"]})
    loco, wagon = built.train.vehicles
    wall = Box((56.0, 8.0, 19.2), (64.0, 40.0, 48.0))
    hole = Box((56.0, 21.3, 30.1), (64.0, 21.3 + wide, 30.1 + wide))
    body = (*loco.vehicle.body, BodySolid(wall, "fixed"), BodySolid(hole, "free"))
    vehicles = (replace(loco, vehicle=replace(loco.vehicle, body=body)), wagon)
    return replace(built, train=replace(built.train, vehicles=vehicles))


@pytest.mark.parametrize("share", [1.02, 1.3])
def test_a_bundle_passes_a_hole_as_wide_as_it_is(share: float) -> None:
    """Two wires side by side are twice as thick as one (plane geometry): a hole hardly wider does."""
    outer = max(wire.outer_mm for wire in wired(_holed(8.0)).wires)
    harness = wired(_holed(2 * outer * share))
    assert harness.unreached == ()
    assert len(harness.wires) == 2


def test_a_bundle_does_not_pass_a_hole_that_is_narrower() -> None:
    """What is clear is told in millimetres: the hole's own width."""
    outer = max(wire.outer_mm for wire in wired(_holed(8.0)).wires)
    wide = round(1.8 * outer, 1)
    (lost,) = wired(_holed(wide)).unreached
    assert lost.undecided
    assert f"where {wide:.2f} mm are clear" in lost.reason
