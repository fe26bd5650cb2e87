"""What each style of joining a net takes: copper and joints of tree, home runs and daisy chain.

All three take the shortest ways alone through the placed train, along the same couplings as the harness,
so that they can be compared; allowances and the way that other nets force on a wire are left out.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from fitplan.budget import UNHURRIED, Budget
from fitplan.model.built import BuiltTrain
from fitplan.model.nets import WiringStyle
from fitplan.model.wired import Harness
from fitplan.model.wiring_facts import NetStyles, StyleCost
from fitplan.routing.map.ends import NetEnd, ResolvedNet
from fitplan.routing.map.reaches import reach_of
from fitplan.routing.map.topology import Node, Portal, Reach, SpliceSpot, home_of, lanes_of
from fitplan.routing.negotiation.layout import CouplingPorts, Layout
from fitplan.routing.trees.net_wiring import NetWiring
from fitplan.routing.trees.pieces import copper_of, joints_of
from fitplan.routing.ways.way import lattice_length

STYLES: tuple[WiringStyle, ...] = ("tree", "home-run", "chain")


def compare(
    built: BuiltTrain, harness: Harness, layout: Layout, budget: Budget = UNHURRIED
) -> tuple[NetStyles, ...]:
    """Return for each net of three pins or more that is wired what each style takes.

    Nets that the budget's clock leaves no time for are left out.
    """
    diameters = {wire.net: wire.outer_mm for wire in harness.wires}
    lost = {entry.net for entry in harness.unreached}
    found = []
    for net in layout.nets:
        name = net.net.name
        if budget.over("styles of wiring"):
            break
        if len(net.ends) >= 3 and name in diameters and name not in lost:
            work = _Comparison(built, harness, layout, net, diameters[name])
            costs = tuple(work.cost(style) for style in STYLES)
            found.append(NetStyles(name, len(net.ends), net.net.style, costs))
    return tuple(found)


def _place(node: Node) -> tuple[str, str] | int:
    """Return what a node is, whichever lane passes it: a part and pin, or the coupling behind a vehicle."""
    match node:
        case NetEnd():
            return (node.owner, node.pin)
        case Portal():
            return node.coupling
        case SpliceSpot():
            return ("", str(node.voxel))


class _Comparison:
    """One net, with what joins it in each vehicle."""

    def __init__(
        self, built: BuiltTrain, harness: Harness, layout: Layout, net: ResolvedNet, diameter: float
    ) -> None:
        self._built = built
        self._net = net
        self._layout = layout
        self._diameter = diameter
        self._names = [entry.name for entry in built.train.vehicles]
        self._order = {name: number for number, name in enumerate(self._names)}
        self._straight = {
            (entry.ahead, entry.port_ahead, entry.port_behind): entry.straight_mm
            for entry in harness.crossings
        }
        self._ports: dict[int, CouplingPorts] = {}
        for portal, ports in layout.couplings.items():
            if portal.net == net.net.name:
                self._ports.setdefault(portal.coupling, ports)

    def cost(self, style: WiringStyle) -> StyleCost:
        """Return what the net takes in a style."""
        net = replace(self._net, net=replace(self._net.net, style=style))
        lanes = lanes_of(net, self._order)
        crossed = Counter(coupling for first, last, _ in lanes for coupling in range(first, last))
        for coupling, conductors in crossed.items():
            if reason := self._too_narrow(coupling, conductors):
                return StyleCost(style, reason=reason)
        copper, joints = 0.0, 0
        for number, vehicle in enumerate(self._names):
            passing = [lane for lane in lanes if lane[0] <= number <= lane[1]]
            if passing:
                part = self._inside(net, vehicle, [self._reaches(number, *lane) for lane in passing])
                if isinstance(part, str):
                    return StyleCost(style, reason=part)
                copper, joints = copper + part[0], joints + part[1]
        across = parted = 0
        for coupling, conductors in crossed.items():
            ports = self._ports[coupling]
            key = (ports.ahead, ports.port_ahead.name, ports.port_behind.name)
            copper += conductors * self._straight.get(key, 0.0)
            across += conductors
            parted += conductors if self._built.train.pair_at(ports.ahead, ports.behind) else 0
        # Sums of floats differ in their last digit from one Python to the next.
        return StyleCost(style, round(copper, 2), joints + 2 * parted, across)

    def _too_narrow(self, coupling: int, conductors: int) -> str:
        ports = self._ports.get(coupling)
        if ports is None:
            return f"nothing of it crosses behind {self._names[coupling]}"
        for vehicle, port in ((ports.ahead, ports.port_ahead), (ports.behind, ports.port_behind)):
            through = self._layout.maps[vehicle].passage(port, [self._diameter] * conductors)
            if not through.holds:
                why = through.proof or "no arrangement is known, none proved impossible"
                return f"{conductors} conductors want through {port.name} of {vehicle}: {why}"
        return ""

    def _inside(self, net: ResolvedNet, vehicle: str, lanes: list[list[Reach]]) -> tuple[float, int] | str:
        """Return copper and joints of a net in one vehicle, or why it cannot be."""
        home = home_of(net) if net.net.style == "home-run" else None
        if home is not None and home.vehicle == vehicle:
            centre = next(reach for reaches in lanes for reach in reaches if reach.node == home)
            others = [reach for reaches in lanes for reach in reaches if reach.node != home]
            found = self._joiner(vehicle).home_runs(centre, others)
        elif net.net.style == "chain" and len(lanes[0]) > 2:
            found = self._joiner(vehicle).chain(lanes[0])
        elif len(lanes[0]) > 2:
            found = self._joiner(vehicle).tree(lanes[0])
        else:
            # Home runs that only pass, or begin here, lie side by side.
            parts = [self._direct(vehicle, reaches) for reaches in lanes if len(reaches) == 2]
            reason = next((part for part in parts if isinstance(part, str)), None)
            if reason is not None:
                return reason
            pairs = [part for part in parts if not isinstance(part, str)]
            return sum(copper for copper, _ in pairs), sum(joints for _, joints in pairs)
        if isinstance(found, str):
            return found
        return copper_of(found, self._layout.maps[vehicle].frame.pitch), joints_of(found)

    def _direct(self, vehicle: str, reaches: list[Reach]) -> tuple[float, int] | str:
        """Return copper and joints of one wire: as it is laid, or else by a cheapest way."""
        asked = {_place(reach.node) for reach in reaches}
        pitch = self._layout.maps[vehicle].frame.pitch
        for laid in self._layout.laid:
            segment = laid.segment
            if (segment.net, segment.vehicle) == (self._net.net.name, vehicle) and asked == {
                _place(segment.start),
                _place(segment.end),
            }:
                return lattice_length(laid.voxels, pitch), sum(isinstance(r.node, NetEnd) for r in reaches)
        found = self._joiner(vehicle).tree(reaches)
        return found if isinstance(found, str) else (copper_of(found, pitch), joints_of(found))

    def _reaches(self, number: int, first: int, last: int, ends: list[NetEnd]) -> list[Reach]:
        vehicle = self._names[number]
        found = [reach_of(end, self._layout.maps[vehicle]) for end in ends if end.vehicle == vehicle]
        for coupling in (number - 1, number):
            if first <= coupling < last:
                ports = self._ports[coupling]
                map_ = self._layout.maps[vehicle]
                node = Portal(self._net.net.name, coupling, 0)
                found.append(Reach(node, map_.mouth(ports.port_in(map_))))
        return found

    def _joiner(self, vehicle: str) -> NetWiring:
        key = (self._net.net.name, vehicle)
        if key not in self._layout.joiners:
            number = self._order[vehicle]
            known = [c for c in (number - 1, number) if c in self._ports]
            first, last = min(known, default=0), max(known, default=-1) + 1
            every = self._reaches(number, first, last, [*self._net.ends])
            self._layout.joiners[key] = NetWiring(
                self._net.net.name,
                self._layout.maps[vehicle],
                self._layout.ground(vehicle, self._built.train.wiring.allowances),
                self._diameter,
                every,
                self._built.train.wiring.allowances,
            )
        return self._layout.joiners[key]
