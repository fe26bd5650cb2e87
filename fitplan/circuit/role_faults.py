"""Nets whose written role is not what they join: what feeds, written as a signal, and the like."""

from __future__ import annotations

from collections.abc import Iterator

from fitplan.circuit.fault_kinds import Fault
from fitplan.circuit.nodes import Circuit, NetPin
from fitplan.model.nets import NetRole
from fitplan.model.part import FEED_ROLES


def role_faults(circuit: Circuit) -> Iterator[Fault]:
    """Yield nets that join pins of one kind only, and are written as another; those of like owners as one.

    What a net joins by mistake among pins of another kind is told pin by pin (`faults`).
    """
    by_net: dict[str, list[NetPin]] = {}
    for net_pin in circuit.net_pins:
        by_net.setdefault(net_pin.net.name, []).append(net_pin)
    wrong: dict[tuple[tuple[str, ...], NetRole], list[str]] = {}
    for name, net_pins in by_net.items():
        owners = tuple(dict.fromkeys(net_pin.owner for net_pin in net_pins))
        meant = role_meant(net_pins)
        if len(owners) > 1 and meant is not None and net_pins[0].net.role not in (meant, "ground"):
            wrong.setdefault((owners, meant), []).append(name)
    for (owners, meant), nets in wrong.items():
        pins = tuple(dict.fromkeys(net_pin.label for net in nets for net_pin in by_net[net]))
        yield Fault("role of a net", owners, tuple(nets), pins, float(len(pins)), 0.0, instead=meant)


def role_meant(net_pins: list[NetPin]) -> NetRole | None:
    """Return the role that all pins of a net speak for; None where they differ."""
    kinds = {_kind(net_pin) for net_pin in net_pins}
    return kinds.pop() if len(kinds) == 1 else None


def _kind(net_pin: NetPin) -> NetRole:
    if net_pin.pin is None or net_pin.pin.role == "signal":
        return "signal"
    if net_pin.pin.role in FEED_ROLES or net_pin.pin.role == "charge":
        return "supply"
    return "ground"
