"""Fingers on hands that stay outside, levers not reached from behind, plugs that bring their cables."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.hands import CABLE_BEND_MM, FINGER_REACH_MM
from fitplan.model.part import Access, Clearance
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Direction
from fitplan.model.vehicle import BodySolid, Opening, Vehicle
from fitplan.model.ways_in import Exchanged, Moves, WayOut

from .small_trains import hollow
from .test_exchange import built, only, part, wrong
from .test_way_in import FLOOR, put

LEVER = part(Box((0, 0, 0), (10, 5, 6)), access=(Access("lever", "switch", "+z", often=True),))
PLUG = Clearance("plug", "plug", Box((30, 2, 0), (46, 12, 6)), "access")
BOARD = part(
    Box((0, 0, 0), (30, 14, 4)),
    access=(Access("socket", "socket", "+x", often=True),),
    clearances=(PLUG,),
)


def opened(vehicle: Vehicle, box: Box, out: Direction) -> Vehicle:
    """The vehicle with one lid more, which is opened often, and no other."""
    return replace(vehicle, openings=(Opening("hatch", box, out, often=True),))


def bottomless(vehicle: Vehicle) -> Vehicle:
    """The vehicle with a hatch in its floor instead of its roof, and a ledge along one wall."""
    length, width, base = 8.0 * vehicle.studs_long, 8.0 * vehicle.studs_wide, vehicle.base
    ledge = BodySolid(Box((8, 8, FLOOR + 12), (length - 8, 20, FLOOR + 15)), "fixed")
    made = replace(vehicle, body=(*vehicle.body, ledge))
    return opened(made, Box((8, 8, base), (length - 8, width - 8, FLOOR)), "-z")


def test_a_lever_that_points_up_is_not_reached_from_below() -> None:
    """A floor hatch beside a ledge: a block could come round over the lever, a finger cannot; turned, yes."""
    vehicle = bottomless(hollow("wagon", 8, 6, 12))
    up = [put("switch", LEVER, (20, 12, FLOOR + 15))]
    assert not only(built(vehicle, up)).reached
    sideways = [put("switch", LEVER, (20, 8, FLOOR + 25), "+x-z+y")]
    entry = only(built(vehicle, sideways))
    assert entry.reached, entry
    assert [way for way, _ in entry.last.moves][-1] == "-z"  # type: ignore[union-attr]


@pytest.mark.parametrize(("plates", "reached"), [(21, True), (24, False)])
def test_a_finger_reaches_as_far_as_it_is_long(plates: int, reached: bool) -> None:
    """A lever at the bottom of a shaft: its top is 6 mm above the floor, the roof one plate thick."""
    depth = 3.2 * plates - 6 + 3.2
    assert (depth <= FINGER_REACH_MM) == reached
    entry = only(built(hollow("wagon", 8, 6, plates), [put("switch", LEVER, (20, 20, FLOOR))]))
    assert entry.reached == reached


@pytest.mark.parametrize(("behind", "reached"), [(CABLE_BEND_MM, True), (CABLE_BEND_MM - 1, False)])
def test_a_plug_brings_its_cable(behind: float, reached: bool) -> None:
    """Under an open roof a plug needs its own length and then the bend of its cable up to the wall."""
    vehicle = hollow("wagon", 14, 6, 6)
    wall = 14 * 8.0 - 8
    board = [put("board", BOARD, (wall - behind - 46, 12, FLOOR))]
    entry = only(built(vehicle, board))
    assert entry.reached == reached
    if reached:
        assert entry.last is not None
        assert [way for way, _ in entry.last.moves] == ["+x", "+z"]
        assert entry.last.moves[0][1] == pytest.approx(CABLE_BEND_MM)


def test_a_plug_does_not_leave_its_socket_sideways() -> None:
    """A socket that faces a wall with just the plug's room before it, under an open roof, is not come by."""
    vehicle = hollow("wagon", 14, 6, 6)
    assert not only(built(vehicle, [put("board", BOARD, (14 * 8.0 - 8 - 46, 12, FLOOR))])).reached


def told(made: BuiltTrain, moves: Moves, opening: str) -> list[str]:
    """What the independent checker says when a plan tells another way."""
    (entry,) = made.exchanged
    other: Exchanged = replace(entry, reached=True, first=(), last=WayOut((), opening, moves))
    return wrong(replace(made, exchanged=(other,)))


@pytest.mark.parametrize(
    ("vehicle", "place", "moves", "sentence"),
    [
        (
            hollow("wagon", 8, 6, 24),
            put("switch", LEVER, (20, 20, FLOOR)),
            (("+z", 74.0),),
            "reaches 70.0 mm",
        ),
        (
            hollow("wagon", 14, 6, 6),
            put("board", BOARD, (14 * 8.0 - 8 - 46, 12, FLOOR)),
            (("+z", 22.4),),
            "along its own axis",
        ),
        (
            hollow("wagon", 14, 6, 6),
            put("board", BOARD, (14 * 8.0 - 8 - 46 - 5, 12, FLOOR)),
            (("+x", 5.0), ("+z", 22.4)),
            "its cable has 5.0 mm",
        ),
        (
            bottomless(hollow("wagon", 8, 6, 12)),
            put("switch", LEVER, (20, 12, FLOOR + 15)),
            (("+y", 10.0), ("-z", 40.0)),
            "from behind",
        ),
    ],
)
def test_the_checker_knows_hands_too(vehicle: Vehicle, place: Placement, moves: Moves, sentence: str) -> None:
    """Ways that a block could go and a hand cannot are noticed by the checker, on its own."""
    opening = vehicle.openings[0].name
    assert any(sentence in message for message in told(built(vehicle, [place]), moves, opening))
