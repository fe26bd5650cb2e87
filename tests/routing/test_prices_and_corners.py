"""Prices as the fields have them, voxels shut round sharp corners, and which are opened for single ways."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import networkx as nx
import numpy as np
import pytest

from fitplan.lattice.clear_radius import clear_squares, roomy
from fitplan.lattice.frame import Frame
from fitplan.model.wiring_facts import HOOK_UP_DIAMETERS
from fitplan.routing.map.circle_packing import most_in_rectangle
from fitplan.routing.map.narrow_places import Run
from fitplan.routing.map.vehicle_map import NEAR_ENDS
from fitplan.routing.negotiation.detours import ShortestAlone
from fitplan.routing.negotiation.free_box import FreeBox
from fitplan.routing.negotiation.negotiated import NegotiationSettings
from fitplan.routing.negotiation.share_table import ShareTable
from fitplan.routing.negotiation.vehicle_wiring import BEND_REACH, VehicleRouting
from fitplan.routing.trees.voxel_trees import _round_trip
from fitplan.routing.ways.shortest_ways import COST_LIMIT, COST_UNIT, WayMap

from .test_share_table import table_of


def costs_of(field: WayMap) -> np.ndarray:
    """Return the cost of each voxel as the kernel has it."""
    inner: np.ndarray = field._kernel.view(field._cost_at, field._inner, np.uint16)
    return inner[1:-1, 1:-1, 1:-1]


@pytest.mark.parametrize("seed", [3, 6, 10])
def test_fields_have_the_present_price_of_every_voxel(seed: int) -> None:
    """For each gauge, after runs were laid, taken up and prices raised; what is full and what nobody uses."""
    table, *_ = table_of(seed)
    rng = np.random.default_rng(seed)
    beside = table.place_of < 0
    for turn in range(4):
        for index in rng.integers(0, 5, 4).tolist():
            table.route(index)
        if turn % 2:
            table.raise_prices()
        for kind, field in enumerate(table.fields):
            cells = np.flatnonzero(beside & field.free.ravel())
            wanted = np.clip(
                np.rint(table._cost_of(cells, kind) * COST_UNIT), COST_UNIT, COST_LIMIT * COST_UNIT
            )
            assert np.abs(costs_of(field).ravel()[cells] - wanted).max() <= 1
            assert 0 < (table.users[cells] > 0).sum() < len(cells)


def walled() -> tuple[np.ndarray, Frame]:
    free = np.ones((30, 24, 20), bool)
    free[:, :, :3] = False
    free[10:13, :14] = False
    return free, Frame((0.0, 0.0, 0.0), free.shape, 0.8)


@pytest.mark.parametrize("spot", [(8.0, 12.0, 4.0), (11.2, 12.4, 6.0), (2.0, 2.0, 3.2)])
@pytest.mark.parametrize("outer", [0.9, 1.4])
def test_round_a_sharp_corner_what_is_too_close_to_walls_is_shut(
    spot: tuple[float, float, float], outer: float
) -> None:
    """Every free voxel within reach without room for a bend, but round the wire's own ends."""
    free, frame = walled()
    start, end = (9, 15, 4), (20, 20, 18)
    segment: Any = SimpleNamespace(net="n", start="start", end="end")
    self: Any = SimpleNamespace(
        diameters={"n": outer},
        map=SimpleNamespace(free=free, clear_squares=clear_squares(free), frame=frame),
        _voxels=lambda node: [start] if node == "start" else [end],
    )
    found = {tuple(cell) for cell in VehicleRouting._close_to_walls(self, segment, spot).tolist()}
    wide, reach = HOOK_UP_DIAMETERS * outer, BEND_REACH * outer
    near_walls = free & ~roomy(clear_squares(free), wide, 0.8)
    wanted = set()
    for cell in map(tuple, np.argwhere(near_walls).tolist()):
        here = (np.array(cell) + 0.5) * 0.8
        own = min(np.linalg.norm(here - (np.array(one) + 0.5) * 0.8) for one in (start, end))
        if np.linalg.norm(here - np.array(spot)) <= reach and own > 1.5 * wide:
            wanted.add(cell)
    assert found == wanted
    assert found


