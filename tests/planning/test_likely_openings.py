"""Openings that are likely to do are planned with first; what fails is blamed on the vehicle it fails in."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.proposed import LeastOpening
from fitplan.model.solids import Box, Place
from fitplan.model.train import Train
from fitplan.model.vehicle import BodySolid, Hole
from fitplan.model.wired import Harness, Unreached
from fitplan.planning.least_opening import OpeningSearch
from fitplan.planning.opened import faults, openings
from fitplan.planning.run_state import PlanningRun, PlanOptions
from tests.planning.test_least_opening import STAND, WALL, _walled


def _behind_a_slit() -> Train:
    """Return a train whose wagon has a post 0.8 mm behind its front hole, and a loco without a rear hole."""
    train = _walled(open_ends=False)
    loco, wagon = train.vehicles
    x = wagon.vehicle.length - 8.0
    post = Box((x - 4.0, 14.0, 19.2), (x - 0.8, 34.0, 32.0))
    body = (*wagon.vehicle.body, BodySolid(post, "fixed"))
    return replace(train, vehicles=(loco, replace(wagon, vehicle=replace(wagon.vehicle, body=body))))


def _placed(train: Train) -> BuiltTrain:
    places = (("one", "loco", (30.0, 12.0, 19.2)), ("two", "wagon", (20.0, 11.0, 19.2)))
    placements = tuple(
        Placement(name, train.need(name).candidates[0], vehicle, Place(STAND, at), "the body")
        for name, vehicle, at in places
    )
    return BuiltTrain(train, placements, Harness(), ())


def test_a_gap_that_no_wire_gets_through_is_not_counted_on() -> None:
    """Past a slit of 0.8 mm rooms are one to the proof, as they must be; what is opened first avoids it."""
    train = _behind_a_slit()
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), {"w0": 1.3, "w1": 1.3})
    first = next(openings(search, set()))
    assert search.bound == 1.0
    assert first.cost > first.least == search.bound
    assert {vehicle for vehicle, _ in first.holes} == {"loco", "wagon"}


def test_with_room_enough_the_least_is_what_is_likely() -> None:
    """Without the post one hole in the loco does, and is proved least."""
    train = _walled(open_ends=False)
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), {"w0": 1.3, "w1": 1.3})
    first = next(openings(search, set()))
    assert (first.cost, first.least) == (1.0, 1.0)
    assert [vehicle for vehicle, _ in first.holes] == ["loco"]


@pytest.mark.parametrize(("nets", "holes"), [(4, 1), (5, 2)])
def test_a_hole_inside_is_counted_on_for_a_round_bundle(nets: int, holes: int) -> None:
    """Of four wires of 1.3 mm a bundle is 3.14 mm thick, of five 3.51 (equal circles, Graham 1968)."""
    train = _walled(wall=BodySolid(WALL, "fixed"), nets=nets)
    wires = {f"w{n}": 1.3 for n in range(nets)}
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), wires)
    first = next(openings(search, set()))
    assert search.bound == 1.0
    assert first.cost == holes


def test_vehicles_beyond_a_parted_net_are_not_blamed() -> None:
    """The net stops at a port of the wagon: its end in the loco is lost as well, but not by the loco."""
    train = _walled(open_ends=False)
    hole = Hole("hole", "brick with a hole", Box((0.0, 18.4, 20.0), (8.0, 21.6, 23.2)), "x", "-x", 1, 1.0)
    opening = LeastOpening((("loco", hole),), (), 1.0, 1.0, "")
    built = _placed(train)

    def lost(*found: tuple[str, str]) -> set[str]:
        harness = Harness(unreached=tuple(Unreached("w0", owner, pin, "no way") for owner, pin in found))
        plan = Plan(replace(built, harness=harness), "fits", (), (), (), (), (), ())
        return {vehicle for vehicle, _, _ in faults(plan, opening)}

    assert lost(("wagon", "front hole"), ("one", "p0")) == {"wagon"}
    assert lost(("one", "p0"), ("two", "p0")) == {"loco"}
    assert lost(("two", "p0")) == {"wagon"}
