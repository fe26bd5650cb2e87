"""Straps over a part and stacks beside it, against every one that could be built on a floor of studs."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

import fitplan.packing.vehicle.side_bricks as side_bricks
import fitplan.packing.vehicle.straps as straps
from fitplan.model.solids import axis_of, is_forward
from fitplan.packing.vehicle.addition_shapes import CELL, FOOTPRINTS, LAYER

from .small_trains import hollow

WAGON = hollow("wagon", 10, 8, 12)


def scene(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Return heights of studs (tenths; -1: none) on a floor, and two boxes of a part that stand there."""
    rng = np.random.default_rng(seed)
    levels = np.full((9, 7), 200)
    levels[rng.random(levels.shape) < 0.15] = 200 + LAYER
    levels[rng.random(levels.shape) < 0.1] = -1
    if seed >= 8:  # some stand higher than the part, or on tiles
        levels[rng.random(levels.shape) < 0.15] = 200 + 12 * LAYER
        levels[rng.random(levels.shape) < 0.15] = 200 + LAYER // 2
    x, y = rng.integers(100, 260, 2).tolist()
    long, wide, high = (int(v) for v in rng.integers([60, 60, 20], [260, 160, 160]))
    if seed % 2:  # its ends lie where cells do
        x, y, long, wide = (max(v // CELL, 1) * CELL for v in (x, y, long, wide))
    rows = np.array(
        [
            [x, y, 217, x + long, y + wide, 217 + high],
            [x + 13, y - 7 * (seed % 2 == 0), 217, x + long - 20, y + 31, 217 + high - 11],
        ]
    )
    return levels, rows


@pytest.mark.parametrize("seed", range(12))
def test_every_strap_is_looked_at(monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    """A plate, one or two wide, on level studs on either side, or on one side and past the part's middle.

    What lifts it: shared between two feet by the rule of the lever, of one foot about its far edge.
    """
    levels, rows = scene(seed)
    monkeypatch.setattr(straps, "stud_levels", lambda vehicle, removed: [levels])
    found = list(straps.straps_over(WAGON, frozenset(), rows))
    volumes = [np.prod(row[3:] - row[:3]) for row in rows]
    middle = [float(np.average((rows[:, k] + rows[:, k + 3]) / 2, weights=volumes)) for k in (0, 1)]
    expected = []
    for m, n in FOOTPRINTS:
        for i, j, axis in itertools.product(range(9 - m + 1), range(7 - n + 1), (0, 1)):
            size, at = (m, n), (i, j)
            plate = (i * CELL, j * CELL, (i + m) * CELL, (j + n) * CELL)
            if size[axis] < 2 or size[1 - axis] > 2 or not lies_over(plate, axis, rows):
                continue
            low, high = int(rows[:, axis].min()), int(rows[:, axis + 3].max())
            start, end, wide = at[axis], at[axis] + size[axis], size[1 - axis]
            ways = [[(0, 1), (size[axis] - 1, 1)]]
            ways += [[(0, deep)] for deep in (1, 2)] + [[(size[axis] - deep, deep)] for deep in (1, 2)]
            for feet in ways:
                spans = [((start + a) * CELL, (start + a + d) * CELL) for a, d in feet]
                if len(feet) == 2:
                    beside = spans[0][1] <= low and spans[1][0] >= high
                elif feet[0][0] == 0:
                    beside = (
                        spans[0][1] <= low and end * CELL >= middle[axis] + 20 and feet[0][1] < size[axis]
                    )
                else:
                    beside = spans[0][0] >= high and start * CELL <= middle[axis] - 20
                    beside = beside and feet[0][1] < size[axis]
                under = [levels[i : i + m, j : j + n].take(range(a, a + d), axis=axis) for a, d in feet]
                if not beside or any(len(set(one.ravel().tolist())) > 1 or one.min() < 0 for one in under):
                    continue
                heights = [int(one.ravel()[0]) for one in under]
                top = int(rows[:, 5].max())
                at_z = next(h for h in range(top, top + LAYER) if (h - heights[0]) % LAYER == 0)
                if any((at_z - height) % LAYER or at_z < height for height in heights):
                    continue
                stacks = [(at_z - height) // LAYER for height in heights]
                pieces = sum(s // 3 + s % 3 for s in stacks) + 1
                lifts = lifted_at(spans, wide, middle[axis])
                over = touched(plate, rows)
                expected.append((2 - len(feet), pieces, m * n, (*plate, at_z), axis, round(lifts, 9), over))
    told = [
        (
            *(one.missing, one.count, one.studs, corners(one.pieces[-1][1]), one.axis),
            *(round(one.lifts_n, 9), one.over),
        )
        for one in found
    ]
    assert sorted(told) == sorted(expected)
    assert all(len(one.pieces) == one.count for one in found)


def corners(box: tuple[int, ...]) -> tuple[int, ...]:
    return (box[0], box[1], box[3], box[4], box[2])


def touched(plate: tuple[int, ...], rows: np.ndarray) -> tuple[tuple[int, ...], ...]:
    """Return where a plate lies over a part's highest boxes, by a millimetre at least in both directions."""
    tops = rows[rows[:, 5] == rows[:, 5].max()].tolist()
    both = [
        (max(plate[0], t[0]), max(plate[1], t[1]), min(plate[2], t[3]), min(plate[3], t[4])) for t in tops
    ]
    return tuple(one for one in both if one[2] - one[0] >= 10 and one[3] - one[1] >= 10)


def lies_over(plate: tuple[int, ...], axis: int, rows: np.ndarray) -> bool:
    """Return whether a plate reaches the cells over a part's highest boxes, and enough of it across."""
    tops = rows[rows[:, 5] == rows[:, 5].max()]
    over = [
        t
        for t in tops
        if plate[2] > t[0] // CELL * CELL and plate[0] < t[3]
        if plate[3] > t[1] // CELL * CELL and plate[1] < t[4]
    ]
    across = 1 - axis
    shared = min(plate[across + 2], rows[:, across + 3].max()) - max(plate[across], rows[:, across].min())
    return bool(over) and shared >= CELL // 2


def lifted_at(spans: list[tuple[int, int]], wide: int, load: float) -> float:
    """Return what pulls a foot off its studs, of 1 N each, in N, by balances of moments."""
    middles = [(a + b) / 2 for a, b in spans]
    studs = [(b - a) // CELL * wide for a, b in spans]
    if len(spans) == 2:
        share = np.linalg.solve([[1.0, 1.0], middles], [1.0, load])
        return float(min(n / s for n, s in zip(studs, share, strict=True)))
    turns_about = spans[0][0] if load > middles[0] else spans[0][1]
    return studs[0] * abs(middles[0] - turns_about) / abs(load - turns_about)


@pytest.mark.parametrize("way", ["+x", "-x", "+y", "-y"])
@pytest.mark.parametrize(
    ("seed", "least_top"),
    [(0, 0), (1, 0), (2, 0), (0, 300), (1, 500), (2, 600), (0, 730), (1, 777), (2, 810)],
)
def test_every_stack_beside_a_part_is_looked_at(
    monkeypatch: pytest.MonkeyPatch, seed: int, least_top: int, way: str
) -> None:
    """On one or two studs, as low as it meets the part: how far that slides, and its lever.

    Against toppling as high as it must be at least, up to six bricks.
    """
    levels, rows = scene(seed + 20)
    monkeypatch.setattr(side_bricks, "stud_levels", lambda vehicle, removed: [levels])
    axis, forwards = axis_of(way), is_forward(way)  # type: ignore[arg-type]
    across, tall = 1 - axis, 3 * LAYER
    expected = set()
    for i, j in itertools.product(range(9), range(7)):
        for long, deep in ((1, 1), (2, 1), (1, 2), (2, 2)):
            size = (deep, long) if axis == 0 else (long, deep)
            cells = levels[i : i + size[0], j : j + size[1]]
            if cells.shape != size or cells.min() < 0 or cells.min() != cells.max():
                continue
            low = (i * CELL, j * CELL, int(cells.min()))
            asked = -(-(least_top - int(cells.min())) // tall)
            for count in range(max(asked, 1), max(asked, 3) + 1 if asked <= 6 else 0):
                high = ((i + size[0]) * CELL, (j + size[1]) * CELL, low[2] + count * tall)
                met = []
                for row in rows.tolist():
                    shared = min(row[across + 3], high[across]) - max(row[across], low[across])
                    up = min(row[5], high[2]) - max(row[2], low[2])
                    gap = low[axis] - row[axis + 3] if forwards else row[axis] - high[axis]
                    if shared >= CELL // 2 and up >= LAYER and gap >= 0:
                        met.append((gap, (min(row[5], high[2]) + max(row[2], low[2])) / 2 - low[2]))
                if met and min(met)[0] <= CELL:
                    boxes = tuple(
                        (low[0], low[1], low[2] + n * tall, high[0], high[1], low[2] + (n + 1) * tall)
                        for n in range(count)
                    )
                    expected.add((count, deep, min(met)[0], long, min(met)[1] / 10, boxes))
                    break
    found = list(side_bricks._stacks(WAGON, frozenset(), rows.tolist(), way, least_top))  # type: ignore[arg-type]
    assert {(s.count, s.deep, s.gap, s.long, s.lever, s.boxes) for s in found} == expected
    for one in found:
        studs = one.long * one.deep
        for push in (0.2, 0.9, 1.1, 1.9, 2.1, 3.9, 4.1):
            holds = push <= studs and push * one.lever <= studs * one.deep * 8.0 / 2
            assert one.holds(push) == holds
