"""Whether every wire has a way: through free space, without a gap, as long as it says.

Rules, with their tolerances:

* the middle line of a wire stays off everything solid, off keep-clear and outside space, off parts and off
  what parts keep clear for plugs, lenses and fingers, by the wire's outer radius less 0.05 mm. Within 4 mm
  round its ends and round ports, and for wires thinner than that, 0.4 mm less 0.05 mm are enough: pins stand
  close to walls, and what goes through a port is counted by the port's size (distances to round and sloping
  solids are told to 0.02 mm);
* the first piece at a pin is the lead-out. It is no longer than 7 mm and passes through no body and no other
  part, to 0.1 mm;
* a wire begins and ends where its pin, splice or port is (0.1 mm; a port: inside its box, or 0.4 mm more off
  one that is drawn flat), and goes on in the next vehicle through the ports of a crossing that counts it;
* its bare length is the sum of its legs and of the straight joints between them (0.1 mm); what is cut is no
  less than that with all allowances, and over a coupling no less than the joint's free length.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from itertools import pairwise

import numpy as np

from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box, Vec, box_between, way_length
from fitplan.model.vehicle import State
from fitplan.model.wired import Crossing, Leg, Wire, WireEnd
from fitplan.verify.body import Body
from fitplan.verify.distance import line_to_shape
from fitplan.verify.nearest import nearest
from fitplan.verify.overlap import bounds_overlap
from fitplan.verify.result import Tally
from fitplan.verify.scene import PlacedPart, Site
from fitplan.verify.shapes import Shape

TOLERANCE = 0.05
"""By how much a wire may be nearer to something than its radius (mm)."""
MIDDLE = 0.4
"""What the middle line keeps off everything, also near its ends (mm): half a voxel."""
NEAR_END = 4.0
"""How far round an end or a port a wire needs no more than `MIDDLE` (mm, along each axis)."""
LEAD_OUT = 7.0
"""Longest lead-out in mm."""
ASTRAY = 20.0
"""A wire inside a vehicle is nowhere further out of it than this (mm)."""
JOINED = 0.1
"""Points that are no further apart than this (mm) are one."""
_NO_WIRES: tuple[State, ...] = ("fixed", "removable", "keep-clear", "outside")
_Piece = tuple[Vec, Vec]


def check_wires(built: BuiltTrain, sites: Mapping[str, Site], sheet: Tally) -> None:
    """Check the way and the lengths of every wire."""
    numbers = [wire.number for wire in built.harness.wires]
    for number in sorted({number for number in numbers if numbers.count(number) > 1}):
        sheet.problem("wire", f"wire {number}", "two wires have this number")
    for wire in built.harness.wires:
        sheet.count("wires")
        if not wire.legs or any(leg.vehicle not in sites or len(leg.points) < 2 for leg in wire.legs):
            sheet.problem("wire", wire.label, "has no way through vehicles of this train")
            continue
        _ends_meet(wire, built, sites, sheet)
        for leg in wire.legs:
            leg_is_free(wire, leg, sites[leg.vehicle], sheet)
        crossed = _crossings_passed(wire, built, sheet)
        _lengths(wire, crossed, sheet)


# -- where it begins, goes on and ends ---------------------------------------------------------------------


def pin_place(built: BuiltTrain, owner: str, pin: str) -> tuple[str, Vec] | None:
    """Return the vehicle and the point of a pin of a placed part or of something built in."""
    vehicle = built.vehicle_of(owner)
    at = next((found.at for found in built.pins_of(owner) if found.name == pin), None)
    if vehicle is None or at is None:
        return None
    placement = built.placement(owner)
    return (vehicle, placement.place.move(at) if placement is not None else at)


def _ends_meet(wire: Wire, built: BuiltTrain, sites: Mapping[str, Site], sheet: Tally) -> None:
    first, last = wire.legs[0], wire.legs[-1]
    for leg in wire.legs:
        check_ports_met(wire, leg, sites, sheet)
    for end, leg, point, port in (
        (wire.start, first, first.points[0], first.enters),
        (wire.end, last, last.points[-1], last.leaves),
    ):
        sheet.count("wire ends")
        if end.vehicle != leg.vehicle:
            sheet.problem("wire", wire.label, f"ends in {end.vehicle}, its way in {leg.vehicle}")
        elif math.dist(end.at, point) > JOINED:
            gap = math.dist(end.at, point)
            sheet.problem("wire", wire.label, f"its way begins {gap:.2f} mm from its end", gap, "mm")
        if end.kind == "pin":
            place = pin_place(built, end.owner, end.pin)
            if place is None:
                sheet.problem("wire", wire.label, f"ends at {end.owner}.{end.pin}, which is not there")
            elif place[0] != end.vehicle or math.dist(place[1], end.at) > JOINED:
                away = math.dist(place[1], end.at)
                message = f"ends {away:.2f} mm from {end.owner}.{end.pin}"
                sheet.problem("wire", wire.label, message, away, "mm")
        elif end.kind == "splice":
            _at_splice(wire, end, built, sheet)
        elif not port:
            sheet.problem("wire", wire.label, "ends at a connector but at no port")


def _at_splice(wire: Wire, end: WireEnd, built: BuiltTrain, sheet: Tally) -> None:
    splice = next((entry for entry in built.harness.splices if entry.name == end.owner), None)
    if splice is None:
        sheet.problem("wire", wire.label, f"ends at splice {end.owner}, which is not there")
        return
    away = math.dist(splice.at, end.at)
    if splice.vehicle != end.vehicle or away > JOINED:
        sheet.problem("wire", wire.label, f"ends {away:.2f} mm from splice {splice.name}", away, "mm")
    if wire.number not in splice.wires or splice.net != wire.net:
        sheet.problem("wire", wire.label, f"is not among the wires of splice {splice.name}")


def check_ports_met(wire: Wire, leg: Leg, sites: Mapping[str, Site], sheet: Tally) -> None:
    """Check that a way enters and leaves a vehicle by the ports that it names."""
    _at_port(wire, leg, leg.points[0], leg.enters, sites, sheet)
    _at_port(wire, leg, leg.points[-1], leg.leaves, sites, sheet)


def _at_port(wire: Wire, leg: Leg, point: Vec, name: str, sites: Mapping[str, Site], sheet: Tally) -> None:
    if not name:
        return
    port = sites[leg.vehicle].vehicle.port(name)
    if port is None:
        sheet.problem("wire", wire.label, f"goes through {name!r}, which is no port of {leg.vehicle}")
        return
    away = max(
        max(low - value, value - high, 0.0)
        for low, value, high in zip(port.box.low, point, port.box.high, strict=True)
    )
    # A hole may be drawn flat, on a face that middle lines keep off.
    flat = min(port.box.size) == 0.0
    if away > JOINED + (MIDDLE if flat else 0.0):
        message = f"should go through port {name} of {leg.vehicle}, but ends {away:.2f} mm beside it"
        sheet.problem("wire", wire.label, message, away, "mm")


def _crossings_passed(wire: Wire, built: BuiltTrain, sheet: Tally) -> list[tuple[Crossing, float]]:
    """Return the crossings that a wire passes, each with the share of the joint that is the wire's own."""
    found: list[tuple[Crossing, float]] = []
    for one, other in pairwise(wire.legs):
        crossing = next(
            (
                entry
                for entry in built.harness.crossings
                if _joins(entry, one, other, wire.inside or wire.number)
            ),
            None,
        )
        if crossing is None:
            message = f"goes from {one.vehicle} on to {other.vehicle} where no crossing counts it"
            sheet.problem("wire", wire.label, message)
        else:
            found.append((crossing, 1.0))
    for end in (wire.start, wire.end):
        if end.kind == "connector":
            crossing = next((entry for entry in built.harness.crossings if entry.name == end.owner), None)
            if crossing is None:
                sheet.problem("wire", wire.label, f"ends at connector {end.owner}, which is not there")
            else:
                found.append((crossing, 0.5))
    return found


