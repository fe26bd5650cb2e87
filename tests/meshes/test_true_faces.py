"""Level faces off the grid, written where they are."""

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.lattice.frame import Frame
from fitplan.meshes.blocks import FREE, StateBlock
from fitplan.meshes.from_mesh import MeshOptions, vehicle_from_mesh
from fitplan.meshes.true_faces import level_faces_of
from tests.meshes.models import block, box_shell
from tests.meshes.test_from_mesh import free_tenths

HALL = 80 * 32 * 51.2


def made(mesh, folder):
    path = folder / "model.ply"
    mesh.export(path)
    return vehicle_from_mesh(path, MeshOptions(units="mm", up="+z", front="+x")).vehicle


tenths = st.integers(1, 290).map(lambda number: number / 10)


@settings(max_examples=6, deadline=None)
@given(start=tenths, thick=st.integers(13, 40).map(lambda number: number / 10))
def test_a_panel_is_as_thick_as_it_is(tmp_path_factory, start, thick):
    """Wherever a panel of 1.3 to 4 mm stands in a hall, the free room is its closed form, to the tenth."""
    y0 = 8 + start
    y1 = round(min(y0 + thick, 40.0), 1)
    panel = block((40, 56), (y0, y1), (3.2, 54.4))
    found = made(trimesh.util.concatenate([box_shell(), panel]), tmp_path_factory.mktemp("panel"))
    if not found.rounded:
        assert free_tenths(found, "outward") == pytest.approx(HALL - 16 * (y1 - y0) * 51.2)
        assert free_tenths(found, "inward") == pytest.approx(HALL - 16 * (y1 - y0) * 51.2)
    else:
        # A sliver of free room beside the wall, narrower than a voxel, is not known.
        assert min(start, 32 - start - thick) < 0.8
        assert free_tenths(found, "outward") <= HALL - 16 * (y1 - y0) * 51.2 <= free_tenths(found, "inward")


def test_slanting_walls_stay_uncertain(tmp_path):
    """A panel that is turned by a few degrees has no level faces: its body may be rounded by a voxel."""
    panel = block((-8, 8), (-0.75, 0.75), (3.2, 54.4))
    panel.apply_transform(trimesh.transformations.rotation_matrix(0.1, (0, 0, 1)))
    panel.apply_translation((48, 24, 0))
    assert made(trimesh.util.concatenate([box_shell(), panel]), tmp_path).rounded == 0.8


def test_a_cleft_is_not_taken_for_a_joint():
    """Where two bodies meet the voxel is full; where a cleft narrower than a voxel parts them it is not."""
    frame = Frame((0.0, 0.0, 0.0), (20, 10, 10), 0.8)
    for end, full in ((7.9, True), (8.0, False)):
        both = [block((0, 7.9), (0, 8), (0, 8)), block((end, 16), (0, 8), (0, 8))]
        mesh = trimesh.util.concatenate(both)
        codes = np.full(frame.shape, 3, np.uint8)
        objects = np.repeat([0, 1], 12)
        level = level_faces_of(StateBlock(frame, codes), mesh.vertices, mesh.faces, objects)
        assert level.full[9].all() == full
        assert not level.full[8].any()
        assert not (level.axis >= 0).any()
    codes[10:] = FREE
    level = level_faces_of(StateBlock(frame, codes), both[0].vertices, both[0].faces, objects[:12])
    assert (level.axis[9] == 0).all()
    assert level.at[9, 0, 0] == 7.9
    assert level.below[9].all()
