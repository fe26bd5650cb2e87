"""Readings with the cells in: volts where they must be, milliamperes as one load after the other is fed.

Vehicles are coupled to the source's one by one; loads that plug in are plugged in when their turn comes.
Limits come from the supply tree, cut down to what is fed by then: volts between a source as its label says
with everything at its peak, and a full one with everything at its average.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator, Mapping
from dataclasses import dataclass, replace

from fitplan.circuit.chain import Flow, flow_through
from fitplan.circuit.leads import lead_ohms
from fitplan.circuit.supply_tree import Link, Rail, Supply, SupplyTree, full_volts, nominal_volts
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Bank, CellPack, Load, Switch
from fitplan.model.meter import MeterStage, MeterTest, Quantity
from fitplan.workbench.copper import Copper, Node, probe_of

_BANK_LOW = 0.95
"""Volts at a bank's socket over its label at least: 4.75 V for 5 V (USB 2.0 §7.2.2, from memory)."""
_AROUND = 0.05
"""What a regulator and a meter may be off together (common practice, no source)."""
_IDLE_SHARE = 0.3
"""Share of its usual current that a load draws at least without a program (common practice, no source)."""
_PLUGGED = ("header", "screw", "lever", "crimp")
"""Joints that part without an iron."""


@dataclass(frozen=True)
class _Fed:
    """What is fed at a step: the vehicles that are coupled, and the loads still unplugged in them."""

    vehicles: frozenset[str]
    off: frozenset[str]


