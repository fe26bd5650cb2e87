"""The room that is swept in everyday use: by parts that are taken out, by fingers and by plugs."""

from __future__ import annotations

import numpy as np

from fitplan.model.built import BuiltTrain
from fitplan.packing.access.disassembly import part_rows, rows_at, swept_rows
from fitplan.packing.access.exchange import access_room
from fitplan.packing.access.slide import Rows, rows_of


def rows_of_everyday_ways(built: BuiltTrain, vehicle: str) -> Rows:
    """Return what is swept in a vehicle on ways that are used often: what stays is kept out of it."""
    inside = {one.need: one for one in built.placements if one.vehicle == vehicle}
    found = [rows_of([])]
    for entry in built.exchanged:
        ways = (*entry.first, *([entry.last] if entry.last is not None else []))
        for way in ways if entry.vehicle == vehicle and entry.often else ():
            found += [swept_rows(part_rows(inside[need]), way.moves) for need in way.parts if need in inside]
            if not way.parts and entry.need in inside:
                placed = inside[entry.need]
                for access in (one for one in placed.part.access if one.name == entry.access):
                    room = rows_at(placed.place, access_room(placed.part, access))
                    found.append(swept_rows(room, way.moves))
    return np.concatenate(found)
