"""Meshes out: solids, dummies, shelves and scenes."""

import io
import itertools

import networkx as nx
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.errors import FitplanError
from fitplan.files.read import read_catalogue
from fitplan.meshes.mesh_out import WIRE_COLOURS, dummy_stl, plan_glb, printable, shelf_stl
from fitplan.meshes.solid_mesh import mesh_of, plates_of, skin_of, tube
from fitplan.model.solids import AXES, DIRECTIONS, Box, Cylinder, Wedge
from tests.lattice.bodies import SHELL, WALL, vehicle
from tests.lattice.test_draw import solids
from tests.meshes.models import vehicle_glb
from tests.report.sample import sample_plan


def closed(mesh):
    """The mesh in the reference library, once it is sure that it is closed and looks outwards."""
    shape = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
    assert shape.is_watertight
    assert shape.is_winding_consistent
    assert shape.volume > 0
    return shape


WEDGES = [
    Wedge(Box((1, 2, 3), (3, 5, 7)), base, back)
    for base, back in itertools.product(DIRECTIONS, DIRECTIONS) if base[1] != back[1]
]  # fmt: skip


@pytest.mark.parametrize(
    ("solid", "volume"),
    [
        (Box((1, 2, 3), (3, 5, 7)), 24.0),
        *((Cylinder(axis, (1, 2, 3), 5, 2), np.pi * 20) for axis in AXES),
        *((wedge, 12.0) for wedge in WEDGES),
    ],
)
def test_solids_are_closed_and_have_their_volume(solid, volume):
    """Each solid's mesh is closed, looks outwards, has its closed form's volume and its bounds."""
    shape = closed(mesh_of(solid))
    assert shape.volume == pytest.approx(volume)
    assert np.allclose(shape.bounds, [solid.bounds.low, solid.bounds.high], atol=0.01)


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 10_000), share=st.floats(0.1, 0.9))
def test_skins_hold_the_volume_of_their_cells(seed, share):
    """The skin of any block of cells, by cell or in rectangles, encloses the cells' volume and area."""
    random = np.random.default_rng(seed)
    cells = random.random((5, 4, 3)) < share
    lines = [np.cumsum(np.concatenate(([0.0], random.uniform(0.5, 3, n)))) for n in cells.shape]
    widths = [np.diff(line) for line in lines]
    volume = float(np.einsum("xyz,x,y,z->", cells.astype(float), *widths))
    skins = [trimesh.Trimesh(*make(cells, lines), process=False) for make in (skin_of, plates_of)]
    for skin in skins:
        assert skin.volume == pytest.approx(volume)
    assert skins[0].area == pytest.approx(skins[1].area)


def test_every_part_of_the_catalogue_can_be_printed():
    """Each dummy is closed and smaller by the tolerance, and by up to a stair of 0.4 mm where it is round."""
    for part in read_catalogue().values():
        files = dummy_stl(part, 0.1)
        assert (f"{part.id}-clearance.stl" in files) == bool(part.clearances)
        shape = trimesh.load(io.BytesIO(files[f"{part.id}.stl"]), file_type="stl")
        assert shape.is_watertight, part.id
        assert np.allclose(shape.bounds[0], np.array(part.bounds.low) + 0.1, atol=0.51), part.id
        assert np.allclose(shape.bounds[1], np.array(part.bounds.high) - 0.1, atol=0.51), part.id


@settings(max_examples=40, deadline=None)
@given(one=solids(), two=solids())
def test_dummies_stay_inside(one, two):
    """A dummy is closed, and each of its corners lies deeper than the tolerance within the bounds."""
    try:
        mesh = printable((one, two), 0.1)
    except FitplanError:
        return
    shape = trimesh.Trimesh(mesh.points, mesh.faces, process=False)
    assert shape.is_watertight
    low = np.minimum(one.bounds.low, two.bounds.low) + 0.1
    high = np.maximum(one.bounds.high, two.bounds.high) - 0.1
    assert (shape.vertices >= low - 0.06).all()
    assert (shape.vertices <= high + 0.06).all()


def pieces_of(shape: trimesh.Trimesh) -> int:
    """Return of how many pieces a mesh is whose faces hang together."""
    graph = nx.Graph(shape.face_adjacency.tolist())
    graph.add_nodes_from(range(len(shape.faces)))
    return nx.number_connected_components(graph)


