"""What rangers and receivers see at the limits of each rule: closed forms, and sights drawn by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fitplan.checks import looked_at, view
from fitplan.checks.beam import Sight, _open_share, _through_bars
from fitplan.checks.curve_help import turn_that_helps
from fitplan.checks.curve_view import (
    Bend,
    RangerView,
    _ahead,
    _edge,
    _foot,
    _lens,
    _pivot,
    bends,
    stand_on,
    stretch_met,
    watch_of,
    worst_stretch,
)
from fitplan.checks.ends import PlacedRanger
from fitplan.checks.looked_at import _light_sensors, _lights, _off_the_track, _pane, _unheard
from fitplan.checks.view import (
    DEFAULTS,
    _blind_zone,
    _clear_view,
    _crosstalk,
    _daylight,
    _of_eye,
    _on_face,
    _own_echo,
    _views,
    check_view,
    face_of,
)
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Emitter, Load, Ranger
from fitplan.model.found import Finding
from fitplan.model.needed import Need
from fitplan.model.operation import Running, Track
from fitplan.model.part import Mount, Part
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid, BuiltIn, Face, Removable, Vehicle, Window
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import box, need, part, ranger, train, vehicle

# -- along bent track --------------------------------------------------------------------------------------

R = 300.0
POINT = RangerView(0.0, 0.0, (0.0, 0.0), 15.0, 400.0, 48.0)


def circle(angle: float) -> tuple[float, float]:
    """A place of an arc to the left that begins at the origin along x."""
    return R * math.sin(angle), R * (1 - math.cos(angle))


@pytest.mark.parametrize(
    ("bend", "along", "expected"),
    [
        (Bend(0.0), 70.0, (70.0, 0.0)),
        (Bend(1 / R), 70.0, circle(70 / R)),
        (Bend(1 / R), -70.0, circle(-70 / R)),
        (Bend(1 / R, start=50.0), 20.0, (20.0, 0.0)),
        (Bend(1 / R, start=50.0), 120.0, (50 + circle(70 / R)[0], circle(70 / R)[1])),
        (Bend(1 / R, end=50.0), 20.0, circle(20 / R)),
        (
            Bend(1 / R, end=50.0),
            120.0,
            (
                circle(50 / R)[0] + 70 * math.cos(50 / R),
                circle(50 / R)[1] + 70 * math.sin(50 / R),
            ),
        ),
        (
            Bend(-1 / R, start=10.0, end=60.0),
            100.0,
            (
                10 + circle(50 / R)[0] + 40 * math.cos(50 / R),
                -circle(50 / R)[1] - 40 * math.sin(50 / R),
            ),
        ),
    ],
)
def test_places_of_a_track(bend: Bend, along: float, expected: tuple[float, float]) -> None:
    """Straight, arc, straight: one place at a time and many at once."""
    assert bend.point(along) == pytest.approx(expected)
    x, y, heading = bend.at(np.array([along, along + 1e-4]))
    assert (x[0], y[0]) == pytest.approx(expected)
    assert math.atan2(y[1] - y[0], x[1] - x[0]) == pytest.approx(heading[0], abs=1e-5)


@pytest.mark.parametrize("base", [0.0, 24.0])
@pytest.mark.parametrize("apart", [60.0, 120.0])
def test_pivots_on_a_circle(base: float, apart: float) -> None:
    """A bogie's pivot runs on R·cos(b/2R); pivots a chord apart are an angle of 2·asin(p/2r) apart."""
    watch = replace(POINT, pivot_distance=apart, wheelbase=base, lens=(90.0, 7.0))
    bend = Bend(1 / R)
    r = R * math.cos(base / 2 / R)
    for along in (0.0, 55.0):
        x, y = _pivot(bend, watch, along)
        assert math.hypot(x, y - R) == pytest.approx(r)
        turn = 2 * math.asin(apart / 2 / r)
        assert _ahead(bend, watch, along) - along == pytest.approx(R * turn, abs=1e-6)
        lx, ly, heading = stand_on(bend, watch, along)
        assert heading == pytest.approx(along / R + turn / 2, abs=1e-8)
        middle = r * math.cos(turn / 2)
        assert math.hypot(lx, ly - R) == pytest.approx(math.hypot(middle - 7.0, 90.0))
    alone = replace(watch, pivot_distance=0.0)
    assert stand_on(bend, alone, 55.0)[2] == pytest.approx(55 / R)


