"""All checks together: order, findings that are whole, and what runs without places."""

from __future__ import annotations

import math
import re
from dataclasses import FrozenInstanceError, fields, replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks import CHECKS, CheckSettings, run_checks, run_unplaced_checks
from fitplan.checks.curve_settings import CurveSettings
from fitplan.checks.view import ViewSettings
from fitplan.model.built import BuiltTrain
from fitplan.model.found import SEVERITIES, Outcome
from fitplan.model.operation import Running, Track
from fitplan.model.placed import Placement
from fitplan.model.proposed import FitRow
from fitplan.model.solids import Place, pose_named
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.wired import Harness, Leg, Unreached
from fitplan.pins.matching import match_pins
from tests.circuit.sample_parts import bank, board, cells, shuttle, vehicle
from tests.circuit.test_leads import wire


def placed(train: Train, harness: Harness | None = None) -> BuiltTrain:
    """Everything somewhere in the first vehicle, rangers looking out at its ends."""
    spots = {
        "front eyes": ("+x+y+z", (164.0, 2.0, 30.0)),
        "rear eyes": ("-x-y+z", (12.0, 46.0, 30.0)),
    }
    places = tuple(
        Placement(
            need.name,
            need.candidates[0],
            train.vehicles[0].name,
            Place(
                pose_named(spots.get(need.name, ("+x+y+z", None))[0]),
                spots.get(need.name, ("", (40.0, 10.0, 22.0)))[1],
            ),
            "body",
        )
        for need in train.needs
    )
    return BuiltTrain(train, places, harness or Harness(), match_pins(train, {}).uses)


def odd_trains() -> list[BuiltTrain]:
    """Trains that go wrong in many ways at once, so that every check has something to say."""
    vehicles = (TrainVehicle("shunter", vehicle()), TrainVehicle("wagon", vehicle(mass=900.0), True))
    found = []
    supplies = (
        cells(4, "nimh", 900.0, 0.1),
        cells(2, "li", 500.0, 0.3, max_ma=50.0),
        cells(8, "alkaline", 600.0, 0.9),
        bank(off_below=200.0),
    )
    boards = (
        board(plain=1, pwm=0),
        board(plain=3, logic=3.3, tolerant=False, current=150.0, peak=600.0, regulator=None),
        board(plain=9, current=300.0, peak=900.0),
    )
    tracks = (
        Track(200.0, True, 12.0, structure_half_width=20.0, structure_height=40.0),
        Track(40.0),
        Track(400.0),
    )
    for number, (supply, brain) in list(enumerate(product(supplies, boards)))[::2]:
        running = Running(
            600.0,
            margin=2.0,
            trip_distance=60.0 if number % 4 else 0.0,
            hours=40.0,
            reads=("all", "alternating")[number % 4 > 0],  # type: ignore[arg-type]
            reading_interval_s=0.02,
        )
        train = shuttle(
            brain,
            supply,
            emitter_ma=150.0,
            raw=number % 3 > 0,
            running=running,
        )
        train = replace(train, vehicles=vehicles, track=tracks[number % 3])
        harness = Harness(
            (
                wire(1, "battery", "cells.plus", "brain.VIN", 3000.0, 32),
                wire(2, "ground", "cells.minus", "brain.GND", 3000.0, 32, "ground"),
            ),
            unreached=(Unreached("lamp", "lamp", "IN", "no way"),),
        )
        found.append(placed(train, harness))
    return found


ODD = odd_trains()


@pytest.fixture(scope="module")
def outcomes() -> list[tuple[Outcome, ...]]:
    return [run_checks(built) for built in ODD]


def test_subjects_are_in_order_and_all_there() -> None:
    """The checks are those of the list, each once, and their outcomes carry their subject."""
    assert [one.subject for one in CHECKS] == [
        "places", "preferences", "nets", "asked", "pins", "supply", "heat", "gaps", "view", "stopping",
        "measured", "curves", "balance", "support",
        "wire", "leads", "access", "safety", "wiring",
    ]  # fmt: skip
    assert [one.subject for one in run_checks(placed(shuttle()))] == [one.subject for one in CHECKS]


def test_every_finding_is_whole(outcomes: list[tuple[Outcome, ...]]) -> None:
    """Every finding has a figure, a limit, a unit, a place, a remedy and a source, in plain words."""
    findings = [f for every in outcomes for outcome in every for f in outcome.findings]
    assert len(findings) > 120
    for one in findings:
        assert one.severity in SEVERITIES
        assert math.isfinite(one.figure), one
        assert math.isfinite(one.limit), one
        for text in (one.subject, one.where, one.message, one.unit, one.remedy, one.source):
            assert text.strip() == text, one
            assert text, one
        for text in (one.message, one.remedy):
            assert not re.match(r"[A-Z][a-z]+ [a-z]", text), text
            assert not text.endswith("."), text
        assert "nan" not in one.message + one.remedy
        assert "inf " not in one.message + one.remedy
        if one.severity != "note":
            assert one.remedy != "nothing to do", one
    seen = {(one.subject, one.severity) for one in findings}
    for subject in ("pins", "supply", "heat", "view", "stopping", "curves", "balance", "wire"):
        assert (subject, "stop") in seen, subject


