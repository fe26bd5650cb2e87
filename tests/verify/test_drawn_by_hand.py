"""What flows into a piece of copper, part by part, and the most that pins bear: summed by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from fitplan.circuit.nodes import NetPin, wants_change
from fitplan.model.electrical import Charger, Controller, Load, MotorDriver, Regulator
from fitplan.model.nets import Net
from fitplan.model.part import Part, Pin
from fitplan.model.vehicle import BuiltIn
from fitplan.verify.drawn import Feeding, peak_ma, steady_ma
from fitplan.verify.nodes import parts_of, switched_on
from fitplan.verify.switched_on import _limit, _wants_change, check_switched_on
from tests.circuit.sample_parts import (
    LINEAR_5V,
    STEP_UP_5V,
    board,
    box,
    cans,
    cells,
    driver,
    lamp,
    need,
    net,
    part,
    pin,
    ranger,
    step_up,
    switch,
    train,
    vehicle,
)
from tests.verify.test_volts_inside import built, ground, plus

from .lies import problems

V = 6.0
DOWN = replace(STEP_UP_5V, kind="step-down", efficiency=0.8, quiescent_ma=2.0)
GROUND = ground("cells.minus", "board.GND", "eye.GND", "lift.GND", "lamp.GND", "shunter/lights.minus")
EYE, BOARD = 15.0, 20.0
BEHIND = EYE * 5.0 / (V * 0.8) + 2.0
"""A ranger of 15 mA at 5 V behind a step-down regulator: power over its share, and what it draws itself."""


def flows(
    parts: dict[str, Part], *nets: Net, each: Any = steady_ma, duty: dict[str, float] | None = None
) -> float:
    """What flows from the cells' plus, in mA."""
    made = built(parts, (GROUND, *nets))
    lights = BuiltIn("lights", "lights", (box(60, 20, 20, 80, 30, 30),), current_ma=30.0)
    lights = replace(lights, pins=(pin("plus", "plus"), pin("minus", "ground")))
    (entry,) = made.train.vehicles
    entry = replace(entry, vehicle=vehicle(built_in=(lights,)))
    needs = tuple(replace(one, duty=(duty or {}).get(one.name, 1.0)) for one in made.train.needs)
    made = replace(made, train=replace(made.train, vehicles=(entry,), needs=needs))
    feeding = Feeding(made, switched_on(made), parts_of(made), each)
    return feeding.from_node(("cells", "plus"), V, frozenset({"cells"}))


FOUR = {"cells": cells(), "board": board(), "eye": ranger(), "lift": step_up(DOWN), "lamp": lamp(8.0)}
FIVE = net("five", "supply", "lift.out", "eye.VCC")
LIT = net("light", "signal", "board.D3", "lamp.IN")


@pytest.mark.parametrize(
    ("nets", "expected"),
    [
        ((plus("cells.plus"),), 0.0),
        ((plus("cells.plus", "eye.VCC"),), EYE),
        ((plus("cells.plus", "board.VIN"),), BOARD + 5.0),
        ((plus("cells.plus", "board.5V"),), BOARD),
        ((plus("cells.plus", "board.VIN"), net("rail", "supply", "board.5V", "eye.VCC")), BOARD + 5.0 + EYE),
        ((plus("cells.plus", "board.VIN"), net("low", "supply", "board.3V3", "eye.VCC")), BOARD + 5.0),
        ((plus("cells.plus", "lift.in"), FIVE), BEHIND),
        ((plus("cells.plus", "lift.in"),), 2.0),
        ((plus("cells.plus", "lift.in", "eye.VCC"),), EYE + 2.0),
        ((plus("cells.plus", "lift.in", "board.VIN"), FIVE), BEHIND + BOARD + 5.0),
        ((plus("cells.plus", "shunter/lights.plus"),), 30.0),
        ((plus("cells.plus", "shunter/lights.plus", "eye.VCC"),), 30.0 + EYE),
        ((plus("cells.plus"), FIVE), 0.0),
    ],
)
def test_what_flows_is_what_hangs_there(nets: tuple[Net, ...], expected: float) -> None:
    assert flows(FOUR, *nets) == pytest.approx(expected)


def test_regulators_of_each_kind_take_currents_or_power() -> None:
    """A linear one passes its current on; one that steps up takes more than it gives."""
    behind = (plus("cells.plus", "lift.in"), FIVE)
    linear = replace(DOWN, kind="linear")
    assert flows({**FOUR, "lift": step_up(linear)}, *behind) == pytest.approx(EYE + 2.0)
    higher = replace(DOWN, kind="step-up", out_v=9.0)
    assert flows({**FOUR, "lift": step_up(higher)}, *behind) == pytest.approx(EYE * 9.0 / (V * 0.8) + 2.0)


