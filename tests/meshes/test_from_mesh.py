"""Meshes in: closed forms, ten defects, and the way back."""

import io
from pathlib import Path

import numpy as np
import pytest
import trimesh

from fitplan.errors import FitplanError, InputError
from fitplan.files.read import read_vehicle
from fitplan.lattice.boxes import ExactSpace
from fitplan.lattice.space import FIXED, FREE, OUTSIDE, REMOVABLE, VehicleSpace
from fitplan.meshes.fill import Filled, grown
from fitplan.meshes.forms import measure
from fitplan.meshes.from_mesh import MeshOptions, vehicle_from_mesh
from fitplan.model.solids import Box, Cylinder, bounds_of
from tests.meshes.models import ball_shell, block, box_shell, bricks, shell, studs, vehicle_glb

EXAMPLES = Path(__file__).parents[2] / "examples"


def cavity_bounds_mm3(filled: Filled) -> tuple[float, float]:
    """Volume of the cavities, surely and at most, in mm³."""
    voxel = filled.frame.pitch**3
    most = filled.cavity | (grown(filled.cavity) & filled.touched)
    return (float(filled.cavity.sum()) * voxel, float(most.sum()) * voxel)


def made(mesh, folder, name="model.stl", **options):
    """The vehicle of a mesh that has gone through a file."""
    path = folder / name
    with np.errstate(all="ignore"):
        mesh.export(path)
    return vehicle_from_mesh(path, MeshOptions(**options))


def free_mm3(vehicle, rounding="outward"):
    space = VehicleSpace.of(vehicle)
    return space.free(rounding).sum() * space.frame.pitch**3


def free_tenths(vehicle, rounding):
    """Volume of the free room between the exact faces of all solids, in mm³."""
    exact = ExactSpace.of(vehicle)
    x, y, z = (np.diff(line) for line in exact.faces)
    return float(np.einsum("xyz,x,y,z->", exact.free(rounding).astype(float), x, y, z))


# --- closed forms ------------------------------------------------------------------------------------------


def test_a_box_shell_on_the_grid_is_exact(tmp_path):
    """Solid, cavity and the largest box are their closed forms, and the file reads back as the vehicle."""
    found = made(box_shell(), tmp_path)
    cavity = 80 * 32 * 51.2
    assert found.filled.solid_bounds_mm3() == pytest.approx((96 * 48 * 57.6 - cavity,) * 2)
    assert cavity_bounds_mm3(found.filled) == pytest.approx((cavity,) * 2)
    assert found.cavities[0].largest.size == pytest.approx((80, 32, 51.2))
    assert len(found.vehicle.layers) == 3
    assert found.body.solids == ()
    (tmp_path / "v.yaml").write_text(found.text(), encoding="utf-8")
    assert read_vehicle(tmp_path / "v.yaml") == found.vehicle


HALL = 77.9 * 33.7 * 42.0
TUBE = np.pi * 11.0**2 * 60.0
HALLS = 68 * 28 * 14 + 28 * 28 * 24


def tube():
    """A closed pipe of 40 mm across with a bore of 22 mm, as a polygon of 128 sides."""
    result = shell(
        trimesh.creation.cylinder(20.0, 70.0, sections=128),
        trimesh.creation.cylinder(11.0, 60.0, sections=128),
    )
    result.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, (0, 1, 0)))
    return result


def stepped():
    """A body with a low and a high hall; the cavity is two boxes."""
    outer = trimesh.util.concatenate([block((0, 80), (0, 40), (0, 24)), block((40, 80), (0, 40), (24, 48))])
    inner = trimesh.util.concatenate([block((6, 74), (6, 34), (5, 19)), block((46, 74), (6, 34), (19, 43))])
    return shell(outer, inner)


