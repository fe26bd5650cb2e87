"""Which pieces of wire each net is made of: between pins, splices and the portals at couplings.

A *portal* is where one conductor of a net passes a coupling; a *segment* is what runs inside one vehicle
between two nodes.  Segments that meet at a portal are one wire, unless a connector parts them there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.ways.way import Voxel


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
    """What is joined in one vehicle: a node, the voxels that it is reached at, and the wires it takes.

    A splice is one only where it is built already.
    """

    node: Node
    voxels: tuple[Voxel, ...]
    wires: int = 1


def lanes_of(net: ResolvedNet, order: Mapping[str, int]) -> list[tuple[int, int, list[NetEnd]]]:
    """Return the pieces a net falls into along the train: first and last vehicle and the ends joined.

    A tree and a daisy chain are one piece; home runs are one for every pin but the one that all lead to,
    which comes first.
    """
    ends = list(net.ends)
    if len(ends) < 2:
        return []
    groups = [ends]
    if net.net.style == "home-run":
        home = home_of(net)
        groups = [[home, other] for other in ends if other is not home]
    found = []
    for group in groups:
        places = [order[end.vehicle] for end in group]
        found.append((min(places), max(places), group))
    return found


def home_of(net: ResolvedNet) -> NetEnd:
    """Return the end that home runs lead to.

    A distribution board, if one is joined; else the first that takes a wire from each other; else the first.
    """
    wanted = len(net.ends) - 1
    board = next((end for end in net.ends if end.board), None)
    return board or next((end for end in net.ends if end.places >= wanted), net.ends[0])