@pytest.mark.parametrize(("off", "guess"), [(0.0, 0.0), (-40.0, 30.0), (60.0, -30.0)])
def test_the_nearest_place_of_a_circle(off: float, guess: float) -> None:
    """On the ray from its centre, however far aside; on straight track straight beside."""
    angle = 0.2
    x, y = (R + off) * math.sin(angle), R - (R + off) * math.cos(angle)
    assert _foot(Bend(1 / R), x, y, R * angle + guess) == pytest.approx(R * angle, abs=1e-4)
    assert _foot(Bend(0.0), 12.5, off, 12.5 + guess) == pytest.approx(12.5, abs=1e-4)


@pytest.mark.parametrize(("unseen", "seen"), [(0.0, 2.0), (2.0, 0.0), (10.0, -6.0)])
def test_an_edge_is_found_to_a_thousandth(unseen: float, seen: float) -> None:
    """From either side; what is answered is met."""
    for share in (0.01, 0.3141, 0.77, 0.999):
        edge = unseen + share * (seen - unseen)
        side = math.copysign(1.0, seen - unseen)
        found = _edge(lambda at, e=edge, s=side: s * (at - e) >= 0, unseen, seen)  # type: ignore[misc]
        assert 0 <= side * (found - edge) <= 1.001e-3


def met(watch: RangerView, most: float = 500.0) -> tuple[float, float]:
    found = stretch_met(Bend(0.0), watch, 0.0, most)
    return found.nearest, found.farthest


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("half", [10.0, 30.0])
def test_straight_ahead_an_obstacle_is_met_as_in_a_triangle(side: float, half: float) -> None:
    """A lens beside what stands there meets it where its beam is as wide as it is off; up to its reach."""
    slope = math.tan(math.radians(half))
    watch = replace(POINT, half_angle_deg=half)
    assert met(watch) == pytest.approx((0.0, 400.0), abs=2e-3)
    inside = replace(watch, lens=(33.0, side * 23.0))
    assert met(inside) == pytest.approx((0.0, 400.0), abs=2e-3)
    beside = replace(watch, lens=(33.0, side * 34.0))  # 10 mm beyond half of 48 mm
    assert met(beside) == pytest.approx((10 / slope, math.sqrt(400**2 - 10**2)), abs=2e-3)
    assert met(beside, 5.0) == (0.0, 0.0)
    assert met(watch, 100.0)[1] == pytest.approx(100.0, abs=2.1)
    far = replace(watch, lens=(33.0, side * 24.0 + side * 400 * math.sin(math.radians(half)) + side * 1.0))
    assert met(far) == (0.0, 0.0)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_turned_ranger_loses_the_track(side: float) -> None:
    """By 20° with a beam of 15°: the inner edge leaves half of 48 mm at 24/tan 5°; toward it, it gains."""
    watch = replace(POINT, turned_deg=side * 20.0)
    assert met(watch)[1] == pytest.approx(24 / math.tan(math.radians(5)), abs=2e-3)
    away = replace(watch, turned_deg=side * 40.0)
    assert met(away)[1] == pytest.approx(24 / math.tan(math.radians(25)), abs=2e-3)
    toward = replace(watch, lens=(0.0, -side * 60.0), turned_deg=side * 20.0)
    near = 36 / math.tan(math.radians(35))
    assert met(toward)[0] == pytest.approx(near, abs=2e-3)


def test_all_places_about_a_curve() -> None:
    """From one length of the vehicle behind to as far as is asked, in steps of 20 mm or thirty of them."""
    watch = replace(POINT, pivot_distance=100.0)
    found = list(bends(watch, R, 200.0))
    assert found[0] == ("in the curve", Bend(1 / R))
    starts = [bend.start for where, bend in found if where == "where the curve begins"]
    ends = [bend.end for where, bend in found if where == "where the curve ends"]
    assert starts == ends == [-100.0 + 20 * i for i in range(16)]
    assert len(found) == 33
    long = list(bends(watch, R, 1100.0))
    assert [bend.start for _, bend in long[1::2]] == [-100.0 + 40 * i for i in range(31)]
    assert {bend.curvature for _, bend in found} == {1 / R}


