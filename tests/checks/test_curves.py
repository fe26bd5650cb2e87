"""Curves: handbook examples, closed forms, and trains that foul something before the remedy and not after."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.curves import Throw, check_curves, throw_of
from fitplan.checks.on_curve import stands
from fitplan.checks.outline import Outline, hull_gap, hull_of, outline_of
from fitplan.checks.wire_clearance import wheel_room
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.operation import Track
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Place, Vec, pose_named
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BodySolid, Coupling, Vehicle, Wheels
from fitplan.model.wired import Crossing, Harness, Leg
from tests.circuit.sample_parts import box, need, part, train, vehicle
from tests.circuit.test_leads import wire

BARE = Harness()


def built(
    *shapes: Vehicle,
    track: Track | None = None,
    parts: tuple[Placement, ...] = (),
    harness: Harness = BARE,
) -> BuiltTrain:
    vehicles = [TrainVehicle(f"v{i}", shape) for i, shape in enumerate(shapes or (vehicle(),))]
    needs = [need(one.need, one.part) for one in parts]
    made = train(needs, [], vehicles, track=track or Track(radius=320.0))
    return BuiltTrain(made, parts, harness, ())


def picked(one: BuiltTrain, severity: str, word: str = "") -> list[Finding]:
    return [f for f in check_curves(one).findings if f.severity == severity and word in f.message]


def lamp_at(offset: Vec, size: Vec = (10.0, 10.0, 10.0)) -> Placement:
    return Placement("side lamp", part("lamp", size=size), "v0", Place(pose_named("+x+y+z"), offset), "body")


def center_throw(radius: float, pivot_distance: float) -> float:
    """Return how far the middle between the pivots lies inside the curve: R − √(R² − C²/4), about C²/(8R)."""
    return radius - math.sqrt(radius**2 - pivot_distance**2 / 4)


def line_throw(radius: float, pivots: float, length: float) -> Throw:
    """Return the throws of a vehicle without width, its pivots as far from either end."""
    ahead = (length - pivots) / 2
    one = vehicle(wheels=Wheels("axles", (ahead, ahead + pivots), (True, True), 8.5))
    ends = np.array([[x, one.width / 2, 0.0] for x in 4 * [0.0] + 4 * [length]])
    return throw_of(one, Outline(ends, ("body",) * 8), radius)


@pytest.mark.parametrize("radius", [80.0, 160.0, 400.0])
def test_throw_of_a_railway_carriage(radius: float) -> None:
    """C 14.785 m, L 21.34 m: 27.32/R inwards, 29.60/R m outwards (railway engineering text)."""
    assert center_throw(radius, 14.785) == pytest.approx(27.32 / radius, rel=0.003)
    throw = line_throw(radius, 14.785, 21.34)
    assert throw.inside == pytest.approx(27.32 / radius, rel=0.003)
    assert throw.outside == pytest.approx(29.60 / radius, rel=0.005)


@given(st.floats(200.0, 5000.0), st.floats(20.0, 150.0), st.floats(0.0, 100.0))
@settings(max_examples=60, deadline=None)
def test_throws_become_the_approximations(radius: float, pivots: float, overhang: float) -> None:
    """Exact throws differ from C²/(8R) and (L² − C²)/(8R) by no more than the next term of the series."""
    length = pivots + overhang
    term = (length / 2) ** 4 / (2 * radius**3)
    assert abs(center_throw(radius, pivots) - pivots**2 / (8 * radius)) <= term
    throw = line_throw(radius, pivots, length)
    assert abs(throw.inside - pivots**2 / (8 * radius)) <= term
    assert abs(throw.outside - (length**2 - pivots**2) / (8 * radius)) <= term


def test_throw_with_width_in_closed_form() -> None:
    """A box of width w: inside reaches w/2 plus the centre throw, outside the far corner on its circle."""
    wheels = Wheels("axles", (40.0, 136.0), (True, True), 8.5)
    shape = vehicle(wheels=wheels)
    one = built(shape)
    throw = throw_of(shape, outline_of(one, "v0"), 320.0)
    assert throw.inside == pytest.approx(24.0 + center_throw(320.0, 96.0))
    middle = math.sqrt(320.0**2 - 48.0**2)
    assert throw.outside == pytest.approx(math.hypot(middle + 24.0, 88.0) - 320.0)
    assert throw.outside_by == "body"


def test_a_side_lamp_fouls_the_structure() -> None:
    """A lamp that sticks out at the end is a stop that names it; moved in as the remedy says it passes."""
    lamp = lamp_at((160.0, 50.0, 40.0))
    (stop,) = picked(built(parts=(lamp,)), "stop")
    assert "side lamp" in stop.message
    assert stop.figure > stop.limit == 40.0
    by = float(stop.remedy.split("inwards by ")[1].split(" mm")[0])
    moved = lamp_at((160.0, 50.0 - by, 40.0))
    assert picked(built(parts=(moved,)), "stop") == []
    radius = float(stop.remedy.split("at least ")[1].split(" mm")[0])
    assert picked(built(parts=(lamp,), track=Track(radius=radius)), "stop") == []


def test_a_tall_part_fouls_the_structure_height() -> None:
    """A mast above the structure height is a stop, one below it is none."""
    assert picked(built(parts=(lamp_at((80, 20, 60), (5, 5, 70)),)), "stop", "above the rail")
    assert not picked(built(parts=(lamp_at((80, 20, 60), (5, 5, 50)),)), "stop", "above the rail")


def test_a_curve_too_sharp_for_the_wheels() -> None:
    """A radius within half the wheel base cannot be run; the remedy's radius can."""
    (stop,) = picked(built(track=Track(radius=50.0)), "stop", "does not go round")
    assert stop.limit == 60.0
    assert picked(built(track=Track(radius=90.0)), "stop", "does not go round") == []


