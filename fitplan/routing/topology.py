"""Which pieces of wire each net is made of: between pins, splices and the portals at couplings.

A *portal* is where one conductor of a net passes a coupling; a *segment* is what runs inside one vehicle
between two nodes.  Segments that meet at a portal are one wire, unless a connector parts them there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.ends import NetEnd, ResolvedNet
from fitplan.routing.vehicle_map import VehicleMap
from fitplan.routing.ways import Field, Voxel


@dataclass(frozen=True)
class Portal:
    """One conductor of a net at a coupling; ``lane`` tells conductors of the same net apart."""

    net: str
    coupling: int
    lane: int


@dataclass(frozen=True)
class SpliceSpot:
    """A junction of a net in a vehicle."""

    net: str
    vehicle: str
    voxel: Voxel


Node: TypeAlias = NetEnd | Portal | SpliceSpot


@dataclass(frozen=True)
class Segment:
    """What runs inside one vehicle between two nodes of a net."""

    net: str
    vehicle: str
    start: Node
    end: Node


@dataclass(frozen=True)
class Reach:
    """What a tree may start from and end at in one vehicle: voxels of each node."""

    node: Node
    voxels: tuple[Voxel, ...]


def lanes_of(net: ResolvedNet, order: Mapping[str, int]) -> list[tuple[int, int, list[NetEnd]]]:
    """Return the pieces a net falls into along the train: first and last vehicle and the ends joined.

    A tree is one piece; home runs and chains are one piece for every pair of pins.
    """
    ends = list(net.ends)
    if len(ends) < 2:
        return []
    match net.net.style:
        case "tree":
            groups = [ends]
        case "home-run":
            groups = [[ends[0], other] for other in ends[1:]]
        case "chain":
            along = sorted(ends, key=lambda end: (order[end.vehicle], -end.at[0], end.at[1]))
            groups = [list(pair) for pair in pairwise(along)]
    found = []
    for group in groups:
        places = [order[end.vehicle] for end in group]
        found.append((min(places), max(places), group))
    return found


class TreeGrower:
    """Grows the tree of one net inside one vehicle, splicing where a splice has room.

    Each further terminal joins the nearest point of what stands (Takahashi and Matsuyama 1980; from memory,
    not confirmed).  Where no splice has room on the way, the wire goes on to the nearest pin.
    """

    def __init__(self, map_: VehicleMap, field: Field) -> None:
        self._map = map_
        self._field = field

    def grow(self, net: str, terminals: Sequence[Reach]) -> list[Segment] | None:
        """Return the segments that join all terminals, or None when some cannot be reached."""
        found = self.ways(net, terminals)
        if found is None:
            return None
        return [Segment(net, self._map.name, start, end) for start, end, _ in found]

    def ways(self, net: str, terminals: Sequence[Reach]) -> list[tuple[Node, Node, NDArray[np.int32]]] | None:
        """Return what `grow` does with the (n, 3) voxels of each segment, alone in the map."""
        if len(terminals) < 2:
            return []
        edges: list[tuple[Node, Node, NDArray[np.int32]]] = []
        joined = [terminals[0]]
        waiting = list(terminals[1:])
        while waiting:
            goals = self._goals(joined, edges)
            ways = [(self._field.way_between(list(reach.voxels), goals), reach) for reach in waiting]
            reached = [(way, reach) for way, reach in ways if way is not None]
            if len(reached) < len(ways):
                return None
            way, reach = min(reached, key=lambda entry: entry[0].cost_mm)
            node = self._node_at(net, way.goal, joined, edges)
            edges.append((reach.node, node, way.voxels))
            joined.append(reach)
            waiting.remove(reach)
        return edges

    def _goals(
        self, joined: Sequence[Reach], edges: Sequence[tuple[Node, Node, NDArray[np.int32]]]
    ) -> list[Voxel]:
        """Return where a further wire may join: roomy voxels of the tree; failing them, its terminals."""
        spots: dict[Voxel, None] = {}
        for start, end, voxels in edges:
            for node in (start, end):
                if isinstance(node, SpliceSpot):
                    spots[node.voxel] = None
            for x, y, z in voxels[1:-1].tolist():
                if self._map.splice_room[x, y, z]:
                    spots[(x, y, z)] = None
        if spots:
            return list(spots)
        return [voxel for reach in joined for voxel in reach.voxels]

    def _node_at(
        self,
        net: str,
        voxel: Voxel,
        joined: Sequence[Reach],
        edges: list[tuple[Node, Node, NDArray[np.int32]]],
    ) -> Node:
        """Return the node at a voxel of the tree, cutting the segment it lies on in two when it is new."""
        for start, end, _ in edges:
            for node in (start, end):
                if isinstance(node, SpliceSpot) and node.voxel == voxel:
                    return node
        for reach in joined:
            if voxel in reach.voxels and not any(
                (voxels[1:-1] == voxel).all(axis=1).any() for _, _, voxels in edges
            ):
                return reach.node
        for number, (start, end, voxels) in enumerate(edges):
            where = np.flatnonzero((voxels == voxel).all(axis=1))
            if len(where):
                spot = SpliceSpot(net, self._map.name, voxel)
                cut = int(where[0])
                edges[number] = (start, spot, voxels[: cut + 1])
                edges.insert(number + 1, (spot, end, voxels[cut:]))
                return spot
        raise AssertionError("a way ended beside the tree it was led to")