def _joins(crossing: Crossing, one: Leg, other: Leg, number: int) -> bool:
    ways = ((crossing.ahead, crossing.port_ahead), (crossing.behind, crossing.port_behind))
    passed = ((one.vehicle, one.leaves), (other.vehicle, other.enters))
    return number in crossing.wires and passed in (ways, ways[::-1])


# -- through free space ------------------------------------------------------------------------------------


def leg_is_free(wire: Wire, leg: Leg, site: Site, sheet: Tally) -> None:
    """Check that a way through a vehicle, of the wire's thickness, keeps off everything."""
    room = site.wire_room
    radius = wire.outer_mm / 2
    points = list(leg.points)
    astray = max(_outside(point, room.hull) for point in points)
    if astray > ASTRAY:
        # What is so far out has no way through anything: its pieces are not looked at one by one.
        message = f"runs {astray:.1f} mm beyond all of {leg.vehicle}"
        sheet.problem("wire", wire.label, message, astray, "mm")
        return
    leads: list[tuple[_Piece, str]] = []
    anchors = [points[0], points[-1]]
    # Of three points both pieces may be lead-outs: pins may be that close together.
    bent = len(points) > 3 or (len(points) == 3 and math.dist(points[1], points[2]) <= LEAD_OUT)
    if leg is wire.legs[0] and wire.start.kind == "pin" and len(points) > 2:
        leads.append(((points[1], points[0]), wire.start.owner))
        anchors.append(points[1])
        points = points[1:]
    if leg is wire.legs[-1] and wire.end.kind == "pin" and (bent or len(points) > 2):
        leads.append(((points[-2], points[-1]), wire.end.owner))
        anchors.append(points[-2])
        points = points[:-1]
    near = [_grown(Box(at, at), NEAR_END) for at in anchors]
    near += [_grown(port.box, NEAR_END) for port in site.vehicle.ports]
    for start, end in pairwise(points):
        for piece, close in _pieces(start, end, near):
            sheet.count("straight pieces of wires")
            wanted = (min(radius, MIDDLE) if close else radius) - TOLERANCE
            _piece_is_free(wire, piece, wanted, site, room, sheet)
    for lead, owner in leads:
        sheet.count("lead-outs")
        _lead_is_free(wire, lead, owner, site, room, sheet)


