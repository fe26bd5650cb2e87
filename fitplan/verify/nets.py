"""Whether every net joins its pins and no others, and whether wires are counted where they pass.

Rules: pins and splices are joined by wires, wires of two vehicles also by the same cavity of one coupling
connector, pins of one group also inside their part. No pin has more wires than it takes. A net must hang
together over all pins that it joins, but those that the plan itself calls unreached. No pin is in two nets (a
row of the pin map without a net keeps a pin spare). A crossing counts each conductor once; where connectors
part the wires, it names those of the vehicle ahead. What passes a port fits through it: the wires' sections
together are at most π/√12 of the port's (no packing of equal circles is denser: Fejes Tóth 1942).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from itertools import pairwise

import networkx as nx

from fitplan.model.built import BuiltTrain
from fitplan.model.nets import Net, PinRef
from fitplan.model.solids import Vec, axis_of, way_length
from fitplan.model.wired import Crossing, Stretch, Wire, WireEnd
from fitplan.verify.couplings import leaves_at
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site
from fitplan.verify.shapes import PLANE

Node = tuple[str, str, str]
"""Kind, owner, pin."""
NEAR = 0.1
"""Lengths and diameters agree to this (mm)."""
DENSEST = math.pi / math.sqrt(12)


def check_nets(built: BuiltTrain, sheet: Tally) -> None:
    """Check that every net hangs together and touches no pin of another."""
    by_net: dict[str, list[Wire]] = defaultdict(list)
    for wire in built.harness.wires:
        by_net[wire.net].append(wire)
    known = {net.name for net in built.train.nets}
    for name in sorted(set(by_net) - known):
        sheet.problem("net", name, "has wires but is no net of the train")
    pins_of: dict[Node, set[str]] = defaultdict(set)
    for net in built.train.nets:
        sheet.count("nets")
        asked = _asked(built, net)
        joined = _joined(by_net[net.name])
        touched = {node for node in joined if node[0] == "pin"}
        for node in touched:
            pins_of[node].add(net.name)
        inside = [_joined_inside(built, node) for node in asked]
        for owner, pin in sorted((node[1], node[2]) for node in touched.difference(asked, *inside)):
            sheet.problem("net", net.name, f"has a wire at {owner}.{pin}, which it does not join")
        for group in inside:
            joined.add_edges_from(pairwise(sorted(group)))
        _hangs_together(built, net, asked, joined, sheet)
    for (_, owner, pin), nets in sorted(pins_of.items()):
        if len(nets) > 1:
            sheet.problem(
                "net", f"{owner}.{pin}", f"is joined by {' and '.join(sorted(nets))}", len(nets), ""
            )
    _places(built, sheet)
    _splices(built, sheet)
    _pin_map(built, sheet)


def _places(built: BuiltTrain, sheet: Tally) -> None:
    """Check that no pin has more wires than it takes."""
    wires: dict[tuple[str, str], int] = defaultdict(int)
    for wire in built.harness.wires:
        for end in (wire.start, wire.end):
            if end.kind == "pin":
                wires[end.owner, end.pin] += 1
    for (owner, name), count in sorted(wires.items()):
        pin = next((pin for pin in built.pins_of(owner) if pin.name == name), None)
        sheet.count("pins with wires")
        if pin is not None and count > pin.wires:
            message = f"has {count} wires and takes {pin.wires} ({pin.joint})"
            sheet.problem("pin", f"{owner}.{name}", message, count - pin.wires, "wires")


def _joined_inside(built: BuiltTrain, node: Node) -> set[Node]:
    """Return the pins that a part joins with one of its own inside, that one included."""
    pins = built.pins_of(node[1])
    group = next((pin.joined for pin in pins if pin.name == node[2]), "")
    found = {("pin", node[1], pin.name) for pin in pins if group and pin.joined == group}
    return found | {node}


def _joined(wires: list[Wire]) -> nx.Graph[Node]:
    graph: nx.Graph[Node] = nx.Graph()
    for wire in wires:
        graph.add_edge(_node(wire.start), _node(wire.end))
    return graph


def _node(end: WireEnd) -> Node:
    return (end.kind, end.owner, "" if end.kind == "splice" else end.pin)


def _asked(built: BuiltTrain, net: Net) -> set[Node]:
    """Return the pins that a net must join, as far as they can be told."""
    found: set[Node] = set()
    for ref in net.joins:
        for pin in _pins(built, net, ref):
            found.add(("pin", ref.owner, pin))
    return found


def _pins(built: BuiltTrain, net: Net, ref: PinRef) -> list[str]:
    if ref.pin == "*":
        uses = built.pin_map
        return sorted({use.pin for use in uses if use.controller == ref.owner and use.net == net.name})
    pins = built.pins_of(ref.owner)
    named = [pin.name for pin in pins if pin.name == ref.pin]
    by_role = [pin.name for pin in pins if pin.role == ref.pin]
    # A role stands for the pins of that role; a net reaches it by the first.
    return named[:1] or by_role[:1]


def _alone(built: BuiltTrain, net: Net, owner: str) -> bool:
    """Return whether nothing but one owner has a place in a net: then no pin is chosen for it."""
    others = {ref.owner for ref in net.joins} - {owner}
    return not any(built.placement(other) or built.train.built_in(other) for other in others)


def _hangs_together(
    built: BuiltTrain, net: Net, asked: set[Node], joined: nx.Graph[Node], sheet: Tally
) -> None:
    lost = [entry for entry in built.harness.unreached if entry.net == net.name]
    groups = [set(group) for group in nx.connected_components(joined)]
    # What a part joins inside and no wire touches is no piece of its own.
    groups = [group for group in groups if any(node in asked or node[0] != "pin" for node in group)]
    main = max(groups, key=lambda group: len(group & asked), default=set())
    apart = sorted(asked - main) if len(asked) > 1 else []
    names = ", ".join(f"{owner}.{pin}" for _, owner, pin in apart)
    if apart and lost:
        # The plan owns up to a net that is not whole; which of its pins are cut off is worth a note.
        sheet.note("net", net.name, f"not joined, as the plan says: {names}", len(apart), "pins")
    elif apart:
        sheet.problem("net", net.name, f"not joined to the rest of the net: {names}", len(apart), "pins")
    if len(groups) > 1 and not apart and not lost:
        sheet.problem("net", net.name, f"falls apart into {len(groups)} pieces", len(groups), "pieces")
    missing = [
        ref
        for ref in net.joins
        if not _pins(built, net, ref)
        and not any(entry.owner == ref.owner for entry in lost)
        and not (ref.pin == "*" and _alone(built, net, ref.owner))
    ]
    for ref in missing:
        sheet.problem("net", net.name, f"{ref.owner}.{ref.pin} is no pin, and the plan does not say so")
    sheet.count("pins joined", len(asked & main))


def _splices(built: BuiltTrain, sheet: Tally) -> None:
    by_number = {wire.number: wire for wire in built.harness.wires}
    for splice in built.harness.splices:
        sheet.count("splices")
        if len(splice.wires) < 2:
            sheet.problem("splice", splice.name, "joins fewer than two wires", len(splice.wires), "wires")
        for number in splice.wires:
            wire = by_number.get(number)
            if wire is None or splice.name not in (
                end.owner for end in (wire.start, wire.end) if end.kind == "splice"
            ):
                sheet.problem("splice", splice.name, f"names wire {number}, which does not end there")


def _pin_map(built: BuiltTrain, sheet: Tally) -> None:
    nets: dict[tuple[str, str], set[str]] = defaultdict(set)
    known = {net.name for net in built.train.nets}
    for use in built.pin_map:
        sheet.count("rows of the pin map")
        nets[use.controller, use.pin].add(use.net)
        pin = next((pin for pin in built.pins_of(use.controller) if pin.name == use.pin), None)
        if pin is None and built.placement(use.controller) is not None:
            sheet.problem("pin map", use.controller, f"has no pin {use.pin}")
        elif pin is not None and use.program != pin.in_program:
            message = f"{use.pin} is called {use.program} in programs; the part says {pin.in_program}"
            sheet.problem("pin map", use.controller, message)
        if use.net not in known and use.net:
            sheet.problem("pin map", use.controller, f"{use.pin} serves {use.net}, which is no net")
    for (controller, name), used in sorted(nets.items()):
        if len(used) > 1:
            message = f"{name} is used by {' and '.join(sorted(used))}"
            sheet.problem("pin map", controller, message, len(used), "nets")


def check_counts(built: BuiltTrain, sites: Mapping[str, Site], sheet: Tally) -> None:
    """Check that what is said of couplings, ports and stretches is what the wires do."""
    by_number = {wire.number: wire for wire in built.harness.wires}
    for crossing in built.harness.crossings:
        sheet.count("crossings")
        passing = _passing(built, crossing)
        if len(set(crossing.wires)) != len(crossing.wires) or set(crossing.wires) != passing:
            message = f"counts wires {_numbers(crossing.wires)}; the wires that cross are {_numbers(passing)}"
            sheet.problem("crossing", crossing.name, message, len(passing) - len(crossing.wires), "wires")
        _reaches_over(built, crossing, sheet)
    counted = {number for crossing in built.harness.crossings for number in crossing.wires}
    for wire in built.harness.wires:
        if len(wire.legs) > 1 and (wire.inside or wire.number) not in counted:
            sheet.problem("crossing", f"wire {wire.number}", "crosses a coupling and is counted at none")
    for stretch in built.harness.stretches:
        sheet.count("stretches")
        for number in stretch.wires:
            stretched = by_number.get(number)
            if stretched is None or stretch.vehicle not in (leg.vehicle for leg in stretched.legs):
                message = f"names wire {number}, which does not run in {stretch.vehicle}"
                sheet.problem("stretch", stretch.name, message)
        _stretch_figures(stretch, by_number, sheet)
    _ports(built, sites, sheet)


def _reaches_over(built: BuiltTrain, crossing: Crossing, sheet: Tally) -> None:
    """Check that a joint is at least as long as where wires leave is apart on straight level track."""
    starts = built.train.starts()
    mouths: list[Vec] = []
    for name, port_name in (
        (crossing.ahead, crossing.port_ahead),
        (crossing.behind, crossing.port_behind),
    ):
        entry = next((entry for entry in built.train.vehicles if entry.name == name), None)
        port = entry.vehicle.port(port_name) if entry is not None else None
        if entry is None or port is None:
            message = f"goes through {port_name} of {name}, which is not there"
            sheet.problem("crossing", crossing.name, message)
            return
        mouths.append(entry.in_train(starts[name], leaves_at(crossing, entry, port, built.harness.wires)[0]))
    apart = math.dist(*mouths)
    short = max(apart - crossing.free_mm, crossing.straight_mm - crossing.free_mm)
    if short > NEAR:
        message = f"is {crossing.free_mm:.1f} mm long; its ports are {apart:.1f} mm apart on straight track"
        sheet.problem("crossing", crossing.name, message, short, "mm")


def _stretch_figures(stretch: Stretch, by_number: Mapping[int, Wire], sheet: Tally) -> None:
    """Check that a stretch is no thinner than its wires' sections together, and as long as its way."""
    square = sum(by_number[number].outer_mm ** 2 for number in stretch.wires if number in by_number)
    thin = math.sqrt(square) - stretch.diameter_mm
    if thin > NEAR:
        message = f"is {stretch.diameter_mm:.2f} mm thick; the sections of its wires alone make more"
        sheet.problem("stretch", stretch.name, message, thin, "mm")
    way = way_length(stretch.points)
    off = abs(way - stretch.length_mm)
    if off > NEAR:
        message = f"says it is {stretch.length_mm:.1f} mm long; its way is {way:.1f} mm"
        sheet.problem("stretch", stretch.name, message, off, "mm")


