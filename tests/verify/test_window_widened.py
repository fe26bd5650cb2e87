"""A proposal to widen the wagon's window for its eye: it holds, and one lie at a time is told.

The eye looks out 5 mm behind the outside of the wall; its beam is its lens of 4 × 4 mm, wider by
w = 5 · tan of its half angle all round: a square with round corners, 4 · 4 + 4 · 4 · w + π w² large.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from fitplan.model.electrical import Ranger
from fitplan.model.part import Mount, Part
from fitplan.model.plan import Plan
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.vehicle import BodySolid
from fitplan.model.wider_window import WiderWindow
from fitplan.verify.scene import sites_of
from fitplan.verify.wider_windows import check_wider_windows

from .lies import built_with, needs_with, problems, train_with
from .two_vehicles import EYE, FLOOR, plan

DEG = 20.0
W = 5 * math.tan(math.radians(DEG))
BEAM = 16 + 16 * W + math.pi * W**2
SEES = replace(EYE, electrical=(Ranger("sound", DEG, 20.0, 400.0, 50.0),))
OUT = Box((0, 32, 32), (8, 40, 44.8))
WHERE = "lamp hole of wagon: "


def beyond(cut: float) -> float:
    """Return the share of the beam that lies farther than this (mm) from its middle, towards one side."""
    if cut < 0:
        return 1 - beyond(-cut)
    cap = 4 * W + math.pi * W**2 / 2
    if cut <= 2:
        return (cap + (2 - cut) * (4 + 2 * W)) / BEAM
    high = min(
        cut - 2, W
    )  # of the cap only what is beyond; two quarter circles are a half circle cut by a chord
    chord = W**2 * math.acos(high / W) - high * math.sqrt(W**2 - high**2)
    return (4 * (W - high) + chord) / BEAM


def offered(middle: float = 28.0, **changes: Any) -> WiderWindow:
    """The wall beside the window goes, four plates of one stud; the middle of the lens lies at this y."""
    place = Place(pose_named("-x-y+z"), (10.0, middle + 3, 34.0))
    outline = Box((0, 16, 32), (8, 40, 44))
    made = WiderWindow(
        "eye",
        "eye",
        "wagon",
        "lamp hole",
        outline,
        (OUT,),
        (),
        4,
        4,
        (),
        False,
        "",
        place,
        False,
        0.0,
        0.0,
    )
    return replace(made, **changes)


def planned(*offers: WiderWindow, eye: Part = EYE) -> Plan:
    """The small plan without its eye, which a window that is too narrow left out."""
    old = needs_with(plan(), "eye", candidates=(eye,))
    placed = tuple(one for one in old.built.placements if one.need != "eye")
    return replace(
        built_with(old, placements=placed), unplaced=(("eye", "too narrow"),), wider_windows=offers
    )


def told(made: Plan) -> list[str]:
    found = problems(check_wider_windows, made, sites_of(made.built))
    return [f"{one.where}: {one.message}" for one in found]


@pytest.mark.parametrize(("middle", "by"), [(29.5, 0.0), (33.0, 0.045), (33.0, -0.045)])
def test_a_proposal_holds_with_the_share_in_closed_form(middle: float, by: float) -> None:
    """What lies beyond the side of the window as it is, at y = 32."""
    found = told(planned(offered(middle, hidden_before=beyond(32 - middle) + by), eye=SEES))
    assert len(found) == (by != 0)
    assert all("of the beam; by lines along it" in words for words in found)


def test_the_share_that_is_left_is_reckoned_as_well() -> None:
    """With a bar of brick left in the way: 2 mm high along the middle of the lens."""
    bar = BodySolid(Box((2, 16, 36), (4, 40, 38)), "fixed")
    share = (4 + 2 * W) * 2 / BEAM
    made = planned(offered(28.0, hidden_before=share, hidden_after=share - 0.08), eye=SEES)
    loco, wagon = made.built.train.vehicles
    barred = replace(wagon.vehicle, body=(*wagon.vehicle.body, bar))
    made = train_with(made, vehicles=(loco, replace(wagon, vehicle=barred)))
    wide, left, view = told(made)
    assert wide == f"{WHERE}would not be open as wide as it is told"
    assert f"tells that bricks hide {share - 0.08:.2f} of the beam" in left
    assert view == "wagon: fixed stands 2.00 mm in the view of eye"


def test_nothing_offered_nothing_said() -> None:
    assert told(planned()) == []


HALF = Box((0, 32, 32), (8, 40, 38.4))
UPPER = Box((0, 32, 38.4), (8, 40, 44.8))
BEYOND = Box((0, 16, 44.8), (8, 40, 48))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"need": "lamp"}, ["is for lamp, which does not lack a place there"]),
        ({"need": "another"}, ["is for another, which does not lack a place there"]),
        ({"part_id": "lamp"}, ["lamp is not what eye asks for there"]),
        ({"window": "pane"}, None),
        ({"out": (HALF, UPPER)}, []),
        ({"out": (HALF, OUT)}, ["bricks that go are told twice", "tells 4 studs × plates; 6 go"]),
        ({"size": 5}, ["tells 5 studs × plates; 4 go"]),
        ({"size": 3, "least": 3}, ["tells 3 studs × plates; 4 go"]),
        ({"least": 5}, ["at least 5 go, and 4 do"]),
        ({"least": -1}, ["at least -1 go, and 4 do"]),
        ({"least": 0}, []),
        ({"out": (OUT, BEYOND), "size": 7}, []),
        ({"out": (OUT, Box((8, 16, 48), (16, 24, 51.2))), "size": 5}, ["what goes is not all fixed bricks"]),
        ({"out": (OUT, Box((0, 24, 32), (8, 32, 35.2))), "size": 5}, ["what goes is not all fixed bricks"]),
        ({"plates": (Box((0, 16, 44.8), (8, 48, 48)),)}, []),
        ({"plates": (Box((24, 16, 44.8), (32, 24, 48)),)}, ["a plate that closes the gap rests on nothing"]),
        ({"plates": (Box((24, 16, FLOOR), (32, 24, FLOOR + 3.2)),)}, []),
        ({"plates": (Box((24, 16, FLOOR + 3.2), (32, 24, FLOOR + 6.4)),)},
         ["a plate that closes the gap rests on nothing"]),
        ({"plates": (Box((0, 16, 32), (8, 32, 35.2)), Box((0, 20, 44), (8, 28, 47.2)))},
         ["a plate that closes the gap rests on nothing"]),
        ({"outline": Box((0, 16, 32), (8, 41, 44))}, ["would not be open as wide as it is told"]),
        ({"outline": Box((0, 16, 31), (8, 40, 44))}, ["would not be open as wide as it is told"]),
    ],
)  # fmt: skip
def test_proposals_that_do_not(changes: dict[str, Any], words: list[str] | None) -> None:
    found = told(planned(offered(**changes)))
    if words is None:
        assert found == ["pane of wagon: eye is not what eye asks for there"]
    else:
        assert sorted(found) == sorted(WHERE + one for one in words)


@pytest.mark.parametrize(("high", "told_so"), [(44.81, True), (44.8 + 3e-4, False)])
def test_what_goes_is_whole_studs_and_plates(high: float, told_so: bool) -> None:
    out = Box((0, 32, 32), (8, 40, high))
    assert told(planned(offered(out=(out,)))) == [f"{WHERE}what goes is not whole studs and plates"] * told_so


@pytest.mark.parametrize("axis", [0, 1])
def test_half_a_stud_is_no_brick(axis: int) -> None:
    high = [8.0, 40.0, 44.8]
    high[axis] -= 4
    out = Box((0, 32, 32), (high[0], high[1], high[2]))
    assert f"{WHERE}what goes is not whole studs and plates" in told(planned(offered(out=(out,))))


def test_it_lacks_a_place_and_there_is_such_a_vehicle() -> None:
    lacks = [f"{WHERE}is for eye, which does not lack a place there"]
    assert told(replace(planned(offered()), unplaced=())) == lacks
    assert told(planned(offered(vehicle="tender"))) == [
        "lamp hole of tender: is for eye, which does not lack a place there"
    ]
    other = needs_with(planned(offered()), "eye", looks=("loco", "lamp hole"))
    assert told(other) == [f"{WHERE}eye is not what eye asks for there"]


def test_what_a_brick_leaves_is_told_by_its_name() -> None:
    """A removable brick in the wall is no fixed one; told as taken out it leaves the same room."""
    made = planned(offered(out=(), remove=("grille",), size=0, least=0))
    loco, wagon = made.built.train.vehicles
    grille = BodySolid(OUT, "removable", "grille")
    barred = replace(wagon.vehicle, body=(*wagon.vehicle.body, grille))
    made = train_with(made, vehicles=(loco, replace(wagon, vehicle=barred)))
    assert told(made) == []
    stays = replace(made, wider_windows=(replace(made.wider_windows[0], remove=()),))
    assert f"{WHERE}would not be open as wide as it is told" in told(stays)
    fixed = replace(made, wider_windows=(offered(),))
    assert told(fixed) == [f"{WHERE}what goes is not all fixed bricks"]


def test_the_part_needs_its_room_there() -> None:
    """Four mm higher it runs into the wall over the window; at the wrong way round it looks nowhere."""
    place = Place(pose_named("-x-y+z"), (10.0, 31.0, 40.0))
    found = told(planned(offered(place=place)))
    assert any("eye runs 2.000 mm into fixed bricks" in one for one in found)
    back = Place(pose_named("+x+y+z"), (10.0, 25.0, 34.0))
    assert told(planned(offered(place=back)))


def test_what_carries_it_is_no_matter_yet() -> None:
    """A part that lies on something stands in the air there; without a beam no share is reckoned."""
    needy = replace(EYE, mount=Mount(looks="+x", lens=EYE.mount.lens, needs_support=True))
    assert told(planned(offered(), eye=needy)) == []
    assert len(told(planned(offered(hidden_before=0.5)))) == 1
    assert told(planned(offered(hidden_before=0.5, hidden_after=0.5))) == []
