"""Maps in walls: what lies in them is laid as without, and only their free box is looked at."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fitplan.routing.map.narrow_places import CapacityPlace, Run
from fitplan.routing.negotiation.free_box import FreeBox
from fitplan.routing.negotiation.negotiate import negotiate
from fitplan.routing.negotiation.negotiated import NegotiationSettings
from fitplan.routing.ways.way import Voxel
from tests.routing.test_negotiate import across, two_rooms

WALLS = ((3, 0), (7, 2), (0, 11))
"""Voxels of wall before and behind the free ones along x, y and z."""
LOW = np.array([before for before, _ in WALLS])


def moved(voxels: tuple[Voxel, ...]) -> tuple[Voxel, ...]:
    """Return voxels where the walls have moved them."""
    return tuple((x + 3, y + 7, z) for x, y, z in voxels)


@pytest.mark.parametrize(("first", "second", "number"), [(1, 3, 4), (2, 3, 6), (1, 1, 3)])
def test_walls_around_a_map_change_nothing(first: int, second: int, number: int) -> None:
    """Ways and conflicts lie where they lay, among dear voxels, too; what is given stays the same thing."""
    free, places = two_rooms(first, second)
    cost = np.random.default_rng(number).uniform(1, 3, free.shape).astype(np.float32)
    runs = tuple(replace(run, diameter=2.4) for run in across(number))
    walled = np.pad(free, WALLS)
    far_runs = tuple(Run(run.name, moved(run.starts), moved(run.goals), run.diameter) for run in runs)
    far_places = tuple(
        CapacityPlace(place.name, np.asarray(place.voxels) + LOW, place.capacity) for place in places
    )
    settings = NegotiationSettings(rounds=6)
    plain = negotiate(free, runs, places=places, cost=cost, settings=settings)
    far_cost = np.pad(cost, WALLS, constant_values=9)
    far = negotiate(walled, far_runs, places=far_places, cost=far_cost, settings=settings)
    assert (plain.rounds, plain.unreachable, plain.settled) == (far.rounds, far.unreachable, far.settled)
    for one, other in zip(plain.ways, far.ways, strict=True):
        assert one is not None
        assert other is not None
        assert (one.voxels + LOW == other.voxels).all()
        assert one.cost_mm == other.cost_mm
    for told, there in zip(plain.conflicts, far.conflicts, strict=True):
        where = told.where if isinstance(told.where, str) else moved((told.where,))[0]
        assert there == replace(told, where=where)
    given = [far.ways[0], *(None for _ in runs[1:])]
    kept = negotiate(walled, far_runs[:1], places=far_places, cost=far_cost, given=given[:1])
    assert kept.ways[0] is given[0]


def test_a_window_holds_all_that_is_free_and_what_is_told_beside() -> None:
    """By enumeration; what lies outside of the map is cut off, and nothing at all leaves one voxel."""
    free = np.zeros((6, 7, 8), dtype=np.bool_)
    assert FreeBox.round(free) == FreeBox((0, 0, 0), (1, 1, 1))
    free[2, 3, 4] = free[4, 3, 6] = True
    box = FreeBox.round(free)
    assert box == FreeBox((2, 3, 4), (5, 4, 7))
    assert free[box.slices].sum() == 2
    wider = FreeBox.round(free, [((1, 6, 5),), np.array([[9, 3, -2]])])
    assert wider == FreeBox((1, 3, 0), (6, 7, 7))
    assert wider.inside(((1, 6, 5), (2, 3, 4))) == ((0, 3, 5), (1, 0, 4))
    assert [wider.outside(one) for one in wider.inside(((1, 6, 5),))] == [(1, 6, 5)]
    rows = np.array([[2, 3, 4], [4, 3, 6]], dtype=np.int32)
    assert wider.rows_inside(rows).dtype == rows.dtype
    assert (wider.rows_outside(wider.rows_inside(rows)) == rows).all()
