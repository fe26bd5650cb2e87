"""Room before pins is wished for, also of what is built in, and for more where it was taken before."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.part import Clearance, ClearanceKind, Mount, Pin
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.vehicle import BuiltIn, Vehicle
from fitplan.model.wired import Harness
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.wishes import WiredNet, WiredPin, Wishes
from fitplan.planning.wire_wishes import wishes_of
from tests.packing.small_trains import block, hollow, train_of

MOTOR = Box((32.0, 12.0, 19.2), (64.0, 36.0, 32.0))


def with_motor() -> Vehicle:
    """Return a box in which a motor lies whose pins look up from its top."""
    pins = tuple(Pin(name, "load", (x, 24.0, 32.0), "+z") for name, x in (("plus", 40.0), ("minus", 50.0)))
    motor = BuiltIn("motor", "motor", (MOTOR,), pins=pins, mass_g=40.0, stall_ma=400.0)
    return hollow("loco", 14, 6, 12, kind="loco", built_in=(motor,))


def test_parts_leave_the_pins_of_a_motor_free() -> None:
    """A part wired to a motor's pin lies over that pin, as near as can be, but for the wish."""
    loco = with_motor()
    part = block("b", (14.0, 12.0, 6.0))
    needs = (Need("one", (part,)),)
    train = train_of((loco,), needs, (("go", ("one.p0", "loco/motor.plus")),))
    stand = pose_named("+x+y+z")
    there = Placement("one", part, "loco", Place(stand, (34.0, 18.0, 32.0)), "the body")
    wishes = wishes_of(BuiltTrain(train, (there,), Harness(), ()), train.vehicle("loco"))
    (before,) = [one for one in wishes.clear if one.before]
    assert before.before == "loco/motor"
    # Only the pin that is wired, 6 mm up and 1 mm to each side.
    assert before.box.low == pytest.approx((39.0, 23.0, 32.0))
    assert before.box.high == pytest.approx((41.0, 25.0, 38.0))
    pulled = WiredNet((WiredPin("one", part.pins[0].at, part.pins[0].exit),), ((40.0, 24.0, 32.0),))
    over = []
    for clear in (wishes.clear, ()):
        asked = replace(wishes, nets=(pulled,), clear=clear)
        found = Packer({"loco": loco}).pack_roomily("loco", [Wanted(needs[0], part)], frozenset(), asked)
        assert found is not None
        over.append(found.placements[0].bounds.meets(before.box))
    assert over == [False, True]


def test_room_that_was_taken_before_is_dearer() -> None:
    """Seven wires that grow by 7 mm each beside the room are worth more than it, less than what is dear."""
    loco = with_motor()
    part = block("b", (14.0, 12.0, 6.0), mount=Mount(turnable=False), pins=1)
    part = replace(part, pins=(replace(part.pins[0], at=(7.0, 6.0, 6.0)),))
    need = Need("one", (part,))
    train = train_of((loco,), (need,), (("go", ("one.p0", "loco/motor.plus")),))
    stand = pose_named("+x+y+z")
    there = Placement("one", part, "loco", Place(stand, (34.0, 18.0, 32.0)), "the body")
    wishes = wishes_of(BuiltTrain(train, (there,), Harness(), ()), train.vehicle("loco"))
    (before,) = [one for one in wishes.clear if one.before]
    end = WiredPin("one", part.pins[0].at, part.pins[0].exit)
    # Many nets to the same point: so much wire does a place away from it cost.
    nets = tuple(WiredNet((end,), ((40.0, 24.0, 38.0),)) for _ in range(7))
    over = []
    for dear in (frozenset[str](), frozenset({"loco/motor"})):
        asked = replace(wishes, nets=nets, dear=dear)
        found = Packer({"loco": loco}).pack_roomily("loco", [Wanted(need, part)], frozenset(), asked)
        assert found is not None
        over.append(found.placements[0].bounds.meets(before.box))
    assert over == [True, False]


@pytest.mark.parametrize("kind", ["plug", "lead"])
def test_a_plug_keeps_off_the_pins_of_another_part(kind: ClearanceKind) -> None:
    """Room for a lead comes as near to pins of another part as it can; room for a plug leaves them 6 mm."""
    body = hollow("v", 12, 4, 8)
    eye = replace(block("eye", (4.0, 12.0, 6.0), mount=Mount(turnable=False), pins=1), family="sensor")
    eye = replace(eye, pins=(replace(eye.pins[0], at=(4.0, 6.0, 3.0), exit="+x"),))
    brain = block("brain", (30.0, 14.0, 6.0), mount=Mount(turnable=False), pins=1)
    room = Clearance("plug", kind, Box((-12.0, 1.0, 0.0), (0.0, 13.0, 6.0)))
    brain = replace(brain, pins=(replace(brain.pins[0], at=(0.0, 7.0, 6.0)),), clearances=(room,))
    wanted = [Wanted(Need(part.id, (part,)), part) for part in (eye, brain)]
    ends = [WiredPin(part.id, part.pins[0].at, part.pins[0].exit) for part in (eye, brain)]
    # The eye is held at the rear by many nets, the other one is drawn to it.
    held = tuple(WiredNet((ends[0],), ((12.0, 16.0, 22.2),)) for _ in range(40))
    asked = Wishes((*held, *(WiredNet((end,), ((12.0, 16.0, 22.2),)) for end in ends)))
    found = Packer({"v": body}).pack_roomily("v", wanted, frozenset(), asked)
    assert found is not None
    at = {place.need: place for place in found.placements}
    plug = at["brain"].place.move_solid(room.solid).bounds
    pin = at["eye"].place.move(eye.pins[0].at)
    before = Box((pin[0], pin[1] - 1, pin[2] - 1), (pin[0] + 6, pin[1] + 1, pin[2] + 1))
    assert plug.meets(before) == (kind == "lead")