@pytest.mark.parametrize(
    ("mesh", "solid", "cavity", "round_"),
    [
        (box_shell((91.3, 47.1, 50.2), 6.7, 4.1), 91.3 * 47.1 * 50.2 - HALL, HALL, False),
        (tube(), np.pi * 400 * 70 - TUBE, TUBE, True),
        (ball_shell(), 4 / 3 * np.pi * (22.0**3 - 16.0**3), 4 / 3 * np.pi * 16.0**3, True),
        (stepped(), 80 * 40 * 24 + 40 * 40 * 24 - HALLS, HALLS, False),
    ],
    ids=["box", "tube", "balls", "steps"],
)  # fmt: skip
def test_volumes_converge_at_first_order(tmp_path, mesh, solid, cavity, round_):
    """At every pitch both pairs bracket the closed form, and the gap between them halves with the pitch.

    A surface voxel is off by at most its own volume, and their number grows as the square of the fineness,
    so the gap falls in proportion to the pitch (faster by chance where flat sides fall on the grid). Polygons
    are within 0.5 % of the round form.
    """
    mesh.apply_translation((0.13, 0.29, 0.17))
    gaps = []
    for pitch in (1.6, 0.8, 0.4):
        filled = made(mesh, tmp_path, units="mm", pitch=pitch, gap=4.0).filled
        for (least, most), truth in (
            (filled.solid_bounds_mm3(), solid),
            (cavity_bounds_mm3(filled), cavity),
        ):
            assert least <= truth * 1.005
            assert truth * 0.995 <= most
        gaps.append(np.diff(filled.solid_bounds_mm3())[0])
    assert gaps[0] > 1.5 * gaps[1] > 2.25 * gaps[2]
    if round_:
        assert gaps[0] < 2.6 * gaps[1] < 2.6 * 2.4 * gaps[2]


def test_the_largest_box_in_a_ball_converges(tmp_path):
    """The largest box in a ball is a cube of edge 2r/√3; the box of the voxels closes in on it from below."""
    truth = (2 * 16.0 / np.sqrt(3)) ** 3
    shares = []
    for pitch in (1.6, 0.8, 0.4):
        found = made(ball_shell(), tmp_path, units="mm", pitch=pitch, gap=4.0)
        shares.append(found.cavities[0].largest.volume / truth)
    assert shares[0] < shares[1] < shares[2] < 1.0
    assert shares[2] > 0.86


def test_brick_shells_with_play_give_the_nominal_walls(tmp_path):
    """A wagon of single bricks, each 0.1 mm short on its sides, has exactly the walls of the stud grid."""
    found = made(bricks(), tmp_path)
    assert free_mm3(found.vehicle) == pytest.approx(10 * 8 * 4 * 8 * 4 * 9.6)
    assert found.body.solids == ()
    assert found.vehicle.studs_long == 12
    assert found.vehicle.studs_wide == 6


def test_a_thin_wall_never_leaks(tmp_path):
    """A skin of 1.5 mm, wherever it lies on the grid and however it is turned, keeps its cavity."""
    random = np.random.default_rng(3)
    for turn in (0.0, 0.3, 0.8):
        mesh = box_shell((70.0, 40.0, 34.0), 1.5, 1.5)
        mesh.apply_transform(trimesh.transformations.rotation_matrix(turn, random.random(3)))
        mesh.apply_translation(random.random(3))
        low, high = cavity_bounds_mm3(made(mesh, tmp_path, units="mm", gap=4.0, up="+z", front="+x").filled)
        assert low <= 67 * 37 * 31 <= high
        assert low > 0.8 * 67 * 37 * 31


# --- ten defects -------------------------------------------------------------------------------------------

CAVITY = 80 * 32 * 51.2


def expect_box(found, tolerance=0.0):
    assert free_mm3(found.vehicle) == pytest.approx(CAVITY, rel=tolerance + 1e-9)
    assert (found.vehicle.studs_long, found.vehicle.studs_wide) == (12, 6)
    assert found.vehicle.top - found.vehicle.base == pytest.approx(57.6)


def test_defect_holes(tmp_path):
    """With a torn skin on each side, holes narrower than the gap, the cavity is whole and no more."""
    mesh = box_shell().subdivide().subdivide().subdivide().subdivide()
    middle = mesh.triangles_center
    torn = np.zeros(len(mesh.faces), bool)
    for point in ((48, 0, 30), (48, 8, 30), (96, 24, 30), (30, 24, 57.6)):
        torn |= np.linalg.norm(middle - point, axis=1) < 3.0
    assert torn.sum() >= 4
    mesh.update_faces(~torn)
    found = made(mesh, tmp_path)
    expect_box(found, 0.01)