def test_what_a_board_draws_behind_a_switching_regulator_is_power() -> None:
    """20 mA at 3.3 V come to 13.75 at 6 V and 80 %, and 2 mA of its own; fed at its rail, to 20."""
    inner = replace(DOWN, kind="step-up-down", out_v=3.3)
    made = board(logic=3.3, regulator=inner, brown_out=2.7)
    entered, behind = plus("cells.plus", "board.VIN"), BOARD * 3.3 / (V * 0.8) + 2.0
    assert flows({**FOUR, "board": made}, entered) == pytest.approx(behind)
    assert flows({**FOUR, "board": made}, plus("cells.plus", "board.3V3")) == pytest.approx(BOARD)


def test_what_is_on_at_times_draws_nothing_all_the_time() -> None:
    near = plus("cells.plus", "eye.VCC")
    assert flows(FOUR, near, duty={"eye": 0.99}) == 0.0
    assert flows(FOUR, near, duty={"board": 0.5}) == EYE
    assert flows(FOUR, near, duty={"eye": 0.5}, each=peak_ma) == 2 * EYE


def test_a_board_draws_at_most_what_its_pins_feed_beside_its_own() -> None:
    """A lamp on a pin, each once; what has a supply of its own is fed there; of two figures the larger."""
    fed = plus("cells.plus", "board.5V")
    assert flows(FOUR, fed, each=peak_ma) == 40.0
    assert flows(FOUR, fed, LIT, each=peak_ma) == 48.0
    assert flows(FOUR, fed, LIT, net("more", "signal", "board.D2", "lamp.IN"), each=peak_ma) == 48.0
    assert flows(FOUR, fed, net("echo", "signal", "board.D2", "eye.ECHO"), each=peak_ma) == 40.0
    assert flows(FOUR, fed, LIT) == BOARD
    small = {**FOUR, "board": board(current=50.0, peak=40.0)}
    assert flows(small, fed, each=peak_ma) == 50.0
    assert peak_ma(built(FOUR, ()), FOUR, "cells") == 0.0
    assert steady_ma(built(FOUR, ()), FOUR, "cells") == 0.0
    strong = {**FOUR, "lamp": replace(lamp(), electrical=(Load(1.8, 5.5, 9.0, 4.0),))}
    assert peak_ma(built(strong, ()), strong, "lamp") == 9.0


# -- what pins bear ----------------------------------------------------------------------------------------

OWN = replace(LINEAR_5V, in_limit_v=0.0)
LOW = replace(LINEAR_5V, out_v=3.3)
DRIVER = MotorDriver(2.7, 10.0, 1000.0, 2000.0, 0.5, 1)


def controller(regulator: Regulator | None, **more: float) -> Controller:
    return Controller(5.0, 20.0, 40.0, 4.3, 20.0, 500.0, regulator, **more)  # type: ignore[arg-type]


def at(name: str, role: Any) -> Pin:
    return pin(name, role)


@pytest.mark.parametrize(
    ("figures", "where", "limit"),
    [
        (controller(OWN), at("VIN", "raw"), 12.0),
        (controller(replace(OWN, in_limit_v=15.0)), at("VIN", "raw"), 15.0),
        (controller(None), at("VIN", "raw"), 0.0),
        (controller(OWN), at("5V", "5v"), 5.5),
        (controller(OWN, rail_max_v=5.7), at("5V", "5v"), 5.7),
        (controller(OWN, rail_max_v=5.7, rail_limit_v=6.0), at("5V", "5v"), 6.0),
        (controller(OWN, rail_max_v=5.7), at("3V3", "3v3"), 1.1 * 3.3),
        (controller(LOW), at("3V3", "3v3"), 1.1 * 3.3),
        (controller(LOW), at("5V", "5v"), 12.0),
        (controller(None, rail_max_v=3.6), at("3V3", "3v3"), 1.1 * 3.3),
        (controller(OWN), at("GND", "ground"), 0.0),
        (controller(OWN), at("D3", "signal"), 0.0),
        (STEP_UP_5V, at("in", "supply"), 5.0),
        (replace(STEP_UP_5V, in_limit_v=6.5), at("in", "supply"), 6.5),
        (STEP_UP_5V, at("out", "plus"), 0.0),
        (DRIVER, at("VM", "supply"), 10.0),
        (replace(DRIVER, limit_v=11.0), at("VM", "supply"), 11.0),
        (DRIVER, at("VCC", "supply"), 0.0),
        (Load(4.5, 5.5, 1.0, 1.0), at("VCC", "supply"), 5.5),
        (Load(4.5, 5.5, 1.0, 1.0, limit_v=6.0), at("VCC", "supply"), 6.0),
        (Charger(5.0, 500.0, True), at("IN", "supply"), 0.0),
    ],
)
def test_the_most_volts_that_a_pin_bears(figures: Any, where: Pin, limit: float) -> None:
    assert _limit(part("one", figures, pins=[where]), where) == pytest.approx(limit)


