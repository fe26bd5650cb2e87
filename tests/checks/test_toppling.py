"""What topples off an open deck, against a slab that is turned over the edge of its foot step by step."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest

from fitplan.checks.support import SupportSettings, check_support
from fitplan.checks.toppling import topples
from fitplan.model.built import BuiltTrain
from fitplan.model.needed import Need
from fitplan.model.operation import Running
from fitplan.model.placed import Fastening, Piece, Placement, Shelf
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.vehicle import BodySolid
from fitplan.model.wired import Harness
from fitplan.planning.fastenings import with_fastenings
from fitplan.verify.fastenings import check_fastenings
from fitplan.verify.result import Tally
from fitplan.verify.scene import sites_of
from tests.checks.test_support import FLOOR, deck
from tests.packing.small_trains import block, train_of


def slab(
    wide: float, high: float, *more: BodySolid, mass: float = 72.0, deceleration: float = 600.0
) -> BuiltTrain:
    """A slab across the middle of an open deck, so wide along the train and so high."""
    part = block("bank", (wide, 20.0, high), mass_g=mass)
    train = train_of((deck(*more),), (Need("bank", (part,)),))
    train = replace(train, running=Running(200.0, deceleration=deceleration))
    place = Placement("bank", part, "v", Place(pose_named("+x+y+z"), (80 - wide / 2, 14, FLOOR)), "the body")
    return BuiltTrain(train, (place,), Harness(), ())


def turned_over(wide: float, high: float, gap: float, top: float) -> bool:
    """Turn a slab over the lower edge of its front, a tenth of a degree at a time, towards a brick.

    Return whether its middle comes over the edge before it meets the brick, which begins ``gap`` mm ahead of
    its front and is ``top`` mm high.
    """
    for step in range(900):
        tilt = math.radians(step / 10)
        # The middle lies behind the edge by half the width.
        if -wide / 2 * math.cos(tilt) + high / 2 * math.sin(tilt) >= 0:
            return True
        for share in range(101):  # points of its front
            z = high * share / 100
            if z * math.sin(tilt) >= gap and z * math.cos(tilt) <= top:
                return False
    return True


def test_a_slab_on_edge_topples_at_its_width_over_its_height() -> None:
    """At g·(b/2)/(h/2): 9.5 mm wide and 62 high at 0.153 g both ways along, 20 mm deep at 0.32 g not."""
    found = topples(slab(9.5, 62.0), slab(9.5, 62.0).placements[0])
    assert {one.way for one in found} == {"+x", "-x"}
    assert all(one.at_g == pytest.approx(9.5 / 62) for one in found)
    told = check_support(slab(9.5, 62.0), SupportSettings()).findings
    assert [one.severity for one in told if "topples" in one.message] == ["caution", "caution"]
    hard = check_support(slab(9.5, 62.0, deceleration=2000.0), SupportSettings()).findings
    assert [one.severity for one in hard if "topples" in one.message] == ["stop", "stop"]
    light = check_support(slab(9.5, 62.0, mass=6.0), SupportSettings()).findings
    assert [one.severity for one in light if "topples" in one.message] == ["note", "note"]
    assert topples(slab(20.0, 62.0), slab(20.0, 62.0).placements[0]) == ()


def test_curves_ask_for_more_the_faster_they_are_gone_through() -> None:
    """At 700 mm/s about 320 mm, half as fast again, 0.351 g across; 20 mm deep and 62 high bears 0.323."""
    made = slab(20.0, 62.0)
    for about, ways in ((700.0, {"+y", "-y"}), (400.0, set())):
        running = Running(700.0, speed_in_curves=about)
        train = replace(made.train, running=running, track=replace(made.train.track, radius=320.0))
        found = topples(replace(made, train=train), made.placements[0])
        assert {one.way for one in found} == ways
        assert all(
            one.at_g < one.running_g == pytest.approx(1050.0**2 / 320 / 9806.65) == one.jolt_g
            for one in found
        )


@pytest.mark.parametrize(("plate", "ways"), [((72.0, 88.0), {"+x", "-x"}), ((64.0, 96.0), set())])
def test_a_load_on_plates_stands_on_these(plate: tuple[float, float], ways: set[str]) -> None:
    """A block of 40 × 60 mm on plates 16 mm wide topples at 8/30 g, on plates 32 mm wide at 16/30 g."""
    made = slab(40.0, 60.0)
    (place,) = made.placements
    under = Box((plate[0], 8.0, FLOOR), (plate[1], 40.0, FLOOR + 3.2))
    shelf = Shelf("plates", (Piece("plate 2 × 4", under),), 8)
    raised = replace(
        place,
        place=Place(place.place.pose, (60.0, 14.0, FLOOR + 3.2)),
        shelf=shelf,
        carried_by="plates under it",
    )
    found = topples(replace(made, placements=(raised,)), raised)
    assert {one.way for one in found} == ways
    assert all(one.at_g == pytest.approx(8 / 30) for one in found)


def test_a_brick_ahead_holds_a_slab_where_turning_it_says_so() -> None:
    """Forty bricks ahead of slabs of all widths: held where the slab meets it before it is over."""
    pick, seen = random.Random(7), set()
    for _ in range(40):
        wide, high = pick.uniform(6.0, 14.0), pick.uniform(50.0, 70.0)
        gap, top = pick.uniform(0.5, 7.5), pick.uniform(6.0, 60.0)
        free = turned_over(wide, high, gap, top)
        if turned_over(wide, high, gap + 0.8, top) != turned_over(wide, high, gap - 0.4, top + 8.0):
            continue  # at the edge the grid of rays decides
        front = 80 + wide / 2 + gap
        brick = BodySolid(Box((front, 14, FLOOR), (front + 8, 34, FLOOR + top)), "fixed")
        built = slab(wide, high, brick)
        ways = {one.way for one in topples(built, built.placements[0])}
        assert ("+x" in ways) is free, (wide, high, gap, top)
        assert "-x" in ways
        seen.add(free)
    assert seen == {True, False}


def test_tape_or_a_strap_holds_it_and_verify_misses_neither() -> None:
    """Tape doubles what it bears; without tape and without a finding the plan does not hold."""
    bare = slab(9.5, 62.0)
    held = with_fastenings(bare)
    assert any(one.tape_mm for one in held.fastenings)
    assert topples(held, held.placements[0]) == ()
    thin = with_fastenings(slab(5.0, 62.0))
    assert {one.way for one in topples(thin, thin.placements[0])} == {"+x", "-x"}
    for built, problems in ((bare, 2), (held, 0), (thin, 2)):
        sheet = Tally()
        check_fastenings(built, sites_of(built), (), sheet)
        said = [one.message for one in sheet.report().problems if "topples" in one.message]
        assert len(said) == problems
        sheet = Tally()
        findings = check_support(built, SupportSettings()).findings
        check_fastenings(built, sites_of(built), findings, sheet)
        assert not [one for one in sheet.report().problems if "topples" in one.message]
    strap = Fastening("bank", "v", ("+x", "-x", "+z"))
    assert topples(replace(bare, fastenings=(strap,)), bare.placements[0]) == ()
