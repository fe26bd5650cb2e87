"""Surfaces drawn into voxels, and shells."""

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.lattice.clear import label_spaces
from fitplan.lattice.frame import Frame, frame_around
from fitplan.meshes.surface import draw_surface, inside_shells, shells_of, solid_inside
from fitplan.model.solids import Box

PITCH = 0.8


def frame_of(mesh, margin=3):
    low, high = mesh.bounds
    return frame_around(Box(tuple(np.floor(low / PITCH) * PITCH), tuple(high)), PITCH, margin)


def drawn(mesh, frame=None):
    frame = frame or frame_of(mesh)
    return draw_surface(np.asarray(mesh.vertices, float), np.asarray(mesh.faces, np.int64), frame)


def touches(triangle, centers, half):
    """(n,) bool: the separating axis test of a triangle against cubes, all thirteen axes, without tolerance.

    Source: the separating axis theorem for convex bodies (Ericson, Real-Time Collision Detection, 2005,
    section 5.2.9).
    """
    edges = np.roll(triangle, -1, axis=0) - triangle
    axes = [*np.eye(3), np.cross(edges[0], edges[1])]
    axes += [np.cross(unit, edge) for unit in np.eye(3) for edge in edges]
    result = np.ones(len(centers), bool)
    for axis in axes:
        if np.linalg.norm(axis) < 1e-12:
            continue
        own = triangle @ axis
        middle, reach = centers @ axis, half * np.abs(axis).sum()
        result &= (middle + reach > own.min()) & (middle - reach < own.max())
    return result


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 100_000), size=st.sampled_from((0.3, 2.0, 8.0)))
def test_touched_voxels_are_those_of_the_separating_axes(seed, size):
    """A triangle in any position touches exactly the voxels that the thirteen-axis test names."""
    random = np.random.default_rng(seed)
    triangle = random.uniform(1, 9, 3) + random.uniform(-size / 2, size / 2, (3, 3))
    frame = Frame((0.0, 0.0, 0.0), (12, 12, 12), PITCH)
    touched = draw_surface(triangle, np.array([[0, 1, 2]]), frame).touched
    centers = frame.centers(np.argwhere(np.ones(frame.shape, bool)))
    surely = touches(triangle, centers, PITCH / 2 - 0.003).reshape(frame.shape)
    perhaps = touches(triangle, centers, PITCH / 2 + 0.003).reshape(frame.shape)
    assert not (surely & ~touched).any()
    assert not (touched & ~perhaps).any()


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 100_000),
    kind=st.sampled_from(("box", "ball", "tube")),
    turned=st.booleans(),
    moved=st.booleans(),
)
def test_no_surface_leaks(seed, kind, turned, moved):
    """A closed skin parts inside from outside, whether it lies on the grid, near it or across it."""
    random = np.random.default_rng(seed)
    mesh = {
        "box": lambda: trimesh.creation.box((14.4, 9.6, 6.4)),
        "ball": lambda: trimesh.creation.icosphere(2, 6.0),
        "tube": lambda: trimesh.creation.cylinder(4.0, 12.8, sections=17),
    }[kind]()
    if turned:
        mesh.apply_transform(trimesh.transformations.random_rotation_matrix(random.random(3)))
    if moved:
        mesh.apply_translation(random.choice((0.0005, 0.2, 1.0)) * random.uniform(-1, 1, 3))
    surface = drawn(mesh)
    names, _ = label_spaces(~surface.touched, surface.barriers)
    middle = names[surface.frame.index_of(tuple(mesh.centroid))]
    assert middle != 0
    assert middle != names[0, 0, 0]


def test_a_skin_on_the_grid_takes_no_voxel():
    """A box whose faces lie on voxel faces touches no voxel; its faces are closed instead."""
    surface = drawn(trimesh.creation.box((8.0, 8.0, 9.6)))
    assert not surface.touched.any()
    counts = [(surface.barriers & (1 << axis) != 0).sum() for axis in range(3)]
    assert counts == [2 * 10 * 12, 2 * 10 * 12, 2 * 10 * 10]


def test_shells_are_parted_by_edges():
    """Two bricks that meet along an edge are two closed shells; one with a hole is open."""
    one, two = trimesh.creation.box((8, 8, 8)), trimesh.creation.box((8, 8, 8))
    two.apply_translation((8, 8, 0))
    both = trimesh.util.concatenate([one, two])
    shells = shells_of(both.vertices, both.faces, np.zeros(24, np.int64))
    assert shells.closed.tolist() == [True, True]
    assert shells.volume == pytest.approx([512, 512])
    torn = shells_of(one.vertices, one.faces[1:], np.zeros(11, np.int64))
    assert torn.closed.tolist() == [False]


