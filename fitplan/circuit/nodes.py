"""Which nets are one node of the circuit, what gives volts to each, and how many.

Nets are one node (one piece of copper) where a part joins them inside: the pins of a rail, all its
grounds, both ends of a switch or fuse.  On a charger the pins that go to the cells are apart from those that
feed the train, since its protection lies between their minus sides.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

from fitplan.circuit.net_ends import battery_part, ends_of
from fitplan.circuit.ratings import APART_V, RAIL_V, is_logic_pin
from fitplan.circuit.supply_tree import full_volts, nominal_volts
from fitplan.model.electrical import (
    Bank,
    CellPack,
    Charger,
    Coil,
    Connector,
    Controller,
    Fuse,
    MotorDriver,
    Ranger,
    Regulator,
    Switch,
)
from fitplan.model.nets import Net
from fitplan.model.part import FEED_ROLES, Part, Pin, PinRole
from fitplan.model.train import Train

GiverKind: TypeAlias = Literal["source", "regulator", "board", "driver"]


@dataclass(frozen=True)
class NetPin:
    """A pin in a net; ``pin`` is None where the pin matching will choose one."""

    net: Net
    owner: str
    part: Part | None
    pin: Pin | None
    ref: str

    @property
    def label(self) -> str:
        """``owner.pin`` as it stands in the train file."""
        return f"{self.owner}.{self.ref}"


@dataclass(frozen=True)
class Level:
    """Volts against ground: by the labels, and at most with fresh cells."""

    nominal_v: float
    most_v: float


@dataclass(frozen=True)
class LevelSource:
    """What holds a node at its level."""

    owner: str
    pin: str
    kind: GiverKind
    level: Level


@dataclass(frozen=True)
class CircuitNode:
    """Nets that are one piece of copper while every switch is on."""

    nets: tuple[str, ...]
    net_pins: tuple[NetPin, ...]
    givers: tuple[LevelSource, ...] = ()

    @property
    def is_ground(self) -> bool:
        """Whether one of its nets is a ground."""
        return any(net_pin.net.role == "ground" for net_pin in self.net_pins)

    @property
    def level(self) -> Level | None:
        """The highest level that something holds it at."""
        return max((giver.level for giver in self.givers), key=lambda one: one.most_v, default=None)

    @property
    def name(self) -> str:
        """Its nets, for a sentence."""
        return " and ".join(self.nets)


def inner_groups(part: Part) -> list[frozenset[str]]:
    """Return the pins that a part joins inside, as sets of names."""
    charger = part.figure(Charger)
    apart = set(charger.cell_pins) if charger is not None and charger.protected else set()
    found: dict[str, set[str]] = {}
    for pin in part.pins:
        if pin.joined:
            found.setdefault(f"joined {pin.joined}", set()).add(pin.name)
        if pin.role == "ground":
            found.setdefault("cells" if pin.name in apart else "ground", set()).add(pin.name)
        if pin.role in RAIL_V:
            found.setdefault(pin.role, set()).add(pin.name)
    feeds = {pin.name for pin in part.pins if pin.role in FEED_ROLES}
    grouped = {pin.name for pin in part.pins if pin.joined}
    if any(part.figure(kind) is not None for kind in (Switch, Fuse, Connector)) or (
        charger is not None and part.figure(Regulator) is None
    ):
        found["through"] = feeds
    elif not part.electrical and len(feeds - grouped) >= 2:
        found["through"] = feeds - grouped
    return [frozenset(names) for names in found.values() if len(names) > 1]


@dataclass(frozen=True)
class Circuit:
    """All pins of the nets of a train, and its nodes in the order of its nets."""

    net_pins: tuple[NetPin, ...]
    nodes: tuple[CircuitNode, ...]
    parts: Mapping[str, Part]

    def node(self, net: str) -> CircuitNode:
        """Return the node that a net belongs to."""
        return next(one for one in self.nodes if net in one.nets)

    def at(self, owner: str, *roles: PinRole) -> Iterator[tuple[NetPin, CircuitNode]]:
        """Yield the net pins of an owner that have these roles (all when none is named)."""
        for node in self.nodes:
            for net_pin in node.net_pins:
                if net_pin.owner == owner and (
                    not roles or (net_pin.pin is not None and net_pin.pin.role in roles)
                ):
                    yield net_pin, node


def net_pins_of(train: Train, chosen: Mapping[str, Part]) -> tuple[NetPin, ...]:
    """Return every pin of every net; a word that means several pins stands for all of them."""
    found: list[NetPin] = []
    for net in train.nets:
        for end in ends_of(train, chosen, net):
            part = end.part
            if end.built_in is not None and end.built_in.cells is not None:
                part = battery_part(end.built_in)
            if end.wild:
                found.append(NetPin(net, end.owner, part, None, end.ref))
            found.extend(NetPin(net, end.owner, part, pin, end.ref) for pin in end.pins)
    return tuple(found)


def nodes_of(net_pins: tuple[NetPin, ...], without: frozenset[str] = frozenset()) -> tuple[CircuitNode, ...]:
    """Return the nodes, givers not yet known; ``without`` leaves out what some parts join inside."""
    nets = list(dict.fromkeys(net_pin.net.name for net_pin in net_pins))
    root = {net: net for net in nets}

    def find(net: str) -> str:
        while root[net] != net:
            net = root[net]
        return net

    owners: dict[str, list[NetPin]] = {}
    for net_pin in net_pins:
        owners.setdefault(net_pin.owner, []).append(net_pin)
    for owner, mine in owners.items():
        part = mine[0].part
        if part is None or owner in without:
            continue
        single = [frozenset([net_pin.pin.name]) for net_pin in mine if net_pin.pin is not None]
        for group in [*inner_groups(part), *dict.fromkeys(single)]:
            joined = [
                net_pin.net.name for net_pin in mine if net_pin.pin is not None and net_pin.pin.name in group
            ]
            for net in joined[1:]:
                low, high = sorted((find(joined[0]), find(net)), key=nets.index)
                root[high] = low
    members: dict[str, list[str]] = {}
    for net in nets:
        members.setdefault(find(net), []).append(net)
    return tuple(
        CircuitNode(tuple(names), tuple(net_pin for net_pin in net_pins if net_pin.net.name in names))
        for names in members.values()
    )


def read_circuit(train: Train, chosen: Mapping[str, Part]) -> Circuit:
    """Return the nodes of a train with what holds each at which volts."""
    net_pins = net_pins_of(train, chosen)
    circuit = Circuit(
        net_pins,
        nodes_of(net_pins),
        {net_pin.owner: net_pin.part for net_pin in net_pins if net_pin.part is not None},
    )
    for _ in range(len(circuit.parts) + 1):
        settled = _with_givers(circuit)
        if settled == circuit:
            break
        circuit = settled
    return circuit


def _with_givers(circuit: Circuit) -> Circuit:
    """Return the circuit with what every part gives at the levels known so far."""
    given: dict[str, list[LevelSource]] = {}
    for owner, part in circuit.parts.items():
        for net_pin, giver in _gives(circuit, owner, part):
            given.setdefault(net_pin.net.name, []).append(giver)
    nodes = tuple(
        CircuitNode(
            one.nets, one.net_pins, tuple(dict.fromkeys(g for net in one.nets for g in given.get(net, ())))
        )
        for one in circuit.nodes
    )
    return Circuit(circuit.net_pins, nodes, circuit.parts)


def level_from_others(node: CircuitNode, owner: str) -> Level | None:
    """Return the level that others than one owner hold a node at."""
    levels = [giver.level for giver in node.givers if giver.owner != owner]
    return max(levels, key=lambda one: one.most_v, default=None)


def _entering(circuit: Circuit, owner: str, *roles: PinRole) -> Level | None:
    """Return the highest level that others bring to an owner's pins of these roles."""
    levels = [
        level
        for _, node in circuit.at(owner, *roles)
        if (level := level_from_others(node, owner)) is not None
    ]
    return max(levels, key=lambda one: one.most_v, default=None)


