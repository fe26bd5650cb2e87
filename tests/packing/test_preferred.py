"""Preferences decide between places that are otherwise equal, the first before the second."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from fitplan.checks.preferences import check_preferences, seen_share
from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need, Preference
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.vehicle import BodySolid, Vehicle, Window
from fitplan.model.wired import Harness
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.preferred import Liked, weight_of
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.wishes import Wishes
from tests.packing.small_trains import block, hollow, train_of

ROOM = hollow("v", 24, 8, 6)
SMALL = block("small", (16.0, 10.0, 8.0))
A, B = (Need(name, (SMALL,)) for name in "ab")


def middles(*liked: Liked) -> dict[str, tuple[float, float, float]]:
    wanted = [Wanted(A, SMALL), Wanted(B, SMALL)]
    packing = Packer({"v": ROOM}).pack_roomily("v", wanted, frozenset(), Wishes((), liked=liked), seed=1)
    assert packing is not None
    return {one.need: one.place.move_solid(SMALL.bounds).bounds.center for one in packing.placements}


def test_near_and_far_and_the_first_before_the_second() -> None:
    """Near: side by side. Far: at opposite ends. Both asked: the first one wins."""
    near, far = Liked("a", "near", "b", None, weight_of(0)), Liked("a", "far from", "b", None, weight_of(0))
    close = middles(near)
    assert math.dist(close["a"], close["b"]) < 20.0
    apart = middles(far)
    assert math.dist(apart["a"], apart["b"]) > 140.0
    both = middles(near, replace(far, weight=weight_of(1)))
    assert math.dist(both["a"], both["b"]) < 20.0
    turned = middles(far, replace(near, weight=weight_of(1)))
    assert math.dist(turned["a"], turned["b"]) > 140.0


@pytest.mark.parametrize("end", [8.0, 176.0])
def test_near_what_stays_where_it_is(end: float) -> None:
    """A motor at either end draws a part to it."""
    motor = Box((end, 28.0, 20.0), (end + 8.0, 36.0, 28.0))
    found = middles(Liked("a", "near", "v/motor", motor, weight_of(0)))
    assert abs(found["a"][0] - motor.center[0]) < 30.0


def built(vehicle: Vehicle, kind: str, other: str = "b") -> BuiltTrain:
    train = replace(train_of((vehicle,), (A, B)), preferences=(Preference("a", kind, other),))  # type: ignore[arg-type]
    places = [
        Placement(need.name, SMALL, "v", Place(pose_named("+x+y+z"), (x, y, 19.2)), "the body")
        for need, x, y in ((A, 88.0, 12.0), (B, 88.0, 42.0))
    ]
    return BuiltTrain(train, tuple(places), Harness(), ())


def test_figures_of_what_was_liked() -> None:
    """30 mm from middle to middle, on different sides of the middle line."""
    (near,) = check_preferences(built(ROOM, "near")).findings
    assert (near.severity, near.figure) == ("note", 30.0)
    (side,) = check_preferences(built(ROOM, "same side as")).findings
    assert (side.severity, side.figure) == ("caution", 30.0)


def test_what_is_seen_through_windows() -> None:
    """Behind closed walls nothing; without the roof most; through bars the share that is open of it."""
    (hidden,) = check_preferences(built(ROOM, "hidden", "")).findings
    assert (hidden.severity, hidden.figure) == ("note", 0.0)
    gap = Box((72.0, 0.0, 19.2), (120.0, 8.0, 38.4))
    window = Window("side", gap, "-y")
    opened = replace(ROOM, body=(*ROOM.body, BodySolid(gap, "free")), windows=(window,))
    one = built(opened, "hidden", "")
    whole = seen_share(one.placements[0], one)
    assert 0.1 < whole < 0.7
    (told,) = check_preferences(one).findings
    assert told.severity == "caution"
    barred = built(replace(opened, windows=(replace(window, open_share=0.25),)), "hidden", "")
    assert seen_share(barred.placements[0], barred) == pytest.approx(0.25 * whole)
