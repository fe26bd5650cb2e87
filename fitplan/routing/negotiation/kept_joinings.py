"""What is still to be joined of a net that has wires which stay as they are built.

Groups of pins and splices that hang together already are joined where they meet in a vehicle, the others over
the fewest couplings.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import networkx as nx
from networkx.utils import UnionFind

from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.topology import Node, Portal, Reach, Segment, SpliceSpot
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.lanes import Lanes
from fitplan.routing.negotiation.layout import CouplingPorts
from fitplan.routing.trees.pieces import MOST_IN_SPLICE

Group = tuple[tuple[str, Reach], ...]
"""What hangs together: its places that take another wire, each with its vehicle."""


@dataclass(frozen=True)
class Joining:
    """What is to be joined of a net in one vehicle: groups, each reached at any of its places."""

    vehicle: str
    groups: tuple[tuple[Reach, ...], ...]


def all_open(
    net: ResolvedNet,
    segments: Sequence[Segment],
    maps: Mapping[str, VehicleMap],
    couplings: Mapping[Portal, CouplingPorts],
) -> bool:
    """Return whether each piece of a net has a place left, or there is but one."""
    groups = groups_of(net, segments, maps, couplings)
    return len(groups) < 2 or all(groups)


def joinings(
    net: ResolvedNet,
    segments: Sequence[Segment],
    lanes: Lanes,
    maps: Mapping[str, VehicleMap],
    diameter: float,
) -> list[Joining]:
    """Return what is to be joined of a net beside its segments that stay, vehicle by vehicle.

    Parameters
    ----------
    lanes
        Conductors over couplings that must be new are asked of it.
    diameter
        Of the net's wire, in mm.
    """
    groups = groups_of(net, segments, maps, lanes.couplings)
    names = lanes.names
    joined = UnionFind(range(len(groups)))

    def places(root: int, vehicle: str) -> tuple[Reach, ...]:
        mine = (group for number, group in enumerate(groups) if joined[number] == root)
        return tuple(reach for group in mine for name, reach in group if name == vehicle)

    tasks: dict[str, list[tuple[Reach, ...]]] = defaultdict(list)
    for name in names:
        here = sorted({joined[number] for number in range(len(groups)) if places(joined[number], name)})
        if len(here) > 1:
            tasks[name] = [places(root, name) for root in here]
            joined.union(*here)
    while len(roots := sorted({joined[number] for number in range(len(groups))})) > 1:
        pairs = [
            (abs(a - b), one, other, a, b)
            for one in roots
            for other in roots
            if one < other
            for a in range(len(names))
            for b in range(len(names))
            if places(one, names[a]) and places(other, names[b])
        ]
        if not pairs:
            break
        _, one, other, a, b = min(pairs)
        first, last = sorted((a, b))
        goals = {
            names[place]: [reach.voxels for reach in places(root, names[place])]
            for place, root in ((a, one), (b, other))
        }
        portals = lanes.portals(net.net.name, diameter, first, last, goals)
        for place in range(first, last + 1):
            vehicle, map_ = names[place], maps[names[place]]
            mine = places(one if place == a else other, vehicle) if place in (a, b) else ()
            if mine and not tasks[vehicle]:
                tasks[vehicle].append(mine)
            for portal in (portals.get(place - 1), portals.get(place)):
                if portal is not None:
                    port = lanes.couplings[portal].port_in(map_)
                    tasks[vehicle].append((Reach(portal, map_.mouth(port)),))
        joined.union(one, other)
    return [Joining(name, tuple(tasks[name])) for name in names if len(tasks[name]) > 1]


def groups_of(
    net: ResolvedNet,
    segments: Sequence[Segment],
    maps: Mapping[str, VehicleMap],
    couplings: Mapping[Portal, CouplingPorts],
) -> list[Group]:
    """Return the pieces that a net falls into with the segments that stay; a lone pin is one as well.

    At a connector whose other half has nothing any more, a wire goes on from the other side.
    """
    graph: nx.Graph[object] = nx.Graph()
    end_of = {(pin.owner, pin.pin): number for number, end in enumerate(net.ends) for pin in end.pins}
    used = Counter(_place(node) for segment in segments for node in (segment.start, segment.end))

    def key(node: Node) -> object:
        return end_of[node.owner, node.pin] if isinstance(node, NetEnd) else node

    graph.add_nodes_from(range(len(net.ends)))
    for segment in segments:
        graph.add_edge(key(segment.start), key(segment.end))
    sides: dict[Portal, set[str]] = defaultdict(set)
    for segment in segments:
        for end in (segment.start, segment.end):
            if isinstance(end, Portal):
                sides[end].add(segment.vehicle)
    found = []
    for piece in nx.connected_components(graph):
        group: list[tuple[str, Reach]] = []
        for node in sorted(piece, key=str):
            if isinstance(node, int):
                for pin in net.ends[node].pins:
                    start, left = maps[pin.vehicle].start_at(pin), pin.wires - used[_place(pin)]
                    if left > 0 and start is not None:
                        group.append((pin.vehicle, Reach(pin, (start,), left)))
            elif isinstance(node, Portal) and len(sides[node]) == 1:
                ports = couplings[node]
                other = ports.behind if ports.ahead in sides[node] else ports.ahead
                group.append((other, Reach(node, maps[other].mouth(ports.port_in(maps[other])))))
            elif isinstance(node, SpliceSpot) and used[node] < MOST_IN_SPLICE:
                group.append((node.vehicle, Reach(node, (node.voxel,), MOST_IN_SPLICE - used[node])))
        found.append(tuple(group))
    return sorted(found, key=lambda group: [(name, str(_place(reach.node))) for name, reach in group])


def _place(node: Node) -> Node | tuple[str, str]:
    return (node.owner, node.pin) if isinstance(node, NetEnd) else node
