"""What crosses each coupling of a train, and how long the wires over it must be."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from itertools import count

from fitplan.model.hands import least_coupling_wire
from fitplan.model.operation import Track
from fitplan.model.solids import Vec
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import Port
from fitplan.routing.harness.coupling_slack import (
    CouplingLengths,
    CouplingSide,
    TrackLimits,
    coupling_lengths,
)
from fitplan.routing.harness.track_line import RunningGear
from fitplan.routing.map.bundles import bundle_diameter
from fitplan.routing.map.topology import Portal
from fitplan.routing.negotiation.layout import CouplingPorts, Layout, Pulled

SHORTEST_DRAWBAR = 1.0
"""Pins that lie on one another are taken this far apart (mm), so that the drawbar has a direction."""


def length_of(
    train: Train,
    ports: CouplingPorts,
    bundle_diameter: float,
    left_at: Mapping[str, LeftAt],
) -> CouplingLengths:
    """Return the lengths over a coupling, from the vehicles' wheels, couplings and the ports used.

    ``left_at``: of vehicles whose end is open, where the wires leave it.
    """
    ahead, behind = train.vehicle(ports.ahead), train.vehicle(ports.behind)
    gap = ahead.coupling_length("behind") + behind.coupling_length("ahead")
    rear_pin, front_pin = _pin(ahead, "behind"), _pin(behind, "ahead")
    # From pin to end face, over the gap, from end face to pin.
    known = train.measured.coupling(ahead.name, behind.name)
    drawbar = max(rear_pin[0] + gap + (behind.vehicle.length - front_pin[0]), SHORTEST_DRAWBAR)
    lengths = coupling_lengths(
        _side(ahead, rear_pin, ports.port_ahead, left_at),
        _side(behind, front_pin, ports.port_behind, left_at),
        drawbar,
        _limits(train.track),
        bundle_diameter=bundle_diameter,
        aside=sum(one.aside for one in left_at.values()),
        slack=train.wiring.coupling_slack,
        least=_pair_asks(train, ahead.name, behind.name),
        measured=known.free_mm if known is not None else 0.0,
    )
    return lengths if known is None else replace(lengths, governing=f"measured on {known.date}")


def _pair_asks(train: Train, ahead: str, behind: str) -> float:
    """Return what a connector at a coupling asks of the wires: its length, and to be drawn apart."""
    pair = train.catalogue.get(train.pair_at(ahead, behind))
    if pair is None:
        return 0.0
    return least_coupling_wire(pair, train.parted(ahead, behind))


def _limits(track: Track) -> TrackLimits:
    return TrackLimits(
        track.radius, track.reverse_curve, track.gradient_percent / 100.0, track.least_straight
    )


def _side(
    entry: TrainVehicle, pin: tuple[float, float], port: Port, left_at: Mapping[str, LeftAt]
) -> CouplingSide:
    along = sorted(entry.in_train(0.0, (x, 0.0, 0.0))[0] for x in entry.vehicle.wheels.at)
    gear = RunningGear(along[0], along[-1], entry.vehicle.wheels.bogie_wheelbase)
    at = left_at[entry.name].at if entry.name in left_at else port.mouth
    return CouplingSide(gear, pin, entry.in_train(0.0, at))


def _pin(entry: TrainVehicle, end: str) -> tuple[float, float]:
    """Return (x, z) of the coupling's pin at one end, x growing forwards in running order."""
    own = "front" if (end == "ahead") != entry.turned else "rear"
    for coupling in entry.vehicle.couplings:
        if coupling.end == own:
            x, _, z = entry.in_train(0.0, (coupling.pivot_x, 0.0, coupling.height))
            return (x, z)
    return (entry.vehicle.length if end == "ahead" else 0.0, entry.vehicle.wheels.wheel_radius)


