"""Scenes as other programs write them: a block of several materials, objects of several colours, no studs."""

from __future__ import annotations

import base64
import itertools
import json
from pathlib import Path

import numpy as np
import pytest
import trimesh

from fitplan.errors import InputError
from fitplan.meshes.from_mesh import MeshOptions, vehicle_from_mesh
from fitplan.meshes.read_back import written
from fitplan.meshes.scene_in import read_scene
from fitplan.report.terminal.mesh_screen import to_check, understood
from tests.meshes.brick_models import (
    Brick,
    Export,
    Thing,
    cab,
    models,
    open_wagon,
    van,
    with_loose_wall,
    write,
)
from tests.meshes.models import block

TOLD = MeshOptions(units="mm", up="+z", front="+x")


def _by_material(mesh: trimesh.Trimesh) -> list[np.ndarray]:
    """Return the faces of a block in six groups, one a side."""
    side = (np.argmax(np.abs(mesh.face_normals), axis=1) * 2) + (mesh.face_normals.sum(axis=1) > 0)
    return [mesh.faces[side == number] for number in range(6)]


def _gltf(path: Path, mesh: trimesh.Trimesh, groups: list[np.ndarray], as_nodes: bool) -> Path:
    """Write a block with a primitive, or a node, for each group of faces."""
    points = np.asarray(mesh.vertices, dtype=np.float32)
    parts = [points.tobytes(), *(np.asarray(group, dtype=np.uint16).tobytes() for group in groups)]
    starts = np.cumsum([0, *map(len, parts)])
    views = [
        {"buffer": 0, "byteOffset": int(a), "byteLength": int(b - a)} for a, b in itertools.pairwise(starts)
    ]
    accessors = [{"bufferView": 0, "componentType": 5126, "count": len(points), "type": "VEC3"}]
    accessors += [
        {"bufferView": n, "componentType": 5123, "count": int(group.size), "type": "SCALAR"}
        for n, group in enumerate(groups, 1)
    ]
    primitives = [
        {"attributes": {"POSITION": 0}, "indices": n, "material": n - 1} for n in range(1, len(groups) + 1)
    ]
    colours = [{"pbrMetallicRoughness": {"baseColorFactor": [n / 10, 0, 0, 1]}} for n in range(len(groups))]
    meshes = [{"primitives": [p]} for p in primitives] if as_nodes else [{"primitives": primitives}]
    nodes = [{"mesh": n, "name": "block" if not as_nodes else f"block {n}"} for n in range(len(meshes))]
    uri = "data:application/octet-stream;base64," + base64.b64encode(b"".join(parts)).decode()
    head = {
        "asset": {"version": "2.0"}, "scenes": [{"nodes": list(range(len(nodes)))}], "nodes": nodes,
        "meshes": meshes, "materials": colours, "accessors": accessors, "bufferViews": views,
        "buffers": [{"byteLength": int(starts[-1]), "uri": uri}],
    }  # fmt: skip
    path.write_text(json.dumps(head), encoding="utf-8")
    return path


@pytest.mark.parametrize("as_nodes", [False, True])
def test_a_block_of_six_materials_is_solid(tmp_path: Path, as_nodes: bool) -> None:
    """Each side is a primitive, or an object of its own; together they close, and nothing is hollow."""
    mesh = block((0, 96), (0, 48), (0, 32))
    made = vehicle_from_mesh(_gltf(tmp_path / "block.gltf", mesh, _by_material(mesh), as_nodes), TOLD)
    assert made.cavities == ()
    assert made.filled.core.sum() * 0.8**3 == pytest.approx(96 * 48 * 32, rel=0.01)


def test_an_obj_of_six_materials_is_solid(tmp_path: Path) -> None:
    """So it is as OBJ with a material a side, and corners that count backwards."""
    mesh = block((0, 96), (0, 48), (0, 32))
    lines = ["o block", *(f"v {x} {y} {z}" for x, y, z in mesh.vertices)]
    for number, group in enumerate(_by_material(mesh)):
        lines.append(f"usemtl side{number}")
        lines += ["f " + " ".join(str(int(c) - len(mesh.vertices)) for c in face) for face in group]
    # A second object after it: counting backwards is from where a face stands.
    lines += ["o far", "v 0 0 40", "v 8 0 40", "v 0 8 40", "v 0 0 48"]
    lines += ["f -4 -2 -3", "f -4 -3 -1", "f -3 -2 -1", "f -2 -4 -1"]
    (tmp_path / "block.obj").write_text("\n".join(lines), encoding="utf-8")
    scene = read_scene(tmp_path / "block.obj")
    assert [(piece.name, len(piece.faces)) for piece in scene.pieces] == [("block", 12), ("far", 4)]
    assert scene.pieces[1].bounds[0][2] == 40
    assert vehicle_from_mesh(tmp_path / "block.obj", TOLD).cavities == ()


