"""View about curves: against boxes placed on the track and rays, closed forms of the circle, and remedies."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.curve_help import _together, beam_that_helps, second_that_helps, turn_that_helps
from fitplan.checks.curve_view import (
    Bend,
    RangerView,
    stand_on,
    stretch_met,
    watch_of,
    worst_stretch,
)
from fitplan.checks.ends import eyes_of
from fitplan.model.built import BuiltTrain
from fitplan.model.placed import Placement
from fitplan.model.solids import Place, pose_named
from fitplan.model.train import TrainVehicle
from fitplan.model.wired import Harness
from tests.checks.view_simulation import met_between, random_view, reach_about
from tests.circuit.sample_parts import need, ranger, train, vehicle

SHUNTER = RangerView(96.0, 0.0, (88.0, 0.0), 15.0, 4000.0, 64.0)


@pytest.mark.parametrize("seed", range(30))
def test_against_rays_at_placed_boxes(seed: int) -> None:
    """Random rangers on random tracks: near and far ends of what is met, to a fifth of a millimetre."""
    bend, watch = random_view(seed)
    reckoned = stretch_met(bend, watch, 0.0, 500.0)
    nearest, farthest = met_between(bend, watch, 0.0, 500.0)
    assert reckoned.nearest == pytest.approx(nearest, abs=0.2)
    assert reckoned.farthest == pytest.approx(farthest, abs=0.2)


@given(st.floats(100.0, 2000.0), st.floats(2.0, 40.0))
@settings(max_examples=60, deadline=None)
def test_a_narrow_beam_meets_a_point_at_the_chord(radius: float, half: float) -> None:
    """From a lens on the track a point is met up to the chord 2R·sin α, the arc 2αR (Euclid III.32)."""
    point = RangerView(0.0, 0.0, (0.0, 0.0), half, 1e6, 1e-9)
    found = stretch_met(Bend(1 / radius), point, 0.0, 2.5 * math.radians(half) * radius)
    assert found.farthest == pytest.approx(2 * math.radians(half) * radius, abs=0.05)


def test_the_lens_stands_off_the_track_by_the_throw() -> None:
    """On a circle the lens 88 mm ahead of the middle lies √(m² + 88²) from its centre, m² = R² − 48²."""
    x, y, heading = stand_on(Bend(1 / 320), SHUNTER, 0.0)
    assert math.hypot(x, y - 320) == pytest.approx(math.sqrt(320**2 - 48**2 + 88**2))
    assert heading == pytest.approx(math.asin(48 / 320))


def test_the_beam_of_a_lens_far_ahead_leaves_the_track_sooner() -> None:
    """A lens at the front end sees less of the curve than 2R·sin α says, and one over the middle more."""
    plain = 2 * 320 * math.sin(math.radians(15))
    narrow = replace(SHUNTER, obstacle=1.0)
    ahead = worst_stretch(narrow, 320.0, 400.0).farthest
    middle = worst_stretch(replace(narrow, lens=(0.0, 0.0)), 320.0, 400.0).farthest
    assert ahead < middle
    assert ahead < plain - 60
    # What is as wide as the train is met farther on, by its inner edge.
    assert worst_stretch(SHUNTER, 320.0, 400.0).farthest > ahead + 40


def test_what_is_met_is_worst_somewhere_about_the_curve() -> None:
    """The worst of all places is no better than any of them, and mirrored tracks give mirrored stretches."""
    worst = worst_stretch(SHUNTER, 320.0, 300.0)
    for bend in (Bend(1 / 320), Bend(1 / 320, start=64.0), Bend(1 / 320, end=104.0)):
        assert worst.farthest <= stretch_met(bend, SHUNTER, 0.0, 300.0).farthest + 1e-6
    aside = replace(SHUNTER, lens=(88.0, 12.0))
    mirrored = replace(SHUNTER, lens=(88.0, -12.0))
    one, other = (
        stretch_met(Bend(1 / 320), aside, 0.0, 300.0),
        stretch_met(Bend(-1 / 320), mirrored, 0.0, 300.0),
    )
    assert one.farthest == pytest.approx(other.farthest, abs=1e-3)
    assert stretch_met(Bend(1 / 320), mirrored, 0.0, 300.0).farthest != pytest.approx(one.farthest, abs=1.0)


def test_turning_inwards_helps() -> None:
    """The turn that is named makes the curve seen as far as needed; a degree less does not."""
    needed = worst_stretch(SHUNTER, 320.0, 500.0).farthest + 25.0
    turn = turn_that_helps(SHUNTER, 320.0, needed)
    assert turn > 0
    for degrees, enough in ((turn, True), (turn - 1, False)):
        turned = replace(SHUNTER, turned_deg=float(degrees))
        assert (worst_stretch(turned, 320.0, needed, (1.0,)).farthest >= needed - 1.0) is enough
    assert turn_that_helps(replace(SHUNTER, half_angle_deg=3.0), 320.0, 400.0) == 0


def test_what_is_turned_far_inwards_is_blind_first_where_the_curve_ends() -> None:
    """Turned by 25° it sees round the curve, and past the straight track beyond it: by rays as by edges."""
    turned = replace(SHUNTER, turned_deg=25.0)
    worst = worst_stretch(turned, 320.0, 300.0, (1.0,))
    assert worst.where == "where the curve ends to the left"
    assert stretch_met(Bend(1 / 320), turned, 0.0, 300.0).farthest > worst.farthest + 50.0
    assert reach_about((turned,), 320.0, 300.0, step=20.0) == pytest.approx(worst.farthest, abs=0.5)


def test_a_second_one_that_looks_past_a_gap_does_not_count_beyond_it() -> None:
    """A beam of 5° turned by 15° sees an arc of 10° to 20°; what lies before that neither of both sees."""
    narrow = RangerView(2.0, 0.0, (0.0, 0.0), 5.0, 4000.0, 1e-6)
    second = replace(narrow, turned_deg=15.0)
    in_curve = next(_together(narrow, second, 1.0, 320.0, 200.0))
    assert in_curve == pytest.approx(2 * math.radians(5.0) * 320.0, abs=1.5)
    near, far = met_between(Bend(1 / 320), second, 0.0, 200.0)
    assert (near, far) == pytest.approx((2 * math.radians(10.0) * 320.0, 200.0), abs=2.1)
    closer = replace(second, turned_deg=9.0)
    assert next(_together(narrow, closer, 1.0, 320.0, 200.0)) > 150.0


@pytest.mark.parametrize(("half", "aside", "needed"), [(12.5, -12.0, 170.0), (7.5, 0.0, 230.0)])
def test_what_is_said_to_help_about_a_curve_helps(half: float, aside: float, needed: float) -> None:
    """Turned, with a second one, or with a wider beam it sees far enough by rays, whichever way it bends."""
    watch = RangerView(96.0, 0.0, (66.0, aside), half, 4000.0, 64.0)
    assert worst_stretch(watch, 320.0, needed).farthest < needed - 20.0
    turn, second = turn_that_helps(watch, 320.0, needed), second_that_helps(watch, 320.0, needed)
    beam = beam_that_helps(watch, 320.0, needed)
    assert second
    assert beam
    assert bool(turn) is (half > 10.0)
    wide = replace(watch, half_angle_deg=float(beam))
    for side in (1.0, -1.0):
        inwards = replace(watch, turned_deg=side * second)
        assert reach_about((watch, inwards), side * 320.0, needed) >= needed - 1.5
        assert reach_about((wide,), side * 320.0, needed) >= needed - 1.5
        if turn:
            turned = replace(watch, turned_deg=side * turn)
            assert reach_about((turned,), side * 320.0, needed) >= needed - 1.5
            assert met_between(Bend(0.0), turned, 0.0, needed)[1] >= needed - 1.5
    narrow = replace(watch, half_angle_deg=2.0, obstacle=10.0)
    assert second_that_helps(narrow, 320.0, 300.0) == 0


def test_straight_track_is_seen_to_the_reach() -> None:
    """On straight track an obstacle is met from the lens on as far as the ranger reaches."""
    found = stretch_met(Bend(0.0), replace(SHUNTER, reach=250.0), 0.0, 400.0)
    assert (found.nearest, found.farthest) == (pytest.approx(0.0, abs=0.01), pytest.approx(250.0, abs=0.01))


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("pose", ["+x+y+z", "-x-y+z"])
def test_a_placed_ranger_is_seen_along_the_way_that_it_looks(turned: bool, pose: str) -> None:
    """The lens is ahead of the middle of the vehicle whichever way it looks and the vehicle stands."""
    eyes = Placement("eyes", ranger(), "v", Place(pose_named(pose), (88.0, 24.0, 30.0)), "body")
    made = train([need("eyes", ranger())], [], [TrainVehicle("v", vehicle(), turned)])
    built = BuiltTrain(made, (eyes,), Harness(), ())
    watch = watch_of(built, eyes_of(built)[0])
    assert watch.lens == pytest.approx((12.0, 22.0))
    assert (watch.pivot_distance, watch.wheelbase) == (96.0, 24.0)
    assert watch.obstacle == vehicle().width
