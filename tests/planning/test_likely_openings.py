"""Openings that are likely to do are planned with first; what fails is blamed on the vehicle it fails in."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

import pytest

import fitplan.planning.run as run
from fitplan.files.plan_json import plan_to_json
from fitplan.model.built import BuiltTrain
from fitplan.model.placed import Placement
from fitplan.model.proposed import LeastOpening
from fitplan.model.solids import Box, Place
from fitplan.model.train import Train
from fitplan.model.vehicle import BodySolid, Hole, Removable
from fitplan.model.wired import Harness, Unreached
from fitplan.planning.least_opening import OpeningSearch
from fitplan.planning.opened import blamed_for, opened_so, opened_train, openings
from fitplan.planning.run import plan_train
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


def _behind_a_post(*, removable: bool = False, gap: float = 0.6, nets: int = 8) -> Train:
    """Return a train with a post that leaves 3 mm of the width of the wagon's front hole of 8 × 6.4 mm."""
    train = _walled(nets=nets)
    loco, wagon = train.vehicles
    (port,) = (one for one in wagon.vehicle.ports if one.out == "+x")
    x, y = port.box.low[0], port.box.low[1]
    post = Box((x - gap - 3.2, y + 3.0, 19.2), (x - gap, y + 9.0, 38.4))
    solid = BodySolid(post, "removable", "post") if removable else BodySolid(post, "fixed")
    bricks = (Removable("post", 0.5),) if removable else ()
    vehicle = replace(wagon.vehicle, body=(*wagon.vehicle.body, solid), removables=bricks)
    return replace(train, vehicles=(loco, replace(wagon, vehicle=vehicle)))


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
    first = next(openings(search, set())).opening
    assert search.bound == 1.0
    assert first.cost > first.least == search.bound
    assert {vehicle for vehicle, _ in first.holes} == {"loco", "wagon"}


def test_with_room_enough_the_least_is_what_is_likely() -> None:
    """Without the post one hole in the loco does, and is proved least."""
    train = _walled(open_ends=False)
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), {"w0": 1.3, "w1": 1.3})
    first = next(openings(search, set())).opening
    assert (first.cost, first.least) == (1.0, 1.0)
    assert [vehicle for vehicle, _ in first.holes] == ["loco"]


def test_nothing_is_opened_to_where_nothing_is_wired() -> None:
    """Where wires ran in no room though all are joined: no hole in the loco's front or the wagon's rear."""
    train = _walled(wall=BodySolid(WALL, "fixed"))
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), {"w0": 1.3, "w1": 1.3})
    sets = [one for one in itertools.islice(search.likely_at_home.sets(), 40) if one.kinds]
    assert sets
    ends = {node for one in sets for kind in one.kinds for node in kind.ends}
    assert ends.isdisjoint({("loco", "front"), ("wagon", "rear")})


@pytest.mark.parametrize(("nets", "holes"), [(4, 1), (5, 2)])
def test_a_hole_inside_is_counted_on_for_a_round_bundle(nets: int, holes: int) -> None:
    """Of four wires of 1.3 mm a bundle is 3.14 mm thick, of five 3.51 (equal circles, Graham 1968)."""
    train = _walled(wall=BodySolid(WALL, "fixed"), nets=nets)
    wires = {f"w{n}": 1.3 for n in range(nets)}
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), wires)
    first = next(openings(search, set())).opening
    assert search.bound == 1.0
    assert first.cost == holes


@pytest.mark.parametrize(
    ("gap", "nets", "cost"),
    [
        (0.6, 9, 0.0),  # two, one, two… of 1.3 mm in rows 0.98 mm apart: 3 × 6.2 mm
        (0.6, 13, 1.0),  # their cross-sections are nine tenths of it
        (1.2, 13, 1.0),
        (1.3, 13, 0.0),  # so far behind all of them turn aside before it
    ],
)
def test_what_covers_a_port_is_no_way_that_is_counted_on(gap: float, nets: int, cost: float) -> None:
    """Thirteen go through the hole, and not through what the post leaves of it; nothing of it is proved."""
    train = _behind_a_post(gap=gap, nets=nets)
    wires = {f"w{n}": 1.3 for n in range(nets)}
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), wires)
    for likely in (search.likely, search.likely_at_home):
        first = next(likely.sets())
        assert first.cost == cost
        assert {kind.name.split()[-1] for kind in first.kinds} == ({"wagon"} if cost else set())
    assert (search.bound, search.shut) == (0.0, "")


