"""Stopping: published distances, closed forms, and a train that crashes before and not after the remedy."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.braking import (
    Braking,
    advised_speed,
    braking_of,
    frame_wait_s,
    grip_of,
    reading_interval,
    safe_speed,
    stopping_distance,
    trip_distance,
)
from fitplan.checks.ends import eyes_of
from fitplan.checks.sound import sound_speed
from fitplan.checks.stopping import check_stopping, proposed_trip
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Ranger
from fitplan.model.operation import Running, Track
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import Window
from fitplan.model.wired import Harness
from tests.checks.stopping_simulation import random_run, stops_at, train_of
from tests.circuit.sample_parts import box, need, ranger, shuttle, vehicle


def built(running: Running, track: Track | None = None) -> BuiltTrain:
    train = shuttle(running=running)
    return BuiltTrain(replace(train, track=track or train.track), (), Harness(), ())


@pytest.mark.parametrize(
    ("kmh", "metres"),
    # Green Book 2018, t = 2.5 s, a = 3.4 m/s²: from memory, not confirmed.
    [(20, 18.5), (30, 31.2), (40, 46.2), (60, 83.0), (80, 129.0), (90, 155.5), (100, 184.2)],
)
def test_road_stopping_distances(kmh: int, metres: float) -> None:
    """The formula gives the road engineers' table to 0.8 %, by which its rounded constants are off.

    The table is reckoned as 0.278·V·t + 0.039·V²/a with V in km/h; 1/25.92 is 0.0386.
    """
    assert 0.278 * kmh * 2.5 + 0.039 * kmh**2 / 3.4 == pytest.approx(metres, abs=0.06)
    assert stopping_distance(kmh / 3.6, 2.5, 3.4) == pytest.approx(metres, rel=0.008)


@pytest.mark.parametrize(("celsius", "metres"), [(0, 331.30), (20, 343.21), (30, 349.02)])
def test_speed_of_sound(celsius: float, metres: float) -> None:
    """Speed of sound at 0, 20 and 30 °C as a secondary text quotes it (331.3·√(1 + T/273.15))."""
    assert sound_speed(celsius) / 1000 == pytest.approx(metres, abs=0.005)


def test_sound_needs_58_microseconds_for_a_centimetre() -> None:
    """There and back over 10 mm takes 58.275 µs at 343.2 m/s (own arithmetic; data sheets say 58)."""
    assert 2 * 10 / sound_speed(20) * 1e6 == pytest.approx(58.275, abs=0.01)


@given(
    st.floats(20.0, 900.0),
    st.floats(0.0, 0.5),
    st.floats(100.0, 3000.0),
    st.floats(0.0, 100.0),
    st.booleans(),
)
@settings(max_examples=100, deadline=None)
def test_safe_speed_undoes_trip_distance(v: float, t: float, a: float, offset: float, light: bool) -> None:
    """The highest safe speed for the trip distance that a speed needs is that speed."""
    braking = Braking(t, t / 2, a, math.inf if light else sound_speed(20), offset)
    assert safe_speed(trip_distance(v, braking), braking) == pytest.approx(v, rel=1e-6)


@given(
    st.floats(30.0, 900.0),
    st.floats(0.0, 0.5),
    st.floats(100.0, 3000.0),
    st.floats(0.0, 29.0),
    st.booleans(),
)
@settings(max_examples=100, deadline=None)
def test_the_speed_that_is_told_stops_in_time(
    trip: float, t: float, a: float, offset: float, light: bool
) -> None:
    """At the whole speed that is told the trip distance is enough, and one more is too fast."""
    braking = Braking(t, t / 2, a, math.inf if light else sound_speed(20), offset)
    told = advised_speed(trip, braking)
    assert trip_distance(told, braking) <= trip < trip_distance(told + 1, braking)


@pytest.mark.parametrize("seed", range(30))
def test_a_simulated_train_stops_at_its_margin(seed: int) -> None:
    """Random trains in time steps, readings at their worst phase: at rest the margin is left, and no more.

    With play in the couplings the reckoned distance is a bound, as impacts take energy out of the train.
    """
    run, margin = random_run(seed), 20.0
    one = train_of(run, margin)
    (eye,) = (eye for eye in eyes_of(one) if eye.need == "eyes")
    trip = trip_distance(run.speed, braking_of(one, eye))
    left = stops_at(run, trip, phases=100)
    assert left > margin - 0.3
    if run.play == 0 or len(run.bodies) == 1:
        assert left < margin + 0.3
    # The next smaller reading does not do: what is asked is needed.
    if run.play == 0:
        assert stops_at(run, trip - 5.0, phases=100) < margin - 3.0


def test_five_per_cent_downhill_take_most_of_the_brake() -> None:
    """600 mm/s² on the level are 110 on 5 %: g·sin θ is 489.7 mm/s² (own arithmetic)."""
    level = Track(radius=0.0)
    flat, steep = built(Running(250.0), level), built(Running(250.0), replace(level, gradient_percent=5.0))
    assert grip_of(steep).fall == pytest.approx(9806.65 * 0.05 / math.sqrt(1.0025))
    assert grip_of(steep).downhill == pytest.approx(600 - 489.72, abs=0.01)
    assert grip_of(steep).uphill == pytest.approx(600 + 489.72, abs=0.01)
    more = 250**2 / (2 * 110.28) - 250**2 / (2 * 600)
    (one, other) = (trip_distance(250.0, braking_of(train, eyes_of(train)[0])) for train in (flat, steep))
    assert other - one == pytest.approx(more, rel=0.002)
    outcome = check_stopping(steep)
    made = next(table for table in outcome.tables if "made of" in table.title)
    up, even, down = (float(made.rows[0][made.columns.index(name)]) for name in (
        "braking uphill", "on the level", "downhill",
    ))  # fmt: skip
    assert up < even < down == pytest.approx(250**2 / (2 * 110.28), abs=0.1)


def test_too_steep_to_stop() -> None:
    """Where the fall gives more than the brake takes, no distance helps; the gradient named does."""
    steep = Track(radius=0.0, gradient_percent=8.0)
    (stop,) = check_stopping(built(Running(250.0), steep)).findings
    assert (stop.severity, stop.figure) == ("stop", 600.0)
    assert stop.limit > 600.0
    allowed = float(stop.remedy.split("less than ")[1].split(" %")[0])
    flatter = replace(steep, gradient_percent=allowed - 0.2)
    assert grip_of(built(Running(250.0), flatter)).downhill > 0
    assert grip_of(built(Running(250.0), replace(steep, gradient_percent=allowed + 0.1))).downhill < 0


def test_wheels_hold_no_more_than_adhesion_lets_them() -> None:
    """300 g, half of them driven, hold 0.25·g/2 = 1226 mm/s²; the ballast that is named mends it."""
    running, level = Running(250.0, deceleration=1500.0), Track(radius=0.0)
    (caution,) = (f for f in check_stopping(built(running, level)).findings if "slide" in f.message)
    assert caution.severity == "caution"
    assert caution.figure == pytest.approx(0.25 * 9806.65 / 2, abs=0.1)
    grams = float(caution.remedy.split("put ")[1].split(" g")[0])
    assert 0.25 * 9806.65 * (150 + grams) / (300 + grams) == pytest.approx(1500.0, rel=0.01)
    assert grip_of(built(Running(250.0), level)).slides is False


def test_a_median_and_lost_frames_cost_readings_and_frames() -> None:
    """Median of five: three readings; two frames lost: twice the wait; without an emitter there are none."""
    one = built(Running(300.0, lost_frames=0))
    eye = eyes_of(one)[0]

    def way(running: Running) -> float:
        return trip_distance(300.0, braking_of(built(running), eye))

    plain = way(Running(300.0, lost_frames=0))
    assert way(Running(300.0, lost_frames=0, median=5)) - plain == pytest.approx(300 * 0.1 * 2, rel=0.005)
    assert way(Running(300.0, lost_frames=2)) - plain == pytest.approx(300 * 0.2, rel=0.005)
    wired = tuple(need for need in one.train.needs if need.name != "emitter")
    assert frame_wait_s(replace(one, train=replace(one.train, needs=wired))) == 0.0


def test_a_ranger_that_is_never_read() -> None:
    """A reading order without a ranger that watches the way is a stop of its own."""
    outcome = check_stopping(built(Running(300.0, reading_order=("front eyes",))))
    assert [
        f.where for f in outcome.findings if f.severity == "stop" and "along the track" not in f.message
    ] == ["rear eyes"]
    read = check_stopping(built(Running(300.0, speed_in_curves=50.0))).findings
    assert all(f.severity != "stop" for f in read)


def test_rangers_in_turn_wait_for_each_other() -> None:
    """Reading the ranger ahead takes one interval, reading in turn one for each, never below the cycle."""
    running = Running(300.0, reading_interval_s=0.1)
    two = {"a": 60.0, "b": 60.0}
    assert reading_interval(running, "a", two) == 0.1
    assert reading_interval(running, "a", {"a": 150.0, "b": 150.0}) == 0.15
    assert reading_interval(replace(running, reads="alternating"), "a", two) == 0.2
    assert reading_interval(replace(running, reads="alternating"), "a", {"a": 60.0, "b": 150.0}) == 0.25
    assert reading_interval(replace(running, reads="all"), "a", two) == 0.12
    rota = replace(running, reading_order=("a", "b", "a", "a", "c"))
    cycles = {"a": 60.0, "b": 60.0, "c": 300.0}
    assert reading_interval(rota, "a", cycles) == pytest.approx(0.4)
    assert reading_interval(rota, "b", cycles) == pytest.approx(0.7)
    assert reading_interval(replace(rota, median=3), "a", cycles) == pytest.approx(0.6)  # a c a b a
    assert reading_interval(replace(rota, median=5), "a", cycles) == pytest.approx(0.7)
    assert math.isinf(reading_interval(rota, "d", cycles))


def test_a_train_that_crashes_and_the_same_after_the_remedy() -> None:
    """160 mm with ten readings a second is too little at 400 mm/s; both proposed remedies make it pass."""
    running = Running(400.0, deceleration=600.0, trip_distance=160.0)
    outcome = check_stopping(built(running))
    stops = [one for one in outcome.findings if one.severity == "stop" and "hits" in one.message]
    assert len(stops) == 2
    assert stops[0].figure > stops[0].limit == 160.0
    one = built(running)
    braking = braking_of(one, eyes_of(one)[0])
    fastest = advised_speed(160.0, braking)
    assert f"{fastest} mm/s" in stops[0].remedy
    longer = math.ceil(stops[0].figure / 10) * 10
    assert f"{longer} mm" in stops[0].remedy
    for mended in (
        replace(running, trip_distance=float(longer)),
        replace(running, speed=fastest),
    ):
        again = check_stopping(built(mended)).findings
        assert all(one.severity != "stop" for one in again if "along the track" not in one.message)


def test_reach_and_curve() -> None:
    """Too short a reach is a stop; a curve out of which the beam looks is one with a speed."""
    fast = check_stopping(built(Running(300.0, trip_distance=5000.0)))
    assert any(one.severity == "stop" and one.limit == 4000.0 for one in fast.findings)
    sharp = check_stopping(built(Running(500.0), Track(radius=320.0)))
    blind = [one for one in sharp.findings if "along the track" in one.message]
    assert {(one.where, one.severity) for one in blind} == {("front eyes", "stop"), ("rear eyes", "stop")}
    assert blind[0].figure > blind[0].limit > 0
    slow = float(blind[0].remedy.split("no faster than ")[1].split(" mm/s")[0])
    for speed, severity in ((slow, "note"), (slow + 1, "stop")):
        for running in (Running(speed), Running(500.0, speed_in_curves=speed)):
            again = check_stopping(built(running, Track(radius=320.0)))
            assert {f.severity for f in again.findings if "along the track" in f.message} == {severity}
    wide = check_stopping(built(Running(500.0), Track(radius=5000.0)))
    assert all(one.severity == "note" for one in wide.findings)


def test_table_agrees_with_the_formula() -> None:
    """A field of the table says safe exactly where the speed is at most its column's fastest safe one."""
    outcome = check_stopping(built(Running(400.0, trip_distance=160.0)))
    table = outcome.tables[0]
    *rows, fastest = table.rows
    assert {row[0] for row in rows} >= {100.0, 400.0, 600.0}
    for row in rows:
        for field, limit in zip(row[1:], fastest[1:], strict=True):
            assert str(field).startswith("safe") == (float(row[0]) <= float(limit) + 0.5)
    assert outcome.plots[0].limits[-1] == ("trip distance set", 160.0)


