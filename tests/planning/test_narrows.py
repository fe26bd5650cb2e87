"""A narrow place of a body carries so many wires: what does not go through it together asks for more."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from fitplan.model.solids import Box
from fitplan.model.train import Train
from fitplan.model.vehicle import BodySolid
from fitplan.planning.least_opening import OpeningSearch
from fitplan.planning.narrows import parted_where_narrow
from fitplan.planning.opened import openings
from fitplan.planning.run_state import PlanningRun, PlanOptions
from fitplan.routing.map.bundles import bundle_diameter
from tests.planning.test_least_opening import WALL, _walled
from tests.planning.test_likely_openings import _placed

HOLE = Box((48.0, 12.2, 19.2), (56.0, 15.4, 22.4))
"""Off the grid, on the floor: 3.2 mm in the square, of which voxels see 2.4."""
BESIDE = Box((48.0, 30.2, 19.2), (56.0, 33.4, 22.4))
SLIT = Box((48.0, 12.2, 19.2), (56.0, 20.0, 22.4))


def _with_holes(nets: int, *holes: Box) -> Train:
    """Return a train whose wagon has an inner wall with holes, between its front and its part."""
    train = _walled(wall=BodySolid(WALL, "fixed"), nets=nets)
    loco, wagon = train.vehicles
    body = (*wagon.vehicle.body, *(BodySolid(hole, "free") for hole in holes))
    return replace(train, vehicles=(loco, replace(wagon, vehicle=replace(wagon.vehicle, body=body))))


@pytest.mark.parametrize(
    ("nets", "holes", "opened"),
    [
        (4, (HOLE,), 0),
        (5, (HOLE,), 1),
        (5, (HOLE, BESIDE), 0),
        (9, (HOLE, BESIDE), 1),
        (5, (SLIT,), 0),
        (9, (SLIT,), 1),
    ],
)
def test_a_hole_that_is_there_is_counted_on_for_a_round_bundle(
    nets: int, holes: tuple[Box, ...], opened: int
) -> None:
    """Of four wires of 1.3 mm a bundle is 3.14 mm thick, of five 3.51 (equal circles, Graham 1968).

    Before, what a hole joined was one room, whatever wanted through: nothing was opened beside it.
    """
    train = _with_holes(nets, *holes)
    wires = {f"w{n}": 1.3 for n in range(nets)}
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), wires)
    assert search.in_the_way == frozenset()
    assert search.likely_at_home.in_the_way == (frozenset({"wagon"}) if opened else frozenset())
    assert next(search.likely_at_home.sets()).cost == opened
    assert search.bound == 0.0
    if opened:
        first = next(openings(search, set(), {"wagon"})).opening
        ((vehicle, hole),) = first.holes
        assert (vehicle, hole.box.low[0], hole.box.high[0]) == ("wagon", 48.0, 56.0)


@pytest.mark.parametrize("seed", range(12))
def test_rooms_are_parted_by_what_is_too_narrow_and_by_nothing_else(seed: int) -> None:
    """A wall across a block with square holes of drawn sizes: each is told if it is narrow, one that is not
    makes both sides one room."""
    rng = random.Random(seed)
    wide = [rng.randint(3, 9) for _ in range(3)]
    free = np.zeros((44, 48, 24), dtype=bool)
    free[2:18, 2:46, 2:22] = free[26:42, 2:46, 2:22] = True
    for number, edge in enumerate(wide):
        y, z = 4 + 14 * number + rng.randint(0, 4), rng.randint(2, 12)
        free[18:26, y : y + edge, z : z + edge] = True

    def clear(voxels: np.ndarray) -> np.ndarray:
        return np.array([_clear(free, voxel) for voxel in voxels])

    room = np.zeros_like(free)
    for voxel in np.argwhere(free):
        room[tuple(voxel)] = _clear(free, voxel) >= 1.0
    labels, narrows = parted_where_narrow(room, free, clear, 1.0, 5.0, 1.0)
    assert ((labels > 0) == room).all()
    # Of an even number of voxels none has its middle in the middle of the hole.
    told = sorted(edge - 1 + edge % 2 for edge in wide)
    if told[-1] >= 5:
        assert narrows == ()
        assert len(np.unique(labels[room])) == 1
    else:
        assert sorted(one.clear_mm for one in narrows) == told
        assert all(one.clear_mm <= one.wide_mm <= one.clear_mm + 3 for one in narrows)
        assert len(np.unique(labels[room])) == 2


def _clear(free: np.ndarray, voxel: np.ndarray) -> float:
    """Return the edge of the largest cube round a voxel's middle in which all is free."""
    reach = 0
    while free[tuple(slice(max(c - reach, 0), c + reach + 1) for c in voxel)].all():
        reach += 1
    return max(2 * reach - 1, 0)


@pytest.mark.parametrize(("wide", "opened"), [(7.0, False), (3.9, True)])
def test_unequal_wires_lie_in_bundles_side_by_side(wide: float, opened: bool) -> None:
    """In one bundle seven wires want more than 3.9 mm; a wider hole takes one of them beside the others."""
    hole = Box((48.0, 12.2, 19.2), (56.0, 12.2 + wide, 23.1))
    wires = {f"w{n}": 1.4 if n < 2 else 1.0 for n in range(7)}
    assert bundle_diameter(wires.values()) > 3.9 > bundle_diameter([*wires.values()][:6])
    train = _with_holes(7, hole)
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), wires)
    assert search.likely_at_home.refuted == opened
