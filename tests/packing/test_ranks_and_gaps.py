"""Which post is the better one, and what hangs together of a vehicle's open sides, cell by cell."""

from __future__ import annotations

import itertools
from types import SimpleNamespace
from typing import Any

import networkx as nx
import numpy as np
import pytest

from fitplan.packing.access.openings import _beyond, _patches
from fitplan.packing.vehicle.posts import _rank

AXES = {"+x": (0, 1), "-x": (0, -1), "+y": (1, 1), "-y": (1, -1), "+z": (2, 1), "-z": (2, -1)}


def test_the_widest_post_is_the_best_of_these_the_shortest_of_these_any_fixed_one() -> None:
    """Whatever their places: area, then height, each alone."""
    wide, narrow = (90, 10, 40, 130, 50, 90), (10, 90, 40, 50, 120, 60)
    short = (300, 5, 70, 310, 165, 90)
    assert max(narrow, wide, key=_rank) == wide
    assert max(wide, short, key=_rank) == short
    assert max(short, (0, 0, 71, 40, 40, 92), key=_rank) == short
    assert max(short, (1, 1, 0, 41, 41, 19), key=_rank) == (1, 1, 0, 41, 41, 19)
    assert _rank(wide)[:2] == (1600, -50)


@pytest.mark.parametrize("out", AXES)
@pytest.mark.parametrize("seed", range(4))
def test_faces_that_hang_together_cell_by_cell(seed: int, out: Any) -> None:
    """Pieces of networkx, each with the box round it in its plane, and the area of its faces."""
    rng = np.random.default_rng(seed)
    shape = (6, 5, 4)
    lines = [np.cumsum(rng.uniform(1, 5, n + 1)) for n in shape]
    outside = rng.random(shape) < 0.4
    axis, step = AXES[out]
    facing = np.zeros(shape, bool)
    for cell in itertools.product(*map(range, shape)):
        beside = list(cell)
        beside[axis] += step
        over = not 0 <= beside[axis] < shape[axis]
        facing[cell] = over or outside[tuple(beside)]
    assert (_beyond(outside, out) == facing).all()
    facing &= rng.random(shape) < 0.7
    space: Any = SimpleNamespace(faces=lines)
    for level in range(shape[axis]):
        here = [cell for cell in map(tuple, np.argwhere(facing).tolist()) if cell[axis] == level]
        hang: nx.Graph = nx.Graph()
        hang.add_nodes_from(here)
        hang.add_edges_from(
            (a, b)
            for a, b in itertools.combinations(here, 2)
            if sum(abs(x - y) for x, y in zip(a, b, strict=True)) == 1
        )
        plane = lines[axis][level + (step > 0)]
        wanted = set()
        for piece in nx.connected_components(hang):
            low = [min(lines[i][cell[i]] for cell in piece) for i in range(3)]
            high = [max(lines[i][cell[i] + 1] for cell in piece) for i in range(3)]
            low[axis] = high[axis] = plane
            one, other = (i for i in range(3) if i != axis)
            area = sum(
                (lines[one][cell[one] + 1] - lines[one][cell[one]])
                * (lines[other][cell[other] + 1] - lines[other][cell[other]])
                for cell in piece
            )
            wanted.add((*np.round([*low, *high], 6).tolist(), round(float(area), 2)))
        found = _patches(space, facing, out, level)
        assert {(*np.round([*g.box.low, *g.box.high], 6).tolist(), g.area) for g in found} == wanted
        assert len(found) == len(wanted)
        assert {gap.out for gap in found} <= {out}
