"""The harness as a network of resistances, as an ohmmeter sees it while the cells are out.

Nodes are pins, splices, cavities of each half of a coupling connector, and joints of resistors soldered into
leads.  What lies between pins of a part is taken as low as it can be, so that no reading of a sound harness
lies below what is worked out here (Rayleigh's monotonicity).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations
from typing import TypeAlias

import numpy as np

from fitplan.circuit.net_ends import battery_part
from fitplan.circuit.nodes import inner_groups
from fitplan.model.built import BuiltTrain
from fitplan.model.copper import awg_ohm_per_m
from fitplan.model.electrical import (
    Charger,
    Controller,
    Fuse,
    Load,
    MotorDriver,
    Regulator,
    SeriesResistor,
    Switch,
)
from fitplan.model.meter import Probe
from fitplan.model.part import FEED_ROLES, Part
from fitplan.model.wired import Wire, WireEnd

Node: TypeAlias = tuple[str, str, str, str]
"""(kind, owner, pin, vehicle); kinds are pin, splice, connector and lead."""
Bond: TypeAlias = tuple[Node, Node, float]
"""Two nodes and the resistance between them, in Ω; 0 joins them."""

_UNFED_OHM = 1000.0
"""Between pins of a regulator or driver without supply, at least (common practice, no source)."""
_LEAST_LOAD_OHM = 10.0
"""Electronics read no lower at an ohmmeter's small volts (common practice, no source)."""
_TOLERANCE = 0.9
"""Share of its value that a resistor or a coil has at least."""
_MOTOR_V = 4.5
"""Least volts at which a motor draws the stall current that is told of it (common practice, no source)."""


@dataclass(frozen=True)
class WireBond:
    """A wire between two nodes; a wire over a coupling without a connector is one conductor too."""

    wire: Wire
    start: Node
    end: Node

    @property
    def ohm(self) -> float:
        """Its resistance."""
        return awg_ohm_per_m(self.wire.awg, stranded=True) * self.wire.cut_mm / 1000


def node_of(end: WireEnd) -> Node:
    """Return the node that a wire's end lies at."""
    return (end.kind, end.owner, "" if end.kind == "splice" else end.pin, end.vehicle)


def probe_of(node: Node) -> Probe:
    """Return a node as a place for a meter's lead."""
    kind, owner, pin, vehicle = node
    assert kind in ("pin", "connector")
    return Probe("pin" if kind == "pin" else "connector", owner, pin, vehicle)


@dataclass(frozen=True)
class Copper:
    """All conductors, what parts join inside for good, and what else lies between their pins.

    Attributes
    ----------
    joined
        Pairs of nodes that parts join with copper.
    between
        Resistances between pins of parts, as low as they can be; 0 where nothing is known.
    leads
        Resistors soldered into leads: between the joint of the lead and the pin.
    """

    conductors: tuple[WireBond, ...]
    joined: tuple[tuple[Node, Node], ...]
    between: tuple[Bond, ...]
    leads: tuple[Bond, ...]
    contacts: tuple[tuple[Node, Node], ...]
    """Cavities of both halves of a coupling connector that meet when it is plugged."""

    @property
    def wired(self) -> dict[Node, tuple[int, ...]]:
        """The wires that end at each pin and cavity."""
        found: dict[Node, tuple[int, ...]] = {}
        behind = {joint: pin for joint, pin, _ in self.leads}
        for one in self.conductors:
            for node in (one.start, one.end):
                place = behind.get(node, node)
                if place[0] != "splice":
                    found[place] = (*found.get(place, ()), one.wire.number)
        return found

    def bonds(
        self, *, without: int = 0, coupled: bool = False, parts: bool = True, wire_ohm: bool = True
    ) -> list[Bond]:
        """Return the resistances of the network.

        Parameters
        ----------
        without
            A wire that is left out.
        coupled
            With the coupling connectors plugged.
        parts
            With what lies inside parts, beside what they join with copper.
        wire_ohm
            False: wires have no resistance, so that all places of a net are one piece.
        """
        found = [
            (one.start, one.end, one.ohm if wire_ohm else 0.0)
            for one in self.conductors
            if one.wire.number != without
        ]
        found += [(a, b, 0.0) for a, b in self.joined]
        found += self.leads
        if parts:
            found += self.between
        if coupled:
            found += [(a, b, 0.0) for a, b in self.contacts]
        return found

    def swapped(self, one: Node, other: Node) -> Copper:
        """Return the harness with the wires of two places exchanged; a resistor goes with its lead."""
        turn = {one: other, other: one}
        conductors = tuple(
            WireBond(c.wire, turn.get(c.start, c.start), turn.get(c.end, c.end)) for c in self.conductors
        )
        leads = tuple((joint, turn.get(pin, pin), ohm) for joint, pin, ohm in self.leads)
        return Copper(conductors, self.joined, self.between, leads, self.contacts)


