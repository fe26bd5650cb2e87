"""Currents of nets: sums by hand, and Kirchhoff's law as a property."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fitplan.circuit.currents import net_currents, regulator_input, short_circuit_ma, source_current
from fitplan.circuit.supply import build_supply
from fitplan.model.electrical import Charger, Load, Regulator
from fitplan.model.solids import Box
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BuiltIn
from tests.circuit.sample_parts import (
    LINEAR_5V,
    STEP_UP_5V,
    bank,
    board,
    cells,
    driver,
    fuse,
    need,
    net,
    part,
    pin,
    ranger,
    shuttle,
    step_up,
    switch,
    train,
    vehicle,
)


def test_cells_at_the_raw_pin() -> None:
    """Cells feed the board's regulator: board 20 + rangers 2·15 + emitter 10 + lamp 8 + regulator 5 mA."""
    found = net_currents(shuttle(), {})
    assert found["battery"].average_ma == pytest.approx(73.0)
    assert found["battery"].peak_ma == pytest.approx(40 + 60 + 10 + 8 + 5)
    assert found["five volts"].average_ma == pytest.approx(30.0)
    assert found["emitter"].average_ma == pytest.approx(10.0)
    assert found["front echo"].average_ma == pytest.approx(1.0)
    assert found["ground"].average_ma == pytest.approx(73.0)


def test_a_step_up_keeps_the_power() -> None:
    """Behind a step-up the cells give Vout·Iout/(η·Vin), the textbook formula, plus its own current."""
    needs = [
        need("brain", board(regulator=None)),
        need("cells", cells(2)),
        need("lift", step_up()),
        need("eyes", ranger()),
    ]
    nets = [
        net("low", "supply", "cells.plus", "lift.in"),
        net("five", "supply", "lift.out", "brain.5v", "eyes.VCC"),
        net("ground", "ground", "cells.minus", "lift.GND", "brain.GND", "eyes.GND"),
    ]
    found = net_currents(train(needs, nets), {})
    assert found["five"].average_ma == pytest.approx(35.0)
    assert found["low"].average_ma == pytest.approx(5.0 * 35.0 / (0.85 * 3.0) + 1.0)
    assert regulator_input(STEP_UP_5V, 3.0, 100.0) == pytest.approx(197.078, abs=1e-3)
    assert regulator_input(LINEAR_5V, 6.0, 100.0) == 105.0


def test_switch_and_fuse_pass_the_current_on() -> None:
    """A switch and a fuse in series carry what lies behind them."""
    base = shuttle()
    nets = [one for one in base.nets if one.name != "battery"]
    nets += [
        net("battery", "supply", "cells.plus", "fuse.a"),
        net("fused", "supply", "fuse.b", "main switch.a"),
        net("switched", "supply", "main switch.b", "brain.raw"),
    ]
    needs = (*base.needs, need("main switch", switch()), need("fuse", fuse()))
    found = net_currents(replace(base, needs=needs, nets=tuple(nets)), {})
    assert {found[name].average_ma for name in ("battery", "fused", "switched")} == {73.0}


def test_motor_currents_reach_the_cells() -> None:
    """A built-in motor on a driver's outputs loads the driver's rail with its running and stall current."""
    motor = BuiltIn(
        "motor", "motor", (Box((0, 0, 0), (1, 1, 1)),), (), (pin("plus", "supply"), pin("minus", "supply")),
        60.0, 900.0, 200.0,
    )  # fmt: skip
    needs = [need("cells", cells(2, "li-ion")), need("drive", driver())]
    nets = [
        net("battery", "supply", "cells.plus", "drive.VM"),
        net("motor one", "supply", "drive.OUT1", "shunter/motor.plus"),
        net("motor two", "supply", "drive.OUT2", "shunter/motor.minus"),
    ]
    built = train(needs, nets, [TrainVehicle("shunter", vehicle(built_in=(motor,)))])
    found = net_currents(built, {})
    for name in ("battery", "motor one", "motor two"):
        assert (found[name].average_ma, found[name].peak_ma) == (200.0, 900.0)


def test_duty_lowers_the_average_only() -> None:
    """A load that draws for a tenth of the time counts a tenth on average and whole at its peak."""
    base = shuttle()
    needs = tuple(replace(one, duty=0.1) if one.name == "front eyes" else one for one in base.needs)
    found = net_currents(replace(base, needs=needs), {})
    assert found["five volts"].average_ma == pytest.approx(16.5)
    assert found["five volts"].peak_ma == pytest.approx(60.0)


def test_the_users_own_figure_stands() -> None:
    """A net's current that the user gives is used instead of the computed one."""
    base = shuttle()
    nets = tuple(replace(one, current_ma=250.0) if one.name == "battery" else one for one in base.nets)
    found = net_currents(replace(base, nets=nets), {})
    assert (found["battery"].average_ma, found["battery"].peak_ma) == (250.0, 250.0)


