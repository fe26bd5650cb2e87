"""Frames."""

import numpy as np

from fitplan.lattice.frame import Frame, frame_of
from fitplan.model.solids import Box
from tests.lattice.bodies import vehicle


def test_layers_and_studs_fall_on_voxel_faces():
    """The frame starts a margin below the hull's corner, and studs and plates are whole numbers of voxels."""
    frame = frame_of(vehicle(), margin=2)
    assert frame.shape == (80 + 4, 40 + 4, 48 + 4)
    assert np.allclose(frame.origin, (-1.6, -1.6, 14.4))
    assert frame.covers(vehicle().hull)
    assert not frame_of(vehicle(), margin=0).covers(Box((-1, 0, 20), (3, 3, 30)))


def test_index_and_middle_are_inverse():
    """The voxel that holds a voxel's middle is that voxel; a point on a face belongs to the upper one."""
    frame = Frame((-0.8, 3.3, 1.0), (9, 8, 7), 0.8)
    for index in ((0, 0, 0), (3, 7, 2), (8, 0, 6)):
        assert frame.index_of(frame.center(index)) == index
        assert np.allclose(frame.centers(np.array([index])), frame.center(index))
    assert frame.index_of((0.0, 4.1, 1.8)) == (1, 1, 1)
    assert not frame.within(frame.index_of((-1.0, 4.0, 2.0)))


def test_window_of_a_box():
    """Outward the window holds the voxels that the box touches, inward those inside it, cut to the frame."""
    frame = Frame((0.0, 0.0, 0.0), (10, 10, 10), 0.8)
    box = Box((0.9, 0.8, -5.0), (2.3, 1.6, 50.0))
    assert frame.box_slice(box, "outward") == (slice(1, 3), slice(1, 2), slice(0, 10))
    assert frame.box_slice(box, "inward") == (slice(2, 2), slice(1, 2), slice(0, 10))
