"""Windows and ports over brick are told by the share that is closed; what may come out does not count."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.checks.gaps import blocked_share, check_gaps, shut_window, wheels_above_floor
from fitplan.checks.places import check_places, widening
from fitplan.model.as_built import AsBuilt
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.needed import Need
from fitplan.model.part import Mount, Part
from fitplan.model.placed import Placement, Rebuild
from fitplan.model.solids import Box, Cylinder, Direction, Place, pose_named
from fitplan.model.train import Train
from fitplan.model.vehicle import BodySolid, Port, Vehicle, Wheels, Window
from fitplan.model.wired import Crossing, Harness
from fitplan.planning.run import plan_train
from tests.checks.test_places_told import OFFER
from tests.packing.small_trains import hollow, train_of


def walled(vehicle: Vehicle, *holes: BodySolid) -> Vehicle:
    """A closed block of 80 × 48 × 48 mm with holes cut into it."""
    block = BodySolid(Box((0.0, 0.0, 16.0), (80.0, 48.0, 64.0)), "fixed")
    return replace(vehicle, body=(block, *holes), built_in=(), windows=(), ports=())


@pytest.mark.parametrize(
    ("out", "gap"),
    [
        ("+x", Box((72.0, 8.0, 24.0), (80.0, 40.0, 40.0))),
        ("-x", Box((0.0, 8.0, 24.0), (8.0, 40.0, 40.0))),
        ("-y", Box((8.0, 0.0, 24.0), (40.0, 8.0, 40.0))),
        ("+z", Box((8.0, 8.0, 56.0), (40.0, 40.0, 64.0))),
    ],
)
def test_what_is_closed_of_a_gap(harbour_line: Train, out: Direction, gap: Box) -> None:
    """Whole, half and round holes by their area; half-way through a wall is no hole; flat gaps count too."""
    plain = harbour_line.vehicles[0].vehicle
    assert blocked_share(walled(plain), gap, out) == 1.0
    assert blocked_share(walled(plain, BodySolid(gap, "free")), gap, out) == 0.0
    along = "xyz".index(out[1])
    across = next(axis for axis in range(3) if axis != along)
    middle = gap.center[across]
    high = [middle if axis == across else gap.high[axis] for axis in range(3)]
    half = Box(gap.low, (high[0], high[1], high[2]))
    assert blocked_share(walled(plain, BodySolid(half, "free")), gap, out) == pytest.approx(0.5, abs=0.02)
    deep = list(gap.high)
    deep[along] = gap.center[along]
    pocket = Box(gap.low, (deep[0], deep[1], deep[2]))
    assert blocked_share(walled(plain, BodySolid(pocket, "free")), gap, out) == 1.0
    at = list(gap.center)
    at[along] = gap.low[along]
    drilled = Cylinder(out[1], (at[0], at[1], at[2]), 8.0, 6.0)  # type: ignore[arg-type]
    area = 3.14159 * 36 / (gap.volume / 8.0)
    share = blocked_share(walled(plain, BodySolid(drilled, "free")), gap, out)
    assert share == pytest.approx(1 - area, abs=0.02)
    loose = BodySolid(gap, "removable", plain.removables[0].name)
    assert blocked_share(walled(plain, loose), gap, out) == 0.0
    flat = list(gap.high)
    flat[along] = gap.low[along]
    assert blocked_share(walled(plain), Box(gap.low, (flat[0], flat[1], flat[2])), out) == 1.0


def test_a_window_over_brick_is_told_and_an_open_one_is_not(harbour_line: Train) -> None:
    """One finding for each gap over brick, at its vehicle and name; none on the examples as they are."""
    plain = BuiltTrain(harbour_line, (), Harness(), ())
    assert check_gaps(plain).findings == ()
    first = harbour_line.vehicles[0]
    gap = Box((72.0, 8.0, 24.0), (80.0, 40.0, 40.0))
    body = replace(
        walled(first.vehicle), windows=(Window("eye", gap, "+x"),), ports=(Port("hole", gap, "+x"),)
    )
    vehicles = (replace(first, vehicle=body), *harbour_line.vehicles[1:])
    told = check_gaps(BuiltTrain(replace(harbour_line, vehicles=vehicles), (), Harness(), ())).findings
    assert [found.where for found in told] == [f"{first.name}, eye", f"{first.name}, hole"]
    assert all(found.severity == "caution" and "is solid brick" in found.message for found in told)


@pytest.mark.parametrize(("looking", "placed", "weight"), [
    (True, False, "stop"), (True, True, "caution"), (False, False, "caution"),
])  # fmt: skip
def test_a_window_over_brick_stops_what_has_no_place_for_it(
    harbour_line: Train, looking: bool, placed: bool, weight: str
) -> None:
    """It is why: what looks out of it finds no room in a wall. What has a place looks out somehow."""
    first = harbour_line.vehicles[0]
    gap = Box((72.0, 8.0, 24.0), (80.0, 40.0, 40.0))
    body = replace(walled(first.vehicle), windows=(Window("eye", gap, "+x"),), ports=(Port("p", gap, "+x"),))
    part = harbour_line.catalogue["sensor-time-of-flight"]
    need = Need("tof", (part,), looks=(first.name, "eye") if looking else None)
    train = replace(harbour_line, vehicles=(replace(first, vehicle=body),), needs=(need,))
    there = Placement("tof", part, first.name, Place(pose_named("+x+y+z"), (40.0, 20.0, 20.0)), "the body")
    window, port = check_gaps(BuiltTrain(train, (there,) if placed else (), Harness(), ())).findings
    assert (window.severity, port.severity) == (weight, "caution")


def test_gaps_of_a_kind_over_brick_are_told_once(harbour_line: Train) -> None:
    """Ports of two vehicles in one finding, each by its name; a window beside them in its own."""
    first, second, *rest = harbour_line.vehicles
    holes = tuple(
        Port(name, Box((72.0, 8.0, low), (80.0, 40.0, 40.0)), "+x") for name, low in (("a", 24), ("b", 26))
    )
    eye = Window("eye", holes[0].box, "+x")
    bodies = replace(walled(first.vehicle), ports=holes, windows=(eye,)), walled(second.vehicle)
    vehicles = (
        replace(first, vehicle=bodies[0]),
        replace(second, vehicle=replace(bodies[1], ports=holes[:1])),
    )
    train = replace(harbour_line, vehicles=(*vehicles, *rest))
    window, ports = check_gaps(BuiltTrain(train, (), Harness(), ())).findings
    assert window.where == f"{first.name}, eye"
    assert ports.where == f"{first.name}, {second.name}"
    assert f"ports a and b of {first.name} and a of {second.name} are solid brick" in ports.message
    assert "wires through" not in ports.message
    # What wires pass all the same is told apart, and that they do.
    passed = Crossing("J1", first.name, second.name, "b", "a", (1,), 1.3, 20.0, 30.0, "", 20.0, False)
    _, one, two = check_gaps(BuiltTrain(train, (), Harness(crossings=(passed,)), ())).findings
    assert one.where == f"{first.name}, a"
    assert one.message.endswith("nothing leads a wire there")
    assert f"ports b of {first.name} and a of {second.name}" in two.message
    assert two.message.endswith("nothing leads a wire there, and the plan leads wires through")


def test_wheels_above_the_floor_are_told_with_how_far(harbour_line: Train) -> None:
    """A body eight studs wide set so low that its wheels come through the floor; walls may hold them."""
    body = hollow("wide", 12, 8, 9)
    floor = body.base + 3.2
    sunk = {
        deep: replace(body, wheels=Wheels("axles", (32.0, 64.0), (False, False), (floor + deep) / 2))
        for deep in (-1.0, 2.5)
    }
    assert wheels_above_floor(sunk[-1.0], 37.5) == 0.0
    assert wheels_above_floor(sunk[2.5], 37.5) == pytest.approx(2.5, abs=0.01)
    assert wheels_above_floor(sunk[2.5], 55.0) == 0.0
    (first, *_) = harbour_line.vehicles
    train = replace(harbour_line, vehicles=(replace(first, vehicle=sunk[2.5]),))
    found = check_gaps(BuiltTrain(train, (), Harness(), ())).findings
    (told,) = [one for one in found if one.where == f"{first.name}, wheels"]
    assert "2.5 mm above its floor" in told.message


def test_a_window_that_is_drawn_as_brick_is_why_nothing_looks_out() -> None:
    """Whatever else is short; where it is open by half or more, another reason is told."""
    gap = Window("gap", Box((72.0, 16.0, 24.0), (80.0, 32.0, 40.0)), "+x")
    eye = Part(
        "eye", "eye", "sensor", (Box((0, 0, 0), (12, 12, 10)),), 3.0, "invented for a test",
        mount=Mount(looks="+x", lens=Box((12, 1, 1), (12, 11, 9)), upright=True),
    )  # fmt: skip
    need = Need("eye", (eye,), looks=("v", "gap"))
    shut = hollow("v", 10, 6, 12, windows=(gap,))
    shut = replace(shut, body=(*shut.body, BodySolid(gap.box, "fixed")))
    half = replace(shut, body=(*shut.body, BodySolid(Box((72.0, 16.0, 24.0), (80.0, 25.0, 40.0)), "free")))
    words = "its window gap is solid brick as drawn, and nothing looks out there"
    assert shut_window(shut, "v", need) == words
    assert shut_window(half, "v", need) == ""
    longer = hollow("v", 10, 6, 12, windows=(gap,))
    blade = BodySolid(Box((88.0, 0.0, 16.0), (96.0, 28.0, 60.0)), "fixed")
    before = replace(longer, studs_long=12, body=(*longer.body, BodySolid(gap.box, "free"), blade))
    told = "bricks of its own vehicle stand before 75% of its window gap as drawn"
    assert shut_window(before, "v", need) == told
    low = BodySolid(Box((88.0, 0.0, 16.0), (96.0, 48.0, 30.0)), "fixed")
    assert shut_window(replace(before, body=(*before.body[:-1], low)), "v", need) == ""
    assert shut_window(shut, "another", need) == ""
    train = train_of((shut,), (need,))
    plan = plan_train(train)
    ((name, reason),) = plan.unplaced
    assert (name, reason) == ("eye", f"in the v: {words}")
    assert {row.reason for row in plan.fit if row.need == "eye"} == {words}
    (told,) = [one for one in check_places(plan.built, plan.unplaced, ()).findings if one.where == "eye"]
    advice = "in the file of v draw no bricks in gap or before it, or move its box"
    assert told.remedy == advice
    (both,) = check_places(plan.built, plan.unplaced, (OFFER,)).findings
    assert both.remedy == f"{advice} where that is open as built; else {widening(OFFER)}"


def test_a_brick_that_stays_in_a_port_is_told_where_wires_pass() -> None:
    """One that may come out and fills the port of a wire; out, or where no wire goes, it is let be."""
    brick = "grille"
    van = hollow("van", 10, 6, 6, removable=((brick, Box((72.0, 16.0, 19.2), (80.0, 32.0, 28.8)), 1.0),))
    loco = hollow("loco", 10, 6, 6)
    gap = Box((72.0, 20.0, 19.2), (80.0, 28.0, 25.6))
    holes = [BodySolid(gap, "free"), *(one for one in van.body if one.state == "removable")]
    van = replace(van, body=(*(one for one in van.body if one.state != "removable"), *holes))
    train = train_of((loco, van), ())
    passing = Crossing("J1", "loco", "van", "rear hole", "front hole", (1,), 1.3, 20.0, 30.0, "", 20.0, False)
    built = BuiltTrain(train, (), Harness(crossings=(passing,)), ())

    def told(made: BuiltTrain) -> list[Finding]:
        return [one for one in check_gaps(made).findings if brick in one.message]

    (one,) = told(built)
    assert (one.severity, one.where, one.figure) == ("caution", "van, front hole", 1.0)
    assert "grille, which may come out, stands in 100% of the port front hole of van" in one.message
    assert one.remedy.startswith("take grille out of van")
    out = Rebuild("van", (brick,), (), 1.0, 1.0, "")
    assert told(replace(built, rebuilds=(out,))) == []
    before = AsBuilt(bricks_out=(("van", brick),))
    assert told(replace(built, train=replace(train, as_built=before))) == []
    assert told(replace(built, harness=Harness())) == []
    half = replace(holes[1], solid=Box((72.0, 20.0, 19.2), (80.0, 23.6, 25.6)))
    thin = replace(van, body=(*van.body[:-1], half))
    assert told(replace(built, train=train_of((loco, thin), ()))) == []