def short_coupled(length: float) -> Vehicle:
    hooks = (Coupling("front", 168.0, 10.0, length), Coupling("rear", 8.0, 10.0, length))
    return vehicle(couplings=hooks)


def test_neighbours_touch_in_the_curve_and_not_with_a_longer_coupling() -> None:
    """Short couplings let the corners touch in a 320 mm curve; lengthened as proposed they clear."""
    tight = built(short_coupled(2.0), short_coupled(2.0))
    (stop,) = picked(tight, "stop", "overlap")
    assert "in the curve" in stop.message
    more = float(stop.remedy.split("coupling by ")[1].split(" mm")[0])
    assert picked(built(short_coupled(2.0 + more), short_coupled(2.0)), "stop") == []
    assert picked(built(short_coupled(2.0 + more - 0.5), short_coupled(2.0)), "stop")
    straight = built(short_coupled(2.0), short_coupled(2.0), track=Track(radius=3000.0))
    assert picked(straight, "stop") == []


def test_reverse_curve_is_tried_when_there_is_one() -> None:
    """With a reverse curve the corners on alternate sides are tried too, and the least gap is not larger."""
    plain = check_curves(built(short_coupled(8.0), short_coupled(8.0)))
    reverse = check_curves(
        built(short_coupled(8.0), short_coupled(8.0), track=Track(radius=320.0, reverse_curve=True))
    )

    def gap(outcome: object) -> float:
        return next(f.figure for f in outcome.findings if "outlines" in f.message)  # type: ignore[attr-defined]

    assert gap(reverse) <= gap(plain)


def test_what_sticks_out_at_other_heights_does_not_touch() -> None:
    """A low buffer and a high lamp pass over each other; at one height they touch."""

    def facing(height: float) -> BuiltTrain:
        buffer = BodySolid(box(-6, 8, 20, 0, 40, 28), "fixed")
        lamp = BodySolid(box(176, 8, height, 182, 40, height + 8), "fixed")
        ahead = vehicle(body=(*vehicle().body, buffer), couplings=short_coupled(5.0).couplings)
        behind = vehicle(body=(*vehicle().body, lamp), couplings=short_coupled(5.0).couplings)
        return built(ahead, behind, track=Track(radius=3000.0))

    assert picked(facing(24.0), "stop", "overlap")
    assert picked(facing(40.0), "stop") == []


@given(st.floats(200.0, 1000.0), st.booleans(), st.booleans())
@settings(max_examples=30, deadline=None)
def test_couplings_are_taut(radius: float, left: bool, reverse: bool) -> None:
    """In any curve the pivots of two couplings are as far apart as on straight track."""
    one = built(short_coupled(6.0), short_coupled(6.0)).train
    where = stands(one, radius if left else -radius, "v0", reverse)
    ahead = where["v0"].to_plan(np.array([[8.0, 24.0]]))[0]
    behind = where["v1"].to_plan(np.array([[168.0, 24.0]]))[0]
    assert math.dist(ahead, behind) == pytest.approx(8 + 6 + 6 + 8)


