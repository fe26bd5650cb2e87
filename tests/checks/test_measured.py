"""Measured stops: fitted as scipy fits them, bounded by Student's t, and held against drawn stops."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from fitplan.checks.braking import beyond_mean
from fitplan.checks.measured import check_measured
from fitplan.errors import InputError
from fitplan.files.find import find_train
from fitplan.files.measured import resized
from fitplan.files.read import read_train
from fitplan.model.built import BuiltTrain
from fitplan.model.measured import StoppingFit, StopRun, stopping_fit
from fitplan.model.student import student_bound, student_share
from fitplan.model.train import Train
from fitplan.model.wired import Harness

STOPS = """
measured:
  - {date: 2026-05-16, speed: {seconds: [4.1, 4.0, 3.9]}}
  - date: 2026-05-17
    braking:
      - {speed: 120, stops: [34, 37, 31]}
      - {speed: 180, stops: [62, 66, 65]}
      - {speed: 240, stops: [101, 96, 104]}
    chance: 2 %
  - {date: 2026-05-17, part: controller-compact-5v, size: [46, 18.5, 12], current: 41 mA}
  - {date: 2026-05-17, vehicle: shunter, mass: 260 g}
"""


@pytest.mark.parametrize("freedom", [1, 2, 3, 7, 30, 400])
def test_students_t_as_scipy_has_it(freedom: int) -> None:
    """Shares and bounds against scipy.stats, from the middle to one in a million."""
    for chance in (0.5, 0.2, 0.05, 0.01, 1e-4, 1e-6):
        assert student_bound(chance, freedom) == pytest.approx(
            stats.t.isf(chance, freedom), rel=1e-8, abs=1e-9
        )
    for t in (-30.0, -2.0, -0.1, 0.0, 0.4, 3.0, 50.0):
        assert student_share(t, freedom) == pytest.approx(stats.t.cdf(t, freedom), rel=1e-9, abs=1e-14)


def test_the_fit_is_that_of_least_squares() -> None:
    """Against numpy's least squares and the closed form of a prediction interval."""
    draw = random.Random(3)
    runs = [
        StopRun(v, 0.1 * v + v * v / 1000 + draw.gauss(0, 3)) for v in (100, 150, 200, 300) for _ in range(4)
    ]
    fit = stopping_fit(runs)
    assert isinstance(fit, StoppingFit)
    x = np.array([[run.speed, run.speed**2] for run in runs])
    y = np.array([run.run_mm for run in runs])
    beta, rest, *_ = np.linalg.lstsq(x, y, rcond=None)
    assert (fit.delay_s, 1 / (2 * fit.deceleration)) == pytest.approx(tuple(beta), rel=1e-6)
    spread = math.sqrt(float(rest[0]) / (len(runs) - 2))
    assert fit.spread_mm == pytest.approx(spread, rel=1e-6)
    here = np.array([250.0, 250.0**2])
    wide = spread * math.sqrt(1 + here @ np.linalg.inv(x.T @ x) @ here)
    bound = here @ beta + stats.t.isf(0.01, len(runs) - 2) * wide
    assert fit.bound(250.0, 0.01) == pytest.approx(float(bound), rel=1e-6)
    assert fit.chance_beyond(250.0, float(bound)) == pytest.approx(0.01, rel=1e-5)


def test_drawn_stops_go_beyond_the_bound_as_often_as_chosen() -> None:
    """Four thousand trains are measured and stopped once more: one in twenty goes beyond, within chance."""
    draw = random.Random(7)
    beyond, trains, chance = 0, 4_000, 0.05
    for _ in range(trains):
        runs = [
            StopRun(v, 0.12 * v + v * v / 900 + draw.gauss(0, 4)) for v in (120, 180, 240) for _ in range(3)
        ]
        fit = stopping_fit(runs)
        assert isinstance(fit, StoppingFit)
        beyond += 0.12 * 250 + 250**2 / 900 + draw.gauss(0, 4) > fit.bound(250.0, chance)
    assert abs(beyond - chance * trains) < 4 * math.sqrt(trains * chance * (1 - chance))


