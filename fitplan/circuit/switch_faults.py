"""Switches and fuses that interrupt nothing: bypassed, joined at one end, side by side."""

from __future__ import annotations

from collections.abc import Iterator

from fitplan.circuit.fault_kinds import Fault
from fitplan.circuit.nodes import Circuit, CircuitNode, nodes_of
from fitplan.model.electrical import Fuse, Switch


def switch_faults(circuit: Circuit) -> Iterator[Fault]:
    """Yield switches and fuses that interrupt nothing, or only together with another beside them."""
    side_by_side: set[str] = set()
    for owner, part in circuit.parts.items():
        if part.figure(Switch) is None and part.figure(Fuse) is None:
            continue
        net_pins = [net_pin for net_pin, _ in circuit.at(owner)]
        pins = list(dict.fromkeys(net_pin.pin.name for net_pin in net_pins if net_pin.pin is not None))
        if len(pins) < 2:
            nets = tuple(dict.fromkeys(net_pin.net.name for net_pin in net_pins))
            labels = tuple(dict.fromkeys(net_pin.label for net_pin in net_pins))
            yield Fault("switch open", (owner,), nets, labels, float(len(pins)), 2.0)
            continue
        past = _joined_past(circuit, owner, frozenset((owner,)))
        if past is None:
            continue
        like = frozenset(
            name
            for name, other in circuit.parts.items()
            if bool(other.figure(Switch)) == bool(part.figure(Switch))
            and bool(other.figure(Fuse)) == bool(part.figure(Fuse))
        )
        if _joined_past(circuit, owner, like) is not None:
            yield Fault("switch bypassed", (owner,), past.nets, figure=2.0)
        elif owner not in side_by_side:
            beside = [name for name in like if _joined_past(circuit, owner, like - {name}) is not None]
            pair = tuple(name for name in circuit.parts if name in (owner, *beside))
            side_by_side.update(pair)
            yield Fault("switches side by side", pair, past.nets, figure=float(len(pair)))


def _joined_past(circuit: Circuit, owner: str, without: frozenset[str]) -> CircuitNode | None:
    """Return the node that both ends of a part are in when some parts join nothing inside."""
    for node in nodes_of(circuit.net_pins, without):
        ends = {net_pin.pin.name for net_pin in node.net_pins if net_pin.owner == owner and net_pin.pin}
        if len(ends) > 1:
            return node
    return None
