"""Spaces of vehicles in voxels."""

from dataclasses import replace

import numpy as np
import pytest

from fitplan.errors import FitplanError
from fitplan.lattice.boxes import ExactSpace
from fitplan.lattice.space import FIXED, FREE, KEEP_CLEAR, OUTSIDE, PART, REMOVABLE, VehicleSpace
from fitplan.model.solids import Box, Cylinder
from fitplan.model.studs import floor_studs
from fitplan.model.vehicle import BodySolid, BuiltIn, Port
from tests.lattice.bodies import BARREL, SHELL, WALL, vehicle

VOXEL = 0.8**3


def test_later_solids_replace_earlier_ones():
    """A closed box on the grid is exact: the cavity's volume is its closed form less the inner wall's."""
    space = VehicleSpace.of(vehicle())
    cavity, wall = 48 * 16 * 32, 8 * 16 * 9.6
    for rounding in ("outward", "inward"):
        assert np.isclose(space.free(rounding).sum() * VOXEL, cavity - wall)
        assert np.isclose(space.solid(rounding).sum() * VOXEL, 64 * 32 * 38.4 - cavity + wall)
        assert np.isclose(space.removable("inner wall", rounding).sum() * VOXEL, wall)
    assert np.isclose(space.removed(["inner wall"]).free().sum() * VOXEL, cavity)


def test_round_cavity_is_bracketed():
    """The free space of a round cavity lies between what is surely and what is possibly free."""
    space = VehicleSpace.of(vehicle(BARREL))
    volume = 48 * np.pi * 12.5**2
    assert space.free("outward").sum() * VOXEL < volume < space.free("inward").sum() * VOXEL
    assert not (space.free("outward") & ~space.free("inward")).any()
    assert not (space.solid("inward") & ~space.solid("outward")).any()


def test_states_have_codes():
    """Each state shows as its code; what no solid covers is outside; a part shows where it was put."""
    body = (*SHELL, WALL, BodySolid(Box((40, 8, 19.2), (56, 24, 22.4)), "keep-clear"))
    space = VehicleSpace.of(vehicle(body)).with_solids([Box((8, 8, 40), (12, 12, 44.8))])
    frame = space.frame
    for point, code in (
        ((4, 4, 20), FIXED), ((28, 16, 20), REMOVABLE), ((20, 16, 20), FREE), ((50, 16, 20), KEEP_CLEAR),
        ((-0.4, 16, 20), OUTSIDE), ((10, 10, 42), PART),
    ):  # fmt: skip
        for rounding in ("outward", "inward"):
            assert space.states(rounding)[frame.index_of(point)] == code
    (name,) = space.names
    assert space.removable(name)[frame.index_of((28, 16, 20))]
    assert not space.removable(name)[frame.index_of((20, 16, 20))]


def test_mixed_voxels_answer_both_ways():
    """A voxel that a free solid only half fills is not surely free, and possibly free."""
    body = (SHELL[0], BodySolid(Box((8.4, 8, 19.2), (56, 24, 51.2)), "free"))
    space = VehicleSpace.of(vehicle(body))
    at = space.frame.index_of((8.2, 16, 30))
    assert not space.free("outward")[at]
    assert space.free("inward")[at]
    assert space.states("outward")[at] == FIXED
    assert space.states("inward")[at] == FREE


def test_wires_pass_through_ports_but_not_through_parts():
    """A port opens the wall for wires alone, until something is put into it."""
    port = Port("rear hole", Box((0, 12, 24), (8, 16, 28)), "-x")
    space = VehicleSpace.of(vehicle(ports=(port,)))
    at = space.frame.index_of((4, 14, 26))
    assert space.wire_free()[at]
    assert space.wire_free("inward")[at]
    assert not space.free()[at]
    assert (space.wire_free() & ~space.free()).sum() * VOXEL == pytest.approx(8 * 4 * 4)
    plugged = space.with_solids([port.box])
    assert not plugged.wire_free()[at]
    assert not plugged.wire_free("inward")[at]
    assert space.wire_free()[at]


def test_built_in_solids_are_fixed():
    """A motor takes its room away, whatever the body says there."""
    motor = BuiltIn("motor", "motor", (Box((8, 8, 19.2), (24, 24, 32)),))
    space = VehicleSpace.of(vehicle(built_in=(motor,)))
    assert space.states()[space.frame.index_of((10, 10, 20))] == FIXED


