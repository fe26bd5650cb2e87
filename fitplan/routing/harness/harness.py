"""The harness of a placed train: every net becomes wires with ways, lengths, colours and gauges."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count

from fitplan.budget import UNHURRIED, Budget
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Conductor
from fitplan.model.train import Train
from fitplan.model.wired import Crossing, Harness, Unreached
from fitplan.model.wiring_facts import WiringFacts
from fitplan.routing.harness.chains import PassedSegment, chains_of, in_running_order
from fitplan.routing.harness.colours import STOCK, assign_colours
from fitplan.routing.harness.coupling_crossings import WiredCoupling, wired_couplings
from fitplan.routing.harness.gauges import (
    NetLoad,
    as_they_are,
    as_thick,
    diameters_of,
    laid_metres,
    straight_metres,
    thick_as_own,
    thick_enough,
    wished_wire,
)
from fitplan.routing.harness.shared_ways import shared_ways
from fitplan.routing.harness.wires import WireInputs, splices_of, wire_of
from fitplan.routing.map.ends import NetEnd, ResolvedNet, resolve
from fitplan.routing.map.topology import Node, Portal, SpliceSpot
from fitplan.routing.negotiation.lanes import GetOn
from fitplan.routing.negotiation.layout import CouplingPorts, Layout, Squeeze
from fitplan.routing.negotiation.ports_given_anew import with_ports_given_anew
from fitplan.routing.negotiation.tightened import TightLayout, tightened
from fitplan.routing.negotiation.train_wiring import lay_out
from fitplan.routing.negotiation.wired_before import WiredBefore


@dataclass(frozen=True)
class WiredTrain:
    """The harness, where parts would have to make way for it, and what it was laid out in."""

    harness: Harness
    squeezes: tuple[Squeeze, ...]
    layout: Layout
    """The maps of the vehicles and where the nets run in them."""
    gauges: Mapping[str, Conductor]
    """What each net is wired with."""

    @property
    def diameters(self) -> Mapping[str, float]:
        """Outer diameter of each net's wire in mm."""
        return diameters_of(self.gauges)


@dataclass(frozen=True)
class VehicleTried:
    """How the wires of one vehicle run with its parts in other places.

    ``lost`` is what does not reach; ``length_mm`` of all wires in the vehicle.
    """

    lost: tuple[Unreached, ...]
    squeezes: tuple[Squeeze, ...]
    length_mm: float


def try_vehicle(
    built: BuiltTrain,
    wired: WiredTrain,
    vehicle: str,
    budget: Budget = UNHURRIED,
    known: WiredBefore | None = None,
) -> VehicleTried:
    """Run the wires of one vehicle again; the rest of the train is as it was wired.

    Parameters
    ----------
    built
        The train with the parts of that vehicle moved, and no others.
    """
    layout = lay_out_vehicle(built, wired, vehicle, budget, known, trying=True)
    length = sum(pulled.length_mm for pulled in layout.pulled.values())
    return VehicleTried(layout.troubles.get(vehicle, ()), tuple(layout.squeezes), length)


def lay_out_vehicle(
    built: BuiltTrain,
    wired: WiredTrain,
    vehicle: str,
    budget: Budget,
    known: WiredBefore | None,
    *,
    trying: bool,
) -> Layout:
    """Return the train as wired, one vehicle laid out again; for the parameters see `try_vehicle`."""
    nets, _ = resolve(built)
    kept, memory = as_thick(built, wired.gauges), known or WiredBefore()

    def laid(get_on: GetOn) -> Layout:
        return lay_out(
            built,
            nets,
            wired.diameters,
            budget,
            before=wired.layout,
            only=vehicle,
            trying=trying,
            known=memory,
            as_built=kept,
            get_on=get_on,
        )

    return with_ports_given_anew(laid, built.train, memory, budget)