def test_an_object_of_several_materials_is_one(tmp_path: Path) -> None:
    """A removable wall of bricks of two colours is one brick with one name, the same in every run."""
    model = with_loose_wall(van())
    path = write(model, Export(".glb"), tmp_path)
    names = {tuple(entry.name for entry in vehicle_from_mesh(path).vehicle.removables) for _ in range(2)}
    assert names == {("side",)}


def test_shells_of_a_colour_come_out(tmp_path: Path) -> None:
    """Bricks of one colour in an object of two may be asked for by it."""
    body = trimesh.util.concatenate([block((0, 64), (0, 48), (0, 9.6)), block((0, 64), (0, 8), (9.6, 19.2))])
    lid = block((0, 64), (8, 48), (9.6, 12.8))
    both = trimesh.util.concatenate([body, lid])
    both.visual.face_colors = [[10, 20, 30, 255]] * len(body.faces) + [[200, 0, 0, 255]] * len(lid.faces)
    both.export(tmp_path / "two.ply", vertex_normal=False)
    found = vehicle_from_mesh(
        tmp_path / "two.ply",
        MeshOptions(units="mm", up="+z", front="+x", removable={"#c80000": "lid"}),
    )
    assert [entry.name for entry in found.vehicle.removables] == ["lid"]


def test_without_studs_each_unit_is_told(tmp_path: Path) -> None:
    """A smooth body off any grid is refused with what each unit makes of it, whatever the format says."""
    egg = trimesh.creation.icosphere(3, 1.0)
    egg.apply_scale((64.0, 20.0, 18.0))
    for ending in ("stl", "glb"):
        egg.export(tmp_path / f"egg.{ending}")
        with pytest.raises(InputError, match=r"16 × [45] studs in mm.*--units"):
            vehicle_from_mesh(tmp_path / f"egg.{ending}")


def test_the_first_screen_is_in_a_makers_words(tmp_path: Path) -> None:
    """Footprint, height, floor, room, windows and what lifts off, in one sentence."""
    made = vehicle_from_mesh(write(van(), Export(), tmp_path))
    assert understood(made) == (
        "16 × 6 studs, 3 bricks and 2 plates high, floor studded, one room of 14 × 4 studs and 3 bricks high,"
        " two windows, roof of 12 plates lifts off"
    )
    checks = to_check(made)
    assert checks[0].startswith("Look")
    assert checks[-1].startswith("Weigh")


def test_doors_are_no_windows(tmp_path: Path) -> None:
    """A cab has two doors, which are ports, and one windscreen."""
    made = vehicle_from_mesh(write(cab(), Export(), tmp_path))
    assert [window.name for window in made.vehicle.windows] == ["front gap"]
    assert [port.name for port in made.vehicle.ports] == ["front hole", "left door", "right door"]


def test_an_open_wagon_has_no_lid(tmp_path: Path) -> None:
    """Nothing lies over its room, and nobody is asked what lifts off."""
    made = vehicle_from_mesh(write(open_wagon(), Export(), tmp_path))
    assert made.vehicle.openings == ()
    assert "open above" in understood(made)
    assert not any(text.startswith("Try") for text in to_check(made))