def test_stops_and_cautions_are_past_their_limit(outcomes: list[tuple[Outcome, ...]]) -> None:
    """A stop or a caution never stands on a figure that equals its limit."""
    for every in outcomes:
        for outcome in every:
            for one in outcome.findings:
                if one.severity != "note":
                    assert one.figure != one.limit, one


def test_tables_and_plots_are_whole(outcomes: list[tuple[Outcome, ...]]) -> None:
    """Every row of a table has a field for each column, every curve as many x as y, all finite."""
    for every in outcomes:
        for outcome in every:
            for table in outcome.tables:
                for row in table.rows:
                    assert len(row) == len(table.columns), table.title
                    assert all(math.isfinite(field) for field in row if isinstance(field, float))
            for plot in outcome.plots:
                for curve in plot.curves:
                    assert len(curve.x) == len(curve.y) > 0, plot.title
                    assert all(map(math.isfinite, (*curve.x, *curve.y)))


def test_same_train_same_outcomes() -> None:
    """Checks depend on nothing but the train."""
    assert run_checks(ODD[0]) == run_checks(ODD[0])


def test_checks_without_places() -> None:
    """Checks that need no places run on a bare train and find the clash of pins."""
    train = ODD[0].train
    outcomes = run_unplaced_checks(train)
    subjects = [one.subject for one in outcomes]
    assert subjects == ["nets", "asked", "pins", "supply", "gaps", "stopping", "measured", "curves", "safety"]
    assert any(one.severity == "stop" for one in outcomes[2].findings)


def test_settings_are_frozen_and_explained() -> None:
    """Every setting of every check is frozen, has a default, and is explained in its class's docstring."""
    every = CheckSettings()
    # What may come out for access is said in the train file, need by need; wiring words what routing found.
    without = ("access", "asked", "gaps", "leads", "measured", "nets", "places", "preferences", "wiring")
    assert [field.name for field in fields(every)] == [c.subject for c in CHECKS if c.subject not in without]
    for field in fields(every):
        one = getattr(every, field.name)
        for inner in fields(one):
            assert inner.name in (type(one).__doc__ or ""), f"{field.name}.{inner.name}"
            with pytest.raises(FrozenInstanceError):
                setattr(one, inner.name, None)


def test_settings_reach_their_checks() -> None:
    """A stricter setting turns notes into stops through the common entry."""
    strict = CheckSettings(curves=CurveSettings(rail_gap=500.0, wheel_gap=500.0))
    wires = Harness(
        (replace(wire(1, "lamp", "a.x", "b.y"), legs=(Leg("shunter", ((20, 24, 30), (60, 24, 30))),)),)
    )
    built = placed(shuttle(), wires)

    def stops(chosen: CheckSettings) -> int:
        outcome = next(one for one in run_checks(built, settings=chosen) if one.subject == "curves")
        return sum(one.severity == "stop" for one in outcome.findings)

    assert stops(strict) > stops(CheckSettings())


@given(
    st.builds(
        Track,
        radius=st.floats(1.0, 5000.0),
        reverse_curve=st.booleans(),
        gradient_percent=st.floats(0.0, 100.0),
        gauge=st.floats(5.0, 100.0),
        structure_half_width=st.floats(1.0, 300.0),
        structure_height=st.floats(1.0, 300.0),
    ),
    st.builds(
        Running,
        speed=st.floats(1.0, 5000.0),
        deceleration=st.floats(1.0, 5000.0),
        reading_interval_s=st.floats(0.001, 5.0),
        command_delay_s=st.floats(0.0, 5.0),
        temperature_c=st.floats(-40.0, 60.0),
        trip_distance=st.sampled_from([0.0, 1.0, 160.0, 9000.0]),
        margin=st.floats(0.0, 500.0),
        hours=st.floats(0.1, 500.0),
        reads=st.sampled_from(["front", "alternating", "all"]),
    ),
)
@settings(max_examples=25, deadline=None)
def test_any_track_and_any_running_gets_answers(track: Track, running: Running) -> None:
    """Whatever the track and the running, every check answers with whole findings."""
    base = ODD[0]
    built = replace(base, train=replace(base.train, track=track, running=running))
    quick = CheckSettings(view=ViewSettings(rays=64))
    for outcome in run_checks(built, settings=quick):
        for one in outcome.findings:
            assert math.isfinite(one.figure), one
            assert math.isfinite(one.limit), one
            assert "nan" not in one.message + one.remedy


def test_rows_that_are_still_being_found_out_are_asked_for_once_and_last() -> None:
    """All checks but that of supplies are run by then; it comes to the same as with rows at hand."""
    asked: list[int] = []

    def rows() -> tuple[FitRow, ...]:
        asked.append(1)
        return ()

    assert run_checks(ODD[0], rows) == run_checks(ODD[0])
    assert asked == [1]
    assert [check.subject for check in CHECKS if check.needs_fit] == ["supply"]