def wire_train(
    built: BuiltTrain,
    currents: Mapping[str, NetLoad],
    budget: Budget = UNHURRIED,
    known: WiredBefore | None = None,
    *,
    later: frozenset[str] = frozenset(),
    like: Mapping[str, Conductor] | None = None,
) -> WiredTrain:
    """Run every net of a placed train.

    Parameters
    ----------
    built
        Train with its wiring settings, placements, pin map and the straps that room is kept for; its harness
        is not looked at.
    currents
        Current of each net, by name.
    budget
        Its clock, if it has one, cuts what matters least; `Layout.cut` names that.
    known
        What was wired before; it is looked up and added to.
    later
        Vehicles that are not wired yet, as their parts will lie elsewhere; then there is no harness, and how
        thick wires must be is judged by straight links there.
    like
        What each net was wired with before, in much the same train: tried first, as whatever is wired with
        other wires is wired anew.
    """
    nets, lost = resolve(built)
    wished = as_they_are(
        built, {net.net.name: thick_as_own(built, net, wished_wire(built, net.net)) for net in nets}
    )
    memory = known or WiredBefore()

    def laid(gauges: Mapping[str, Conductor]) -> Layout:
        outer, kept = diameters_of(gauges), as_thick(built, gauges)

        def through(get_on: GetOn) -> Layout:
            return lay_out(
                built, nets, outer, budget, later=later, known=memory, as_built=kept, get_on=get_on
            )

        return with_ports_given_anew(through, built.train, memory, budget)

    gauges = wished if like is None or like.keys() != wished.keys() else dict(like)
    layout = laid(gauges)
    metres = laid_metres(layout)
    for net, more in straight_metres(layout, later).items():
        metres[net] = metres.get(net, 0.0) + more
    thicker = thick_enough(built, nets, wished, currents, metres)
    if thicker != gauges:
        gauges = thicker
        layout = laid(gauges)
    if later:
        return WiredTrain(Harness(), tuple(layout.squeezes), layout, gauges)
    tight = tightened(layout, diameters_of(gauges), budget, known)
    harness = _assemble(built, layout, nets, gauges, currents, tight)
    unreached = tuple(dict.fromkeys((*lost, *layout.unreached)))
    return WiredTrain(replace(harness, unreached=unreached), tuple(layout.squeezes), layout, gauges)


def _assemble(
    built: BuiltTrain,
    layout: Layout,
    nets: Sequence[ResolvedNet],
    gauges: Mapping[str, Conductor],
    currents: Mapping[str, NetLoad],
    tight: TightLayout,
) -> Harness:
    diameters = diameters_of(gauges)
    whole = {net.net.name for net in nets if net.net.lead}  # a lead as bought is in one piece

    def parted(ports: CouplingPorts, net: str) -> bool:
        return net not in whole and bool(built.train.pair_at(ports.ahead, ports.behind))

    chains = chains_of(layout, parted)
    running = [entry.name for entry in built.train.vehicles]
    chains = [in_running_order(chain, running) for chain in chains]
    given = _numbers(chains, layout, built.train)
    numbers = {id(link.laid): number for number, chain in zip(given, chains, strict=True) for link in chain}
    bundles = shared_ways(layout, tight.pulled, diameters, numbers)
    net_of = {numbers[id(laid)]: laid.segment.net for laid in layout.laid}
    companies = [{net_of[number] for number in stretch.wires} for stretch in bundles]
    roles = {net.net.name: net.net for net in nets}
    wired = {name: net.role for name, net in roles.items() if name in net_of.values()}
    stock = tuple(dict.fromkeys(spool.colour for spool in built.train.wiring.spools)) or STOCK
    staying = {wire.net: wire.colour for wire in layout.kept.wires.values()}
    before = {wire.net: wire.colour for wire in built.train.as_built.wires}
    meeting = [*companies, *_meetings(layout, nets)]
    colours = assign_colours(wired, meeting, stock=stock, fixed=staying, before=before)
    material = WireInputs(
        built=built,
        layout=layout,
        pulled=tight.pulled,
        detours=tight.detours,
        couplings=wired_couplings(layout, built.train, diameters, tight.pulled),
        splices=_splice_names(chains, layout.kept.splices),
        nets=roles,
        gauges=gauges,
        colours=colours.colours,
        sleeved=frozenset(net for one, other, _ in colours.shared for net in (one, other)),
        average_ma={name: currents[name].average_ma for name in roles},
        allowances=built.train.wiring.allowances,
    )
    made = sorted(zip(given, chains, strict=True), key=lambda one: one[0])
    wires = tuple(wire_of(number, chain, material) for number, chain in made)
    return Harness(
        wires=wires,
        splices=splices_of(material, wires),
        stretches=bundles,
        crossings=_crossings(material, layout, numbers),
        facts=WiringFacts(alike=colours.shared),
    )