def test_a_union_is_eroded_as_one():
    """Two boxes that share a face make one block: no tolerance between them, and all round it."""
    mesh = printable((Box((0, 0, 0), (10, 8, 4)), Box((10, 2, 0), (16, 6, 3))), 0.2)
    shape = closed(mesh)
    # 9.6 × 7.6 × 3.6 and, from x 9.8 to 15.8, 3.6 × 2.6.
    assert shape.volume == pytest.approx(9.6 * 7.6 * 3.6 + 6.0 * 3.6 * 2.6)
    assert pieces_of(shape) == 1


def test_too_thin_to_print():
    """A part or shelf of which nothing is left is a clear error."""
    with pytest.raises(FitplanError, match="nothing left"):
        printable((Box((0, 0, 0), (10, 10, 0.3)),), 0.2)
    with pytest.raises(FitplanError, match=r"shelf of 0\.3 × 9 mm"):
        shelf_stl([Box((0, 0, 0), (0.3, 9, 2))])


def test_shelves_lie_flat_on_the_bed():
    """A shelf keeps its thickness, loses the tolerance on its sides and starts at the origin."""
    shape = trimesh.load(io.BytesIO(shelf_stl([Box((30, 8, 40), (76, 26, 41.6))], 0.2)), file_type="stl")
    assert shape.is_watertight
    assert np.allclose(shape.bounds, [(0, 0, 0), (45.6, 17.6, 1.6)], atol=1e-5)


def test_a_bracket_is_printed_as_one_body():
    """A column of two pieces with a plate on top comes out closed, in one piece, smaller by the tolerance."""
    boxes = [
        Box((8, 8, 19.2), (16, 24, 28.8)),
        Box((8, 8, 28.8), (16, 24, 32)),
        Box((8, 8, 32), (40, 24, 35.2)),
    ]
    shape = trimesh.load(io.BytesIO(shelf_stl(boxes, 0.1)), file_type="stl")
    assert shape.is_watertight
    assert pieces_of(shape) == 1
    assert np.allclose(shape.extents, (31.8, 15.8, 15.8), atol=1e-5)


def test_a_wire_is_a_chain_of_closed_prisms():
    """A wire's tube is closed and a little longer than its way, so that bends have no gap."""
    shape = closed(tube([(0, 0, 0), (10, 0, 0), (10, 5, 5)], 0.5))
    area = 0.5 * 8 * 0.25 * np.sin(np.pi / 4)
    assert shape.volume == pytest.approx(area * (10 + np.sqrt(50) + 2 * 0.5))
    assert len(tube([(1, 1, 1)], 0.5).faces) == 0


def test_a_vehicle_has_named_see_through_nodes():
    """Body and removable bricks are see-through nodes by name, in metres with y up; the same bytes again."""
    data = vehicle_glb(vehicle((*SHELL, WALL)))
    assert data == vehicle_glb(vehicle((*SHELL, WALL)))
    scene = trimesh.load_scene(io.BytesIO(data), file_type="glb")
    names = set(scene.graph.nodes_geometry)
    assert {"box wagon/body", "box wagon/removable: inner wall"} == names
    assert np.allclose(scene.extents, (0.064, 0.0384, 0.032))
    for mesh in scene.geometry.values():
        assert mesh.visual.material.alphaMode == "BLEND"
        assert mesh.visual.material.baseColorFactor[3] < 255
    body = scene.geometry["box wagon/body"]
    assert body.volume == pytest.approx(64 * 32 * 38.4 - 48 * 16 * 32)


def test_a_plan_has_a_node_for_each_vehicle_part_and_wire():
    """Vehicles, parts, shelves and wires of a plan are nodes by name; wires have their colours."""
    plan = sample_plan()
    data = plan_glb(plan)
    assert data == plan_glb(plan)
    scene = trimesh.load_scene(io.BytesIO(data), file_type="glb")
    names = set(scene.graph.nodes)
    built = plan.built
    vehicles = [entry.name for entry in built.train.vehicles]
    assert set(vehicles) <= names
    for placement in built.placements:
        assert f"{placement.vehicle}/part: {placement.need}" in names
        assert (f"{placement.vehicle}/shelf: {placement.need}" in names) == (placement.shelf is not None)
    for wire in built.harness.wires:
        for leg in wire.legs:
            name = f"{leg.vehicle}/wire {wire.number}: {wire.net}"
            assert name in names
            factor = scene.geometry[scene.graph[name][1]].visual.material.baseColorFactor
            assert tuple(factor) == WIRE_COLOURS[wire.colour]
    ends = []
    for name in vehicles:
        matrix, geometry = scene.graph[f"{name}/body"]
        points = trimesh.transform_points(scene.geometry[geometry].vertices, matrix)
        ends.append((points[:, 0].min(), points[:, 0].max()))
    assert all(behind[1] <= ahead[0] for ahead, behind in itertools.pairwise(ends))
