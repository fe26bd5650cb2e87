"""Chains of segments made into wires: ends, legs, lengths to cut, colours, gauges, voltage drop."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from fitplan.model.built import BuiltTrain
from fitplan.model.copper import awg_ohm_per_m
from fitplan.model.electrical import Conductor
from fitplan.model.nets import Net
from fitplan.model.solids import Vec
from fitplan.model.wired import Detour, Leg, Splice, Wire, WireEnd
from fitplan.model.wiring import Allowances
from fitplan.routing.harness.chains import PassedSegment
from fitplan.routing.harness.conductors import WARM_C, voltage_drop
from fitplan.routing.harness.coupling_crossings import WiredCoupling
from fitplan.routing.harness.lengths import CutEnd, CutLength, cut_length
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.topology import Node, Portal, SpliceSpot
from fitplan.routing.negotiation.layout import LaidDetour, LaidSegment, Layout, Pulled


@dataclass(frozen=True, eq=False)
class WireInputs:
    """What is known when wires are made: taut segments, couplings, splice names, and what each net is."""

    built: BuiltTrain
    layout: Layout
    pulled: Mapping[int, Pulled]
    """By ``id`` of the laid segment, as are ``detours``."""
    detours: Mapping[int, LaidDetour]
    couplings: Mapping[Portal, WiredCoupling]
    splices: Mapping[SpliceSpot, str]
    nets: Mapping[str, Net]
    gauges: Mapping[str, Conductor]
    colours: Mapping[str, str]
    sleeved: frozenset[str]
    average_ma: Mapping[str, float]
    allowances: Allowances

    def of(self, laid: LaidSegment) -> Pulled:
        """Return a segment pulled taut."""
        return self.pulled[id(laid)]


def wire_of(number: int, chain: tuple[PassedSegment, ...], material: WireInputs) -> Wire:
    """Return the wire that a chain of segments is cut as."""
    net = material.nets[chain[0].laid.segment.net]
    gauge = material.gauges[net.name]
    legs = tuple(_leg(link, material) for link in chain)
    lengths = _cut(chain, material)
    straight = _straight(chain, material)
    milliamps = material.average_ma[net.name]
    ohm = awg_ohm_per_m(gauge.awg, WARM_C, stranded=gauge.strands > 1)
    return Wire(
        number=number,
        net=net.name,
        role=net.role,
        colour=material.colours[net.name],
        awg=gauge.awg,
        outer_mm=gauge.outer_mm,
        start=_end(chain[0].first, legs[0].points[0], legs[0].vehicle, material),
        end=_end(chain[-1].last, legs[-1].points[-1], legs[-1].vehicle, material),
        legs=legs,
        bare_mm=round(lengths.bare_mm + straight, 2),
        allowances=tuple(
            # On straight track the coupling is part of the way; what curves and gradients ask is added.
            ("curves at couplings", round(amount - straight, 2))
            if what == "over couplings"
            else (what, round(amount, 2))
            for what, amount in lengths.additions
        ),
        cut_mm=round(lengths.cut_mm, 2),
        current_ma=round(milliamps, 3),
        drop_v=round(voltage_drop(milliamps / 1000, lengths.cut_mm / 1000, ohm), 5),
        detours=_detours(chain, material),
        sleeved=net.name in material.sleeved,
    )


def lengthened(wire: Wire, what: str, more_mm: float, rounding: float, *, than_cut: bool = False) -> Wire:
    """Return a wire with an allowance raised by so much; length to cut and drop are reckoned anew.

    ``than_cut``: longer than it was cut, not than was asked; what rounding gave before counts as used up.
    """
    added = dict(wire.allowances)
    rounded = wire.cut_mm - wire.bare_mm - sum(added.values()) if than_cut else 0.0
    added[what] = round(added.get(what, 0.0) + max(rounded, 0.0) + more_mm + (0.005 if than_cut else 0.0), 2)
    cut = math.ceil((wire.bare_mm + sum(added.values())) / rounding - 1e-9) * rounding
    return replace(
        wire,
        allowances=tuple(added.items()),
        cut_mm=round(cut, 2),
        drop_v=round(wire.drop_v * cut / wire.cut_mm, 5),
    )


def _detours(chain: tuple[PassedSegment, ...], material: WireInputs) -> tuple[Detour, ...]:
    """Return why, and by how much, a wire is longer than it need be, vehicle by vehicle."""
    found: list[Detour] = []
    for link in chain:
        detour = material.detours.get(id(link.laid))
        if detour is not None:
            vehicle = link.laid.segment.vehicle
            points = material.layout.true_points(vehicle, detour.shortest)
            found.append(
                Detour(vehicle, detour.why, detour.more_mm, points if link.forwards else points[::-1])
            )
    return tuple(found)


def _leg(link: PassedSegment, material: WireInputs) -> Leg:
    pulled = material.of(link.laid)
    points = material.layout.true_points(link.laid.segment.vehicle, pulled.points)
    return Leg(
        link.laid.segment.vehicle,
        points if link.forwards else points[::-1],
        enters=_port(link.first, link.laid.segment.vehicle, material),
        leaves=_port(link.last, link.laid.segment.vehicle, material),
    )


def _port(node: Node, vehicle: str, material: WireInputs) -> str:
    if not isinstance(node, Portal):
        return ""
    ports = material.layout.couplings[node]
    return ports.port_ahead.name if ports.ahead == vehicle else ports.port_behind.name


def _straight(chain: tuple[PassedSegment, ...], material: WireInputs) -> float:
    """Return what of a wire's way lies over couplings on straight level track, in mm."""
    total = 0.0
    for link in chain[:-1]:
        if isinstance(link.last, Portal) and link.last in material.couplings:
            total += material.couplings[link.last].length.straight_mm
    for node in (chain[0].first, chain[-1].last):
        if isinstance(node, Portal) and node in material.couplings:
            total += material.couplings[node].length.straight_mm / 2
    return total