@given(
    st.lists(st.tuples(st.floats(-9, 9), st.floats(-9, 9)), min_size=3, max_size=8),
    st.lists(st.tuples(st.floats(-9, 9), st.floats(-9, 9)), min_size=3, max_size=8),
    st.floats(-30, 30),
)
@settings(max_examples=80, deadline=None)
def test_gap_of_outlines(
    one: list[tuple[float, float]], other: list[tuple[float, float]], shift: float
) -> None:
    """The gap of two hulls is symmetric, and no pair of points sampled on them is closer than it says."""
    a, b = hull_of(np.array(one)), hull_of(np.array(other) + np.array([shift, 0.0]))
    if len(a) < 3 or len(b) < 3:
        return
    gap = hull_gap(a, b)
    assert gap == pytest.approx(hull_gap(b, a), abs=1e-9)
    shares = np.linspace(0, 1, 21)[:, None, None]

    def border(points: np.ndarray) -> np.ndarray:
        return (points + shares * (np.roll(points, -1, axis=0) - points)).reshape(-1, 2)

    pairs = np.linalg.norm(border(a)[:, None] - border(b)[None], axis=2).min()
    if gap > 0:
        assert pairs >= gap - 1e-9
        assert pairs <= gap + 2.0
    moved = hull_gap(a, b + np.array([0.0, 100.0]))
    assert moved > 0


def test_gap_of_squares() -> None:
    """Unit squares: apart by 2, touching, and overlapping by 0.25."""
    square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
    assert hull_gap(square, square + np.array([3.0, 0.0])) == pytest.approx(2.0)
    assert hull_gap(square, square + np.array([2.0, 2.0])) == pytest.approx(math.sqrt(2))
    assert hull_gap(square, square + np.array([1.0, 0.0])) == pytest.approx(0.0)
    assert hull_gap(square, square + np.array([0.75, 0.1])) == pytest.approx(-0.25)


def routed(*points: Vec) -> Harness:
    made = replace(wire(1, "battery", "a.x", "b.x"), legs=(Leg("v0", points),))
    return Harness((made,))


def test_wires_at_wheels_and_rails() -> None:
    """A wire through the wheels' room or down at the rail is a stop; above the frame it passes."""
    through = routed((20.0, 24.0, 20.0), (28.0, 24.0, 10.0), (60.0, 24.0, 20.0))
    assert picked(built(harness=through), "stop", "wheels")
    hanging = routed((90.0, 24.0, 20.0), (90.0, 24.0, 1.5))
    assert picked(built(harness=hanging), "stop", "rail head")
    above = routed((20.0, 24.0, 22.0), (150.0, 24.0, 22.0))
    assert picked(built(harness=above), "stop") == []


