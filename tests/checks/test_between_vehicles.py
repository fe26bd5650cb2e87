"""Between vehicles and under parts: rooms, gaps, contacts, losses and what stands on additions, by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from fitplan.checks.beam import Sight, _most_first, _through_bars
from fitplan.checks.connector_bodies import gap_of
from fitplan.checks.curves import _least_gap, _longer
from fitplan.checks.heat import DEFAULTS, _regulators
from fitplan.checks.on_additions import PAST_MIDDLE, added_to_badly
from fitplan.checks.on_curve import stands
from fitplan.checks.outline import hull_gap
from fitplan.checks.toppling import foot_of
from fitplan.circuit.supply_tree import Link, Rail, RailLoad
from fitplan.model.found import Finding
from fitplan.model.operation import Track
from fitplan.model.placed import Fastening, Piece, Shelf
from fitplan.model.solids import PLACE_WORDS, Box
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BodySolid
from tests.checks.test_advice import stood
from tests.checks.test_support import FLOOR as DECK
from tests.checks.test_support import deck
from tests.circuit.sample_parts import LINEAR_5V, STEP_UP_5V, part, train, vehicle
from tests.circuit.test_power import tree_of

STRAIGHT = Track(0.0)


def pair(
    first: Any, second: Any, track: Track = STRAIGHT, turned: bool = False
) -> tuple[Train, TrainVehicle, TrainVehicle]:
    one, other = TrainVehicle("one", first), TrainVehicle("two", second, turned)
    return train([], [], [one, other], track=track), one, other


def test_the_room_between_two_bodies_is_that_of_the_smaller() -> None:
    """Both couplings' lengths, the narrower body, the lower one; over an open wagon up to its load."""
    small, large = vehicle(studs=(12, 4)), replace(vehicle(studs=(20, 8)), top=90.0)
    for first, second in ((small, large), (large, small)):
        made, one, other = pair(first, second)
        gap = gap_of(made, one, other)
        assert gap.long == one.coupling_length("behind") + other.coupling_length("ahead")
        assert gap.wide == small.width
        assert gap.high == small.top - small.base
        assert gap.pinch == 0.0
    loaded = replace(small, load_top=small.top + 20.0)
    made, one, other = pair(loaded, large)
    assert gap_of(made, one, other).high == small.top + 20.0 - small.base
    made, one, other = pair(small, large, Track(300.0))
    assert gap_of(made, one, other).pinch > 0.02


