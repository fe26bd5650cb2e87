"""From where a part comes out through an opening on any side, against a flood over every offset of a lattice.

Bodies, lids and parts are whole in cells of 1.6 mm, so that free offsets are closed boxes with corners on
that lattice: two that touch share a point of it, and a flood by single steps finds just what hangs together.
"""

from __future__ import annotations

from collections import deque
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from fitplan.lattice.boxes import hull_in_tenths
from fitplan.lattice.cover import IntBox
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Direction, Place, Vec, axis_of, is_forward, pose_named
from fitplan.model.vehicle import BodySolid, Opening, Vehicle
from fitplan.packing.access.reachable_offsets import offsets_with_a_way_in, room_to_leave, surely_shut_in
from tests.packing.small_trains import block, hollow

CELL = 16
"""Tenths of a mm."""
SIDES: tuple[Direction, ...] = ("+x", "-x", "+y", "-y", "+z", "-z")
LID: dict[str, tuple[Vec, Vec]] = {
    "+x": ((32, 8, 19.2), (40, 24, 32)),
    "-x": ((0, 8, 19.2), (8, 24, 32)),
    "+y": ((8, 24, 19.2), (32, 32, 32)),
    "-y": ((8, 0, 19.2), (32, 8, 32)),
    "+z": ((8, 8, 35.2), (32, 24, 38.4)),
    "-z": ((8, 8, 16), (32, 24, 19.2)),
}
"""Openings of a box that is 24 × 16 × 16 mm inside, a stud or a plate thick."""
Flags = NDArray[np.bool_]


def body(out: Direction, dice: np.random.Generator) -> Vehicle:
    """A box with one lid, narrower than its side by chance, and three bricks in the way by chance."""
    plain = hollow("v", 5, 4, 5)
    low, high = (list(end) for end in LID[out])
    for axis in range(3):
        if axis != axis_of(out):
            low[axis] += 1.6 * int(dice.integers(0, 3))
            high[axis] -= 1.6 * int(dice.integers(0, 3))
    lid = Opening("lid", Box(_vec(low), _vec(high)), out)
    more = []
    for _ in range(3):
        size = dice.integers(1, 6, 3)
        at = dice.integers(0, 8, 3)
        corner = np.array([8, 8, 19.2]) + 1.6 * at
        more.append(BodySolid(Box(_vec(corner), _vec(corner + 1.6 * size)), "fixed"))
    return replace(plain, body=(*plain.body, *more), openings=(lid,), ports=())


def _vec(values: object) -> Vec:
    x, y, z = (round(float(value), 1) for value in values)  # type: ignore[attr-defined]
    return (x, y, z)


