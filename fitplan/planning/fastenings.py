"""What keeps parts from sliding off a deck and from tipping: bricks beside them on studs, else tape."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np

from fitplan.checks.support import is_light, sliding_ways, tape_needed, tips
from fitplan.lattice.cover import TENTHS, IntBox
from fitplan.model.plan import BuiltTrain, Fastening, Moves, Piece, Placement
from fitplan.model.solids import Direction, unit_vector
from fitplan.packing.access.disassembly import part_rows, rows_at
from fitplan.packing.vehicle.side_bricks import side_bricks


def with_fastenings(built: BuiltTrain) -> BuiltTrain:
    """Return the train with what must be fastened fastened; what is too heavy for tape stays a finding."""
    found: list[Fastening] = []
    for placement in built.placements:
        if tips(placement) and is_light(placement):
            found.append(Fastening(placement.need, placement.vehicle, (), tape_mm=tape_needed(placement)))
        ways = tuple(sliding_ways(built, placement))
        if ways:
            found += _against_sliding(built, placement, ways)
    return replace(built, fastenings=tuple(found))


def _against_sliding(
    built: BuiltTrain, placement: Placement, ways: tuple[Direction, ...]
) -> Iterator[Fastening]:
    vehicle = built.train.vehicle(placement.vehicle).vehicle
    removed = frozenset(
        name for entry in built.rebuilds if entry.vehicle == placement.vehicle for name in entry.remove
    )
    around = list(_around(built, placement))
    bricks: list[Piece] = []
    held: list[Direction] = []
    for way in ways:
        stack = side_bricks(vehicle, removed, placement, way, around)
        if stack:
            bricks += stack
            held.append(way)
            around += _boxes(np.round(np.array([[*one.box.low, *one.box.high] for one in stack]) * TENTHS))
    if bricks:
        yield Fastening(placement.need, placement.vehicle, tuple(held), tuple(bricks))
    left = tuple(way for way in ways if way not in held)
    if left:
        yield Fastening(placement.need, placement.vehicle, left, tape_mm=tape_needed(placement))


def _around(built: BuiltTrain, placement: Placement) -> Iterator[IntBox]:
    """Yield what a brick may not run into: other parts and their rooms, wires, and ways in everyday use."""
    vehicle = placement.vehicle
    inside = {one.need: one for one in built.placements if one.vehicle == vehicle}
    for one in inside.values():
        yield from _boxes(rows_at(one.place, [entry.solid for entry in one.part.clearances]))
        if one.need != placement.need:
            yield from _boxes(part_rows(one))
        if one.shelf is not None:
            yield from _boxes(np.round(np.array([[*box.low, *box.high] for box in one.shelf.boxes]) * TENTHS))
    for wire in built.harness.wires:
        for leg in wire.legs:
            if leg.vehicle == vehicle:
                points = np.array(leg.points, dtype=float)
                thick = wire.outer_mm / 2
                rows = [
                    [*(np.minimum(a, b) - thick), *(np.maximum(a, b) + thick)] for a, b in pairwise(points)
                ]
                yield from _boxes(np.round(np.array(rows).reshape(-1, 6) * TENTHS))
    # Bricks are pressed on last, and stay on when something else is exchanged.
    for entry in built.exchanged:
        ways = (*entry.first, *([entry.last] if entry.last is not None else []))
        for way in ways if entry.vehicle == vehicle and entry.often else ():
            for need in way.parts:
                if need in inside:
                    yield from _swept(inside[need], way.moves)


def _swept(placement: Placement, moves: Moves) -> Iterator[IntBox]:
    rows = part_rows(placement)
    for direction, distance in moves:
        step = np.array(unit_vector(direction), dtype=np.int64) * round(distance * TENTHS)
        after = rows + np.array([*step, *step])
        yield from _boxes(
            np.concatenate(
                [np.minimum(rows[:, :3], after[:, :3]), np.maximum(rows[:, 3:], after[:, 3:])], axis=1
            )
        )
        rows = after


def _boxes(rows: np.ndarray) -> Iterator[IntBox]:
    for row in rows.astype(np.int64).tolist():
        yield IntBox(row[0], row[1], row[2], row[3], row[4], row[5])