def test_the_worst_place_and_side() -> None:
    """A lens to the left sees less of a curve to the right, and the other way round."""
    for side, name in ((1.0, "right"), (-1.0, "left")):
        watch = replace(POINT, pivot_distance=60.0, lens=(60.0, side * 20.0), obstacle=1.0)
        found = worst_stretch(watch, R, 300.0)
        assert found.where.endswith(f"to the {name}")
        both = [worst_stretch(watch, R, 300.0, (one,)).farthest for one in (1.0, -1.0)]
        assert found.farthest == min(both)
        mirrored = replace(watch, lens=(60.0, -side * 20.0))
        assert worst_stretch(mirrored, R, 300.0).farthest == pytest.approx(found.farthest, abs=2e-3)


def eye(
    one: Part | None = None, ahead: bool | None = True, name: str = "eye", placement: Placement | None = None,
    guards: bool = True, setback: float = 0.0, **figures: object,
) -> PlacedRanger:  # fmt: skip
    own = replace(Ranger("sound", 15.0, 20.0, 400.0, 60.0), **figures)  # type: ignore[arg-type]
    return PlacedRanger(name, one or ranger(), own, placement, setback, ahead, guards)


def train_of(
    *shapes: Vehicle, turned: bool = False, running: Running | None = None, **more: object
) -> BuiltTrain:
    vehicles = [TrainVehicle(one.name, one, turned) for one in shapes]
    made = train([need("eye", ranger())], [], vehicles, running=running or Running(300.0))
    return BuiltTrain(replace(made, **more), (), Harness(), ())  # type: ignore[arg-type]


@pytest.mark.parametrize("turned", [False, True])
def test_a_ranger_without_a_place_sits_at_its_window_or_the_end(turned: bool) -> None:
    """At the leading end, in the middle; at its window, seen the way that it looks."""
    one = train_of(vehicle(), turned=turned)
    entry, ahead, lens = _lens(one, eye())
    assert (entry.name, ahead) == ("shunter", True)
    assert lens == ((0.0 if turned else 176.0), 24.0, 0.0)
    watch = watch_of(one, eye(half_angle_deg=95.0))
    assert watch.lens == pytest.approx((88.0, 0.0))
    assert (watch.pivot_distance, watch.wheelbase, watch.obstacle) == (96.0, 24.0, 48.0)
    assert (watch.half_angle_deg, watch.reach) == (89.0, 400.0)
    gap = Window("gap", box(0, 10, 30, 8, 20, 40), "-x")
    made = train_of(vehicle(windows=(gap,)), turned=turned)
    needs = (replace(made.train.needs[0], looks=("shunter", "gap")),)
    made = replace(made, train=replace(made.train, needs=needs))
    entry, ahead, lens = _lens(made, eye())
    assert (ahead, lens) == (turned, (4.0, 15.0, 35.0))
    assert watch_of(made, eye()).lens == pytest.approx((84.0, 9.0))


# -- what the train hides ----------------------------------------------------------------------------------


def sight(blocked: float, nearest: float = math.inf, *by: tuple[str, float]) -> Sight:
    return Sight(blocked, nearest, by)


LAID = Placement("eye", ranger(), "shunter", Place(pose_named("+x+y+z"), (160.0, 2.0, 30.0)), "body")


@pytest.mark.parametrize(
    ("blocked", "severity", "limit"),
    [
        (0.05, "note", 5.0),
        (0.051, "caution", 5.0),
        (0.25, "caution", 5.0),
        (0.251, "stop", 25.0),
        (0.0, "note", 5.0),
    ],
)
def test_how_much_of_a_beam_may_be_hidden(blocked: float, severity: str, limit: float) -> None:
    """The worst of straight track and curves, with what hides most of it."""
    one = train_of(vehicle())
    views = [("straight", sight(0.0)), ("curve to the left", sight(blocked, math.inf, ("lamp", blocked)))]
    found = list(_of_eye(one, eye(placement=LAID, guards=False), views, DEFAULTS))
    (hidden,) = found
    assert (hidden.severity, hidden.figure, hidden.limit) == (severity, round(100 * blocked, 1), limit)
    if blocked:
        assert hidden.message.endswith(
            f"hides {100 * blocked:.0f} % of the beam of eye (curve to the left), most of it lamp"
        )
    else:
        assert hidden.message.endswith("of the beam of eye (straight)")
    assert (hidden.remedy == "nothing to do") is (severity == "note")


def test_what_clears_a_view() -> None:
    shape = vehicle(removables=(Removable("pane", 1.0),))
    one, own = train_of(shape), eye(placement=LAID)
    assert _clear_view(one, own, "pane") == "take out pane"
    assert _clear_view(one, own, "body").startswith("widen the window")
    assert _clear_view(one, own, "lamp") == "move eye clear of lamp, or higher up"


