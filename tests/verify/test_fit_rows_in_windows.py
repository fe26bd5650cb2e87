"""Rows of the fit table about windows, and what rows say of themselves: each just true and just no longer."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fitplan.model.part import Mount
from fitplan.model.placed import Placement
from fitplan.model.plan import Plan
from fitplan.model.proposed import FitRow
from fitplan.model.solids import Box, Cylinder, Place, pose_named
from fitplan.verify.fit_rows import _asked, _box_within, _FitTable, _in_itself, check_fit_rows
from fitplan.verify.result import Tally

from .lies import built_with, needs_with, problems
from .two_vehicles import EYE, plan

WINDOW = (16.0, 12.0)
"""The wagon's window is 16 mm wide and 12 mm high; walls ahead and behind."""


def asked(width: float, height: float, **row: Any) -> tuple[Plan, FitRow]:
    """The small plan with a larger eye that has no place, and what the fit table says of it."""
    box = Box((0, 0, 0), (5, width, height))
    eye = replace(
        EYE,
        envelope=(box,),
        mount=Mount(turnable=False, looks="-x", lens=Box((0, 0, 0), (0.1, width, height))),
    )
    old = needs_with(plan(), "eye", candidates=(eye,), looks=("wagon", "lamp hole"))
    placed = tuple(one for one in old.built.placements if one.need != "eye")
    said = {
        "reason": f"{row.get('missing_mm', 0):g} mm are missing in its window",
        "proof": "the window is narrower",
        "pose": "+x+y+z",
        **row,
    }
    return built_with(old, placements=placed), FitRow("eye", "eye", "wagon", "cannot fit", **said)


def told(made: Plan, row: FitRow) -> list[str]:
    return [one.message for one in problems(check_fit_rows, replace(made, fit=(row,), outcomes=()))]


@pytest.mark.parametrize(
    ("width", "height", "missing", "axis", "words"),
    [
        (20.0, 6.0, 4.0, "width", []),
        (20.0, 6.0, 4.04, "width", []),
        (20.0, 6.0, 4.06, "width", ["lacks 4.0 mm of width in its window"]),
        (20.0, 6.0, 3.9, "width", ["lacks 4.0 mm of width in its window"]),
        (20.0, 6.0, 4.0, "height", ["lacks 4.0 mm of width in its window"]),
        (10.0, 15.5, 3.5, "height", []),
        (10.0, 15.5, 3.5, "width", ["lacks 3.5 mm of height in its window"]),
        (18.0, 15.5, 3.5, "height", []),
        (18.0, 15.5, 2.0, "width", ["lacks 3.5 mm of height in its window"]),
        (18.0, 15.5, 3.5, "length", ["lacks 3.5 mm of height in its window"]),
    ],
)
def test_what_is_missing_in_a_window(
    width: float, height: float, missing: float, axis: str, words: list[str]
) -> None:
    """The lens less the window, along whichever of its two edges it lacks more."""
    assert told(*asked(width, height, missing_mm=missing, axis=axis)) == words


def test_a_window_that_it_does_not_look_out_of_lacks_nothing() -> None:
    made, row = asked(20.0, 6.0, missing_mm=4.0, axis="width")
    for looks in (("wagon", "pane"), ("loco", "lamp hole")):
        other = needs_with(made, "eye", looks=looks)
        assert told(other, row) == ["lacks room in a window that it does not look out of"]
    assert told(made, replace(row, pose="+y-x+z")) == [
        "comes closest in the pose +y-x+z, in which it may not stand"
    ]


LACKS = "4 mm are missing in its window"
BARE = FitRow("eye", "eye", "wagon", "cannot fit", LACKS, "proof", 4.0, "width", "+x+y+z")
SAID = "something is missing, as its reason says, and its figure is 0"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, []),
        ({"missing_mm": 0.0, "axis": "", "pose": "", "reason": "no room"}, []),
        ({"missing_mm": 0.0, "axis": "", "pose": ""}, [SAID]),
        ({"missing_mm": 0.0}, ["0 mm are missing along width",
                               SAID]),
        ({"axis": ""}, ["4 mm are missing along no axis"]),
        ({"missing_mm": -1.0}, ["-1 mm are missing along width", "-1 mm are missing; its reason says 4 mm"]),
        ({"missing_mm": 4.05}, []),
        ({"missing_mm": 4.06}, ["4.06 mm are missing; its reason says 4 mm"]),
        ({"reason": "3 mm and 4 mm are missing in its window"}, []),
        ({"reason": ""}, ["cannot fit, and nothing is said of why, or of what that rests on"]),
        ({"proof": ""}, ["cannot fit, and nothing is said of why, or of what that rests on"]),
        ({"remove": ("wall",)}, ["is cannot fit, and has a place or a rebuild"]),
        ({"verdict": "not decided"}, []),
        ({"verdict": "not decided", "reason": ""}, ["is not decided, and nothing is said of what is open"]),
    ],
)  # fmt: skip
def test_a_row_agrees_with_itself(changes: dict[str, Any], words: list[str]) -> None:

    sheet = Tally()
    _in_itself(replace(BARE, **changes), "eye in wagon", sheet)
    assert [one.message for one in sheet.report().problems] == words


@pytest.mark.parametrize(("pose", "first", "last"), [("-x-y+z", 0.0, 5.0), ("+x+y+z", 15.0, 80.0)])
def test_before_a_lens_all_is_taken_out_to_the_hull(pose: str, first: float, last: float) -> None:
    """The eye's body, and from its lens the way out of the vehicle, whichever end it looks to."""
    made = plan()
    table = _FitTable(made, Tally())
    place = Place(pose_named(pose), (10.0, 27.0, 34.0))
    body, beam = table._taken(Placement("eye", EYE, "wagon", place, ""))
    assert body == place.move_solid(EYE.envelope[0]).bounds
    assert EYE.mount.lens is not None
    lens = place.move_solid(EYE.mount.lens).bounds
    assert (beam.low[0], beam.high[0]) == (first, last)
    assert (beam.low[1:], beam.high[1:]) == (lens.low[1:], lens.high[1:])
    unbound = needs_with(made, "eye", looks=None)
    assert _FitTable(unbound, Tally())._taken(Placement("eye", EYE, "wagon", place, "")) == [body]


def test_a_box_within_a_round_solid_touches_it_with_its_edges() -> None:
    """A square in a circle: its half edge is the radius over the root of two."""
    half = 5 / 2**0.5
    for axis, (a, b) in (("x", (1, 2)), ("y", (0, 2)), ("z", (0, 1))):
        box = _box_within(Cylinder(axis, (1.0, 2.0, 3.0), 20.0, 5.0))  # type: ignore[arg-type]
        assert box is not None
        along = "xyz".index(axis)
        assert box.high[along] - box.low[along] == 20.0
        for k in (a, b):
            middle = (1.0, 2.0, 3.0)[k]
            assert (box.low[k], box.high[k]) == pytest.approx((middle - half, middle + half))
    solid = Box((0, 0, 0), (1, 2, 3))
    assert _box_within(solid) == solid


def test_rows_that_are_asked_for() -> None:
    """What is chosen has a row for each vehicle, what is left out one where it may go; others have none."""

    made = plan()
    assert _asked(made) == []
    left = replace(made, unplaced=(("lamp", "too long"), ("eye", "too long"), ("board", "too long")))
    assert _asked(left) == [("board", "board", "loco"), ("lamp", "lamp", "loco"), ("lamp", "lamp", "wagon"),
                            ("eye", "eye", "wagon")]  # fmt: skip
