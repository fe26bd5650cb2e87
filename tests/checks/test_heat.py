"""Heat: published package figures, closed forms, and a regulator that cooks until it is mended."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.checks.heat import HeatSettings, body_rise, check_heat, hull_area, linear_loss
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Regulator
from fitplan.model.found import Finding
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Place, pose_named
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BuiltIn
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import (
    LINEAR_5V,
    bank,
    board,
    cells,
    driver,
    need,
    net,
    pin,
    shuttle,
    train,
    vehicle,
)


def built(made: Train, where: str = "shunter") -> BuiltTrain:
    """Everything lies somewhere in one vehicle."""
    identity = pose_named("+x+y+z")
    places = tuple(
        Placement(one.name, one.candidates[0], where, Place(identity, (20.0, 10.0, 20.0)), "body")
        for one in made.needs
    )
    return BuiltTrain(made, places, Harness(), ())


def picked(made: Train, word: str) -> list[Finding]:
    return [one for one in check_heat(built(made)).findings if word in one.message]


def test_loss_of_a_linear_regulator() -> None:
    """(Vin − Vout)·I + Vin·Ig, a maker's data sheet: 12 V to 5 V at 100 mA and 5 mA of its own is 0.76 W."""
    assert linear_loss(12.0, 5.0, 100.0, 5.0) == pytest.approx(0.76)


def test_junction_rise_of_published_packages() -> None:
    """The power that a package takes at 25 °C is (125 − 25)/θJA: 0.735 W for 136 °C/W, 0.5 W for 200 °C/W."""
    for theta, power in ((136.0, 0.735), (200.0, 0.5)):
        regulator = replace(LINEAR_5V, theta_ja=theta, in_max_v=20.0, quiescent_ma=0.0)
        brain = board(plain=6, regulator=regulator, current=0.1, peak=0.1)
        # A single load whose loss at 16.4 V (fresh) minus 5 V is just that power.
        source = cells(2, "li", 2600.0, 0.001)
        current = power / (8.4 - 5.0) * 1000
        brain = replace(
            brain, electrical=(replace(brain.electrical[0], current_ma=current, peak_ma=current),)
        )  # type: ignore[type-var]
        made = train(
            [need("brain", brain), need("cells", source)],
            [net("battery", "supply", "cells.plus", "brain.raw")],
        )
        warm = replace(made, running=replace(made.running, temperature_c=25.0))
        finding = check_heat(BuiltTrain(warm, (), Harness(), ())).findings[0]
        assert finding.figure == pytest.approx(125.0, abs=0.5)


def test_heat_through_a_wall() -> None:
    """One watt through 0.01 m² with films of 8 W/(m²·K) and 1.5 mm of 0.18 W/(m·K): 25.8 K, by hand."""
    assert body_rise(1.0, 10_000.0) == pytest.approx((0.25 + 0.0015 / 0.18) / 0.01)


@given(st.floats(0.01, 5.0), st.floats(1e3, 1e6), st.floats(1.1, 4.0))
@settings(max_examples=40, deadline=None)
def test_rise_scales(power: float, area: float, factor: float) -> None:
    """The rise grows with the power and falls with the surface, in proportion."""
    assert body_rise(power * factor, area) == pytest.approx(factor * body_rise(power, area))
    assert body_rise(power, area * factor) == pytest.approx(body_rise(power, area) / factor)


def test_surface_of_a_body() -> None:
    """Top and four sides count, the underside does not."""
    assert hull_area(Box((0.0, 0.0, 16.0), (100.0, 50.0, 66.0))) == 100 * 50 + 2 * 150 * 50


def test_a_regulator_that_cooks_and_the_switching_one_that_does_not() -> None:
    """Two li-ion cells and 250 mA through a small linear regulator are a stop; fed from a bank, none."""
    hungry = board(plain=6, current=200.0, peak=250.0)
    (stop,) = picked(shuttle(hungry, cells(2, "li", 2600.0, 0.06)), "junction")
    assert stop.severity == "stop"
    assert stop.figure > 125.0
    assert "switching" in stop.remedy
    assert picked(shuttle(hungry, bank(), raw=False), "junction") == []
    (gentle,) = picked(shuttle(), "junction")
    assert gentle.severity == "note"


