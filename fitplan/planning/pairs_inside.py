"""Connectors that the gap between two vehicles does not take are drawn into one of them, behind its port.

The pair must pass the port, end first, and find a box of free room behind it; the wires on both sides are cut
so much longer that it can be drawn out again to be parted.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fitplan.checks.connector_bodies import gap_of, lies_in
from fitplan.lattice.boxes import ExactSpace, hull_in_tenths
from fitplan.lattice.cover import TENTHS
from fitplan.model.built import BuiltTrain
from fitplan.model.hands import passes
from fitplan.model.part import Part
from fitplan.model.solids import Box, axis_of, is_forward, plane_of
from fitplan.model.vehicle import Port
from fitplan.model.wired import Crossing, PairDrawnIn
from fitplan.packing.access.disassembly import part_rows, rows_at
from fitplan.packing.access.slide import Rows, rows_of
from fitplan.planning.filled_room import rows_of_additions, rows_of_wires
from fitplan.routing.harness.wires import lengthened

ALLOWANCE = "pair drawn in at couplings"
_STEP = 8
"""Places behind a port are tried so far apart, in tenths of a millimetre."""
_ASIDE = 160
"""How far aside of the port's middle a pair may lie, in tenths."""
_LEADS = 40
"""Room for the leads between port and pair, in tenths."""


def with_pairs_inside(built: BuiltTrain) -> BuiltTrain:
    """Return the train with each pair that lies in no gap drawn into a vehicle, where one has room for it."""
    for crossing in built.harness.crossings:
        pair = built.train.catalogue.get(crossing.connector)
        if pair is None:
            continue
        ahead, behind = built.train.vehicle(crossing.ahead), built.train.vehicle(crossing.behind)
        if lies_in(pair, gap_of(built.train, ahead, behind)) is not None:
            continue
        sides = ((crossing.behind, crossing.port_behind), (crossing.ahead, crossing.port_ahead))
        found = next((place for side in sides for place in _places(built, crossing, pair, *side)), None)
        if found is not None:
            built = _drawn_in(built, crossing, found)
    return built


def _drawn_in(built: BuiltTrain, crossing: Crossing, inside: PairDrawnIn) -> BuiltTrain:
    step = built.train.wiring.allowances.rounding
    ends = {
        wire.number: sum(
            (end.kind, end.owner) == ("connector", crossing.name) for end in (wire.start, wire.end)
        )
        for wire in built.harness.wires
    }
    wires = tuple(
        lengthened(wire, ALLOWANCE, ends[wire.number] * inside.more_mm, step) if ends[wire.number] else wire
        for wire in built.harness.wires
    )
    longer = replace(crossing, free_mm=round(crossing.free_mm + 2 * inside.more_mm, 2), pair=inside)
    crossings = tuple(longer if one.name == crossing.name else one for one in built.harness.crossings)
    return replace(built, harness=replace(built.harness, wires=wires, crossings=crossings))


def _places(
    built: BuiltTrain, crossing: Crossing, pair: Part, vehicle: str, port_name: str
) -> Iterator[PairDrawnIn]:
    """Yield the places behind a port that take a pair, the nearest to the port's middle first."""
    shape = built.train.vehicle(vehicle).vehicle
    port = shape.port(port_name)
    if port is None or not passes(pair, port.opening):
        return
    hull = np.array(hull_in_tenths(shape))
    taken = _taken(built, crossing, vehicle)
    for row in _boxes(pair, port):
        outside = (row[:3] < hull[:3]).any() or (row[3:] > hull[3:]).any()
        if not outside and not ((taken[:, :3] < row[3:]) & (taken[:, 3:] > row[:3])).all(axis=1).any():
            axis = axis_of(port.out)
            mouth = plane_of(port.box, port.out)
            low, high = (row[:3] / TENTHS).tolist(), (row[3:] / TENTHS).tolist()
            more = abs(mouth - (low[axis] + high[axis]) / 2)
            yield PairDrawnIn(
                vehicle, Box((low[0], low[1], low[2]), (high[0], high[1], high[2])), round(more, 1)
            )


def _boxes(pair: Part, port: Port) -> Iterator[Rows]:
    """Yield boxes of a pair behind a port, its length along the port, in tenths."""
    axis, forwards = axis_of(port.out), is_forward(port.out)
    long, *sides = (round(edge * TENTHS) for edge in pair.bounds.size)
    inner = round((port.box.low if forwards else port.box.high)[axis] * TENTHS)
    middle = [round(value * TENTHS) for value in port.box.center]
    others = [i for i in range(3) if i != axis]
    offsets = sorted(
        ((u, v) for u in range(-_ASIDE, _ASIDE + 1, _STEP) for v in range(-_ASIDE, _ASIDE + 1, _STEP)),
        key=lambda offset: (offset[0] ** 2 + offset[1] ** 2, offset),
    )
    for offset in offsets:
        for edges in dict.fromkeys((tuple(sides), tuple(sides[::-1]))):
            row = np.zeros(6, dtype=np.int64)
            near = inner - _LEADS if forwards else inner + _LEADS
            row[axis], row[axis + 3] = (near - long, near) if forwards else (near, near + long)
            for i, edge, aside in zip(others, edges, offset, strict=True):
                row[i] = middle[i] + aside - edge // 2
                row[i + 3] = row[i] + edge
            yield row


def _taken(built: BuiltTrain, crossing: Crossing, vehicle: str) -> Rows:
    """Return what fills a vehicle: body with studs, parts with what they keep clear, and other wires."""
    space = ExactSpace.of(built.train.vehicle(vehicle).vehicle, removed=built.taken_out(vehicle))
    found = [
        rows_of(space.boxes(~space.free("outward"))),
        rows_of_wires(built, vehicle, crossing.name),
        rows_of_additions(built, vehicle),
    ]
    for one in built.placements:
        if one.vehicle == vehicle:
            rooms = [entry.solid for entry in one.part.clearances if not entry.lets_wires_through]
            found += [part_rows(one), rows_at(one.place, rooms)]
    return np.concatenate(found)