def test_a_second_rail_lies_behind_its_own_regulator() -> None:
    """What hangs on the 3.3 V pin of a 5 V board is fed through a second regulator, not at 5 V."""
    needs = [need("brain", board()), need("bank", bank()), need("eyes", ranger())]
    nets = [net("usb", "supply", "bank.plus", "brain.5v"), net("low", "supply", "brain.3v3", "eyes.VCC")]
    tree = build_supply(train(needs, nets), {}).trees[0]
    link = tree.root.links[0]
    assert link.regulator is None
    second = link.below.links[0]
    assert second.regulator is not None
    assert second.regulator.out_v == 3.3
    assert source_current(tree).average_ma == pytest.approx(35.0)


def test_what_hangs_from_no_source_is_named() -> None:
    """A ranger without a supply net is reported as unfed."""
    base = shuttle()
    nets = tuple(one for one in base.nets if one.name != "five volts")
    assert build_supply(replace(base, nets=nets), {}).unfed == ("front eyes", "rear eyes")
    assert build_supply(base, {}).unfed == ()


def test_short_circuit_current() -> None:
    """A shorted pack gives its open volts over its inner resistance: 6.72 V / 0.6 Ω."""
    tree = build_supply(shuttle(), {}).trees[0]
    assert short_circuit_ma(tree) == pytest.approx(1000 * 6.72 / 0.6)


@given(st.lists(st.floats(1.0, 200.0), min_size=1, max_size=5), st.floats(0.5, 1.0), st.floats(1.5, 4.8))
@settings(max_examples=40, deadline=None)
def test_power_is_never_made(currents: list[float], efficiency: float, volts: float) -> None:
    """A switching regulator's input power is its output power over its efficiency, whatever the load."""
    regulator = Regulator("step-up", 5.0, 1.0, 5.0, 1000.0, efficiency=efficiency)
    out = sum(currents)
    drawn = regulator_input(regulator, volts, out)
    assert drawn * volts == pytest.approx(5.0 * out / efficiency)
    assert drawn * volts >= 5.0 * out * (1 - 1e-9)


def two_fed_driver(first: str) -> Train:
    """A driver whose motors hang on the cells and whose logic on the board's 5 V rail."""
    logic = replace(
        driver(),
        pins=(*driver().pins, pin("VCC", "supply")),
        electrical=(*driver().electrical, Load(2.7, 5.5, 2.0, 3.0)),
    )
    motor = BuiltIn(
        "motor", "motor", (Box((0, 0, 0), (1, 1, 1)),), (), (pin("plus", "supply"), pin("minus", "supply")),
        60.0, 900.0, 200.0,
    )  # fmt: skip
    joins = ["brain.raw", "drive.VM"]
    needs = [need("cells", cells(2, "li-ion")), need("brain", board()), need("drive", logic)]
    nets = [
        net("battery", "supply", "cells.plus", *sorted(joins, key=lambda one: not one.startswith(first))),
        net("five", "supply", "brain.5v", "drive.VCC"),
        net("one", "supply", "drive.OUT1", "shunter/motor.plus"),
        net("two", "supply", "drive.OUT2", "shunter/motor.minus"),
    ]
    return train(needs, nets, [TrainVehicle("shunter", vehicle(built_in=(motor,)))])


@pytest.mark.parametrize("first", ["brain", "drive"])
def test_a_driver_with_logic_on_another_rail(first: str) -> None:
    """Motor current comes from the cells, logic current from the 5 V rail, whatever the order of joins."""
    made = two_fed_driver(first)
    found = net_currents(made, {})
    assert found["five"].average_ma == pytest.approx(2.0)
    assert found["one"].average_ma == pytest.approx(200.0)
    assert found["battery"].average_ma == pytest.approx(200 + 2 + 20 + 5)
    supply = build_supply(made, {})
    assert supply.unfed == ()


def test_a_charger_with_its_own_step_up_lies_between_cell_and_loads() -> None:
    """A charging board with protection passes the cell's current on; with a step-up it changes it."""
    pins = [pin("cell", "supply"), pin("out", "plus"), pin("GND", "ground")]
    plain = Charger(5.0, 1000.0, True)
    for figures, volts in (((plain,), None), ((plain, STEP_UP_5V), 5.0)):
        needs = [
            need("pouch", cells(1, "li-ion")),
            need("charger", part("charger", *figures, pins=pins)),
            need("eyes", ranger()),
        ]
        nets = [
            net("cell", "supply", "pouch.plus", "charger.cell"),
            net("out", "supply", "charger.out", "eyes.VCC"),
        ]
        made = train(needs, nets)
        (link,) = build_supply(made, {}).trees[0].root.links
        assert (link.regulator.out_v if link.regulator else None) == volts
        expected = 15.0 if volts is None else 5.0 * 15.0 / (0.85 * 3.7) + 1.0
        assert net_currents(made, {})["cell"].average_ma == pytest.approx(expected)
