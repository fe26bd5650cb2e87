"""What joins the rooms of one body with its ends, and with one another where a body is narrow."""

from __future__ import annotations

from collections.abc import Iterator

from fitplan.model.solids import axis_of
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import Vehicle
from fitplan.planning.body_rooms import BodyRooms
from fitplan.planning.liked_holes import end_of
from fitplan.planning.wire_bound import Node, RoomLink


def room_links(entry: TrainVehicle, body: Vehicle, rooms: BodyRooms) -> Iterator[RoomLink]:
    """Yield the ports of a vehicle, then its narrow places.

    Parameters
    ----------
    body
        The vehicle with the gaps that bricks leave in its ends.
    """
    for port in body.ports:
        if axis_of(port.out) != 0:
            continue
        end: Node = (entry.name, end_of(entry, port.out))
        for room in sorted(rooms.behind(port)):
            yield RoomLink(((entry.name, room), end), f"port {port.name} of {entry.name}", (port.opening,))
    for narrow in rooms.narrows:
        ends: tuple[Node, Node] = ((entry.name, narrow.rooms[0]), (entry.name, narrow.rooms[1]))
        size = (narrow.wide_mm, narrow.clear_mm)
        yield RoomLink(ends, f"narrow place of {entry.name}", (size,), abreast=True)
