"""The wires that a net is made of inside a vehicle, and what they take of pins and splices."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.topology import Node, SpliceSpot
from fitplan.routing.map.vehicle_map import SPLICE_CLEAR_MM, VehicleMap
from fitplan.routing.ways.way import lattice_length

MOST_IN_SPLICE = 5
"""So many wires are soldered together in one sleeve at most (common practice, no source)."""
_SECOND_PLACE_MM = 4.0
"""A pin that has a wire already counts as so much farther off than a free one."""
_HEADING = 15
"""Voxels from a pin at which a wire's direction is taken when pins are given out."""


@dataclass(frozen=True, eq=False)
class NetEdge:
    """One wire of a net inside a vehicle: its nodes, and the (n, 3) voxels of a cheapest way between them."""

    start: Node
    end: Node
    voxels: NDArray[np.int32]


def one_sleeve(pieces: list[NetEdge], pitch: float) -> list[NetEdge]:
    """Make one splice of two that lie closer than their sleeves, as long as one sleeve holds all wires."""
    while True:
        nodes = [node for piece in pieces for node in (piece.start, piece.end)]
        short = next(
            (
                piece
                for piece in pieces
                if isinstance(piece.start, SpliceSpot)
                and isinstance(piece.end, SpliceSpot)
                and lattice_length(piece.voxels, pitch) < 2 * SPLICE_CLEAR_MM
                and nodes.count(piece.start) + nodes.count(piece.end) - 2 <= MOST_IN_SPLICE
            ),
            None,
        )
        if short is None:
            return pieces
        one, gone = short.start, short.end
        pieces = [
            NetEdge(
                one if piece.start == gone else piece.start,
                one if piece.end == gone else piece.end,
                piece.voxels,
            )
            for piece in pieces
            if piece is not short
        ]


def pins_given(end: NetEnd, headings: Sequence[NDArray[np.float64]]) -> list[NetEnd]:
    """Return a pin for each wire at an end, so that all together are led as straight as can be.

    Parameters
    ----------
    headings
        (3,) points in mm that the wires come from, at most as many as the pins take together.
    """
    pins = end.pins
    if len(pins) == 1 or len(headings) > end.places:
        return [pins[i % len(pins)] for i in range(len(headings))]
    graph: nx.Graph[tuple[str, int, int]] = nx.Graph()
    for wire, point in enumerate(headings):
        for number, pin in enumerate(pins):
            for place in range(pin.wires):
                off = float(np.linalg.norm(point - np.array(pin.at))) + place * _SECOND_PLACE_MM
                graph.add_edge(("wire", wire, 0), ("pin", number, place), weight=-round(off * 1000))
    found: dict[int, NetEnd] = {}
    for one, other in nx.max_weight_matching(graph, maxcardinality=True):
        wire_node, pin_node = (one, other) if one[0] == "wire" else (other, one)
        found[wire_node[1]] = pins[pin_node[1]]
    return [found[wire] for wire in range(len(headings))]


def at_their_pins(pieces: Sequence[NetEdge], map_: VehicleMap) -> list[NetEdge]:
    """Give the wires at pins that are joined inside a pin each, the one that lies best."""
    given: dict[tuple[int, bool], NetEnd] = {}
    ends = dict.fromkeys(
        node for piece in pieces for node in (piece.start, piece.end) if isinstance(node, NetEnd)
    )
    for end in ends:
        at = [
            (number, first)
            for number, piece in enumerate(pieces)
            for first, node in ((True, piece.start), (False, piece.end))
            if node == end
        ]
        headings = [_heading(pieces[number], first, map_) for number, first in at]
        given |= dict(zip(at, pins_given(end, headings), strict=True))
    return [
        NetEdge(given.get((number, True), piece.start), given.get((number, False), piece.end), piece.voxels)
        for number, piece in enumerate(pieces)
    ]


def _heading(piece: NetEdge, first: bool, map_: VehicleMap) -> NDArray[np.float64]:
    way = piece.voxels if first else piece.voxels[::-1]
    point: NDArray[np.float64] = map_.frame.centers(way[min(_HEADING, len(way) - 1)][None])[0]
    return point


def copper_of(pieces: Iterable[NetEdge], pitch: float) -> float:
    """Return the length of all pieces together, in mm."""
    return sum(lattice_length(piece.voxels, pitch) for piece in pieces)


def joints_of(pieces: Sequence[NetEdge]) -> int:
    """Return how many joints pieces have: each end of a wire at a pin, and each splice once."""
    nodes = [node for piece in pieces for node in (piece.start, piece.end)]
    splices = {node for node in nodes if isinstance(node, SpliceSpot)}
    return sum(isinstance(node, NetEnd) for node in nodes) + len(splices)