def test_what_covers_a_port_may_be_taken_out() -> None:
    """A post of less than a hole costs: then all of the hole is counted on."""
    train = _behind_a_post(removable=True, nets=13)
    wires = {f"w{n}": 1.3 for n in range(13)}
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), wires)
    first = next(search.likely.sets())
    assert (first.cost, first.bricks, first.kinds) == (0.5, frozenset({("wagon", "post")}), ())


def test_a_thin_wire_turns_aside_where_a_thick_one_does_not() -> None:
    """Two of 2.4 mm go through what is left, a third does not, whatever goes beside them."""
    for thick, opened in ((2, False), (3, True)):
        train = _behind_a_post(gap=1.0, nets=8)
        wires = {f"w{n}": 2.4 if n < thick else 1.0 for n in range(8)}
        search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), wires)
        assert bool(next(search.likely.sets()).kinds) is opened


def test_past_a_slit_a_port_leads_nowhere() -> None:
    """A post leaves 3 mm of a hole before a closed pocket, and on its other side half a millimetre.

    Past that, and through 0.8 mm before the post, the room is close to the hole; no wire gets there.
    """
    train = _walled()
    loco, wagon = train.vehicles
    (old,) = (one for one in wagon.vehicle.ports if one.out == "+x")
    (x, y, z), (far, side, top) = old.box.low, old.box.high
    port = replace(old, box=Box((x, y - 0.5, z), (far, side, top)))
    post = Box((x - 4.0, y, z), (x - 0.8, y + 5.0, 38.4))
    pocket = (
        Box((x - 8.0, side, z), (x, side + 4.0, top + 3.2)),
        Box((x - 8.0, y + 5.0, z), (x - 4.0, side, top + 3.2)),
        Box((x - 4.0, y + 5.0, top), (x, side, top + 3.2)),
    )
    body = (
        *wagon.vehicle.body,
        BodySolid(port.box, "free"),
        *(BodySolid(box, "fixed") for box in (post, *pocket)),
    )
    ports = tuple(port if one is old else one for one in wagon.vehicle.ports)
    vehicle = replace(wagon.vehicle, body=body, ports=ports)
    train = replace(train, vehicles=(loco, replace(wagon, vehicle=vehicle)))
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), {"w0": 1.3, "w1": 1.3})
    first = next(search.likely_at_home.sets())
    assert {kind.name.split()[-1] for kind in first.kinds} == {"wagon"}
    assert (search.bound, search.shut) == (0.0, "")


def test_parts_are_first_counted_on_where_they_were_put() -> None:
    """Beside the other one a part would need no hole; it was put into the loco, five wires of 1.3 mm away."""
    train = _walled(wall=BodySolid(WALL, "fixed"), nets=5)
    one, two = train.needs
    train = replace(train, needs=(replace(one, vehicles=("loco", "wagon")), two))
    wires = {f"w{n}": 1.3 for n in range(5)}
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), wires)
    assert next(search.likely.sets()).cost == 0.0
    first = next(openings(search, set()))
    assert (first.at_home, first.opening.cost, first.opening.least) == (True, 2.0, 0.0)


def test_where_wires_did_not_run_something_is_opened() -> None:
    """A hole in the loco is the least; wires did not run in the wagon either, whose rooms let them through.

    Its port was given out to nets that led nowhere: only when they do not run there again it is opened, too.
    """
    train = _walled(open_ends=False)
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), {"w0": 1.3, "w1": 1.3})
    assert search.likely_at_home.in_the_way == {"loco"}

    def first(blamed: set[str], failed: set[tuple[str, tuple[str, ...], tuple[str, ...]]]) -> set[str]:
        proposed = next(one for one in openings(search, failed, blamed) if one.at_home)
        return {vehicle for vehicle, _ in proposed.opening.holes}

    assert first({"loco", "wagon"}, set()) == {"loco"}
    assert first({"loco", "wagon"}, {("wagon", (), ())}) == {"loco", "wagon"}
    assert first({"wagon"}, set()) == {"loco", "wagon"}
    anywhere = next(one for one in openings(search, set(), {"wagon"}) if not one.at_home)
    assert anywhere.opening.cost == 1.0


def test_another_place_is_tried_where_the_first_failed_only() -> None:
    """What fails in the wagon, in which nothing is opened, is not helped by another hole in the loco."""
    train = _walled(open_ends=False)
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), {"w0": 1.3, "w1": 1.3})

    def then(vehicle: str) -> LeastOpening:
        failed: set[tuple[str, tuple[str, ...], tuple[str, ...]]] = set()
        proposed = openings(search, failed)
        failed.add(opened_so(next(proposed).opening, vehicle))
        return next(proposed).opening

    assert (then("loco").cost, {name for name, _ in then("loco").holes}) == (1.0, {"loco"})
    assert (then("wagon").cost, {name for name, _ in then("wagon").holes}) == (2.0, {"loco", "wagon"})


