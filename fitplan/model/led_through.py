"""Whether a lead with its plugs on can be led through the ports on its way."""

from __future__ import annotations

from collections.abc import Sequence

from fitplan.model.built import BuiltTrain
from fitplan.model.plugged import PLUG
from fitplan.model.solids import Vec, axis_of, bounds_of
from fitplan.model.studs import floor_studs
from fitplan.model.vehicle import Port, Vehicle
from fitplan.model.wired import Leg, Wire, WireEnd


def goes_through(built: BuiltTrain, wire: Wire) -> bool:
    """Return whether a lead with its plugs on can be led through the ports on its way.

    It starts in some vehicle, or in some gap, from where each of its plugs goes through what lies ahead.
    """
    ways = _openings(built, wire.legs)
    first, second = (plug_at(built, end) for end in (wire.start, wire.end))
    back = next((n for n, way in enumerate(ways) if not slips(first, way)), len(ways))
    ahead = next((n for n, way in enumerate(reversed(ways)) if not slips(second, way)), len(ways))
    return back + ahead >= len(ways)


def drawn_out_at(built: BuiltTrain, wire: Wire, here: str, there: str) -> WireEnd | None:
    """Return the end by which a lead, once unplugged there, is drawn out of vehicles that are parted.

    That on the side of ``here`` if its plug passes all ports there, else that of ``there``; None: neither.
    """
    order = [leg.vehicle for leg in wire.legs]
    one, other = order.index(here), order.index(there)
    sides = [(wire.start, wire.legs[: min(one, other) + 1]), (wire.end, wire.legs[max(one, other) :])]
    if one > other:
        sides.reverse()
    for end, legs in sides:
        if all(slips(plug_at(built, end), way) for way in _openings(built, legs)):
            return end
    return None


def _openings(built: BuiltTrain, legs: Sequence[Leg]) -> list[tuple[float, float]]:
    """Return width and height of what ports leave a plug, one after the other along a way."""
    ways: list[tuple[float, float]] = []
    for leg in legs:
        vehicle = built.train.vehicle(leg.vehicle).vehicle
        ports = {port.name: port for port in vehicle.ports}
        out = built.taken_out(leg.vehicle)
        ways += [over_studs(vehicle, ports[name], out) for name in (leg.enters, leg.leaves) if name]
    return ways


def over_studs(vehicle: Vehicle, port: Port, removed: frozenset[str]) -> tuple[float, float]:
    """Return width and height (mm) of what a port leaves a plug: over the studs that stand in it.

    Between two studs, 3.2 mm, goes no plug.
    """
    width, height = port.opening
    if axis_of(port.out) == 2:
        return width, height
    low, high = port.box.low, port.box.high
    tops = [
        box.high[2]
        for stud in floor_studs(vehicle, removed)
        if all(low[i] < (box := stud.solid.bounds).high[i] and box.low[i] < high[i] for i in range(3))
    ]
    return width, high[2] - max([low[2], *tops])


def plug_at(built: BuiltTrain, end: WireEnd) -> Vec | None:
    """Return the size of the plug that a lead has at an end; None where it has none that is thicker."""
    placement = built.placement(end.owner) if end.kind == "pin" else None
    rooms = placement.part.clearances if placement is not None else ()
    pin = next((one for one in built.pins_of(end.owner) if one.name == end.pin), None)
    if pin is None or not pin.socket:
        return None
    return next((bounds_of((one.solid,)).size for one in rooms if one.name == PLUG), None)


def slips(plug: Vec | None, opening: tuple[float, float]) -> bool:
    """Return whether a plug goes through an opening, the longest edge ahead."""
    if plug is None:
        return True
    low, high = sorted(opening)
    small, middle, _ = sorted(plug)
    return small <= low and middle <= high
