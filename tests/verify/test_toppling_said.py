"""What topples off an open deck and has no finding, against the closed form of a slab on its edge.

A slab turns over an edge of its foot once it is pushed at g · (middle to edge) / (height of the middle), the
moments of its weight and of the push about that edge being equal (statics of rigid bodies).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.part import Mount, Part
from fitplan.model.placed import Fastening, Piece, Placement, Shelf
from fitplan.model.solids import Box, Place, Vec, pose_named
from fitplan.model.vehicle import BodySolid
from fitplan.model.wired import Harness
from fitplan.verify.result import Problem
from fitplan.verify.scene import sites_of
from fitplan.verify.toppling import check_toppling
from tests.checks.test_support import FLOOR, deck
from tests.packing.small_trains import hollow, train_of

from .lies import problems

MIDDLE = (80.0, 24.0)
JOLT_G = 0.285
"""Told from here on: 0.3 g, and 5 % for what two ways of reckoning differ by."""
ALL = {"+x", "-x", "+y", "-y"}


def bank(*solids: Box, mass: float = 72.0, **mount: Any) -> Part:
    return Part("bank", "bank", "part", solids, mass, "invented for a test", mount=Mount(**mount))


def stood(
    part: Part,
    *body: BodySolid,
    at: Vec,
    others: tuple[tuple[Part, Vec], ...] = (),
    fastenings: tuple[Fastening, ...] = (),
    **placed: Any,
) -> BuiltTrain:
    """A part on an open deck, and more beside it."""
    pose = pose_named("+x+y+z")
    one = replace(Placement("bank", part, "v", Place(pose, at), "the body"), **placed)
    more = tuple(Placement(f"more {n}", p, "v", Place(pose, spot), "") for n, (p, spot) in enumerate(others))
    needs = (Need("bank", (part,)), *(Need(p.need, (p.part,)) for p in more))
    train = train_of((deck(*body),), needs)
    return BuiltTrain(train, (one, *more), Harness(), (), fastenings=fastenings)


def slab(
    wide: float, deep: float, high: float, *body: BodySolid, mass: float = 72.0, **more: Any
) -> BuiltTrain:
    """A slab in the middle of the deck."""
    x, y = MIDDLE
    at = (x - wide / 2, y - deep / 2, more.pop("z", FLOOR))
    return stood(bank(Box((0, 0, 0), (wide, deep, high)), mass=mass), *body, at=at, **more)


def told(built: BuiltTrain, *findings: str) -> dict[str, Problem]:
    """What is wrong, by the way that it topples."""
    sites = sites_of(built)
    found = [one for one in problems(check_toppling, built, sites, set(findings)) if "bank" in one.message]
    return {one.message.split("towards ")[1][:2]: one for one in found}


@pytest.mark.parametrize(("wide", "deep", "high"), [(9.5, 30, 62), (30, 12, 62), (12, 12, 60), (30, 30, 60)])
def test_a_slab_topples_at_its_width_over_its_height(wide: float, deep: float, high: float) -> None:
    found = told(slab(wide, deep, high))
    at = {"x": wide / high, "y": deep / high}
    assert set(found) == {way for way in ALL if at[way[1]] < JOLT_G}
    for way, one in found.items():
        assert one.figure == pytest.approx(at[way[1]], abs=1e-4)
        assert (one.subject, one.where, one.unit) == ("fastening", "v", "g")
        assert one.message == f"bank topples towards {way} at {at[way[1]]:.2f} g, and nothing says so"


def test_each_vehicle_and_each_part_is_looked_at() -> None:
    """Behind a closed vehicle, and behind a light part on the same deck."""
    light, heavy = (bank(Box((0, 0, 0), (9.5, 30, 62)), mass=mass) for mass in (0.1, 72.0))
    one = stood(light, at=(20.0, 9.0, FLOOR), others=((heavy, (75.0, 9.0, FLOOR)),))
    shut = train_of((hollow("shut", 8, 6, 6), deck()), ()).vehicles
    for vehicles in (shut, shut[1:], shut[::-1]):
        built = replace(one, train=replace(one.train, vehicles=vehicles))
        found = problems(check_toppling, built, sites_of(built), set())
        assert [p.message.partition(" at ")[0] for p in found] == [
            f"more 0 topples towards {way}" for way in ("+x", "-x")
        ]


@pytest.mark.parametrize(("wide", "ways"), [(JOLT_G * 60 - 0.01, {"+x", "-x"}), (JOLT_G * 60 + 0.01, set())])
def test_it_is_told_up_to_a_jolt(wide: float, ways: set[str]) -> None:
    assert set(told(slab(wide, 30, 60))) == ways


def test_a_middle_off_the_foot_leans_one_way() -> None:
    """A foot 20 × 30 × 10 and a mast 4 mm thick, 100 high, over its front edge: a third and two of volume."""
    front, back = (Box((x, 0, 10), (x + 4, 30, 110)) for x in (16, 0))
    foot = Box((0, 0, 0), (20, 30, 10))
    middle, high = (10 + 2 * 18) / 3, (5 + 2 * 60) / 3
    found = told(stood(bank(foot, front), at=(70, 9, FLOOR)))
    assert set(found) == {"+x"}
    assert found["+x"].figure == pytest.approx((20 - middle) / high, abs=1e-4)
    assert set(told(stood(bank(foot, back), at=(70, 9, FLOOR)))) == {"-x"}
    over = bank(Box((0, 0, 0), (4, 30, 10)), Box((4, 0, 10), (30, 30, 50)))
    assert told(stood(over, at=(70, 9, FLOOR)))["+x"].figure == 0.0


def test_a_foot_reaches_as_far_as_between_two_studs() -> None:
    """On a plate 8 mm wide a slab of 30 mm stands 8.2 mm from its edge, one of 10 mm 5 mm: it ends there."""
    plate = BodySolid(Box((76, 0, FLOOR), (84, 48, FLOOR + 9.6)), "fixed")
    for wide, reach in ((30.0, 8.2), (10.0, 5.0)):
        found = told(slab(wide, 30, 80, plate, z=FLOOR + 9.6))
        assert set(found) == {"+x", "-x"}
        assert [one.figure for one in found.values()] == pytest.approx([reach / 40] * 2, abs=1e-4)
    side = BodySolid(Box((74, 0, FLOOR), (82, 48, FLOOR + 9.6)), "fixed")
    found = told(slab(30, 30, 80, side, z=FLOOR + 9.6))
    assert (found["+x"].figure, found["-x"].figure) == pytest.approx((6.2 / 40, 10.2 / 40), abs=1e-4)


def test_what_rests_on_nothing_topples_every_way() -> None:
    found = told(slab(30, 30, 20, z=FLOOR + 5))
    assert {way: one.figure for way, one in found.items()} == dict.fromkeys(ALL, 0.0)


def test_tape_holds_twice_as_much() -> None:
    """Half as much again as told without it: 8 mm over 60 is 0.27 g with tape, 9 mm 0.3."""
    tape = (Fastening("bank", "v", (), tape_mm=20.0),)
    for wide, ways in ((8.0, {"+x", "-x"}), (9.0, set())):
        found = told(slab(wide, 30, 60, fastenings=tape))
        assert set(found) == ways
        assert all(one.figure == pytest.approx(2 * wide / 60, abs=1e-4) for one in found.values())
    another = (Fastening("more", "v", (), tape_mm=20.0),)
    assert told(slab(9, 30, 60, fastenings=another))["+x"].figure == pytest.approx(9 / 60, abs=1e-4)


LOOSE = slab(9.5, 30, 62)


@pytest.mark.parametrize(
    ("made", "findings", "ways"),
    [
        (LOOSE, (), {"+x", "-x"}),
        (LOOSE, ("bank in v",), set()),
        (LOOSE, ("bank in w", "more in v"), {"+x", "-x"}),
        (slab(9.5, 30, 62, mass=20.0), (), set()),
        (slab(9.5, 30, 62, mass=20.1), (), {"+x", "-x"}),
        (slab(9.5, 30, 62, steady=False), (), set()),
        (slab(9.5, 30, 62, shelf=Shelf("clip", (), 0, True)), (), set()),
        (slab(9.5, 30, 62, shelf=Shelf("hanger", (), 0, True)), (), set()),
        (slab(9.5, 30, 62, shelf=Shelf("plates", (), 0, True)), (), {"+x", "-x"}),
        (slab(9.5, 30, 62, fastenings=(Fastening("bank", "v", ("+x", "-x", "+z")),)), (), set()),
        (slab(9.5, 30, 62, fastenings=(Fastening("bank", "v", ("+x", "-x")),)), (), {"+x", "-x"}),
        (slab(9.5, 30, 62, fastenings=(Fastening("more", "v", ("+z",)),)), (), {"+x", "-x"}),
    ],
)
def test_what_is_looked_at(made: BuiltTrain, findings: tuple[str, ...], ways: set[str]) -> None:
    assert set(told(made, *findings)) == ways


def test_parts_of_other_mounts_and_other_vehicles_are_not() -> None:
    """What a face or a window holds, what needs no support, and what stands inside a body."""
    train = LOOSE.train
    held = replace(train, needs=(replace(train.needs[0], sits=("v", "motor", "top")),))
    assert not told(replace(LOOSE, train=held))
    free = bank(Box((0, 0, 0), (9.5, 30, 62)), needs_support=False)
    assert not told(stood(free, at=(75, 9, FLOOR)))
    entry = train.vehicles[0]
    inside = replace(train, vehicles=(replace(entry, vehicle=replace(entry.vehicle, load_top=0.0)),))
    assert not told(replace(LOOSE, train=inside))
    assert set(told(LOOSE)) == {"+x", "-x"}


def solid(low: Vec, high: Vec) -> BodySolid:
    return BodySolid(Box(low, high), "fixed")


NEAR: dict[str, tuple[Vec, Vec]] = {
    "+x": ((84, 20, FLOOR + 2), (86, 22, FLOOR + 4)),
    "-x": ((74, 20, FLOOR + 2), (76, 22, FLOOR + 4)),
    "+y": ((79, 28, FLOOR + 2), (81, 30, FLOOR + 4)),
    "-y": ((79, 18, FLOOR + 2), (81, 20, FLOOR + 4)),
}
"""Small things beside a slab 8 × 8 mm, each on one side of it."""


@pytest.mark.parametrize("way", sorted(ALL))
def test_what_stands_within_a_stud_holds_that_way_alone(way: str) -> None:
    """Bricks of the body, another part, a brick that fastens it: within 8 mm, and not beyond."""
    low, high = NEAR[way]
    axis, sign = "xy".index(way[1]), 1 if way[0] == "+" else -1
    box = Box(low, high)

    def further(by: float) -> tuple[Vec, Vec]:
        one, other = list(low), list(high)
        one[axis] += sign * by
        other[axis] += sign * by
        return (one[0], one[1], one[2]), (other[0], other[1], other[2])

    assert set(told(slab(8, 8, 60))) == ALL
    assert set(told(slab(8, 8, 60, solid(low, high)))) == ALL - {way}
    assert set(told(slab(8, 8, 60, BodySolid(box, "removable", "brick")))) == ALL - {way}
    assert set(told(slab(8, 8, 60, BodySolid(box, "free")))) == ALL
    size: Vec = tuple(b - a for a, b in zip(low, high, strict=True))  # type: ignore[assignment]
    small = bank(Box((0, 0, 0), size), mass=1.0)
    assert set(told(slab(8, 8, 60, others=((small, low),)))) == ALL - {way}
    stop = Fastening("bank", "v", (), (Piece("brick 1 × 1", box),))
    assert set(told(slab(8, 8, 60, fastenings=(stop,)))) == ALL - {way}
    assert set(told(slab(8, 8, 60, solid(*further(7.9))))) == ALL - {way}
    assert set(told(slab(8, 8, 60, solid(*further(8.1))))) == ALL
    # Above its top and beside its corner nothing holds it.
    assert (
        set(told(slab(8, 8, 60, solid((low[0], low[1], FLOOR + 60), (high[0], high[1], FLOOR + 62))))) == ALL
    )