@pytest.mark.parametrize("seed", range(4))
def test_bricks_that_join_nothing_wait(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """What more is wanted beside some bricks changes no price, beside a search that is told nothing of it."""
    rng = random.Random(seed)
    train = _walled(
        wall=BodySolid(WALL, "removable", "wall"), wall_cost=rng.choice((0.5, 2.0)), open_ends=False
    )
    loco, wagon = train.vehicles
    boxes = [Box((64.0 + 8 * n, 8.0, 19.2), (72.0 + 8 * n, 16.0, 28.8)) for n in range(3)]
    spare = tuple(BodySolid(box, "removable", f"spare {n}") for n, box in enumerate(boxes))
    end = BodySolid(Box((0.0, 16.0, 28.8), (8.0, 24.0, 38.4)), "removable", "end")
    costs = [rng.choice((0.5, 1.0)) for _ in spare]
    bricks = tuple(Removable(solid.removable, cost) for solid, cost in zip(spare, costs, strict=True))
    body = (*wagon.vehicle.body, *spare)
    wagon = replace(
        wagon, vehicle=replace(wagon.vehicle, body=body, removables=(*wagon.vehicle.removables, *bricks))
    )
    out = replace(
        loco.vehicle, body=(*loco.vehicle.body, end), removables=(Removable("end", rng.choice((0.5, 2.0))),)
    )
    train = replace(train, vehicles=(replace(loco, vehicle=out), wagon))

    def first() -> tuple[float, int]:
        search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), {"w0": 1.3, "w1": 1.3})
        return next(search.likely_at_home.sets()).cost, len(search.likely_at_home._known)

    led, looked = first()
    monkeypatch.setattr(OpeningSearch, "_more", lambda *_: 0.0)
    plain, everywhere = first()
    assert led == plain
    assert looked <= everywhere


def test_what_is_known_of_a_vehicle_serves_as_long_as_its_body_stays() -> None:
    """A hole more in the wagon: its order of assembly is asked for anew, that of the loco is known."""
    train = _walled()
    built = _placed(train)
    before = PlanningRun.of(train, PlanOptions())
    for entry in train.vehicles:
        before.assembly(entry.name, [one for one in built.placements if one.vehicle == entry.name])
    hole = Hole("hole", "brick with a hole", Box((0.0, 18.4, 20.0), (8.0, 21.6, 23.2)), "x", "-x", 1, 1.0)
    opening = LeastOpening((("wagon", hole),), (), 1.0, 1.0, "")
    after = PlanningRun.of(opened_train(train, opening, told=False), PlanOptions())
    after.learn_from(before)
    assert after.orders("loco") == before.orders("loco") != {}
    assert after.orders("wagon") == {}


def test_what_was_to_be_opened_in_vain_is_laid_as_ever(monkeypatch: pytest.MonkeyPatch) -> None:
    """The search for likely openings is wrong, the wires do run: then the plan is what it would have been."""
    train = _walled(may_open=True)
    plan = plan_train(train)
    assert plan.complete
    monkeypatch.setattr(OpeningSearch, "refuted", True)
    monkeypatch.setattr(run, "first_opened", lambda search: frozenset({"wagon"}))
    assert plan_to_json(plan_train(train)) == plan_to_json(plan)


def test_vehicles_beyond_a_parted_net_are_not_blamed() -> None:
    """The net stops at a port of the wagon: its end in the loco is lost as well, but not by the loco."""
    train = _walled(open_ends=False)
    built = _placed(train)

    def lost(*found: tuple[str, str]) -> set[str]:
        harness = Harness(unreached=tuple(Unreached("w0", owner, pin, "no way") for owner, pin in found))
        return blamed_for(replace(built, harness=harness))

    assert lost(("wagon", "front hole"), ("one", "p0")) == {"wagon"}
    assert lost(("one", "p0"), ("two", "p0")) == {"loco"}
    assert lost(("two", "p0")) == {"wagon"}


def test_no_hole_is_opened_in_another() -> None:
    """Two studs of the wall beside the loco's hole have a part of it: none of them gets a hole of its own."""
    train = _walled()
    search = OpeningSearch(PlanningRun.of(train, PlanOptions()), _placed(train), {"w0": 1.3, "w1": 1.3})
    ports = {entry.name: entry.vehicle.ports for entry in train.vehicles}
    proposed = list(itertools.islice(openings(search, set()), 40))
    holes = [one for found in proposed for one in found.opening.holes]
    assert len(holes) > 8
    assert not [1 for name, hole in holes for port in ports[name] if hole.box.meets(port.box)]
