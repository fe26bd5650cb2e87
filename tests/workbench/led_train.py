"""A loco of two rooms with a hole in the wall between them, and a block in each, joined by two wires."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.needed import Need
from fitplan.model.part import Part
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import BodySolid, Opening, Removable, Vehicle
from fitplan.planning.run import plan_train
from fitplan.surface import read_train
from tests.packing.small_trains import block, hollow, train_of

HOLE = Box((60.0, 20.8, 44.0), (68.0, 26.4, 49.6))
DOOR = Box((60.0, 12.0, 22.4), (68.0, 36.0, 48.0))
"""The blocks, 24 mm wide and high, pass it."""


def two_rooms(hole: Box, *, lids: int = 1) -> Vehicle:
    """One lid over both rooms, or one over each."""
    body = hollow("loco", 16, 6, 12, kind="loco")
    (roof,) = body.openings
    if lids == 2:
        parts = (("rear roof", 8.0, 60.0), ("front roof", 68.0, 120.0))
        openings = (Opening(name, roof.box.with_span(0, low, high), "+z") for name, low, high in parts)
        body = replace(body, openings=tuple(openings))
    wall = BodySolid(Box((60.0, 8.0, 19.2), (68.0, 40.0, 57.6)), "fixed")
    return replace(body, body=(*body.body, wall, BodySolid(hole, "free")))


def planned_with(hole: Box, size: Vec = (40.0, 24.0, 24.0), lids: int = 1) -> Plan:
    return _planned((two_rooms(hole, lids=lids),), size)


def planned_with_a_brick_taken_out() -> Plan:
    """The hole is a brick until the plan has it taken out."""
    body = two_rooms(HOLE)
    brick = BodySolid(HOLE, "removable", "brick in the wall")
    body = replace(body, body=(*body.body[:-1], brick), removables=(Removable("brick in the wall", 1.0),))
    return _planned((body,), (40.0, 24.0, 24.0), may_open=True)


def planned_with_an_end_opened() -> Plan:
    """One block in a wagon, whose front wall the plan opens; only the rear of its two rooms has a lid."""
    loco, wagon = hollow("loco", 12, 6, 10, kind="loco"), replace(two_rooms(HOLE, lids=2), name="wagon")
    wagon = replace(
        wagon,
        kind="wagon",
        openings=wagon.openings[:1],
        ports=tuple(port for port in wagon.ports if port.out == "-x"),
    )
    return _planned((loco, wagon), (40.0, 24.0, 24.0), may_open=True)


def planned_with_a_wide_port() -> Plan:
    """One block in a wagon behind the wall with the hole; housings go through the port of the other room."""
    loco, wagon = hollow("loco", 12, 6, 12, kind="loco"), replace(two_rooms(HOLE, lids=2), name="wagon")
    ports = []
    for body, out in ((loco, "-x"), (wagon, "+x")):
        (port,) = (one for one in body.ports if one.out == out)
        ports.append(replace(port, box=Box((port.box.low[0], 12.0, 19.2), (port.box.high[0], 36.0, 40.0))))
    free = [BodySolid(port.box, "free") for port in ports]
    loco = replace(loco, body=(*loco.body, free[0]), ports=(ports[0],))
    wagon = replace(wagon, kind="wagon", openings=wagon.openings[:1], ports=(ports[1],))
    wagon = replace(wagon, body=(*wagon.body, free[1]))
    return _planned((loco, wagon), (40.0, 24.0, 24.0), pair="connector-2-small")


def _planned(vehicles: tuple[Vehicle, ...], size: Vec, may_open: bool = False, pair: str = "") -> Plan:
    parts: tuple[Part, Part] = (block("board", size), block("load", size))
    one, two = vehicles[0].name, vehicles[-1].name
    needs = (Need("one", (parts[0],), vehicles=(one,)), Need("two", (parts[1],), vehicles=(two,)))
    nets = (("go", ("one.p0", "two.p0")), ("back", ("one.p1", "two.p1")))
    train = train_of(vehicles, needs, nets)
    catalogue = {**read_train("peat-railcar").catalogue, **{part.id: part for part in parts}}
    wiring = replace(train.wiring, coupling_connector=pair)
    return plan_train(replace(train, catalogue=catalogue, may_open=may_open, wiring=wiring))