def test_defect_flipped_faces(tmp_path):
    """With a third of all faces turned over, and then with all of them, the model is the same."""
    mesh = box_shell().subdivide()
    faces = mesh.faces.copy()
    faces[::3] = faces[::3, ::-1]
    expect_box(made(trimesh.Trimesh(mesh.vertices, faces, process=False), tmp_path))
    mesh.invert()
    expect_box(made(mesh, tmp_path))


def test_defect_duplicated_faces(tmp_path):
    """Every face twice is the same model."""
    mesh = box_shell()
    twice = trimesh.Trimesh(mesh.vertices, np.vstack((mesh.faces, mesh.faces)), process=False)
    expect_box(made(twice, tmp_path))


def test_defect_sheets_without_thickness(tmp_path):
    """A wall that is a bare sheet stands in the cavity as a wall one voxel thick, and is told."""
    sheet = trimesh.Trimesh(
        [(48, 8, 3.2), (48, 40, 3.2), (48, 40, 54.4), (48, 8, 54.4)], [(0, 1, 2), (0, 2, 3)]
    )
    found = made(trimesh.util.concatenate([box_shell(), sheet]), tmp_path)
    expect_lost = 0.8 * 32 * 51.2
    assert free_mm3(found.vehicle) == pytest.approx(CAVITY - expect_lost)
    assert len(found.cavities) == 2
    assert any("without thickness" in note for note in found.notes)


def test_defect_t_junctions(tmp_path):
    """Corners that lie on the middle of other faces' edges leave no gap."""
    mesh = box_shell()
    keep = np.ones(len(mesh.faces), bool)
    keep[[0, 13]] = False
    fine = mesh.submesh([np.flatnonzero(~keep)], append=True).subdivide()
    coarse = mesh.submesh([np.flatnonzero(keep)], append=True)
    mixed = trimesh.util.concatenate([coarse, fine])
    assert not mixed.is_watertight
    expect_box(made(mixed, tmp_path))


def test_defect_loose_dust(tmp_path):
    """Stray triangles and shells of a tenth of a millimetre in the walls change nothing inside."""
    random = np.random.default_rng(5)
    dust = [trimesh.creation.box((0.1, 0.1, 0.1)) for _ in range(30)]
    for grain in dust:
        grain.apply_translation((random.uniform(1, 95), random.uniform(1, 7), random.uniform(4, 53)))
    stray = trimesh.Trimesh([(50, 2, 10), (50, 5, 10), (50, 3, 16)], [(0, 1, 2)])
    expect_box(made(trimesh.util.concatenate([box_shell(), *dust, stray]), tmp_path))


@pytest.mark.parametrize(("factor", "unit"), [(0.1, "cm"), (0.001, "m"), (1 / 25.4, "inch"), (1 / 8, "stud")])
def test_defect_wrong_units(tmp_path, factor, unit):
    """A model in centimetres, metres, inches or studs is found by its grid, and the unit is said aloud."""
    mesh = bricks()
    mesh.apply_scale(factor)
    found = made(mesh, tmp_path, "model.ply")
    assert free_mm3(found.vehicle) == pytest.approx(10 * 8 * 4 * 8 * 4 * 9.6)
    assert any(note.startswith(f"units: one unit is {unit},") for note in found.notes)


def test_defect_turned_axes(tmp_path):
    """A model with y or x upwards is found by its plates, stood upright and laid along its length."""
    for axis, angle in (((1, 0, 0), -np.pi / 2), ((0, 1, 0), np.pi / 2), ((0, 0, 1), np.pi / 2)):
        mesh = bricks()
        mesh.apply_transform(trimesh.transformations.rotation_matrix(angle, axis))
        found = made(mesh, tmp_path)
        assert (found.vehicle.studs_long, found.vehicle.studs_wide) == (12, 6)
        assert free_mm3(found.vehicle) == pytest.approx(10 * 8 * 4 * 8 * 4 * 9.6)


def test_defect_millions_of_faces(tmp_path):
    """A skin of 400 000 faces is the same model as the same skin of 24."""
    mesh = box_shell()
    for _ in range(7):
        mesh = mesh.subdivide()
    assert len(mesh.faces) > 390_000
    expect_box(made(mesh, tmp_path, "model.ply"))