def _outside(point: Vec, box: Box) -> float:
    return max(
        max(low - value, value - high) for low, value, high in zip(box.low, point, box.high, strict=True)
    )


def _grown(box: Box, by: float) -> Box:
    low, high = box.low, box.high
    return Box((low[0] - by, low[1] - by, low[2] - by), (high[0] + by, high[1] + by, high[2] + by))


def _pieces(start: Vec, end: Vec, near: Iterable[Box]) -> list[tuple[_Piece, bool]]:
    """Cut a straight piece where it enters or leaves boxes; each piece with whether it lies in one."""
    cuts = {0.0, 1.0}
    spans: list[tuple[float, float]] = []
    for box in near:
        span = _span_in(start, end, box)
        if span is not None:
            spans.append(span)
            cuts |= set(span)
    marks = sorted(cuts)
    found: list[tuple[_Piece, bool]] = []
    for low, high in pairwise(marks):
        middle = (low + high) / 2
        close = any(first <= middle <= last for first, last in spans)
        found.append(((_between(start, end, low), _between(start, end, high)), close))
    return found


def _span_in(start: Vec, end: Vec, box: Box) -> tuple[float, float] | None:
    first, last = 0.0, 1.0
    for axis in range(3):
        step = end[axis] - start[axis]
        if step == 0.0:
            if not box.low[axis] <= start[axis] <= box.high[axis]:
                return None
            continue
        one, two = (box.low[axis] - start[axis]) / step, (box.high[axis] - start[axis]) / step
        first, last = max(first, min(one, two)), min(last, max(one, two))
    return (first, last) if first < last else None


def _between(start: Vec, end: Vec, share: float) -> Vec:
    x, y, z = (a + share * (b - a) for a, b in zip(start, end, strict=True))
    return (x, y, z)


def sees_along(wire: Wire, piece: _Piece, ends: tuple[Vec, Vec], site: Site) -> bool:
    """Return whether a straight piece of a wire, whose leg has these ends, keeps off everything."""
    near = [_grown(Box(at, at), NEAR_END) for at in ends]
    near += [_grown(port.box, NEAR_END) for port in site.vehicle.ports]
    for part, close in _pieces(*piece, near):
        wanted = (min(wire.outer_mm / 2, MIDDLE) if close else wire.outer_mm / 2) - TOLERANCE
        if nearest(site.wire_room, *part, wanted, _NO_WIRES) is not None:
            return False
        reach = _grown(box_between(*part), wanted)
        for _, shape in _kept_from_wires(site):
            if bounds_overlap(reach, shape.bounds) and line_to_shape(*part, shape) < wanted:
                return False
    return True


