"""Walls put round the wires of plans, with holes just wide enough, and lids cut in two: does the work go?

    python -m tests.attack.walls [EXAMPLE …] [--first 0] [--count 20]

Places and wires stay as they were planned; ways in and the order of work are looked for anew, and the second
check replays the order with exact solids. Printed are the cases, how many of them lead something through a
hole, and what is refused.
"""

from __future__ import annotations

import argparse
import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from fitplan.files.find import example_names, find_train
from fitplan.files.read import read_train
from fitplan.model.built import BuiltTrain
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import BodySolid, Opening, Vehicle
from fitplan.model.ways_in import AssemblyStep
from fitplan.packing.access.way_in import assembly_order
from fitplan.planning.run import plan_train
from fitplan.planning.working_loops import with_working_loops
from fitplan.verify.result import Tally
from fitplan.verify.scene import sites_of
from fitplan.verify.work import check_work

_TRIES = 15
_OFF_MM = 3.0
"""So far a wall keeps off splices, and off the ends of the vehicle along its axis (mm)."""


def with_walls(plan: Plan, dice: random.Random) -> Plan | None:
    """Return a plan with walls put into one of its vehicles; None where parts or ports are in their way."""
    built = plan.built
    names = [entry.name for entry in built.train.vehicles if any(_ways(built, entry.name))]
    name = dice.choice(names)
    vehicle = built.train.vehicle(name).vehicle
    wanted, walls = dice.choice((1, 1, 2, 3)), []
    for _ in range(_TRIES):
        if len(walls) < wanted and (wall := _wall(built, name, dice)):
            walls.append(wall)
    if not walls:
        return None
    body = (*vehicle.body, *(solid for wall in walls for solid in wall))
    changed = replace(vehicle, body=body, openings=tuple(_lids(vehicle, dice)))
    vehicles = tuple(
        replace(entry, vehicle=changed) if entry.name == name else entry for entry in built.train.vehicles
    )
    built = replace(built, train=replace(built.train, vehicles=vehicles))
    steps: list[AssemblyStep] = []
    for entry in built.train.vehicles:
        inside = [place for place in built.placements if place.vehicle == entry.name]
        if not inside:
            continue
        order = assembly_order(entry.vehicle, inside, removed=built.taken_out(entry.name))
        if order.blocked:
            return None
        steps += [replace(step, number=len(steps) + i) for i, step in enumerate(order.steps, 1)]
    built, work = with_working_loops(built, steps)
    return replace(plan, built=built, assembly=work.assembly, work=work.plan(plan.meter))


def refused(plan: Plan) -> tuple[str, ...]:
    """Return what the second check says of a plan's order of work."""
    sheet = Tally()
    check_work(plan, sites_of(plan.built), sheet)
    return tuple(f"{one.where}: {one.message}" for one in sheet.report().problems)


def _ways(built: BuiltTrain, name: str) -> Iterator[tuple[float, tuple[Vec, ...]]]:
    """Yield the wires in a vehicle: radius and points, in mm."""
    for wire in built.harness.wires:
        for leg in wire.legs:
            if leg.vehicle == name and len(leg.points) > 1 and not wire.inside:
                yield wire.outer_mm / 2, leg.points


def _wall(built: BuiltTrain, name: str, dice: random.Random) -> list[BodySolid]:
    """Return a wall across an axis where a wire is, with holes round wires and parts; none without room."""
    vehicle, ways = built.train.vehicle(name).vehicle, list(_ways(built, name))
    axis, thick, margin = (
        dice.choice((0, 0, 0, 1, 2)),
        dice.choice((3.2, 6.4, 8.0)),
        dice.choice((0.3, 1.5, 3.0)),
    )
    one, other = (point[axis] for point in dice.sample(dice.choice(ways)[1], 2))
    low = round(one + dice.random() * (other - one) - thick / 2, 1)
    high = round(low + thick, 1)
    hull = vehicle.hull
    if low < hull.low[axis] + _OFF_MM or high > hull.high[axis] - _OFF_MM:
        return []
    if dice.random() < 0.7:  # under the lids: ways in are seldom shut
        hull = hull.with_span(
            2, hull.low[2], min([hull.high[2], *(lid.box.low[2] for lid in vehicle.openings)])
        )
    slab = hull.with_span(axis, low, high)
    splices = (splice.at[axis] for splice in built.harness.splices if splice.vehicle == name)
    beside = any(low - _OFF_MM < at < high + _OFF_MM for at in splices)
    if beside or min(slab.size) <= 0 or any(port.box.meets(slab) for port in vehicle.ports):
        return []
    found = [BodySolid(slab, "fixed", smooth=True)]
    for box in (*_parts(built, name), *_in_slab(ways, axis, (low - margin, high + margin), margin)):
        if box.meets(slab):
            edges = [
                (max(a, c), min(b, d))
                for a, b, c, d in zip(box.low, box.high, slab.low, slab.high, strict=True)
            ]
            edges[axis] = (low, high)
            (a, b), (c, d), (e, f) = ((round(x - 0.05, 1), round(y + 0.05, 1)) for x, y in edges)
            found.append(BodySolid(Box((a, c, e), (b, d, f)), "free"))
    return found