def test_what_stands_out_and_says_nothing_is_asked_about(tmp_path: Path) -> None:
    """A tank across the end, a mirror and a hook without names that tell; the user's word decides."""
    model = van()
    for name, size, at in (
        ("part 1", (30.0, 40.0, 20.0), (135.0, 24.0, 20.0)),
        ("part 2", (4.0, 6.0, 4.0), (60.0, -2.0, 20.0)),
        ("part 3", (14.0, 6.0, 5.0), (-6.0, 24.0, 9.0)),
    ):
        thing = trimesh.creation.box(size)
        thing.apply_translation(at)
        model.things.append(Thing(name, thing))
    path = write(model, Export(), tmp_path)
    made = vehicle_from_mesh(path)
    asked = " ".join(text for text in to_check(made) if text.startswith("Look"))
    assert "couplings, as they stand out of the bricks: part 3 2 at the rear" in asked
    assert "left out, as they stand out of the bricks: part 2 1 at the right" in asked
    assert "larger by them: part 1 0 at the front" in asked
    assert made.vehicle.studs_long == 19
    assert asked.split("Look: ")[-1] in " ".join(made.text().replace("\n#", "").split())
    names = {piece.name for piece in read_scene(path).pieces if piece.name.startswith("part")}
    told = vehicle_from_mesh(path, MeshOptions(objects=dict.fromkeys(sorted(names), "apart")))
    assert (told.vehicle.studs_long, told.vehicle.studs_wide) == (16, 6)
    with pytest.raises(InputError, match=r"found no object 'part 9'.*did you mean 'part"):
        vehicle_from_mesh(path, MeshOptions(objects={"part 9": "apart"}))


def test_bricks_put_together_from_walls_are_bricks(tmp_path: Path) -> None:
    """An open wagon of bricks whose walls and roofs are boxes of their own, with a mast and a low hook."""
    scene = trimesh.Scene()
    wagon = open_wagon(12, 6, 2)
    for number, brick in enumerate(wagon.bricks):
        scene.add_geometry(_of_walls(brick), node_name=f"element {number}")
    for name, size, at in (("mast", (3, 3, 60), (93, 24, 40)), ("thing", (10, 10, 4), (-5, 24, -3))):
        thing = trimesh.creation.box(size)
        thing.apply_translation(at)
        scene.add_geometry(thing, node_name=name)
    scene.export(tmp_path / "wagon.glb")
    made = vehicle_from_mesh(tmp_path / "wagon.glb")
    assert (made.vehicle.studs_long, made.vehicle.studs_wide) == wagon.size
    assert "one room of 10 × 4 studs and 2 bricks high, open above" in understood(made)
    assert len(made.cavities) == 1
    assert made.height_guessed
    assert made.vehicle.base == pytest.approx(19.2)  # the usual wheels stand below it
    assert made.vehicle.couplings[1].height == pytest.approx(19.2 - 3.0)
    assert not any(text.startswith("Try") for text in to_check(made))
    assert any("--base" in text for text in to_check(made))
    assert written(made, tmp_path / "wagon.glb", tmp_path / "wagon.yaml")


def _of_walls(brick: Brick) -> trimesh.Trimesh:
    """A brick of four walls and a roof that are closed boxes, with its studs."""
    low = np.array([brick.x * 8 + 0.1, brick.y * 8 + 0.1, brick.z * 3.2])
    size = np.array([brick.long * 8 - 0.2, brick.wide * 8 - 0.2, brick.plates * 3.2])
    wall = 1.5
    boxes = [((0, 0, 0), (wall, size[1], size[2])), ((size[0] - wall, 0, 0), size)]
    boxes += [((wall, 0, 0), (size[0] - wall, wall, size[2]))]
    boxes += [((wall, size[1] - wall, 0), (size[0] - wall, size[1], size[2]))]
    boxes += [((wall, wall, size[2] - 1), (size[0] - wall, size[1] - wall, size[2]))]
    parts = [trimesh.creation.box(bounds=np.array(corners) + low) for corners in boxes]
    for x, y in itertools.product(range(brick.long), range(brick.wide)):
        stud = trimesh.creation.cylinder(2.4, 1.8, sections=20)
        stud.apply_translation(low + np.array([8 * x + 3.9, 8 * y + 3.9, size[2] + 0.9]))
        parts.append(stud)
    return trimesh.util.concatenate(parts)


def test_what_is_too_wide_is_told_and_not_written(tmp_path: Path) -> None:
    """A body of 17 studs is within a mesh's limits and beyond a vehicle file's."""
    path = tmp_path / "wide.stl"
    block((0, 200), (0, 136), (0, 32)).export(path)
    with pytest.raises(
        InputError, match=r"wide\.stl: found a vehicle of 25 × 17 studs; expected at most 64 × 16"
    ):
        written(vehicle_from_mesh(path, TOLD), path, tmp_path / "wide.yaml")
    assert not (tmp_path / "wide.yaml").exists()


def test_there_are_thirty_models() -> None:
    """As many as are told of."""
    assert len(models()) == 30