def _cut(chain: tuple[PassedSegment, ...], material: WireInputs) -> CutLength:
    pulled = [material.of(link.laid) for link in chain]
    couplings = []
    for link in chain[:-1]:
        wired = material.couplings.get(link.last) if isinstance(link.last, Portal) else None
        if wired is not None:
            couplings.append((wired.length.free_mm, wired.length.slack_mm))
    for node in (chain[0].first, chain[-1].last):
        # A wire that ends in a coupling connector takes half of what lies over the coupling.
        if isinstance(node, Portal) and node in material.couplings:
            length = material.couplings[node].length
            couplings.append((length.free_mm / 2, length.slack_mm / 2))
    return cut_length(
        sum(piece.length_mm for piece in pulled),
        (_allowed(chain[0].first, material), _allowed(chain[-1].last, material)),
        turns_deg=[turn for piece in pulled for turn in piece.turns_deg],
        couplings=couplings,
        allowances=material.allowances,
    )


def _comes_out(need: str, built: BuiltTrain) -> bool:
    """Return whether a part comes out again: it is exchanged or used often, or is in the way of what is."""
    placement = built.placement(need)
    if placement is None:
        return False
    often = any(access.often for access in placement.part.access)
    return (
        often
        or built.need_of(placement).exchange.wanted
        or any(
            (entry.often and need in entry.parts_out) or (entry.itself and entry.need == need)
            for entry in built.exchanged
        )
    )


def _allowed(node: Node, material: WireInputs) -> CutEnd:
    if isinstance(node, NetEnd):
        return CutEnd("pin", comes_out=_comes_out(node.owner, material.built))
    return CutEnd("splice" if isinstance(node, SpliceSpot) else "connector")


def _end(node: Node, at: Vec, vehicle: str, material: WireInputs) -> WireEnd:
    allowances = material.allowances
    match node:
        case NetEnd():
            place = material.layout.true_point(vehicle, node.at)
            return WireEnd("pin", node.owner, node.pin, vehicle, place, allowances.strip)
        case SpliceSpot():
            return WireEnd("splice", material.splices[node], "", vehicle, at, allowances.splice_overlap)
        case Portal():
            wired = material.couplings.get(node)
            name, cavity = (wired.name, str(wired.cavity(node))) if wired is not None else ("", "")
            return WireEnd("connector", name, cavity, vehicle, at, allowances.strip)


def splices_of(material: WireInputs, wires: tuple[Wire, ...]) -> tuple[Splice, ...]:
    """Return the splices with the wires that meet in each."""
    found = []
    for spot, name in material.splices.items():
        mine = tuple(
            wire.number
            for wire in wires
            for end in (wire.start, wire.end)
            if end.kind == "splice" and end.owner == name
        )
        middle = material.layout.maps[spot.vehicle].frame.center(spot.voxel)
        point = material.layout.true_point(spot.vehicle, middle)
        at = (round(point[0], 4), round(point[1], 4), round(point[2], 4))
        found.append(Splice(name, spot.net, spot.vehicle, at, mine))
    return tuple(found)