def box(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize("turned", [False, True])
def test_the_least_gap_is_that_of_all_tracks_and_heights(reverse: bool, turned: bool) -> None:
    """Beside both outlines laid on each track in turn; on straight track as long as the couplings are."""
    body = vehicle()
    made, one, other = pair(body, body, Track(250.0, reverse), turned)
    plain, bump = box(0, 0, body.length, body.width), box(-6, 0, body.length, 10)
    none = np.zeros((0, 2))
    slices = {"one": [plain, bump, plain, none], "two": [plain, plain, none, plain]}
    straight, _, _ = pair(body, body, Track(0.0, reverse), turned)
    joint = one.coupling_length("behind") + other.coupling_length("ahead")
    assert _least_gap(straight, one, other, slices) == (pytest.approx(joint - 6.0), "on straight track")
    expected = []
    for radius, over in [
        (250.0, False),
        (-250.0, False),
        *([(250.0, True), (-250.0, True)] if reverse else []),
    ]:
        where = stands(made, radius, "one", over)
        for n in (0, 1):
            mine, yours = (where[name].to_plan(slices[name][n]) for name in ("one", "two"))
            name = "in the reverse curve" if over else "in the curve"
            expected.append((hull_gap(mine, yours), name))
    assert _least_gap(made, one, other, slices) == pytest.approx(min(expected))
    assert len({round(gap, 3) for gap, _ in expected}) > 2
    empty = {"one": [none], "two": [plain]}
    assert math.isinf(_least_gap(made, one, other, empty)[0])


@pytest.mark.parametrize("wanted", [1.0, 7.3, 20.0, 45.0, 60.0])
def test_the_coupling_is_longer_by_just_what_is_wanted(wanted: float) -> None:
    """To half a millimetre, up to 40 mm; on straight track a millimetre of coupling is one of gap."""
    body = vehicle()
    made, one, other = pair(body, body)
    plain = box(0, 0, body.length, body.width)
    slices = {"one": [plain], "two": [plain]}
    joint = one.coupling_length("behind") + other.coupling_length("ahead")
    asked = joint + wanted
    longer = _longer(made, one, other, slices, asked)
    assert longer == (0.0 if wanted > 40 else math.ceil(wanted * 2) / 2)
    bare = replace(one, vehicle=replace(body, couplings=()))
    assert _longer(made, bare, other, slices, asked) == 0.0


def test_what_hides_most_is_told_first() -> None:
    assert sorted([("a", 1), ("b", 3), ("c", 2), ("d", 3)], key=_most_first) == [
        ("b", 3),
        ("d", 3),
        ("c", 2),
        ("a", 1),
    ]
    seen = Sight(0.2, 40.0, (("lamp", 0.15), ("wall", 0.05)))
    assert _through_bars(seen, 1.0) is seen
    barred = _through_bars(seen, 0.9)
    assert (barred.blocked, barred.nearest) == (pytest.approx(0.28), 40.0)
    assert barred.by == (("lamp", 0.15), ("bars", pytest.approx(0.08)), ("wall", 0.05))


@pytest.mark.parametrize(("wide", "touches"), [(0.9, False), (1.1, True)])
@pytest.mark.parametrize("along", [False, True])
def test_a_contact_narrower_than_a_millimetre_carries_nothing(
    wide: float, touches: bool, along: bool
) -> None:
    """However long it is: a rail under the edge of a part."""
    rail = (
        Box((20, 14, DECK), (40 + wide, 34, DECK + 4))
        if along
        else Box((40, 0, DECK), (60, 14 + wide, DECK + 4))
    )
    built, one = stood(at=(40.0, 14.0, DECK + 4))
    entry = built.train.vehicles[0]
    body = deck(BodySolid(rail, "fixed"))
    built = replace(built, train=replace(built.train, vehicles=(replace(entry, vehicle=body),)))
    foot = foot_of(built, one)
    size = (foot.high[0] - foot.low[0], foot.high[1] - foot.low[1])
    assert min(size) == pytest.approx(wide if touches else 20.0)


def losses(
    link: Link, inside: tuple[float, float], out: tuple[float, float]
) -> list[tuple[str, float, float]]:
    tree = tree_of(Rail("low", (), (link,)))
    flow: Any = SimpleNamespace(inputs={link.owner: inside}, outputs={link.owner: out})
    return [(one.what, one.power_w, one.theta) for one in _regulators(tree, flow)]


def test_a_regulator_gives_off_what_it_takes_less_what_it_gives() -> None:
    """A switching one by both its ends; a linear one its drop and what it draws; each counted once."""
    below = Rail("five", (RailLoad("brain", 100.0, 100.0),))
    up = Link("regulator", "lift", part("lift", STEP_UP_5V), below, STEP_UP_5V)
    ((what, power, theta),) = losses(up, (3.0, 200.0), (5.0, 100.0))
    assert (what, theta) == ("step-up regulator", 0.0)
    assert power == pytest.approx(3.0 * 0.2 - 5.0 * 0.1)
    spread = replace(STEP_UP_5V, theta_ja=80.0)
    assert losses(replace(up, regulator=spread), (3.0, 200.0), (5.0, 100.0))[0][2] == 80.0
    linear = replace(up, regulator=LINEAR_5V)
    ((what, power, theta),) = losses(linear, (9.0, 105.0), (5.0, 100.0))
    assert what == "linear regulator"
    assert power == pytest.approx((9.0 - 5.0) * 0.1 + 9.0 * LINEAR_5V.quiescent_ma / 1000)
    assert theta == LINEAR_5V.theta_ja
    bare = replace(LINEAR_5V, theta_ja=0.0)
    assert losses(replace(up, regulator=bare), (9.0, 105.0), (5.0, 100.0))[0][2] == DEFAULTS.case_theta


# -- what stands on additions ------------------------------------------------------------------------------

TAPE = Fastening("bank", "v", ("+x", "-y"), tape_mm=20.0)


def said(
    reach: float, *held: Fastening, heavy: bool = True, mass: float = 72.0, studs: int = 4
) -> list[Finding]:
    """A block of 20 mm on a plate that reaches so far past its middle."""
    plate = Piece("plate", Box((40, 14, DECK), (50 + reach, 34, DECK + 3.2)))
    built, one = stood(at=(40.0, 14.0, DECK + 3.2), shelf=Shelf("plates", (plate,), studs), mass=mass)
    return list(added_to_badly(built, one, held, heavy=heavy))


def test_a_part_that_little_carries_past_its_middle_is_told() -> None:
    """Where it is heavy, and no strap holds it."""
    for reach, is_told in ((0.0, True), (PAST_MIDDLE - 0.1, True), (PAST_MIDDLE, False), (6.0, False)):
        found = said(reach)
        assert [one.figure for one in found] == ([round(reach, 1)] if is_told else [])
        assert said(reach, heavy=False) == []
        assert said(reach, replace(TAPE, ways=("+z",), tape_mm=0.0)) == []
    (one,) = said(1.0)
    assert (one.severity, one.limit, one.unit) == ("caution", PAST_MIDDLE, "mm")
    assert "rests on the body, and on nothing more than 1.0 mm past its middle" in one.message
    assert one.add[0].name == "plates or a bracket"


def test_a_part_that_is_stuck_to_few_studs_is_told_with_the_push_that_they_bear() -> None:
    """Its middle is 13.2 mm above its foot: a stud of 1 N bears less than 150 g push at 1 g."""
    for studs, mass, is_told in ((1, 150.0, True), (4, 150.0, False), (1, 60.0, False)):
        found = [one for one in said(6.0, TAPE, mass=mass, studs=studs) if one.unit == "N"]
        assert bool(found) is is_told
    (one,) = (one for one in said(6.0, TAPE, mass=150.0, studs=1) if one.unit == "N")
    assert one.severity == "caution"
    assert one.figure < one.limit
    sides = f"{PLACE_WORDS['+x']}, {PLACE_WORDS['-y']}"
    assert f"is stuck to the body, with nothing close {sides}: in a tumble, at 1 g sideways, " in one.message
    (light,) = (one for one in said(6.0, TAPE, mass=150.0, studs=1, heavy=False) if one.unit == "N")
    assert (light.severity, light.add) == ("note", ())
    bricks = replace(TAPE, tape_mm=0.0)
    assert [one for one in said(6.0, bricks, mass=150.0, studs=1) if one.unit == "N"] == []
    no_way = replace(TAPE, ways=())
    assert [one for one in said(6.0, no_way, mass=150.0, studs=1) if one.unit == "N"] == []
