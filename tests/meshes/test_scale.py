"""Units, axes and the stud grid of a mesh."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.meshes.scale import fit_scene
from fitplan.meshes.scene_in import Scene, SceneObject
from tests.meshes.models import bricks


def scene_of(mesh, unit="", up=""):
    return Scene((SceneObject("", "", np.asarray(mesh.vertices), np.asarray(mesh.faces)),), unit, up, ())


@settings(max_examples=8, deadline=None)
@given(
    shift=st.tuples(*[st.floats(-20, 20)] * 3),
    scale=st.sampled_from((0.0137, 0.0471, 0.37, 0.713, 3.17, 13.7)),
)
def test_any_scale_and_place_is_found(shift, scale):
    """A wagon in odd units, anywhere in space, is scaled to within a thousandth and laid on its grid."""
    mesh = bricks(length=10, layers=2)
    mesh.apply_translation(shift)
    mesh.apply_scale(scale)
    fitting = fit_scene(scene_of(mesh))
    assert fitting.scale * scale == pytest.approx(1.0, rel=1e-3)
    assert fitting.grid is not None
    for found, true, period in zip(fitting.grid, shift, (8.0, 8.0, 3.2), strict=True):
        apart = (found - true + period / 2) % period - period / 2
        assert abs(apart) < 0.25


def test_what_was_taken_is_said():
    """Unit, axes and size stand in the sentences for the user, and that they were found out."""
    said = " | ".join(fit_scene(scene_of(bricks())).said)
    assert "units: one unit is mm, found by the 8.0 mm and 3.2 mm grid" in said
    assert "axes: +z of the file points up (taken), +x to the front (taken: the longer side)" in said
    assert "size: 95.8 × 47.8 × 44.8 mm" in said


def test_declared_units_are_kept():
    """What the user declares is not doubted, unless it cannot be a vehicle at all."""
    mesh = bricks()
    assert fit_scene(scene_of(mesh), units="mm").scale == 1.0
    with pytest.raises(ValueError, match="declare other units"):
        fit_scene(scene_of(mesh), units="m")


def test_a_file_that_says_metres_and_means_millimetres():
    """A unit that the file declares but cannot be is told, and the right one found."""
    fitting = fit_scene(scene_of(bricks(), unit="m"))
    assert fitting.scale == 1.0
    assert any("the file says m, which cannot be" in line for line in fitting.said)


def test_a_shape_without_a_grid_needs_its_units():
    """A ball has no grid: without units it is refused with what each unit would make of it."""
    import trimesh

    ball = scene_of(trimesh.creation.icosphere(3, 20.0))
    with pytest.raises(ValueError, match=r"5 × 5 studs in mm, .* \(say --units\)"):
        fit_scene(ball)
    fitting = fit_scene(ball, units="mm")
    assert fitting.scale == 1.0
    assert fitting.grid is None
    with pytest.raises(ValueError, match="declare the units"):
        fit_scene(scene_of(trimesh.creation.icosphere(3, 1e7)))


def test_few_faces_show_no_grid_of_their_own():
    """Some scale suits any hollow box by chance: a few faces that agree are no grid."""
    import trimesh

    boxes = [trimesh.creation.box(size) for size in ((128, 48, 60), (122, 42, 54))]
    boxes[1].invert()
    with pytest.raises(ValueError, match=r"16 × 6 studs in mm .say --units"):
        fit_scene(scene_of(trimesh.util.concatenate(boxes)))


def test_front_and_up_can_be_told():
    """Turned by what the user says: the told axis comes to lie upwards and the told end to the front."""
    fitting = fit_scene(scene_of(bricks()), up="-z", front="-x")
    assert np.allclose(fitting.turn, [(-1, 0, 0), (0, 1, 0), (0, 0, -1)])
    assert np.linalg.det(fitting.turn) == pytest.approx(1.0)