def _gives(circuit: Circuit, owner: str, part: Part) -> Iterator[tuple[NetPin, LevelSource]]:
    source = part.figure(CellPack) or part.figure(Bank)
    if source is not None:
        base = _entering(circuit, owner, "ground") or Level(0.0, 0.0)
        level = Level(base.nominal_v + nominal_volts(source), base.most_v + full_volts(source))
        yield from _at(circuit, owner, "source", level, ("plus", "supply", "5v"))
        return
    controller, regulator = part.figure(Controller), part.figure(Regulator)
    coil = part.figure(Coil)
    if coil is not None:
        yield from _at(circuit, owner, "source", Level(coil.out_v, coil.out_v), ("plus",))
    elif controller is not None:
        yield from _board_gives(circuit, owner, controller)
    elif regulator is not None:
        entering = _entering(circuit, owner, "supply", "raw")
        if entering is not None:
            yield from _at(circuit, owner, "regulator", let_through(regulator, entering), ("plus",))
    elif part.figure(MotorDriver) is not None:
        levels = [
            entered
            for net_pin, node in circuit.at(owner, "supply")
            if net_pin.pin is not None
            and not is_logic_pin(part, net_pin.pin)
            and (entered := level_from_others(node, owner)) is not None
        ]
        if levels:
            yield from _at(circuit, owner, "driver", levels[0], ("plus",))


