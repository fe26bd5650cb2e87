"""The room before a button or socket: what its part keeps clear for it, else 6 mm before the whole side.

Of what a part keeps clear for access on that side, rooms of fingers are a button's and rooms of plugs a
socket's; where there are none of that kind, all that is there.
"""

from __future__ import annotations

from fitplan.model.hands import FINGER_DEPTH_MM
from fitplan.model.part import Access
from fitplan.model.solids import Solid, axis_of, is_forward
from fitplan.verify.scene import PlacedPart
from fitplan.verify.shapes import Shape, shape_of


def rooms_before(part: PlacedPart, access: Access) -> list[Shape]:
    """Return the room in front of an access, in the vehicle's frame."""
    envelope = part.placement.part.bounds
    axis, up = axis_of(access.side), is_forward(access.side)
    wanted = "plug" if access.kind in ("socket", "console") else "finger"
    there: list[Solid] = []
    of_its_kind: list[Solid] = []
    for clearance in part.placement.part.clearances:
        room = clearance.solid.bounds
        beyond = room.high[axis] > envelope.high[axis] if up else room.low[axis] < envelope.low[axis]
        if clearance.needed == "access" and beyond:
            there.append(clearance.solid)
            if clearance.kind == wanted:
                of_its_kind.append(clearance.solid)
    solids = of_its_kind or there
    if not solids:
        low, high = envelope.low[axis], envelope.high[axis]
        before = (high, high + FINGER_DEPTH_MM) if up else (low - FINGER_DEPTH_MM, low)
        solids = [envelope.with_span(axis, *before)]
    return [shape_of(part.placement.place.move_solid(solid)) for solid in solids]
