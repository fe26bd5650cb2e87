"""View findings: what the train hides of its own beams, each failing first and passing after the remedy."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.beam import cast_beam
from fitplan.checks.ends import eyes_of
from fitplan.checks.on_curve import CurvePose, middle_radius, pivot_radius, stands
from fitplan.checks.view import check_view
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Ranger
from fitplan.model.found import Finding
from fitplan.model.operation import Running, Track
from fitplan.model.part import Part
from fitplan.model.placed import Placement, Rebuild
from fitplan.model.solids import Place, Vec, pose_named
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BodySolid, BuiltIn, Face, Removable, Vehicle, Window
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import box, emitter, need, part, ranger, shuttle, train, vehicle

AHEAD, BACK = "+x+y+z", "-x-y+z"


def placed(name: str, one: Part, where: str, offset: Vec, pose: str = AHEAD) -> Placement:
    return Placement(name, one, where, Place(pose_named(pose), offset), "body")


def with_window(wide: float, high: float, *more: BodySolid, **extra: object) -> Vehicle:
    """An eight studs wide tray with a hole in its front wall round the lens at y = 32, z = 40."""
    plain = vehicle(studs=(22, 8))
    hole = BodySolid(box(168, 32 - wide / 2, 40 - high / 2, 176, 32 + wide / 2, 40 + high / 2), "outside")
    return vehicle(studs=(22, 8), body=(*plain.body, hole, *more), **extra)


def loco(
    shape: Vehicle,
    lens_x: float = 166.0,
    running: Running | None = None,
    rebuilds: tuple[Rebuild, ...] = (),
    parts: tuple[Placement, ...] = (),
) -> BuiltTrain:
    """One vehicle with a ranger whose lens lies at x = lens_x."""
    eyes = placed("front eyes", ranger(), "shunter", (lens_x - 12.0, 10.0, 30.0))
    needs = [need("front eyes", ranger()), *(need(p.need, p.part) for p in parts)]
    made = train(needs, [], [TrainVehicle("shunter", shape)], running=running or Running(300.0))
    return BuiltTrain(made, (eyes, *parts), Harness(), (), rebuilds)


def picked(built: BuiltTrain, word: str) -> list[Finding]:
    return [one for one in check_view(built).findings if word in one.message]


def test_a_narrow_window_and_a_wide_one() -> None:
    """A window as small as the lens hides much of the beam; a wide one lets it all out."""
    (narrow,) = picked(loco(with_window(14.0, 8.0), lens_x=160.0), "the train itself hides")
    assert narrow.severity == "stop"
    assert narrow.figure > 25.0
    assert "widen the window" in narrow.remedy
    (wide,) = picked(loco(with_window(48.0, 40.0), lens_x=160.0), "the train itself hides")
    assert wide.severity == "note"
    assert wide.figure == 0.0


def test_the_lens_flush_with_the_wall_sees_all() -> None:
    """The other remedy: a lens flush with the outside of the wall has nothing in front of it."""
    (flush,) = picked(loco(with_window(28.0, 12.0), lens_x=176.0), "the train itself hides")
    assert flush.figure == 0.0


def test_bars_hide_what_they_do_not_leave_open() -> None:
    """A window over the whole wall, a third of it open: bars hide two thirds of the beam, and are named."""
    shape = with_window(48.0, 40.0)
    gap = Window("nose", box(168, 8, 20, 176, 56, 60), "+x", open_share=1 / 3)
    plain = loco(replace(shape, windows=(gap,)), lens_x=160.0)
    eyes = replace(plain.train.needs[0], looks=("shunter", "nose"))
    built = replace(plain, train=replace(plain.train, needs=(eyes,)))
    (hidden,) = picked(built, "the train itself hides")
    assert hidden.figure == pytest.approx(66.7)
    assert "bars" in hidden.message
    (clear,) = picked(plain, "the train itself hides")
    assert clear.figure == 0.0


def test_shares_against_the_exact_integral() -> None:
    """The hidden share of a point lens behind a slot is that of the exact half-space split of a cone."""
    point = replace(ranger(), mount=replace(ranger().mount, lens=box(12, 22, 10, 12, 22, 10)))
    wall = BodySolid(box(168, 0, 40, 176, 64, 67.2), "fixed")
    shape = vehicle(studs=(22, 8), body=(wall,), couplings=(), wheels=replace(vehicle().wheels, at=()))
    eyes = placed("front eyes", point, "shunter", (148.0, 10.0, 30.0))
    built = loco(shape)
    built = replace(built, placements=(eyes,))
    sight = cast_beam(built, eyes, 15.0, None, 8192)
    assert sight.blocked == pytest.approx(0.5, abs=0.002)  # the wall's lower edge lies on the axis
    assert sight.nearest == pytest.approx(8.0, abs=0.01)
    assert sight.by[0][0] == "body"


def test_a_grille_that_may_come_out() -> None:
    """A removable grille in the window is named as what hides the beam; taken out, the view is clear."""
    grille = BodySolid(box(170, 8, 20, 172, 56, 60), "removable", "front grille")
    shape = with_window(48.0, 40.0, grille, removables=(Removable("front grille", 1.0),))
    (shut,) = picked(loco(shape, 166.0), "the train itself hides")
    assert shut.severity == "stop"
    assert shut.remedy == "take out front grille"
    out = loco(shape, 166.0, rebuilds=(Rebuild("shunter", ("front grille",), (), 1.0, 1.0, "yes"),))
    (clear,) = picked(out, "the train itself hides")
    assert clear.severity == "note"


def test_own_echo_nearer_than_the_trip_distance() -> None:
    """A buffer beam 40 mm ahead of the lens would stop the train for ever; without it nothing does."""
    beam = BodySolid(box(205, 8, 36, 210, 56, 44), "fixed")
    echo = picked(loco(with_window(48.0, 40.0, beam)), "meets the train itself")
    assert [one.severity for one in echo] == ["stop"]
    assert echo[0].figure == pytest.approx(39.0, abs=0.5)
    assert echo[0].figure < echo[0].limit
    assert picked(loco(with_window(48.0, 40.0)), "meets the train itself") == []


def test_an_echo_in_the_blind_zone_is_a_caution() -> None:
    """A lip 4 mm in front of the lens lies in the blind zone: a caution only."""
    lip = BodySolid(box(170, 8, 20, 172, 56, 37), "fixed")
    (echo,) = picked(loco(with_window(48.0, 40.0, lip)), "meets the train itself")
    assert echo.severity == "caution"
    assert "blind zone" in echo.message


def test_blind_zone_at_rest() -> None:
    """A margin below the blind zone is a caution; the margin that it proposes is none."""
    near = Running(300.0, margin=5.0)
    (caution,) = picked(loco(with_window(48.0, 40.0), 176.0, near), "at rest")
    assert caution.figure == 20.0
    assert caution.limit == pytest.approx(5.0 + 4.0)  # the coupling reaches 4 mm beyond the lens
    margin = float(caution.remedy.split("at least ")[1].split(" mm")[0])
    assert picked(loco(with_window(48.0, 40.0), 176.0, replace(near, margin=margin)), "at rest") == []


def coupled(ranger_in: str = "wagon") -> BuiltTrain:
    """A loco and a wagon behind it; the wagon's ranger looks forward into the loco, or back."""
    shape = with_window(48.0, 40.0)
    pose = AHEAD if ranger_in == "wagon" else BACK
    offset: Vec = (164.0, 10.0, 30.0) if pose == AHEAD else (12.0, 54.0, 30.0)
    eyes = placed("rear eyes", ranger(), "wagon", offset, pose)
    vehicles = [TrainVehicle("loco", shape), TrainVehicle("wagon", vehicle(studs=(22, 8)))]
    made = train([need("rear eyes", ranger())], [], vehicles)
    return BuiltTrain(made, (eyes,), Harness(), ())