@pytest.mark.parametrize(
    ("made", "name", "wants"),
    [
        (ranger(), "TRIG", True),
        (ranger(), "ECHO", False),
        (ranger(), "VCC", False),
        (driver(), "PWM", False),
        (lamp(), "IN", False),
        (part("servo", pins=[pin("IN", wants=cans("pwm"))]), "IN", True),
        (part("serial", pins=[pin("RX", wants=cans("send"))]), "RX", True),
        (part("bus", pins=[pin("SDA", wants=cans("data"))]), "SDA", True),
        (part("bus", pins=[pin("SCL", wants=cans("clock"))]), "SCL", True),
        (part("relay", pins=[pin("IN", wants=cans("output"))]), "IN", False),
        (part("lamps", pins=[pin("IN", wants=cans("pwm"))], family="lamp"), "IN", False),
    ],
)
def test_inputs_whose_level_must_change(made: Part, name: str, wants: bool) -> None:
    assert _wants_change(made, made.pin(name)) is wants
    # The circuit's own account, by other words.
    net_pin = NetPin(plus("made.x"), "made", made, made.pin(name), name)
    assert wants_change(net_pin) is wants
    assert not wants_change(replace(net_pin, part=None))
    assert not wants_change(replace(net_pin, pin=None))
    optional = replace(made, pins=tuple(replace(one, optional=True) for one in made.pins))
    assert _wants_change(optional, optional.pin(name)) is (wants and name != "TRIG")


def said(parts: dict[str, Part], *nets: Net, motor: bool = False) -> set[tuple[str, str]]:
    made = built(parts, nets, motor=motor)
    return {
        (one.where, one.message.removesuffix(", and no stop says so"))
        for one in problems(check_switched_on, made, ())
    }


def test_an_input_that_a_supply_holds_is_said_where_it_must_change() -> None:
    """The trigger of a ranger on the supply; its echo there is a signal that is sent."""
    parts = {"cells": cells(3), "eye": ranger(), "board": board()}
    both = ground("cells.minus", "eye.GND", "board.GND")
    echo = net("echo", "signal", "board.D2", "eye.ECHO")
    held = said(parts, both, plus("cells.plus", "eye.VCC", "board.5V", "eye.TRIG"), echo)
    assert ("plus", "holds TRIG of eye at one level for good") in held
    free = said(
        parts,
        both,
        plus("cells.plus", "eye.VCC", "board.5V"),
        echo,
        net("t", "signal", "board.D3", "eye.TRIG"),
    )
    assert free == set()
    sent = said(
        parts,
        both,
        plus("cells.plus", "eye.VCC", "board.5V", "eye.ECHO"),
        net("t", "signal", "board.D3", "eye.TRIG"),
    )
    assert ("plus", "is a supply and holds a signal that is sent") in sent


def test_two_outputs_of_a_driver_on_one_conductor() -> None:
    parts = {"cells": cells(), "driver": driver(), "board": board(), "switch": switch()}
    nets = (
        ground("cells.minus", "driver.GND", "board.GND"),
        plus("cells.plus", "driver.VM", "board.VIN"),
        net("p", "signal", "board.D6", "driver.PWM"),
        net("d", "signal", "board.D2", "driver.DIR"),
    )
    apart = (
        net("m1", "supply", "driver.OUT1", "shunter/motor.M1"),
        net("m2", "supply", "driver.OUT2", "shunter/motor.M2"),
    )
    lone = {name: one for name, one in parts.items() if name != "switch"}
    assert said(lone, *nets, *apart, motor=True) == set()
    joined = net("m1", "supply", "driver.OUT1", "driver.OUT2", "shunter/motor.M1", "shunter/motor.M2")
    assert ("driver", "has two outputs on one conductor") in said(lone, *nets, joined, motor=True)


def test_without_nets_nothing_is_said() -> None:
    bare = train([need("lamp", lamp())], [])
    assert problems(check_switched_on, replace(built({}, ()), train=bare), ()) == ()
