"""What joins the rooms of one body with its ends, and with one another where a body is narrow."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from fitplan.model.solids import axis_of
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import Port, Vehicle
from fitplan.planning.body_rooms import BodyRooms
from fitplan.planning.joined_rooms import Node, RoomLink
from fitplan.planning.liked_holes import end_of
from fitplan.routing.map.port_room import ClearFor


def room_links(
    entry: TrainVehicle,
    body: Vehicle,
    rooms: BodyRooms,
    clear_for: Callable[[Port], tuple[ClearFor, ...]] | None = None,
) -> Iterator[RoomLink]:
    """Yield the ports of a vehicle, then its narrow places.

    Parameters
    ----------
    body
        The vehicle with the gaps that bricks leave in its ends.
    clear_for
        What of a port wires go through; None: all of it, as a proof has to count: what is opened may take
        away what covers a port.
    """
    for port in body.ports:
        if axis_of(port.out) != 0:
            continue
        clear = () if clear_for is None else clear_for(port)
        if clear and not any(parts for parts, _ in clear):
            continue
        end: Node = (entry.name, end_of(entry, port.out))
        for room in sorted(rooms.behind(port)):
            ends: tuple[Node, Node] = ((entry.name, room), end)
            yield RoomLink(ends, f"port {port.name} of {entry.name}", (port.opening,), clear=clear)
    for narrow in rooms.narrows:
        ends = ((entry.name, narrow.rooms[0]), (entry.name, narrow.rooms[1]))
        size = (narrow.wide_mm, narrow.clear_mm)
        yield RoomLink(ends, f"narrow place of {entry.name}", (size,), abreast=True)
