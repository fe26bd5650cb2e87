"""What each net is wired with: what its user wishes, or as much thicker as current and length ask for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Protocol

from fitplan.model.as_built import BuiltWire
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Conductor, Lead, OwnLeads
from fitplan.model.nets import Net
from fitplan.model.own_leads import own_lead_at
from fitplan.model.part import Part
from fitplan.model.solids import Vec
from fitplan.model.straight_links import tree_of_links
from fitplan.routing.harness.conductors import choose_gauge
from fitplan.routing.map.ends import ResolvedNet
from fitplan.routing.negotiation.layout import Layout
from fitplan.routing.ways.way import lattice_length
from fitplan.units import PITCH


class NetLoad(Protocol):
    """What flows in a net: average and peak in mA."""

    @property
    def average_ma(self) -> float:
        """Average current in mA."""

    @property
    def peak_ma(self) -> float:
        """Peak current in mA."""


def diameters_of(gauges: Mapping[str, Conductor]) -> dict[str, float]:
    """Return the outer diameter (mm) of each net's wire."""
    return {net: conductor.outer_mm for net, conductor in gauges.items()}


def as_they_are(built: BuiltTrain, wished: Mapping[str, Conductor]) -> dict[str, Conductor]:
    """Return the wires of nets: where some are built, theirs, if these are no thinner than what is wished."""
    gauges = {wire.net: wire.awg for wire in built.train.as_built.wires}
    singles = {one.awg: one for one in _singles(built)}
    return {
        net: singles[awg] if (awg := gauges.get(net, have.awg)) < have.awg and awg in singles else have
        for net, have in wished.items()
    }


def as_thick(built: BuiltTrain, gauges: Mapping[str, Conductor]) -> tuple[BuiltWire, ...]:
    """Return what is built of wires that are thick enough; leads that parts come with are as they are."""
    there = built.train.as_built

    def thick(wire: BuiltWire) -> bool:
        own = (own_lead_at(built, end) for end in (wire.start, wire.end))
        return wire.awg in {gauges[wire.net].awg, *(lead.awg for lead in own if lead is not None)}

    held = (wire for wire in there.wires if wire.number not in there.released)
    return tuple(wire for wire in held if wire.net in gauges and thick(wire))


def _singles(built: BuiltTrain) -> list[Conductor]:
    return [
        conductor
        for part in built.train.catalogue.values()
        if (conductor := part.figure(Conductor)) is not None and conductor.conductors == 1
    ]


def wished_wire(built: BuiltTrain, net: Net) -> Conductor:
    """Return the wire that the user wants for a net of this role."""
    wiring = built.train.wiring
    if net.lead:
        return _cable(built.train.catalogue[net.lead])
    ready_made = wiring.leads[0] if wiring.leads and _takes_leads(built, net) else ""
    if ready_made:
        return _cable(built.train.catalogue[ready_made])
    part = built.train.catalogue[wiring.signal_wire if net.role == "signal" else wiring.power_wire]
    conductor = part.figure(Conductor)
    assert conductor is not None  # the reader lets nothing but wires through
    return conductor


def _cable(part: Part) -> Conductor:
    """Return the cable of a lead as bought, as routing sees a wire."""
    lead = part.figure(Lead)
    assert lead is not None  # the reader lets nothing but leads through
    return Conductor(lead.awg, 1, lead.outer_mm, 7)


def _takes_leads(built: BuiltTrain, net: Net) -> bool:
    """Return whether all pins that a net may use take the socket of a ready-made lead."""
    pins = [
        pin for ref in net.joins for pin in built.pins_of(ref.owner) if ref.pin in ("*", pin.name, pin.role)
    ]
    return bool(pins) and all(pin.joint in ("header", "attached") for pin in pins if pin.joint != "plug")


def thick_enough(
    built: BuiltTrain,
    nets: Sequence[ResolvedNet],
    wished: Mapping[str, Conductor],
    currents: Mapping[str, NetLoad],
    metres: Mapping[str, float],
) -> dict[str, Conductor]:
    """Exchange the wires that carry too much, or drop too much over the whole of their net.

    Parameters
    ----------
    wished
        What each net is wired with where that will do.
    metres
        Length of each net in all vehicles, in m; `laid_metres` or `straight_metres`.
    """
    singles = _singles(built)
    found = dict(wished)
    for net in nets:
        name, have = net.net.name, wished[net.net.name]
        if net.net.lead:
            continue  # it has the gauge that it is sold in
        stock = {c.awg: c for c in singles if c.awg < have.awg} | {have.awg: have}
        limit = built.train.wiring.drop_limit_v if net.net.role != "signal" else float("inf")
        chosen = stock[choose_gauge(currents[name].average_ma / 1000, metres.get(name, 0.0), limit, stock)]
        found[name] = thick_as_own(built, net, chosen)
    return found


def laid_metres(layout: Layout) -> dict[str, float]:
    """Return the length of each net's wires in vehicles, as they lie (m)."""
    found: dict[str, float] = defaultdict(float)
    for laid in layout.laid:
        found[laid.segment.net] += lattice_length(laid.voxels, PITCH) / 1000
    return found


def straight_metres(layout: Layout, vehicles: frozenset[str]) -> dict[str, float]:
    """Return what each net takes in some vehicles at a guess (m): links along the axes from pin to port.

    That is less than what will lie there, but for trees that branch beside pins.
    """
    points: dict[tuple[str, str], list[Vec]] = defaultdict(list)
    for net in layout.nets:
        for end in net.ends:
            points[net.net.name, end.vehicle].append(end.at)
    for portal, ports in layout.couplings.items():
        for vehicle in (ports.ahead, ports.behind):
            port = ports.port_in(layout.maps[vehicle])
            points[portal.net, vehicle].append(port.box.center)
    found: dict[str, float] = defaultdict(float)
    for (name, vehicle), where in points.items():
        if vehicle in vehicles:
            found[name] += tree_of_links(where) / 1000
    return found


def thick_as_own(built: BuiltTrain, net: ResolvedNet, conductor: Conductor) -> Conductor:
    """Return a wire that is no thinner than leads which parts of the net come with."""
    owners = {end.owner for end in net.ends}
    outers = [
        leads.outer_mm
        for one in built.placements
        if one.need in owners and (leads := one.part.figure(OwnLeads)) is not None
    ]
    return replace(conductor, outer_mm=max([conductor.outer_mm, *outers]))