def test_unknown_and_too_many_removables():
    """An unknown brick is a KeyError; more names than a set can hold is told with the figure."""
    with pytest.raises(KeyError):
        VehicleSpace.of(vehicle(), removed=["roof"])
    many = tuple(BodySolid(WALL.solid, "removable", f"brick {number}") for number in range(59))
    with pytest.raises(FitplanError, match="59 removable names"):
        VehicleSpace.of(vehicle((*SHELL, *many)))


def test_many_removables_keep_their_own_places():
    """With forty names each brick is found where it was drawn."""
    bricks = tuple(
        BodySolid(Box((8 + n, 8, 19.2), (9 + n, 24, 28.8)), "removable", f"brick {n}")
        for n in range(0, 48, 2)
    )
    space = VehicleSpace.of(vehicle((*SHELL, *bricks)), pitch=0.2)
    for n in (0, 24, 46):
        assert space.removable(f"brick {n}", "inward").sum() * 0.2**3 == pytest.approx(16 * 9.6)


def test_studs_stand_on_the_floor_and_on_the_inner_wall():
    """Each stud cell of the cavity has one stud: on the floor, or on the wall that stands there."""
    studs = floor_studs(vehicle(finish="studded"))
    assert len(studs) == 6 * 2
    on_wall = [stud for stud in studs if stud.state == "removable"]
    assert {stud.solid.start[2] for stud in on_wall} == {28.8}
    assert len(on_wall) == 2
    bare = floor_studs(vehicle(finish="studded"), removed=["inner wall"])
    assert {stud.solid.start[2] for stud in bare} == {19.2}
    assert floor_studs(vehicle(finish="smooth")) == ()


def test_round_floors_carry_no_studs():
    """A cavity that is bored round has no level floor, so no studs."""
    assert floor_studs(vehicle(BARREL, finish="studded")) == ()


def test_studs_take_room():
    """The studded floor takes the volume of its studs, bracketed by both roundings."""
    smooth, studded = VehicleSpace.of(vehicle()), VehicleSpace.of(vehicle(finish="studded"))
    studs = 12 * np.pi * 2.4**2 * 1.7
    least = (smooth.free().sum() - studded.free("inward").sum()) * VOXEL
    most = (smooth.free().sum() - studded.free("outward").sum()) * VOXEL
    assert least <= studs <= most


def test_half_a_turn_changes_nothing():
    """A vehicle turned by 180 degrees about the upright axis has the same voxels, turned."""

    def turned(box):
        (a, b, c), (d, e, f) = box.low, box.high
        return Box((64 - d, 32 - e, c), (64 - a, 32 - b, f))

    body = (*SHELL, WALL, BodySolid(Cylinder("z", (45.3, 13.7, 19.2), 11.0, 4.9), "fixed"))
    other = (
        *(BodySolid(turned(entry.solid), entry.state, entry.removable) for entry in body[:3]),
        BodySolid(Cylinder("z", (64 - 45.3, 32 - 13.7, 19.2), 11.0, 4.9), "fixed"),
    )
    one = VehicleSpace.of(vehicle(body, finish="studded"))
    two = VehicleSpace.of(vehicle(other, finish="studded"))
    assert (one.bits == two.bits[::-1, ::-1]).all()


def test_solids_that_were_rounded_may_give_way():
    """A body drawn outwards from a mesh is surely free as drawn, and possibly freer by its rounding."""
    exact = vehicle((*SHELL,))
    rounded = replace(exact, rounded=0.8)
    assert (VehicleSpace.of(rounded).free() == VehicleSpace.of(exact).free()).all()
    assert VehicleSpace.of(rounded).free("inward").sum() * VOXEL == pytest.approx(49.6 * 17.6 * 33.6)
    space = ExactSpace.of(rounded)
    sizes = [np.diff(line) for line in space.faces]
    for rounding, volume in (("outward", 48 * 16 * 32), ("inward", 49.6 * 17.6 * 33.6)):
        found = np.einsum("xyz,x,y,z->", space.free(rounding).astype(float), *sizes)
        assert found == pytest.approx(volume)
