"""What is left of a net when some of its wires found no way: no wire to nowhere, each pin cut off is told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable

import networkx as nx

from fitplan.model.wired import Unreached
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.topology import Node, Portal, SpliceSpot
from fitplan.routing.negotiation.layout import LaidSegment, Layout


def without_loose_ends(layout: Layout) -> None:
    """Take out segments that end in a splice or at a coupling where nothing goes on; tell the pins cut off.

    What is left of a net joins pins; those that do not hang together with most of them are told one by one.
    """
    layout.laid[:] = _pruned(layout.laid)
    for net in layout.nets:
        mine = [one for one in layout.laid if one.segment.net == net.net.name]
        if mine:
            layout.unreached.extend(_cut_off(net, _main(net, mine), layout.unreached))


def _pruned(laid: list[LaidSegment]) -> list[LaidSegment]:
    """Return what is left when segments with a loose end go, and those that had held on to them."""
    while True:
        met = Counter(node for one in laid for node in (one.segment.start, one.segment.end))
        held = [
            one
            for one in laid
            if not any(
                isinstance(node, Portal | SpliceSpot) and met[node] < 2
                for node in (one.segment.start, one.segment.end)
            )
        ]
        if len(held) == len(laid):
            return held
        laid = held


def _key(net: ResolvedNet, node: Node) -> Hashable:
    """Return what a node is to its net: pins that a part joins inside are one."""
    if not isinstance(node, NetEnd):
        return node
    here = (node.owner, node.pin)
    return next(
        (number for number, end in enumerate(net.ends) if here in {(p.owner, p.pin) for p in end.pins}), here
    )


def _main(net: ResolvedNet, laid: list[LaidSegment]) -> set[Hashable]:
    """Return the nodes of the piece with most pins, of equals that of the first pin."""
    graph: nx.Graph[Hashable] = nx.Graph()
    for one in laid:
        graph.add_edge(_key(net, one.segment.start), _key(net, one.segment.end))
    pieces = [set(piece) for piece in nx.connected_components(graph)]

    def rank(piece: set[Hashable]) -> tuple[int, int]:
        pins = [number for number in range(len(net.ends)) if number in piece]
        return (len(pins), -min(pins, default=len(net.ends)))

    return max(pieces, key=rank)


def _cut_off(net: ResolvedNet, main: set[Hashable], told: list[Unreached]) -> list[Unreached]:
    name = net.net.name
    reasons = [entry for entry in told if entry.net == name]
    known = {(entry.owner, entry.pin) for entry in reasons}
    found = []
    for number, end in enumerate(net.ends):
        if number not in main and not known & {(pin.owner, pin.pin) for pin in end.pins}:
            why = reasons[0].reason if reasons else "what leads to it found no way"
            undecided = bool(reasons) and reasons[0].undecided
            found.append(Unreached(name, end.owner, end.pin, why, undecided))
    return found
