"""Who uses what, counted again voxel by voxel, and what it costs, in closed form."""

from __future__ import annotations

import heapq
import itertools
import math

import numpy as np
import pytest
from scipy import ndimage

from fitplan.lattice.clear_radius import clear_squares, radius_of
from fitplan.routing.map.bundles import bundle_diameter
from fitplan.routing.map.narrow_places import CapacityPlace, Run
from fitplan.routing.negotiation.negotiated import NegotiationSettings
from fitplan.routing.negotiation.share_table import ShareTable, _excess, reach_of, widest_near

SETTINGS = NegotiationSettings(near_ends=1, sharing=0.5, present=2.0, growth=3.0, lasting=0.25)
SHAPE = (18, 9, 8)


def test_the_reach_of_wires_is_as_far_as_they_may_touch() -> None:
    """One voxel farther apart two of the thickest do not touch; next to each other they always may."""
    for thick, pitch in itertools.product(np.arange(0.1, 9.0, 0.1), (0.4, 0.8, 1.0)):
        touching = [steps for steps in range(1, 40) if steps * pitch < thick - 1e-9]
        assert reach_of([0.1, thick, 0.05], pitch) == max(touching, default=1), (thick, pitch)
    assert reach_of([], 0.8) == 1


def test_the_widest_near_is_a_filter_of_27() -> None:
    """The largest of a voxel and its neighbours (scipy's maximum filter)."""
    room = np.random.default_rng(1).uniform(0, 9, SHAPE)
    before = room.copy()
    assert (widest_near(room) == ndimage.maximum_filter(room, 3, mode="nearest")).all()
    assert (room == before).all()


def test_overfull_is_measured_by_area() -> None:
    """A bundle √2 times as thick as its room is overfull by one; a hair counts a quarter, much four."""
    thick = np.array([2**0.5, 1.001, 3.0, 1.5, 1.0])
    assert _excess(thick, np.ones(5)) == pytest.approx([1.0, 0.25, 4.0, 1.25, 0.25])
    assert _excess(np.array([0.15]), np.zeros(1)) == pytest.approx([1.25])


def table_of(seed: int) -> tuple[ShareTable, np.ndarray, np.ndarray, CapacityPlace]:
    """Return five runs of two gauges in a room with blocks in it and a wall with one port."""
    rng = np.random.default_rng(seed)
    free = np.ones(SHAPE, dtype=bool)
    for _ in range(3):
        x, y, z = rng.integers([3, 0, 0], [6, 6, 5])
        free[x : x + 2, y : y + 2, z : z + 2] = False
    free[8] = False
    free[8, 2:7, 1:6] = True
    cost = rng.uniform(0.5, 3.0, SHAPE)
    place = CapacityPlace("port", np.argwhere(free & (np.arange(SHAPE[0]) == 8)[:, None, None]), 3)
    runs = tuple(
        Run(f"r{k}", ((1, k, 1),), ((15, 6 - k, 4),), (1.3, 2.2)[k % 2], 1 + k % 2) for k in range(5)
    )
    return ShareTable(free, clear_squares(free), runs, (place,), 0.8, cost, SETTINGS), free, cost, place


def near_ends(run: Run, cell: tuple[int, ...]) -> bool:
    """Tell whether a voxel is within one step of a run's ends."""
    return any(max(abs(a - b) for a, b in zip(cell, end, strict=True)) <= 1 for end in run.starts + run.goals)


def met(table: ShareTable, cell: tuple[int, ...]) -> list[float]:
    """Return the diameters of what meets in a voxel, as the table says."""
    counts = table.wire_sets._counts[table.members[np.ravel_multi_index(cell, SHAPE)]]
    return [d for d, n in zip(table.diameters, counts, strict=True) for _ in range(n)]


def recount(
    table: ShareTable, free: np.ndarray, inside: set[tuple[int, ...]]
) -> tuple[np.ndarray, np.ndarray]:
    """Return, voxel by voxel, the thickness of what meets there, and how many ways lie in it."""
    thick, users = np.zeros(SHAPE), np.zeros(SHAPE, dtype=int)
    counted = [
        [c for c in map(tuple, way.voxels.tolist()) if c not in inside and not near_ends(run, c)]
        if way
        else []
        for run, way in zip(table.runs, table.ways, strict=True)
    ]
    for way in table.ways:
        if way is not None:
            np.add.at(users, tuple(way.voxels.T), 1)
    reach = reach_of([run.diameter for run in table.runs], 0.8)
    for cell in np.argwhere(free).tolist():
        meet = [
            run.diameter
            for run, own in zip(table.runs, counted, strict=True)
            if any(max(abs(a - b) for a, b in zip(cell, c, strict=True)) <= reach for c in own)
        ]
        thick[tuple(cell)] = bundle_diameter(meet) if meet else 0.0
    return thick, users