def _parts(built: BuiltTrain, name: str) -> Iterator[Box]:
    """Yield boxes round all solids of parts in a vehicle, what they keep clear, and what carries them."""
    for place in built.placements:
        if place.vehicle == name:
            kept = (room.solid for room in place.part.clearances)
            for solid in (*place.part.envelope, *kept):
                bounds = place.place.move_solid(solid).bounds
                (a, b, c), (d, e, f) = bounds.low, bounds.high
                yield Box((a - 0.3, b - 0.3, c - 0.3), (d + 0.3, e + 0.3, f + 0.3))
            yield from place.shelf.boxes if place.shelf is not None else ()


def _in_slab(
    ways: list[tuple[float, tuple[Vec, ...]]], axis: int, span: tuple[float, float], margin: float
) -> Iterator[Box]:
    """Yield boxes round the pieces of wires between two planes, ``margin`` (mm) wider than the wires."""
    for radius, points in ways:
        for start, end in pairwise(points):
            run = end[axis] - start[axis]
            if abs(run) < 1e-9:
                shares = [0.0, 1.0] if span[0] <= start[axis] <= span[1] else []
            else:
                shares = sorted(min(max((plane - start[axis]) / run, 0.0), 1.0) for plane in span)
            if shares and shares[0] < shares[1]:
                ends = [[a + share * (b - a) for a, b in zip(start, end, strict=True)] for share in shares]
                x, y, z = (min(pair) - radius - margin for pair in zip(*ends, strict=True))
                u, v, w = (max(pair) + radius + margin for pair in zip(*ends, strict=True))
                yield Box((x, y, z), (u, v, w))


def _lids(vehicle: Vehicle, dice: random.Random) -> Iterator[Opening]:
    """Yield the openings of a vehicle, of most vehicles cut in two along their longest edge."""
    whole = dice.random() < 0.4
    for lid in vehicle.openings:
        axis = max(range(3), key=lambda i: lid.box.size[i])
        low, high = lid.box.low[axis], lid.box.high[axis]
        if whole or high - low < 24.0:
            yield lid
            continue
        cut = round(dice.uniform(low + 8.0, high - 8.0), 1)
        yield replace(lid, box=lid.box.with_span(axis, low, cut))
        yield replace(lid, name=f"{lid.name} two", box=lid.box.with_span(axis, cut, high))


def main() -> None:
    """Print what is refused, then the counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "examples", nargs="*", default=[name for name in example_names() if "narrow" not in name]
    )
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=20, help="walls of each example")
    asked = parser.parse_args()
    counts: Counter[str] = Counter()
    for name in asked.examples:
        plan = plan_train(read_train(find_train(name)))
        for seed in range(asked.first, asked.first + asked.count):
            walled = with_walls(plan, random.Random(f"{name} {seed}"))
            if walled is None:
                counts["no room"] += 1
                continue
            counts["cases"] += 1
            counts["lead something"] += any(step.hole is not None for step in walled.work.steps)
            if said := refused(walled):
                counts["refused"] += 1
                print(f"{name} {seed}: {'; '.join(said[:3])}", flush=True)
    print("; ".join(f"{kind} {count}" for kind, count in counts.items()))


if __name__ == "__main__":
    main()
