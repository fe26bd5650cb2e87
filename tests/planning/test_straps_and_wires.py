"""A strap that presses a part down, and wires that would run where it stands: both find their place."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest

from fitplan.files.catalogue import read_catalogue
from fitplan.lattice.space import VehicleSpace
from fitplan.model.needed import FixedPlace, Need
from fitplan.model.part import Part
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import BodySolid, Vehicle
from fitplan.model.wired import Wire
from fitplan.planning import strap_room
from fitplan.planning.run import PlanOptions, plan_train
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.surface import verify_plan
from tests.packing.small_trains import block, hollow, train_of

FLOOR = 19.2
BANK, LAMP = block("bank", (40, 14, 18), mass_g=72.0, pins=0), block("lamp", (5, 5, 5), pins=1)
ALONG = Box((32, 25, FLOOR + 8), (72, 39, FLOOR + 26))
"""Where the bank lies: on a step that ends behind its middle; before that, room too low for a plate."""


def fixed(name: str, part: Part, at: Vec) -> Need:
    return Need(name, (part,), pinned=FixedPlace("van", "+x+y+z", at))


def van(plates_high: int, *more: BodySolid, smooth_from: float = 56.0) -> Vehicle:
    """A van with studs up to the bank's side, and beyond it up to where the floor is smooth."""
    made = hollow("van", 14, 8, plates_high)
    steps = (
        BodySolid(Box((8, smooth_from, FLOOR), (104, 56, FLOOR + 3.2)), "fixed", smooth=True),
        BodySolid(Box((24, 24, FLOOR), (104, 40, FLOOR + 4.0)), "fixed", smooth=True),
        BodySolid(Box((24, 24, FLOOR), (44, 40, FLOOR + 8.0)), "fixed", smooth=True),
    )
    steps = steps if smooth_from < 56 else steps[1:]
    return replace(made, floor_finish="studded", body=(*made.body, *steps, *more))


def planned(vehicle: Vehicle, ends: dict[str, Vec], nets: dict[str, tuple[str, str]]) -> Plan:
    needs = (fixed("bank", BANK, ALONG.low), *(fixed(name, LAMP, at) for name, at in ends.items()))
    joined = tuple((net, (f"{one}.p0", f"{two}.p0")) for net, (one, two) in nets.items())
    train = replace(train_of((vehicle,), needs, joined), catalogue=read_catalogue())
    return plan_train(train, PlanOptions())


def beside() -> Plan:
    """One wire along the side on which alone a strap can stand; on the other side there is room for it."""
    return planned(
        van(14, smooth_from=24),
        {"a": (9, 9, FLOOR + 1.7), "b": (96, 9, FLOOR + 1.7)},
        {"n": ("a", "b")},
    )


@pytest.fixture(scope="module")
def held() -> Plan:
    return beside()


def strap_of(plan: Plan) -> tuple[Box, ...]:
    (over,) = [one for one in plan.built.fastenings if "+z" in one.ways]
    return tuple(brick.box for brick in over.bricks)


def length_of(wire: Wire) -> float:
    return sum(math.dist(one, two) for leg in wire.legs for one, two in pairwise(leg.points))


def test_a_wire_goes_round_the_only_strap(held: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    """The straight way, 88 mm long, blocks every strap; the wire takes a longer one."""
    assert held.works
    assert verify_plan(held).problems == ()
    assert held.built.harness.unreached == ()
    (wire,) = held.built.harness.wires
    assert length_of(wire) > 110
    monkeypatch.setattr(strap_room, "TRIES", 0)
    before = beside()
    assert [one.severity for one in before.findings if "would tip" in one.message] == ["stop"]
    assert length_of(before.built.harness.wires[0]) < 95


def test_a_wire_led_through_a_strap_is_found(held: Plan) -> None:
    """A straight line between its ends runs through the stack beside the bank."""
    harness = held.built.harness
    (wire,) = harness.wires
    (leg,) = wire.legs
    straight = replace(leg, points=(leg.points[0], leg.points[-1]))
    through = replace(harness, wires=(replace(wire, legs=(straight,)),))
    lie = replace(held, built=replace(held.built, harness=through))
    assert any("what holds bank" in one.message for one in verify_plan(lie).problems)


def test_another_strap_where_the_first_would_cost_a_wire() -> None:
    """Two wires, one on each side; one is shut in on its side, so the other gives way.

    The floor on the other side is three quarters of a plate higher: no plate lies on stacks of both.
    """
    wall = BodySolid(Box((8, 24, FLOOR), (24, 56, FLOOR + 32)), "fixed")
    higher = BodySolid(Box((24, 40, FLOOR), (104, 56, FLOOR + 2.4)), "fixed")
    ends = {
        "a": (9, 9, FLOOR + 1.7),
        "b": (96, 9, FLOOR + 1.7),
        "c": (25, 50, FLOOR + 4.1),
        "d": (96, 50, FLOOR + 4.1),
    }
    plan = planned(van(10, wall, higher), ends, {"shut in": ("a", "b"), "free": ("c", "d")})
    assert plan.works
    assert verify_plan(plan).problems == ()
    assert plan.built.harness.unreached == ()
    assert min(box.low[1] for box in strap_of(plan)) >= 24  # it stands on the other side, y 40 to 56


def test_a_map_keeps_room_for_straps() -> None:
    """What is free of voxels is free without the strap, and lies outside it."""
    vehicle = van(14)
    strap = Box((24, 8, FLOOR), (40, 24, 48))
    bare, kept = (VehicleMap.of("van", vehicle, (), frozenset(), straps) for straps in ((), (strap,)))
    inside = kept.frame.box_slice(strap, "inward")
    assert not kept.free[inside].any()
    assert bare.free[inside].any()
    lost = bare.free & ~kept.free
    lost[kept.frame.box_slice(strap, "outward")] = False
    assert not lost.any()
    assert VehicleSpace.of(vehicle).frame == bare.frame
