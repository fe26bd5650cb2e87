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
    x, y = rng.integers(100, 260, 2).tolist()
    long, wide, high = (int(v) for v in rng.integers([60, 60, 20], [260, 160, 160]))
    rows = np.array(
        [
            [x, y, 217, x + long, y + wide, 217 + high],
            [x + 13, y - 7, 217, x + long - 20, y + 31, 217 + high - 11],
        ]
    )
    return levels, rows


@pytest.mark.parametrize("seed", range(8))
def test_every_strap_is_looked_at(monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    """A plate of three studs and more, one or two wide, that ends on level studs on either side."""
    levels, rows = scene(seed)
    monkeypatch.setattr(straps, "stud_levels", lambda vehicle, removed: [levels])
    found = {
        (p[-1][1], axis): (count, studs, p)
        for count, studs, p, axis in straps._straps(WAGON, frozenset(), rows)
    }
    x0, y0 = rows[:, 0].min(), rows[:, 1].min()
    x1, y1, top = rows[:, 3].max(), rows[:, 4].max(), rows[:, 5].max()
    tops = rows[rows[:, 5] == top]
    expected = {}
    for m, n in FOOTPRINTS:
        for i, j, axis in itertools.product(range(9 - m + 1), range(7 - n + 1), (0, 1)):
            size, at = (m, n), (i, j)
            if size[axis] < 3 or size[1 - axis] > 2:
                continue
            box = (i * CELL, j * CELL, (i + m) * CELL, (j + n) * CELL)
            over = [t for t in tops if box[2] > t[0] // CELL * CELL and box[0] < t[3]]
            over = [t for t in over if box[3] > t[1] // CELL * CELL and box[1] < t[4]]
            if not over:
                continue
            part, end = ((x0, x1), (y0, y1))[axis], at[axis] + size[axis]
            if (at[axis] + 1) * CELL > part[0] or (end - 1) * CELL < part[1]:
                continue
            other = ((x0, x1), (y0, y1))[1 - axis]
            if min(box[3 - axis], other[1]) - max(box[1 - axis], other[0]) < CELL // 2:
                continue
            ends = [levels[i : i + m, j : j + n].take([edge], axis=axis) for edge in (0, -1)]
            if any(len(set(e.ravel().tolist())) > 1 or e.min() < 0 for e in ends):
                continue
            one, two = (int(e.ravel()[0]) for e in ends)
            under = next(h for h in range(top, top + LAYER) if (h - one) % LAYER == 0)
            if (under - two) % LAYER or under < two:
                continue
            stacks = [(under - level) // LAYER for level in (one, two)]
            pieces = sum(s // 3 + s % 3 for s in stacks) + 1
            expected[(box[0], box[1], under, box[2], box[3], under + LAYER), axis] = (pieces, m * n)
    assert {key: value[:2] for key, value in found.items()} == expected
    for (plate, axis), (count, _, pieces) in found.items():
        assert len(pieces) == count
        assert pieces[-1][1] == plate
        for foot in (pieces[: count // 2], pieces[count // 2 : -1]):
            assert all(box[axis + 3] - box[axis] == CELL for _, box in foot)
            assert all(box[4 - axis] - box[1 - axis] == plate[4 - axis] - plate[1 - axis] for _, box in foot)


@pytest.mark.parametrize("way", ["+x", "-x", "+y", "-y"])
@pytest.mark.parametrize("seed", range(3))
def test_every_stack_beside_a_part_is_looked_at(monkeypatch: pytest.MonkeyPatch, seed: int, way: str) -> None:
    """On one or two studs, as low as it meets the part: how far that slides, and its lever."""
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
            for count in range(1, side_bricks._MOST_BRICKS + 1):
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
    found = list(side_bricks._stacks(WAGON, frozenset(), rows.tolist(), way))  # type: ignore[arg-type]
    assert {(s.count, s.deep, s.gap, s.long, s.lever, s.boxes) for s in found} == expected
    for one in found:
        studs = one.long * one.deep
        for push in (0.2, 0.9, 1.1, 1.9, 2.1, 3.9, 4.1):
            holds = push <= studs and push * one.lever <= studs * one.deep * 8.0 / 2
            assert one.holds(push) == holds