def test_a_ranger_that_looks_into_the_next_vehicle() -> None:
    """A ranger that looks at the neighbour sees nothing else; turned to the free end it sees the track."""
    (stop,) = picked(coupled(), "the train itself hides")
    assert stop.severity == "stop"
    assert "of loco" in stop.message
    (note,) = picked(coupled("free end"), "the train itself hides")
    assert note.severity == "note"


def test_a_tall_neighbour_swings_into_the_beam_on_a_curve() -> None:
    """A beam along the side of a wagon is clear on straight track and meets the next vehicle in the curve."""
    narrow = vehicle(studs=(22, 4))
    high = replace(ranger(half_angle=2.0), mount=replace(ranger().mount, lens=box(12, 22, 4, 12, 24, 6)))
    eyes = placed("eyes", high, "wagon", (164.0, 45.0, 40.0))  # outrigger, 36 mm left of the middle
    vehicles = [TrainVehicle("loco", vehicle(studs=(22, 8))), TrainVehicle("wagon", narrow)]
    made = train([need("eyes", high)], [], vehicles, track=Track(radius=320.0))
    built = BuiltTrain(made, (eyes,), Harness(), ())
    straight = cast_beam(built, eyes, 2.0, None, 512)
    left = cast_beam(built, eyes, 2.0, 320.0, 512)
    right = cast_beam(built, eyes, 2.0, -320.0, 512)
    assert straight.blocked == 0.0
    assert left.blocked > 0.5
    assert right.blocked == 0.0


