"""What lies in a round bore: its lower edges touch where r² = a² + d², and it stands on these two lines.

Half its width is a, and d is how far its underside lies below the axis (Pythagoras).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Cylinder, Place, pose_named
from fitplan.model.vehicle import BodySolid, Vehicle
from fitplan.model.wired import Harness
from fitplan.packing.vehicle.bores import edges_in_bores
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.seats import Wanted
from fitplan.verify import mounts
from fitplan.verify.bores import resting_in_bores
from fitplan.verify.result import Tally
from fitplan.verify.scene import Site, sites_of

from .small_trains import block, hollow, train_of

LEVEL, MIDDLE, RADIUS, HALF = 44.8, 40.0, 20.0, 12.0
DOWN = math.sqrt(RADIUS**2 - HALF**2)
PART = block("cells", (40.0, 2 * HALF, 12.0), mass_g=50.0)


def bored(axis: str = "x", more: tuple[BodySolid, ...] = ()) -> Vehicle:
    """A block of 80 × 80 × 64 mm with a bore of 40 mm through most of it."""
    made = hollow("v", 10, 10, 18)
    start = {"x": (8.0, MIDDLE, LEVEL), "y": (MIDDLE, 8.0, LEVEL), "z": (MIDDLE, MIDDLE, 19.2)}[axis]
    bore = Cylinder(axis, start, 50.0 if axis == "z" else 64.0, RADIUS)  # type: ignore[arg-type]
    return replace(made, body=(made.body[0], BodySolid(bore, "free"), *more))


def rows(vehicle: Vehicle) -> np.ndarray:
    cavity = Packer({"v": vehicle}).cavity("v", frozenset())
    return np.array(cavity.bricks, dtype=np.int64).reshape(-1, 6)


def sole(down: float, aside: float = 0.0, half: float = HALF, axis: str = "x") -> tuple[int, ...]:
    """A flat box of 40 mm along a bore, its underside so far below the axis, in tenths."""
    low, high = [20.0, MIDDLE - half + aside], [60.0, MIDDLE + half + aside]
    if axis == "y":
        low, high = low[::-1], high[::-1]
    box = (*low, LEVEL - down, *high, LEVEL - down + 10.0)
    return tuple(round(10 * value) for value in box)


@pytest.mark.parametrize("axis", ["x", "y"])
def test_both_edges_rest_on_the_wall(axis: str) -> None:
    vehicle = bored(axis)
    lines = [(200, 280, 600, 280), (200, 520, 600, 520)]
    expected = lines if axis == "x" else [(y0, x0, y1, x1) for x0, y0, x1, y1 in lines]
    assert edges_in_bores(vehicle, [sole(DOWN, axis=axis)], rows(vehicle)) == expected  # type: ignore[list-item]


def test_what_lies_a_little_aside_settles_into_the_middle() -> None:
    """23.6 mm have 0.4 to spare between edges of 24: aside by half of it, one edge alone touches."""
    vehicle = bored()
    assert len(edges_in_bores(vehicle, [sole(DOWN, aside=-0.2, half=HALF - 0.2)], rows(vehicle))) == 2  # type: ignore[list-item]


@pytest.mark.parametrize(
    ("box", "why"),
    [
        (sole(DOWN - 1.0), "it hangs a millimetre above the wall"),
        (sole(DOWN, aside=1.0), "one edge hangs, the other is in the wall"),
        (sole(-DOWN), "it is under the roof of the bore"),
        (sole(RADIUS - 0.2, aside=4.0, half=2.0), "both edges are on one side of the axis"),
    ],
)
def test_what_rests_on_no_bore(box: tuple[int, ...], why: str) -> None:
    vehicle = bored()
    assert edges_in_bores(vehicle, [box], rows(vehicle)) == [], why  # type: ignore[list-item]


def test_no_edge_rests_where_the_wall_is_gone() -> None:
    """A channel beside the bore takes the wall under one edge away; a bore that stands holds nothing."""
    channel = BodySolid(Box((16.0, 24.0, 24.0), (30.0, 36.0, 40.0)), "free")
    for vehicle in (bored(more=(channel,)), bored("z")):
        assert edges_in_bores(vehicle, [sole(DOWN)], rows(vehicle)) == []  # type: ignore[list-item]


def site_with(vehicle: Vehicle, place: Placement) -> tuple[Need, Site]:
    need = Need("cells", (place.part,))
    train = train_of((vehicle,), (need,))
    return need, sites_of(BuiltTrain(train, (place,), Harness(), ()))["v"]


@pytest.mark.parametrize("axis", ["x", "y"])
def test_what_lies_in_a_boiler_stands(axis: str) -> None:
    """It is said to stand, on the body and nothing beside, and the checker has nothing against it."""
    vehicle = bored(axis)
    (place,) = Packer({"v": vehicle}).pack_as_it_is("v", (Wanted(Need("cells", (PART,)), PART),)).placements
    assert (place.carried_by, place.steady, place.shelf) == ("the body", True, None)
    need, site = site_with(vehicle, place)
    tally = Tally()
    mounts.check_mounts(site, {"cells": need}, tally)
    assert tally.report().problems == ()


@pytest.mark.parametrize(("lift", "aside", "rests"), [(0.0, 0.0, True), (0.6, 0.0, False), (0.0, 1.0, False)])
def test_the_checker_looks_for_both_edges_itself(lift: float, aside: float, rests: bool) -> None:
    at = (20.0, MIDDLE - HALF + aside, math.ceil(10 * (LEVEL - DOWN)) / 10 + lift)
    place = Placement("cells", PART, "v", Place(pose_named("+x+y+z"), at), "the body")
    _, site = site_with(bored(), place)
    found = resting_in_bores(site, site.parts[0])
    assert bool(found) is rests
    if rests:
        assert sorted(found) == [(20.0, 28.0), (20.0, 52.0), (60.0, 28.0), (60.0, 52.0)]
    channel = BodySolid(Box((16.0, 24.0, 24.0), (30.0, 36.0, 40.0)), "free")
    _, site = site_with(bored(more=(channel,)), place)
    assert resting_in_bores(site, site.parts[0]) == []


def test_edges_bear_though_the_wall_is_a_little_further_below() -> None:
    """0.25 mm from a wall of 37° are more than 0.3 mm straight above it."""
    half = 11.65
    part = block("cells", (40.0, 2 * half, 12.0))
    at = (20.0, MIDDLE - half, math.ceil(10 * (LEVEL - DOWN)) / 10 + 0.1)
    place = Placement("cells", part, "v", Place(pose_named("+x+y+z"), at), "the body")
    need, site = site_with(bored(), place)
    assert mounts.resting_on(site, site.parts[0]) == []
    tally = Tally()
    mounts.check_mounts(site, {"cells": need}, tally)
    assert tally.report().problems == ()
