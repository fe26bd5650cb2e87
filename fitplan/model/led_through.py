"""Whether a lead with its plugs on can be led through the ports on its way."""

from __future__ import annotations

from fitplan.model.built import BuiltTrain
from fitplan.model.plugged import PLUG
from fitplan.model.solids import Vec, bounds_of
from fitplan.model.wired import Wire, WireEnd


def goes_through(built: BuiltTrain, wire: Wire) -> bool:
    """Return whether a lead with its plugs on can be led through the ports on its way.

    It starts in some vehicle, or in some gap, from where each of its plugs goes through what lies ahead.
    """
    ways: list[tuple[float, float]] = []
    for leg in wire.legs:
        ports = {port.name: port for port in built.train.vehicle(leg.vehicle).vehicle.ports}
        ways += [ports[name].opening for name in (leg.enters, leg.leaves) if name]
    first, second = (plug_at(built, end) for end in (wire.start, wire.end))
    back = next((n for n, way in enumerate(ways) if not slips(first, way)), len(ways))
    ahead = next((n for n, way in enumerate(reversed(ways)) if not slips(second, way)), len(ways))
    return back + ahead >= len(ways)


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
