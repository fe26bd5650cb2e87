"""Stopping: published distances, closed forms, and a train that crashes before and not after the remedy."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.sound import sound_speed
from fitplan.checks.stopping import (
    Braking,
    braking_of,
    check_stopping,
    look_ahead,
    proposed_trip,
    reading_interval,
    safe_speed,
    stopping_distance,
    trip_distance,
)
from fitplan.model.electrical import Ranger
from fitplan.model.plan import BuiltTrain, Harness
from fitplan.model.train import Running, Track, TrainVehicle
from fitplan.model.vehicle import Window
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
    braking = Braking(t, a, math.inf if light else sound_speed(20), offset)
    assert safe_speed(trip_distance(v, braking), braking) == pytest.approx(v, rel=1e-6)


@given(st.floats(50.0, 600.0), st.floats(0.05, 0.3), st.floats(200.0, 2000.0))
@settings(max_examples=40, deadline=None)
def test_a_simulated_train_stops_at_its_margin(v: float, delay: float, a: float) -> None:
    """A train moved in small time steps, with sound flying to a wall, comes to rest at the margin."""
    margin, c = 20.0, sound_speed(20)
    trip = trip_distance(v, Braking(delay, a, c, margin))
    # The worst case: the reading starts at the trip distance and the wall answers after the whole way back.
    time, step, left, speed = 0.0, 1e-4, trip, v
    brake_at = delay + 2 * trip / c
    while speed > 0:
        if time >= brake_at:
            speed = max(0.0, speed - a * step)
        left -= speed * step
        time += step
    assert left == pytest.approx(margin, abs=0.2)


@given(st.floats(50.0, 2000.0), st.floats(1.0, 60.0))
@settings(max_examples=60, deadline=None)
def test_look_ahead_lies_on_the_circle(radius: float, half: float) -> None:
    """The point at the look-ahead distance along the beam's edge lies on the curve's middle line."""
    chord, angle = look_ahead(radius, half), math.radians(half)
    x, y = chord * math.cos(angle), chord * math.sin(angle)
    assert math.hypot(x, y - radius) == pytest.approx(radius)


def test_rangers_in_turn_wait_for_each_other() -> None:
    """Reading the ranger ahead takes one interval, reading in turn one for each, never below the cycle."""
    running = Running(300.0, reading_interval_s=0.1)
    assert reading_interval(running, 2, 60.0) == 0.1
    assert reading_interval(running, 2, 150.0) == 0.15
    assert reading_interval(replace(running, reads="alternating"), 2, 60.0) == 0.2
    assert reading_interval(replace(running, reads="all"), 2, 60.0) == 0.12


def test_a_train_that_crashes_and_the_same_after_the_remedy() -> None:
    """160 mm with ten readings a second is too little at 400 mm/s; both proposed remedies make it pass."""
    running = Running(400.0, deceleration=600.0, trip_distance=160.0)
    outcome = check_stopping(built(running))
    stops = [one for one in outcome.findings if one.severity == "stop"]
    assert len(stops) == 2
    assert stops[0].figure > stops[0].limit == 160.0
    braking = braking_of(running, ranger().electrical[0], 2, 0.0)  # type: ignore[arg-type]
    fastest = safe_speed(160.0, braking)
    assert f"{fastest:.0f} mm/s" in stops[0].remedy
    longer = math.ceil(stops[0].figure / 10) * 10
    assert f"{longer} mm" in stops[0].remedy
    for mended in (
        replace(running, trip_distance=float(longer)),
        replace(running, speed=math.floor(fastest)),
    ):
        assert all(one.severity != "stop" for one in check_stopping(built(mended)).findings)


def test_reach_and_curve() -> None:
    """Too short a reach is a stop; a curve out of which the beam looks is a caution with a speed."""
    fast = check_stopping(built(Running(300.0, trip_distance=5000.0)))
    assert any(one.severity == "stop" and one.limit == 4000.0 for one in fast.findings)
    sharp = check_stopping(built(Running(500.0), Track(radius=320.0)))
    cautions = [one for one in sharp.findings if one.severity == "caution"]
    assert {one.where for one in cautions} == {"front eyes", "rear eyes"}
    assert cautions[0].limit == pytest.approx(2 * 320 * math.sin(math.radians(15)), abs=0.05)
    wide = check_stopping(built(Running(500.0), Track(radius=1000.0)))
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
        return any(one.severity == "stop" for one in outcome.findings)

    assert not stops(trip)
    assert stops(trip - 10)
    train = shuttle()
    blind = replace(train, needs=tuple(one for one in train.needs if "eyes" not in one.name))
    assert proposed_trip(BuiltTrain(blind, (), Harness(), ())) == 0.0
