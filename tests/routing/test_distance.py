"""Clear radii against scipy's distance transform, brute force and the promise between voxel middles."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import distance_transform_edt

from fitplan.lattice.clear_radius import clear_radius, clear_squares, grown, room_for

fields = st.builds(
    lambda seed, shape, share: np.random.default_rng(seed).random(shape) > share,
    st.integers(0, 10_000),
    st.tuples(st.integers(1, 12), st.integers(1, 12), st.integers(1, 12)),
    st.floats(0.02, 0.5),
)


def to_boxes(points: np.ndarray, solid: np.ndarray) -> np.ndarray:
    """Return the least distance from each point to the solid voxels' boxes, by trying all."""
    gaps = np.maximum(np.abs(points[:, None, :] - np.argwhere(solid)[None, :, :]) - 0.5, 0.0)
    return np.sqrt((gaps**2).sum(axis=2)).min(axis=1)


@given(fields)
@settings(max_examples=60, deadline=None)
def test_middle_distances_equal_scipy(free: np.ndarray) -> None:
    """To the middles, the squares are four times those of scipy's Euclidean distance transform."""
    if free.all():
        assert (clear_squares(free, to="middle") == 0x3FFFFFFF).all()
        return
    expected = np.rint(4 * distance_transform_edt(free) ** 2)
    np.testing.assert_array_equal(clear_squares(free, to="middle"), expected)


@given(fields)
@settings(max_examples=40, deadline=None)
def test_face_distances_equal_brute_force(free: np.ndarray) -> None:
    """To the faces, the radius is the least distance to all solid boxes, each tried."""
    if free.all():
        assert np.isinf(clear_radius(free)).all()
        return
    voxels = np.argwhere(free).astype(float)
    found = clear_radius(free, 0.8)
    assert (found[~free] == 0).all()
    if len(voxels):
        np.testing.assert_allclose(found[free], 0.8 * to_boxes(voxels, ~free), atol=1e-12)


def test_outside_counts_as_solid_when_asked() -> None:
    """With a solid outside, the radius equals that of the map with a solid border."""
    free = np.random.default_rng(1).random((9, 5, 7)) > 0.1
    bordered = np.pad(free, 1, constant_values=False)
    np.testing.assert_array_equal(
        clear_radius(free, outside_solid=True), clear_radius(bordered)[1:-1, 1:-1, 1:-1]
    )


@given(fields, st.integers(1, 6), st.booleans())
@settings(max_examples=40, deadline=None)
def test_short_distances_are_the_same_when_only_those_are_asked_for(
    free: np.ndarray, within: int, outside: bool
) -> None:
    """Up to the edges asked for all squares are those of the whole question; what is farther is nowhere."""
    every = clear_squares(free, outside_solid=outside)
    near = clear_squares(free, outside_solid=outside, within=within)
    np.testing.assert_array_equal(near, np.where(every <= (2 * within) ** 2, every, 0x3FFFFFFF))


@given(fields, st.floats(0.3, 2.5), st.integers(0, 1000))
@settings(max_examples=60, deadline=None)
def test_the_radius_holds_between_neighbouring_middles(free: np.ndarray, radius: float, seed: int) -> None:
    """At any point between free middles of the narrowed map, solid boxes are at least the radius away."""
    if free.all():
        return
    may = room_for(free, radius, 1.0)
    rng = np.random.default_rng(seed)
    starts = np.argwhere(may)
    if not len(starts):
        return
    points = []
    for start in starts[rng.integers(len(starts), size=30)]:
        step = rng.integers(0, 2, size=3)
        box = tuple(slice(s, s + d + 1) for s, d in zip(start, step, strict=True))
        if (start + step < free.shape).all() and may[box].all():
            points.append(start + step * rng.random(3))
    if points:
        assert to_boxes(np.array(points), ~free).min() >= radius - 2e-6


def test_a_wire_as_thick_as_the_gap_goes_through() -> None:
    """A gap of three voxels of 0.8 mm takes a wire of 2.4 mm and none of 2.5 mm."""
    free = np.zeros((5, 5, 5), bool)
    free[:, 1:4, 1:4] = True
    assert room_for(free, 1.2, 0.8)[2, 2, 2]
    assert not room_for(free, 1.25, 0.8).any()


@pytest.mark.parametrize("radius", [0.0, 0.3, 0.5, 1.0, 2.2])
def test_growing_is_the_complement_of_room(radius: float) -> None:
    """What `grown` fills is exactly what `room_for` takes away."""
    solid = np.random.default_rng(3).random((8, 9, 10)) > 0.95
    np.testing.assert_array_equal(grown(solid, radius, 1.0), ~room_for(~solid, radius, 1.0))
