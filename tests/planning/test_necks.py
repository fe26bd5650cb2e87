"""Openings in inner walls are kept for wires once wires have no way: what lies in one is laid elsewhere."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.vehicle import BodySolid, Vehicle
from fitplan.model.wired import Harness
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.packing import Packing
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.wishes import WiredNet, WiredPin, Wishes
from fitplan.planning.run_state import PlanningRun, PlanOptions
from fitplan.planning.vehicle_places import LooseLayouts
from fitplan.planning.wire_wishes import necks
from tests.packing.small_trains import block, hollow, train_of

ROOM = Box((0.0, 0.0, 0.0), (100.0, 40.0, 30.0))


def _wall(hole: Box) -> list[tuple[float, ...]]:
    """An inner wall from x = 40 to 48 with one hole, as four boxes round it."""
    (_, y0, z0), (_, y1, z1) = hole.low, hole.high
    return [
        (40.0, 0.0, 0.0, 48.0, y0, 30.0),
        (40.0, y1, 0.0, 48.0, 40.0, 30.0),
        (40.0, y0, 0.0, 48.0, y1, z0),
        (40.0, y0, z1, 48.0, y1, 30.0),
    ]


@pytest.mark.parametrize(("high", "told"), [(8.0, True), (29.0, False)], ids=["a hole", "more gap than wall"])
def test_a_neck_is_a_small_opening_in_an_inner_wall(high: float, told: bool) -> None:
    """The opening itself, and a little before and behind it; a wall that is mostly gap has none."""
    hole = Box((40.0, 5.0, 1.0), (48.0, 13.0 if told else 35.0, high))
    found = [one.box for one in necks(np.array(_wall(hole)), ROOM)]
    assert found == ([Box((36.0, 5.0, 1.0), (52.0, 13.0, high))] if told else [])


def test_each_opening_is_one_neck_and_low_obstacles_are_no_wall() -> None:
    """Two holes apart are two; a post and a step in the floor part nothing."""
    low, high = Box((40.0, 2.0, 0.0), (48.0, 8.0, 5.0)), Box((40.0, 30.0, 20.0), (48.0, 36.0, 26.0))
    cut = [
        (40.0, 0.0, 0.0, 48.0, 2.0, 30.0),
        (40.0, 2.0, 5.0, 48.0, 8.0, 30.0),
        (40.0, 8.0, 0.0, 48.0, 30.0, 30.0),
        (40.0, 30.0, 0.0, 48.0, 36.0, 20.0),
        (40.0, 30.0, 26.0, 48.0, 36.0, 30.0),
        (40.0, 36.0, 0.0, 48.0, 40.0, 30.0),
        (70.0, 10.0, 0.0, 78.0, 18.0, 30.0),
        (10.0, 0.0, 0.0, 20.0, 40.0, 6.0),
    ]
    found = [one.box for one in necks(np.array(cut), ROOM)]
    assert [(box.low[1:], box.high[1:]) for box in found] == [
        (low.low[1:], low.high[1:]),
        (high.low[1:], high.high[1:]),
    ]
    assert necks(np.zeros((0, 6)), ROOM) == ()


def _parted(body: Vehicle) -> Vehicle:
    """A wall across the middle, with a hole of 8 × 4.5 mm beside one side."""
    return replace(
        body,
        body=(
            *body.body,
            BodySolid(Box((88.0, 8.0, 19.2), (96.0, 40.0, 48.0)), "fixed"),
            BodySolid(Box((88.0, 8.0, 19.2), (96.0, 16.0, 23.7)), "free"),
        ),
    )


def test_a_strip_that_is_wanted_in_a_hole_lies_elsewhere() -> None:
    """Wired to both sides of the wall it would lie in the hole; once wires have no way, it does not."""
    van = _parted(hollow("van", 23, 6, 9))
    strip = block("strip", (50.0, 8.0, 2.2))
    need = Need("strip", (strip,))
    hole = Box((88.0, 8.0, 19.2), (96.0, 16.0, 23.7))
    points = ((60.0, 12.0, 20.0), (124.0, 12.0, 20.0))
    pulled = tuple(
        WiredNet((WiredPin("strip", pin.at, pin.exit),), (point,))
        for pin, point in zip(strip.pins, points, strict=True)
    )
    train = train_of((van,), (need,), ())
    there = Placement("strip", strip, "van", Place(pose_named("+x+y+z"), (60.0, 20.0, 19.2)), "the body")
    built = BuiltTrain(train, (there,), Harness(), ())
    loose = LooseLayouts(PlanningRun.of(train, PlanOptions()), built, Packing("van", "fits", (there,)))
    assert [one.box.low[1:] for one in loose.necks] == [hole.low[1:]]
    inside = []
    for clear in ((), loose.necks):
        found = Packer({"van": van}).pack_roomily(
            "van", [Wanted(need, strip)], frozenset(), Wishes(pulled, clear)
        )
        assert found is not None
        inside.append(found.placements[0].bounds.meets(hole))
    assert inside == [True, False]
