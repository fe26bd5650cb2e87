"""Conflicts of a negotiation in words."""

from __future__ import annotations

import numpy as np

from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.layout import Layout
from fitplan.routing.negotiation.negotiated import Conflict

NEAR_PORT = 4.0
"""A conflict so near to a port is said to be in it (mm)."""


def said(conflict: Conflict, room: VehicleMap, layout: Layout) -> str:
    """Return a conflict in words, with the port or the point that it is at in the vehicle's frame."""
    names = ", ".join(conflict.runs)
    if isinstance(conflict.where, str):
        return f"{names} want through {conflict.where}, which is known to carry {conflict.room:g}"
    at = np.array(room.frame.center(conflict.where))
    boxes = {port.name: port.box for port in room.vehicle.ports}
    off = {name: max((np.array(box.low) - at).max(), (at - box.high).max()) for name, box in boxes.items()}
    near = [name for name, far in off.items() if far <= NEAR_PORT]
    told = ", ".join(f"{x:.1f}" for x in layout.true_point(room.name, room.frame.center(conflict.where)))
    where = f"in {near[0]}" if near else f"at {told} mm"
    return f"{names} make a bundle of {conflict.used:.2f} mm {where}, where {conflict.room:.2f} mm are clear"
