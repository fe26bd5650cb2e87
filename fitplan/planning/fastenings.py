"""What keeps parts from sliding off a deck and from tipping: bricks beside them on studs, else tape."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fitplan.checks.support import is_light, sliding_ways, tape_needed, tips
from fitplan.model.plan import BuiltTrain, Fastening, Piece, Placement
from fitplan.model.solids import Direction
from fitplan.packing.access.disassembly import part_rows, rows_at
from fitplan.packing.access.slide import Rows
from fitplan.packing.vehicle.side_bricks import side_bricks
from fitplan.planning.everyday_ways import rows_of_everyday_ways
from fitplan.planning.filled_room import rows_of_additions, rows_of_boxes, rows_of_wires


def with_fastenings(built: BuiltTrain) -> BuiltTrain:
    """Return the train with what must be fastened fastened; what is too heavy for tape stays a finding."""
    found: list[Fastening] = []
    for placement in built.placements:
        if tips(placement) and is_light(placement):
            found.append(Fastening(placement.need, placement.vehicle, (), tape_mm=tape_needed(placement)))
        ways = tuple(sliding_ways(built, placement))
        if ways:
            found += _against_sliding(replace(built, fastenings=tuple(found)), placement, ways)
    return replace(built, fastenings=tuple(found))


def _against_sliding(
    built: BuiltTrain, placement: Placement, ways: tuple[Direction, ...]
) -> Iterator[Fastening]:
    vehicle = built.train.vehicle(placement.vehicle).vehicle
    removed = built.taken_out(placement.vehicle)
    around = _around(built, placement)
    bricks: list[Piece] = []
    held: list[Direction] = []
    for way in ways:
        mine = rows_of_boxes(brick.box for brick in bricks)
        stack = side_bricks(vehicle, removed, placement, way, np.concatenate([around, mine]))
        if stack:
            bricks += stack
            held.append(way)
    if bricks:
        yield Fastening(placement.need, placement.vehicle, tuple(held), tuple(bricks))
    left = tuple(way for way in ways if way not in held)
    if left:
        yield Fastening(placement.need, placement.vehicle, left, tape_mm=tape_needed(placement))


def _around(built: BuiltTrain, placement: Placement) -> Rows:
    """Return what a brick may not run into: other parts and their rooms, wires, and ways in everyday use."""
    vehicle = placement.vehicle
    inside = {one.need: one for one in built.placements if one.vehicle == vehicle}
    found = [rows_of_wires(built, vehicle), rows_of_additions(built, vehicle)]
    for one in inside.values():
        found.append(rows_at(one.place, [entry.solid for entry in one.part.clearances]))
        if one.need != placement.need:
            found.append(part_rows(one))
    # Bricks are pressed on last, and stay on when something else is exchanged.
    found.append(rows_of_everyday_ways(built, vehicle))
    return np.concatenate(found)
