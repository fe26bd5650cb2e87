"""What is led through holes inside a vehicle, in words: which way, by what wires, and where it comes out."""

from __future__ import annotations

from itertools import pairwise

from fitplan.model.plan import Plan
from fitplan.model.solids import AXES, Direction
from fitplan.model.work import EndOf, InnerHole, WorkStep
from fitplan.report.lists.result_lists import MOVE_WORDS


def led_through(plan: Plan, step: WorkStep) -> str:
    """Return through what wires are led, and which way where it is a hole inside that all pass one way."""
    hole = step.hole
    if hole is None:
        return step.port
    ways = {_way(plan, step.vehicle, hole, end) for end in step.ends}
    way = ways.pop() if len(ways) == 1 else None
    return hole.words if way is None else f"{hole.words} {MOVE_WORDS[way]}"


def part_led(plan: Plan, step: WorkStep, wires: str) -> str:
    """Return how a part is led on its wires to where it goes in."""
    hole, (part, *_) = step.hole, step.parts
    assert hole is not None
    openings = plan.built.train.vehicle(step.vehicle).vehicle.openings
    lid = next((one.name for one in openings if hole.is_mouth_of(one.box, one.out)), "")
    through = lid or hole.words
    out = way_in(plan, part)
    back = f"in through {through}" if lid == out else f"through {through} and out by {out}"
    return f"lead {part}, which hangs on {wires}, {back}: from there it goes in"


def drawn_out(plan: Plan, step: WorkStep) -> str:
    """Return by which opening ends are drawn out that were led through a hole inside; empty for others."""
    legs = {wire.number: len(wire.legs) for wire in plan.built.harness.wires}
    arrive = all(side == "end" and legs[number] > 1 for number, side in step.ends)
    opening = way_in(plan, step.parts[0])
    return "" if arrive or not opening else f", wire ends drawn out by {opening}"


def way_in(plan: Plan, need: str) -> str:
    """Return the opening by which a part goes in; empty where it has no way."""
    return next((one.opening for one in plan.assembly if need in one.needs), "")


def _way(plan: Plan, vehicle: str, hole: InnerHole, end: EndOf) -> Direction | None:
    """Return which way an end of a wire goes through a hole."""
    number, side = end
    axis, middle = AXES.index(hole.axis), hole.box.center
    for wire in plan.built.harness.wires:
        for leg in wire.legs if wire.number == number else ():
            for one, other in pairwise(leg.points) if leg.vehicle == vehicle else ():
                low, high = sorted((one[axis], other[axis]))
                if low <= middle[axis] <= high and low < high:
                    forwards = (other[axis] > one[axis]) == (side == "end")
                    found: tuple[Direction, ...] = ("+x", "+y", "+z") if forwards else ("-x", "-y", "-z")
                    return found[axis]
    return None
