"""The resistance of wires as they are cut, and the volts that a net's wires cost."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fitplan.circuit.chain import Flow
from fitplan.circuit.draws import by_flow, tree_draws
from fitplan.circuit.supply_tree import Rail, SupplyTree
from fitplan.model.copper import awg_ohm_per_m
from fitplan.model.train import Train
from fitplan.model.wired import Harness, Wire, WireEnd

Node = tuple[str, str]


def wire_ohm(wire: Wire, temperature_c: float = 20.0) -> float:
    """Return the resistance of a wire as it is cut, in Ω."""
    return awg_ohm_per_m(wire.awg, temperature_c) * wire.cut_mm / 1000


@dataclass(frozen=True)
class NetDrop:
    """Volts lost on the way from a net's giver.

    ``drops`` holds V by owner, ``currents`` mA by wire number (without sign).
    """

    drops: dict[str, float]
    currents: dict[int, float]


def _node(end: WireEnd) -> Node:
    return ("part", end.owner) if end.kind == "pin" else (end.kind, f"{end.owner}.{end.pin}")


def net_drop(
    wires: Sequence[Wire], giver: str, draws: Mapping[str, float], temperature_c: float = 20.0
) -> NetDrop:
    """Solve the wires of one net as a network of resistors (Kirchhoff), fed at one owner.

    Parameters
    ----------
    giver
        The owner where the current comes in (for ground: goes out).
    draws
        mA that each owner draws.
    """
    nodes = {node: number for number, node in enumerate(_connected(wires, ("part", giver)))}
    if len(nodes) < 2:
        return NetDrop({}, {})
    matrix = np.zeros((len(nodes), len(nodes)))
    used = [wire for wire in wires if _node(wire.start) in nodes]
    for wire in used:
        a, b = nodes[_node(wire.start)], nodes[_node(wire.end)]
        if a == b:
            continue
        conductance = 1 / max(wire_ohm(wire, temperature_c), 1e-9)
        matrix[[a, b], [a, b]] += conductance
        matrix[[a, b], [b, a]] -= conductance
    drawn = np.array([draws.get(node[1], 0.0) if node[0] == "part" else 0.0 for node in nodes])
    # The giver's node is the reference: its row and column fall away.
    drops = np.zeros(len(nodes))
    drops[1:] = np.linalg.solve(matrix[1:, 1:], drawn[1:] / 1000)
    currents = {
        wire.number: abs(drops[nodes[_node(wire.start)]] - drops[nodes[_node(wire.end)]])
        / max(wire_ohm(wire, temperature_c), 1e-9)
        * 1000
        for wire in used
    }
    owners = {node[1]: float(drops[number]) for node, number in nodes.items() if node[0] == "part"}
    return NetDrop(owners, {number: float(current) for number, current in currents.items()})


def _connected(wires: Iterable[Wire], start: Node) -> list[Node]:
    """Return the nodes that hang together with one, it first, in a fixed order."""
    joins: dict[Node, list[Node]] = {}
    for wire in wires:
        a, b = _node(wire.start), _node(wire.end)
        joins.setdefault(a, []).append(b)
        joins.setdefault(b, []).append(a)
    found, queue = [start], [start]
    while queue:
        for other in joins.get(queue.pop(), []):
            if other not in found:
                found.append(other)
                queue.append(other)
    return found


def lead_ohms(train: Train, harness: Harness, tree: SupplyTree, flow: Flow) -> dict[str, float]:
    """Return the resistance in Ω of the leads to every owner and back, as they act at peak current.

    Leads that several share count for each with all that flows in them.  What a regulator feeds is measured
    from the regulator's own ground, which lies as much above the source's as its input suffers already.
    """
    temperature = train.running.temperature_c
    grounds = {net.name for net in train.nets if net.role == "ground"}
    volts: dict[str, float] = {}
    current: dict[str, float] = {}
    for entry in tree_draws(tree, by_flow(flow), peak=True):
        wires = [w for w in harness.wires if (w.net == entry.net if entry.net else w.net in grounds)]
        drops = net_drop(wires, entry.giver, entry.draws, temperature).drops
        if entry.net:
            for owner, drawn in entry.draws.items():
                volts[owner] = volts.get(owner, 0.0) + abs(drops.get(owner, 0.0))
                current[owner] = max(current.get(owner, 0.0), abs(drawn))
            continue
        for owner, giver in _measured_from(tree.root, tree.bottom).items():
            if owner in drops:
                lost = max(0.0, drops[owner] - drops.get(giver, 0.0))
                volts[owner] = volts.get(owner, 0.0) + lost
    return {
        owner: 1000 * lost / current[owner]
        for owner, lost in volts.items()
        if current.get(owner, 0.0) > 0 and lost > 0
    }


def _measured_from(rail: Rail, ground: str) -> dict[str, str]:
    """Return for every owner below a rail whose ground its volts are measured from."""
    found = {fed.owner: ground for fed in rail.fed}
    for link in rail.links:
        below = link.owner if link.regulator is not None else ground
        found = {**_measured_from(link.below, below), **found, link.owner: ground}
    return found
