"""Plates over two stacks, from the roof and tiles on side studs: the same in a mirror, and cell by cell."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.lattice.boxes import hull_in_tenths
from fitplan.model.facts import G_M_S2, STUD_HOLDS_N
from fitplan.model.solids import Box
from fitplan.packing.vehicle.addition_shapes import (
    CELL,
    FEET,
    KNOB,
    LAYER,
    Candidate,
    UnsupportedPart,
    arms_under,
    levers,
)
from fitplan.packing.vehicle.liked_places import PER_ACROSS, PER_REACH, unliked
from fitplan.packing.vehicle.reaching_additions import (
    _columns,
    _feet,
    _levels,
    _tops,
    bridges,
    ends_of,
    hangers,
    roof_undersides,
)
from fitplan.packing.vehicle.side_studs import clips
from tests.packing.small_trains import block, hollow

SEEDS = range(6)
SIZE = (6, 5)
Ints = tuple[int, ...]
Turn = tuple[Callable[[Ints], Ints], Callable[[np.ndarray], np.ndarray]]


def mirrored(axis: int) -> Turn:
    """Return what mirrors boxes and rectangles, and grids of cells, along an axis."""

    def box(row: Ints) -> Ints:
        half, far = len(row) // 2, SIZE[axis] * CELL
        found = list(row)
        found[axis], found[axis + half] = far - row[axis + half], far - row[axis]
        return tuple(found)

    return box, lambda cells: np.flip(cells, axis)


def swapped() -> Turn:
    """Return what makes the length the width."""

    def box(row: Ints) -> Ints:
        half = len(row) // 2
        found = list(row)
        found[0], found[1], found[half], found[half + 1] = row[1], row[0], row[half + 1], row[half]
        return tuple(found)

    return box, lambda cells: np.swapaxes(cells, 0, 1)


TURNS = {"along": mirrored(0), "across": mirrored(1), "swapped": swapped()}


def drawn(
    seed: int,
) -> tuple[UnsupportedPart, list[np.ndarray], list[np.ndarray], list[tuple[int, np.ndarray]]]:
    """Return a part of two boxes over studs of several heights, how free it is above them, and a roof."""
    rng = np.random.default_rng(seed)
    low = np.array([*rng.integers(60, 200, 2), 4 * LAYER + int(rng.integers(0, 12))])
    one = [*low.tolist(), *(low + rng.integers(60, 170, 3)).tolist()]
    two = [one[3], one[1], one[2] + 20, one[3] + 60, one[4], one[5]]
    boxes: Any = (tuple(one), tuple(two))
    part = UnsupportedPart(boxes, (), (), float(rng.choice([2.0, 9.0, 60.0])), float(rng.choice([0.02, 0.6])))
    studs = [rng.choice([-1, 0, LAYER, 2 * LAYER], SIZE) for _ in range(2)]
    ceilings = [np.full(SIZE, 9 * LAYER) - rng.integers(0, 5, SIZE) * LAYER for _ in range(2)]
    roof = [(one[5] + k * LAYER, rng.random(SIZE) < 0.8) for k in (-1, 1, 2)]
    return part, studs, ceilings, roof


def told(candidates: Any, box: Callable[[Ints], Ints]) -> Counter[Any]:
    def one(found: Candidate) -> Any:
        pieces = frozenset((kind, box(row)) for kind, row in found.pieces)
        over = tuple((kind, box(row)) for kind, row in found.over)
        touch = None if found.touch is None else box(found.touch)
        return (found.kind, pieces, over, found.studs, found.steady, touch, found.bears)

    return Counter(map(one, candidates))


def every(part: UnsupportedPart, studs: Any, ceilings: Any, roof: Any) -> list[Candidate]:
    arms = arms_under(studs[0].shape, part)
    found = [*bridges(studs, ceilings, part, arms), *hangers(roof, part, arms)]
    return found + [
        one for ground, above in zip(studs, ceilings, strict=True) for one in clips(ground, part, above)
    ]


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("seed", SEEDS)
def test_a_scene_in_a_mirror_gives_the_mirrored_pieces(seed: int, turn: str) -> None:
    """Along, across, and with length and width exchanged: neither side is better looked after."""
    part, studs, ceilings, roof = drawn(seed)
    box, grid = TURNS[turn]
    other = replace(part, boxes=tuple(box(row) for row in part.boxes))  # type: ignore[misc]
    one = every(part, studs, ceilings, roof)
    two = every(other, [grid(g) for g in studs], [grid(g) for g in ceilings], [(z, grid(g)) for z, g in roof])
    assert told(one, box) == told(two, lambda row: row)
    assert one


def test_every_kind_was_looked_at() -> None:
    """The drawn scenes hold bridges, hangers and clips, such that bear and such that do not."""
    found = [one for seed in SEEDS for one in every(*drawn(seed))]
    assert {one.kind for one in found} == {"bridge", "hanger", "clip"}
    for kind in ("bridge", "hanger"):
        assert {one.bears for one in found if one.kind == kind} == {True, False}
        assert {one.steady for one in found if one.kind == kind} == {True, False}


@pytest.mark.parametrize("seed", SEEDS)
def test_what_reaches_lies_where_it_may(seed: int) -> None:
    """Plates end less than a plate under the part, stacks go from studs up to them, or down from the roof."""
    part, studs, ceilings, roof = drawn(seed)
    bottoms = {box[2] for box in part.boxes}
    for one in every(part, studs, ceilings, roof):
        if one.kind == "clip":
            continue
        plate = max((row for _, row in one.pieces), key=lambda row: (row[3] - row[0]) * (row[4] - row[1]))
        assert one.touch is not None
        assert plate[0] <= one.touch[0] < one.touch[2] <= plate[3]
        assert plate[1] <= one.touch[1] < one.touch[3] <= plate[4]
        ((name, knobs), *pads) = one.over
        assert name == "studs"
        bottom = pads[0][1][5] if pads else knobs[5]
        assert bottom in bottoms
        assert knobs[2] == plate[5]
        assert 0 <= bottom - knobs[5] < LAYER


@pytest.mark.parametrize("seed", SEEDS)
def test_feet_ends_levels_and_tops(seed: int) -> None:
    """Each looked for among all rectangles, levels and heights."""
    rng = np.random.default_rng(seed)
    arm = (1, 0, 5, 4)
    touch = tuple(np.sort(rng.integers(0, 6 * CELL, (2, 2)), axis=0).ravel().tolist())
    wanted = [
        (i, j, i + m, j + n)
        for m, n in FEET
        for i, j in itertools.product(range(1, 5), range(4))
        if i + m <= 5
        and j + n <= 4
        and (
            (i + m) * CELL <= touch[0]
            or i * CELL >= touch[2]
            or (j + n) * CELL <= touch[1]
            or j * CELL >= touch[3]
        )
    ]
    assert list(_feet(arm, touch)) == wanted  # type: ignore[arg-type]
    assert ends_of(arm, 0) == ((1, 0, 2, 4), (4, 0, 5, 4))
    assert ends_of(arm, 1) == ((1, 0, 5, 1), (1, 3, 5, 4))
    bottom, levels = 400 + seed, [7, 0, 32, 71]
    tops = [
        t
        for t in range(bottom - KNOB - LAYER + 1, bottom - KNOB + 1)
        if any((t - z) % LAYER == 0 for z in levels)
    ]
    assert list(_tops(bottom, levels)) == tops
    studs = [rng.choice([-1, 0, LAYER, 50], SIZE, p=[0.1, 0.3, 0.5, 0.1]) for _ in range(3)]
    ceilings = [rng.integers(0, 6, SIZE) * LAYER for _ in range(3)]
    for i, j in itertools.product(range(5), range(4)):
        for foot in ((i, j, i + 1, j + 1), (i, j, i + 2, j + 1)):
            for top in (0, LAYER, 2 * LAYER, 2 * LAYER + 50):
                cells = list(itertools.product(range(foot[0], foot[2]), range(foot[1], foot[3])))
                found = [
                    int(ground[cells[0]])
                    for ground, above in zip(studs, ceilings, strict=True)
                    if len({int(ground[cell]) for cell in cells}) == 1
                    and 0 <= ground[cells[0]] <= top
                    and (top - ground[cells[0]]) % LAYER == 0
                    and all(above[cell] >= top for cell in cells)
                ]
                assert list(_levels(_columns(studs, ceilings), foot, top)) == found


def test_a_foot_bears_up_to_its_studs() -> None:
    """Right under its middle as much as its studs hold; a foot's width aside a third of that."""
    for foot in ((0, 0, 1, 2), (1, 1, 3, 3)):
        count = (foot[2] - foot[0]) * (foot[3] - foot[1])
        middle = ((foot[0] + foot[2]) * CELL / 2, (foot[1] + foot[3]) * CELL / 2)
        most = count * STUD_HOLDS_N / G_M_S2 * 1000
        assert levers(most * 0.999, foot, middle, hung=True)
        assert not levers(most * 1.001, foot, middle, hung=True)
        # A foot's width aside the lever is three halves of it long, against half a foot.
        aside = (middle[0] + (foot[2] - foot[0]) * CELL, middle[1])
        assert levers(most / 3 * 0.999, foot, aside, hung=True)
        assert not levers(most / 3 * 1.001, foot, aside, hung=True)


