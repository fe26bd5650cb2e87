"""Sets of voxels by number, beside numpy's sets and the numbers that a field gives the same voxels."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.routing.negotiation.numbered_voxels import NumberedVoxels
from fitplan.routing.negotiation.occupancy import WireSets
from fitplan.routing.ways.shortest_ways import WayMap

shapes = st.tuples(st.integers(1, 9), st.integers(1, 7), st.integers(1, 6))


@settings(max_examples=60, deadline=None)
@given(shapes, st.integers(0, 10_000))
def test_each_once_and_all_of_them(shape: tuple[int, int, int], seed: int) -> None:
    rng = np.random.default_rng(seed)
    free = rng.random(shape) < 0.8
    voxels = NumberedVoxels(free)
    some = rng.integers(0, free.size, 40)
    for _ in range(2):  # what was asked before leaves no trace
        once = voxels.once(some)
        assert sorted(once.tolist()) == np.unique(some).tolist()
    assert np.array_equal(np.ravel_multi_index(tuple(voxels.rows(some).T), shape), some)
    assert len(voxels.near(np.zeros(0, np.int64), 2)) == 0
    field = WayMap(free, 0.8)
    assert np.array_equal(field.nodes_at(some), field.nodes_of(voxels.rows(some)))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000))
def test_sets_change_voxel_by_voxel(seed: int) -> None:
    """Wires come and go at random; each voxel's set is the one that its own count has."""
    rng = np.random.default_rng(seed)
    sets, members = WireSets((1.0, 1.3, 2.2)), np.zeros(12, np.int32)
    counts = np.zeros((12, 3), int)
    numbers: dict[tuple[int, ...], int] = {}
    for _ in range(30):
        kind, at = int(rng.integers(3)), rng.choice(12, 5, replace=False)
        by = -1 if (counts[at, kind] > 0).all() and rng.random() < 0.5 else 1
        counts[at, kind] += by
        members[at] = sets.changed(members[at], kind, by)
        for row, number in zip(counts.tolist(), members.tolist(), strict=True):
            assert numbers.setdefault(tuple(row), number) == number
    assert len(set(numbers.values())) == len(numbers)
