"""Whether the figures of a plan can be reckoned with at all; what cannot is told before anything is laid out.

No model is larger than `LONGEST`; a coordinate beyond it, a number that is none, or more studs than a room
has tiles would keep the checks busy for ever, and none of it can be built.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any

from fitplan.model.plan import Plan
from fitplan.verify.result import Tally

LONGEST = 20_000.0
"""No coordinate and no length of a plan is larger, in mm."""
MOST_STUDS = 100_000
"""No footprint has more studs."""
MOST_SOLIDS = 200_000
_SHOWN = 5


def can_be_measured(plan: Plan, sheet: Tally) -> bool:
    """Return whether all geometry of a plan is finite and of a model's size; write down what is not."""
    built = plan.built
    wrong: list[tuple[str, str]] = []
    for entry in built.train.vehicles:
        vehicle = entry.vehicle
        studs = vehicle.studs_long * vehicle.studs_wide
        if not (0 < studs <= MOST_STUDS and vehicle.studs_long > 0):
            wrong.append((entry.name, f"a footprint of {vehicle.studs_long} × {vehicle.studs_wide} studs"))
        if len(vehicle.body) > MOST_SOLIDS:
            wrong.append((entry.name, f"a body of {len(vehicle.body)} solids"))
        geometry: tuple[object, ...] = (
            vehicle.body,
            vehicle.openings,
            vehicle.windows,
            vehicle.ports,
            vehicle.couplings,
            vehicle.wheels,
            vehicle.built_in,
            vehicle.base,
            vehicle.top,
        )
        wrong += [(entry.name, text) for text in _beyond(geometry)]
    for placement in built.placements:
        part = placement.part
        geometry = (placement.place, placement.shelf, part.envelope, part.clearances, part.pins, part.mount)
        wrong += [(placement.need, text) for text in _beyond(geometry)]
    harness = built.harness
    wrong += [(f"wire {wire.number}", text) for wire in harness.wires for text in _beyond(wire)]
    wrong += [(item.name, text) for item in harness.stretches for text in _beyond(item)]
    wrong += [(item.name, text) for item in harness.splices for text in _beyond(item.at)]
    wrong += [(item.name, text) for item in harness.crossings for text in _beyond(item)]
    wrong += [(f"step {step.number}", text) for step in plan.assembly for text in _beyond(step.moves)]
    wrong += [(f"step {step.number}", text) for step in plan.assembly for text in _beyond(step.together)]
    wrong += [(f"row of {row.part_id}", text) for row in plan.fit for text in _beyond(row.places)]
    wrong += [(item.need, text) for item in built.exchanged for text in _beyond((item.first, item.last))]
    sheet.count("figures of a model's size")
    for where, text in wrong[:_SHOWN]:
        sheet.problem("measure", where, f"holds {text}; nothing more was checked")
    if len(wrong) > _SHOWN:
        sheet.problem("measure", "plan", f"and {len(wrong) - _SHOWN} more such figures")
    return not wrong


def no_number_missing(plan: Plan, sheet: Tally) -> None:
    """Check that nothing of the plan stands as "not a number"."""
    for where, part in (
        ("harness", plan.built.harness),
        ("results", (plan.fit, plan.options, plan.outcomes)),
    ):
        sheet.count("figures that are numbers")
        if any(math.isnan(value) for value in _numbers(part)):
            sheet.problem("measure", where, "holds a figure that is not a number")


def _beyond(value: Any) -> Iterator[str]:
    for number in _numbers(value):
        if not abs(number) <= LONGEST:
            yield f"the figure {number:g}"
            return


def _numbers(value: Any) -> Iterator[float]:
    if isinstance(value, int | float):
        yield value
    elif isinstance(value, tuple | list):
        for item in value:
            yield from _numbers(item)
    elif is_dataclass(value) and not isinstance(value, type):
        cls: Any = type(value)
        for name in _names(cls):
            yield from _numbers(getattr(value, name))


@cache
def _names(cls: Any) -> tuple[str, ...]:
    return tuple(field.name for field in fields(cls))
