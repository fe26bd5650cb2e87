"""What fills a vehicle once it is wired, as rows in tenths of a millimetre, rounded outwards."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

import numpy as np

from fitplan.lattice.cover import TENTHS
from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box
from fitplan.packing.access.slide import Rows, rows_of

_EXACT = 1e-6


def rows_of_boxes(boxes: Iterable[Box]) -> Rows:
    """Return boxes in mm as rows."""
    low_high = np.array([(*box.low, *box.high) for box in boxes], dtype=float).reshape(-1, 6) * TENTHS
    return rows_of(
        np.concatenate([np.floor(low_high[:, :3] + _EXACT), np.ceil(low_high[:, 3:] - _EXACT)], axis=1)
    )


def rows_of_wires(built: BuiltTrain, vehicle: str, connector: str = "") -> Rows:
    """Return a box round each straight piece of the wires in a vehicle, but for those of one connector."""
    boxes = []
    for wire in built.harness.wires:
        ends = [end.owner for end in (wire.start, wire.end) if end.kind == "connector"]
        for leg in wire.legs if connector not in ends else ():
            for one, two in pairwise(leg.points) if leg.vehicle == vehicle else ():
                low = np.minimum(one, two) - wire.outer_mm / 2
                high = np.maximum(one, two) + wire.outer_mm / 2
                boxes.append(Box(tuple(low.tolist()), tuple(high.tolist())))
    return rows_of_boxes(boxes)


def rows_of_additions(built: BuiltTrain, vehicle: str) -> Rows:
    """Return what was added: shelves, bricks that hold parts, connectors drawn in, surplus of leads."""
    boxes = [
        box
        for one in built.placements
        if one.vehicle == vehicle and one.shelf is not None
        for box in one.shelf.boxes
    ]
    boxes += [brick.box for one in built.fastenings if one.vehicle == vehicle for brick in one.bricks]
    leads = (wire.lead for wire in built.harness.wires if not wire.inside)
    boxes += [
        lead.fold for lead in leads if lead is not None and lead.fold is not None and lead.vehicle == vehicle
    ]
    pairs = (one.pair for one in built.harness.crossings)
    boxes += [pair.box for pair in pairs if pair is not None and pair.vehicle == vehicle]
    return rows_of_boxes(boxes)