def on_receiver(
    offset: Vec = (85.5, 21.5, 50.0), pose: str = AHEAD, roof: bool = True, sink: float = 0.0
) -> BuiltTrain:
    """An emitter with its base on the receiver's upward face at (88, 24, 50)."""
    eye = Face("eye", box(86, 22, 50, 90, 26, 50), "+z")
    item = BuiltIn("receiver", "receiver", (box(80, 16, 30, 96, 32, 50 - sink),), (eye,))
    lid = (BodySolid(box(8, 8, 64, 168, 40, 67.2), "fixed"),) if roof else ()
    shape = vehicle(body=(*vehicle().body, *lid), built_in=(item,))
    one = emitter()
    seat = replace(need("emitter", one), sits=("shunter", "receiver", "eye"))
    made = train([seat], [], [TrainVehicle("shunter", shape)])
    return BuiltTrain(made, (placed("emitter", one, "shunter", offset, pose),), Harness(), ())


def test_an_emitter_on_its_receiver() -> None:
    """An emitter at a right angle is a stop, one that stands off a caution; seated well it passes."""
    good = check_view(on_receiver()).findings
    assert {one.severity for one in good} == {"note"}
    leaning = picked(on_receiver(pose="+z+y-x"), "points")
    assert [(one.severity, one.figure) for one in leaning] == [("stop", 90.0)]
    (gap,) = picked(on_receiver((85.5, 21.5, 54.0)), "lies")
    assert (gap.severity, gap.figure, gap.limit) == ("caution", 4.0, 1.0)
    (aside,) = picked(on_receiver((92.0, 21.5, 50.0)), "off its middle")
    assert aside.severity == "caution"
    assert aside.figure == pytest.approx(6.5)


def test_daylight_from_above() -> None:
    """A receiver that looks up into the open sees too much sky; under a closed roof it does not."""
    bare = replace(on_receiver(roof=False), placements=())
    (bright,) = picked(bare, "looks up")
    assert bright.severity == "caution"
    # A pit with upright walls: the sky is the solid angle of its opening, 160 × 32, 17.2 above the eye.
    a, b, d = 160.0, 32.0, 17.2
    omega = 4 * math.asin(a * b / math.sqrt((a * a + 4 * d * d) * (b * b + 4 * d * d)))
    assert bright.figure / 100 == pytest.approx(omega / (2 * math.pi), abs=0.02)
    (dark,) = picked(replace(on_receiver(), placements=()), "looks up")
    assert dark.severity == "note"


def test_rangers_that_hear_each_other() -> None:
    """Two rangers the same way read at once, or in turn too fast, are cautions; the remedies pass."""
    two = loco(
        with_window(48.0, 40.0), parts=(placed("more eyes", ranger(), "shunter", (154.0, 12.0, 30.0)),)
    )

    def reading(reads: str, interval: float) -> BuiltTrain:
        running = Running(300.0, reading_interval_s=interval, reads=reads)  # type: ignore[arg-type]
        return replace(two, train=replace(two.train, running=running))

    assert picked(reading("all", 0.1), "hear each other")
    assert picked(reading("front", 0.1), "hear each other") == []
    (fast,) = picked(reading("alternating", 0.03), "faster than")
    assert (fast.figure, fast.limit) == (30.0, 60.0)
    assert picked(reading("alternating", 0.06), "faster than") == []


