"""How motors are wired wrongly: on a pin, by one lead, both leads on one conductor, never switched."""

from __future__ import annotations

from collections.abc import Iterator

from fitplan.circuit.fault_kinds import Fault
from fitplan.circuit.nodes import Circuit, CircuitNode
from fitplan.model.electrical import MotorDriver
from fitplan.model.train import Train
from fitplan.model.vehicle import built_in_name


def motor_faults(train: Train, circuit: Circuit) -> Iterator[Fault]:
    """Yield what is wrong with each motor that some net joins."""
    for owner in dict.fromkeys(net_pin.owner for net_pin in circuit.net_pins):
        item = train.built_in(owner) if built_in_name(owner) is not None else None
        leads = [pin for pin in item.pins if pin.role != "signal"] if item is not None else []
        if item is None or item.kind != "motor" or len(leads) < 2:
            continue
        joined = [(net_pin, node) for net_pin, node in circuit.at(owner) if net_pin.pin in leads]
        nets = tuple(dict.fromkeys(net_pin.net.name for net_pin, _ in joined))
        met = [pin for pin in leads if any(net_pin.pin == pin for net_pin, _ in joined)]
        open_pins = tuple(f"{owner}.{pin.name}" for pin in leads if pin not in met)
        nodes = {node.nets: node for _, node in joined}
        boards = tuple(label for node in nodes.values() for label in _board_pins(node))
        if boards:
            yield Fault("motor on a pin", (owner,), nets, boards)
        if len(met) < 2:
            yield Fault("motor lead open", (owner,), nets, open_pins)
        elif len(nodes) == 1:
            pins = tuple(net_pin.label for net_pin, _ in joined)
            yield Fault("motor leads joined", (owner,), nets, pins)
        elif not boards and _unswitched(list(nodes.values())):
            yield Fault("motor not switched", (owner,), nets, ())
        elif len(channels := _channels(circuit, list(nodes.values()))) > 1:
            yield Fault("motor across channels", (owner,), nets, channels, float(len(channels)))


def _board_pins(node: CircuitNode) -> tuple[str, ...]:
    """Return the signal pins of controllers in a node that nothing else holds."""
    return tuple(
        net_pin.label
        for net_pin in node.net_pins
        if not node.is_ground and (net_pin.pin is None or (net_pin.pin.role == "signal" and net_pin.pin.can))
    )


def _unswitched(nodes: list[CircuitNode]) -> bool:
    """Return whether one lead is held by a supply, the other by ground, and no driver lies between."""
    kinds = {giver.kind for node in nodes for giver in node.givers}
    return bool(kinds & {"source", "regulator", "board"}) and "driver" not in kinds


def _channels(circuit: Circuit, nodes: list[CircuitNode]) -> tuple[str, ...]:
    """Return the driver outputs at a motor's leads where they belong to two drivers, or two channels of one.

    Outputs of one channel differ in a figure or sign at their end: A1 and A2, OUT+ and OUT-.
    """
    outputs = [giver for node in nodes for giver in node.givers if giver.kind == "driver"]
    if len(outputs) != len(nodes):
        return ()
    owners = {giver.owner for giver in outputs}
    if len(owners) == 1:
        driver = circuit.parts[outputs[0].owner].figure(MotorDriver)
        if driver is None or driver.channels < 2 or len({_channel(one.pin) for one in outputs}) < 2:
            return ()
    return tuple(dict.fromkeys(f"{giver.owner}.{giver.pin}" for giver in outputs))


def _channel(pin: str) -> str:
    return pin.rstrip("0123456789+-")