def cells(vehicle: Vehicle, low: NDArray[np.int64], high: NDArray[np.int64]) -> Flags:
    """Which cells between two corners of the lattice are solid while the lid is off."""
    solid = np.zeros(tuple((high - low) // CELL), dtype=bool)

    def paint(box: Box, value: bool) -> None:
        a, b = (np.round(np.array(end) * 10).astype(int) for end in (box.low, box.high))
        first, last = (a - low) // CELL, (b - low) // CELL
        solid[tuple(slice(max(int(p), 0), max(int(q), 0)) for p, q in zip(first, last, strict=True))] = value

    for one in vehicle.body:
        paint(one.solid if isinstance(one.solid, Box) else one.solid.bounds, one.state == "fixed")
    paint(vehicle.openings[0].box, False)
    return solid


def flooded(vehicle: Vehicle, mover: NDArray[np.int64]) -> dict[tuple[int, ...], bool]:
    """For each offset on the lattice inside the room that a part may use: whether it comes out from there."""
    lid = vehicle.openings[0]
    axis, forwards = axis_of(lid.out), is_forward(lid.out)
    room = room_to_leave(mover, hull_in_tenths(vehicle), lid)
    first = -((-room[:3]) // CELL) * CELL
    last = room[3:] // CELL * CELL
    margin = CELL * 20
    low = (first + mover[:, :3].min(axis=0)) // CELL * CELL - margin
    high = (last + mover[:, 3:].max(axis=0)) // CELL * CELL + margin
    solid = cells(vehicle, low, high)
    edges = [round(10 * value) for value in (*lid.box.low, *lid.box.high)]
    whole_low, whole_high = mover[:, :3].min(axis=0), mover[:, 3:].max(axis=0)

    def free(at: NDArray[np.int64]) -> bool:
        for row in mover:
            a, b = (row[:3] + at - low) // CELL, (row[3:] + at - low) // CELL
            if solid[a[0] : b[0], a[1] : b[1], a[2] : b[2]].any():
                return False
        ahead = (
            whole_high[axis] + at[axis] > edges[axis + 3]
            if forwards
            else whole_low[axis] + at[axis] < edges[axis]
        )
        middle = (whole_low + whole_high) / 2 + at
        return not ahead or all(edges[k] <= middle[k] <= edges[k + 3] for k in range(3) if k != axis)

    count = (last - first) // CELL + 1
    grid = {
        tuple(index): free(first + CELL * np.array(index)) for index in np.ndindex(*(int(n) for n in count))
    }
    end = int(count[axis]) - 1 if forwards else 0
    queue = deque(index for index, open_ in grid.items() if open_ and index[axis] == end)
    reached = set(queue)
    while queue:
        index = queue.popleft()
        for k in range(3):
            for step in (-1, 1):
                other = tuple(n + step * (k == i) for i, n in enumerate(index))
                if grid.get(other) and other not in reached:
                    reached.add(other)
                    queue.append(other)
    return {tuple(int(v) for v in first + CELL * np.array(index)): index in reached for index in grid}


@pytest.mark.parametrize("out", SIDES)
@pytest.mark.parametrize("seed", range(2))
def test_just_those_offsets_come_out_that_a_flood_reaches(seed: int, out: Direction) -> None:
    dice = np.random.default_rng([seed, SIDES.index(out)])
    vehicle = body(out, dice)
    size = 32 * dice.integers(1, 3, 3)
    solid = (IntBox(0, 0, 0, *(int(edge) for edge in size)),)
    found = offsets_with_a_way_in(vehicle, solid, frozenset())
    assert found is not None
    expected = flooded(vehicle, np.array(solid, dtype=np.int64))
    assert any(expected.values())
    for offset, comes_out in expected.items():
        told = bool(np.all((found[:, :3] <= offset) & (found[:, 3:] >= offset), axis=1).any())
        assert told is comes_out, offset


def test_without_a_way_in_there_are_none_and_two_ways_are_joined() -> None:
    plain = replace(hollow("v", 5, 4, 5), openings=(), ports=())
    none = offsets_with_a_way_in(plain, ((0, 0, 0, 32, 32, 32),), frozenset())
    assert none is not None
    assert none.shape == (0, 6)
    lids = tuple(Opening(f"lid {out}", Box(*LID[out]), out) for out in SIDES)
    one = [offsets_with_a_way_in(replace(plain, openings=(lid,)), ((0, 0, 0, 32, 32, 32),), frozenset())
           for lid in lids]  # fmt: skip
    every = offsets_with_a_way_in(replace(plain, openings=lids), ((0, 0, 0, 32, 32, 32),), frozenset())
    assert every is not None
    assert len(every) == sum(len(rows) for rows in one if rows is not None)


@pytest.mark.parametrize("out", SIDES)
@pytest.mark.parametrize(("wider", "shut"), [(-0.4, False), (0.0, False), (0.5, True), (3.0, True)])
def test_what_is_wider_than_its_only_hole_is_shut_in(out: Direction, wider: float, shut: bool) -> None:
    """The hole is 8 × 8 mm, with the play of bricks 8.2 at the most; the part so much more across it."""
    plain = hollow("v", 5, 4, 5)
    axis = axis_of(out)
    low, high = (list(end) for end in LID[out])
    for k in range(3):
        if k != axis:
            middle = (low[k] + high[k]) / 2
            low[k], high[k] = middle - 4, middle + 4
    vehicle = replace(plain, openings=(Opening("lid", Box(_vec(low), _vec(high)), out),), ports=())
    size = [8.0 + wider] * 3
    size[axis] = 4.0
    part = block("block", _vec(size))
    at = [20 - size[0] / 2, 16 - size[1] / 2, 27.2 - size[2] / 2]
    placement = Placement("block", part, "v", Place(pose_named("+x+y+z"), _vec(at)), "")
    assert surely_shut_in(vehicle, placement, frozenset()) is shut
    assert surely_shut_in(replace(vehicle, openings=()), placement, frozenset())