def test_stops_that_no_brake_makes_are_told() -> None:
    """One speed is too few; runs that shrink with the speed are none; a delay below nothing is nothing."""
    assert isinstance(stopping_fit([StopRun(200, 80), StopRun(200, 82), StopRun(200, 81)]), str)
    assert isinstance(stopping_fit([StopRun(100, 90), StopRun(200, 80), StopRun(300, 60)]), str)
    fit = stopping_fit([StopRun(100, 9.9), StopRun(200, 40.2), StopRun(300, 90.5)])
    assert isinstance(fit, StoppingFit)
    assert (fit.delay_s, fit.freedom) == (0.0, 2)
    assert fit.deceleration == pytest.approx(500, rel=0.02)
    assert fit.bound(300, 0.1) == pytest.approx(
        fit.mean(300)
        + stats.t.isf(0.1, 2) * fit.spread_mm * math.sqrt(1 + 300**4 / (100**4 + 200**4 + 300**4))
    )


def _written(folder: Path, block: str) -> Train:
    for file in find_train("harbour-line").parent.glob("*.yaml"):
        (folder / file.name).write_bytes(file.read_bytes())
    path = folder / "train.yaml"
    path.write_text(path.read_text(encoding="utf-8") + block, encoding="utf-8")
    return read_train(path)


def test_measured_figures_go_before_typical_ones(tmp_path: Path) -> None:
    """Speed, brake, mass, current and outline are those that were measured; the report says which are not."""
    train = _written(tmp_path, STOPS)
    typical = read_train(find_train("harbour-line"))
    assert train.running.speed == pytest.approx(250.0, abs=0.01)
    fit = stopping_fit(train.measured.stops)
    assert isinstance(fit, StoppingFit)
    assert train.running.deceleration == pytest.approx(fit.deceleration, abs=0.001)
    assert train.running.command_delay_s == pytest.approx(fit.delay_s, abs=1e-5)
    assert train.vehicle("shunter").vehicle.mass_g == 260
    board = next(part for part in train.need("brain").candidates if part.id == "controller-compact-5v")
    assert board.bounds.size == pytest.approx((46, 18.5, 12))
    assert not board.typical
    outcome = check_measured(BuiltTrain(train, (), Harness(), ()))
    said = {row[0]: row[2] for row in outcome.tables[0].rows}
    assert said["speed"] == said["deceleration"] == said["mass of shunter"] == "measured"
    assert said["mass of ice wagon"] == "typical"
    assert beyond_mean(train) == pytest.approx(fit.bound(250.0, 0.02) - fit.mean(250.0), rel=1e-4)
    assert beyond_mean(typical) == 0.0
    assert check_measured(BuiltTrain(typical, (), Harness(), ())).findings == ()


def test_a_resized_part_is_the_same_drawing(tmp_path: Path) -> None:
    """To its own size it is itself; twice as long, its pins lie twice as far along."""
    for part in read_train(find_train("harbour-line")).catalogue.values():
        assert resized(part, part.bounds.size).bounds.size == pytest.approx(part.bounds.size, abs=1e-3)
        long, wide, high = part.bounds.size
        twice = resized(part, (2 * long, wide, high))
        for pin, other in zip(part.pins, twice.pins, strict=True):
            assert other.at[0] - part.bounds.low[0] == pytest.approx(
                2 * (pin.at[0] - part.bounds.low[0]), abs=1e-3
            )
            assert other.at[1:] == pytest.approx(pin.at[1:], abs=1e-3)


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("{date: yesterday, vehicle: shunter, mass: 260 g}", "'yesterday'"),
        ("{date: 2026-05-17, vehicle: shunt, mass: 260 g}", "the unknown vehicle 'shunt'"),
        ("{date: 2026-05-17, part: controller-compact, mass: 9 g}", "the unknown part 'controller-compact'"),
        ("{date: 2026-05-17, part: wire-awg28, current: 9 mA}", "a current of wire-awg28"),
        ("{date: 2026-05-17}", "nothing that was measured"),
        ("{date: 2026-05-17, vehicle: shunter, size: [1, 2, 3]}", "no figure of the vehicle"),
        (
            "{date: 2026-05-17, braking: [{speed: 200, stops: [80, 81]}]}",
            "stops that no braking follows from",
        ),
    ],
)
def test_mistakes_in_what_was_measured_are_told(tmp_path: Path, line: str, found: str) -> None:
    """Each with the line that it stands in."""
    with pytest.raises(InputError) as told:
        _written(tmp_path, f"measured:\n  - {line}\n")
    assert [mistake.found for mistake in told.value.mistakes] == [found]
    assert all(mistake.line for mistake in told.value.mistakes)


def test_the_chance_is_weighed(tmp_path: Path) -> None:
    """A smaller chance asks for more room; a trip distance that is set too low is a caution."""
    train = _written(tmp_path, STOPS)
    rare = replace(train, measured=replace(train.measured, chance=0.001))
    assert beyond_mean(rare) > beyond_mean(train) > 0
