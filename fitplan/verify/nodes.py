"""The train as a circuit of nodes and branches, switched on: which volts stand where.

Every pin is a node, so is every net; wires, switches and what a part joins inside are branches of little
resistance, sources and regulators are branches with volts of their own, and all that is fed draws a
milliampere, so that cells stand at the volts of fresh ones. Node volts come from one system of equations
(Kirchhoff's current law); regulators are set again from it until none changes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import networkx as nx
import numpy as np

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import (
    Bank,
    CellPack,
    Charger,
    Coil,
    Connector,
    Controller,
    Fuse,
    Load,
    MotorDriver,
    Regulator,
    Switch,
)
from fitplan.model.nets import Net, PinRef
from fitplan.model.part import Part, Pin

Node = tuple[str, str]
"""Owner and pin; of a net ``("", name)``."""
FRESH_V = {"alkaline": 1.68, "nimh": 1.45, "li-ion": 4.2}
"""Volts of a fresh or full cell (alkaline and NiMH from memory; 4.20 V a maker's data sheet)."""
_SOCKET_V = 1.05
"""A USB socket gives up to 5.25 V."""
_COPPER_OHM = 0.02
_INSIDE_OHM = 0.05
_LIGHT_OHM = 5000.0
"""What is fed draws about a milliampere."""
_LEAK_S = 1e-9
"""Every node leaks so much (S) to one node of all, so that what floats has volts as well."""
_LEAK_OHM = 1e6
"""From a regulator's input to its own ground, so that an input that nothing feeds has no volts against it."""
_FED = ("raw", "5v", "3v3", "supply")
_ROUNDS = 25


@dataclass(frozen=True)
class Branch:
    """What lies between two nodes: ``volts`` of its own from ``low`` to ``high``, behind ``ohm``."""

    owner: str
    kind: str
    """copper, inside (switches too), source, regulator, output, load, or sink (a signal pin that is fed)."""
    high: Node
    low: Node
    ohm: float
    volts: float = 0.0
    input: Node | None = None
    """Of a regulator: where its volts come from."""
    figures: Regulator | None = None


@dataclass
class NodalNetwork:
    """All branches of a train, and the volts that were found."""

    branches: list[Branch] = field(default_factory=list)
    joined: dict[Node, list[str]] = field(default_factory=dict)
    """Nets of each pin that stands in one."""
    open_ends: list[tuple[str, str]] = field(default_factory=list)
    """(net, owner) where the pin is still to be chosen."""
    volts: dict[Node, float] = field(default_factory=dict)

    def across(self, branch: Branch) -> float:
        """Return the volts over a branch, the high end against the low one."""
        return self.volts.get(branch.high, 0.0) - self.volts.get(branch.low, 0.0)

    def current_ma(self, branch: Branch) -> float:
        """Return what flows out of a branch at its high end, in mA."""
        return 1000 * (branch.volts - self.across(branch)) / branch.ohm

    def copper(self, without: frozenset[str] = frozenset()) -> nx.Graph[Node]:
        """Return what is one piece of copper with every switch on; ``without`` leaves some parts open."""
        graph: nx.Graph[Node] = nx.Graph()
        for branch in self.branches:
            graph.add_nodes_from((branch.high, branch.low))
            if branch.kind in ("copper", "inside") and branch.owner not in without:
                graph.add_edge(branch.high, branch.low)
        return graph


def parts_of(built: BuiltTrain) -> dict[str, Part]:
    """Return the part of every need: the one that was placed, else its first candidate."""
    found: dict[str, Part] = {}
    for need in built.train.needs:
        placement = built.placement(need.name)
        if placement is not None:
            found[need.name] = placement.part
        elif need.candidates:
            found[need.name] = need.candidates[0]
    return found


def pins_at(built: BuiltTrain, parts: dict[str, Part], ref: PinRef) -> tuple[Pin, ...]:
    """Return the pins that one end of a net names, by their name or else by their role."""
    item = built.train.built_in(ref.owner)
    pins = item.pins if item is not None else parts[ref.owner].pins if ref.owner in parts else ()
    named = tuple(pin for pin in pins if pin.name == ref.pin)
    return named or tuple(pin for pin in pins if pin.role == ref.pin)


def switched_on(built: BuiltTrain) -> NodalNetwork:
    """Return the train's circuit with its node volts."""
    bench, parts = NodalNetwork(), parts_of(built)
    for net in built.train.nets:
        _net(bench, built, parts, net)
    for owner, part in parts.items():
        bench.branches += _part(owner, part)
    for entry in built.train.vehicles:
        for item in entry.vehicle.built_in:
            owner = f"{entry.name}/{item.name}"
            plus = [pin.name for pin in item.pins if pin.role in ("plus", "supply")]
            minus = [pin.name for pin in item.pins if pin.role == "ground"]
            if item.cells is not None and plus and minus:
                bench.branches.append(_source(owner, item.cells, plus[0], minus[0]))
            elif len(item.pins) >= 2 and (item.current_ma or item.stall_ma):
                one, other = item.pins[:2]
                bench.branches.append(
                    Branch(owner, "motor", (owner, one.name), (owner, other.name), _LIGHT_OHM)
                )
    _settle(bench)
    return bench


def _net(bench: NodalNetwork, built: BuiltTrain, parts: dict[str, Part], net: Net) -> None:
    for ref in net.joins:
        if ref.pin == "*":
            bench.open_ends.append((net.name, ref.owner))
        for pin in pins_at(built, parts, ref):
            node = (ref.owner, pin.name)
            bench.joined.setdefault(node, []).append(net.name)
            bench.branches.append(Branch("", "copper", node, ("", net.name), _COPPER_OHM))
            if net.role == "supply" and pin.role == "signal" and ref.owner in parts:
                grounds = [one.name for one in parts[ref.owner].pins if one.role == "ground"]
                low = [(ref.owner, name) for name in grounds[:1]]
                bench.branches += [Branch(ref.owner, "sink", node, one, _LIGHT_OHM) for one in low]


def _source(owner: str, figures: CellPack | Bank, plus: str, minus: str) -> Branch:
    if isinstance(figures, Bank):
        return Branch(owner, "source", (owner, plus), (owner, minus), 0.1, _SOCKET_V * figures.out_v)
    volts = figures.cells * figures.cells_per_unit * FRESH_V[figures.chemistry]
    ohm = max(figures.cells * figures.resistance_ohm, 0.01)
    return Branch(owner, "source", (owner, plus), (owner, minus), ohm, volts)


def _tied(owner: str, names: Sequence[str], ohm: float = _INSIDE_OHM) -> Iterator[Branch]:
    for name in names[1:]:
        yield Branch(owner, "inside", (owner, names[0]), (owner, name), ohm)


def _part(owner: str, part: Part) -> Iterator[Branch]:
    by_role: dict[str, list[str]] = {}
    by_rail: dict[str, list[str]] = {}
    for pin in part.pins:
        by_role.setdefault(pin.role, []).append(pin.name)
        if pin.joined:
            by_rail.setdefault(pin.joined, []).append(pin.name)
    for names in [
        *by_rail.values(),
        by_role.get("ground", []),
        by_role.get("5v", []),
        by_role.get("3v3", []),
    ]:
        yield from _tied(owner, names)
    ground = by_role.get("ground", [])
    feeds = [pin.name for pin in part.pins if pin.role in (*_FED, "plus")]
    source = part.figure(CellPack) or part.figure(Bank)
    regulator, controller = part.figure(Regulator), part.figure(Controller)
    passes = part.figure(Switch) or part.figure(Fuse) or part.figure(Connector) or part.figure(Charger)
    if source is not None:
        plus = [pin.name for pin in part.pins if pin.role in ("plus", "supply", "5v")]
        if plus and ground:
            yield from _tied(owner, plus)
            yield _source(owner, source, plus[0], ground[0])
    elif (coil := part.figure(Coil)) is not None:
        for given, back in zip(by_role.get("plus", [])[:1], ground[:1], strict=False):
            yield Branch(owner, "source", (owner, given), (owner, back), 1.0, coil.out_v)
    elif controller is not None:
        yield from _board(owner, part, controller, by_role)
    elif regulator is not None and ground:
        entries = [*by_role.get("supply", []), *by_role.get("raw", [])]
        for out in by_role.get("plus", [])[:1]:
            for name in entries[:1]:
                low = (owner, ground[-1])
                yield Branch(
                    owner, "regulator", (owner, out), low, _INSIDE_OHM, 0.0, (owner, name), regulator
                )
        yield from _tied(owner, by_role.get("plus", []))
    elif passes is not None:
        fuse = part.figure(Fuse)
        yield from _tied(owner, feeds, _INSIDE_OHM + (fuse.resistance_ohm if fuse is not None else 0.0))
    elif part.figure(MotorDriver) is not None:
        yield from _driver(owner, part, ground)
    elif not part.electrical:
        loose = [pin.name for pin in part.pins if pin.role in (*_FED, "plus") and not pin.joined]
        yield from _tied(owner, loose if len(loose) >= 2 else [])
    charged = by_role.get("charge", []) if ground else []
    yield from (Branch(owner, "load", (owner, pin), (owner, ground[-1]), _LIGHT_OHM) for pin in charged)
    if ground and (part.figure(Load) is not None or part.figure(MotorDriver) is not None):
        for pin in part.pins:
            if pin.role in _FED:
                yield Branch(owner, "load", (owner, pin.name), (owner, ground[0]), _LIGHT_OHM)


def _board(owner: str, part: Part, controller: Controller, by_role: dict[str, list[str]]) -> Iterator[Branch]:
    ground = by_role.get("ground", [])
    if not ground:
        return
    low = (owner, ground[0])
    rails = {role: (owner, by_role[role][0]) for role in ("5v", "3v3") if by_role.get(role)}
    own, logic = controller.regulator, "5v" if controller.logic_v > 4 else "3v3"
    main = rails.get(logic)
    if own is not None:
        out = rails.get("5v" if own.out_v > 4 else "3v3")
        entries = [(owner, name) for name in by_role.get("raw", [])]
        if own.out_v < 4 and "5v" in rails:
            entries.append(rails["5v"])
        for entry in entries if out is not None else ():
            assert out is not None
            yield Branch(owner, "regulator", out, low, _INSIDE_OHM, 0.0, entry, own)
    if main is None and by_role.get("raw"):
        main = (owner, by_role["raw"][0])
    if (own is None or own.out_v > 4) and "5v" in rails and "3v3" in rails:
        second = Regulator("linear", 3.3, 3.3, 6.0, 100.0)
        yield Branch(owner, "regulator", rails["3v3"], low, _INSIDE_OHM, 0.0, rails["5v"], second)
    if main is not None:
        yield Branch(owner, "load", main, low, _LIGHT_OHM)


def _driver(owner: str, part: Part, ground: list[str]) -> Iterator[Branch]:
    supplies = [pin.name for pin in part.pins if pin.role == "supply"]
    motor = "VM" if "VM" in supplies else supplies[0] if supplies else ""
    outputs = [pin.name for pin in part.pins if pin.role == "plus"]
    if not motor or not ground:
        return
    passed = Regulator("linear", 1e6, 0.0, 1e6, 1e6)
    for number, name in enumerate(outputs):
        high, low = (owner, name), (owner, ground[0])
        if number % 2:
            yield Branch(owner, "output", high, low, 0.5)
        else:
            yield Branch(owner, "regulator", high, low, 0.5, 0.0, (owner, motor), passed)


def _given(figures: Regulator, entering: float) -> float:
    """Return the volts that a regulator makes of those that enter."""
    if entering < 0.4:
        return 0.0
    if figures.kind == "step-up":
        return max(figures.out_v, entering)
    if figures.kind == "step-up-down":
        return figures.out_v
    return max(min(figures.out_v, entering - figures.dropout_v), 0.0)


def _settle(bench: NodalNetwork) -> None:
    drawn: list[Branch] = []
    for _ in range(_ROUNDS):
        _solve(bench, drawn)
        # What regulators draw is read off the volts that they were solved with.
        before, drawn = drawn, _inputs(bench)
        fresh = []
        for branch in bench.branches:
            if branch.figures is None or branch.input is None:
                fresh.append(branch)
                continue
            entering = bench.volts.get(branch.input, 0.0) - bench.volts.get(branch.low, 0.0)
            fresh.append(replace(branch, volts=_given(branch.figures, entering)))
        changed = any(abs(a.volts - b.volts) > 1e-3 for a, b in zip(bench.branches, fresh, strict=True))
        bench.branches = fresh
        if not changed and drawn == before:
            return


def _conducts(branch: Branch) -> bool:
    """Return whether a branch carries anything: a regulator without volts gives nothing and takes nothing."""
    return branch.kind != "regulator" or branch.volts > 0


def _solve(bench: NodalNetwork, drawn: list[Branch]) -> None:
    """Find the node volts: sum of all currents into a node is nothing."""
    taken = [branch for branch in bench.branches if _conducts(branch)]
    nodes = {node: number for number, node in enumerate(dict.fromkeys(_nodes(bench.branches)))}
    matrix = np.eye(len(nodes)) * _LEAK_S
    currents = np.zeros(len(nodes))
    leaks = [
        Branch(one.owner, "leak", one.input, one.low, _LEAK_OHM)
        for one in bench.branches
        if one.input is not None
    ]
    for branch in [*taken, *drawn, *leaks]:
        high, low, siemens = nodes[branch.high], nodes[branch.low], 1 / branch.ohm
        matrix[[high, low], [high, low]] += siemens
        matrix[[high, low], [low, high]] -= siemens
        currents[[high, low]] += siemens * branch.volts * np.array([1.0, -1.0])
    found = np.linalg.solve(matrix, currents)
    bench.volts = {node: float(found[number]) for node, number in nodes.items()}


def _inputs(bench: NodalNetwork) -> list[Branch]:
    """Return what regulators that give something draw themselves: a milliampere or so."""
    found = []
    for branch in bench.branches:
        if branch.input is not None and branch.volts > 0 and bench.volts and bench.current_ma(branch) > 0.05:
            found.append(Branch(branch.owner, "input", branch.input, branch.low, _LIGHT_OHM))
    return found


def _nodes(branches: Sequence[Branch]) -> Iterator[Node]:
    for branch in branches:
        yield branch.high
        yield branch.low
        if branch.input is not None:
            yield branch.input
