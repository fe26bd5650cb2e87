"""Whether what is told of longer ways is true, and whether any wire is longer than told.

A wire may be longer than need be on purpose, and then says by how much, and which way would be the shortest
alone. Rules, with their tolerances:

* that way is one: free for a wire of this thickness, from end to end of the leg, through the same ports; with
  what it says to be more it is as long as the leg (0.05 mm);
* what remains is taut: cutting its corners in steps of exact millimetres, where the straight line stays free,
  gains no more than a tenth and 5 mm; what lies as it was built is let be.

That no way of another kind, round the other side of something, is shorter still is not looked at.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Vec, way_length
from fitplan.model.wired import Detour, Leg, Wire
from fitplan.verify.kept import same_wire
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site
from fitplan.verify.wires import check_ports_met, leg_is_free, sees_along

NEAR = 0.05
REASONS = (
    "room to bend",
    "along floors and corners",
    "beside and round other wires",
    "past a gap hardly wider than it",
    "round room for plugs and fingers",
)
SHARE, LEAST = 0.1, 5.0
_ROUNDS = 3
_SHORT = 0.2
"""Corners whose pieces are shorter than this (mm) are not cut."""


def check_detours(built: BuiltTrain, sites: Mapping[str, Site], sheet: Tally) -> None:
    """Check all that is told of longer ways, and that nothing is left untold."""
    told = stays = 0
    before = {wire.number: wire for wire in built.train.as_built.wires}
    for wire in built.harness.wires:
        if (
            wire.inside
            or not wire.legs
            or any(leg.vehicle not in sites or len(leg.points) < 2 for leg in wire.legs)
        ):
            continue  # told where wires are checked
        if not wire.detours and wire.number in before and same_wire(wire, before[wire.number]):
            stays += 1
            continue
        by_vehicle: dict[str, list[Detour]] = {}
        for entry in wire.detours:
            by_vehicle.setdefault(entry.vehicle, []).append(entry)
        for vehicle in sorted(by_vehicle.keys() - {leg.vehicle for leg in wire.legs}):
            sheet.problem("wire", wire.label, f"tells a longer way in {vehicle}, where it does not run")
        for leg in wire.legs:
            entries = by_vehicle.get(leg.vehicle, [])
            told += len(entries)
            if len(entries) > 1:
                sheet.problem("wire", wire.label, f"tells {len(entries)} longer ways in {leg.vehicle}")
            shortest = _shortest(wire, leg, entries[0], sites, sheet) if entries else leg
            if shortest is not None:
                _taut(wire, leg, shortest, sites[leg.vehicle], sheet)
    sheet.trust("wires that stay", stays, "they lie as they were built, longer than need be or not")
    sheet.trust("reasons of longer ways", told, "their lengths are worked out, not what they were chosen for")
    laid = sum(len(wire.legs) for wire in built.harness.wires)
    sheet.trust("shortest ways of wires", laid, "a way round the other side of something is not looked for")


def _shortest(wire: Wire, leg: Leg, entry: Detour, sites: Mapping[str, Site], sheet: Tally) -> Leg | None:
    """Check what is told of one longer way; return the shortest one, or None when it is not one."""
    sheet.count("longer ways told")
    if entry.why not in REASONS:
        sheet.problem("wire", wire.label, f"is longer for {entry.why!r}, which is no reason")
    if len(entry.shortest) < 2:
        sheet.problem("wire", wire.label, "tells a longer way, and not the one that is shorter")
        return None
    way = replace(leg, points=entry.shortest)
    off = abs(way_length(leg.points) - way_length(way.points) - entry.more_mm)
    if off > NEAR or entry.more_mm <= 0:
        message = (
            f"says it is {entry.more_mm:.2f} mm longer in {leg.vehicle} than its shortest way;"
            f" the two differ by {way_length(leg.points) - way_length(way.points):.2f} mm"
        )
        sheet.problem("wire", wire.label, message, off, "mm")
    for port, mine, there in (
        (leg.enters, way.points[0], leg.points[0]),
        (leg.leaves, way.points[-1], leg.points[-1]),
    ):
        if not port and math.dist(mine, there) > NEAR:
            message = f"its shortest way in {leg.vehicle} ends {math.dist(mine, there):.2f} mm beside its end"
            sheet.problem("wire", wire.label, message, math.dist(mine, there), "mm")
    alone = replace(wire, legs=tuple(way if one is leg else one for one in wire.legs))
    check_ports_met(alone, way, sites, sheet)
    leg_is_free(alone, way, sites[leg.vehicle], sheet)
    return way


# -- tautness ----------------------------------------------------------------------------------------------


def _taut(wire: Wire, leg: Leg, way: Leg, site: Site, sheet: Tally) -> None:
    """Check that cutting corners of a way gains little."""
    points = list(way.points)
    if leg is wire.legs[0] and wire.start.kind == "pin" and len(points) > 2:
        points.pop(0)
    if leg is wire.legs[-1] and wire.end.kind == "pin" and len(points) > 2:
        points.pop()
    sheet.count("taut ways")
    length = way_length(tuple(points))
    allowed = SHARE * length + LEAST
    if length - math.dist(points[0], points[-1]) <= allowed:
        return
    ends = (points[0], points[-1])
    gained = 0.0
    for _ in range(_ROUNDS):
        points, more = _cut_corners(wire, points, ends, site)
        gained += more
        if more < allowed / 10:
            break
    if gained > allowed:
        message = f"can be pulled {gained:.1f} mm tighter in {leg.vehicle}, and does not say why it is not"
        sheet.problem("wire", wire.label, message, gained, "mm")


def _cut_corners(wire: Wire, points: list[Vec], ends: tuple[Vec, Vec], site: Site) -> tuple[list[Vec], float]:
    """Return a way with its corners cut as far as the straight lines stay free, and what that gains in mm."""
    kept = [points[0]]
    gained = 0.0
    rest = points[1:]
    while len(rest) > 1:
        a, b, c = kept[-1], rest[0], rest[1]
        around = math.dist(a, b) + math.dist(b, c)
        if around - math.dist(a, c) < 1e-6 or sees_along(wire, (a, c), ends, site):
            gained += around - math.dist(a, c)
            rest.pop(0)
            continue
        reach = min(math.dist(a, b), math.dist(b, c))
        cut = None
        while reach > _SHORT and cut is None:
            reach /= 2
            one, other = _towards(b, a, reach), _towards(b, c, reach)
            if sees_along(wire, (one, other), ends, site):
                cut = (one, other)
        if cut is None:
            kept.append(b)
            rest.pop(0)
        else:
            gained += 2 * reach - math.dist(*cut)
            kept.append(cut[0])
            rest[0] = cut[1]
            kept.append(rest.pop(0))
    return [*kept, *rest], gained


def _towards(start: Vec, end: Vec, by: float) -> Vec:
    share = by / math.dist(start, end)
    x, y, z = (a + share * (b - a) for a, b in zip(start, end, strict=True))
    return (x, y, z)
