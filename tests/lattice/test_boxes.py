"""The space of a vehicle as boxes in tenths of a millimetre."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.lattice.boxes import (
    ExactSpace,
    hull_in_tenths,
    obstacle_boxes,
    part_boxes,
    removable_boxes,
)
from fitplan.lattice.cover import IntBox, cover
from fitplan.lattice.space import VehicleSpace
from fitplan.model.solids import AXES, Box, Cylinder, Wedge
from fitplan.model.vehicle import BodySolid, BuiltIn
from tests.lattice.bodies import BARREL, SHELL, WALL, vehicle
from tests.lattice.test_draw import holds, solids


def filled(boxes: list[IntBox], hull: IntBox, step: int = 1) -> np.ndarray:
    """(x, y, z) bool over the hull in cells of `step` tenths: where some box is."""
    block = np.zeros(tuple(n // step for n in hull.size), bool)
    for box in boxes:
        parts = []
        for axis in range(3):
            low, high = (max(box[i] - hull[axis], 0) for i in (axis, axis + 3))
            assert low % step == 0
            assert high % step == 0
            parts.append(slice(low // step, high // step))
        block[tuple(parts)] = True
    return block


def test_obstacles_are_exactly_what_is_not_free():
    """On the grid the boxes fill the same cells as the voxels say, with and without the inner wall."""
    own = vehicle()
    for removed in ((), ("inner wall",)):
        space = VehicleSpace.of(own, removed=removed, margin=0)
        for rounding in ("outward", "inward"):
            boxes = obstacle_boxes(own, removed=removed, rounding=rounding)
            assert (filled(boxes, hull_in_tenths(own), 8) == ~space.free(rounding)).all()
            assert len(boxes) == (6 if removed else 7)


def test_free_boxes_are_exactly_what_is_free():
    """The free boxes fill the free voxels and nothing else, in as many boxes as an L-shaped space needs."""
    own = vehicle()
    space = ExactSpace.of(own)
    boxes = space.boxes(space.free())
    assert (filled(boxes, hull_in_tenths(own), 8) == VehicleSpace.of(own, margin=0).free()).all()
    assert len(boxes) == 3


def test_odd_millimetres_are_exact():
    """Faces between voxels, on whole tenths, are kept to the tenth."""
    body = (SHELL[0], BodySolid(Box((8.3, 8.1, 19.3), (55.7, 23.9, 51.1)), "free"))
    space = ExactSpace.of(vehicle(body))
    (box,) = space.boxes(space.free())
    assert box == IntBox(83, 81, 193, 557, 239, 511)
    assert (space.free("outward") == space.free("inward")).all()


def test_play_widens_a_cavity_between_bricks():
    """Between brick faces a cavity of m studs is 8m + 0.2 mm wide and no higher; a stud wall is 7.8."""
    space = ExactSpace.of(vehicle((*SHELL,)), play=True)
    (box,) = space.boxes(space.free())
    assert box == IntBox(79, 79, 192, 561, 241, 512)
    walls = removable_boxes(vehicle(), play=True)["inner wall"]
    assert walls == [IntBox(241, 80, 192, 319, 240, 288)]


def test_play_leaves_what_is_no_brick():
    """What is built in, studs, and keep-clear space do not stand back."""
    motor = BuiltIn("motor", "motor", (Box((8, 8, 19.2), (24, 24, 51.2)),))
    body = (*SHELL, BodySolid(Box((40, 8, 19.2), (56, 24, 51.2)), "keep-clear"))
    space = ExactSpace.of(vehicle(body, built_in=(motor,)), play=True)
    room = max(space.boxes(space.free()), key=lambda box: box.volume)
    assert room == IntBox(240, 79, 192, 400, 241, 512)
    studded = ExactSpace.of(vehicle((*SHELL,), finish="studded"), play=True)
    smooth = ExactSpace.of(vehicle((*SHELL,)), play=True)
    lost = sum(box.volume for box in smooth.boxes(smooth.free())) - _volume(studded)
    assert lost == 12 * 48 * 48 * 17


def _volume(space):
    x, y, z = (np.diff(line) for line in space.edges)
    return int(np.einsum("xyz,x,y,z->", space.free().astype(np.int64), x, y, z))


def test_studs_come_to_light_under_a_removed_wall():
    """Taking the wall out frees its room but for the studs beneath it."""
    own = vehicle(finish="studded")
    before, after = ExactSpace.of(own), ExactSpace.of(own, removed=["inner wall"])
    gained = _volume(after) - _volume(before)
    assert gained == 80 * 160 * 96
    assert _volume(before) == 480 * 160 * 320 - 80 * 160 * 96 - 12 * 48 * 48 * 17


def test_round_bodies_are_bracketed():
    """The stairs bracket a round cavity's volume, and close in as the strips grow narrower."""
    volume = 48 * np.pi * 12.5**2 * 1000
    gaps = []
    for step in (1.6, 0.8, 0.4):
        space = ExactSpace.of(vehicle(BARREL), step=step)
        sizes = [np.diff(line) for line in space.edges]
        least, most = (
            float(np.einsum("xyz,x,y,z->", space.free(way).astype(float), *sizes))
            for way in ("outward", "inward")
        )
        assert least < volume < most
        gaps.append(most - least)
    assert gaps[0] > 1.5 * gaps[1] > 2.25 * gaps[2]


