"""What each net joins, resolved to pins in their places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fitplan.model.part import Pin
from fitplan.model.plan import BuiltTrain, Placement, Unreached
from fitplan.model.solids import Direction, Vec
from fitplan.model.train import Net, PinRef


@dataclass(frozen=True)
class NetEnd:
    """One pin of a net where it is now: point and direction in the frame of its vehicle (mm)."""

    net: str
    owner: str
    pin: str
    vehicle: str
    at: Vec
    exit: Direction


@dataclass(frozen=True)
class ResolvedNet:
    """A net with all the ends that could be found, in the order in which the user joined them."""

    net: Net
    ends: tuple[NetEnd, ...]


def resolve(built: BuiltTrain) -> tuple[tuple[ResolvedNet, ...], tuple[Unreached, ...]]:
    """Find the pin of every end of every net; what has no place or no pin is unreached."""
    nets: list[ResolvedNet] = []
    lost: list[Unreached] = []
    for net in built.train.nets:
        ends: list[NetEnd] = []
        for ref in net.joins:
            found = _ends(built, net, ref)
            if isinstance(found, Unreached):
                lost.append(found)
            else:
                ends.extend(found)
        nets.append(ResolvedNet(net, tuple(dict.fromkeys(ends))))
    return tuple(nets), tuple(lost)


def _ends(built: BuiltTrain, net: Net, ref: PinRef) -> list[NetEnd] | Unreached:
    if "/" in ref.owner:
        vehicle, name = ref.owner.split("/", 1)
        body = next(b for b in built.train.vehicle(vehicle).vehicle.built_in if b.name == name)
        pin = _pick(body.pins, ref.pin)
        if pin is None:
            return Unreached(net.name, ref.owner, ref.pin, "it has no such pin")
        return [NetEnd(net.name, ref.owner, pin.name, vehicle, pin.at, pin.exit)]
    placement = built.placement(ref.owner)
    if placement is None:
        return Unreached(net.name, ref.owner, ref.pin, "the part has no place")
    if ref.pin == "*":
        used = [use.pin for use in built.pin_map if use.controller == ref.owner and use.net == net.name]
        names = list(dict.fromkeys(used))
        if not names:
            return Unreached(net.name, ref.owner, ref.pin, "no free pin can do what this net wants")
        return [_placed_end(net, placement, placement.part.pin(name)) for name in names]
    pin = _pick(placement.part.pins, ref.pin)
    if pin is None:
        return Unreached(net.name, ref.owner, ref.pin, f"{placement.part.name} has no such pin")
    return [_placed_end(net, placement, pin)]


def _pick(pins: Sequence[Pin], name: str) -> Pin | None:
    """Return the pin of this name, or else the first of this role."""
    named = next((pin for pin in pins if pin.name == name), None)
    return named or next((pin for pin in pins if pin.role == name), None)


def _placed_end(net: Net, placement: Placement, pin: Pin) -> NetEnd:
    place = placement.place
    return NetEnd(
        net.name,
        placement.need,
        pin.name,
        placement.vehicle,
        place.move(pin.at),
        place.pose.turn_direction(pin.exit),
    )