def _passing(built: BuiltTrain, crossing: Crossing) -> set[int]:
    """Return the wires that pass a crossing; with connectors, those that end there on the side ahead."""
    found: set[int] = set()
    for wire in built.harness.wires:
        if wire.inside:
            continue
        for one, other in pairwise(wire.legs):
            ends = {(one.vehicle, one.leaves), (other.vehicle, other.enters)}
            if ends == {
                (crossing.ahead, crossing.port_ahead),
                (crossing.behind, crossing.port_behind),
            }:
                found.add(wire.number)
        for end in (wire.start, wire.end):
            if end.kind == "connector" and (end.owner, end.vehicle) == (crossing.name, crossing.ahead):
                found.add(wire.number)
    return found


def _numbers(wires: set[int] | tuple[int, ...]) -> str:
    return ", ".join(str(number) for number in sorted(wires)) or "none"


def _ports(built: BuiltTrain, sites: Mapping[str, Site], sheet: Tally) -> None:
    """Check that stretches name the wires that pass each port, and that these fit through it."""
    through: dict[tuple[str, str], list[Wire]] = defaultdict(list)
    for wire in (one for one in built.harness.wires if not one.inside):
        for leg in wire.legs:
            for passed in {leg.enters, leg.leaves} - {""}:
                through[leg.vehicle, passed].append(wire)
    for (vehicle, name), wires in sorted(through.items()):
        sheet.count("ports with wires")
        port = sites[vehicle].vehicle.port(name) if vehicle in sites else None
        if port is None:
            continue  # said where the wires are checked
        first, second = PLANE[axis_of(port.out)]
        room = port.box.size[first] * port.box.size[second]
        filled = sum(math.pi / 4 * wire.outer_mm**2 for wire in wires)
        if filled > room * DENSEST:
            message = f"{len(wires)} wires fill {filled:.1f} mm² of {room:.1f} mm²; no bundle is that dense"
            sheet.problem("port", f"{vehicle}, {name}", message, filled / room, "of the port")
        said = {
            number
            for stretch in built.harness.stretches
            if (stretch.vehicle, stretch.port) == (vehicle, name)
            for number in stretch.wires
        }
        passing = {wire.number for wire in wires}
        if built.harness.stretches and not passing <= said:
            message = f"wires {_numbers(passing - said)} pass and are in no stretch through it"
            sheet.problem("port", f"{vehicle}, {name}", message, len(passing - said), "wires")