@pytest.mark.parametrize("looks", [True, False])
def test_a_beam_in_the_body_asks_for_a_window_where_none_is_named(looks: bool) -> None:
    """Windows at the ends are offered; of one that is named more width is asked for."""
    shape = vehicle(
        windows=(
            Window("nose", Box((72, 16, 32), (80, 32, 44)), "+x"),
            Window("side", Box((20, 0, 32), (40, 8, 44)), "-y"),
        )
    )
    one = train_of(shape)
    if looks:
        needs = tuple(replace(need, looks=(shape.name, "nose")) for need in one.train.needs)
        one = replace(one, train=replace(one.train, needs=needs))
    said = _clear_view(one, eye(placement=LAID), "body")
    if looks:
        assert said.startswith("widen the window")
    else:
        assert said == f"name the window that eye must look out of: `looks: {shape.name}/nose`"


@pytest.mark.parametrize(
    ("ahead", "said"),
    [
        (True, None),
        (False, "let eye look out of a window at the rear of the last vehicle, behind"),
    ],
)
def test_a_beam_that_meets_the_next_vehicle_looks_out_elsewhere(ahead: bool, said: str | None) -> None:
    """Of a train of two what looks back in the first is asked to do so in the last."""
    one = train_of(vehicle())
    (first,) = one.train.vehicles
    other = replace(first, name="behind")
    one = replace(one, train=replace(one.train, vehicles=(first, other)))
    own = replace(eye(placement=LAID), ahead=ahead)
    found = _clear_view(one, own, "body of behind")
    assert found == (said or "move eye clear of body of behind, or higher up")


@pytest.mark.parametrize(
    ("near", "blocked", "severity"),
    [
        (50.0, 0.03, "stop"),
        (50.0, 0.02, "caution"),
        (20.0, 0.03, "stop"),
        (19.9, 0.03, "caution"),  # within the blind zone of 20 mm
        (19.9, 0.02, None),
        (99.9, 0.03, "stop"),
        (100.0, 0.03, None),
        (math.inf, 0.0, None),
    ],
)
def test_an_echo_of_the_train_itself(near: float, blocked: float, severity: str | None) -> None:
    """Nearer than the trip distance, or the reach if that is less, from more than a fiftieth of the beam."""
    for trip, reach in ((100.0, 400.0), (300.0, 100.0)):
        one = train_of(vehicle(), running=Running(300.0, trip_distance=trip))
        own = eye(placement=LAID, reach_mm=reach)
        found = list(_own_echo(one, own, sight(blocked, near, ("lamp", blocked)), DEFAULTS))
        assert [f.severity for f in found] == ([severity] if severity else [])
        for f in found:
            assert (f.figure, f.limit) == (round(near, 1), 100.0)
            assert ("within its blind zone of 20 mm" in f.message) is (near < 20.0)
            assert f.remedy == "move eye clear of lamp, or higher up"
    bare = list(_own_echo(one, own, sight(0.03, 50.0), DEFAULTS))
    assert bare[0].remedy.startswith("widen the window")


@pytest.mark.parametrize(
    ("setback", "blind", "told"),
    [(0.0, 20.0, False), (0.0, 20.1, True), (5.0, 25.0, False), (-5.0, 20.1, True), (5.0, 26.0, True)],
)
def test_the_blind_zone_of_a_ranger_at_rest(setback: float, blind: float, told: bool) -> None:
    """A margin of 20 mm and how far the lens lies behind the end."""
    found = list(_blind_zone(train_of(vehicle()), eye(setback=setback, blind_mm=blind)))
    assert bool(found) is told
    for one in found:
        assert (one.figure, one.limit) == (blind, 20.0 + max(setback, 0.0))
        assert f"margin of at least {blind - max(setback, 0.0):.0f} mm" in one.remedy


def heard(reads: str, *eyes: PlacedRanger, interval: float = 0.05) -> list[Finding]:
    running = Running(300.0, reads=reads, reading_interval_s=interval)  # type: ignore[arg-type]
    return list(_crosstalk(train_of(vehicle(), running=running), eyes))


