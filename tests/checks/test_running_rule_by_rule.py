"""Weights, heat, brakes and measured stops at their limits, rule by rule; figures in closed form."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from scipy import stats

from fitplan.checks.balance import (
    DEFAULTS,
    BalanceSettings,
    Weight,
    _aside,
    _ballast_at,
    _row,
    _starting,
    _supports,
    _tipping,
    check_balance,
    support_loads,
    tipping_speed,
)
from fitplan.checks.braking import (
    Braking,
    Grip,
    advised_speed,
    beyond_mean,
    frame_wait_s,
    grip_of,
    pushed_play,
    reading_interval,
    reading_order,
    safe_speed,
    slope_sine,
    stopping_distance,
    trip_distance,
)
from fitplan.checks.ends import PlacedRanger
from fitplan.checks.heat import HeatSettings, Loss, _air, _junction, body_rise, check_heat
from fitplan.checks.measured import CHANCES, check_measured
from fitplan.checks.stopping import (
    StoppingSettings,
    _brakes,
    _made_of,
    _plot,
    _rounded,
    _slower,
    _table,
    _trip_finding,
)
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Ranger
from fitplan.model.found import Finding
from fitplan.model.measured import Measured, MeasuredFigure, StopRun, stopping_fit
from fitplan.model.operation import Running, Track
from fitplan.model.placed import Placement
from fitplan.model.solids import Place, pose_named
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import Vehicle, Wheels
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import board, box, cells, need, net, part, ranger, shuttle, train, vehicle

G = 9806.65


def built(*shapes: Vehicle, track: Track | None = None, running: Running | None = None) -> BuiltTrain:
    vehicles = [TrainVehicle(f"v{i}", one) for i, one in enumerate(shapes or (vehicle(),))]
    made = train([], [], vehicles, track=track or Track(320.0), running=running or Running(300.0))
    return BuiltTrain(made, (), Harness(), ())


def entry(one: BuiltTrain) -> TrainVehicle:
    return one.train.vehicles[0]


# -- balance -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("x", "loads"), [(20.0, (80.0, 20.0)), (50.0, (50.0, 50.0)), (120.0, (-20.0, 120.0))]
)
def test_two_supports_carry_by_the_lever(x: float, loads: tuple[float, float]) -> None:
    """Beyond an axle the other one is lifted, which of two is left as it is."""
    assert support_loads((0.0, 100.0), 100.0, x) == pytest.approx(loads)


def test_axles_at_one_place_share_alike() -> None:
    assert support_loads((30.0, 30.0), 90.0, 10.0) == (45.0, 45.0)
    assert support_loads((0.0, 50.0, 100.0), 90.0, 90.0) == pytest.approx((0.0, 18.0, 72.0))


@pytest.mark.parametrize(
    ("height", "aside", "expected"),
    [
        (20.0, 0.0, math.sqrt(G * 300 * 19 / 20)),
        (20.0, 19.0, 0.0),
        (20.0, 18.9, math.sqrt(G * 300 * 0.1 / 20)),
        (0.0, 0.0, math.inf),
        (-1.0, 0.0, math.inf),
        (0.5, 0.0, math.sqrt(G * 300 * 19 / 0.5)),
    ],
)
def test_the_speed_at_which_a_vehicle_tips(height: float, aside: float, expected: float) -> None:
    assert tipping_speed(300.0, 38.0, height, aside) == pytest.approx(expected)


def test_a_weight_added_where_nothing_was() -> None:
    """Lever by lever; with no mass at all it stays as it is."""
    none = Weight(0.0, (1.0, 2.0, 3.0))
    assert none.plus(0.0, (9.0, 9.0, 9.0)) is none
    assert none.plus(0.5, (9.0, 8.0, 7.0)) == Weight(0.5, (9.0, 8.0, 7.0))
    assert Weight(1.0, (0.0, 0.0, 0.0)).plus(3.0, (4.0, 8.0, 12.0)) == Weight(4.0, (3.0, 6.0, 9.0))


@pytest.mark.parametrize(
    ("share", "severity"), [(1.001, "note"), (0.999, "caution"), (0.6667, "caution"), (0.666, "stop")]
)
def test_the_reserve_against_tipping(share: float, severity: str) -> None:
    """One and a half times the running speed; below the running speed itself it is a stop."""
    tips = math.sqrt(G * 320 * 19 / 30)
    one = built(running=Running(tips / 1.5 / share))
    (found,) = _tipping(one, entry(one), Weight(300.0, (88.0, 24.0, 30.0)), DEFAULTS)
    assert (found.severity, found.figure) == (severity, round(tips, 1))
    assert found.limit == round(tips / share, 1)
    assert f"{tips:.0f} mm/s in the curve of 320 mm radius" in found.message
    if severity != "note":
        assert f"no faster than {math.floor(tips / 1.5)} mm/s" in found.remedy
        assert f"down to {math.floor(30 * share**2)} mm" in found.remedy
    straight = built(track=Track(0.0))
    assert list(_tipping(straight, entry(straight), Weight(300.0, (88.0, 24.0, 30.0)), DEFAULTS)) == []
    sharp = built(track=Track(0.5))
    assert len(list(_tipping(sharp, entry(sharp), Weight(300.0, (88.0, 24.0, 30.0)), DEFAULTS))) == 1


@pytest.mark.parametrize(
    ("y", "severity", "side"),
    [(28.75, "note", "left"), (28.8, "caution", "left"), (19.2, "caution", "right")],
)
def test_the_middle_aside(y: float, severity: str, side: str) -> None:
    """A quarter of half the gauge of 38 mm is 4.75 mm; ballast at the wall, 20 mm from the middle."""
    one = built()
    (found,) = _aside(one, entry(one), Weight(300.0, (88.0, y, 30.0)), DEFAULTS)
    off = abs(y - 24.0)
    assert (found.severity, found.figure, found.limit) == (severity, round(off, 2), 4.75)
    assert f"{off:.1f} mm to the {side} of the middle" in found.message
    ballast = 300 * off / 20
    assert (
        f"{ballast:.0f} g of ballast at the {'right' if side == 'left' else 'left'} wall" in found.remedy
    ) is (severity == "caution")
    assert [add.quantity for add in found.add] == ([float(round(ballast))] if severity == "caution" else [])


@pytest.mark.parametrize(("at", "count"), [((40.0, 136.0), 2), ((40.0, 88.0, 136.0), 3)])
def test_each_support_carries_a_half_of_its_even_share(at: tuple[float, ...], count: int) -> None:
    """A quarter of two, a sixth of three; by least squares ``m/n + m(x − x̄)(a − x̄)/Σ``."""
    wheels = Wheels("axles" if count == 3 else "bogies", at, (True,) * count, 8.5)
    one = entry(built(vehicle(wheels=wheels)))
    spread = sum((a - 88.0) ** 2 for a in at)
    wanted = 0.5 / count
    edge = 88.0 + (1 / count - wanted) * spread / 48.0  # where the first carries just its share
    for x, severity in ((edge - 0.01, "note"), (edge + 0.01, "caution")):
        (found,) = _supports(one, Weight(300.0, (x, 24.0, 30.0)), DEFAULTS)
        assert (found.severity, found.limit) == (severity, round(100 * wanted, 1))
        assert found.figure == pytest.approx(100 * (1 / count + (x - 88) * (40 - 88) / spread), abs=0.06)
        assert f"the {'axle' if count == 3 else 'bogie'} at 40 mm carries" in found.message
        assert bool(found.add) is (severity == "caution")
    (found,) = _supports(one, Weight(300.0, (124.0, 24.0, 30.0)), DEFAULTS)
    load = max(0.0, 300 / count + 300 * 36 * -48 / spread)
    assert f"put {(wanted * 300 - load) / (1 - wanted):.0f} g of ballast" in found.remedy
    assert found.add[0].quantity == round((wanted * 300 - load) / (1 - wanted))
    alone = replace(one, vehicle=replace(one.vehicle, wheels=replace(wheels, at=(40.0,))))
    assert list(_supports(alone, Weight(300.0, (60.0, 24.0, 30.0)), DEFAULTS)) == []


def test_ballast_that_lifts_a_share() -> None:
    """(m + B)·s = load + B; nothing where it is enough, nor where all is wanted."""
    for load in (10.0, 60.0):
        more = _ballast_at(load, 300.0, 0.25)
        assert (300 + more) * 0.25 == pytest.approx(load + more)
    assert _ballast_at(75.0, 300.0, 0.25) == 0.0
    assert _ballast_at(90.0, 300.0, 0.25) == 0.0
    assert _ballast_at(10.0, 300.0, 1.0) == 0.0


@pytest.mark.parametrize(
    ("gradient", "severity"), [(9.0, "note"), (10.0, "caution"), (21.5, "caution"), (22.5, "stop")]
)
def test_whether_the_train_starts(gradient: float, severity: str) -> None:
    """Half of 300 g on driven wheels: 0.25 of it against slope and 0.03 rolling; 0.5 of it at best."""
    one = built(track=Track(320.0, gradient_percent=gradient))
    (found,) = _starting(one, DEFAULTS)
    grip, needed = 0.25 * 150, (gradient / 100 + 0.03) * 300
    assert (found.severity, found.where) == (severity, "v0")
    assert (found.figure, found.limit) == (round(grip, 1), round(needed, 1))
    assert "50 % of the train's 300 g" in found.message
    assert f"pulls with {needed:.0f} g on {gradient:.1f} %" in found.message
    slips = severity != "note"
    helps = slips and gradient / 100 + 0.03 < 0.25
    ballast = (needed - grip) / (0.25 - gradient / 100 - 0.03) if helps else 0.0
    assert (f"put {ballast:.0f} g of ballast" in found.remedy) is helps
    assert ("no ballast helps" in found.remedy) is (slips and not helps)
    assert [add.quantity for add in found.add] == ([float(round(ballast))] if helps else [])


def test_the_first_vehicle_with_a_driven_axle_pulls() -> None:
    """Masses of all are pulled; without driven wheels, or a mass, nothing is asked."""
    idle = vehicle("van", wheels=Wheels("bogies", (40.0, 136.0), (False, False), 8.5), mass=100.0)
    (found,) = _starting(built(idle, vehicle(), vehicle()), DEFAULTS)
    assert found.where == "v1"
    assert "43 % of the train's 700 g" in found.message
    assert list(_starting(built(idle), DEFAULTS)) == []
    empty = vehicle(mass=0.0)
    assert list(_starting(built(empty), DEFAULTS)) == []
    assert check_balance(built(empty)).findings == ()
    assert check_balance(built(vehicle(mass=0.5))).findings
    both = check_balance(built(empty, vehicle()))
    assert {one.where for one in both.findings} == {"v1"}
    assert [row[0] for row in both.tables[0].rows] == ["v1", "v1"]


def test_a_row_of_weights() -> None:
    """From the middle between the pivots, from the middle line, above the rail; loads; where it tips."""
    one = built()
    row = _row(one, entry(one), "after", Weight(300.0, (98.0, 22.0, 30.0)))
    tips = round(math.sqrt(G * 320 * 17 / 30))
    assert row == ("v0", "after", 300.0, 10.0, -2.0, 30.0, "119, 181", tips)
    straight = built(track=Track(0.0))
    assert _row(straight, entry(straight), "x", Weight(300.0, (98.0, 22.0, 30.0)))[-1] == "straight track"
    assert BalanceSettings() == DEFAULTS


# -- heat --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("power", "severity", "limit"),
    [
        (0.514, "note", 125.0),  # 20 + 136·P: 89.9 °C
        (0.516, "caution", 90.0),  # 90.2 °C: bricks that touch it soften
        (0.617, "caution", 90.0),  # 103.9 °C
        (0.619, "caution", 125.0),  # beyond 0.8 of the way from 20 to 125 °C: 104 °C
        (0.772, "caution", 125.0),  # 124.99 °C
        (0.773, "stop", 125.0),
    ],
)
def test_a_junction_at_its_limits(power: float, severity: str, limit: float) -> None:
    found = _junction(Loss("r", "linear regulator", power, 136.0), 20.0, HeatSettings())
    assert (found.severity, found.limit) == (severity, limit)
    assert found.figure == round(20 + 136 * power, 1)
    if limit == 125.0 and severity != "note":
        assert f"below {0.8 * 105 / 136:.2f} W" in found.remedy
        assert f"gives off {power:.2f} W" in found.message
    hot = _junction(Loss("r", "linear regulator", power, 136.0), 130.0, HeatSettings())
    assert "below 0.00 W" in hot.remedy


def aired(one: BuiltTrain, power: float, rise: float, chosen: str = "") -> list[Finding]:
    """What is told of the air in the first vehicle, in which one part gives off so much."""
    made = replace(cells(2, "li" if chosen == "lithium" else "nimh"), id="x")
    lies = Placement("x", made, "v0", Place(pose_named("+x+y+z"), (40.0, 14.0, 20.0)), "the body")
    placed = replace(one, placements=(lies,))
    losses = (Loss("x", "its own load", power, 0.0), Loss("elsewhere", "load", 9.0, 0.0))
    return list(_air(placed, {"x": made}, {"v0": rise}, losses, HeatSettings()))


@pytest.mark.parametrize(("chosen", "limit"), [("", 60.0), ("lithium", 45.0)])
def test_air_round_bricks_and_round_lithium_cells(chosen: str, limit: float) -> None:
    """Warmer than the day by what walls let through; a stop just above the limit."""
    one = built()
    for rise, severity in ((limit - 20.0, "note"), (limit - 19.9, "stop")):
        (found,) = aired(one, 2.0, rise, chosen)
        assert (found.severity, found.figure, found.limit) == (severity, round(20 + rise, 1), limit)
        assert f"2.00 W in v0 warm the air in its closed body to {20 + rise:.0f} °C" in found.message
        if severity == "stop":
            assert f"keep it below {2 * (limit - 20) / rise:.2f} W" in found.remedy
    hot = built(running=Running(300.0, temperature_c=70.0))
    (found,) = aired(hot, 2.0, 5.0, chosen)
    assert "keep it below 0.00 W" in found.remedy
    assert aired(one, 0.0, 0.0, chosen) == []
    assert len(aired(one, 0.01, 0.5, chosen)) == 1
    (found,) = aired(built(vehicle(load_top=80.0)), 2.0, 5.0)
    assert "reckoned as if it were closed" in found.message
    # Two films of 8 W/(m²K) and 1.5 mm of 0.18 W/(mK) over a hundredth of a square metre.
    assert body_rise(2.0, 1e4) == pytest.approx(2.0 * (2 / 8 + 1.5e-3 / 0.18) / 0.01)
    assert body_rise(2.0, 0.0) == math.inf


def test_parts_that_give_off_next_to_nothing_stand_in_no_table() -> None:
    """A milliwatt and less; heat that is spread out has no junction."""
    low = board(current=0.1, peak=0.1)
    made = train(
        [need("cells", cells(4)), need("brain", low)],
        [net("p", "supply", "cells.plus", "brain.raw"), net("g", "ground", "cells.minus", "brain.GND")],
    )
    outcome = check_heat(BuiltTrain(made, (), Harness(), ()))
    (table,) = outcome.tables
    (row,) = table.rows
    assert (row[0], row[2]) == ("brain", "no place")
    assert row[4] == pytest.approx(20 + 136 * 0.0338, abs=0.2)
    assert all(one.where == "brain" for one in outcome.findings)


# -- brakes ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("percent", "sine"), [(0.0, 0.0), (75.0, 0.6), (-75.0, -0.6), (133.33333333, 0.8)])
def test_sines_of_gradients(percent: float, sine: float) -> None:
    """3-4-5: three up in four along is a sine of 0.6."""
    assert slope_sine(percent) == pytest.approx(sine)


def test_what_the_wheels_hold() -> None:
    """μ·g·cos θ of the driven share; nothing driven holds anything, as far as anybody knows."""
    idle = vehicle("van", wheels=Wheels("bogies", (40.0, 136.0), (False, False), 8.5), mass=100.0)
    grip = grip_of(built(vehicle(), idle, track=Track(320.0, gradient_percent=75.0)))
    assert (grip.total_g, grip.driven_g) == pytest.approx((400.0, 150.0))
    assert grip.held == pytest.approx(0.25 * G * 0.8 * 150 / 400)
    assert grip.fall == pytest.approx(0.6 * G)
    free = grip_of(built(idle))
    assert (free.total_g, free.driven_g, free.held, free.asked) == (0.0, 0.0, math.inf, 600.0)


GRIP = Grip(400.0, 150.0, 800.0, 600.0, 100.0)


def test_brakes_up_and_down() -> None:
    assert (GRIP.brake, GRIP.downhill, GRIP.uphill, GRIP.slides) == (600.0, 500.0, 700.0, False)
    slick = replace(GRIP, held=300.0)
    assert (slick.brake, slick.downhill, slick.uphill, slick.slides) == (300.0, 200.0, 400.0, True)
    assert not replace(GRIP, held=600.0).slides


def test_the_play_of_couplings_that_are_pushed() -> None:
    """Loco behind two vans: each van runs on by its couplings, what they weigh falls on, none brakes late."""
    idle = vehicle("van", wheels=Wheels("bogies", (40.0, 136.0), (False, False), 8.5), mass=100.0)
    one = built(idle, idle, vehicle(), running=Running(300.0, coupling_play=2.0))
    grip = Grip(500.0, 150.0, 9e9, 600.0, 100.0)
    ahead = 2.0 * (2 + (100.0 * (2 * 100 + 1 * 100) / 500) / 500.0)
    assert pushed_play(one, True, grip) == pytest.approx(ahead)
    # Backwards the loco leads: what follows it closes up, and only gravity adds to its way.
    back = 2.0 * (0 + (100.0 * (1 * 100 + 2 * 100) / 500) / 500.0)
    assert pushed_play(one, False, grip) == pytest.approx(back)
    # A second driven vehicle brakes no earlier than its couplings let it.
    two = built(idle, vehicle(), vehicle(), running=Running(300.0, coupling_play=2.0))
    late = (100.0 * (1 * 100 + 1 * 300) / 700 + 600.0 * (1 * 150) / 300.0) / 500.0
    assert pushed_play(two, True, Grip(700.0, 300.0, 9e9, 600.0, 100.0)) == pytest.approx(2.0 * (1 + late))
    assert pushed_play(one, None, grip) == 0.0
    assert pushed_play(built(idle, idle), True, grip) == 0.0
    assert pushed_play(one, True, replace(grip, fall=600.0)) == 0.0


@pytest.mark.parametrize(
    ("running", "interval"),
    [
        (Running(1.0, reading_interval_s=0.1), 0.1),
        (Running(1.0, reading_interval_s=0.05), 0.06),  # no faster than its own cycle
        (Running(1.0, reading_interval_s=0.1, median=3), 0.2),
        (Running(1.0, reading_interval_s=0.1, median=4), 0.2),
        (Running(1.0, reading_interval_s=0.1, median=5), 0.3),
        (Running(1.0, reading_interval_s=0.1, reads="alternating"), 0.24),  # b takes 0.14 s
        (Running(1.0, reading_interval_s=0.1, reads="all"), 0.2),  # 60 and 140 ms in one go
        (Running(1.0, reading_interval_s=0.3, reads="all"), 0.3),
        (Running(1.0, reading_interval_s=0.3, reads="all", median=3), 0.6),
        (Running(1.0, reading_interval_s=0.1, reading_order=("a", "a", "b")), 0.24),
        (Running(1.0, reading_interval_s=0.1, reading_order=("a", "a", "b"), median=3), 0.34),
        (Running(1.0, reading_interval_s=0.1, reading_order=("a", "a", "b"), median=5), 0.58),
        (Running(1.0, reading_interval_s=0.1, reading_order=("b",)), math.inf),
        (Running(1.0, reading_interval_s=0.3, reads="all", reading_order=("a", "b")), 0.6),
    ],
)
def test_the_longest_time_between_readings(running: Running, interval: float) -> None:
    """Readings of a (60 ms a cycle) and b (140 ms) written one after the other, by hand."""
    assert reading_interval(running, "a", {"a": 60.0, "b": 140.0}) == pytest.approx(interval)


def test_the_order_of_reading() -> None:
    """As written; else the one alone, or all in turn."""
    assert reading_order(Running(1.0, reading_order=("b", "a")), "a", ["a", "b"]) == ("b", "a")
    assert reading_order(Running(1.0), "a", ["a", "b"]) == ("a",)
    assert reading_order(Running(1.0, reads="alternating"), "a", ["a", "b"]) == ("a", "b")


def test_lost_frames_wait_only_where_light_commands() -> None:
    made = shuttle(running=Running(300.0, lost_frames=3, frame_interval_s=0.2))
    assert frame_wait_s(BuiltTrain(made, (), Harness(), ())) == pytest.approx(0.6)
    bare = replace(made, needs=tuple(one for one in made.needs if one.name != "emitter"))
    bare = replace(bare, nets=tuple(one for one in bare.nets if one.name != "emitter"))
    assert frame_wait_s(BuiltTrain(bare, (), Harness(), ())) == 0.0


def test_ways_to_standstill() -> None:
    assert stopping_distance(300.0, 0.5, 600.0) == pytest.approx(150 + 75)
    assert stopping_distance(300.0, 0.5, 0.0) == math.inf
    assert stopping_distance(0.5, 0.5, -1.0) == math.inf
    assert stopping_distance(0.0, 0.5, 0.0) == 0.0
    assert stopping_distance(1.0, 0.5, 0.5) == pytest.approx(1.5)
    plain = Braking(0.1, 0.2, 600.0, math.inf, 20.0)
    assert plain.delay_s == pytest.approx(0.3)
    assert trip_distance(300.0, plain) == pytest.approx(20 + 60 + 75 + 30)
    sound = replace(plain, wave_speed=3000.0)
    assert trip_distance(300.0, sound) == pytest.approx((20 + 60 + 75 + 30 * 2700 / 3300) * 3000 / 2700)
    assert trip_distance(3000.0, sound) == math.inf
    assert trip_distance(2999.0, sound) < math.inf


def test_the_fastest_safe_speed() -> None:
    """None where even standing still is too near, or nothing brakes; a whole number is told."""
    plain = Braking(0.0, 0.0, 500.0, math.inf, 20.0)
    assert safe_speed(20.0, plain) == 0.0
    assert safe_speed(20.9, plain) == pytest.approx(30.0, abs=1e-3)  # v² = 2·500·0.9
    assert safe_speed(30.0, plain) == pytest.approx(100.0, abs=1e-3)
    assert advised_speed(30.2, plain) == 100
    assert safe_speed(30.0, replace(plain, deceleration=0.0)) == 0.0
    assert safe_speed(30.0, replace(plain, deceleration=-50.0)) == 0.0
    assert safe_speed(30.0, replace(plain, deceleration=0.5)) == pytest.approx(math.sqrt(10.0), abs=1e-3)
    assert safe_speed(20.0005, replace(plain, deceleration=500.0)) == pytest.approx(math.sqrt(0.5), abs=1e-3)


def braked(grip: Grip, gradient: float = 0.0) -> list[Finding]:
    return list(_brakes(built(track=Track(320.0, gradient_percent=gradient)), grip))


def test_a_brake_that_the_wheels_or_the_fall_undo() -> None:
    """Wheels that slide: ballast B with μg(driven + B)/(total + B) = asked; a fall as strong is a stop."""
    assert braked(GRIP) == []
    assert braked(replace(GRIP, held=600.0)) == []
    (one,) = braked(replace(GRIP, held=500.0))
    full = 500 * 400 / 150
    ballast = (600 * 400 - 500 * 400) / (full - 600)
    assert full * (150 + ballast) / (400 + ballast) == pytest.approx(600.0)
    assert (one.severity, one.figure, one.limit) == ("caution", 500.0, 600.0)
    assert one.message.startswith("150 of 400 g stand on driven wheels: they slide at 500 mm/s²")
    assert f"put {ballast:.0f} g of ballast" in one.remedy
    assert one.add[0].quantity == round(ballast)
    (one,) = braked(replace(GRIP, held=225.0))  # μg is no more than is asked
    assert one.remedy.startswith("measure how the train stops: no weight")
    assert one.add == ()
    for fall, told in ((600.0, 1), (599.0, 0)):
        found = braked(replace(GRIP, fall=fall), 6.1)
        assert len(found) == told
        for one in found:
            assert (one.severity, one.figure, one.limit) == ("stop", 600.0, 600.0)
            flat = 100 * 600 / math.sqrt(G**2 - 600**2)
            assert one.remedy == f"flatten the track to less than {flat:.1f} %, or brake harder"
    first, second = braked(replace(GRIP, held=500.0, fall=600.0))
    assert first.remedy.endswith("or bring more weight onto driven wheels")
    assert second.severity == "caution"


EYE = PlacedRanger("eye", ranger(), Ranger("sound", 15.0, 20.0, 400.0, 60.0), None, 5.0, None)
PLAIN = Braking(0.1, 0.2, 600.0, math.inf, 20.0)


@pytest.mark.parametrize(
    ("trip", "severity", "limit"),
    [(0.0, "note", 190.0), (185.0, "note", 185.0), (184.9, "stop", 184.9), (300.0, "note", 300.0)],
)
def test_a_trip_distance_that_is_set(trip: float, severity: str, limit: float) -> None:
    """At 300 mm/s it needs 20 + 60 + 75 + 30 mm; to write down it is rounded up to 10."""
    running = Running(300.0, trip_distance=trip)
    needed, proposed = trip_distance(300.0, PLAIN), _rounded(running, PLAIN, StoppingSettings())
    assert (needed, proposed) == pytest.approx((185.0, 190.0))
    one = _trip_finding(running, EYE, PLAIN, 185.0, proposed)
    assert (one.severity, one.figure, one.limit) == (severity, 185.0, limit)
    if severity == "stop":
        assert (
            one.remedy
            == f"set the trip distance to 190 mm, or run no faster than {advised_speed(trip, PLAIN)} mm/s"
        )
    elif trip:
        assert f"keeps the margin of 20 mm up to {advised_speed(trip, PLAIN)} mm/s" in one.message
    else:
        assert one.remedy == "write a trip distance of 190 mm into the program"
    slow = _trip_finding(Running(300.0, trip_distance=20.1), EYE, PLAIN, 185.0, 190.0)
    assert slow.remedy == "set the trip distance to 190 mm"


def test_a_trip_distance_is_rounded_up_to_tens() -> None:
    settings = StoppingSettings()
    for offset, rounded in ((25.0, 190.0), (25.1, 200.0), (20.0, 190.0)):
        assert _rounded(Running(300.0), replace(PLAIN, offset=offset), settings) == rounded
    assert _rounded(Running(300.0), replace(PLAIN, deceleration=0.0), settings) == math.inf
    assert (_slower(1), _slower(0)) == ("run no faster than 1 mm/s, or ", "")


def test_the_table_and_the_plot_of_speeds() -> None:
    """Own speed and distance among the rows; what is spare or short, and the fastest of each column."""
    settings = StoppingSettings((100.0, 400.0), (120.0, 300.0), 10.0)
    table = _table(Running(300.0, trip_distance=185.0), PLAIN, settings)
    assert table.columns == ("speed (mm/s)", "stop at 120 mm", "stop at 185 mm", "stop at 300 mm")
    assert [row[0] for row in table.rows] == [100.0, 300.0, 400.0, "fastest safe"]
    assert table.rows[1][1:] == ("unsafe, 65 short", "safe, 0 to spare", "safe, 115 to spare")
    assert table.rows[3][1:] == tuple(advised_speed(trip, PLAIN) for trip in (120.0, 185.0, 300.0))
    assert "0.30 s from reading to brake" in table.note
    assert len(_table(Running(400.0), PLAIN, settings).columns) == 3
    plot = _plot(Running(800.0, trip_distance=185.0), PLAIN, settings)
    whole, before = plot.curves
    assert (whole.x[0], whole.x[-1], len(whole.x)) == (0.0, 800.0, 41)
    assert whole.y[20] == pytest.approx(trip_distance(400.0, PLAIN))
    assert before.y[20] == pytest.approx(120.0)
    assert plot.limits == (
        ("speed of this train needs", round(trip_distance(800.0, PLAIN), 1)),
        ("trip distance set", 185.0),
    )
    assert len(_plot(Running(300.0), PLAIN, settings).limits) == 1
    assert _plot(Running(300.0), PLAIN, settings).curves[0].x[-1] == 400.0


def test_what_the_way_is_made_of() -> None:
    """v·T, v·t, frames, v²/2a three times, play, lens and margin, each in mm."""
    one = built(running=Running(300.0, command_delay_s=0.2))
    (row,) = _made_of(one, [(EYE, PLAIN)], GRIP).rows
    assert row == ("eye", 30.0, 60.0, 0.0, 64.3, 75.0, 90.0, 0.0, 5.0, 20.0)
    (row,) = _made_of(one, [(replace(EYE, setback=-3.0), PLAIN)], GRIP).rows
    assert row[8] == 0.0


# -- measured stops ----------------------------------------------------------------------------------------

RUNS = tuple(
    StopRun(v, 0.2 * v + v * v / 1200 + off) for v in (100.0, 200.0, 300.0) for off in (-4.0, 0.5, 3.5)
)


def measured(trip: float, chance: float = 0.01, figures: int = 2) -> BuiltTrain:
    made = shuttle(running=Running(300.0, trip_distance=trip))
    marks = tuple(MeasuredFigure("2026-05-01", f"f{i}", "1", "2") for i in range(figures))
    return BuiltTrain(replace(made, measured=Measured(marks, RUNS, chance)), (), Harness(), ())


def test_stops_beyond_the_mean_by_students_t() -> None:
    """One stop more exceeds mean + t·s·√(1 + …) with the chosen chance (scipy's t)."""
    fit = stopping_fit(RUNS)
    assert not isinstance(fit, str)
    for chance in (0.1, 0.01):
        own = measured(0.0, chance).train
        expected = stats.t.isf(chance, 7) * fit.deviation(300.0)
        assert beyond_mean(own) == pytest.approx(expected, rel=1e-6)
        assert beyond_mean(own, 0.001) == pytest.approx(
            stats.t.isf(0.001, 7) * fit.deviation(300.0), rel=1e-6
        )
    assert beyond_mean(measured(0.0, 0.7).train) == 0.0
    assert beyond_mean(shuttle()) == 0.0


def test_the_chance_of_a_stop_that_goes_too_far() -> None:
    """At the trip distance that is asked for, the chosen one; nearer more, farther less."""
    plain = check_measured(measured(0.0))
    table = plain.tables[1]
    by_chance = {row[0]: row for row in table.rows}
    assert list(by_chance) == [f"1 in {1 / chance:.0f}" for chance in sorted(CHANCES, reverse=True)]
    asked = float(by_chance["1 in 100"][2])
    assert all(float(row[2]) - float(row[1]) == pytest.approx(20.0, abs=0.11) for row in table.rows)
    ways = [float(row[2]) for row in table.rows]
    assert ways == sorted(ways)
    assert ways[0] < asked < ways[-1]
    one = plain.findings[1]
    assert (one.severity, one.limit) == ("note", 1.0)
    assert one.figure == pytest.approx(1.0, abs=2e-3)
    assert f"asks for {asked:.0f} mm" in one.remedy
    for row in table.rows:
        chance = 1 / float(str(row[0]).split()[-1])
        found = check_measured(measured(float(row[2]))).findings[1]
        assert found.figure == pytest.approx(100 * chance, rel=0.05)
        assert found.severity == ("note" if chance < 0.0101 else "caution")
        if chance > 0.011:
            assert found.remedy == f"set the trip distance to {asked:.0f} mm"
        touching = float(found.message.rsplit("with ", 1)[1].split(" %")[0])
        nearer = check_measured(measured(float(row[2]) + 20.0)).findings[1]
        assert touching == pytest.approx(nearer.figure, rel=0.06)


def test_figures_that_are_measured_are_counted() -> None:
    outcome = check_measured(measured(0.0, figures=2))
    one = outcome.findings[0]
    typical = len(outcome.tables[0].rows) - 2
    assert (one.figure, one.limit) == (2.0, 2.0 + typical)
    assert one.message == f"2 figures are measured, {typical} that matter are typical still"
    assert one.remedy == "measure next: speed"
    own = measured(0.0)
    known = replace(own.train.measured, figures=(MeasuredFigure("2026-05-01", "speed", "1", "2"),))
    again = check_measured(replace(own, train=replace(own.train, measured=known)))
    assert again.findings[0].remedy == "measure next: deceleration"
    assert check_measured(BuiltTrain(shuttle(), (), Harness(), ())).findings == ()
    assert part("x").bounds.size == box(0, 0, 0, 20, 10, 5).size
