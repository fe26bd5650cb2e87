"""What is said where a part has no place: what would widen a window, in words and figures, and shut zones."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fitplan.checks.places import check_places, widening
from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.vehicle import Zone
from fitplan.model.wider_window import WiderWindow
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import need, part, train
from tests.verify.lies import train_with
from tests.verify.two_vehicles import plan

LAID = Place(pose_named("-x-y+z"), (10, 27, 34))
OFFER = WiderWindow(
    "eye", "eye", "wagon", "pane", Box((0, 16, 32), (8, 40, 44)),
    (Box((0, 32, 32), (8, 40, 44.8)),), (), 4, 4, (), False, "", LAID, False,
)  # fmt: skip
TAKE = "make pane wider in wagon: take out "
FOUR = f"{TAKE}1 × 1 stud, 4 plates high of brick (from rear 0, from right 4 studs, above rail 32 mm)"
THEN = ". Then eye looks out of it"
LEAST = ", 4 studs × plates in all: no fewer will do"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, f"{FOUR}{LEAST}{THEN}"),
        ({"alone": True}, f"{FOUR}{LEAST}{THEN}, but not beside all that lies there now"),
        ({"least": 3}, f"{FOUR}, 4 studs × plates in all: at least 3 must go{THEN}"),
        ({"least": 0}, f"{FOUR}, 4 studs × plates in all: fewer may do, or none where"
                       f" the play of the bricks helps{THEN}"),
        ({"remove": ("grille",), "out": (), "size": 0, "least": 0}, f"{TAKE}the grille{THEN}"),
        ({"out": (Box((16, 8, 19.2), (32, 16, 22.4)),), "size": 2, "least": 2},
         f"{TAKE}2 × 1 studs, 1 plate high of brick (from rear 2, from right 1 stud, above rail 19.2 mm)"
         f", 2 studs × plates in all: no fewer will do{THEN}"),
        ({"plates": (Box((0, 16, 44.8), (8, 48, 48)),)},
         f"{FOUR}{LEAST}; close the gap with a plate 1 × 4"
         f" (from rear 0, from right 2 studs, above rail 44.8 mm){THEN}"),
        ({"rests_on_one_side": True},
         f"{FOUR}{LEAST}; what lies above the gap has bricks on one side at most:"
         f" hold it from above or behind{THEN}"),
        ({"out": (), "size": 0},
         "give pane of wagon the box {from: [0, 16, 32], to: [8, 40, 44]}: the gap drawn there is wide enough"
         f"{THEN}"),
        ({"hidden_before": 0.004}, f"{FOUR}{LEAST}{THEN}"),
        ({"hidden_before": 0.25}, f"{FOUR}{LEAST}{THEN}; bricks hide 25 % of its beam"
         " there as it is, 0 % then: nothing comes back off them any more"),
        ({"hidden_before": 0.25, "hidden_after": 0.01},
         f"{FOUR}{LEAST}{THEN}; bricks hide 25 % of its beam there as it is, 1 % then,"
         " and what comes back off them is read as something close by"),
    ],
)  # fmt: skip
def test_what_would_widen_a_window(changes: dict[str, Any], words: str) -> None:
    assert widening(replace(OFFER, **changes)) == words


def test_a_part_without_a_place_is_told_what_would_widen_its_window() -> None:
    """It alone; another that has no place either is told in general."""
    made = train([need("other", part("other")), need("eye", part("eye"))], [])
    first, second = check_places(BuiltTrain(made, (), Harness(), ()), (), (OFFER,)).findings
    assert first.remedy.startswith("allow a smaller part")
    assert second.remedy == widening(OFFER)


def test_parts_fixed_in_a_zone_that_is_shut_to_them_are_told_by_how_deep() -> None:
    """The lamp is a cube of 6 mm from (20, 20, 19.2); the least of three overlaps counts."""
    made = plan()
    loco, wagon = made.built.train.vehicles

    def told(*zones: Zone, **drawn: Any) -> list[tuple[str, str, float]]:
        shut = replace(wagon, vehicle=replace(wagon.vehicle, zones=zones))
        built = train_with(made, vehicles=(loco, shut)).built
        parts = {one.need: replace(one.part, **drawn) for one in built.placements if one.need == "lamp"}
        places = [replace(one, part=parts.get(one.need, one.part)) for one in built.placements]
        built = replace(built, placements=tuple(places))
        return [(one.where, one.message, one.figure) for one in check_places(built, (), ()).findings]

    deep = Zone("hands off", Box((24, 10, 10), (60, 40, 40)), parts=False)
    assert told(deep) == [("lamp", "lamp is fixed 2.0 mm deep in hands off, a zone shut to it", 2.0)]
    for high in ((23.0, 48.0, 60.0), (80.0, 23.0, 60.0), (80.0, 48.0, 22.2)):
        found = told(Zone("z", Box((0, 0, 0), high), parts=False))
        assert [figure for where, _, figure in found if where == "lamp"] == [3.0]
    for edge, figures in ((25.96, []), (25.94, [0.06])):
        near = replace(deep, box=Box((edge, 10, 10), (60, 40, 40)))
        assert [figure for *_, figure in told(near)] == figures
    # An L round the zone reaches into it with neither of its bars.
    bars = (Box((0, 0, 0), (6, 6, 1)), Box((0, 0, 0), (1, 6, 6)))
    assert told(replace(deep, box=Box((22, 10, 20.5), (60, 40, 40))), envelope=bars) == []
    assert told(replace(deep, parts=True)) == []
    assert told(replace(deep, only=("lamp",))) == []
    assert told(replace(deep, box=Box((26, 10, 10), (60, 40, 40)))) == []