def test_only_near_ends_is_opened_what_a_wire_has_no_room_in() -> None:
    """Free voxels within so many steps of an end that are not free for the wire, up to the map's border."""
    free, _ = walled()
    thick = np.zeros_like(free)
    thick[14:] = True
    field = WayMap(thick & free, 0.8)
    box = FreeBox((0, 0, 0), free.shape)
    self: Any = SimpleNamespace(_map=SimpleNamespace(free=free), _box=box)
    ends = [(16, 20, 15), (1, 0, 19)]
    found = ShortestAlone._close(self, field, ends)
    wanted = {
        cell
        for cell in map(tuple, np.argwhere(free & ~thick).tolist())
        if any(max(abs(a - b) for a, b in zip(cell, end, strict=True)) <= NEAR_ENDS for end in ends)
    }
    assert {tuple(cell) for cell in found.tolist()} == wanted
    assert len(found) == len(wanted) > 0


@pytest.mark.parametrize("near_ends", [1, 2])
def test_what_lies_near_is_counted_voxel_by_voxel(near_ends: int) -> None:
    """Free voxels within so many steps of a run's ends and of any voxels, up to the borders of the map."""
    rng = np.random.default_rng(near_ends)
    free = rng.random((7, 6, 5)) > 0.2
    starts, goals = ((0, 0, 0), (0, 3, 4)), ((6, 5, 4), (3, 0, 2))
    runs = (Run("r", starts, goals, 1.3), Run("s", goals[1:], starts[:1], 1.0))
    settings = NegotiationSettings(near_ends=near_ends)
    table = ShareTable(free, clear_squares(free), runs, (), 0.8, None, settings)

    def within(cells: Any, reach: int) -> list[int]:
        found = [
            cell
            for cell in map(tuple, np.argwhere(free).tolist())
            if any(max(abs(a - b) for a, b in zip(cell, one, strict=True)) <= reach for one in cells)
        ]
        return [int(np.ravel_multi_index(cell, free.shape)) for cell in found]

    for run, own in zip(runs, table.ends, strict=True):
        assert own.tolist() == within((*run.starts, *run.goals), near_ends)
    some = [tuple(cell) for cell in np.argwhere(free)[rng.integers(0, free.sum(), 3)].tolist()]
    flat = np.array([np.ravel_multi_index(cell, free.shape) for cell in some])
    for reach in (1, 2, 9):
        assert sorted(table.voxels.near(flat, reach).tolist()) == within(some, reach)
    assert sorted(table.voxels.near(flat, table.reach).tolist()) == within(some, table.reach)


@pytest.mark.parametrize("count", [2, 3, 5, 9])
def test_a_round_trip_bounds_trees_and_is_as_long_as_a_star(count: int) -> None:
    """Half of n/(n − 1) of what spans: of ends one length off a middle that is the whole star, never more."""
    star = np.full((count, count), 20, np.uint32)
    np.fill_diagonal(star, 0)
    assert _round_trip(star) == 10 * count
    for seed in range(5):
        points = np.random.default_rng(seed).uniform(0, 500, (count, 2))
        apart = np.linalg.norm(points[:, None] - points[None], axis=2).astype(np.uint32)
        spans = nx.minimum_spanning_tree(nx.from_numpy_array(apart.astype(int))).size(weight="weight")
        assert _round_trip(apart) == int(spans * count / (2 * (count - 1)) + 1e-9)


@pytest.mark.parametrize("rows", [2, 5, 12, 30])
def test_no_proof_forbids_a_staggered_packing_that_is_there(rows: int) -> None:
    """Rows of discs in each other's hollows, √3/2 apart: as many as are laid are not too many (textbook)."""
    for row in (3, 10, 40):
        wide, high = 1.3 * (row + 0.5), 1.3 * (1 + (rows - 1) * math.sqrt(3) / 2)
        assert most_in_rectangle(wide, high, 1.3) >= rows * row
        assert most_in_rectangle(high, wide, 1.3) >= rows * row
        # Nor do they allow more than fill the room round each disc's middle (Groemer and Oler).
        a, b = wide / 1.3 - 1, high / 1.3 - 1
        assert most_in_rectangle(wide, high, 1.3) <= 2 / math.sqrt(3) * a * b + a + b + 1 + 1e-6
