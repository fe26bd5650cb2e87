"""Loads on an open deck: the heaviest lies where the wagon is in balance, bricks stand beside thin ones."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from fitplan.checks.balance import weight_after
from fitplan.files.catalogue import read_catalogue
from fitplan.files.load_room import open_for_loads
from fitplan.model.needed import Need
from fitplan.model.part import Mount
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import BodySolid, Vehicle
from fitplan.model.wired import Harness, Leg, Wire, WireEnd
from fitplan.planning.filled_room import rows_of_wires
from fitplan.planning.run import PlanOptions, plan_train
from fitplan.surface import verify_plan
from tests.packing.small_trains import block, hollow, train_of
from tests.planning.test_held_by_bricks import fixed

FLOOR = 19.2
BANK = block("bank", (60, 16, 20), mass_g=90.0, pins=1)
LAMP = block("lamp", (12, 8, 7), pins=1)


def deck() -> Vehicle:
    """A flat deck, 16 studs long and 6 wide, with studs all over."""
    body = (BodySolid(Box((0, 0, 16), (128, 48, FLOOR)), "fixed"),)
    bare = replace(hollow("deck", 16, 6, 1), top=FLOOR, body=body, openings=(), ports=())
    return open_for_loads(replace(bare, floor_finish="studded"))


def planned(*needs: Need, nets: tuple[tuple[str, tuple[str, ...]], ...] = ()) -> Plan:
    return plan_train(replace(train_of((deck(),), needs, nets), catalogue=read_catalogue()), PlanOptions())


def test_the_heaviest_load_is_brought_to_where_the_wagon_is_in_balance() -> None:
    """At a side, 90 g of 195 would draw the middle 7 mm aside; a quarter of half the gauge is allowed."""
    plan = planned(Need("bank", (BANK,)), Need("lamp", (LAMP,)), nets=(("n", ("bank.p0", "lamp.p0")),))
    assert plan.works
    assert verify_plan(plan).problems == ()
    aside = weight_after(plan.built, "deck").center[1] - 24
    assert abs(aside) <= 0.25 * plan.built.train.track.gauge / 2
    assert not any("centre of gravity" in one.message and one.severity == "caution" for one in plan.findings)


def test_what_is_fixed_by_hand_stays() -> None:
    """Then balance is told as before."""
    plan = planned(fixed("bank", BANK, "deck", (0, 0, FLOOR + 1.7)), Need("lamp", (LAMP,)))
    assert next(one.place.offset for one in plan.built.placements if one.need == "bank")[1] == 0
    assert any("centre of gravity" in one.message and one.severity == "caution" for one in plan.findings)


def test_a_heavy_load_on_edge_has_bricks_beside_it_as_high_as_its_middle() -> None:
    """On a foot of 9.5 mm, 60 mm high, it would topple at 0.16 g; tape, which doubles that, is no prop."""
    tall = block("tall", (40, 9.5, 60), mass_g=100.0, pins=0, mount=Mount(upright=True))
    plan = planned(Need("tall", (tall,)))
    (one,) = plan.built.placements
    low, high = one.bounds.low, one.bounds.high
    assert verify_plan(plan).problems == ()
    props = next(one for one in plan.built.fastenings if one.bricks)
    axis = 1 if high[0] - low[0] > high[1] - low[1] else 0
    assert set(props.ways) >= ({"-y", "+y"} if axis == 1 else {"-x", "+x"})
    for mine in (
        [brick.box for brick in props.bricks if brick.box.high[axis] <= low[axis]],
        [brick.box for brick in props.bricks if brick.box.low[axis] >= high[axis]],
    ):
        assert max(box.high[2] for box in mine) >= low[2] + 30


@pytest.mark.parametrize("seed", range(8))
def test_wires_fill_what_they_run_through_and_little_more(seed: int) -> None:
    """Points along a wire lie in its boxes with its thickness; no box reaches more than a stud beside it."""
    rng = np.random.default_rng(seed)
    points: tuple[Vec, ...] = tuple(tuple(map(float, rng.uniform(5, 60, 3))) for _ in range(4))  # type: ignore[misc]
    end = WireEnd("pin", "a", "p", "deck", points[0], 0.0)
    wire = Wire(1, "n", "signal", "BK", 28, 1.0, end, end, (Leg("deck", points),), 1.0, (), 1.0, 1.0, 0.0)
    built = replace(planned_bare(), harness=Harness((wire,)))
    rows = rows_of_wires(built, "deck") / 10
    for one, two in pairwise(points):
        for share in np.linspace(0, 1, 41):
            at = np.array(one) + share * (np.array(two) - np.array(one))
            inside = (rows[:, :3] <= at - 0.49).all(axis=1) & (at + 0.49 <= rows[:, 3:]).all(axis=1)
            assert inside.any()
    assert (rows[:, 3:] - rows[:, :3]).max() <= 8 + 1.0 + 0.2 + 1e-6
    assert math.isfinite(float(rows.max()))


def planned_bare():  # type: ignore[no-untyped-def]
    return planned(Need("lamp", (LAMP,))).built
