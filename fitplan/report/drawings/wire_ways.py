"""How wires are drawn: those that share a way beside one another, and the arcs from vehicle to vehicle."""

from __future__ import annotations

import itertools
import math
from typing import TypeAlias

from fitplan.model.plan import Plan
from fitplan.model.solids import Vec
from fitplan.model.wired import Wire, WireEnd
from fitplan.report.lists.connector_cavities import cavities

WIRE_GAP = 0.35
"""By how much of their diameter wires that share a way are drawn into one another."""
Drawn: TypeAlias = tuple[str, tuple[Vec, ...]]
"""A vehicle and the corners of a wire in its frame."""


def drawn_legs(plan: Plan, level: bool = False) -> dict[int, list[Drawn]]:
    """Return for each wire, by its number, its ways through the vehicles, drawn aside and up.

    Pins and splices stay where they are. ``level`` draws aside only, so that heights stay true.
    """
    spread = _spread(plan)
    found: dict[int, list[Drawn]] = {}
    for wire in plan.built.harness.wires:
        last = len(wire.legs) - 1
        legs: list[Drawn] = []
        for place, leg in enumerate(wire.legs):
            if not leg.points:
                continue
            aside, up = spread[wire.number, leg.vehicle]
            points = [(x, y + aside, z + (0.0 if level else up)) for x, y, z in leg.points]
            if place == 0 and wire.start.kind != "connector":
                points[0] = leg.points[0]
            if place == last and wire.end.kind != "connector":
                points[-1] = leg.points[-1]
            legs.append((leg.vehicle, tuple(points)))
        found[wire.number] = legs
    return found


def hanging(plan: Plan) -> dict[int, list[list[Vec]]]:
    """Return for each wire its arcs between vehicles, in the train's frame.

    A wire that runs through hangs from leg to leg. At a connector pair the wire ahead is drawn on to the one
    that meets it in the same cavity.
    """
    legs = drawn_legs(plan)
    starts = plan.built.train.starts()

    def in_train(vehicle: str, point: Vec) -> Vec:
        return plan.built.train.vehicle(vehicle).in_train(starts[vehicle], point)

    found: dict[int, list[list[Vec]]] = {number: [] for number in legs}
    for number, ways in legs.items():
        for (ahead, one), (behind, two) in itertools.pairwise(ways):
            found[number].append(_arc(in_train(ahead, one[-1]), in_train(behind, two[0])))
    for crossing in plan.built.harness.crossings:
        for first, second in cavities(plan, crossing.name, crossing.ahead).values():
            if first is None or second is None:
                continue
            start = _connector_point(first, legs[first.number], crossing.name)
            end = _connector_point(second, legs[second.number], crossing.name)
            if start and end:
                found[first.number].append(_arc(in_train(*start), in_train(*end)))
    return found


def _connector_point(wire: Wire, legs: list[Drawn], coupling: str) -> tuple[str, Vec] | None:
    def here(end: WireEnd) -> bool:
        return end.kind == "connector" and end.owner == coupling

    if not legs:
        return None
    if here(wire.start):
        return legs[0][0], legs[0][1][0]
    return (legs[-1][0], legs[-1][1][-1]) if here(wire.end) else None


def _arc(start: Vec, end: Vec) -> list[Vec]:
    sag = min(6.0, 0.12 * math.dist(start, end))
    return [
        (
            start[0] + (end[0] - start[0]) * t,
            start[1] + (end[1] - start[1]) * t,
            start[2] + (end[2] - start[2]) * t - sag * 4 * t * (1 - t),
        )
        for t in (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
    ]


def _spread(plan: Plan) -> dict[tuple[int, str], tuple[float, float]]:
    """By how much a wire is drawn aside and up in a vehicle.

    The wires of a vehicle fill half rings over the common way, in the order of their numbers, as a bundle
    that lies on a floor; they go no farther from it than the vehicle's thickest bundle is wide.
    """
    found: dict[tuple[int, str], tuple[float, float]] = {}
    for entry in plan.built.train.vehicles:
        harness = plan.built.harness
        here = [wire for wire in harness.wires if any(leg.vehicle == entry.name for leg in wire.legs)]
        bundles = [stretch.diameter_mm for stretch in harness.stretches if stretch.vehicle == entry.name]
        place, ring, room = 0, 0, 1
        offsets: list[tuple[float, float]] = []
        for wire in sorted(here, key=lambda one: one.number):
            if place == room:
                ring, place = ring + 1, 0
                room = 3 * ring + 1
            angle = math.pi * place / max(1, room - 1)
            distance = ring * wire.outer_mm * (1 - WIRE_GAP)
            offsets.append((distance * math.cos(angle), distance * math.sin(angle)))
            place += 1
        widest = max((math.hypot(*offset) for offset in offsets), default=0.0)
        allowed = max([*bundles, 1.2]) / 2
        scale = min(1.0, allowed / widest) if widest > 0 else 1.0
        for wire, (aside, up) in zip(sorted(here, key=lambda one: one.number), offsets, strict=True):
            found[wire.number, entry.name] = (round(aside * scale, 3), round(up * scale, 3))
    return found