@dataclass(frozen=True)
class WiredCoupling:
    """A coupling with its length and the portals that pass it, in the order of the connector's cavities."""

    ports: CouplingPorts
    name: str
    length: CouplingLengths
    portals: tuple[Portal, ...]
    cavities: tuple[int, ...]
    """Of each portal; what is built keeps its own, so one may be left empty."""
    diameter_mm: float
    whole: int = 0
    """How many of the portals, the last ones, are passed by leads as bought, beside any connector."""

    @property
    def joined(self) -> tuple[Portal, ...]:
        """The portals that have a cavity in the connector."""
        return self.portals[: len(self.portals) - self.whole]

    def cavity(self, portal: Portal) -> int:
        """Return the number, from 1, of the cavity that a portal's conductor has in a connector."""
        return self.cavities[self.portals.index(portal)]


@dataclass(frozen=True)
class LeftAt:
    """Where wires over a coupling leave an open end: the middle of them, and how far the farthest is off."""

    at: Vec
    aside: float = 0.0


def _left_at(layout: Layout, pulled: Mapping[int, Pulled], portals: Collection[Portal]) -> dict[str, LeftAt]:
    """Return by vehicle where the wires of some portals leave its open end, in the vehicle's frame (mm)."""
    points: dict[str, list[Vec]] = defaultdict(list)
    for laid in layout.laid:
        way, vehicle = pulled[id(laid)].points, laid.segment.vehicle
        for node, point in ((laid.segment.start, way[0]), (laid.segment.end, way[-1])):
            if not isinstance(node, Portal) or node not in portals:
                continue
            if layout.couplings[node].port_in(layout.maps[vehicle]).is_open_end:
                points[vehicle].append(layout.true_point(vehicle, point))
    found = {}
    for vehicle, there in points.items():
        low, high = ([side(point[k] for point in there) for k in range(3)] for side in (min, max))
        at = ((low[0] + high[0]) / 2, (low[1] + high[1]) / 2, (low[2] + high[2]) / 2)
        found[vehicle] = LeftAt(at, max(math.dist(at, point) for point in there))
    return found


def wired_couplings(
    layout: Layout, train: Train, diameters: Mapping[str, float], pulled: Mapping[int, Pulled]
) -> dict[Portal, WiredCoupling]:
    """Return for every portal in use the coupling that it passes, with lengths.

    A portal that only one side reached crosses nothing and is left out.
    """
    sides: dict[Portal, int] = defaultdict(int)
    for laid in layout.laid:
        for node in (laid.segment.start, laid.segment.end):
            if isinstance(node, Portal):
                sides[node] += 1
    groups: dict[CouplingPorts, list[Portal]] = defaultdict(list)
    for portal, ports in layout.couplings.items():
        if sides[portal] == 2:
            groups[ports].append(portal)
    roles = {net.name: ("ground", "supply", "signal").index(net.role) for net in train.nets}
    leads = {net.name for net in train.nets if net.lead}
    found: dict[Portal, WiredCoupling] = {}
    kept = layout.kept
    free = (f"J{n}" for n in count(1) if f"J{n}" not in kept.couplings.values())
    for ports, portals in sorted(groups.items(), key=lambda item: item[0].coupling):
        # Ground first, then supply, then signals: the same order in every connector; what is built stays.
        portals.sort(key=lambda portal: (roles[portal.net], portal.net, portal.lane))
        beside = [portal for portal in portals if portal.net in leads]
        joined = [portal for portal in portals if portal.net not in leads]
        mine = {portal: kept.cavities[portal] for portal in joined if portal in kept.cavities}
        empty = (n for n in count(1) if n not in mine.values())
        cavities = {portal: mine[portal] if portal in mine else next(empty) for portal in joined}
        joined.sort(key=cavities.__getitem__)
        thickness = bundle_diameter(diameters[portal.net] for portal in portals)
        length = length_of(train, ports, thickness, _left_at(layout, pulled, portals))
        numbers = tuple(cavities[portal] for portal in joined)
        name = kept.couplings.get(ports.coupling) or next(free)
        entry = WiredCoupling(ports, name, length, (*joined, *beside), numbers, thickness, len(beside))
        found.update(dict.fromkeys(portals, entry))
    return found