def test_defect_not_a_number(tmp_path):
    """Faces with points that are no numbers are left out and told; with nothing left it is a clear error."""
    mesh = box_shell()
    points = np.vstack((mesh.vertices, [[np.nan, 0, 0], [np.inf, 1, 1]]))
    faces = np.vstack((mesh.faces, [[0, 1, len(points) - 2], [2, 3, len(points) - 1]]))
    found = made(trimesh.Trimesh(points, faces, process=False), tmp_path)
    expect_box(found)
    assert any("2 faces with points that are not numbers" in note for note in found.notes)
    bad = trimesh.Trimesh(np.full((3, 3), np.nan), [(0, 1, 2)], process=False)
    with pytest.raises(InputError, match="no usable triangle"):
        made(bad, tmp_path)


# --- what else a file may bring ----------------------------------------------------------------------------


def test_studs_on_the_floor_make_it_studded(tmp_path):
    """Studs inside become the floor's finish, studs on the roof are left out, and both are told."""
    mesh = trimesh.util.concatenate(
        [bricks(), *studs(range(1, 11), range(1, 5), 3.2), *studs(range(12), range(6), 44.8)]
    )
    found = made(mesh, tmp_path)
    assert found.vehicle.floor_finish == "studded"
    assert (found.studs.inside, found.studs.outside) == (40, 72)
    assert free_mm3(found.vehicle) < 10 * 8 * 4 * 8 * 4 * 9.6 - 40 * np.pi * 2.4**2 * 1.7


def test_names_and_colours_mark_what_comes_out(tmp_path):
    """Objects named removable, or of a colour that is named, may come out; keep-clear ones stay clear."""
    scene = trimesh.Scene()
    scene.add_geometry(bricks(), node_name="body")
    scene.add_geometry(block((40, 48), (8, 40), (3.2, 12.8)), node_name="removable: inner/wall")
    red = block((64, 72), (8, 40), (3.2, 12.8))
    red.visual.vertex_colors = [255, 0, 0, 255]
    scene.add_geometry(red, node_name="other wall")
    scene.add_geometry(block((8, 16), (8, 40), (3.2, 12.8)), node_name="keep-clear link")
    path = tmp_path / "scene.glb"
    scene.export(path)
    options = MeshOptions(units="mm", up="+z", removable={"#ff0000": "red wall"})
    vehicle = vehicle_from_mesh(path, options).vehicle
    space = VehicleSpace.of(vehicle)
    for name in ("inner wall", "red wall"):
        assert space.removable(name).sum() * 0.8**3 == pytest.approx(8 * 32 * 9.6)
    everything = 10 * 8 * 4 * 8 * 4 * 9.6
    assert space.free().sum() * 0.8**3 == pytest.approx(everything - 3 * 8 * 32 * 9.6)
    assert space.removed(space.names).free().sum() * 0.8**3 == pytest.approx(everything - 8 * 32 * 9.6)


def test_windows_roofs_and_ports_are_proposed(tmp_path):
    """A gap in the front wall becomes a window as thick as the wall; the layer above the hall is the roof."""
    walls = [
        block((0, 96), (0, 48), (0, 3.2)), block((0, 96), (0, 8), (3.2, 41.6)),
        block((0, 96), (40, 48), (3.2, 41.6)),
        block((0, 8), (8, 40), (3.2, 41.6)), block((88, 96), (8, 40), (3.2, 12.8)),
        block((88, 96), (8, 40), (22.4, 41.6)), block((88, 96), (8, 20), (12.8, 22.4)),
        block((88, 96), (28, 40), (12.8, 22.4)), block((0, 96), (0, 48), (41.6, 44.8)),
    ]  # fmt: skip
    vehicle = made(trimesh.util.concatenate(walls), tmp_path).vehicle
    (window,) = vehicle.windows
    assert window.out == "+x"
    assert (window.box.low, window.box.high) == (pytest.approx((88, 20, 12.8)), pytest.approx((96, 28, 22.4)))
    assert [port.box for port in vehicle.ports] == [window.box]
    (roof,) = vehicle.openings
    assert (roof.box.low, roof.box.high) == (pytest.approx((8, 8, 41.6)), pytest.approx((88, 40, 44.8)))


