"""Balance: worked problems, statics, and trains that tip or slip before the remedy and not after."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.balance import (
    BalanceSettings,
    check_balance,
    support_loads,
    tipping_speed,
    weight_after,
)
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import CellPack
from fitplan.model.facts import mass_of
from fitplan.model.found import Finding
from fitplan.model.operation import Running, Track
from fitplan.model.placed import Placement
from fitplan.model.solids import Place, Vec, pose_named
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import Vehicle
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import cells, need, part, train, vehicle


def weight(mass: float, offset: Vec, name: str = "weight", where: str = "v0") -> Placement:
    return Placement(
        name, part(name, size=(8, 8, 8), mass=mass), where, Place(pose_named("+x+y+z"), offset), "body"
    )


def built(
    *shapes: Vehicle,
    parts: tuple[Placement, ...] = (),
    speed: float = 300.0,
    radius: float = 320.0,
    gradient: float = 0.0,
) -> BuiltTrain:
    vehicles = [TrainVehicle(f"v{i}", shape) for i, shape in enumerate(shapes or (vehicle(),))]
    made = train(
        [need(one.need, one.part) for one in parts],
        [],
        vehicles,
        track=Track(radius=radius, gradient_percent=gradient),
        running=Running(speed),
    )
    return BuiltTrain(made, parts, Harness(), ())


def picked(one: BuiltTrain, word: str) -> list[Finding]:
    return [f for f in check_balance(one).findings if word in f.message]


def test_tipping_speed_of_a_worked_problem() -> None:
    """R 20 m, b 1.3 m, h 0.6 m: 14.58 m/s (a published worked problem)."""
    assert tipping_speed(20_000.0, 1300.0, 600.0) / 1000 == pytest.approx(14.58, abs=0.01)


@given(st.floats(100.0, 1000.0), st.floats(20.0, 60.0), st.floats(10.0, 80.0), st.floats(0.0, 9.0))
@settings(max_examples=60, deadline=None)
def test_at_the_tipping_speed_the_moments_balance(r: float, b: float, h: float, aside: float) -> None:
    """At the tipping speed the centrifugal force and the weight have equal moments about the outer rail."""
    v = tipping_speed(r, b, h, aside)
    assert v**2 / r * h == pytest.approx(9806.65 * (b / 2 - aside))


@given(
    st.lists(st.floats(0.0, 200.0), min_size=2, max_size=5, unique=True),
    st.floats(10.0, 900.0),
    st.floats(0.0, 200.0),
)
@settings(max_examples=80, deadline=None)
def test_supports_carry_force_and_moment(at: list[float], mass: float, x: float) -> None:
    """The loads add up to the weight and have its moment; of all such loads they are the evenest."""
    if max(at) - min(at) < 1.0:
        return
    x = min(at) + (max(at) - min(at)) * x / 200.0  # over the wheels, so that it stands
    loads = support_loads(tuple(at), mass, x)
    assert sum(loads) == pytest.approx(mass)
    assert sum(load * a for load, a in zip(loads, at, strict=True)) == pytest.approx(
        mass * x, abs=1e-6 * mass
    )
    # The least-norm solution of the two equations of statics, by numpy.
    system = np.array([[1.0] * len(at), at])
    expected = np.linalg.lstsq(system, np.array([mass, mass * x]), rcond=None)[0]
    assert min(loads) >= -1e-6 * mass
    if expected.min() >= 0:
        assert np.allclose(loads, expected, atol=1e-6 * mass)


def test_lever_of_two_bogies() -> None:
    """A weight over one bogie rests on it alone, one in the middle on both."""
    assert support_loads((40.0, 136.0), 100.0, 40.0) == pytest.approx((100.0, 0.0))
    assert support_loads((40.0, 136.0), 100.0, 88.0) == pytest.approx((50.0, 50.0))
    assert support_loads((88.0,), 100.0, 20.0) == (100.0,)
    assert support_loads((0.0, 50.0, 100.0), 90.0, 10.0) == pytest.approx((72.0, 18.0, 0.0))
    assert support_loads((), 100.0, 20.0) == ()


def test_masses_and_centres_add_up() -> None:
    """The centre of gravity after is that of all masses, holder and cells included."""
    holder = replace(
        cells(4), mass_g=10.0, electrical=(CellPack("alkaline", "LR6", 4, 2200, 0.15, 1000, False, 23.0),)
    )
    assert mass_of(holder) == 102.0
    lay = Placement("cells", holder, "v0", Place(pose_named("+x+y+z"), (100.0, 10.0, 20.0)), "body")
    after = weight_after(built(parts=(lay,)), "v0")
    middle = (129.0, 40.0, 28.0)
    assert after.mass == 402.0
    for got, own, other in zip(after.center, (88.0, 24.0, 30.0), middle, strict=True):
        assert got == pytest.approx((300 * own + 102 * other) / 402)


@pytest.mark.parametrize("high", [116.0, 121.3, 127.9, 133.1])
def test_a_top_heavy_vehicle_tips(high: float) -> None:
    """A high heavy part lets the loco tip at its speed; slower, as the remedy says, it does not."""
    tall = weight(400.0, (84.0, 20.0, high))
    (stop,) = picked(built(parts=(tall,), speed=950.0), "tips over")
    assert stop.severity == "stop"
    slower = float(stop.remedy.split("than ")[1].split(" mm/s")[0])
    (note,) = picked(built(parts=(tall,), speed=slower), "tips over")
    assert note.severity == "note"
    height = float(stop.remedy.split("down to ")[1].split(" mm")[0])
    low = vehicle(center=(88.0, 24.0, height))
    (low_note,) = picked(built(low, speed=950.0), "tips over")
    assert low_note.severity == "note"


def test_one_sided_weight_and_its_ballast() -> None:
    """Cells at one wall are a caution with the ballast that mends it."""
    aside = weight(150.0, (84.0, 38.0, 22.0))
    (caution,) = picked(built(parts=(aside,)), "centre of gravity")
    assert caution.severity == "caution"
    assert "left" in caution.message
    grams = float(caution.remedy.split("put ")[1].split(" g")[0])
    ballast = weight(grams, (84.0, 0.0, 22.0), "ballast")
    (note,) = picked(built(parts=(aside, ballast)), "centre of gravity")
    assert note.severity == "note"


def test_a_light_bogie_and_its_ballast() -> None:
    """A bogie that carries too little is a caution; the proposed ballast lifts its share to the limit."""
    rear = weight(250.0, (12.0, 20.0, 22.0))
    (caution,) = picked(built(parts=(rear,)), "the bogie at")
    assert caution.severity == "caution"
    assert "136" in caution.message
    grams = float(caution.remedy.split("put ")[1].split(" g")[0])
    ballast = weight(grams + 1, (132.0, 20.0, 22.0), "ballast")
    (note,) = picked(built(parts=(rear, ballast)), "the bogie at")
    assert note.severity == "note"
    assert note.figure == pytest.approx(note.limit, abs=0.3)


def test_a_train_too_heavy_for_its_gradient() -> None:
    """A light loco with heavy wagons slips on 5 %; with the proposed ballast it starts."""
    wagons = [vehicle(mass=400.0, wheels=replace(vehicle().wheels, driven=(False, False))) for _ in range(2)]
    (stop,) = picked(built(vehicle(), *wagons, gradient=5.0), "grip")
    assert stop.severity == "stop"
    (maybe,) = picked(built(vehicle(), wagons[0], gradient=5.0), "grip")
    assert maybe.severity == "caution"  # 0.25 is too little, 0.5 is enough
    assert stop.figure == pytest.approx(0.25 * 150)
    assert stop.limit == pytest.approx(0.08 * 1100)
    grams = float(stop.remedy.split("put ")[1].split(" g")[0])
    ballast = weight(grams + 1, (36.0, 20.0, 22.0), "ballast")
    (note,) = picked(built(vehicle(), *wagons, gradient=5.0, parts=(ballast,)), "grip")
    assert note.severity == "note"
    (level,) = picked(built(vehicle(), *wagons), "grip")
    assert level.severity == "note"


def test_no_ballast_helps_on_a_wall() -> None:
    """Where the gradient is steeper than the grip, the remedy says so."""
    (stop,) = picked(built(gradient=40.0), "grip")
    assert "no ballast helps" in stop.remedy
    steep = built(gradient=40.0)
    bands = replace(steep.train, track=replace(steep.train.track, adhesion=1.2))
    rubber = check_balance(replace(steep, train=bands), BalanceSettings(best_adhesion=1.2))
    assert all(f.severity != "stop" for f in rubber.findings)


def test_table_before_and_after() -> None:
    """The table has each vehicle before and after, and the masses differ by what was built in."""
    table = check_balance(built(parts=(weight(50.0, (84.0, 20.0, 22.0)),))).tables[0]
    before, after = table.rows
    assert float(after[2]) - float(before[2]) == 50.0
    assert len(table.columns) == len(before)
    assert math.isfinite(float(before[7]))
