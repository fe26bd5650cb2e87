"""Grids for ways in exact millimetres, point by point: ellipsoids about two ends, what keeps off boxes."""

from __future__ import annotations

import itertools
import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.routing.map import splice_sites
from fitplan.routing.map.exact_ways import PITCH, _half_extent, _within
from fitplan.routing.map.splice_sites import round_splices
from fitplan.routing.map.vehicle_map import SPLICE_CLEAR_MM
from fitplan.routing.ways.tight import clear_points

SEEDS = range(10)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_box_round_all_ways_of_a_length(seed: int) -> None:
    """Points whose ways to both ends are as long as known lie inside and reach out to it (textbook)."""
    rng = np.random.default_rng(seed)
    ends = rng.uniform(0, 30, (2, 3))
    apart = float(np.linalg.norm(ends[1] - ends[0]))
    known = apart * rng.uniform(1.05, 2.5)
    # Axes: half the known length along the ends, √(known² − apart²)/2 across them.
    along = (ends[1] - ends[0]) / apart
    across, _ = np.linalg.qr(np.column_stack([along, rng.normal(size=(3, 2))]))
    ball = rng.normal(size=(40_000, 3))
    ball /= np.linalg.norm(ball, axis=1, keepdims=True)
    thin = math.sqrt(known**2 - apart**2) / 2
    surface = ends.mean(axis=0) + ball * [known / 2, thin, thin] @ np.column_stack([along, across[:, 1:]]).T
    ways = np.linalg.norm(surface - ends[0], axis=1) + np.linalg.norm(surface - ends[1], axis=1)
    assert ways == pytest.approx(known)
    reach = np.abs(surface - ends.mean(axis=0)).max(axis=0)
    half = _half_extent(ends, known)
    assert (reach <= half - PITCH + 1e-9).all()
    assert reach == pytest.approx(half - PITCH, rel=0.01)
    # Ends that coincide, and a known way that is the straight one, leave no ellipsoid to speak of.
    assert _half_extent(ends[[0, 0]], 8.0) == pytest.approx([4.0 + PITCH] * 3)
    assert _half_extent(ends, apart * (1 - 1e-9)) == pytest.approx(np.abs(ends[1] - ends[0]) / 2 + PITCH)


@pytest.mark.parametrize("seed", SEEDS)
def test_points_of_a_grid_keep_off_boxes_and_lie_on_short_ways(seed: int) -> None:
    """Each point's distance to each box, less where a zone allows it; and its ways to both ends."""
    rng = np.random.default_rng(seed)
    lines = [np.sort(rng.uniform(0, 10, 9)) for _ in range(3)]
    boxes, zones = (np.sort(rng.uniform(0, 10, (n, 2, 3)), axis=1).reshape(-1, 6) for n in (3, 2))
    ends, known = rng.uniform(0, 10, (2, 3)), 11.0
    wide, close = 1.2, 0.4
    whole = np.full((9, 9, 2), (0, 9), dtype=np.uint32)
    spans = _within(lines, ends, known)
    free = clear_points(lines, whole, boxes, zones, wide, close)
    inside = (spans[..., :1] <= np.arange(9)) & (np.arange(9) < spans[..., 1:])
    assert (clear_points(lines, spans, boxes, zones, wide, close) == free & inside).all()
    for i, x in enumerate(lines[0]):
        for j, y in enumerate(lines[1]):
            for k, z in enumerate(lines[2]):
                point = np.array([x, y, z])
                zoned = any((zone[:3] <= point).all() and (point <= zone[3:]).all() for zone in zones)
                off = min(
                    float(np.linalg.norm(np.maximum(np.maximum(box[:3] - point, point - box[3:]), 0.0)))
                    for box in boxes
                )
                assert free[i, j, k] == (off >= (close if zoned else wide))
                way = sum(float(np.linalg.norm(point - end)) for end in ends)
                assert inside[i, j, k] == (way <= known)
    assert 0 < free.sum() < free.size


@pytest.mark.parametrize("pitch", [0.4, 0.8, 1.0, 1.6])
def test_round_a_splice_no_other_sleeve_has_room(pitch: float) -> None:
    """Voxels nearer than two sleeves' halves, each once, up to the map's border; as far off one may lie."""
    shape = (16, 14, 13)

    def within(voxel: tuple[int, ...]) -> bool:
        return all(0 <= c < n for c, n in zip(voxel, shape, strict=True))

    map_: Any = SimpleNamespace(frame=SimpleNamespace(pitch=pitch, within=within))
    splices = [(0, 5, 12), (7, 7, 6), (8, 7, 6)]
    wanted = [
        cell
        for cell in itertools.product(*map(range, shape))
        if min(math.dist(cell, splice) for splice in splices) * pitch < 2 * SPLICE_CLEAR_MM - 1e-6
    ]
    assert round_splices(map_, splices) == wanted
    assert round_splices(map_, []) == []


def test_a_splice_out_of_sight_costs_more_and_none_is_where_it_has_no_room(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What it takes of wire, and a fine for being hidden; 0 stands for: none may be here."""
    seen, room = np.array([[[True, False, True, False]]]), np.array([[[True, True, False, False]]])
    monkeypatch.setattr(splice_sites, "in_sight", lambda map_: seen)
    map_: Any = SimpleNamespace(splice_room=room)
    found = splice_sites.splice_prices(map_, 12.0).ravel().tolist()
    assert found == [12.0, 12.0 + splice_sites.HIDDEN_MM, 0.0, 0.0]