def _piece_is_free(wire: Wire, piece: _Piece, wanted: float, site: Site, room: Body, sheet: Tally) -> None:
    start, end = piece
    found = nearest(room, start, end, wanted, _NO_WIRES)
    if found is not None:
        away, what = found
        _too_near(wire, site, what.name, piece, away, wanted, sheet)
    reach = _grown(box_between(*piece), wanted)
    for name, shape in _kept_from_wires(site):
        if bounds_overlap(reach, shape.bounds):
            away = line_to_shape(start, end, shape)
            if away < wanted:
                _too_near(wire, site, name, piece, away, wanted, sheet)


def _too_near(
    wire: Wire, site: Site, what: str, piece: _Piece, away: float, wanted: float, sheet: Tally
) -> None:
    x, y, z = _between(*piece, 0.5)
    message = (
        f"its middle line comes within {away:.3f} mm of {what} near x {x:.1f}, y {y:.1f}, z {z:.1f}"
        f" in {site.name}; {wanted:.3f} mm are wanted"
    )
    sheet.problem("wire", wire.label, message, wanted - away, "mm")


def _kept_from_wires(site: Site) -> list[tuple[str, Shape]]:
    found = [(part.name, shape) for part in site.parts for shape in part.envelope]
    found += [
        (f"the {clearance.name} clearance of {part.name}", shape)
        for part in site.parts
        for clearance, shape in part.clearances
        if clearance.kind not in ("lead", "air") and clearance.needed == "always"
    ]
    found += [(f"what carries {owner}", box) for owner, box in site.shelves]
    return found + [(f"what holds {owner}", box) for owner, box in site.held]


def _lead_is_free(wire: Wire, lead: _Piece, owner: str, site: Site, room: Body, sheet: Tally) -> None:
    length = math.dist(*lead)
    if length > LEAD_OUT:
        message = f"its lead-out at {owner} is {length:.1f} mm long; {LEAD_OUT} mm are allowed"
        sheet.problem("wire", wire.label, message, length, "mm")
    others: list[PlacedPart] = [part for part in site.parts if part.name != owner]
    near = [
        (part.name, shape) for part in others for shape in part.envelope if line_to_shape(*lead, shape) <= 0.0
    ]
    met = nearest(room, *lead, 1e-6, _NO_WIRES)
    if not near and met is None:
        return
    count = max(int(length / JOINED), 1)
    rows = [_between(*lead, share) for share in np.linspace(0.0, 1.0, count + 1).tolist()]
    inside: dict[str, int] = {}
    for point in rows:
        if met is not None and room.state_at(point) in _NO_WIRES:
            inside[met[1].name] = inside.get(met[1].name, 0) + 1
        for name, shape in near:
            if line_to_shape(point, point, shape) <= 0.0:
                inside[name] = inside.get(name, 0) + 1
    for name, hits in sorted(inside.items()):
        if name != f"built-in {owner.split('/')[-1]}" and hits > 2:
            depth = hits * JOINED
            message = f"its lead-out at {owner} runs {depth:.1f} mm through {name}"
            sheet.problem("wire", wire.label, message, depth, "mm")


# -- lengths -----------------------------------------------------------------------------------------------


def _lengths(wire: Wire, crossed: list[tuple[Crossing, float]], sheet: Tally) -> None:
    sheet.count("wire lengths")
    legs = sum(way_length(leg.points) for leg in wire.legs)
    joints = sum(crossing.straight_mm * share for crossing, share in crossed)
    off = abs(legs + joints - wire.bare_mm)
    if off > JOINED + 0.01 * len(crossed):
        message = f"says {wire.bare_mm:.1f} mm bare; legs and joints make {legs + joints:.1f} mm"
        sheet.problem("wire", wire.label, message, off, "mm")
    added = sum(amount for _, amount in wire.allowances)
    short = wire.bare_mm + added - wire.cut_mm
    if short > JOINED:
        message = f"is cut {short:.1f} mm shorter than its way and allowances"
        sheet.problem("wire", wire.label, message, short, "mm")
    over = sum(amount for what, amount in wire.allowances if "coupling" in what)
    short = sum(crossing.free_mm * share for crossing, share in crossed) - joints - over
    if short > JOINED + 0.02 * len(crossed):
        message = f"has {short:.1f} mm less over its couplings than they ask"
        sheet.problem("wire", wire.label, message, short, "mm")