def test_warm_lithium_cells() -> None:
    """Two watts in a small closed body warm lithium cells too far; the same in a large one do not."""
    hungry = board(plain=6, current=400.0, peak=400.0)
    made = shuttle(hungry, cells(2, "li", 2600.0, 0.06))
    (stop,) = picked(made, "closed body")
    assert (stop.severity, stop.limit) == ("stop", 45.0)
    large = replace(made, vehicles=(TrainVehicle("shunter", vehicle(studs=(60, 12))),))
    (note,) = picked(large, "closed body")
    assert note.severity == "note"


def test_motor_driver_heat_is_ohmic() -> None:
    """A driver of 0.5 Ω at 0.2 A gives off 20 mW; at 1.3 A the junction and the body are too hot."""
    found = []
    for current in (200.0, 1300.0):
        motor = BuiltIn(
            "motor", "motor", (Box((0, 0, 0), (1, 1, 1)),), (),
            (pin("plus", "supply"), pin("minus", "supply")), 60.0, 900.0, current,
        )  # fmt: skip
        nets = [
            net("battery", "supply", "cells.plus", "drive.VM"),
            net("one", "supply", "drive.OUT1", "shunter/motor.plus"),
            net("two", "supply", "drive.OUT2", "shunter/motor.minus"),
        ]
        made = train(
            [need("cells", cells(2, "li")), need("drive", driver())],
            nets,
            [TrainVehicle("shunter", vehicle(built_in=(motor,)))],
        )
        found.append(next(one for one in picked(made, "motor driver")))
    # The motor's 8.4 V · 0.2 A and the driver's own 20 mW warm the body round it.
    air = 20 + body_rise(8.4 * 0.2 + 0.02, hull_area(vehicle().hull))
    assert found[0].figure == pytest.approx(air + 0.02 * 100, abs=0.2)
    assert "0.85 W" in found[1].message
    assert found[1].severity == "stop"  # 11 W in a small closed body


def test_settings_are_used() -> None:
    """A lower limit turns a note into a stop."""
    outcome = check_heat(built(shuttle()), HeatSettings(junction_c=30.0))
    assert any(one.severity == "stop" for one in outcome.findings)
    assert isinstance(LINEAR_5V, Regulator)


def test_bricks_must_not_touch_a_hot_regulator() -> None:
    """A junction between softening and its own limit is a caution about bricks; a cooler one is a note."""
    warm = board(plain=6, current=100.0, peak=120.0)
    (caution,) = picked(shuttle(warm, cells(2, "li", 2600.0, 0.06)), "bricks that touch it soften")
    assert caution.severity == "caution"
    assert caution.limit == 90.0 < caution.figure < 125.0
    assert picked(shuttle(warm, cells(4)), "bricks that touch it soften") == []


def test_a_motor_warms_the_vehicle_that_it_sits_in() -> None:
    """A motor of 6 V and 250 mA gives 1.5 W to its vehicle's air, by the films and the wall of a textbook."""
    motor = BuiltIn(
        "motor", "motor", (Box((0, 0, 0), (1, 1, 1)),), (), (pin("plus", "supply"), pin("minus", "ground")),
        60.0, 900.0, 250.0,
    )  # fmt: skip
    nets = [
        net("raw", "supply", "cells.plus", "shunter/motor.plus"),
        net("ground", "ground", "cells.minus", "shunter/motor.minus"),
    ]
    made = train([need("cells", cells(4))], nets, [TrainVehicle("shunter", vehicle(built_in=(motor,)))])
    outcome = check_heat(BuiltTrain(made, (), Harness(), ()))
    (finding,) = [one for one in outcome.findings if one.where == "shunter"]
    watts = 4 * 1.68 * 0.25
    area = (176 * 48 + 2 * (176 + 48) * 51.2) / 1e6
    assert finding.figure == pytest.approx(20 + watts * (2 / 8 + 0.0015 / 0.18) / area, abs=0.1)
    assert f"{watts:.2f} W" in finding.message
