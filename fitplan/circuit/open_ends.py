"""Ends that are left open: parts without wires or supply, sources without loads, nets that join nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from fitplan.circuit.fault_kinds import Fault
from fitplan.circuit.nodes import Circuit, CircuitNode, NetPin, signals_given
from fitplan.circuit.ratings import only_gives
from fitplan.circuit.supply_tree import Supply
from fitplan.model.electrical import (
    Bank,
    CellPack,
    Charger,
    Controller,
    Fuse,
    Load,
    MotorDriver,
    Regulator,
    Switch,
)
from fitplan.model.part import FEED_ROLES, Part
from fitplan.model.train import Train
from fitplan.model.vehicle import built_in_name

_RULED = (Controller, MotorDriver, Regulator, Charger, CellPack, Bank, Switch, Fuse)
"""What has rules of its own for pins that are left open."""
_RAILS = frozenset({"raw", "5v", "3v3"})
"""Roles of which each pin of a part is the same piece of copper."""


def open_ends(train: Train, circuit: Circuit, supply: Supply, parts: Mapping[str, Part]) -> Iterator[Fault]:
    """Yield parts without wires or supply, nets that join nothing, and sources that feed nobody."""
    joined = {net_pin.owner for net_pin in circuit.net_pins}
    bare = [name for name, part in parts.items() if name not in joined and part.pins]
    for name in bare:
        yield Fault("part without wire", (name,))
    for owner, part in circuit.parts.items():
        open_pins = _open_supplies(circuit, owner, part)
        if open_pins:
            yield Fault("supply pin open", (owner,), pins=open_pins)
        elif pins := _open_pins(circuit, owner, part, supply):
            yield Fault("pin open", (owner,), pins=pins)
    for owner in dict.fromkeys(net_pin.owner for net_pin in circuit.net_pins):
        item = train.built_in(owner) if built_in_name(owner) is not None else None
        if item is not None and item.kind in ("lamp", "sounder"):
            met = {net_pin.pin for net_pin, _ in circuit.at(owner)}
            lacking = tuple(f"{owner}.{pin.name}" for pin in item.pins if not pin.optional and pin not in met)
            if lacking:
                yield Fault("pin open", (owner,), pins=lacking)
    unfed = [name for name in supply.unfed if name not in bare]
    for name in unfed:
        known = circuit.parts.get(name)
        if known is not None and _wants_supply(known):
            feeding = _that_feed(circuit, name, known)
            fed = [net_pin for net_pin, node in feeding if not node.is_ground]
            if feeding and not fed:
                continue  # that they lie on ground is told
            pins = _labels(fed) if fed else _that_could_feed(name, known)
            yield Fault("part without supply", (name,), _nets(fed), pins)
    for tree in supply.trees:
        if tree.owner not in bare and not tree.root.everything():
            yield Fault("supply feeds nobody", (tree.owner,), figure=0.0)
    for net in train.nets:
        net_pins = [net_pin for net_pin in circuit.net_pins if net_pin.net.name == net.name]
        if len(_owners(net_pins)) < 2:
            yield Fault("net joins nothing", _owners(net_pins), (net.name,), _labels(net_pins), 1.0, 2.0)
            continue
        node = circuit.node(net.name)
        loads_tell = any(net_pin.owner in supply.unfed for net_pin in node.net_pins)
        dead = not node.givers and not node.is_ground
        if net.role == "supply" and dead and not loads_tell:
            yield Fault("net without source", _owners(net_pins), (net.name,), _labels(net_pins))
        if net.role == "signal" and not node.givers and not _driven(node):
            yield Fault("signal without sender", _owners(net_pins), (net.name,), _labels(net_pins))


def _that_feed(circuit: Circuit, owner: str, part: Part) -> list[tuple[NetPin, CircuitNode]]:
    """Return the pins in nets by which a part could be fed: not those of a rail that a board only gives."""
    board = part.figure(Controller)
    return [
        (net_pin, node)
        for net_pin, node in circuit.at(owner, *FEED_ROLES)
        if net_pin.pin is not None and not (board is not None and only_gives(board, net_pin.pin.role))
    ]


def _that_could_feed(owner: str, part: Part) -> tuple[str, ...]:
    """Return the pins of a part by which it would be fed: both of a motor driver's, else one."""
    board = part.figure(Controller)
    pins = [
        pin
        for pin in part.pins
        if pin.role in FEED_ROLES - {"plus"} and not (board is not None and only_gives(board, pin.role))
    ]
    pins = [pin for pin in pins if not pin.optional] or pins
    pins.sort(key=lambda pin: board is not None and pin.role != "raw")
    wanted = pins if part.figure(MotorDriver) is not None else pins[:1]
    return tuple(f"{owner}.{pin.name}" for pin in wanted)


def _open_supplies(circuit: Circuit, owner: str, part: Part) -> tuple[str, ...]:
    """Return the supply pins of a motor driver that no net joins: motors and logic each want theirs."""
    if part.figure(MotorDriver) is None:
        return ()
    joined = {net_pin.pin.name for net_pin, _ in circuit.at(owner) if net_pin.pin is not None}
    lacking = [pin.name for pin in part.pins if pin.role == "supply" and not pin.optional]
    found = tuple(f"{owner}.{name}" for name in lacking if name not in joined)
    return found if len(found) < len(lacking) else ()


def _open_pins(circuit: Circuit, owner: str, part: Part, supply: Supply) -> tuple[str, ...]:
    """Return what else a part needs that no net joins: outputs, coils, contacts, a second supply.

    What has rules of its own is told by these, a part that nothing feeds as such, a ground among the grounds,
    and what its signals want of a controller among the pins. Of pins that are one piece of copper one is
    enough.
    """
    if any(part.figure(kind) is not None for kind in _RULED) or (
        owner in supply.unfed and _wants_supply(part)
    ):
        return ()
    needed = [
        pin
        for pin in part.pins
        if not pin.optional and pin.role != "ground" and not (pin.role == "signal" and (pin.can or pin.wants))
    ]
    met = [net_pin.pin for net_pin, _ in circuit.at(owner) if net_pin.pin is not None]
    rails = {pin.role for pin in met if pin.role in _RAILS}
    copper = {pin.joined for pin in met if pin.joined}
    open_pins = [
        pin for pin in needed if pin not in met and pin.role not in rails and pin.joined not in copper
    ]
    return tuple(f"{owner}.{pin.name}" for pin in open_pins)


def _driven(node: CircuitNode) -> bool:
    """Return whether something sends in a signal net: a controller, a sensor, or something built in."""
    return any(
        net_pin.pin is None or net_pin.pin.can or signals_given(net_pin) or net_pin.part is None
        or net_pin.pin.role != "signal"
        for net_pin in node.net_pins
    )  # fmt: skip


def _wants_supply(part: Part) -> bool:
    """Return whether a part is fed by a supply pin, not by a signal alone."""
    if part.figure(Controller) is not None or part.figure(MotorDriver) is not None:
        return True
    return part.figure(Load) is not None and any(pin.role in FEED_ROLES - {"plus"} for pin in part.pins)


def _owners(net_pins: list[NetPin]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(net_pin.owner for net_pin in net_pins))


def _labels(net_pins: list[NetPin]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(net_pin.label for net_pin in net_pins))


def _nets(net_pins: list[NetPin]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(net_pin.net.name for net_pin in net_pins))