def _meetings(layout: Layout, nets: Sequence[ResolvedNet]) -> list[set[str]]:
    """Return the nets that meet at one part and at one coupling, and all that are a voltage or ground."""
    found: dict[object, set[str]] = defaultdict(set)
    for net in nets:
        for end in net.ends:
            found["part", end.owner].add(net.net.name)
        if net.net.role != "signal":
            found["rails"].add(net.net.name)
    for portal in layout.couplings:
        found["coupling", portal.coupling].add(portal.net)
    return list(found.values())


def _numbers(chains: Sequence[tuple[PassedSegment, ...]], layout: Layout, train: Train) -> list[int]:
    """Return the number of each wire: that on the labels of what is built, for new ones those after it.

    A wire that is laid anew between the same ends takes the number of the one that it replaces.
    """
    kept = layout.kept.wires
    standing = {wire.number for wire in kept.values()}
    gone: dict[tuple[str, frozenset[tuple[str, str]]], int] = {}
    for wire in train.as_built.wires:
        if wire.number not in standing:
            ends = frozenset((end.owner, end.pin) for end in (wire.start, wire.end))
            gone.setdefault((wire.net, ends), wire.number)
    fresh = count(train.as_built.highest + 1)
    found = []
    for chain in chains:
        if id(chain[0].laid) in kept:
            found.append(kept[id(chain[0].laid)].number)
            continue
        nodes = (chain[0].first, chain[-1].last)
        ends = frozenset(_name(node, layout) for node in nodes)
        again = gone.pop((chain[0].laid.segment.net, ends), None)
        found.append(next(fresh) if again is None else again)
    return found


def _name(node: Node, layout: Layout) -> tuple[str, str]:
    """Return what the end of a wire is called; of what is not built and has no name yet, nothing."""
    kept = layout.kept
    match node:
        case NetEnd():
            return (node.owner, node.pin)
        case Portal():
            return (kept.couplings.get(node.coupling, ""), str(kept.cavities.get(node, "")))
        case SpliceSpot():
            return (kept.splices.get(node, ""), "")


def _splice_names(
    chains: Iterable[tuple[PassedSegment, ...]], kept: Mapping[SpliceSpot, str]
) -> dict[SpliceSpot, str]:
    names = (f"S{n}" for n in count(1) if f"S{n}" not in kept.values())
    found: dict[SpliceSpot, str] = {}
    for chain in chains:
        for node in (chain[0].first, chain[-1].last):
            if isinstance(node, SpliceSpot) and node not in found:
                found[node] = kept.get(node) or next(names)
    return found


def _crossings(material: WireInputs, layout: Layout, numbers: Mapping[int, int]) -> tuple[Crossing, ...]:
    """Return one crossing for each pair of ports in use, with the wires in the order of its cavities."""
    through: dict[Portal, int] = {}
    for laid in layout.laid:
        for node in (laid.segment.start, laid.segment.end):
            if isinstance(node, Portal):
                # Where a connector parts the wires, the one of the vehicle ahead stands for the conductor.
                ahead = layout.couplings[node].ahead == laid.segment.vehicle
                if ahead or node not in through:
                    through[node] = numbers[id(laid)]
    found: dict[str, WiredCoupling] = {entry.name: entry for entry in material.couplings.values()}
    return tuple(
        Crossing(
            name=entry.name,
            ahead=entry.ports.ahead,
            behind=entry.ports.behind,
            port_ahead=entry.ports.port_ahead.name,
            port_behind=entry.ports.port_behind.name,
            wires=tuple(through[portal] for portal in entry.portals),
            diameter_mm=round(entry.diameter_mm, 3),
            straight_mm=round(entry.length.straight_mm, 2),
            free_mm=round(entry.length.free_mm, 2),
            governing=entry.length.governing,
            sag_above_rail_mm=round(min(entry.length.sag_lowest_mm, entry.length.sag_shortest_mm), 2),
            clip=entry.length.clip,
            connector=material.built.train.pair_at(entry.ports.ahead, entry.ports.behind),
            pin_order=tuple(
                f"{n} {portal.net}" for n, portal in zip(entry.cavities, entry.joined, strict=True)
            ),
            beside=tuple(through[portal] for portal in entry.portals if portal not in entry.joined),
        )
        for entry in found.values()
    )