@pytest.mark.parametrize("seed", [3, 6, 10])
def test_the_table_is_what_is_counted_anew(seed: int) -> None:
    """After runs were laid, taken up and laid again: sets, users, places, conflicts and prices."""
    table, free, cost, place = table_of(seed)
    rng = np.random.default_rng(seed + 50)
    for index in [*range(5), *rng.integers(0, 5, 4).tolist()]:
        table.route(index)
    inside = set(map(tuple, place.voxels.tolist()))
    room = 2 * radius_of(clear_squares(free), 0.8)
    reach = reach_of([2.2], 0.8)
    room = ndimage.maximum_filter(room, 2 * reach + 1, mode="nearest")
    present, lasting, place_lasting = 2.0, np.zeros(SHAPE), 0.0
    for turn in range(3):
        thick, users = recount(table, free, inside)
        assert table.wire_sets.thickness(table.members).reshape(SHAPE) == pytest.approx(thick)
        assert (table.users.reshape(SHAPE) == users).all()
        through = [
            i for i, way in enumerate(table.ways) if way and inside & set(map(tuple, way.voxels.tolist()))
        ]
        used = sum(table.runs[i].demand for i in through)
        assert table.place_used.tolist() == [used]
        over = {
            tuple(c)
            for run, way in zip(table.runs, table.ways, strict=True)
            for c in (way.voxels.tolist() if way else [])
            if tuple(c) not in inside
            and not near_ends(run, tuple(c))
            and thick[tuple(c)] > room[tuple(c)] + 1e-6
        }
        conflicts = table.conflicts()
        at = {one.where for one in conflicts}
        assert ("port" in at) == (used > 3)
        assert at - {"port"} <= over
        assert bool(at - {"port"}) == bool(over)
        for one in conflicts:
            if one.where == "port":
                assert (one.runs, one.used, one.room) == (
                    tuple(table.runs[i].name for i in through),
                    used,
                    3.0,
                )
            else:
                assert (one.used, one.room) == pytest.approx((thick[one.where], room[one.where]))
        for index, way in enumerate(table.ways):
            passed = [tuple(c) for c in way.voxels.tolist()] if way else []
            crowded = any(c in over and not near_ends(table.runs[index], c) for c in passed)
            assert table.in_conflict(index) == (crowded or (index in through and used > 3))
        for kind, diameter in enumerate((1.3, 2.2)):
            for cell in [c for c in np.argwhere(free).tolist() if rng.random() < 0.2]:
                c = tuple(cell)
                base = max(cost[c], 1.0)
                meet = met(table, c)
                more = bundle_diameter([*meet, diameter])
                full = (
                    min(max((more / max(room[c], 0.1)) ** 2 - 1, 0.25), 4.0) if more > room[c] + 1e-6 else 0.0
                )
                plain = base * (1.0 if users[c] else 1.5) * (1 + lasting[c])
                expected = base if c in inside else plain * (1 + present * full)
                flat = np.ravel_multi_index(c, SHAPE)
                assert table._cost_of(np.array([flat]), kind)[0] == pytest.approx(expected, rel=1e-5)
        table.raise_prices()
        for c in over:
            lasting[c] += 0.25 * min(max((thick[c] / max(room[c], 0.1)) ** 2 - 1, 0.25), 4.0)
        place_lasting += 0.25 * max(used - 3, 0)
        present *= 3.0
        assert table.lasting.reshape(SHAPE) == pytest.approx(lasting, rel=1e-5)
        assert table.place_lasting[0] == pytest.approx(place_lasting)
        assert table.present == pytest.approx(present)
        table.route(turn)


@pytest.mark.parametrize("seed", [2, 4, 12])
def test_a_way_is_the_cheapest_at_present_prices(seed: int) -> None:
    """Beside all other ways a run's way costs no more than greed allows over the cheapest (Dijkstra)."""
    table, free, _, place = table_of(seed)
    for index in range(5):
        table.route(index)
    index = 3
    table.route(index)
    way = table.ways[index]
    assert way is not None
    others = [w for i, w in enumerate(table.ways) if i != index]
    table._take(index)
    cells = np.flatnonzero(free.ravel())
    price = np.full(free.size, np.inf)
    price[cells] = table._cost_of(cells, table.kind[index])
    over = table.place_used[0] + table.runs[index].demand - place.capacity
    port = np.ravel_multi_index(tuple(place.voxels.T), SHAPE)
    price[port] *= (1 + 4 * table.present * over) if over > 0 else 1.0
    price = price.reshape(SHAPE)
    open_ = table.fields[table.kind[index]].free
    open_[tuple(np.unravel_index(table.ends[index], SHAPE))] = True
    cost = sum(
        math.dist(a, b) * 0.8 * (price[tuple(a)] + price[tuple(b)]) / 2
        for a, b in itertools.pairwise(way.voxels.tolist())
    )
    assert way.cost_mm == pytest.approx(cost, rel=0.02)
    assert cost <= 1.25 * dijkstra(open_, price, way.start, way.goal)
    assert all(other is not None for other in others)


def dijkstra(open_: np.ndarray, price: np.ndarray, start: tuple[int, ...], goal: tuple[int, ...]) -> float:
    """Return what the cheapest way costs, over all steps that cut no corner (textbook)."""
    best = {start: 0.0}
    queue = [(0.0, start)]
    steps = [s for s in itertools.product((-1, 0, 1), repeat=3) if any(s)]
    while queue:
        cost, here = heapq.heappop(queue)
        if here == goal:
            return cost
        if cost > best[here]:
            continue
        for step in steps:
            there = tuple(a + b for a, b in zip(here, step, strict=True))
            if not all(0 <= c < n for c, n in zip(there, SHAPE, strict=True)):
                continue
            span = tuple(slice(min(a, b), max(a, b) + 1) for a, b in zip(here, there, strict=True))
            if not open_[span].all():
                continue
            more = cost + math.hypot(*step) * 0.8 * (price[here] + price[there]) / 2
            if more < best.get(there, math.inf):
                best[there] = more
                heapq.heappush(queue, (more, there))
    return math.inf
