"""What fills a vehicle once it is wired, as rows in tenths of a millimetre, rounded outwards."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.cover import TENTHS
from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box, Vec
from fitplan.packing.access.slide import Rows, rows_of

_EXACT = 1e-6
_PIECE = 8.0
"""Wires that run aslant are cut into pieces no longer than a stud, in mm."""
_LEVEL = 1.0
"""So far aside, in mm, a piece is left whole."""


def rows_of_boxes(boxes: Iterable[Box]) -> Rows:
    """Return boxes in mm as rows."""
    low_high = np.array([(*box.low, *box.high) for box in boxes], dtype=float).reshape(-1, 6) * TENTHS
    return rows_of(
        np.concatenate([np.floor(low_high[:, :3] + _EXACT), np.ceil(low_high[:, 3:] - _EXACT)], axis=1)
    )


def rows_of_wires(built: BuiltTrain, vehicle: str, connector: str = "") -> Rows:
    """Return boxes round the wires in a vehicle, but for those of one connector.

    What runs aslant is cut up: the box round all of it would fill room that is free.
    """
    boxes = []
    for wire in built.harness.wires:
        ends = [end.owner for end in (wire.start, wire.end) if end.kind == "connector"]
        for leg in wire.legs if connector not in ends else ():
            for one, two in pairwise(leg.points) if leg.vehicle == vehicle else ():
                for start, end in pairwise(_cut_up(one, two)):
                    low = np.minimum(start, end) - wire.outer_mm / 2
                    high = np.maximum(start, end) + wire.outer_mm / 2
                    boxes.append(Box(tuple(low.tolist()), tuple(high.tolist())))
    return rows_of_boxes(boxes)


def _cut_up(one: Vec, two: Vec) -> NDArray[np.float64]:
    """Return points from one end of a straight piece to the other, (n, 3); only ends where it runs level."""
    along = np.abs(np.subtract(two, one))
    aslant = float(np.sort(along)[1])  # what the box round it is wider than the wire, in its second extent
    count = max(1, math.ceil(float(along.max()) / _PIECE)) if aslant > _LEVEL else 1
    return np.linspace(one, two, count + 1)


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
