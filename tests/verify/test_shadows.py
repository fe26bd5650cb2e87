"""The box round what of a shape lies in another box, beside points strewn in both."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fitplan.model.solids import Box
from fitplan.verify.overlap import shadow_box
from fitplan.verify.shapes import PLANE, Disc, Polygon, Prism

from .test_separation import regular


def inside(shape: Prism, points: np.ndarray) -> np.ndarray:
    u, v = PLANE[shape.axis]
    along = points[:, shape.axis]
    found = (shape.low < along) & (along < shape.high)
    if isinstance(shape.profile, Disc):
        middle, radius = shape.profile.center, shape.profile.radius
        return found & (np.hypot(points[:, u] - middle[0], points[:, v] - middle[1]) < radius)
    corners = shape.profile.corners
    for p, q in zip(corners, corners[1:] + corners[:1], strict=True):
        found &= (q[0] - p[0]) * (points[:, v] - p[1]) - (q[1] - p[1]) * (points[:, u] - p[0]) > 0
    return found


@pytest.mark.parametrize("seed", range(60))
def test_it_holds_every_common_point_and_no_more(seed: int) -> None:
    """Of a disc or polygon along each axis: no point outside, and a point near each of its six faces."""
    rng = np.random.default_rng(seed)
    profile: Disc | Polygon = Disc((2.0, -1.0), 5.0)
    if seed % 2:
        profile = regular(int(rng.integers(3, 8)), 5.0, (2.0, -1.0), float(rng.uniform(0, 2 * math.pi)))
    shape = Prism(seed % 3, profile, -3.0, 4.0)
    low = rng.uniform(-6, 4, 3)
    within = Box(tuple(low), tuple(low + rng.uniform(1, 9, 3)))
    points = rng.uniform(within.low, within.high, (40_000, 3))
    points = points[inside(shape, points)]
    found = shadow_box(shape, within)
    if found is None:
        assert len(points) == 0
        return
    assert (points > np.array(found.low) - 1e-9).all()
    assert (points < np.array(found.high) + 1e-9).all()
    if len(points) > 2000:
        assert points.min(axis=0) - found.low == pytest.approx(0, abs=0.6)
        assert found.high - points.max(axis=0) == pytest.approx(0, abs=0.6)