def test_an_open_wagon_is_open_room(tmp_path):
    """Room between sides on a deck is clear up to their top, and so it is when the top counts as closed."""
    walls = [block((0, 96), (0, 48), (0, 3.2)), *(block((0, 96), y, (3.2, 22.4)) for y in ((0, 8), (40, 48)))]
    walls += [block(x, (8, 40), (3.2, 22.4)) for x in ((0, 8), (88, 96))]
    mesh = trimesh.util.concatenate(walls)
    assert free_mm3(made(mesh, tmp_path, gap=8.0).vehicle) == pytest.approx(80 * 32 * 19.2)
    assert made(mesh, tmp_path, gap=8.0).vehicle.openings == ()
    assert free_mm3(made(mesh, tmp_path, gap=8.0, closed=("+z",)).vehicle) == pytest.approx(80 * 32 * 19.2)


# A mesh does not tell how high loads may stand on an open deck, nor that a nose without a front is room.
VEHICLES = sorted(
    path
    for path in EXAMPLES.glob("*/*.yaml")
    if "\nvehicle:" in path.read_text(encoding="utf-8") and path.parent.name != "clay-run"
)


def _same(drawn, found):
    """Tell whether states agree, but for room between sides, open above, that a drawing calls outside."""
    other = drawn != found
    solid_above = np.flip(np.logical_or.accumulate(np.flip(drawn >= FIXED, axis=2), axis=2), axis=2)
    return not (other & ~((drawn == OUTSIDE) & (found == FREE) & ~solid_above)).any()


@pytest.mark.parametrize("path", VEHICLES, ids=lambda path: path.stem)
def test_vehicle_to_mesh_and_back(tmp_path, path):
    """Every example vehicle, written as a mesh and read with nothing set but its height, is the same voxels.

    Solid, free, outside, keep-clear, and each removable brick by its name; what is built in is the same
    solids.
    """
    vehicle = read_vehicle(path)
    (tmp_path / "v.glb").write_bytes(vehicle_glb(vehicle))
    found = vehicle_from_mesh(tmp_path / "v.glb", MeshOptions(base=vehicle.base)).vehicle
    one = VehicleSpace.of(vehicle)
    two = VehicleSpace.of(found, frame=one.frame)
    assert np.allclose(found.hull.size, vehicle.hull.size)
    assert _same(one.states(), two.states())
    assert set(one.names) == set(two.names)
    comes_out = one.states() == REMOVABLE
    for brick in one.names:
        assert (one.removable(brick) != two.removable(brick))[comes_out].sum() == 0
    if one.names:
        assert _same(one.removed(one.names).states(), two.removed(one.names).states())
    assert found.floor_finish == vehicle.floor_finish
    built = {entry.name: entry.solids for entry in vehicle.built_in}
    assert {entry.name: entry.solids for entry in found.built_in} == built
    if not found.rounded:
        assert (one.states("inward") != two.states("inward")).sum() == 0
        # In tenths of a millimetre, too, the free room is the same.
        for rounding in ("outward", "inward"):
            assert free_tenths(found, rounding) == pytest.approx(free_tenths(vehicle, rounding))
    elif not vehicle.rounded:
        # What may be rounded never makes the cavity narrower than it is.
        assert not (one.free("inward") & ~two.free("inward")).any()


def test_a_plan_to_mesh_and_back(tmp_path):
    """From the mesh of a plan the vehicle comes back without the parts, shelves and wires that were put in.

    Only beside a body of the same vehicle are they a plan's; an object that is merely called so is solid.
    """
    vehicle = measure("lorry")
    scene = trimesh.load_scene(io.BytesIO(vehicle_glb(vehicle)), file_type="glb")
    inner = vehicle.hull.center
    part = trimesh.creation.box((0.012, 0.006, 0.008))
    part.apply_translation((inner[0] / 1000, inner[2] / 1000, -inner[1] / 1000))
    for name in ("part: brain", "wire 3: ground", "shelf: brain"):
        scene.add_geometry(part, node_name=f"{vehicle.name}/{name}")
    scene.export(tmp_path / "plan.glb")
    options = MeshOptions(base=vehicle.base)
    found = vehicle_from_mesh(tmp_path / "plan.glb", options)
    one = VehicleSpace.of(vehicle)
    assert (one.states() != VehicleSpace.of(found.vehicle, frame=one.frame).states()).sum() == 0
    assert any("3 parts, shelves and wires of a plan are left out" in note for note in found.notes)
    scene.add_geometry(part, node_name="part: box")
    scene.export(tmp_path / "plan.glb")
    more = vehicle_from_mesh(tmp_path / "plan.glb", options).vehicle
    assert VehicleSpace.of(more, frame=one.frame).solid().sum() > one.solid().sum()


