"""What a pose costs, which openings nothing closes, and what lies in what: small rules one by one."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from fitplan.model.needed import Need
from fitplan.model.part import Access
from fitplan.model.solids import DIRECTIONS, Box, Direction, axis_of, is_forward, pose_named
from fitplan.model.vehicle import Opening
from fitplan.packing.access.disassembly import leave_through
from fitplan.packing.access.openings import OPEN_SIDES, is_open_side
from fitplan.packing.access.reachable_offsets import BEYOND, room_to_leave
from fitplan.packing.engine.infeasible_subset import _place, shortfalls
from fitplan.packing.engine.problem import Item, PackingProblem, Shape, Space, Variant
from fitplan.packing.vehicle.packed_items import SHUT, SHUT_OFTEN, item_of
from fitplan.packing.vehicle.reaching_additions import _overlap
from fitplan.packing.vehicle.seats import Seat, Wanted

from .small_trains import block, hollow

ANY = ((0, 0, 0, 50, 50, 50),)
MIDDLED = replace(block("b", (9.0, 7.0, 5.0)), envelope=(Box((-4.5, -3.5, 0), (4.5, 3.5, 5)),))
"""A part that lies round its origin: turned about it fills the same room."""


def costs(*access: Access, load_top: float = 0.0, seat_cost: int = 0) -> list[int]:
    """Of a part as it is, turned about, on edge; the roof alone opens, or the deck is open."""
    made = replace(MIDDLED, access=access)
    vehicle = replace(hollow("v", 6, 6, 6), load_top=load_top)
    found = tuple(Seat(pose_named(name), ANY, seat_cost) for name in ("+x+y+z", "-x-y+z", "+x+z-y"))
    return [
        one.cost
        for one in item_of(Wanted(Need("b", (made,)), made), found, vehicle, "outward", False).variants
    ]


def test_a_pose_costs_by_its_seat_by_standing_on_edge_and_by_each_access_that_is_shut() -> None:
    """Turned about it fills the same room, so it is one pose with the first."""
    assert costs() == [0, 1]
    assert costs(seat_cost=1) == [2, 3]
    assert costs(seat_cost=3) == [6, 7]
    up, down = Access("a", "switch", "+z", often=True), Access("b", "switch", "-z", often=False)
    # On edge (its +z looks to -y) neither side looks up.
    assert costs(up) == [0, 1 + SHUT]
    assert costs(down) == [SHUT, 1 + SHUT]
    assert costs(up, down, seat_cost=1) == [2 + SHUT, 3 + 2 * SHUT]
    # Over an open deck what is used often weighs more than what is not, where it is shut.
    assert costs(replace(down, often=True), load_top=60.0)[0] == SHUT_OFTEN
    assert costs(down, load_top=60.0)[0] == SHUT
    assert SHUT_OFTEN != SHUT


def test_seats_without_an_offset_are_none_and_a_flat_one_is_one() -> None:
    made = MIDDLED
    vehicle = hollow("v", 6, 6, 6)
    for axis in range(3):
        for last, left in ((4, 0), (5, 1), (6, 1)):
            box = [5, 5, 5, 9, 9, 9]
            box[axis + 3] = last
            seat = Seat(pose_named("+x+y+z"), ((box[0], box[1], box[2], box[3], box[4], box[5]),))
            found = item_of(Wanted(Need("b", (made,)), made), (seat,), vehicle, "outward", False)
            assert len(found.variants) == left
    both = (Seat(pose_named("+x+y+z"), ANY), Seat(pose_named("-x-y+z"), ANY))
    wanted = Wanted(Need("b", (made,)), made)
    assert [one.key for one in item_of(wanted, both, vehicle, "outward", False).variants] == ["+x+y+z"]
    every = item_of(wanted, both, vehicle, "outward", False, every_pose=True).variants
    assert [one.key for one in every] == ["+x+y+z", "-x-y+z"]


@pytest.mark.parametrize("out", sorted(OPEN_SIDES))
def test_an_open_side_is_one_unless_an_opening_has_its_name(out: Direction) -> None:
    name = OPEN_SIDES[out]
    bare = hollow("v", 6, 6, 6)
    lid = Opening(name, Box((8, 8, 38.4), (40, 40, 41.6)), "+z")
    assert is_open_side(bare, name)
    assert not is_open_side(bare, "roof")
    assert not is_open_side(bare, "door")
    assert is_open_side(replace(bare, openings=()), name)
    for openings in ((lid,), (*bare.openings, lid), (lid, *bare.openings)):
        assert not is_open_side(replace(bare, openings=openings), name)


def test_boxes_overlap_where_they_share_room_along_all_axes() -> None:
    cube = (0, 0, 0, 10, 10, 10)
    for steps in itertools.product((-10, -9, 0, 9, 10), repeat=3):
        other = (*steps, *(at + 10 for at in steps))
        shared = all(abs(step) < 10 for step in steps)
        assert _overlap(cube, other) == shared
        assert _overlap(other, cube) == shared
    assert _overlap(cube, (3, 3, 3, 4, 4, 4))
    assert not _overlap((3, 3, 10, 4, 4, 12), cube)


@pytest.mark.parametrize("low", [True, False])
def test_of_free_places_the_one_nearest_the_corner_is_told(low: bool) -> None:
    """Two chambers on either side of a wall, both too short: what a cut shape would meet is told there."""
    space = Space((0, 0, 0, 110, 20, 20), ((50, 0, 0, 60, 20, 20),))
    shape = Shape(((0, 0, 0, 30, 20, 20),))
    fits: Any = Variant("p", shape, ((0, 0, 0, 110, 20, 20),) if low else ((60, 0, 0, 110, 20, 20),))
    problem = PackingProblem((space,), (Item("a", (fits,)),))
    assert _place(problem, fits) == ((0, 0, 0) if low else (60, 0, 0))
    long = replace(fits, shape=Shape(((0, 0, 0, 53, 20, 20),)))
    asked = PackingProblem((space,), (Item("a", (long,)),))
    assert _place(asked, long) is None
    best = shortfalls(asked, asked.items[0], only_least=True)
    assert [(one.missing, one.axis) for one in best] == [(3, "x")]
    assert np.shape(best[0].offset) == (3,)


@pytest.mark.parametrize("axis", [0, 1])
def test_what_has_its_middle_beside_an_opening_goes_aside_to_leave_through_it(axis: int) -> None:
    """Tenth by tenth at both edges of an opening from 8 to 40 mm in the roof; what leaves is 2 mm wide."""
    hull, lid = Box((0, 0, 16), (48, 48, 41.6)), Opening("roof", Box((8, 8, 38.4), (40, 40, 41.6)), "+z")
    nothing = np.zeros((0, 6), dtype=np.int64)
    for middle, aside in (
        (80, 0),
        (81, 0),
        (79, 1),
        (60, 20),
        (240, 0),
        (400, 0),
        (399, 0),
        (401, -1),
        (420, -20),
    ):
        row = [200, 200, 200, 220, 220, 300]
        row[axis], row[axis + 3] = middle - 10, middle + 10
        moves = leave_through(hull, np.array([row], dtype=np.int64), nothing, lid)
        assert moves is not None
        assert moves[-1][0] == "+z"
        before = (((("+x", "+y") if aside > 0 else ("-x", "-y"))[axis], abs(aside)),) if aside else ()
        assert moves[:-1] == before


@pytest.mark.parametrize("out", DIRECTIONS)
def test_a_part_of_two_boxes_goes_on_until_all_of_it_is_beyond_the_hull(out: Direction) -> None:
    """From 10 to 40 in a hull from 0 to 100: all of it is out at 90 more, or 40 less."""
    mover = np.array([(10, 10, 10, 20, 20, 20), (30, 30, 30, 40, 40, 40)], dtype=np.int64)
    low, high = [-10, -10, -10], [60, 60, 60]
    if is_forward(out):
        high[axis_of(out)] = 90 + BEYOND
    else:
        low[axis_of(out)] = -40 - BEYOND
    lid = Opening("lid", Box((0, 0, 0), (10, 10, 10)), out)
    assert room_to_leave(mover, (0, 0, 0, 100, 100, 100), lid).tolist() == [*low, *high]


def test_a_pose_that_is_told_twice_hides_none_behind_it() -> None:
    """A room of 50 lacks 9 and 4 of two poses; the first of them is told twice."""
    space = Space((0, 0, 0, 50, 20, 20))
    poses = [
        Variant("p", Shape(((0, 0, 0, long, 20, 20),)), ((0, 0, 0, 50, 20, 20),)) for long in (59, 59, 54)
    ]
    problem = PackingProblem((space,), (Item("a", tuple(poses)),))
    for only_least in (True, False):
        found = shortfalls(problem, problem.items[0], only_least=only_least)
        assert (found[0].missing, found[0].axis, found[0].variant) == (4, "x", 2)
        assert len(found) == (1 if only_least else 2)
