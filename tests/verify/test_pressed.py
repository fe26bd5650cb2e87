"""What presses a bar down that rests on one end alone, reckoned by hand as a lever over the ledge's edge.

The bar is 30 × 6 × 6 mm and begins at x 16; its middle hangs at 31. Pressed down at x 16 with ``F`` it is
held when ``F·(edge − 16) = W·(31 − edge)``. A stud holds about 1 N (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.model.facts import sideways_n
from fitplan.model.part import Clearance
from fitplan.model.placed import Fastening, Piece, Shelf
from fitplan.model.plugged import PLUG
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.vehicle import BodySolid
from fitplan.verify.fastenings import check_fastenings
from fitplan.verify.scene import sites_of

from .lies import built_with, placed_with, problems
from .test_hung_and_strapped import G, piece, wagon
from .two_vehicles import FLOOR, LAMP, plan

REST, TOP, OVER = FLOOR + 8, FLOOR + 14, FLOOR + 16
ONE_SIDE = "lamp rests on one side only, and the strap over it"
NO_PLACE = (
    "lamp rests on one side only, and the strap over it presses on no place of it that keeps it from tipping"
)


def strap(x: float = 16.0, pad: bool = True) -> tuple[Piece, ...]:
    """Two stacks of five plates' height, the pad, and a plate across, over eight mm of the bar from x."""
    stacks = [
        one
        for y in (8, 32)
        for one in (
            piece("brick 1 × 1", (x, y, FLOOR), (8, 8, 9.6)),
            piece("plate 1 × 1", (x, y, FLOOR + 9.6), (8, 8, 3.2)),
            piece("plate 1 × 1", (x, y, FLOOR + 12.8), (8, 8, 3.2)),
        )
    ]
    soft = [piece("pad", (x, 20, TOP), (min(8.0, 46 - x), 6, OVER - TOP))] if pad else []
    return (*stacks, *soft, piece("plate 1 × 4", (x, 8, OVER), (8, 32, 3.2)))


def said(
    *bricks: Piece, edge: float = 22.0, newtons: float = 1.0, steady: bool = False, shelf: Shelf | None = None
) -> list[str]:
    """What is said of the bar, on a ledge up to an edge, with such pieces over it."""
    bar = replace(LAMP, envelope=(Box((0, 0, 0), (30, 6, 6)),), mass_g=newtons * 1000 / G)
    ledge = (
        Box((8, 16, FLOOR), (edge, 32, REST)) if shelf is None else Box((8, 16, FLOOR), (9, 17, FLOOR + 1))
    )
    place = Place(pose_named("+x+y+z"), (16.0, 20.0, REST))
    fastening = Fastening("lamp", "wagon", ("+z",), bricks)
    old = placed_with(plan(), "lamp", place=place, part=bar, steady=steady, shelf=shelf)
    built = wagon(
        built_with(old, fastenings=(fastening,)).built,
        BodySolid(ledge, "fixed", smooth=True),
        floor_finish="studded",
    )
    return [one.message for one in problems(check_fastenings, built, sites_of(built), ())]


def test_a_strap_over_the_resting_end_holds_and_over_the_hanging_end_does_not() -> None:
    assert said(*strap()) == []
    assert said(*strap(24.0)) == [NO_PLACE]
    assert said(*strap(40.0)) == [NO_PLACE]


@pytest.mark.parametrize(("edge", "held"), [(20.76, True), (20.65, False)])
def test_its_studs_hold_what_the_lever_asks(edge: float, held: bool) -> None:
    """Two studs, 10 % to spare: 2.2 N; (31 − edge) / (edge − 16) is that at 20.69 (tried on a grid)."""
    found = said(*strap(), edge=edge)
    assert (found == []) == held
    if not held:
        assert found[0].startswith(f"{ONE_SIDE} holds 89%")


def test_the_lead_and_the_weight_both_draw() -> None:
    """At an edge of 22 the press is one and a half times the weight: 2.2 N at 1.47 N."""
    assert said(*strap(), newtons=1.44) == []
    assert len(said(*strap(), newtons=1.48)) == 1


def test_the_gap_to_the_strap_is_filled() -> None:
    """Two mm; no pad is asked for where the part stands."""
    empty = "between lamp, which would tip, and the strap over it 2.0 mm are empty"
    assert said(*strap(pad=False)) == [empty]
    thin = [replace(one, box=Box(one.box.low, (*one.box.high[:2], OVER - 0.3))) for one in strap()[6:7]]
    assert said(*strap()[:6], *thin, strap()[7]) == [empty]


@pytest.mark.parametrize(("newtons", "held"), [(0.58, True), (0.595, False)])
def test_what_carries_it_is_not_levered_off(newtons: float, held: bool) -> None:
    """A bracket, its foot from x 8 to 16 on two studs: what presses at 16 presses about its near edge.

    The bar rests up to x 24, where a press of 7 / 8 of its weight and the weight are borne together: 15 mm
    times its weight about that edge, against 2 N · 4 mm and a tenth more.
    """
    shelf = Shelf(
        "bracket",
        (
            piece("plate 1 × 2", (8, 16, FLOOR), (8, 16, 3.2)),
            piece("plate 2 × 2", (8, 16, REST - 4.9), (16, 16, 3.2)),
            piece("studs", (16, 20, REST - 1.7), (8, 6, 1.7)),
        ),
        2,
        False,
    )
    found = said(*strap(), newtons=newtons, shelf=shelf)
    lever = [one for one in found if "the strap over it" in one]
    assert (lever == []) == held


@pytest.mark.parametrize(("newtons", "held"), [(0.288, True), (0.298, False)])
def test_what_hangs_turns_about_its_far_edge(newtons: float, held: bool) -> None:
    """Two studs from x 8 to 16 up in the roof: weight and press, 1.875 of it at x 24, turn about x 8.

    That is 30 mm times the weight against 2 N · 4 mm and a tenth more: 0.293 N.
    """
    shelf = Shelf(
        "hanger",
        (
            piece("plate 2 × 2", (8, 16, REST - 4.9), (16, 16, 3.2)),
            piece("brick 1 × 2", (8, 16, REST - 1.7), (8, 16, 9.6)),
            piece("studs", (16, 20, REST - 1.7), (8, 6, 1.7)),
        ),
        2,
        False,
    )
    found = said(*strap(), newtons=newtons, shelf=shelf)
    assert ([one for one in found if "the strap over it" in one] == []) == held


def test_a_plugged_lead_draws_half_a_newton() -> None:
    """As much as is said of common practice, beside the weight at 1 g; 100 g are 0.98 N (ISO 80000-3)."""
    plain = replace(LAMP, mass_g=100.0)
    room = Clearance(PLUG, "plug", Box((6, 0, 0), (30, 6, 6)))
    assert sideways_n(plain) == pytest.approx(0.98, abs=0.01)
    assert sideways_n(replace(plain, clearances=(room,))) == pytest.approx(1.48, abs=0.01)
    assert sideways_n(replace(plain, clearances=(replace(room, name="plug"),))) == pytest.approx(
        0.98, abs=0.01
    )