@pytest.mark.parametrize("form", ["boiler loco", "lorry"])
def test_measured_form_to_mesh_and_back(tmp_path, form):
    """A body form by the ruler, with its round or stepped body, is the same voxels after the way back."""
    vehicle = measure(form)
    (tmp_path / "v.glb").write_bytes(vehicle_glb(vehicle))
    found = vehicle_from_mesh(tmp_path / "v.glb", MeshOptions(base=vehicle.base)).vehicle
    one = VehicleSpace.of(vehicle)
    two = VehicleSpace.of(found, frame=one.frame)
    assert (one.states() != two.states()).sum() == 0


def test_a_stud_does_not_make_walls_uncertain(tmp_path):
    """A body on the grid with studs on its floor is exact both ways, and so with a wall of 1.5 mm in it."""
    wagon = [bricks(), *studs(range(1, 11), range(1, 5), 3.2)]
    found = made(trimesh.util.concatenate(wagon), tmp_path, units="mm", up="+z")
    # Bricks stand back from the grid by their play; they are drawn on it, as every vehicle is.
    assert found.vehicle.rounded == 0.0
    on_grid = made(trimesh.util.concatenate([box_shell(), *wagon[1:]]), tmp_path, units="mm", up="+z")
    assert on_grid.vehicle.floor_finish == "studded"
    assert on_grid.vehicle.rounded == 0.0
    panel = block((40, 56), (8, 9.5), (3.2, 54.4))
    with_panel = trimesh.util.concatenate([box_shell(), panel, *wagon[1:]])
    assert made(with_panel, tmp_path, units="mm", up="+z").vehicle.rounded == 0.0


def test_what_is_built_in_by_name(tmp_path):
    """Objects named built in are the vehicle's: a box and a rod as they are, a ball by its voxels."""
    scene = trimesh.Scene()
    scene.add_geometry(box_shell(), node_name="body")
    motor = block((20.3, 50.7), (12.1, 35.9), (3.2, 25.5))
    eye = trimesh.creation.cylinder(5.0, 10.0, sections=48)
    eye.apply_translation((70.0, 24.0, 8.2))
    lamp = trimesh.creation.cylinder(1.5, 5.0, sections=24)
    lamp.apply_translation((70.0, 24.0, 15.7))
    ball = trimesh.creation.icosphere(3, 4.0)
    ball.apply_translation((70.0, 24.0, 30.0))
    scene.add_geometry(motor, node_name="built in: motor")
    scene.add_geometry(eye, node_name="wagon/built_in: receiver")
    scene.add_geometry(lamp, node_name="built in: tail lamp")
    scene.add_geometry(ball, node_name="Built-in ball")
    path = tmp_path / "scene.glb"
    scene.export(path)
    found = vehicle_from_mesh(path, MeshOptions(units="mm", up="+z", front="+x"))
    built = {entry.name: entry for entry in found.vehicle.built_in}
    assert [entry.kind for entry in built.values()] == ["motor", "receiver", "lamp", "other"]
    assert built["motor"].solids == (Box((20.3, 12.1, 3.2), (50.7, 35.9, 25.5)),)
    (rod,) = built["receiver"].solids
    assert rod == Cylinder("z", (70.0, 24.0, 3.2), 10.0, 5.0)
    assert built["tail lamp"].solids == (Cylinder("z", (70.0, 24.0, 13.2), 5.0, 1.5),)
    around = bounds_of(built["ball"].solids)
    assert all(8.0 <= size <= 8.0 + 2 * 0.8 for size in around.size)
    # The ball is drawn larger than it is, so what cannot fit must not rest on it.
    assert found.vehicle.rounded == 0.8
    beside = (74.1, 24.2, 30.2)  # within the voxels round the ball, outside of the ball
    space = VehicleSpace.of(found.vehicle)
    voxel = space.frame.index_of(beside)
    assert not space.free("outward")[voxel]
    assert space.free("inward")[voxel]
    text = found.text()
    (tmp_path / "v.yaml").write_text(text, encoding="utf-8")
    assert read_vehicle(tmp_path / "v.yaml") == found.vehicle
    taken = VehicleSpace.of(found.vehicle).free().sum() * 0.8**3
    assert taken < CAVITY - 30.4 * 23.8 * 22.3 - np.pi * 250.0 - 4 / 3 * np.pi * 64.0


