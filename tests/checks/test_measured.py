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
from fitplan.circuit.currents import source_current
from fitplan.circuit.measured_draw import as_measured as draws_as_measured
from fitplan.circuit.supply import build_supply
from fitplan.errors import InputError
from fitplan.files.find import find_train
from fitplan.files.measured import resized
from fitplan.files.measured_room import with_room
from fitplan.files.read import read_train
from fitplan.model.as_built import AsBuilt, BuiltEnd, BuiltLeg, BuiltPart, BuiltWire, as_measured
from fitplan.model.built import BuiltTrain
from fitplan.model.measured import StoppingFit, StopRun, stopping_fit
from fitplan.model.solids import Box
from fitplan.model.student import student_bound, student_share
from fitplan.model.train import Train
from fitplan.model.vehicle import BodySolid, Vehicle, Wheels
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import shuttle

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


FILE = """
measured:
  - {date: 2026-06-01, coupling: [ice wagon, shunter], free: 91}
  - {date: 2026-06-01, part: ranger-two-eyed-bare, current: 9 mA}
  - {date: 2026-06-02, vehicle: shunter, room: {at: [80, 24, 50], towards: front, free: 62.5}}
  - {date: 2026-06-02, wire: 7, cut: 88}
  - {date: 2026-06-02, built in: shunter/motor, current: 190 mA, stall: 800 mA}
"""


def test_what_is_measured_may_stand_in_a_file(tmp_path: Path) -> None:
    """It counts as in the train file, is one of the plan's files, and its mistakes have its lines."""
    beside, own = tmp_path / "beside", tmp_path / "own"
    for folder in (beside, own):
        folder.mkdir()
    (beside / "measured.yaml").write_text(STOPS, encoding="utf-8")
    train = _written(beside, "measured: measured.yaml\n")
    assert train.measured == _written(own, STOPS).measured
    assert "measured.yaml" in {file.name for file in train.files}
    (beside / "measured.yaml").write_text("measured:\n  - {date: 2026-05-17, wire: none}\n", encoding="utf-8")
    with pytest.raises(InputError) as told:
        read_train(beside / "train.yaml")
    assert [(m.path.name, m.line) for m in told.value.mistakes] == [("measured.yaml", 2)]
    (beside / "measured.yaml").unlink()
    with pytest.raises(InputError) as told:
        read_train(beside / "train.yaml")
    assert [m.path.name for m in told.value.mistakes] == ["train.yaml"]


def test_lengths_and_what_is_built_in_as_measured(tmp_path: Path) -> None:
    """A coupling goes by its vehicles, either first; the motor draws what it was measured to draw."""
    train = _written(tmp_path, FILE)
    known = train.measured.coupling("shunter", "ice wagon")
    assert known is not None
    assert (known.free_mm, known.vehicles) == (91, ("shunter", "ice wagon"))
    motor = train.built_in("shunter/motor")
    assert motor is not None
    assert (motor.current_ma, motor.stall_ma) == (190, 800)
    assert set(train.measured.drawn) == {"ranger-two-eyed-bare", "shunter/motor"}
    leg = BuiltLeg("shunter", ((0, 0, 0), (9, 0, 0)))
    wire = BuiltWire(7, "ground", "BK", 26, 95.0, BuiltEnd("splice", "S1"), BuiltEnd("splice", "S2"), (leg,))
    built = AsBuilt(wires=(wire, replace(wire, number=8)))
    assert [one.cut_mm for one in as_measured(built, train.measured, {}).wires] == [88, 95]