@pytest.mark.parametrize("seed", SEEDS)
def test_undersides_of_a_roof_cell_by_cell(seed: int) -> None:
    """Whole cells under a brick, whole plates above the body, with nothing below, and no lid."""
    rng = np.random.default_rng(seed)
    base = 160
    plain = hollow("v", *SIZE, 6)
    lid = replace(plain.openings[0], box=Box((8.0, 8.0, 20.0), (23.0, 24.0, 60.0)))
    vehicle = replace(plain, openings=(lid,))
    rows = []
    for _ in range(7):
        low = [
            *rng.integers(0, 300, 2).tolist(),
            base + int(rng.integers(0, 9)) * LAYER + int(rng.choice([0, 0, 5])),
        ]
        rows.append([*low, *(a + int(b) for a, b in zip(low, rng.integers(20, 260, 3), strict=True))])
    rows = [[max(0, r[0]), r[1], r[2], min(r[3], 480), min(r[4], 400), r[5]] for r in rows]
    rows = [row for row in rows if row[0] < row[3] and row[1] < row[4]]
    found = dict(roof_undersides(vehicle, np.array(rows)))
    under = hull_in_tenths(vehicle)[2]
    low, high = [v * 10 for v in lid.box.low], [v * 10 for v in lid.box.high]

    def meets(one: Any, other: Any) -> bool:
        return all(one[k] < other[k + 3] and other[k] < one[k + 3] for k in range(3))

    for z in {row[2] for row in rows}:
        cells = np.zeros(SIZE, bool)
        for i, j in itertools.product(range(SIZE[0]), range(SIZE[1])):
            cell = (i * CELL, j * CELL, z, (i + 1) * CELL, (j + 1) * CELL, z + LAYER)
            below = (*cell[:2], z - LAYER, *cell[3:5], z)
            cells[i, j] = (
                z != under
                and (z - under) % LAYER == 0
                and any(
                    r[2] == z
                    and r[5] - z >= LAYER
                    and r[0] <= cell[0]
                    and cell[3] <= r[3]
                    and r[1] <= cell[1]
                    and cell[4] <= r[4]
                    for r in rows
                )
                and not meets(cell, (*low, *high))
                and not any(meets(below, r) for r in rows)
            )
        assert (found.get(z, np.zeros(SIZE, bool)) == cells).all()
    assert list(found) == sorted(found)


