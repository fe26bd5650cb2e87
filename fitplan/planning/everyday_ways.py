"""The room that parts sweep when they are taken out often."""

from __future__ import annotations

import numpy as np

from fitplan.model.built import BuiltTrain
from fitplan.packing.access.disassembly import part_rows, swept_rows
from fitplan.packing.access.slide import Rows, rows_of


def rows_of_everyday_ways(built: BuiltTrain, vehicle: str) -> Rows:
    """Return what parts of a vehicle sweep on ways that are used often: what stays is kept out of it."""
    inside = {one.need: one for one in built.placements if one.vehicle == vehicle}
    found = [rows_of([])]
    for entry in built.exchanged:
        ways = (*entry.first, *([entry.last] if entry.last is not None else []))
        for way in ways if entry.vehicle == vehicle and entry.often else ():
            found += [swept_rows(part_rows(inside[need]), way.moves) for need in way.parts if need in inside]
    return np.concatenate(found)