def copper_of(built: BuiltTrain) -> Copper:
    """Return the network of a built train, its switches off."""
    leads: dict[tuple[int, Node], Node] = {}
    bonds: list[Bond] = []
    conductors = []
    for wire in built.harness.wires:
        ends = []
        for end in (wire.start, wire.end):
            node = node_of(end)
            ohm = _lead_resistor(built, wire, end)
            if ohm:
                joint: Node = ("lead", end.owner, f"{end.pin} {wire.number}", end.vehicle)
                leads[wire.number, node] = joint
                bonds.append((joint, node, ohm))
                node = joint
            ends.append(node)
        conductors.append(WireBond(wire, ends[0], ends[1]))
    joined: list[tuple[Node, Node]] = []
    between: list[Bond] = []
    for owner, vehicle, part in parts_built(built):
        names = {pin.name: ("pin", owner, pin.name, vehicle) for pin in part.pins}
        for group in copper_groups(part):
            pins = [names[name] for name in sorted(group)]
            joined += [(pins[0], other) for other in pins[1:]]
        between += [(names[a], names[b], ohm) for a, b, ohm in _inside(part)]
    for entry in built.train.vehicles:
        for item in entry.vehicle.built_in:
            if item.cells is None and (item.stall_ma > 0 or item.current_ma > 0):
                pins = [("pin", f"{entry.name}/{item.name}", pin.name, entry.name) for pin in item.pins]
                ohm = 1000 * _MOTOR_V / item.stall_ma if item.stall_ma else 0.0
                between += [(a, b, ohm) for a, b in combinations(pins, 2)]
    return Copper(tuple(conductors), tuple(joined), tuple(between), tuple(bonds), _contacts(built))


def parts_built(built: BuiltTrain) -> list[tuple[str, str, Part]]:
    """Return everything with pins that figures are known of: owner, vehicle, part."""
    found = [(one.need, one.vehicle, one.part) for one in built.placements]
    for entry in built.train.vehicles:
        for item in entry.vehicle.built_in:
            if item.cells is not None:
                found.append((f"{entry.name}/{item.name}", entry.name, battery_part(item)))
    return found


def copper_groups(part: Part) -> list[frozenset[str]]:
    """Return the pins that a part joins with copper: not through a switch, a fuse, a charger or a diode.

    A board's socket feeds its rail through a diode or a switch that loses some volts: no ohms are read there.
    """
    groups = inner_groups(part)
    board = part.figure(Controller)
    if board is not None and board.usb_drop_v > 0:
        sockets = {pin.name for pin in part.pins if pin.socket and pin.role != "ground"}
        groups = [rest for group in groups if len(rest := group - sockets) > 1]
    if all(part.figure(kind) is None for kind in (Switch, Fuse, Charger)):
        return groups
    roles = {pin.name: pin.role for pin in part.pins}
    return [group for group in groups if all(roles[name] == "ground" for name in group)]


def _inside(part: Part) -> list[tuple[str, str, float]]:
    """Return what lies between the pins of a part: least resistances, 0 where it may be next to none."""
    feeds = [pin.name for pin in part.pins if pin.role in FEED_ROLES]
    grounds = [pin.name for pin in part.pins if pin.role == "ground"]
    found: list[tuple[str, str, float]] = []
    if part.figure(Charger) is not None:
        found += [(a, b, 0.0) for names in (feeds, grounds) for a, b in combinations(names, 2)]
    if part.figure(Fuse) is not None:
        found += [(a, b, 0.0) for a, b in combinations(feeds, 2)]
    series = part.figure(SeriesResistor)
    if series is not None and series.own_ohm > 0:
        driven = [pin.name for pin in part.pins if pin.role == "signal"]
        found += [(a, b, _TOLERANCE * series.own_ohm) for a in driven for b in grounds]
    least = _least_ohm(part)
    if least:
        found += [(a, b, least) for a in feeds for b in grounds]
        found += [(a, b, least) for a, b in combinations(feeds, 2)]
    return found