def test_rangers_that_hear_each_other() -> None:
    """Read at once: those that look one way, or whose beams make 180° and more; not light, not unknown."""
    a, b, back = eye(name="a"), eye(name="b"), eye(name="back", ahead=False)
    (one,) = heard("all", a, b)
    assert (one.where, one.figure, one.limit) == ("a, b", 0.0, 30.0)
    assert heard("all", a, back) == []
    wide = eye(name="wide", ahead=False, half_angle_deg=170.0)
    assert [(f.where, f.figure, f.limit) for f in heard("all", a, wide)] == [("a, wide", 180.0, 185.0)]
    assert heard("all", replace(a, figures=replace(a.figures, half_angle_deg=10.0)), wide) == []
    assert heard("all", a, eye(name="light", method="light")) == []
    assert heard("all", a, eye(name="x", ahead=None)) == heard("all", eye(name="x", ahead=None), a) == []
    assert [f.where for f in heard("all", eye(name="x", ahead=None), a, b)] == ["a, b"]
    assert heard("front", a, b) == []


@pytest.mark.parametrize(("interval", "told"), [(0.09, False), (0.089, True)])
def test_rangers_in_turn_wait_for_echoes_to_die_away(interval: float, told: bool) -> None:
    """The longest cycle of those that sound counts; of one alone nothing is to be heard."""
    a, slow = eye(name="a"), eye(name="slow", cycle_ms=90.0, ahead=False)
    light = eye(name="light", method="light", cycle_ms=900.0)
    found = heard("alternating", a, slow, light, interval=interval)
    assert bool(found) is told
    for one in found:
        assert (one.where, one.limit) == ("a, slow", 90.0)
        assert one.figure == pytest.approx(89.0)
        assert one.remedy.startswith("read every 90 ms or slower")
    assert heard("alternating", slow, light, interval=interval) == []


# -- emitters and receivers --------------------------------------------------------------------------------

SHINES = part(
    "emitter", Emitter(940.0, 17.0, 4000.0), size=(5.0, 5.0, 8.0), mount=Mount(sits="-z", needs_support=False)
)


def on_face(
    offset: tuple[float, float, float], pose: str = "+x+y+z", part_: Part = SHINES, out: str = "+z"
) -> list[Finding]:
    """An emitter on a receiver whose face of 6 by 8 mm is the top of a box, 30 mm high, about (50, 24)."""
    flat = {"+z": box(47, 20, 30, 53, 28, 30), "-z": box(47, 20, 38, 53, 28, 38)}[out]
    eye_ = BuiltIn("receiver", "receiver", (box(47, 20, 26, 53, 28, 30),), faces=(Face("top", flat, out),))  # type: ignore[arg-type]
    one = train_of(vehicle(built_in=(eye_,)))
    own = Need("emitter", (part_,), sits=("shunter", "receiver", "top"))
    lies = Placement("emitter", part_, "shunter", Place(pose_named(pose), offset), "body")
    return list(_on_face(one, own, lies, DEFAULTS))


@pytest.mark.parametrize(
    ("offset", "severity", "figure", "limit"),
    [
        ((47.5, 21.5, 30.0), "note", 0.0, 1.0),
        ((47.5, 21.5, 31.0), "note", 1.0, 1.0),
        ((47.5, 21.5, 31.1), "caution", 1.1, 1.0),
        ((47.5, 21.5, 29.0), "note", 0.0, 1.0),
        ((50.5, 21.5, 30.0), "note", 0.0, 1.0),  # half of the narrower side off
        ((50.6, 21.5, 30.0), "caution", 3.1, 3.0),
        ((47.5, 18.4, 30.0), "caution", 3.1, 3.0),
        ((49.3, 23.9, 30.0), "note", 0.0, 1.0),  # 1.8 and 2.4 mm are 3 mm
        ((49.3, 24.0, 30.0), "caution", 3.08, 3.0),
    ],
)
def test_an_emitter_on_its_face(
    offset: tuple[float, float, float], severity: str, figure: float, limit: float
) -> None:
    """Within a millimetre of it, and within half its narrower side of its middle."""
    lean, gap = on_face(offset)
    assert (lean.severity, lean.figure, lean.limit) == ("note", 0.0, 15.0)
    assert (gap.severity, gap.limit) == (severity, limit)
    assert gap.figure == pytest.approx(figure, abs=6e-3)
    assert (gap.remedy.startswith("bring it within 1 mm of the face and within 3.0 mm")) is (
        severity == "caution"
    )