@settings(max_examples=60, deadline=None)
@given(solid=solids(), step=st.sampled_from((0.4, 0.8, 3.0, 99.0)), seed=st.integers(0, 100))
def test_stairs_hold_the_solid_between_them(solid, step, seed):
    """Points of a solid lie in its outward boxes; points of its inward boxes lie in the solid."""
    bounds = solid.bounds
    points = np.random.default_rng(seed).uniform(
        np.array(bounds.low) - 1, np.array(bounds.high) + 1, (2000, 3)
    )
    inside = holds(solid, points)
    for rounding in ("outward", "inward"):
        found = np.zeros(len(points), bool)
        for box in part_boxes([solid], rounding, step):
            found |= np.all((points >= np.array(box[:3]) / 10) & (points <= np.array(box[3:]) / 10), axis=1)
        if rounding == "outward":
            assert found[inside].all()
        else:
            assert inside[found].all()


@pytest.mark.parametrize("axis", AXES)
def test_a_lamp_needs_few_boxes(axis):
    """A round lamp of 5 mm becomes at most eight boxes; with one step the squares round it and within it."""
    lamp = Cylinder(axis, (10.0, 10.0, 10.0), 8.6, 2.5)
    assert len(part_boxes([lamp], "outward")) <= 8
    (outer,) = part_boxes([lamp], "outward", 5.0)
    (inner,) = part_boxes([lamp], "inward", 5.0)
    assert sorted(outer.size) == [50, 50, 86]
    assert sorted(inner.size) == [34, 34, 86]


def test_wedge_is_a_stair():
    """A wedge 8 mm deep in steps of 0.8 mm becomes ten boxes, each as high as the slope is at its ends."""
    wedge = Wedge(Box((0.0, 0.0, 0.0), (8.0, 4.0, 8.0)), "-z", "-x")
    outer = part_boxes([wedge], "outward")
    assert [box.z1 for box in outer] == [80, 72, 64, 56, 48, 40, 32, 24, 16, 8]
    assert [box.z1 for box in part_boxes([wedge], "inward")] == [72, 64, 56, 48, 40, 32, 24, 16, 8]


@settings(max_examples=50, deadline=None)
@given(
    seed=st.integers(0, 10_000), shape=st.tuples(*[st.integers(1, 7)] * 3), share=st.floats(0.05, 0.95),
    loose=st.booleans(),
)  # fmt: skip
def test_covers_are_exact(seed, shape, share, loose):
    """A cover holds all it must, nothing that it may not, and each box cannot grow in any direction."""
    random = np.random.default_rng(seed)
    must = random.random(shape) < share
    may = must | (random.random(shape) < 0.3) if loose else must
    boxes = cover(must, may if loose else None)
    block = np.zeros(shape, bool)
    for box in boxes:
        window = tuple(slice(box[axis], box[axis + 3]) for axis in range(3))
        assert may[window].all()
        block[window] = True
        for axis in range(3):
            for side in (box[axis] - 1, box[axis + 3]):
                beyond = list(window)
                beyond[axis] = slice(side, side + 1)
                assert not (0 <= side < shape[axis] and may[tuple(beyond)].all())
    assert block[must].all()
    assert not block[~may].any()


def test_cover_gives_up_in_time():
    """A chequerboard needs a box for each cell; beyond the limit the answer is None."""
    board = np.indices((6, 6, 6)).sum(0) % 2 == 0
    assert len(cover(board)) == 108
    assert cover(board, most=107) is None


def test_a_studded_vehicle_stays_small():
    """A floor of 22 × 6 studs with two walls is covered by one box a stud and a few more."""
    own = vehicle((*SHELL, WALL), finish="studded")
    assert len(obstacle_boxes(own)) == 7 + 12
