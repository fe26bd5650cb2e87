"""Mesh files of all kinds into pieces."""

import zipfile

import numpy as np
import pytest
import trimesh

from fitplan.errors import InputError
from fitplan.meshes.from_mesh import MeshOptions, vehicle_from_mesh
from fitplan.meshes.scene_in import read_scene
from tests.meshes.models import block, bricks

HEAD = '<?xml version="1.0"?><model unit="{unit}" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">'
BASE = '<basematerials id="9"><base name="red" displaycolor="#FF0000FF"/></basematerials>'


def mesh_xml(mesh):
    points = "".join(f'<vertex x="{x}" y="{y}" z="{z}"/>' for x, y, z in mesh.vertices)
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in mesh.faces)
    return f"<mesh><vertices>{points}</vertices><triangles>{faces}</triangles></mesh>"


def write_3mf(path, unit="millimeter", items='<item objectid="2"/>', more=""):
    """A 3MF file: a wall as object 1, and object 2 that has it twice, once moved."""
    wall = mesh_xml(block((0, 8), (0, 8), (0, 9.6)))
    move = "1 0 0 0 1 0 0 0 1 16 0 3.2"
    text = HEAD.format(unit=unit) + (
        f'<resources>{BASE}<object id="1" name="wall" pid="9" pindex="0">{wall}</object>'
        f'<object id="2" name="pair"><components><component objectid="1"/>'
        f'<component objectid="1" transform="{move}"/></components></object>{more}</resources>'
        f"<build>{items}</build></model>"
    )
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("3D/3dmodel.model", text)


@pytest.mark.parametrize("kind", ["stl", "obj", "ply", "glb", "off"])
def test_every_kind_holds_the_same_model(kind, tmp_path):
    """A wagon of bricks is the same vehicle from STL, OBJ, PLY, GLB and OFF."""
    path = tmp_path / f"wagon.{kind}"
    bricks(length=8, layers=2).export(path)
    vehicle = vehicle_from_mesh(path, MeshOptions(units="mm", up="+z", front="+x")).vehicle
    assert vehicle.hull.size == pytest.approx((64, 48, 25.6))
    assert [layer.plates for layer in vehicle.layers] == [1, 6, 1]


def test_gltf_beside_its_buffers(tmp_path):
    """A glTF file whose buffers are files beside it is the same vehicle as its GLB."""
    mesh = bricks(length=8, layers=2)
    for name, data in trimesh.Scene(mesh).export(file_type="gltf").items():
        (tmp_path / name).write_bytes(data)
    vehicle = vehicle_from_mesh(tmp_path / "model.gltf", MeshOptions(units="mm", up="+z", front="+x")).vehicle
    assert vehicle.hull.size == pytest.approx((64, 48, 25.6))


def test_3mf_items_components_and_units(tmp_path):
    """A 3MF object and its moved copy come as two pieces with name, colour and unit."""
    path = tmp_path / "pair.3mf"
    write_3mf(path, "centimeter")
    scene = read_scene(path)
    assert scene.unit == "cm"
    assert [piece.name for piece in scene.pieces] == ["wall", "wall"]
    assert scene.pieces[0].colour == "#ff0000"
    assert np.allclose(scene.pieces[0].bounds, [(0, 0, 0), (8, 8, 9.6)])
    assert np.allclose(scene.pieces[1].bounds, [(16, 0, 3.2), (24, 8, 12.8)])


@pytest.mark.parametrize(
    ("write", "message"),
    [
        (lambda path: path.write_bytes(b"no archive"), "no zip archive"),
        (lambda path: write_3mf(path, items='<item objectid="7"/>'), "refers to the object '7'"),
        (
            lambda path: write_3mf(path, items='<item objectid="1" transform="1 2"/>'),
            "2 numbers instead of 12",
        ),
        (lambda path: write_3mf(path, more="<object>"), "broken XML"),
        (
            lambda path: write_3mf(
                path,
                items='<item objectid="3"/>',
                more='<object id="3"><components><component objectid="3"/></components></object>',
            ),
            "refers to itself",
        ),
    ],
)
def test_broken_3mf_is_told(tmp_path, write, message):
    """A 3MF file that is no archive, is torn, or refers to what is not there, is one clear error."""
    path = tmp_path / "bad.3mf"
    write(path)
    with pytest.raises(InputError, match=message):
        read_scene(path)


def test_scenes_keep_names_colours_and_instances(tmp_path):
    """One shape placed twice in a scene comes twice, where the scene puts it, with name and colour."""
    scene = trimesh.Scene()
    wall = block((0, 8), (0, 8), (0, 9.6))
    wall.visual.vertex_colors = [10, 200, 30, 255]
    scene.add_geometry(wall, node_name="one", geom_name="wall")
    moved = trimesh.transformations.translation_matrix((16, 0, 0))
    scene.graph.update(frame_to="two", matrix=moved, geometry="wall")
    path = tmp_path / "scene.glb"
    scene.export(path)
    read = read_scene(path)
    assert (read.unit, read.up) == ("m", "y")
    assert [piece.name for piece in read.pieces] == ["one", "two"]
    assert {piece.colour for piece in read.pieces} == {"#0ac81e"}
    assert np.allclose(read.pieces[1].bounds[0], (16, 0, 0))


def test_objects_of_an_obj_file_stay_apart(tmp_path):
    """Each object of an OBJ file is a piece of its own name."""
    text = "o one\nv 0 0 0\nv 8 0 0\nv 0 8 0\nf 1 2 3\no two\nv 0 0 5\nv 8 0 5\nv 0 8 5\nf 4 5 6\n"
    path = tmp_path / "two.obj"
    path.write_text(text, encoding="utf-8")
    assert [piece.name for piece in read_scene(path).pieces] == ["one", "two"]


def test_faces_that_refer_to_nothing_are_left_out(tmp_path):
    """Faces with missing points or without area are left out and counted."""
    mesh = block((0, 8), (0, 8), (0, 8))
    faces = np.vstack((mesh.faces, [[0, 0, 1]]))
    path = tmp_path / "flat.ply"
    trimesh.Trimesh(mesh.vertices, faces, process=False).export(path)
    scene = read_scene(path)
    assert scene.face_count == 12
    assert scene.notes == ("1 faces without area were left out",)