def test_what_is_reached_often_is_liked_near_its_lid() -> None:
    """How far below the lid, and how far its middle beside it; longer across than along costs as well."""
    part = replace(block("p", (10.0, 10.0, 10.0)), access=())
    lid: Any = SimpleNamespace(out="+z", box=Box((20.0, 20.0, 50.0), (40.0, 30.0, 53.0)))
    side: Any = SimpleNamespace(out="-y", box=Box((0.0, -3.0, 0.0), (60.0, 0.0, 50.0)))
    bounds = np.array([(20.0, 20.0, 30.0, 30.0, 28.0, 40.0), (50.0, 0.0, 10.0, 56.0, 9.0, 44.0)])
    variant = np.zeros(2, np.int64)
    assert unliked(part, ["+x+y+z"], variant, bounds, [lid, side]) == pytest.approx([0.0, 3.0 * PER_ACROSS])
    for often in (True, False):
        reached: Any = SimpleNamespace(side="+z", often=often)
        access = replace(part, access=(reached,))
        cost = unliked(access, ["+x+y+z"], variant, bounds, [lid, side])
        # The first ends 10 mm below the lid, its middle under it; the second 6 mm, 13 and 15.5 mm beside it.
        wanted = [10.0 * PER_REACH[often], 3.0 * PER_ACROSS + (6.0 + 13.0 + 15.5) * PER_REACH[often]]
        assert cost == pytest.approx(wanted)
        assert unliked(access, ["+x+y+z"], variant, bounds, [side]) == pytest.approx([0.0, 3.0 * PER_ACROSS])