def test_an_emitter_that_leans_or_lies_below() -> None:
    """A right angle is a stop; its own half angle counts where that is less; under a face as well."""
    lean, _ = on_face((47.5, 21.5, 30.0), "+z+y-x")
    assert (lean.severity, lean.figure) == ("stop", 90.0)
    narrow = replace(SHINES, electrical=(Emitter(940.0, 10.0, 4000.0),))
    assert on_face((47.5, 21.5, 30.0), part_=narrow)[0].limit == 10.0
    assert on_face((47.5, 21.5, 30.0), part_=replace(SHINES, electrical=()))[0].limit == 15.0
    assert on_face((47.5, 21.5, 30.0), part_=replace(SHINES, mount=Mount())) == []
    below, gap = on_face((47.5, 26.5, 37.0), "+x-y-z", out="-z")
    assert (below.severity, gap.severity, gap.figure) == ("note", "note", 1.0)
    below, gap = on_face((47.5, 26.5, 36.9), "+x-y-z", out="-z")
    assert (gap.severity, gap.figure) == ("caution", 1.1)


def test_faces_by_their_names() -> None:
    """Of several vehicles, things and faces the one that is named; None for another."""
    faces = (Face("a", box(0, 0, 0, 1, 1, 0), "+z"), Face("b", box(0, 0, 0, 1, 0, 1), "-y"))
    items = tuple(BuiltIn(name, "receiver", (box(0, 0, 0, 1, 1, 1),), faces=faces) for name in ("one", "two"))
    made = train_of(vehicle("x"), vehicle("y", built_in=items))
    found = face_of(made, "y", "two", "b")
    assert found is not None
    assert (found[0].name, found[1].name) == ("two", "b")
    assert face_of(made, "x", "two", "b") is None
    assert face_of(made, "y", "two", "c") is None