def test_wires_end_where_pins_of_a_measured_part_lie(tmp_path: Path) -> None:
    """The wire's end and its lead-out go with the pin, the rest of its way stays; twice is the same."""
    train = _written(tmp_path, STOPS)
    typical = read_train(find_train("harbour-line")).catalogue["controller-compact-5v"]
    pin, now = typical.pins[0], train.catalogue["controller-compact-5v"].pins[0]
    x, y, z = pin.at
    leg = BuiltLeg("shunter", ((x + 20, y, z + 5), (x + 20, y, z + 10), (60, y, z + 10), (60, y, 5)))
    ends = BuiltEnd("pin", "brain", pin.name), BuiltEnd("splice", "S1")
    built = AsBuilt(
        parts=(BuiltPart("brain", "controller-compact-5v", "shunter", "+x+y+z", (20, 0, 5)),),
        wires=(BuiltWire(1, "ground", "BK", 26, 95.0, *ends, (leg,)),),
    )
    made = as_measured(built, train.measured, train.catalogue)
    points = made.wires[0].legs[0].points
    assert points[0] == pytest.approx((now.at[0] + 20, now.at[1], now.at[2] + 5), abs=1e-3)
    assert points[0] != leg.points[0]
    assert np.subtract(points[1], points[0]) == pytest.approx((0, 0, 5), abs=1e-3)
    assert points[2:] == leg.points[2:]
    assert as_measured(made, train.measured, train.catalogue) == made


@pytest.mark.parametrize(("free", "low", "high"), [(62.5, 78.5, 80.0), (65.0, 80.0, 81.0), (64.0, 0, 0)])
def test_a_room_is_as_long_as_it_was_measured(free: float, low: float, high: float) -> None:
    """One wall moves by the difference; it leaves a passage beside it alone, and moves 4 mm at most."""
    car = Vehicle(
        "car", "wagon", 12, 6, 0.0, 40.0, "smooth",
        (
            BodySolid(Box((0, 0, 0), (96, 48, 40)), "fixed"),
            BodySolid(Box((16, 8, 8), (80, 40, 32)), "free"),
            BodySolid(Box((80, 16, 8), (96, 24, 16)), "free"),
        ),
        (), (), (), (), (), (), Wheels("axles", (20, 76), (True, False), 8.0), (), 50.0, (48, 24, 20),
    )  # fmt: skip
    made, said = with_room(car, (40, 30, 20), "+x", free)
    assert made is not None
    assert said == "64.0 mm"
    moved = made.body[3:]
    planes = [(one.solid.bounds.low[0], one.solid.bounds.high[0]) for one in moved]
    assert planes == ([(low, high)] if low else [])
    for one in moved:
        assert isinstance(one.solid, Box)
        assert one.solid.low[1:] == (8, 8)
        assert one.solid.high[1:] == (40, 32)
    narrow, _ = with_room(car, (40, 20, 20), "+x", 62.5)
    assert narrow is not None
    assert narrow.body[-1].solid.bounds.low == pytest.approx((78.5, 8, 16), abs=0.06)
    assert with_room(car, (40, 30, 20), "+x", 50)[0] is None
    assert with_room(car, (40, 30, 4), "+x", 64)[0] is None


def test_draws_add_up_to_what_a_supply_gives() -> None:
    """All typical averages are taken by one factor; what was measured itself stays, and peaks never fall."""
    train = shuttle()
    (tree,) = build_supply(train, {}).trees
    for current in (0.7, 1.0, 1.9):
        wanted = current * source_current(tree).average_ma
        made = draws_as_measured(tree, wanted, frozenset({"brain"}))
        assert source_current(made).average_ma == pytest.approx(wanted, rel=1e-6)
        pairs = list(zip(tree.root.everything(), made.root.everything(), strict=True))
        ratios = {
            round(b.average_ma / a.average_ma, 6) for a, b in pairs if a.owner != "brain" and a.average_ma
        }
        assert len(ratios) == 1
        assert all(b.peak_ma >= max(a.peak_ma, b.average_ma) for a, b in pairs)
        assert all(a == b for a, b in pairs if a.owner == "brain")
    least = source_current(draws_as_measured(tree, 0.0, frozenset({"brain"}))).average_ma
    assert 0 < least < source_current(tree).average_ma