def test_swept_wheels_contain_every_pose_of_the_bogie() -> None:
    """Corners of wheels and points of the axle, turned up to the curve's swing, lie in the swept room."""
    shape = vehicle()
    rooms = wheel_room(shape, 38.0, 320.0)
    swing = math.asin(96.0 / 640.0)
    wheelbase, r = 24.0, shape.wheels.wheel_radius
    places = [pivot + side for pivot in shape.wheels.at for side in (-wheelbase / 2, wheelbase / 2)]
    assert len(rooms) == 3 * len(places)
    for number, place in enumerate(places):
        pivot, own = shape.wheels.at[number // 2], rooms[3 * number : 3 * number + 3]
        points = [(dx, dy, 2 * r) for dx in (-r, r) for dy in (-24.0, -19.0, 19.0, 24.0)]
        points += [(dx, dy, r + 2.5) for dx in (-2.5, 2.5) for dy in np.linspace(-19.0, 19.0, 9).tolist()]
        for angle in np.linspace(-swing, swing, 9):
            for dx, dy, z in points:
                off = place - pivot + dx
                x = pivot + off * math.cos(angle) - dy * math.sin(angle)
                y = 24.0 + off * math.sin(angle) + dy * math.cos(angle)
                assert any(
                    all(
                        a - 1e-9 <= v <= b + 1e-9
                        for a, v, b in zip(one.low, (x, y, z), one.high, strict=True)
                    )
                    for one in own
                )


def test_a_wire_between_the_wheels_clears_the_axle_alone() -> None:
    """Half-way between the wheels a wire may lie lower than beside a wheel, but not on the axle."""
    rigid = replace(vehicle(), wheels=replace(vehicle().wheels, kind="axles", bogie_wheelbase=0.0))
    over, beside, low = (
        routed((rigid.wheels.at[0], 24.0, z), (rigid.wheels.at[0], y, z))
        for y, z in ((25.0, 16.0), (44.0, 16.0), (25.0, 12.0))
    )
    assert picked(built(rigid, harness=over), "stop", "wheels") == []
    assert picked(built(rigid, harness=beside), "stop", "wheels")
    assert picked(built(rigid, harness=low), "stop", "wheels")


def test_a_bundle_that_hangs_on_the_rails() -> None:
    """A bundle whose underside sags to the rail is a stop; as long as a clip is asked for it is a caution."""
    low = Crossing("c", "v0", "v1", "p", "q", (1,), 3.0, 20.0, 40.0, "curve", 0.4, True)
    shapes = (short_coupled(12.0), short_coupled(12.0))
    (stop,) = picked(built(*shapes, harness=Harness(crossings=(low,))), "stop", "hangs")
    assert (stop.figure, stop.remedy) == (
        0.4,
        "use ports 2 mm farther up, or write less slack over couplings",
    )
    (caution,) = picked(
        built(*shapes, harness=Harness(crossings=(replace(low, sag_above_rail_mm=2.0),))), "caution", "hangs"
    )
    assert "clip it up" in caution.remedy
    high = replace(low, sag_above_rail_mm=10.0, clip=False)
    told = built(*shapes, harness=Harness(crossings=(high,)))
    assert picked(told, "stop") == picked(told, "caution", "hangs") == []


def test_roof_box_counts_as_body() -> None:
    """A body solid beyond the footprint counts in the outline; drawn as clear it does not."""
    wide = BodySolid(box(60, -10, 40, 100, 58, 60), "fixed")
    shape = vehicle(body=(*vehicle().body, wide))
    clear = vehicle(body=(*vehicle().body, BodySolid(wide.solid, "outside")))
    assert throw_of(shape, outline_of(built(shape), "v0"), 320.0).inside > 34.0
    assert throw_of(clear, outline_of(built(clear), "v0"), 320.0).inside < 30.0
    assert isinstance(wide.solid, Box)


@pytest.mark.parametrize("radius", [200.0, 320.0, 900.0])
def test_throw_against_a_body_placed_on_the_curve(radius: float) -> None:
    """Points spread over every solid and put on the curve lie nowhere farther out or in, and reach it."""
    step = BodySolid(box(60, 44, 18, 90, 54, 22), "fixed")
    shape = vehicle(studs=(22, 6), body=(*vehicle().body, step))
    made = built(shape, track=Track(radius=radius))
    throw = throw_of(shape, outline_of(made, "v0"), radius)
    away = []
    for turn in (radius, -radius):
        stand = stands(made.train, turn, "v0")["v0"]
        for entry in shape.body:
            low, high = entry.solid.bounds.low, entry.solid.bounds.high
            xs, ys = (np.linspace(low[axis], high[axis], 1201) for axis in (0, 1))
            rim = [(x, y) for x in xs for y in (low[1], high[1])] + [
                (x, y) for y in ys for x in (low[0], high[0])
            ]
            plan = stand.to_plan(np.array(rim))
            away.append(np.hypot(plan[:, 0], plan[:, 1] - turn) - radius)
    every = np.concatenate(away)
    assert throw.outside == pytest.approx(float(every.max()), abs=0.01)
    assert throw.inside == pytest.approx(-float(every.min()), abs=0.01)


def test_the_body_reaches_out_and_not_a_wheel_on_its_rail() -> None:
    """Wheels stay on their rails: even wide ones are not named, nor do they set the figure; the body is."""
    shape = vehicle(studs=(22, 4), wheels=Wheels("bogies", (40.0, 136.0), (True, False), 8.5, 24.0))
    made = built(shape)
    throw = throw_of(shape, outline_of(made, "v0"), 320.0)
    assert (throw.outside_by, throw.inside_by) == ("body", "body")
    assert throw.outside == pytest.approx(math.hypot(88, math.sqrt(320**2 - 12**2 - 48**2) + 16) - 320)
    lamp = throw_of(shape, outline_of(built(shape, parts=(lamp_at((80.0, 30.0, 30.0)),)), "v0"), 320.0)
    assert lamp.inside_by == "side lamp"