def test_no_ranger_no_finding() -> None:
    """A train without rangers has nothing to say about stopping."""
    train = shuttle()
    needs = tuple(one for one in train.needs if "eyes" not in one.name)
    empty = BuiltTrain(replace(train, needs=needs), (), Harness(), ())
    assert check_stopping(empty).findings == ()


def test_sensors_that_do_not_watch_the_way_are_left_out() -> None:
    """A sensor that reaches 15 mm, or looks out sideways, does not decide where the train stops."""
    near = replace(ranger("near"), electrical=(Ranger("light", 16.0, 0.5, 15.0, 1.0),))
    base = shuttle()
    hall = replace(base, needs=(*base.needs, need("track sensor", near)))
    assert {one.where for one in check_stopping(BuiltTrain(hall, (), Harness(), ())).findings} == {
        "front eyes",
        "rear eyes",
    }
    side = Window("side gap", box(80, 40, 30, 100, 48, 40), "+y")
    shape = vehicle(windows=(side,))
    looks = replace(need("side eyes", ranger()), looks=("shunter", "side gap"))
    sideways = replace(base, vehicles=(TrainVehicle("shunter", shape),), needs=(*base.needs, looks))
    assert "side eyes" not in {
        one.where for one in check_stopping(BuiltTrain(sideways, (), Harness(), ())).findings
    }


def test_the_proposed_trip_distance_is_safe_and_round() -> None:
    """What is proposed passes when it is set, and ten millimetres less does not; a set one is kept."""
    running = Running(400.0)
    trip = proposed_trip(built(running))
    assert trip % 10 == 0
    assert proposed_trip(built(replace(running, trip_distance=123.0))) == 123.0

    def stops(distance: float) -> bool:
        outcome = check_stopping(built(replace(running, trip_distance=distance)))
        return any(one.severity == "stop" and "hits" in one.message for one in outcome.findings)

    assert not stops(trip)
    assert stops(trip - 10)
    train = shuttle()
    blind = replace(train, needs=tuple(one for one in train.needs if "eyes" not in one.name))
    assert proposed_trip(BuiltTrain(blind, (), Harness(), ())) == 0.0
