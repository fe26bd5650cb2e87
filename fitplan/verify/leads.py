"""Whether leads as bought are what they are said to be, and what is left over of them has room.

Rules, with their tolerances:

* a lead is one of the plan's catalogue, of a length that it is sold in, with the cable's gauge and diameter;
  what is at its ends fits what it goes to: a plug a socket of its name, a socket a pin of a pin row;
* it is as long as its way, its allowances and its surplus together (0.1 mm); where it is shortened and joined
  again, a finding says so;
* surplus of more than 1 mm lies in a box: h hairpins one on the other are h diameters high, two radii of a
  bend
  and a diameter wide; in its length, less the arcs at both ends, 2 h straight strands must hold it (0.1 mm);
* with its plugs on it goes through the ports on its way, over the studs in them: some cut of it leaves each
  plug ports that it slips through;
* that box borders on the lead (3 mm off it) and runs into no body, part, clearance, shelf, brick, pair or
  other box; no other wire's middle line comes nearer to it than its radius less 0.05 mm;
* a lead that plugs in has a second conductor on the same way, from ground contact to ground contact.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise, permutations

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Connector, Lead, OwnLeads
from fitplan.model.found import Finding
from fitplan.model.part import Part
from fitplan.model.plugged import PLUG
from fitplan.model.solids import Box, axis_of
from fitplan.model.vehicle import Port, Vehicle
from fitplan.model.wired import Wire, WireEnd
from fitplan.verify.distance import line_to_shape
from fitplan.verify.overlap import overlap
from fitplan.verify.result import Tally
from fitplan.verify.scene import BLOCKED, Site, core_of, drawn_bricks

NEAR = 0.1
_THIN = 1e-6
_LOOSE = 1.0
_BESIDE = 3.0
_RADIUS_LESS = 0.05
_TAKEN: dict[str, tuple[str, ...]] = {
    "header": ("socket",), "solder": ("bare",), "screw": ("bare", "pin"), "lever": ("bare", "pin"),
}  # fmt: skip
"""A clamp holds the pin of a lead as well as bare wire (common practice, no source)."""


def check_leads(
    built: BuiltTrain, sites: Mapping[str, Site], findings: tuple[Finding, ...], sheet: Tally
) -> None:
    """Check every lead as bought, and that every net which asks for one has it or a finding."""
    boxes: list[tuple[str, str, Box]] = []
    for wire in built.harness.wires:
        if wire.inside:
            _inside(built, wire, sheet)
        elif wire.lead is not None:
            sheet.count("leads as bought")
            _lead(built, wire, findings, sheet)
            if wire.lead.fold is not None:
                boxes.append((wire.label, wire.lead.vehicle, wire.lead.fold))
                _room(built, wire, wire.lead.fold, sites, sheet)
    for number, (name, vehicle, box) in enumerate(boxes):
        for other, there, more in boxes[:number]:
            if vehicle == there and overlap(core_of(box), core_of(more)):
                sheet.problem("lead", name, f"what is left over lies in that of {other}")
    for net in built.train.nets:
        wires = [wire for wire in built.harness.wires if wire.net == net.name and net.lead]
        told = any(
            item.subject == "leads" and item.severity != "note" and net.name in item.where
            for item in findings
        )
        for wire in wires:
            if wire.lead is None and not told:
                sheet.problem(
                    "lead", wire.label, f"is no {net.lead}, which its net asks for, and nothing says so"
                )
            if wire.lead is not None and wire.lead.part_id != net.lead:
                sheet.problem("lead", wire.label, f"is {wire.lead.part_id}; its net asks for {net.lead}")
            if wire.lead is not None and not any(one.inside == wire.number for one in built.harness.wires):
                sheet.problem("lead", wire.label, "plugs in, and brings no ground")


def _lead(built: BuiltTrain, wire: Wire, findings: tuple[Finding, ...], sheet: Tally) -> None:
    lead = wire.lead
    assert lead is not None
    part = built.train.catalogue.get(lead.part_id)
    figures = _figures(part, own=lead.own)
    if figures is None:
        sheet.problem("lead", wire.label, f"is {lead.part_id}, which is no lead of the plan's catalogue")
        return
    if lead.length_mm not in figures.lengths_mm:
        message = f"is {lead.length_mm:g} mm long, which {lead.part_id} is not sold in"
        sheet.problem("lead", wire.label, message, lead.length_mm, "mm")
    # Where a part's own lead runs the room is that of the net's wire, if that is thicker.
    thin = wire.outer_mm < figures.outer_mm if lead.own else wire.outer_mm != figures.outer_mm
    if wire.awg != figures.awg or thin:
        sold_as = f"AWG {figures.awg}, {figures.outer_mm:g} mm"
        message = f"AWG {wire.awg}, {wire.outer_mm:g} mm thick; its cable is {sold_as}"
        sheet.problem("lead", wire.label, message)
    ends = [_fits_at(built, end) for end in (wire.start, wire.end)]
    sold = (figures.first, figures.second)
    if not any(a in ends[0] and b in ends[1] for a, b in (sold, sold[::-1])):
        sheet.problem("lead", wire.label, f"goes from {sold[0]} to {sold[1]}, which fits its ends not")
    if not lead.shortened and not _slips_through(built, wire):
        sheet.problem("lead", wire.label, "goes as it is through a port that its plug is too thick for")
    surplus = sum(amount for what, amount in wire.allowances if what == "surplus")
    if lead.shortened:
        if surplus or lead.fold is not None:
            sheet.problem("lead", wire.label, "is shortened, and something is left over")
        told = {one.severity for one in findings if one.subject == "leads" and wire.net in one.where}
        if not told & {"caution", "stop"}:
            sheet.problem("lead", wire.label, "is shortened and joined again, and nothing says so")
        elif not built.train.wiring.solder and "stop" not in told:
            sheet.problem("lead", wire.label, "is joined again without an iron, and that stops nothing")
        return
    if abs(wire.cut_mm - lead.length_mm) > NEAR:
        message = f"is {wire.cut_mm:g} mm long; the lead is {lead.length_mm:g} mm"
        sheet.problem("lead", wire.label, message, wire.cut_mm - lead.length_mm, "mm")
    whole = wire.bare_mm + sum(amount for _, amount in wire.allowances)
    if abs(whole - lead.length_mm) > NEAR:
        message = f"way, allowances and surplus make {whole:.1f} mm; the lead is {lead.length_mm:g} mm"
        sheet.problem("lead", wire.label, message, whole - lead.length_mm, "mm")
    if (surplus > _LOOSE + NEAR) != (lead.fold is not None):
        sheet.problem("lead", wire.label, f"has {surplus:.0f} mm too much, and a place for it: not both")
    elif lead.fold is not None:
        held = _holds(lead.fold, figures)
        if held < surplus - NEAR:
            message = f"has {surplus:.1f} mm too much; the room for it holds {held:.1f} mm"
            sheet.problem("lead", wire.label, message, surplus - held, "mm")


def _figures(part: Part | None, *, own: bool) -> Lead | None:
    """Return what a lead is, from its own part or from that of the part which comes with it."""
    if part is None:
        return None
    if not own:
        return part.figure(Lead)
    one = part.figure(OwnLeads)
    return (
        Lead("bare", one.end, (one.length_mm,), one.awg, one.outer_mm, one.bend_mm)
        if one is not None
        else None
    )


def _fits_at(built: BuiltTrain, end: WireEnd) -> tuple[str, ...]:
    """Return what a lead may have at an end that goes to a pin."""
    pin = next((one for one in built.pins_of(end.owner) if one.name == end.pin), None)
    if end.kind == "connector":
        crossing = next((one for one in built.harness.crossings if one.name == end.owner), None)
        pair = built.train.catalogue.get(crossing.connector) if crossing is not None else None
        figures = pair.figure(Connector) if pair is not None else None
        return ("socket",) if figures is not None and figures.sockets else ()
    if pin is None or end.kind != "pin":
        return ()
    if pin.joint == "attached":
        return ("bare",)
    if pin.socket and pin.joint == "plug":
        return (pin.socket,)
    return _TAKEN.get(pin.joint, ())


def _slips_through(built: BuiltTrain, wire: Wire) -> bool:
    """Return whether a lead with its plugs on can be led through the ports on its way."""
    openings: list[list[tuple[float, float]]] = []
    for leg in wire.legs:
        vehicle = built.train.vehicle(leg.vehicle).vehicle
        openings.append([])
        for port in vehicle.ports:
            if port.name in (leg.enters, leg.leaves):
                edges = sorted(_clear_edges(vehicle, port, built.taken_out(leg.vehicle)))
                openings[-1].append((edges[0], edges[1]))
    plugs = [plug_edges(built, end) for end in (wire.start, wire.end)]
    # One cut through the lead tells which plug goes through which ports: all before it the first, else the
    # second; so it comes from the vehicle that the cut lies in, or from the gap that it lies in.
    ways = [way for group in openings for way in group]
    return any(
        all(plug_goes(plugs[0], way) for way in ways[:cut])
        and all(plug_goes(plugs[1], way) for way in ways[cut:])
        for cut in range(len(ways) + 1)
    )


def _clear_edges(vehicle: Vehicle, port: Port, removed: frozenset[str]) -> list[float]:
    """Return the edges of a port across its way, less the studs that stand up in it."""
    edges = list(port.box.size)
    body = drawn_bricks(vehicle, removed)
    for stud in body[len(vehicle.body) :]:
        box = stud.shape.bounds
        if all(
            min(box.high[i], port.box.high[i]) - max(box.low[i], port.box.low[i]) > _THIN for i in range(3)
        ):
            edges[2] = min(edges[2], port.box.high[2] - box.high[2])
    del edges[axis_of(port.out)]
    return edges


def plug_goes(plug: tuple[float, float], way: tuple[float, float]) -> bool:
    """Return whether a plug of these edges, the lesser first, goes through an opening."""
    return plug[0] <= min(way) and plug[1] <= max(way)


def plugs_on(built: BuiltTrain, wire: Wire) -> tuple[tuple[float, float], ...]:
    """Return the edges of both plugs of a lead that keeps them, its start first; nothing for other wires."""
    if wire.lead is None or wire.lead.shortened:
        return ()
    return plug_edges(built, wire.start), plug_edges(built, wire.end)


def plug_edges(built: BuiltTrain, end: WireEnd) -> tuple[float, float]:
    """Return the two smaller edges of the plug at an end of a lead; nothing for single sockets and pins."""
    placement = built.placement(end.owner)
    pin = next((one for one in built.pins_of(end.owner) if one.name == end.pin), None)
    if end.kind != "pin" or placement is None or pin is None or not pin.socket:
        return (0.0, 0.0)
    rooms = [entry.solid.bounds.size for entry in placement.part.clearances if entry.name == PLUG]
    edges = sorted(rooms[0]) if rooms else [0.0, 0.0]
    return (edges[0], edges[1])


def _holds(box: Box, figures: Lead) -> float:
    """Return how much of a lead a box holds at most, laid to and fro."""
    best = 0.0
    turn = 2 * figures.bend_mm + figures.outer_mm
    for long, wide, high in permutations(box.size):
        hairpins = int((high + 1e-6) / figures.outer_mm)
        if wide >= turn - 1e-6:
            best = max(best, 2 * hairpins * (long - turn))
    return best


def _room(built: BuiltTrain, wire: Wire, box: Box, sites: Mapping[str, Site], sheet: Tally) -> None:
    assert wire.lead is not None
    site = sites.get(wire.lead.vehicle)
    own = [(a, b) for leg in wire.legs if leg.vehicle == wire.lead.vehicle for a, b in pairwise(leg.points)]
    if site is None or not own:
        sheet.problem("lead", wire.label, f"lies in {wire.lead.vehicle}, where it does not run")
        return
    away = min(line_to_shape(a, b, box) for a, b in own)
    if away > wire.outer_mm / 2 + _BESIDE:
        message = f"what is left over lies {away:.1f} mm beside its way"
        sheet.problem("lead", wire.label, message, away, "mm")
    core = core_of(box)
    names = [hit.piece.name for hit in site.body.hits(core, BLOCKED)]
    for part in site.parts:
        names += [part.name for shape in part.envelope if overlap(core, shape)]
        names += [f"{kept.name} of {part.name}" for kept, shape in part.clearances if overlap(core, shape)]
    names += [f"what carries {name}" for name, one in site.shelves if overlap(core, core_of(one))]
    names += [
        f"the {brick.name} beside {held.need}"
        for held in built.fastenings
        for brick in held.bricks
        if held.vehicle == site.name and overlap(core, core_of(brick.box))
    ]
    names += [
        f"the pair of {one.name}"
        for one in built.harness.crossings
        if one.pair is not None and one.pair.vehicle == site.name and overlap(core, core_of(one.pair.box))
    ]
    for other in built.harness.wires:
        if other.number in (wire.number, wire.inside) or other.inside:
            continue
        for leg in other.legs:
            lines = pairwise(leg.points) if leg.vehicle == site.name else ()
            if any(line_to_shape(a, b, box) < other.outer_mm / 2 - _RADIUS_LESS for a, b in lines):
                names.append(other.label)
    for name in dict.fromkeys(names):
        sheet.problem("lead", wire.label, f"what is left over of it runs into {name} in {site.name}")


def _inside(built: BuiltTrain, wire: Wire, sheet: Tally) -> None:
    """Check the second conductor of a lead: on the same way, to ground contacts of the same sockets."""
    sheet.count("second conductors of leads")
    outer = next((one for one in built.harness.wires if one.number == wire.inside and not one.inside), None)
    if outer is None or outer.lead is None or outer.lead != wire.lead or outer.legs != wire.legs:
        sheet.problem("lead", wire.label, f"is said to run inside wire {wire.inside}, and does not")
        return
    if wire.role != "ground" or wire.cut_mm != outer.cut_mm:
        sheet.problem("lead", wire.label, "is the second conductor of a lead, and is no ground of its length")
    for one, other in ((wire.start, outer.start), (wire.end, outer.end)):
        pins = {pin.name: pin for pin in built.pins_of(one.owner)}
        mine, its = pins.get(one.pin), pins.get(other.pin)
        alike = mine is not None and its is not None and bool(mine.socket) and mine.socket == its.socket
        if not alike or one.owner != other.owner or (mine is not None and mine.role != "ground"):
            sheet.problem(
                "lead", wire.label, f"ends at {one.owner}.{one.pin}, no ground contact of that socket"
            )


def own_leads(built: BuiltTrain, wire: Wire) -> list[OwnLeads]:
    """Return the leads that the parts at a wire's ends come with: the wire is cut from them."""
    found: list[OwnLeads] = []
    for end in (wire.start, wire.end):
        placement = built.placement(end.owner) if end.kind == "pin" else None
        if placement is not None and (own := placement.part.figure(OwnLeads)) is not None:
            found += [own for pin in placement.part.pins if pin.name == end.pin and pin.joint == "attached"]
    return found


def check_gauge_of_own(wire: Wire, own: list[OwnLeads], sheet: Tally) -> None:
    """Check that a wire is as thin as the thinnest lead in it, and has room for the thickest."""
    thinnest, thickest = max(one.awg for one in own), max(one.outer_mm for one in own)
    reaches = sum(one.length_mm for one in own) >= wire.cut_mm
    if wire.awg < thinnest or (reaches and wire.awg != thinnest):
        message = f"is told as AWG {wire.awg}; a lead of its parts is AWG {thinnest}"
        sheet.problem("wire", wire.label, message)
    if wire.outer_mm < thickest - 1e-6:
        message = f"is told as {wire.outer_mm:g} mm thick; a lead of its parts is {thickest:g} mm"
        sheet.problem("wire", wire.label, message, thickest - wire.outer_mm, "mm")
