"""Lifting out with the wires on: closed forms, a wall in the way, and the length that is asked for."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest

from fitplan.checks.access import check_access
from fitplan.checks.lift_out import short_wires
from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Exchange
from fitplan.model.placed import Placement
from fitplan.model.solids import Place, Vec, pose_named
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid
from fitplan.model.ways_in import Exchanged, WayOut
from fitplan.model.wired import Harness, Leg, Wire, WireEnd
from fitplan.planning.lifting_loops import MOST_LOOP_MM, with_lifting_loops
from tests.circuit.sample_parts import box, need, part, train, vehicle

PIN: Vec = (60.0, 24.0, 30.0)
UP = (("+z", 60.0),)


def lifted(
    cut: float,
    *way: Vec,
    moves: tuple[tuple[str, float], ...] = UP,
    body: tuple[BodySolid, ...] = (),
    allowances: tuple[tuple[str, float], ...] = (),
    other: str = "S1",
) -> BuiltTrain:
    """A board in an open tray that comes out upwards, with one wire from its pin along a way."""
    points = (PIN, *way)
    bare = sum(math.dist(one, two) for one, two in pairwise(points))
    pin = WireEnd("pin", "brain", "GND", "v", PIN, 0.0)
    far = WireEnd("splice" if other == "S1" else "pin", other, "", "v", points[-1], 0.0)
    wire = Wire(
        1, "ground", "ground", "BK", 28, 1.0, pin, far, (Leg("v", points),), bare, allowances, cut, 1.0, 0.0
    )
    board = Placement(
        "brain", part("brain", size=(20, 10, 5)), "v", Place(pose_named("+x+y+z"), (50.0, 20.0, 26.0)), "body"
    )
    shape = vehicle(studs=(22, 6), body=(*vehicle().body, *body))
    wanted = replace(need("brain", board.part), exchange=Exchange())
    made = train([wanted], [], [TrainVehicle("v", shape)])
    last = WayOut(("brain",), "the open top", moves)  # type: ignore[arg-type]
    entry = Exchanged("brain", "v", "USB socket", False, True, False, (), (), last)
    return BuiltTrain(made, (board,), Harness(wires=(wire,)), (), exchanged=(entry,))


def missing(built: BuiltTrain) -> float:
    found = short_wires(built, built.exchanged[0])
    return found[0].missing if found else 0.0


@pytest.mark.parametrize(
    ("aside", "high"), [(20.0, 0.0), (40.0, 0.0), (80.0, 0.0), (40.0, 6.0), (40.0, 20.0)]
)
def test_a_straight_wire_becomes_the_hypotenuse(aside: float, high: float) -> None:
    """A wire to a joint d aside and h above the pin needs √(d² + (60 − h)²) once the part is 60 mm up."""
    whole = math.hypot(aside, 60.0 - high)
    end: Vec = (60.0 + aside, 24.0, 30.0 + high)
    assert missing(lifted(whole + 0.1, end)) == 0.0
    assert missing(lifted(whole - 7.0, end)) == pytest.approx(7.0, abs=0.1)


def test_what_lies_in_joints_does_not_count() -> None:
    """Stripped ends, splices and what lies over couplings cannot follow the part."""
    whole, end = math.hypot(40.0, 60.0), (100.0, 24.0, 30.0)
    held = (("stripping", 4.0), ("splice overlap", 8.0), ("service loop", 25.0))
    assert missing(lifted(whole + 5.0, end, allowances=held)) == pytest.approx(7.0, abs=0.1)


@pytest.mark.parametrize(
    "what", ["curves at couplings", "slack at couplings", "pair drawn in at couplings", "stripping"]
)
def test_what_lies_between_vehicles_does_not_count(what: str) -> None:
    """What a wire is cut longer for over a coupling stays there, by whatever name the harness tells it."""
    whole, end = math.hypot(40.0, 60.0), (100.0, 24.0, 30.0)
    assert missing(lifted(whole + 5.0, end, allowances=((what, 9.0),))) == pytest.approx(4.0, abs=0.1)
    assert missing(lifted(whole + 5.0, end, allowances=(("not taut", 9.0),))) == 0.0


def test_round_a_wall_the_wire_bends_at_the_top_of_its_way() -> None:
    """Behind a wall up to z = 62 the wire is no shorter than taut about its edge, nor longer than its way."""
    wall = BodySolid(box(80, 8, 19.2, 84, 40, 62), "fixed")
    top: Vec = (82.0, 24.0, 66.0)
    end: Vec = (110.0, 24.0, 25.0)
    built = lifted(10.0, (70.0, 24.0, 45.0), top, end, body=(wall,))
    # Taut about the wall's farther upper edge: never shorter than that, nor longer than over the way's top.
    least = math.dist((110, 25), (84, 62)) + math.dist((84, 62), (60, 90))
    most = math.dist(end, top) + math.dist(top, (60, 24, 90))
    assert least <= missing(built) + 10.0 <= most + 0.1
    open_way = lifted(10.0, (70.0, 24.0, 45.0), top, end)
    assert missing(open_way) + 10.0 == pytest.approx(math.dist(end, (60, 24, 90)), abs=0.5)


@pytest.mark.parametrize("gone", [False, True])
def test_a_part_that_stays_is_a_wall_too(gone: bool) -> None:
    """A block up to z = 82 between: the wire goes over it, unless it has come out before."""
    top: Vec = (82.0, 24.0, 86.0)
    end: Vec = (110.0, 24.0, 25.0)
    built = lifted(10.0, (70.0, 24.0, 45.0), top, end)
    tall = part("tall", size=(4.0, 32.0, 62.8))
    block = Placement("tall", tall, "v", Place(pose_named("+x+y+z"), (80.0, 8.0, 19.2)), "body")
    made = replace(built.train, needs=(*built.train.needs, need("tall", tall)))
    (entry,) = built.exchanged
    first = (WayOut(("tall",), "the open top", (("+z", 80.0),)),) if gone else ()
    entry = replace(entry, first=first)  # type: ignore[arg-type]
    there = replace(built, train=made, placements=(*built.placements, block), exchanged=(entry,))
    straight = math.dist(end, (60, 24, 90))
    if gone:
        assert missing(there) + 10.0 == pytest.approx(straight, abs=0.5)
    else:
        least = math.dist((110, 25), (84, 82)) + math.dist((84, 82), (60, 90))
        assert straight + 5.0 < least <= missing(there) + 10.0


def test_wires_between_all_of_a_group_are_free_and_those_of_each_count() -> None:
    """Two parts leave as one: a wire between them follows, one from the second to what stays does not."""
    end: Vec = (100.0, 24.0, 30.0)
    alone = lifted(50.0, end)
    (entry,), (wire,) = alone.exchanged, alone.harness.wires
    cap = part("cap", size=(10, 10, 5))
    on_top = Placement("cap", cap, "v", Place(pose_named("+x+y+z"), (50.0, 20.0, 40.0)), "brain")
    made = replace(alone.train, needs=(*alone.train.needs, need("cap", cap)))
    group = replace(entry, last=WayOut(("brain", "cap"), "the open top", UP))  # type: ignore[arg-type]

    def held(start: str, far: str) -> float:
        ends = replace(wire.start, owner=start), replace(wire.end, kind="pin", owner=far)
        one = replace(wire, start=ends[0], end=ends[1])
        harness = replace(alone.harness, wires=(one,))
        both = (*alone.placements, on_top)
        return missing(replace(alone, train=made, placements=both, exchanged=(group,), harness=harness))

    lacks = math.hypot(40.0, 60.0) - 50.0
    assert held("brain", "cap") == held("cap", "brain") == 0.0
    assert held("brain", "lamp") == held("cap", "lamp") == pytest.approx(lacks, abs=0.1)


def test_a_wire_without_a_way_in_the_vehicle_keeps_no_other_from_being_asked() -> None:
    """One whose leg is a single point, one of another part, one of another vehicle; then one that holds."""
    built = lifted(10.0, (110.0, 24.0, 30.0))
    (held,) = built.harness.wires
    before = (
        replace(held, number=7, legs=(Leg("v", (PIN,)),)),
        replace(held, number=8, start=replace(held.start, owner="other")),
        replace(
            held, number=9, start=replace(held.start, vehicle="w"), legs=(Leg("w", held.legs[0].points),)
        ),
    )
    both = replace(built, harness=Harness(wires=(*before, held)))
    assert [one.wire.number for one in short_wires(both, both.exchanged[0])] == [1]
    assert missing(both) == missing(built) > 0


def test_every_move_counts() -> None:
    """A part that first moves away from its joint and comes back needs most in between."""
    end: Vec = (100.0, 24.0, 30.0)
    there = lifted(50.0, end, moves=(("-x", 30.0), ("+z", 60.0), ("+x", 30.0)))
    assert missing(there) == pytest.approx(math.hypot(70.0, 60.0) - 50.0, abs=0.1)


def test_a_wire_between_parts_that_leave_together_is_free() -> None:
    """Where both ends move, nothing holds the wire."""
    assert missing(lifted(1.0, (55.0, 24.0, 30.0), other="brain")) == 0.0


def test_the_finding_names_wire_and_length_and_the_loop_mends_it() -> None:
    """The finding names the wire; with the longer loop that it asks for nothing is short."""
    end: Vec = (100.0, 24.0, 30.0)
    built = lifted(60.0, end)
    (finding,) = (f for f in check_access(built).findings if "too short" in f.message)
    assert "wire 1 (ground) by 12 mm" in finding.message
    loop = float(finding.remedy.split("to ")[1].split(" mm")[0])
    longer = lifted(60.0 + loop - 25.0, end)
    assert not any("too short" in f.message for f in check_access(longer).findings)
    (caution,) = (f for f in check_access(longer).findings if f.severity == "caution")
    assert "long enough" in caution.remedy


@pytest.mark.parametrize(("lacks", "kept"), [(7.0, False), (MOST_LOOP_MM, False), (MOST_LOOP_MM + 1, True)])
def test_what_lacks_is_cut_longer(lacks: float, kept: bool) -> None:
    """A loop that finds room is added, and then nothing lacks; a longer one is told and not added."""
    whole, end = math.hypot(40.0, 100.0), (100.0, 24.0, 30.0)
    cut = whole - lacks
    short = lifted(cut, end, moves=(("+z", 100.0),), allowances=(("not taut", cut - 40.0),))
    made = with_lifting_loops(short)
    (before,), (after,) = short.harness.wires, made.harness.wires
    assert (after == before) == kept
    assert (missing(made) > 0) == kept
    if not kept:
        assert before.cut_mm + lacks <= after.cut_mm <= before.cut_mm + lacks + 5.01
        assert dict(after.allowances)["service loop"] == pytest.approx(lacks, abs=0.2)
