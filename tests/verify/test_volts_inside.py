"""Volts at every pin of small trains that are switched on, worked out by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Bank, Regulator
from fitplan.model.nets import Net
from fitplan.model.part import Part
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BuiltIn
from fitplan.model.wired import Harness
from fitplan.verify.nodes import switched_on
from fitplan.verify.switched_on import check_switched_on
from tests.circuit.sample_parts import (
    STEP_UP_5V,
    board,
    box,
    cells,
    driver,
    fuse,
    lamp,
    need,
    net,
    part,
    pin,
    step_up,
    switch,
    train,
    vehicle,
)

from .lies import problems

FOUR = 4 * 1.68
"""Volts of four fresh alkaline cells: 1.68 V each without a load (from memory)."""


def built(parts: dict[str, Part], nets: Sequence[Net], *, motor: bool = False) -> BuiltTrain:
    vehicles = []
    if motor:
        one = BuiltIn("motor", "motor", (box(60, 20, 20, 80, 30, 30),), current_ma=100.0)
        one = replace(one, pins=(pin("M1", "plus"), pin("M2", "plus")))
        vehicles.append(TrainVehicle("shunter", vehicle(built_in=(one,))))
    made = train([need(name, one) for name, one in parts.items()], nets, vehicles)
    return BuiltTrain(made, (), Harness(), ())


def volts(parts: dict[str, Part], *nets: Net, motor: bool = False) -> dict[str, float]:
    """Volts of each net, and of each pin as ``owner.pin``, over the net of ground."""
    bench = switched_on(built(parts, nets, motor=motor))
    low = bench.volts["", "ground"]
    return {
        name if not owner else f"{owner}.{name}": value - low for (owner, name), value in bench.volts.items()
    }


def ground(*ends: str) -> Net:
    return net("ground", "ground", *ends)


def plus(*ends: str) -> Net:
    return net("plus", "supply", *ends)


def test_a_board_gives_its_rails() -> None:
    """A 5 V board makes 5 and 3.3 V of 6.7; one of 3.3 V makes 3.3 of either; a bare one is fed there."""
    ends = (ground("cells.minus", "board.GND"), plus("cells.plus", "board.VIN"))
    found = volts({"cells": cells(), "board": board()}, *ends)
    assert found["board.VIN"] == pytest.approx(FOUR, abs=0.02)
    assert found["board.5V"] == pytest.approx(5.0, abs=0.02)
    assert found["board.3V3"] == pytest.approx(3.3, abs=0.02)
    low = Regulator("linear", 3.3, 4.2, 12.0, 500.0, dropout_v=1.0)
    found = volts({"cells": cells(), "board": board(logic=3.3, regulator=low)}, *ends)
    assert found["board.3V3"] == pytest.approx(3.3, abs=0.02)
    five = (ground("cells.minus", "board.GND"), plus("cells.plus", "board.5V"))
    found = volts({"cells": cells(3), "board": board(logic=3.3, regulator=low)}, *five)
    assert found["board.3V3"] == pytest.approx(3.3, abs=0.02)
    fed = (ground("cells.minus", "board.GND"), plus("cells.plus", "board.3V3"))
    found = volts({"cells": cells(2), "board": board(logic=3.3, regulator=None)}, *fed)
    assert found["board.3V3"] == pytest.approx(2 * 1.68, abs=0.02)
    assert found.get("board.5V", 0.0) == pytest.approx(0.0, abs=0.5)


@pytest.mark.parametrize(
    ("count", "kind", "out"),
    [
        (4, "linear", 5.0),
        (3, "linear", 3 * 1.68 - 1.0),
        (2, "step-up", 5.0),
        (4, "step-up", FOUR),
        (4, "step-down", 5.0),
        (3, "step-down", 3 * 1.68 - 1.0),
        (2, "step-up-down", 5.0),
        (4, "step-up-down", 5.0),
    ],
)
def test_what_a_regulator_makes_of_cells(count: int, kind: str, out: float) -> None:
    """A linear or step-down one drops a volt where it has to; a step-up one passes on what is higher."""
    figures = replace(STEP_UP_5V, kind=kind, dropout_v=1.0)  # type: ignore[arg-type]
    found = volts(
        {"cells": cells(count), "lift": step_up(figures), "board": board()},
        ground("cells.minus", "lift.GND", "board.GND"),
        plus("cells.plus", "lift.in"),
        net("five", "supply", "lift.out", "board.5V"),
    )
    assert found["five"] == pytest.approx(out, abs=0.03)


def test_a_switch_and_a_fuse_pass_on_and_a_bank_holds_its_socket() -> None:
    found = volts(
        {"cells": cells(), "switch": switch(), "fuse": fuse(), "board": board()},
        ground("cells.minus", "board.GND"),
        plus("cells.plus", "switch.a"),
        net("on", "supply", "switch.b", "fuse.a"),
        net("safe", "supply", "fuse.b", "board.VIN"),
    )
    assert found["on"] == pytest.approx(FOUR, abs=0.02)
    assert found["safe"] == pytest.approx(FOUR, abs=0.02)
    bank = part(
        "bank", Bank(5.0, 2000.0, 3.7, 0.85, 2000.0, 50.0), pins=[pin("plus", "plus"), pin("minus", "ground")]
    )
    found = volts(
        {"bank": bank, "board": board()}, ground("bank.minus", "board.GND"), plus("bank.plus", "board.5V")
    )
    assert found["plus"] == pytest.approx(5.25, abs=0.02)


def test_cells_in_series_and_beside_each_other() -> None:
    parts = {"upper": cells(2), "lower": cells(2), "board": board()}
    found = volts(
        parts,
        ground("lower.minus", "board.GND"),
        net("between", "supply", "lower.plus", "upper.minus"),
        plus("upper.plus", "board.VIN"),
    )
    assert found["between"] == pytest.approx(2 * 1.68, abs=0.02)
    assert found["plus"] == pytest.approx(FOUR, abs=0.02)
    beside = volts(
        parts,
        ground("lower.minus", "upper.minus", "board.GND"),
        plus("lower.plus", "upper.plus", "board.VIN"),
    )
    assert beside["plus"] == pytest.approx(2 * 1.68, abs=0.02)


DRIVEN = (
    ground("cells.minus", "driver.GND", "board.GND"),
    plus("cells.plus", "driver.VM", "board.VIN"),
    net("m1", "supply", "driver.OUT1", "shunter/motor.M1"),
    net("m2", "supply", "driver.OUT2", "shunter/motor.M2"),
    net("p", "signal", "board.D6", "driver.PWM"),
    net("d", "signal", "board.D2", "driver.DIR"),
)


def test_a_driver_gives_its_motor_what_it_gets() -> None:
    """One output at the volts of its supply, the other at ground; no more than its half ohm between."""
    parts = {"cells": cells(), "driver": driver(), "board": board()}
    found = volts(parts, *DRIVEN, motor=True)
    assert found["m1"] == pytest.approx(FOUR, abs=0.2)
    assert found["m2"] == pytest.approx(0.0, abs=0.2)
    assert found["m1"] - found["m2"] > FOUR - 0.4
    named = replace(parts["driver"], pins=(pin("VCC", "supply"), *parts["driver"].pins))
    own = (
        *DRIVEN[:1],
        plus("cells.plus", "driver.VM", "board.VIN"),
        net("five", "supply", "board.5V", "driver.VCC"),
    )
    found = volts({**parts, "driver": named}, *own, *DRIVEN[2:], motor=True)
    assert found["m1"] == pytest.approx(FOUR, abs=0.2)
    assert problems(check_switched_on, built(parts, DRIVEN, motor=True), ()) == ()


def said(parts: dict[str, Part], *nets: Net, motor: bool = False) -> set[str]:
    return {
        f"{one.where}: {one.message}"
        for one in problems(check_switched_on, built(parts, nets, motor=motor), ())
    }


def test_what_is_left_out_is_said_unless_it_may_be() -> None:
    """Grounds, a driver's supply and its inputs: each pin that need not be joined is let be."""
    parts = {"cells": cells(), "driver": driver(), "board": board()}

    def lacks(number: int, *ends: str) -> tuple[Net, ...]:
        return tuple(
            replace(one, joins=tuple(ref for ref in one.joins if f"{ref.owner}.{ref.pin}" not in ends))
            if n == number
            else one
            for n, one in enumerate(DRIVEN)
        )

    def optional(*names: str) -> dict[str, Part]:
        pins = tuple(replace(p, optional=p.name in names) for p in parts["driver"].pins)
        return {**parts, "driver": replace(parts["driver"], pins=pins)}

    no_ground = lacks(0, "driver.GND")
    assert any("has no ground" in one for one in said(parts, *no_ground, motor=True))
    assert not any("has no ground" in one for one in said(optional("GND"), *no_ground, motor=True))
    no_supply = lacks(1, "driver.VM")
    assert any("has its supply pin VM open" in one for one in said(parts, *no_supply, motor=True))
    assert not any("supply pin VM open" in one for one in said(optional("VM"), *no_supply, motor=True))
    told_nothing = "is told nothing"
    assert any(told_nothing in one for one in said(parts, *DRIVEN[:4], motor=True))
    assert not any(told_nothing in one for one in said(parts, *DRIVEN[:5], motor=True))
    assert not any(told_nothing in one for one in said(optional("PWM", "DIR"), *DRIVEN[:4], motor=True))
    assert any("is in no net" in one for one in said({**parts, "lamp": lamp()}, *DRIVEN, motor=True))
    assert any(
        "joins nothing" in one for one in said(parts, *DRIVEN, net("x", "signal", "board.D3"), motor=True)
    )


def test_a_source_that_feeds_nobody_is_said() -> None:
    spare = {"cells": cells(), "spare": cells(), "switch": switch(), "board": board()}
    nets = (ground("cells.minus", "board.GND", "spare.minus"), plus("cells.plus", "board.VIN"),
            net("idle", "supply", "spare.plus", "switch.a"))  # fmt: skip
    assert any(one.startswith("spare: ") for one in said(spare, *nets))
    assert not any(one.startswith("cells: ") for one in said(spare, *nets))
