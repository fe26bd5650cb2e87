"""What would tip, and what would slide off an open deck."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from fitplan.checks.support import SupportSettings, check_support, unsupported
from fitplan.files.load_room import open_for_loads
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import CellPack
from fitplan.model.facts import mass_of
from fitplan.model.found import Finding
from fitplan.model.needed import Need
from fitplan.model.part import Access, Mount
from fitplan.model.placed import ITS_MOUNT, NOTHING, STUCK_SO, STUCK_TO, Placement
from fitplan.model.solids import Box, Place, Vec, pose_named
from fitplan.model.vehicle import BodySolid, Vehicle
from fitplan.model.wired import Harness
from fitplan.planning.costs import mass_off_balance
from fitplan.planning.fastenings import with_fastenings
from fitplan.report.lists.build_sequence import _Wording
from tests.packing.small_trains import block, hollow, train_of

FLOOR = 19.2


def deck(*more: BodySolid) -> Vehicle:
    bare = hollow("v", 20, 6, 6)
    body = (
        BodySolid(Box((0, 0, 16), (160, 48, FLOOR)), "fixed"),
        BodySolid(Box((0, 0, FLOOR), (160, 48, FLOOR + 3.2)), "free"),
        *more,
    )
    return open_for_loads(replace(bare, top=FLOOR + 3.2, body=body, openings=(), ports=()))


def findings(vehicle: Vehicle, mass: float, *, steady: bool = True) -> tuple[Finding, ...]:
    part = block("bank", (60.0, 20.0, 20.0), mass_g=mass)
    train = train_of((vehicle,), (Need("bank", (part,)),))
    place = Placement(
        "bank", part, "v", Place(pose_named("+x+y+z"), (40, 14, FLOOR)), "the body", None, steady
    )
    return check_support(BuiltTrain(train, (place,), Harness(), ()), SupportSettings()).findings


def test_a_load_on_a_flat_deck_slides_all_four_ways() -> None:
    told = [one.message.split(":")[0].split("slide ")[1] for one in findings(deck(), 72.0)]
    assert told == ["forwards", "backwards", "to the left", "to the right"]
    assert {one.severity for one in findings(deck(), 72.0)} == {"caution"}
    assert {one.severity for one in findings(deck(), 5.0)} == {"note"}


def test_bricks_close_by_hold_it() -> None:
    """A brick 6 mm ahead holds it that way; one 10 mm ahead does not."""
    for gap, ways in ((6.0, 3), (10.0, 4)):
        stop = BodySolid(Box((100 + gap, 14, FLOOR), (112 + gap, 30, FLOOR + 3.2)), "fixed")
        assert len(findings(deck(stop), 72.0)) == ways


def test_nothing_is_said_of_a_closed_body() -> None:
    assert findings(hollow("v", 20, 6, 12), 72.0) == ()


@pytest.mark.parametrize(("mass", "severity"), [(72.0, "stop"), (6.0, "caution")])
def test_what_would_tip_is_told_by_its_mass(mass: float, severity: str) -> None:
    (one,) = findings(hollow("v", 20, 6, 12), mass, steady=False)
    assert (one.severity, one.figure) == (severity, mass)
    assert "on one side only" in one.message


def test_what_has_nothing_under_it_is_a_stop_however_light() -> None:
    """Tape holds six grams that lie on something; with nothing below there is nothing to stick it to."""
    part = block("lift", (20.0, 12.0, 5.0), mass_g=6.0)
    train = train_of((hollow("v", 20, 6, 12),), (Need("lift", (part,)),))
    place = Placement("lift", part, "v", Place(pose_named("+x+y+z"), (40, 14, 30.0)), NOTHING, None, False)
    made = BuiltTrain(train, (place,), Harness(), ())
    assert [one.severity for one in check_support(made, SupportSettings()).findings] == ["stop"]
    assert unsupported(made) == (place,)
    assert not with_fastenings(made).fastenings
    lying = replace(made, placements=(replace(place, carried_by="the body"),))
    assert unsupported(lying) == ()
    (tape,) = with_fastenings(lying).fastenings
    assert tape.tape_mm > 0


def test_cells_count_in_the_mass_off_balance() -> None:
    """A holder of 10 g with four cells of 23 g, 10 mm beside the middle, on a gauge of 38 mm: 102·10/19 g."""
    pack = CellPack("alkaline", "LR6", 4, 2200, 0.15, 1000, False, 23.0)
    holder = replace(block("cells", (60.0, 20.0, 20.0), mass_g=10.0), electrical=(pack,))
    assert mass_of(holder) == 102.0
    train = train_of((hollow("v", 20, 6, 12),), (Need("cells", (holder,)),))
    place = Placement("cells", holder, "v", Place(pose_named("+x+y+z"), (40, 24, FLOOR)), "the body")
    assert mass_off_balance(train, [place]) == pytest.approx(102.0 * 10.0 / (train.track.gauge / 2))


@pytest.mark.parametrize(("gap", "severity"), [(0.9, ""), (2.1, "note"), (6.0, "caution")])
def test_what_is_pressed_and_touches_nothing_is_told(gap: float, severity: str) -> None:
    """A switch so far from the wall: stuck as it is, with foam between, or on plates of its own."""
    lever = Access("lever", "switch", "+z", often=True)
    part = replace(
        block("switch", (12.0, 6.0, 7.0), mount=Mount(needs_support=False)), access=(lever,), mass_g=1.6
    )
    vehicle = hollow("v", 20, 6, 12)
    at = (60.0, 48.0 - 8.0 - 6.0 - gap, 36.0)
    place = Placement("switch", part, "v", Place(pose_named("+x+y+z"), at), ITS_MOUNT)
    made = BuiltTrain(train_of((vehicle,), (Need("switch", (part,)),)), (place,), Harness(), ())
    told = [
        one for one in check_support(made, SupportSettings()).findings if "touches nothing" in one.message
    ]
    assert [one.severity for one in told] == ([severity] if severity else [])
    assert all(one.figure == gap and "at the left" in one.message for one in told)
    stuck = [one for one in check_support(made, SupportSettings()).findings if STUCK_TO in one.message]
    assert [(one.severity, one.message) for one in stuck] == (
        [] if severity else [("note", f"switch{STUCK_TO}the body at the left{STUCK_SO}")]
    )
    standing = replace(made, placements=(replace(place, carried_by="the body"),))
    assert not check_support(standing, SupportSettings()).findings


@pytest.mark.parametrize(
    ("low", "side"),
    [
        ((60.0, 8.0, 36.0), "at the right"),
        ((140.0, 8.5, 36.0), "at the front"),  # 0.5 mm off the wall at its right
        ((60.0, 20.0, -7.0), "on top"),
        ((60.0, 8.5, -7.0), "at the right"),  # rather than under the roof
        ((8.0, 20.0, FLOOR + 0.4), "underneath"),  # rather than to the wall behind it
    ],
)
def test_where_a_part_is_stuck_is_told_and_said_in_its_step(low: Vec, side: str) -> None:
    """To what it touches: the floor before a wall, a wall before the roof (``low`` may count from there)."""
    wagon = hollow("v", 20, 6, 12)
    part = block("reed", (12.0, 6.0, 7.0), mount=Mount(needs_support=False))
    at = (low[0], low[1], low[2] if low[2] > 0 else wagon.top - 3.2 + low[2])
    place = Placement("reed", part, "v", Place(pose_named("+x+y+z"), at), ITS_MOUNT)
    built = BuiltTrain(train_of((wagon,), (Need("reed", (part,)),)), (place,), Harness(), ())
    findings = check_support(built, SupportSettings()).findings
    (found,) = [one for one in findings if STUCK_TO in one.message]
    assert found.message == f"reed{STUCK_TO}the body {side}{STUCK_SO}"
    words: Any = SimpleNamespace(plan=SimpleNamespace(findings=findings))
    assert _Wording._stuck_to(words, "reed") == f"the body {side}"
    assert _Wording._stuck_to(words, "other") == ""