def _board_gives(
    circuit: Circuit, owner: str, controller: Controller
) -> Iterator[tuple[NetPin, LevelSource]]:
    regulator, raw = controller.regulator, _entering(circuit, owner, "raw")
    if raw is not None and regulator is not None:
        yield from _rails(circuit, owner, let_through(regulator, raw), regulator.out_v + APART_V)
        return
    for role, volts in RAIL_V.items():
        entering = _entering(circuit, owner, role)
        if entering is not None:
            yield from _rails(circuit, owner, entering, volts - APART_V)
            return


def _rails(circuit: Circuit, owner: str, inner: Level, below: float) -> Iterator[tuple[NetPin, LevelSource]]:
    """Yield what a board gives at those of its rails that lie below some volts."""
    for role, volts in RAIL_V.items():
        if volts < below:
            level = Level(min(volts, inner.nominal_v), min(volts, inner.most_v))
            yield from _at(circuit, owner, "board", level, (role,))


def _at(
    circuit: Circuit, owner: str, kind: GiverKind, level: Level, roles: tuple[PinRole, ...]
) -> Iterator[tuple[NetPin, LevelSource]]:
    for net_pin, _ in circuit.at(owner, *roles):
        assert net_pin.pin is not None
        yield net_pin, LevelSource(owner, net_pin.pin.name, kind, level)


def let_through(regulator: Regulator, entering: Level) -> Level:
    """Return what comes out of a regulator: a linear one passes low volts on, a step-up passes high ones."""
    out = regulator.out_v
    match regulator.kind:
        case "linear" | "step-down":
            low = max(0.0, entering.nominal_v - regulator.dropout_v)
            return Level(min(out, low), min(out, entering.most_v))
        case "step-up":
            return Level(max(out, entering.nominal_v), max(out, entering.most_v))
        case "step-up-down":
            return Level(out, out)


def signals_given(net_pin: NetPin) -> bool:
    """Return whether a part other than a controller sends at this pin."""
    return net_pin.pin is not None and bool(net_pin.pin.wants & {"input", "analog", "receive"})


def signals_taken(net_pin: NetPin) -> bool:
    """Return whether a part other than a controller listens, or is fed, at this signal pin."""
    return net_pin.pin is not None and bool(net_pin.pin.wants & {"output", "pwm", "send"})


def wants_change(net_pin: NetPin) -> bool:
    """Return whether a part does nothing unless the level at this pin changes: a trigger, a bus, a tone.

    What a supply may hold high for good is no such pin: a lamp, the inputs of a motor driver, a pin that
    lets a sensor sleep.
    """
    if net_pin.part is None or net_pin.pin is None or net_pin.part.figure(MotorDriver) is not None:
        return False
    if net_pin.pin.wants & {"pwm", "send", "data", "clock"}:
        return net_pin.part.family != "lamp"
    ranger = net_pin.part.figure(Ranger)
    return ranger is not None and "output" in net_pin.pin.wants and not net_pin.pin.optional