def test_setback_counts_to_the_end_of_the_train() -> None:
    """The setback of a lens is measured to the coupling at the end that it looks at, on either side."""
    (front,) = eyes_of(loco(with_window(48.0, 40.0), 166.0))
    assert (front.setback, front.ahead) == (14.0, True)
    (rear,) = eyes_of(coupled("free end"))
    assert rear.ahead is False
    assert rear.setback == pytest.approx(4.0)  # the lens is flush with the rear, the coupling 4 mm beyond


@given(st.floats(150.0, 2000.0), st.booleans(), st.integers(0, 2), st.booleans())
@settings(max_examples=40, deadline=None)
def test_pivots_run_on_the_track(radius: float, left: bool, count: int, turned: bool) -> None:
    """On a curve both pivots of every vehicle lie on the circle that its bogies' pivots run on."""
    vehicles = [TrainVehicle(f"v{i}", vehicle(), turned and i == 1) for i in range(count + 1)]
    made: Train = replace(shuttle(), vehicles=tuple(vehicles))
    side = radius if left else -radius
    for name, stand in stands(made, side, "v0").items():
        shape = made.vehicle(name).vehicle
        points = np.array([[x, shape.width / 2] for x in shape.wheels.at])
        plan = stand.to_plan(points)
        assert np.hypot(plan[:, 0], plan[:, 1] - side) == pytest.approx(pivot_radius(shape, radius))
        middle = plan.mean(axis=0)
        assert math.hypot(middle[0], middle[1] - side) == pytest.approx(middle_radius(shape, radius))
        back = stand.from_plan(plan)
        assert np.allclose(back, points)


def test_the_curve_becomes_straight() -> None:
    """On a curve of a very large radius all vehicles stand as on straight track."""
    made = replace(shuttle(), vehicles=(TrainVehicle("a", vehicle()), TrainVehicle("b", vehicle(), True)))
    straight, wide = stands(made, None, "a"), stands(made, 1e7, "a")
    for name in ("a", "b"):
        assert straight[name].origin == pytest.approx(wide[name].origin, abs=0.02)
        assert straight[name].heading == pytest.approx(wide[name].heading, abs=1e-4)
    assert isinstance(straight["a"], CurvePose)
    assert straight["a"].origin == pytest.approx((-88.0, -24.0))


def test_ranger_figures_are_used() -> None:
    """A wider beam never has less hidden at the same window."""
    shares = []
    for half in (5.0, 15.0, 30.0):
        wide = replace(ranger(), electrical=(Ranger("sound", half, 20.0, 4000.0, 60.0),))
        eyes = placed("front eyes", wide, "shunter", (150.0, 10.0, 30.0))
        built = replace(loco(with_window(30.0, 14.0)), placements=(eyes,))
        shares.append(cast_beam(built, eyes, half, None, 2048).blocked)
    assert shares == sorted(shares)
    assert shares[0] < shares[-1]
    assert part("x").name == "x"


@pytest.mark.parametrize(("count", "blocked"), [(10, True), (11, False)])
def test_a_train_longer_than_the_circle_is_not_blocked_by_its_own_tail(count: int, blocked: bool) -> None:
    """On a circle of 2π·320 = 2011 mm ten vehicles (1832 mm) stand all at once, eleven (2016 mm) never do."""
    eyes = placed("eyes", ranger(), "v0", (164.0, 10.0, 30.0))
    shape = with_window(48.0, 40.0)
    vehicles = [TrainVehicle(f"v{i}", shape if i == 0 else vehicle(studs=(22, 8))) for i in range(count)]
    made = train([need("eyes", ranger())], [], vehicles, track=Track(radius=320.0))
    built = BuiltTrain(made, (eyes,), Harness(), ())
    length = max(made.starts().values()) + vehicle(studs=(22, 8)).length - min(made.starts().values())
    assert (length <= 2 * math.pi * 320) is blocked
    seen = cast_beam(built, eyes, 30.0, 320.0, 512)
    assert any(f"v{count - 1}" in name for name, _ in seen.by) is blocked
    assert not any("v10" in name for name, _ in seen.by)