class PowerRows:
    """Makes the readings of one supply tree, in order."""

    def __init__(self, built: BuiltTrain, copper: Copper, tree: SupplyTree) -> None:
        self.built, self.tree = built, tree
        self.wired = copper.wired
        self.nets = {node: _net(copper, wires[0]) for node, wires in self.wired.items()}
        self.roles = {net.name: net.role for net in built.train.nets}
        peak = flow_through(tree.root, nominal_volts(tree.source), True, {})[1]
        self.leads = lead_ohms(built.train, built.harness, tree, peak)

    def rows(self) -> Iterator[MeterTest]:
        """Yield all readings; numbers are given later."""
        start = self.built.vehicle_of(self.tree.owner) or self.tree.owner.partition("/")[0]
        fed = _Fed(self._with_wires({start}), frozenset())
        source = self._source()
        if source is None:
            return
        yield source
        fed = replace(fed, off=frozenset(self._loose(fed.vehicles)))
        yield from self._current(fed, "", "")
        yield from self._volts(fed, _Fed(frozenset(), frozenset()))
        fed = yield from self._plugging(fed)
        while (step := self._next(fed.vehicles)) is not None:
            coupling, here, vehicles = step
            yield from self._at_coupling(fed, coupling, here)
            wider = fed.vehicles | vehicles
            wide = _Fed(wider, frozenset(self._loose(vehicles)))
            if self._owners(wide) != self._owners(fed):
                yield from self._current(wide, f"couple {coupling}", coupling)
                yield from self._volts(wide, fed)
                wide = yield from self._plugging(wide)
            fed = _Fed(wider, frozenset())

    def _source(self) -> MeterTest | None:
        tree = self.tree
        pair = self._pair(tree.owner, None, tree.bottom)
        if pair is None:
            return None
        bank = isinstance(tree.source, Bank)
        low = nominal_volts(tree.source) * (_BANK_LOW if bank else 1.0)
        first = "bank charged, its lead in its socket" if bank else "cells in, all the same way as marked"
        look = (
            "less than nothing: plus and minus are exchanged, take the cells out at once; too little: a cell "
            "is empty, turned round or makes no contact"
        )
        return _row("source", pair[0][3], first, "V", pair, low, full_volts(tree.source), look)

    def _plugging(self, fed: _Fed) -> Generator[MeterTest, None, _Fed]:
        for owner in sorted(fed.off, key=self._order):
            before, fed = fed, replace(fed, off=fed.off - {owner})
            yield from self._volts(fed, before, only=owner, first="before it is plugged in")
            yield from self._current(fed, f"plug {owner} in", owner)
        return fed

    def _order(self, owner: str) -> int:
        return [need.name for need in self.built.train.needs].index(owner)

    def _current(self, fed: _Fed, first: str, what: str) -> Iterator[MeterTest]:
        tree = self.tree
        place = self._meter_place()
        if place is None:
            return
        pair, how = place
        full = full_volts(tree.source)
        idle, _ = flow_through(self._cut(fed, signals=False), full, False, {})
        most, _ = flow_through(self._cut(fed), self._sagged(fed), True, {})
        usual, _ = flow_through(self._cut(fed), full, False, {})
        low = _IDLE_SHARE * idle
        known = self.built.train.measured.supply(tree.owner)
        as_known = f", reckoned from the current measured on {known.date}" if known is not None else ""
        about = f"about {usual:.{0 if usual >= 10 else 1}f} mA is usual{as_known}"
        look = (
            f"{about}; too much: switch off at once, look for a bridge or a part "
            f"turned round{f' at {what}' if what else ''}; too little: something is not fed, or its "
            "ground is open"
        )
        action = "; ".join(word for word in (first and f"switch off, {first}", how) if word)
        yield _row("power", pair[0][3], action, "mA", pair, round(low, 1), round(1.1 * most + 1, 1), look)

    def _volts(self, fed: _Fed, before: _Fed, only: str = "", first: str = "") -> Iterator[MeterTest]:
        """Yield volts at whatever is newly fed: at the pins of loads and boards, behind regulators."""
        high = flow_through(self._cut(fed), full_volts(self.tree.source), False, {})[1]
        low = flow_through(self._cut(fed), self._sagged(fed), True, self.leads)[1]
        known = self._owners(before)
        for rail in self._cut(fed).walk():
            for fed_ in rail.fed:
                if rail.net and not fed_.signal and fed_.owner not in known and only in ("", fed_.owner):
                    yield from self._at(fed_.owner, rail.net, low.volts, high.volts, first)
            for link in rail.links:
                if link.owner in known or only:
                    continue
                if rail.net and link.kind != "through":
                    yield from self._at(link.owner, rail.net, low.volts, high.volts, first)
                if link.regulator is not None and link.below.net:
                    outs = [{o: volts for o, (volts, _) in flow.outputs.items()} for flow in (low, high)]
                    yield from self._at(link.owner, link.below.net, outs[0], outs[1], first)

    def _at(
        self, owner: str, net: str, low: Mapping[str, float], high: Mapping[str, float], first: str
    ) -> Iterator[MeterTest]:
        pair = self._pair(owner, net, owner)
        if pair is None or owner not in low or owner not in high:
            return
        look = (
            f"less than nothing: plus and minus at {owner} are exchanged, switch off; none: net {net} or its "
            f"ground is open; too little: something draws too much, or a joint is poor; too much: what feeds "
            f"{net} is not the part that was planned, or is set wrong"
        )
        bounds = (low[owner] * (1 - _AROUND), high[owner] * (1 + _AROUND))
        action = f"switch on; {first}" if first else "switch on"
        yield _row("power", pair[0][3], action, "V", pair, round(bounds[0], 2), round(bounds[1], 2), look)

    def _at_coupling(self, fed: _Fed, coupling: str, here: str) -> Iterator[MeterTest]:
        """Yield polarity at the half that carries volts, before the other half is plugged in."""
        nodes = [node for node in self.wired if node[:2] == ("connector", coupling) and node[3] == here]
        grounds = [node for node in nodes if self.roles.get(self.nets[node]) == "ground"]
        flows = [
            flow_through(self._cut(fed), volts, peak, self.leads if peak else {})[1]
            for volts, peak in ((self._sagged(fed), True), (full_volts(self.tree.source), False))
        ]
        for node in nodes:
            net = self.nets[node]
            least, most = self._level(fed, net, flows[0], False), self._level(fed, net, flows[1], True)
            if self.roles.get(net) != "supply" or not grounds or least is None or most is None:
                continue
            low, high = least * (1 - _AROUND), most * (1 + _AROUND)
            look = (
                f"less than nothing, or none: do not couple; cavities of {coupling} are filled wrongly, or "
                f"net {net} or its ground is open on this side"
            )
            action = f"switch on; before {coupling} is coupled"
            yield _row("power", here, action, "V", (node, grounds[0]), round(low, 2), round(high, 2), look)

    def _level(self, fed: _Fed, net: str, flow: Flow, full: bool) -> float | None:
        """Return the volts of a net; None where it is not fed yet."""

        def find(rail: Rail, volts: float) -> float | None:
            if rail.net == net:
                return volts
            for link in rail.links:
                given = flow.outputs.get(link.owner, (volts, 0.0))[0] if link.regulator is not None else volts
                found = find(link.below, given)
                if found is not None:
                    return found
            return None

        volts = full_volts(self.tree.source) if full else self._sagged(fed)
        return find(self._cut(fed), volts)

    def _sagged(self, fed: _Fed) -> float:
        """Return the volts of a source as its label says, with everything at its peak."""
        source = self.tree.source
        label = nominal_volts(source)
        if isinstance(source, CellPack):
            peak, _ = flow_through(self._cut(fed), label, True, {})
            return max(label - peak * source.resistance_ohm * source.cells / 1000, 0.5 * label)
        return _BANK_LOW * label

    def _cut(self, fed: _Fed, signals: bool = True) -> Rail:
        """Return the tree of what is fed."""

        def there(owner: str) -> bool:
            vehicle = self.built.vehicle_of(owner)
            return vehicle in fed.vehicles and owner not in fed.off

        def cut(rail: Rail) -> Rail:
            kept = [one for one in rail.fed if there(one.owner) and (signals or not one.signal)]
            links = [
                Link(link.kind, link.owner, link.part, cut(link.below), link.regulator)
                for link in rail.links
                if there(link.owner)
            ]
            return Rail(rail.net, tuple(kept), tuple(links))

        return cut(self.tree.root)

    def _owners(self, fed: _Fed) -> frozenset[str]:
        if not fed.vehicles:
            return frozenset()
        rails = list(self._cut(fed).walk())
        fed_owners = (one.owner for rail in rails for one in rail.fed)
        return frozenset((*fed_owners, *(link.owner for rail in rails for link in rail.links)))

    def _loose(self, vehicles: frozenset[str]) -> list[str]:
        """Return the loads of these vehicles whose supply pin parts without an iron."""
        found = []
        for owner in dict.fromkeys(one.owner for one in self.tree.root.everything()):
            placement = self.built.placement(owner)
            if placement is None or placement.vehicle not in vehicles or placement.part.figure(Load) is None:
                continue
            pins = [pin for pin in placement.part.pins if pin.role == "supply"]
            if pins and all(pin.joint in _PLUGGED for pin in pins):
                found.append(owner)
        return found

    def _next(self, vehicles: frozenset[str]) -> tuple[str, str, frozenset[str]] | None:
        """Return the next coupling outwards, the vehicle on the fed side, and what is fed beyond it."""
        for one in self.built.harness.crossings:
            for here, there in ((one.ahead, one.behind), (one.behind, one.ahead)):
                if one.connector and here in vehicles and there not in vehicles:
                    return one.name, here, self._with_wires({there})
        return None

    def _with_wires(self, vehicles: set[str]) -> frozenset[str]:
        """Return vehicles with those that wires join to them without a connector."""
        found = set(vehicles)
        for _ in self.built.train.vehicles:
            for wire in self.built.harness.wires:
                run = {leg.vehicle for leg in wire.legs}
                if run & found:
                    found |= run
        return frozenset(found)

    def _meter_place(self) -> tuple[tuple[Node, Node], str] | None:
        """Return where milliamperes are measured, and how: over an open switch, else in place of a wire."""
        for rail in self.tree.root.walk():
            for link in rail.links:
                tags = [node for node in self.wired if node[:2] == ("pin", link.owner)]
                if link.part.figure(Switch) is not None and len(tags) >= 2:
                    how = f"meter in its ampere range across the tags of {link.owner}, switched off"
                    return (tags[0], tags[1]), how
        plus = next((node for node in self.wired if node[1] == self.tree.owner and self._fed_by(node)), None)
        if plus is None:
            return None
        if isinstance(self.tree.source, Bank):
            return (plus, plus), f"a current meter for USB between {plus[1]} and its lead"
        wire = self.wired[plus][0]
        how = f"meter in its ampere range between {plus[1]}.{plus[2]} and its wire {wire}, taken off"
        return (plus, plus), how

    def _fed_by(self, node: Node) -> bool:
        return self.roles.get(self.nets[node]) == "supply" and node[0] == "pin"

    def _pair(self, owner: str, net: str | None, bottom: str) -> tuple[Node, Node] | None:
        """Return a supply pin of an owner (in a net) and a ground pin of another, else in its vehicle."""
        plus = [n for n in self.wired if n[1] == owner and self._fed_by(n) and net in (None, self.nets[n])]
        if not plus:
            return None
        pins = [n for n in self.wired if n[0] == "pin" and self.roles.get(self.nets[n]) == "ground"]
        pins.sort(key=lambda n: (n[1] != bottom, n[3] != plus[0][3]))
        return (plus[0], pins[0]) if pins and (pins[0][1] == bottom or pins[0][3] == plus[0][3]) else None


def _net(copper: Copper, number: int) -> str:
    return next(one.wire.net for one in copper.conductors if one.wire.number == number)


def _row(
    stage: MeterStage,
    vehicle: str,
    first: str,
    quantity: Quantity,
    pair: tuple[Node, Node],
    low: float,
    high: float,
    look: str,
) -> MeterTest:
    pairs = ((probe_of(pair[0]), probe_of(pair[1])),)
    return MeterTest(0, stage, vehicle, first, quantity, pairs, low, high, (), look)


def power_tests(built: BuiltTrain, copper: Copper, supply: Supply) -> list[MeterTest]:
    """Return the readings with the cells in, source by source, without numbers."""
    return [row for tree in supply.trees for row in PowerRows(built, copper, tree).rows()]
