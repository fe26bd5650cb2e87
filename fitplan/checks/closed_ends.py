"""An end of a vehicle by which no wire goes out: what to draw there."""

from __future__ import annotations

from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Direction, is_forward
from fitplan.model.vehicle import Vehicle
from fitplan.model.wired import Unreached
from fitplan.units import PLATE, STUD

NEAR_END = 2 * STUD
"""So far before the end of the footprint (mm) what stands shuts an end; wires go out over what lies lower."""


def drawn_open(built: BuiltTrain, lost: Unreached) -> str:
    """Return what to draw where a net ends for want of a port; empty where it ends for another reason.

    Where the room over a deck is drawn `outside`, or not at all, no port is taken for granted.
    """
    name, ends, _ = lost.reason.partition(" has no wire port at that end")
    if not ends:
        return ""
    vehicles = {entry.name for entry in built.train.vehicles}
    if lost.owner not in vehicles:
        # A pin tells what cuts it off, not at which end of that: the coupling does at which the net ends.
        for one in built.harness.unreached:
            if one.owner in vehicles and (one.net, one.reason) == (lost.net, lost.reason):
                return f"what helps {lost.net} at {one.where} helps it too"
        return ""
    entry = built.train.vehicle(name)
    out = entry.towards("behind" if name == lost.owner else "ahead")
    end = "front" if is_forward(out) else "rear"
    port = f"draw a port in its {end} wall"
    level = _lies_open_from(entry.vehicle, out)
    if level is None:
        return port
    return (
        f"if nothing stands over its deck there, draw the room from {level:g} mm up free, to the {end} end "
        f"(`.` in its layers or `state: free`, not `-` and not left out): then wires go out over the deck "
        f"(`load height: 0` and `zones` keep parts off it); else {port}"
    )


def _lies_open_from(vehicle: Vehicle, out: Direction) -> float | None:
    """Return the height from which nothing is drawn at an end; None: it is shut up to the top."""
    low, high = (0.0, NEAR_END) if not is_forward(out) else (vehicle.length - NEAR_END, vehicle.length)
    there = [solid.solid.bounds for solid in vehicle.body if solid.state not in ("free", "outside")]
    there += [solid.bounds for item in vehicle.built_in for solid in item.solids]
    level = max(
        (box.high[2] for box in there if box.low[0] < high and box.high[0] > low), default=vehicle.base
    )
    is_flat = not any(solid.state == "free" for solid in vehicle.body)
    return level if is_flat or level <= vehicle.top - PLATE else None