def test_repeated_faces_count_once():
    """A face given twice the same way round is one face."""
    box = trimesh.creation.box((8, 8, 8))
    shells = shells_of(box.vertices, np.vstack((box.faces, box.faces[:5, [1, 2, 0]])), np.zeros(17, np.int64))
    assert len(shells.faces) == 12
    assert shells.closed.all()


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10_000), flips=st.floats(0, 0.4))
def test_inside_does_not_trust_normals(seed, flips):
    """Voxels are inside a ball or outside as its radius says, with up to two fifths of the faces turned."""
    random = np.random.default_rng(seed)
    ball = trimesh.creation.icosphere(2, 10.0)
    ball.apply_translation(random.random(3))
    faces = np.where(random.random((len(ball.faces), 1)) < flips, ball.faces[:, ::-1], ball.faces)
    frame = frame_of(ball)
    shells = shells_of(ball.vertices, faces, np.zeros(len(faces), np.int64))
    middles = frame.centers(np.argwhere(np.ones(frame.shape, bool)))
    far = np.linalg.norm(middles - ball.centroid, axis=1).reshape(frame.shape)
    solid = solid_inside(shells, frame)
    assert solid[far < 9.6].all()
    assert not solid[far > 10.0].any()


@settings(max_examples=12, deadline=None)
@given(seed=st.integers(0, 10_000), widest=st.sampled_from((2.0, 4.0)))
def test_holes_cost_no_more_than_their_bulge(seed, widest):
    """Of a ball with six holes only what bulges over the holes is unknown; nothing outside becomes solid.

    A cap of a ball of radius R that is cut off at radius a has the height h = R − √(R² − a²) and the volume
    πh²(3R − h)/3 (closed form). A hole reaches a face's width beyond its radius, here 0.8 mm.
    """
    random = np.random.default_rng(seed)
    ball = trimesh.creation.icosphere(4, 10.0)
    places = random.normal(size=(6, 3))
    places *= 10 / np.linalg.norm(places, axis=1, keepdims=True)
    kept = np.ones(len(ball.faces), bool)
    bulges = 0.0
    for place in places:
        radius = random.uniform(0.5, widest)
        kept &= np.linalg.norm(ball.triangles_center - place, axis=1) > radius
        height = 10 - np.sqrt(100 - (radius + 0.8) ** 2)
        bulges += np.pi * height**2 * (30 - height) / 3
    frame = frame_of(ball)
    shells = shells_of(ball.vertices, ball.faces[kept], np.zeros(kept.sum(), np.int64))
    assert not shells.closed.any()
    far = np.linalg.norm(frame.centers(np.argwhere(np.ones(frame.shape, bool))), axis=1).reshape(frame.shape)
    solid = solid_inside(shells, frame)
    assert not (solid & (far > 10.0)).any()
    assert (~solid & (far < 9.9)).sum() * PITCH**3 <= bulges
    if widest == 2.0:
        assert not (~solid & (far < 9.2)).any()


def test_an_open_skin_is_not_closed_by_force():
    """Half a ball without its lid gets no fan over its mouth, so five of six lines of sight decide in it."""
    ball = trimesh.creation.icosphere(4, 10.0)
    faces = ball.faces[ball.triangles_center[:, 2] < 0.0]
    shells = shells_of(ball.vertices, faces, np.zeros(len(faces), np.int64))
    assert len(shells.faces) == len(faces)


def test_a_void_is_a_shell_that_looks_the_other_way():
    """An inner shell turned inwards hollows the outer one; turned outwards it is a solid within a solid."""
    outer, inner = trimesh.creation.box((20, 20, 20)), trimesh.creation.box((10, 10, 10))
    for inward, outside_in, expected in (
        (True, False, (False, True)), (False, False, (True, True)), (False, True, (False, True)),
    ):  # fmt: skip
        one, two = outer.copy(), inner.copy()
        if inward:
            two.invert()
        if outside_in:
            one.invert()
        both = trimesh.util.concatenate([one, two])
        frame = frame_of(both)
        shells = shells_of(both.vertices, both.faces, np.zeros(24, np.int64))
        solid = solid_inside(shells, frame)
        assert (solid[frame.index_of((0.4, 0.4, 0.4))], solid[frame.index_of((7.2, 0.4, 0.4))]) == expected


def test_lines_of_sight_count_crossings():
    """From inside a box all six ways out cross it an odd number of times, from outside none."""
    box = trimesh.creation.box((8, 8, 8))
    shells = shells_of(box.vertices, box.faces, np.zeros(12, np.int64))
    assert inside_shells(shells, np.array([[0.0, 0, 0], [6.0, 0, 0]]), PITCH).tolist() == [[6], [0]]


def test_single_sides_that_share_no_point_count_together():
    """A box of six loose sides, each drawn on its own and smaller by a hair, is solid inside."""
    box = trimesh.creation.box((8, 8, 8))
    sides = []
    for pair in np.argsort(box.facets_normal @ np.array([1, 2, 3])):
        side = box.submesh([box.facets[pair]], append=True)
        side.apply_translation(-box.facets_normal[pair] * 0.01)
        sides.append(side)
    loose = trimesh.util.concatenate(sides)
    shells = shells_of(loose.vertices, loose.faces, np.zeros(12, np.int64))
    assert not shells.closed.any()
    frame = frame_of(loose)
    assert solid_inside(shells, frame).sum() == pytest.approx(1000, rel=0.3)
    assert solid_inside(shells, frame)[frame.index_of((0.4, 0.4, 0.4))]
