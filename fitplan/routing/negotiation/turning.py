"""Ends of a net in rooms of one vehicle that do not meet inside it: they meet beyond a coupling.

Where a vehicle has several ports at an end, and each room has one of its own, wires go out by one and come
back by the other: another conductor passes the coupling, and the net is joined in the vehicle beside it. Only
looked for where an end has several ports.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from networkx.utils import UnionFind

from fitplan.routing.map.topology import Portal, Reach
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.lanes import Lanes

Lists = list[list[Reach]]
"""What is joined in one vehicle, list by list."""


def with_turns(
    net: str,
    diameter: float,
    joined: Mapping[str, Sequence[Reach]],
    lanes: Lanes,
    maps: Mapping[str, VehicleMap],
) -> dict[str, Lists]:
    """Return what is joined in each vehicle, parted where only ways over a coupling join it.

    Parameters
    ----------
    diameter
        Of the net's wire, outer, in mm.
    joined
        By vehicle, what one piece of the net reaches there.
    lanes
        Conductors over couplings that are wanted beside those that it gave out are asked of it.
    """
    found: dict[str, Lists] = {name: [list(reaches)] for name, reaches in joined.items()}
    for name in lanes.names:
        if len(joined.get(name, ())) < 2 or not lanes.turning_at(name):
            continue
        for group in _apart(name, diameter, found[name][0], lanes)[1:]:
            _turn(net, diameter, name, group, found, lanes, maps)
    return found


def _turn(
    net: str,
    diameter: float,
    name: str,
    group: list[Reach],
    found: dict[str, Lists],
    lanes: Lanes,
    maps: Mapping[str, VehicleMap],
) -> None:
    """Join one group of ends in a vehicle beside it, over the first coupling by which that can be.

    The net must be in that vehicle anyway: no wire goes out and comes back in one piece.
    """
    goals = {name: [one.voxels for one in group]}
    for coupling, beside in lanes.turning_at(name):
        beyond = found.get(beside, [[]])[0]
        if not beyond or not lanes.leads_out(name, coupling, diameter, goals[name]):
            continue
        goals[beside] = [one.voxels for one in beyond]
        portal = lanes.portals(net, diameter, coupling, coupling + 1, goals).get(coupling)
        if portal is not None:
            kept = [one for one in found[name][0] if one not in group]
            found[name] = [kept, *found[name][1:], [*group, _through(portal, name, lanes, maps)]]
            beyond.append(_through(portal, beside, lanes, maps))
        return


def _through(portal: Portal, name: str, lanes: Lanes, maps: Mapping[str, VehicleMap]) -> Reach:
    map_ = maps[name]
    return Reach(portal, map_.mouth(lanes.couplings[portal].port_in(map_)))


def _apart(name: str, diameter: float, reaches: Sequence[Reach], lanes: Lanes) -> Lists:
    """Return the groups of what meets inside a vehicle; what passes a coupling already is in the first."""
    rooms = [lanes.rooms_at(name, diameter, reach.voxels) for reach in reaches]
    passing = [number for number, reach in enumerate(reaches) if isinstance(reach.node, Portal)]
    united = UnionFind(range(len(reaches)))
    united.union(*(passing or [0]), *(number for number, here in enumerate(rooms) if not here))
    for number, here in enumerate(rooms):
        for other in range(number):
            if here & rooms[other]:
                united.union(number, other)
    groups = [sorted(group) for group in united.to_sets()]
    first = (passing or [0])[0]
    groups.sort(key=lambda group: (first not in group, group))
    return [[reaches[number] for number in group] for group in groups]
