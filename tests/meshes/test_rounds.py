"""Round walls in meshes, and the cylinders that they become."""

import numpy as np
import pytest
import trimesh
from trimesh.creation import annulus, capsule, cone, cylinder, icosphere

from fitplan.lattice.space import VehicleSpace
from fitplan.meshes.from_mesh import MeshOptions, vehicle_from_mesh
from fitplan.meshes.rounds import rings_of
from fitplan.model.solids import AXES, Box, Cylinder
from tests.meshes.models import block, shell

TURNS = {"x": (np.pi / 2, (0, 1, 0)), "y": (-np.pi / 2, (1, 0, 0)), "z": (0.0, (0, 0, 1))}


def turned(mesh, axis, shift=(0.0, 0.0, 0.0)):
    """A mesh that lies along z, turned to lie along an axis, and moved."""
    result = mesh.copy()
    result.apply_transform(trimesh.transformations.rotation_matrix(*TURNS[axis]))
    result.apply_translation(shift)
    return result


def rings(mesh):
    return rings_of(np.asarray(mesh.vertices, float), np.asarray(mesh.faces), 0.4)


@pytest.mark.parametrize("axis", AXES)
@pytest.mark.parametrize("sides", [12, 32, 33, 64])
def test_a_rod_is_found_along_any_axis(axis, sides):
    """A prism of many sides is one round wall between its inner and outer circle, whatever its normals."""
    mesh = turned(cylinder(5.0, 20.0, sections=sides), axis, (3.0, -2.0, 7.0))
    for faces in (mesh.faces, mesh.faces[:, ::-1], np.vstack((mesh.faces, mesh.faces))):
        (ring,) = rings_of(np.asarray(mesh.vertices, float), faces, 0.4)
        assert ring.axis == axis
        assert ring.length == pytest.approx(20.0)
        assert ring.most == pytest.approx(5.0)
        # The inner circle of a regular polygon.
        assert ring.least == pytest.approx(5.0 * np.cos(np.pi / sides))
        middle = np.array(ring.start) + 10.0 * np.eye(3)[AXES.index(axis)]
        assert np.allclose(middle, (3.0, -2.0, 7.0))
        assert 5.0 in ring.radii()


def test_a_pipe_has_two_walls():
    """An annulus is a wall outside and one inside, about one axis."""
    outer, inner = rings(turned(annulus(18.0, 22.0, 60.0, sections=64), "x"))
    assert (outer.most, inner.most) == (pytest.approx(22.0), pytest.approx(18.0))
    assert outer.start == pytest.approx(inner.start)


def test_a_finer_mesh_is_the_same_wall():
    """A wall that is cut into many small faces, some points off its corners, is the same."""
    (coarse,) = rings(cylinder(5.0, 20.0, sections=32))
    (fine,) = rings(cylinder(5.0, 20.0, sections=32).subdivide().subdivide())
    assert (fine.least, fine.most, fine.length) == pytest.approx((coarse.least, coarse.most, coarse.length))


def test_what_is_not_round_is_no_wall():
    """Balls, cones, boxes, hexagons, half and slanting cylinders have no round wall along an axis."""
    half = cylinder(5.0, 20.0, sections=32)
    half.update_faces(half.triangles_center[:, 0] > 0.0)
    slanting = cylinder(5.0, 20.0, sections=32)
    slanting.apply_transform(trimesh.transformations.rotation_matrix(0.2, (1, 0, 0)))
    boxes = block((0, 5), (0, 6), (0, 7)).subdivide().subdivide()
    for mesh in (icosphere(4, 10.0), cone(5.0, 10.0), boxes, cylinder(5.0, 20.0, sections=6), half, slanting):
        assert rings(mesh) == ()


def test_a_capsule_is_round_between_its_ends_only():
    """The straight part of a capsule is a wall; its round ends are none."""
    (ring,) = rings(capsule(30.0, 6.0))
    assert ring.length == pytest.approx(30.0)
    assert (ring.start[2], ring.most) == (pytest.approx(-15.0), pytest.approx(6.0))


def made(mesh, folder, **options):
    path = folder / "model.ply"
    mesh.export(path)
    return vehicle_from_mesh(path, MeshOptions(units="mm", up="+z", front="+x", **options))


def cylinders(vehicle):
    return [entry for entry in vehicle.body if isinstance(entry.solid, Cylinder)]


@pytest.mark.parametrize("axis", AXES)
def test_a_boiler_is_read_as_two_cylinders(tmp_path, axis):
    """A closed pipe along any axis is a rod and a bore; what is free is never more than the mesh leaves free.

    What the cylinders draw solid beyond the mesh is a voxel at most beside what is solid in the mesh.
    """
    mesh = turned(
        shell(cylinder(21.3, 72.0, sections=64), cylinder(17.6, 64.0, sections=64)), axis, (0.11, 0.23, 0.07)
    )
    found = made(mesh, tmp_path)
    rod, bore = sorted(cylinders(found.vehicle), key=lambda entry: -entry.solid.radius)
    assert (rod.state, bore.state) == ("fixed", "free")
    assert {rod.solid.axis, bore.solid.axis} == {axis}
    assert 21.3 * np.cos(np.pi / 64) <= rod.solid.radius <= 21.3 + 1e-3
    assert 17.6 * np.cos(np.pi / 64) - 1e-3 <= bore.solid.radius <= 17.6
    assert len(found.body.solids) < 12
    space = VehicleSpace.of(found.vehicle, frame=found.block.frame)
    free = found.block.codes == 1
    assert not (space.free() & ~free).any()
    assert (free & ~space.free()).sum() <= 0.01 * free.sum()
    assert (space.free() & free).sum() * 0.8**3 == pytest.approx(np.pi * 17.6**2 * 64.0, rel=0.12)


def test_a_capsule_keeps_its_round_ends(tmp_path):
    """A hollow capsule is no longer cylinder than it is: the voxels beyond its straight part are its own."""
    mesh = turned(shell(capsule(60.0, 21.0, count=(48, 48)), capsule(60.0, 17.0, count=(48, 48))), "x")
    found = made(mesh, tmp_path)
    space = VehicleSpace.of(found.vehicle, frame=found.block.frame)
    solid = found.block.codes >= 3
    assert not (solid & ~space.solid()).any()
    assert not (space.free() & (found.block.codes != 1)).any()
    for entry in cylinders(found.vehicle):
        assert entry.solid.length == pytest.approx(60.0, abs=1e-3)


def test_a_box_wagon_with_a_round_tank(tmp_path):
    """In a box with a bored block the bore is a cylinder, and the box and its hall stay boxes."""
    hall = block((8, 56), (8, 40), (3.2, 54.4))
    tank = turned(cylinder(12.0, 64.0, sections=48), "x", (88.0, 24.0, 28.0))
    mesh = shell(block((0, 128), (0, 48), (0, 57.6)), trimesh.util.concatenate([hall, tank]))
    found = made(mesh, tmp_path)
    (bore,) = cylinders(found.vehicle)
    assert (bore.state, bore.solid.axis, bore.solid.length) == ("free", "x", pytest.approx(64.0))
    assert bore.solid.radius == pytest.approx(12.0, abs=0.03)
    assert sum(isinstance(entry.solid, Box) for entry in found.body.solids) <= 3
    assert sorted(round(size.volume_mm3) for size in found.cavities)[1] == round(48 * 32 * 51.2)