def test_the_notes_say_how_it_was_decided(tmp_path):
    """Notes tell whether shells are closed, which gap counts as closed, and the widest that was."""
    closed = made(box_shell(), tmp_path)
    assert any("all 2 are closed" in note for note in closed.notes)
    assert any("there was none to close" in note for note in closed.notes)
    assert any("four studs" in note for note in closed.notes)
    torn = box_shell().subdivide()
    torn.update_faces(np.arange(len(torn.faces)) != 3)
    assert any("1 of 2 shells have holes" in note for note in made(torn, tmp_path).notes)
    sides = [block((0, 96), y, (3.2, 54.4)) for y in ((0, 8), (40, 48))]
    levels = [block((0, 96), (0, 48), z) for z in ((0, 3.2), (54.4, 57.6))]
    tunnel = trimesh.util.concatenate([*sides, *levels, block((0, 8), (8, 40), (3.2, 54.4))])
    named = made(tunnel, tmp_path, gap=40.0)
    assert any(
        note == "gaps up to 40 mm count as closed; the widest of 1 is 32.0 mm, at the front"
        for note in named.notes
    )


def test_refusals_name_the_figure_and_the_remedy(tmp_path):
    """A mesh that needs too many voxels, or is no vehicle's size, or no mesh at all, is one clear error."""
    mesh = box_shell()
    with pytest.raises(
        InputError, match=r"needs \d+ million voxels.*declare the units, or take a greater pitch"
    ):
        made(mesh, tmp_path, units="mm", pitch=0.2, most_voxels=5_000_000)
    with pytest.raises(InputError, match="declare other units"):
        made(mesh, tmp_path, units="m")
    with pytest.raises(InputError, match="expected a mesh file"):
        vehicle_from_mesh(tmp_path / "none.stl")
    (tmp_path / "text.stl").write_text("not a mesh", encoding="utf-8")
    with pytest.raises(InputError, match=r"cannot be read|no usable triangle"):
        vehicle_from_mesh(tmp_path / "text.stl")
    (tmp_path / "text.doc").write_text("not a mesh", encoding="utf-8")
    with pytest.raises(InputError, match=r"the ending '\.doc'"):
        vehicle_from_mesh(tmp_path / "text.doc")
    with pytest.raises(FitplanError, match=r"pitch of 0\.5"):
        made(mesh, tmp_path, pitch=0.5)


def test_a_freeform_body_goes_into_a_sidecar(tmp_path):
    """A hollow ball of many boxes is kept in a file beside its vehicle file, and the two read back."""
    found = made(ball_shell(), tmp_path, units="mm", gap=4.0)
    assert found.sidecar
    text = found.text("ball.npz")
    (tmp_path / "ball.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=r"a file that is not there: 'ball\.npz'"):
        read_vehicle(tmp_path / "ball.yaml")
    (tmp_path / "ball.npz").write_bytes(found.body.sidecar())
    assert len(text) < 4000
    assert found.body.sidecar() == found.body.sidecar()
    vehicle = read_vehicle(tmp_path / "ball.yaml")
    assert VehicleSpace.of(vehicle).bits.tolist() == VehicleSpace.of(found.vehicle).bits.tolist()
    for damage in (b"", b"PK\x03\x04 not an archive", found.body.sidecar()[:-40]):
        (tmp_path / "ball.npz").write_bytes(damage)
        with pytest.raises(InputError, match=r"a file that cannot be read"):
            read_vehicle(tmp_path / "ball.yaml")
    (tmp_path / "ball.yaml").write_text(
        text.replace("voxels: ball.npz", "voxels: ../ball.npz"), encoding="utf-8"
    )
    with pytest.raises(InputError, match=r"without /"):
        read_vehicle(tmp_path / "ball.yaml")
