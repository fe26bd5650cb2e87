"""The two ends of wires, as the order of work names them, and what is made of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Set

from fitplan.model.built import BuiltTrain
from fitplan.model.part import PinJoint
from fitplan.model.solids import axis_of
from fitplan.model.wired import Crossing, Wire, WireEnd
from fitplan.model.work import EndOf, Side, WorkStep

SIDES: tuple[Side, Side] = ("start", "end")


def end_of(wire: Wire, side: Side) -> WireEnd:
    """Return an end of a wire."""
    return wire.start if side == "start" else wire.end


def ends_at(wires: Mapping[int, Wire], kind: str, owner: str) -> dict[EndOf, WireEnd]:
    """Return the ends of wires at a splice, a pin's owner or a coupling connector."""
    every = {(w.number, side): end_of(w, side) for w in wires.values() for side in SIDES}
    return {key: end for key, end in every.items() if (end.kind, end.owner) == (kind, owner)}


def is_built_in(built: BuiltTrain, owner: str) -> bool:
    """Return whether the owner of a pin is part of a vehicle, and no part that is placed."""
    return built.placement(owner) is None and built.train.built_in(owner) is not None


def joint_at(built: BuiltTrain, wire: Wire, end: WireEnd) -> PinJoint:
    """Return how a wire is fastened at a pin: as the pin says, but plugged where a lead is bought for it."""
    joints = [pin.joint for pin in built.pins_of(end.owner) if pin.name == end.pin]
    joint: PinJoint = joints[0] if joints else "solder"
    made = wire.lead is not None and not wire.lead.shortened
    return "plug" if made and joint != "attached" else joint


def housing_passes(built: BuiltTrain, crossing: Crossing, vehicle: str) -> bool:
    """Return whether the housing of a coupling, end first, goes through its port in a vehicle."""
    pair = built.train.catalogue.get(crossing.connector)
    name = crossing.port_ahead if vehicle == crossing.ahead else crossing.port_behind
    port = built.train.vehicle(vehicle).vehicle.port(name)
    if pair is None or port is None:
        return True
    across = sorted(edge for i, edge in enumerate(port.box.size) if i != axis_of(port.out))
    body = sorted(pair.bounds.size[1:])
    return body[0] <= across[0] and body[1] <= across[1]


def port_faults(
    built: BuiltTrain, wire: Wire, side: Side, step: WorkStep, fast: Set[EndOf], crimped: Set[EndOf]
) -> Iterator[str]:
    """Yield what is wrong with leading an end of a wire through a port.

    ``fast`` are the ends that hold something, ``crimped`` those that bear a contact.
    """
    places = [
        (place, leg)
        for place, leg in enumerate(wire.legs)
        if leg.vehicle == step.vehicle
        for port in (leg.enters, leg.leaves)
        if port == step.port
    ]
    if len(places) != 1:
        yield f"wire {wire.number} does not go through {step.port}"
        return
    place, leg = places[0]
    wanted: Side = "end" if leg.leaves == step.port or place else "start"
    if side != wanted:
        yield f"the wrong end of wire {wire.number} goes first"
    end = end_of(wire, side)
    crossing = next((one for one in built.harness.crossings if one.name == end.owner), None)
    if (wire.number, side) in fast:
        yield f"wire {wire.number} hangs on something that does not go through {step.port}"
    elif (wire.number, side) in crimped and (
        crossing is None or not housing_passes(built, crossing, end.vehicle)
    ):
        yield f"wire {wire.number} was crimped before"
