"""A part with a lead as bought plugged into it: the lead's plug takes room, and wires begin behind it."""

from __future__ import annotations

from dataclasses import replace

from fitplan.model.electrical import Lead, LeadEnd, Leaves
from fitplan.model.part import Clearance, Part, Pin, Socket
from fitplan.model.solids import Box, Direction, Vec, axis_of, bounds_of, is_forward, plane_of

_LEAVES: dict[Leaves, Direction] = {"up": "+z", "down": "-z", "left": "+y", "right": "-y"}
PLUG = "plug of the lead"
"""What the room of a plug is called that is in for good."""
_NEAR = 2.0
"""Room for a plug begins no further from its socket than this."""


def ends_at(lead: Lead, one: Socket, other: Socket) -> tuple[bool, bool]:
    """Return whether a lead goes from one socket to another as it is, and whether it does so turned round."""
    ends: tuple[LeadEnd, LeadEnd] = (lead.first, lead.second)
    return bool(one and other) and ends == (one, other), bool(one and other) and ends == (other, one)


def plugged(part: Part, pin: Pin, lead: Part, *, second: bool) -> Part:
    """Return a part with one end of a lead in the socket of a pin.

    The contacts of the socket move to where the cable leaves the plug; the plug's body stands in their place,
    always. A plug is no part of what the part itself is: it is put in once the part lies where it belongs.

    Parameters
    ----------
    second
        Which of the lead's ends it is.

    Raises
    ------
    ValueError
        When the cable would leave the plug along the socket's own axis, and not straight.
    """
    figures = lead.figure(Lead)
    assert figures is not None  # the reader lets nothing but leads through
    body = lead.envelope[int(second)]
    assert isinstance(body, Box)
    contacts = [one for one in part.pins if one.socket == pin.socket and one.exit == pin.exit]
    low, high = (tuple(pick(one.at[i] for one in contacts) for i in range(3)) for pick in (min, max))
    middle = ((low[0] + high[0]) / 2, (low[1] + high[1]) / 2, (low[2] + high[2]) / 2)
    room = _at_socket(body, middle, pin.exit)
    leaves = _LEAVES.get(figures.leaves, pin.exit) if second else pin.exit
    if leaves != pin.exit and axis_of(leaves) == axis_of(pin.exit):
        raise ValueError(f"a cable cannot leave {figures.leaves} of a socket that faces {pin.exit}")
    tail = list(room.center)
    axis = axis_of(leaves)
    tail[axis] = plane_of(room, leaves)
    at: Vec = (round(tail[0], 6), round(tail[1], 6), round(tail[2], 6))
    moved = tuple(
        replace(one, at=at, exit=leaves, joint="plug", wires=1) if one in contacts else one
        for one in part.pins
    )
    # Where a computer is plugged in as well, the lead is drawn out first: its room is wanted as ever.
    console = any(one.kind == "console" and one.side == pin.exit for one in part.access)
    kept = [
        one
        for one in part.clearances
        if not (one.kind == "plug" and _holds(one, middle)) or (console and one.needed == "access")
    ]
    return replace(
        part,
        id=f"{part.id}-plugged",
        name=f"{part.name}, lead plugged in",
        pins=moved,
        clearances=(*kept, Clearance(PLUG, "plug", room)),
    )


def is_plugged(part: Part, access: str) -> bool:
    """Return whether a lead's plug stands in the console socket of that name."""
    rooms = [room.solid.bounds for room in part.clearances if room.name == PLUG]
    return any(
        one.name == access and one.kind == "console" and any(_beyond(room, part, one.side) for room in rooms)
        for one in part.access
    )


def _beyond(room: Box, part: Part, side: Direction) -> bool:
    axis = axis_of(side)
    if is_forward(side):
        return room.high[axis] > part.bounds.high[axis]
    return room.low[axis] < part.bounds.low[axis]


def _at_socket(body: Box, socket: Vec, faces: Direction) -> Box:
    """Return the body of a plug where it is plugged in: its x points out of the socket."""
    out = axis_of(faces)
    sign = 1.0 if is_forward(faces) else -1.0
    across = [axis for axis in range(3) if axis != out]
    low, high = [0.0] * 3, [0.0] * 3
    ends = sorted((sign * body.low[0], sign * body.high[0]))
    low[out], high[out] = socket[out] + ends[0], socket[out] + ends[1]
    for own, axis in zip((1, 2), across, strict=True):
        low[axis], high[axis] = socket[axis] + body.low[own], socket[axis] + body.high[own]
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def _holds(clearance: Clearance, point: Vec) -> bool:
    box = bounds_of((clearance.solid,))
    return all(
        low - _NEAR <= at <= high + _NEAR for low, at, high in zip(box.low, point, box.high, strict=True)
    )