def _least_ohm(part: Part) -> float:
    """Return the least resistance between a part's supply and its ground; 0 where it draws nothing."""
    load, board = part.figure(Load), part.figure(Controller)
    if board is not None:
        return max(_LEAST_LOAD_OHM, 1000 * board.brown_out_v / max(board.peak_ma, board.current_ma, 1.0))
    if load is not None and (load.peak_ma or load.current_ma):
        return max(_LEAST_LOAD_OHM, 1000 * load.min_v / max(load.peak_ma, load.current_ma))
    if any(part.figure(kind) is not None for kind in (Regulator, MotorDriver, Charger)):
        return _UNFED_OHM
    return 0.0


def _lead_resistor(built: BuiltTrain, wire: Wire, end: WireEnd) -> float:
    if end.kind != "pin":
        return 0.0
    return next(
        (
            one.ohm
            for one in built.resistors
            if one.place == "lead" and (one.net, one.owner, one.pin) == (wire.net, end.owner, end.pin)
        ),
        0.0,
    )


def _contacts(built: BuiltTrain) -> tuple[tuple[Node, Node], ...]:
    halves: dict[tuple[str, str], list[Node]] = {}
    for wire in built.harness.wires:
        for end in (wire.start, wire.end):
            if end.kind == "connector":
                node = node_of(end)
                nodes = halves.setdefault((end.owner, end.pin), [])
                if node not in nodes:
                    nodes.append(node)
    return tuple((pair[0], pair[1]) for pair in halves.values() if len(pair) == 2)


class Ohmmeter:
    """Reads the resistance between nodes of a network; nodes that nothing joins read infinite."""

    def __init__(self, bonds: Iterable[Bond]) -> None:
        bonds = list(bonds)
        self._root: dict[Node, Node] = {}
        for a, b, ohm in bonds:
            if ohm == 0:
                self._join(a, b)
        links = [(self.piece(a), self.piece(b), ohm) for a, b, ohm in bonds if ohm > 0]
        self._place: dict[Node, tuple[int, int]] = {}
        self._matrices: list[list[list[float]]] = []
        for nodes in _components(links):
            self._place |= {node: (len(self._matrices), place) for place, node in enumerate(nodes)}
            self._matrices.append([[0.0] * len(nodes) for _ in nodes])
        for a, b, ohm in links:
            if a != b:
                (group, i), (_, j) = self._place[a], self._place[b]
                matrix = self._matrices[group]
                matrix[i][i] += 1 / ohm
                matrix[j][j] += 1 / ohm
                matrix[i][j] -= 1 / ohm
                matrix[j][i] -= 1 / ohm
        self._inverses: dict[int, np.ndarray] = {}

    def piece(self, node: Node) -> Node:
        """Return the node that stands for all that are joined to one without resistance."""
        while (above := self._root.get(node, node)) != node:
            node = above
        return node

    def ohm(self, one: Node, other: Node) -> float:
        """Return the resistance between two nodes in Ω; inf where nothing joins them."""
        a, b = self.piece(one), self.piece(other)
        if a == b:
            return 0.0
        here, there = self._place.get(a), self._place.get(b)
        if here is None or there is None or here[0] != there[0]:
            return float("inf")
        inverse, i, j = self._inverse(here[0]), here[1], there[1]
        return float(inverse[i, i] + inverse[j, j] - 2 * inverse[i, j])

    def _inverse(self, group: int) -> np.ndarray:
        """Return the inverse of a group's matrix with its first node at no volts, once it is asked for."""
        if group not in self._inverses:
            matrix = np.array(self._matrices[group])
            matrix[1:, 1:] = np.linalg.inv(matrix[1:, 1:])
            matrix[0], matrix[:, 0] = 0.0, 0.0
            self._inverses[group] = matrix
        return self._inverses[group]

    def _join(self, a: Node, b: Node) -> None:
        low, high = sorted((self.piece(a), self.piece(b)))
        if low != high:
            self._root[high] = low


def _components(links: Iterable[Bond]) -> list[list[Node]]:
    """Return the nodes in groups that hang together."""
    near: dict[Node, list[Node]] = {}
    for a, b, _ in links:
        near.setdefault(a, []).append(b)
        near.setdefault(b, []).append(a)
    seen: set[Node] = set()
    found = []
    for start in near:
        if start in seen:
            continue
        group, seen = [start], seen | {start}
        for node in group:
            for other in near[node]:
                if other not in seen:
                    seen.add(other)
                    group.append(other)
        found.append(group)
    return found