@pytest.mark.parametrize(("share", "severity"), [(0.3, "note"), (0.301, "caution")])
def test_daylight_on_receivers_that_look_up(
    share: float, severity: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Receivers alone, and their upper faces alone; with half of the rays."""
    asked: list[int] = []

    def sky(built: BuiltTrain, vehicle: str, face: Face, rays: int) -> float:
        asked.append(rays)
        return share

    monkeypatch.setattr(view, "sky_share", sky)
    faces = tuple(Face(out, box(0, 0, 0, 1, 1, 1), out) for out in ("-x", "+z", "-z"))
    items = tuple(
        BuiltIn(kind, kind, (box(0, 0, 0, 1, 1, 1),), faces=faces) for kind in ("motor", "receiver")
    )
    (one,) = _daylight(train_of(vehicle(built_in=items)), DEFAULTS)
    assert (one.severity, one.where, one.figure, one.limit) == (
        severity,
        "receiver (+z)",
        round(100 * share, 1),
        30.0,
    )
    assert asked == [1024]
    assert "sees 30 % of the sky" in one.message


# -- what is looked at -------------------------------------------------------------------------------------


def sensor(reach: float | None, half: float = 40.0, looks: bool = True, family: str = "sensor") -> Part:
    mount = Mount(looks="+x" if looks else None, needs_support=False)
    figures = () if reach is None else (Ranger("light", half, 1.0, reach, 10.0),)
    return part("x", Load(3.0, 5.5, 1.0, 1.0), *figures, family=family, mount=mount)


@pytest.mark.parametrize(
    ("own", "blocked", "nearest", "half"),
    [
        (sensor(None), 0.75, 40.0, 30.0),
        (sensor(99.0), 0.75, 40.0, 40.0),
        (sensor(100.0), 0.75, 40.0, None),  # reaches far enough to watch the way
        (sensor(None), 0.74, 40.0, None),
        (sensor(None), 0.75, 40.1, None),
        (sensor(None, looks=False), 0.75, 40.0, None),
        (sensor(None, family="ranger"), 0.75, 40.0, None),
    ],
)
def test_light_sensors_before_their_own_train(
    own: Part, blocked: float, nearest: float, half: float | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three quarters of what it sees within 40 mm, in its own cone or one of 30°; each by itself."""
    cones: list[float] = []

    def beam(built: BuiltTrain, placement: Placement, half_angle: float, radius: None, rays: int) -> Sight:
        cones.append(half_angle)
        return sight(blocked, nearest, ("wall", blocked))

    monkeypatch.setattr(looked_at, "cast_beam", beam)
    lies = [
        Placement(name, one, "shunter", Place(pose_named("+x+y+z"), (40.0, 14.0, 30.0)), "body")
        for name, one in (("first", sensor(None, family="ranger")), ("far", sensor(200.0)), ("x", own))
    ]
    found = list(_light_sensors(replace(train_of(vehicle()), placements=tuple(lies)), 64))
    assert [(one.where, one.figure, one.limit) for one in found] == (
        [("x", 100 * blocked, 75.0)] if half is not None else []
    )
    for one in found:
        assert cones == [half]
        assert f"looks at wall, {nearest:.1f} mm before it: {100 * blocked:.0f} % of" in one.message
        assert f"within {half:.0f}°" in one.source


@pytest.mark.parametrize(("share", "told"), [(0.46, False), (0.54, True), (0.8, True)])
def test_a_pane_before_a_part_of_the_lens(share: float, told: bool) -> None:
    """Of its 28 mm of width so much is behind the pane; a half and more hides it."""
    gap = Window("gap", box(168, 2, 30, 176, 46, 56), "+x")
    hole = BodySolid(gap.box, "outside")
    pane = BodySolid(box(170, 2, 30, 171, 10 + 28 * share, 56), "fixed")
    shape = vehicle(body=(*vehicle().body, hole, pane), windows=(gap,))
    lies = Placement("eye", ranger(), "shunter", Place(pose_named("+x+y+z"), (150.0, 2.0, 34.0)), "body")
    one = train_of(shape)
    needs = (replace(one.train.needs[0], looks=("shunter", "gap")),)
    one = replace(one, train=replace(one.train, needs=needs), placements=(lies,))
    found = list(_pane(one, eye(placement=lies), 1024))
    assert bool(found) is told
    for each in found:
        assert each.figure == pytest.approx(100 * share, abs=2.0)
        assert each.limit == 50.0
        assert each.remedy.startswith("take the pane out of gap")
    removable = replace(pane, state="removable", removable="glass")
    shape = replace(
        shape, body=(*shape.body[:-1], removable), removables=(Removable("x", 1.0), Removable("glass", 1.0))
    )
    vehicles = (TrainVehicle("shunter", shape),)
    for each in _pane(replace(one, train=replace(one.train, vehicles=vehicles)), eye(placement=lies), 1024):
        assert each.remedy == "take glass out"


def test_no_turn_helps_where_all_of_them_see_too_little() -> None:
    """A beam of 65° sees straight on at every turn to 60°, and never 134° round a circle."""
    wide = RangerView(96.0, 0.0, (66.0, 0.0), 65.0, 4000.0, 64.0)
    assert turn_that_helps(wide, 320.0, 1500.0) == 0


def test_a_ranger_of_short_reach_may_look_anywhere() -> None:
    """Of 100 mm and more it must look along the train."""
    down = Placement("eye", ranger(), "shunter", Place(pose_named("-z+y+x"), (80.0, 2.0, 50.0)), "body")
    for reach, told in ((99.0, 0), (100.0, 1)):
        found = list(_off_the_track(train_of(vehicle()), eye(placement=down, reach_mm=reach)))
        assert len(found) == told
    (low,) = _off_the_track(
        train_of(vehicle()),
        eye(placement=replace(down, place=Place(pose_named("-z+y+x"), (80.0, 2.0, 50.04)))),
    )
    assert low.figure == 38.0
    blind = replace(down, part=replace(ranger(), mount=Mount()))
    assert list(_off_the_track(train_of(vehicle()), eye(placement=blind))) == []
    up = replace(down, place=Place(pose_named("+z+y-x"), (80.0, 2.0, 50.0)))
    (one,) = _off_the_track(train_of(vehicle()), eye(placement=up))
    assert (one.severity, one.figure, one.limit, one.unit) == ("caution", 90.0, 0.0, "°")


def test_emitters_by_what_their_light_meets(monkeypatch: pytest.MonkeyPatch) -> None:
    """A receiver of its own vehicle by name, of another with both; unknown where nobody knows its front."""
    seen: list[tuple[str, float]] = []
    monkeypatch.setattr(looked_at, "cast_beam", lambda *_: sight(0.5, 9.0, *seen))
    lies = Placement("emitter", SHINES, "shunter", Place(pose_named("+x+y+z"), (40.0, 14.0, 30.0)), "body")
    one = replace(train_of(vehicle()), placements=(lies,))
    receivers = [("van", "ear"), ("shunter", "eye")]
    for name, meets in (("eye", True), ("ear of van", True), ("ear", False), ("eye of shunter", False)):
        seen[:] = [("wall", 0.4), (name, 0.1)]
        assert _lights(one, lies, 17.0, receivers, 8) is meets
    seen[:] = []
    assert not _lights(one, lies, 17.0, receivers, 8)
    unknown = replace(lies, part=replace(SHINES, mount=Mount()))
    assert _lights(one, unknown, 17.0, receivers, 8)
    # Told of each that sits on none: by a train without receivers, by light that meets none.
    made = replace(one.train, needs=(need("eye", ranger()), need("emitter", SHINES), need("more", SHINES)))
    found = list(_unheard(replace(one, train=made), 8))
    assert [f.where for f in found] == ["emitter", "more"]
    assert "no vehicle of the train has a receiver" in found[0].message
    ear = BuiltIn("ear", "receiver", (box(0, 0, 0, 1, 1, 1),))
    made = replace(made, vehicles=(TrainVehicle("shunter", vehicle(built_in=(ear,))),))
    (only,) = _unheard(replace(one, train=made), 8)
    assert only.where == "emitter"
    assert "seat it on ear of shunter" in only.remedy
    sits = tuple(replace(n, sits=("shunter", "ear", "top")) for n in made.needs)
    assert list(_unheard(replace(one, train=replace(made, needs=sits)), 8)) == []


def test_bars_hide_their_share_of_what_gets_past() -> None:
    """A quarter of what the train leaves of a beam; whole windows nothing."""
    plain = sight(0.2, 9.0, ("a", 0.15), ("b", 0.05))
    assert _through_bars(plain, 1.0) is plain
    found = _through_bars(plain, 0.75)
    assert found.blocked == pytest.approx(0.2 + 0.8 * 0.25)
    assert found.nearest == 9.0
    assert [name for name, _ in found.by] == ["bars", "a", "b"]
    assert dict(found.by)["bars"] == pytest.approx(0.2)
    equal = _through_bars(sight(0.2, 9.0, ("a", 0.2)), 0.75)
    assert [name for name, _ in equal.by] == ["a", "bars"]
    equal = _through_bars(sight(0.2, 9.0, ("pane", 0.2)), 0.75)
    assert [name for name, _ in equal.by] == ["bars", "pane"]
    gaps = (
        Window("plain", Box((0, 0, 0), (1, 1, 1)), "+x"),
        Window("barred", Box((0, 0, 0), (1, 1, 1)), "+x", 0.6),
    )
    one = train_of(vehicle(windows=gaps))
    for looks, share in (
        (("shunter", "barred"), 0.6),
        (("shunter", "plain"), 1.0),
        (("van", "barred"), 1.0),
        (None, 1.0),
    ):
        needs = (replace(one.train.needs[0], looks=looks),)
        assert _open_share(replace(one, train=replace(one.train, needs=needs)), LAID) == share


def test_views_of_a_train_and_their_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Straight alone for one vehicle or straight track; else both curves; three that hide in each row."""
    cast: list[float | None] = []

    def beam(
        built: BuiltTrain, placement: Placement, half: float, *, rays: int, radius: float | None
    ) -> Sight:
        cast.append(radius)
        return sight(0.1234, 55.55 if radius else math.inf, *((name, 0.04) for name in "abcd"))

    monkeypatch.setattr(view, "cast_beam", beam)
    for shapes, radius, expected in (
        ((vehicle(),), 320.0, [None]),
        ((vehicle(), vehicle("van")), 0.0, [None]),
        ((vehicle(), vehicle("van")), 0.5, [None, 0.5, -0.5]),
    ):
        cast.clear()
        one = train_of(*shapes, track=Track(radius))
        names = [name for name, _ in _views(one, LAID, 15.0, DEFAULTS)]
        assert cast == expected
        assert names == ["straight", "curve to the left", "curve to the right"][: len(expected)]
    needs = (need("lost", ranger()), need("eye", ranger()))
    one = replace(train_of(vehicle(), vehicle("van"), track=Track(320.0)), placements=(LAID,))
    outcome = check_view(replace(one, train=replace(one.train, needs=needs)))
    rows = outcome.tables[0].rows
    assert [row[1] for row in rows] == ["straight", "curve to the left", "curve to the right"]
    assert rows[0] == ("eye", "straight", 12.3, "none", "a 4 %, b 4 %, c 4 %")
    assert rows[1][3] == pytest.approx(55.55, abs=0.06)
    assert check_view(train_of(vehicle())).tables == ()
