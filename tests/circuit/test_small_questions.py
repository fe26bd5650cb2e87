"""Small questions of circuits, each worked out by hand: ratings, what is joined inside, fuses, averages."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from fitplan.circuit.cells import Source
from fitplan.circuit.discharge import discharge, solve_state
from fitplan.circuit.fuses import fuse_at_minus, with_kind
from fitplan.circuit.motor_faults import motor_faults
from fitplan.circuit.nodes import Level, inner_groups, let_through, read_circuit
from fitplan.circuit.ratings import Rating, rating_of
from fitplan.circuit.supply import build_supply
from fitplan.circuit.supply_tree import Rail, RailLoad, SupplyTree
from fitplan.model.electrical import CellPack, Charger, Controller, Load, MotorDriver, Regulator
from fitplan.model.part import Part
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BuiltIn
from tests.circuit.sample_parts import (
    board,
    box,
    cans,
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

REGULATOR = Regulator("linear", 5.0, 6.5, 12.0, 800.0, 1.2, in_limit_v=15.0)
LOW = replace(REGULATOR, out_v=3.3, in_min_v=4.2)


def rated(one: Part, name: str) -> Rating | None:
    return rating_of(one, one.pin(name))


def with_figures(one: Part, **figures: object) -> Part:
    made = tuple(replace(f, **figures) if isinstance(f, Controller) else f for f in one.electrical)  # type: ignore[arg-type]
    return replace(one, electrical=made)


def test_what_the_pins_of_a_board_stand() -> None:
    """Raw as the regulator, the own rail a tenth more, a lower one gives, a higher one is ahead of it."""
    five = board(regulator=REGULATOR, brown_out=4.3)
    assert rated(five, "VIN") == Rating(6.5, 12.0, 15.0)
    assert rated(five, "5V") == Rating(4.3, pytest.approx(5.5), pytest.approx(5.5))
    assert rated(five, "3V3") == Rating(0.0, pytest.approx(3.63), pytest.approx(3.63))
    assert rated(five, "GND") is None
    three = board(regulator=LOW, logic=3.3, brown_out=2.6)
    assert rated(three, "5V") == Rating(4.2, 12.0, 15.0)
    assert rated(three, "3V3") == Rating(2.6, pytest.approx(3.63), pytest.approx(3.63))
    bare = board(regulator=None, logic=3.3, brown_out=2.6)
    assert rated(bare, "VIN") is None
    assert rated(bare, "3V3") == Rating(2.6, pytest.approx(3.63), pytest.approx(3.63))
    told = with_figures(five, rail_max_v=5.25, rail_limit_v=6.0)
    assert rated(told, "5V") == Rating(4.3, 5.25, 6.0)
    assert rated(five, "D2") == Rating(0.0, 5.5, 5.5)
    assert rated(with_figures(five, five_volt_tolerant=False), "D2") == Rating(0.0, 5.3, 5.3)
    assert rated(with_figures(three, five_volt_tolerant=False, pin_limit_v=4.0), "D2") == Rating(
        0.0, pytest.approx(3.6), 4.0
    )


def test_what_is_fed_stands() -> None:
    """Loads, regulators, switches, fuses, a driver's two supplies and its signals, cells of a charger."""
    load = part(
        "load",
        Load(3.0, 5.5, 9.0, 20.0, limit_v=7.0),
        pins=[pin("VCC", "supply"), pin("S", wants=cans("pwm"))],
    )
    assert rated(load, "VCC") == Rating(3.0, 5.5, 7.0)
    assert rated(load, "S") == Rating(0.0, pytest.approx(5.8), pytest.approx(5.8))
    signal = replace(load, electrical=(Load(3.0, 5.5, 9.0, 20.0, signal_max_v=3.6),))
    assert rated(signal, "S") == Rating(0.0, 3.6, 3.6)
    assert rated(switch(), "a") == Rating(0.0, 12.0, 12.0)
    assert rated(fuse(), "a") is None
    assert rated(step_up(REGULATOR), "in") == Rating(6.5, 12.0, 15.0)
    assert rated(step_up(), "out") is None
    assert rated(driver(), "VM") == Rating(2.7, 10.0, 10.0)
    assert rated(driver(), "PWM") == Rating(0.0, 5.5, 5.5)
    for count in (1, 2):
        charger = part(
            "charger", Charger(5.0, 500.0, False, cells=count, cell_pins=("B+",)), REGULATOR,
            pins=[pin("IN", "supply"), pin("B+", "supply")],
        )  # fmt: skip
        assert rated(charger, "B+") == Rating(0.0, 4.25 * count, 15.0)
        assert rated(charger, "IN") == Rating(6.5, 12.0, 15.0)
        alone = replace(charger, electrical=charger.electrical[:1])
        assert rated(alone, "B+") == Rating(0.0, 4.25 * count, 4.25 * count)


@pytest.mark.parametrize("volts", [0.5, 1.2, 4.0, 5.5, 9.0])
def test_what_comes_out_of_a_regulator(volts: float) -> None:
    """Linear and step-down pass on what is low, less what they drop, not below nothing; step-up the high."""
    entering = Level(volts, volts + 0.4)
    for kind in ("linear", "step-down"):
        found = let_through(replace(REGULATOR, kind=kind), entering)
        assert found == Level(min(5.0, max(0.0, volts - 1.2)), min(5.0, volts + 0.4))
    found = let_through(replace(REGULATOR, kind="step-up"), entering)
    assert found == Level(max(5.0, volts), max(5.0, volts + 0.4))
    assert let_through(replace(REGULATOR, kind="step-up-down"), entering) == Level(5.0, 5.0)


def test_what_a_part_joins_inside() -> None:
    """Grounds, rails of one name, joined pins; through a switch; a protected charger keeps cells apart."""

    def groups(one: Part) -> set[frozenset[str]]:
        return set(inner_groups(one))

    pins = [
        pin("IN", "supply"), pin("B+", "supply"), pin("OUT", "plus"),
        pin("G1", "ground"), pin("G2", "ground"), pin("B-", "ground"), pin("C-", "ground"),
    ]  # fmt: skip
    figures = Charger(5.0, 500.0, True, cell_pins=("B+", "B-", "C-"))
    charger = part("charger", figures, REGULATOR, pins=pins)
    assert groups(charger) == {frozenset({"G1", "G2"}), frozenset({"B-", "C-"})}
    plain = replace(charger, electrical=(replace(figures, protected=False), REGULATOR))
    assert groups(plain) == {frozenset({"G1", "G2", "B-", "C-"})}
    through = replace(charger, electrical=(figures,))
    assert groups(through) == {
        frozenset({"G1", "G2"}),
        frozenset({"B-", "C-"}),
        frozenset({"IN", "B+", "OUT"}),
    }
    assert groups(switch()) == groups(fuse()) == {frozenset({"a", "b"})}
    junction = part("junction", pins=[pin("a", "supply"), pin("b", "supply"), pin("G", "ground")])
    assert groups(junction) == {frozenset({"a", "b"})}
    assert groups(replace(junction, electrical=(Load(3.0, 5.5, 9.0, 20.0),))) == set()


@pytest.mark.parametrize("at_minus", [True, False])
def test_the_fuse_through_which_all_returns(at_minus: bool) -> None:
    """A fuse alone at the minus of the cells is one; a fuse beside something else, or a switch, is none."""
    parts = {"cells": cells(), "fuse": fuse(), "lamp": lamp(), "switch": switch(), "board": board()}
    needs = [need(name, one) for name, one in parts.items()]
    plus = net("plus", "supply", "cells.plus", "board.VIN")

    def found(*nets: object) -> str:
        made = train(needs, [plus, *nets])  # type: ignore[list-item]
        (tree,) = build_supply(made, parts).trees
        return fuse_at_minus(made, parts, tree)

    alone = net("minus", "ground", "cells.minus", "fuse.a")
    back = net("ground", "ground", "fuse.b", "board.GND")
    if at_minus:
        assert found(alone, back) == "fuse"
        assert found(back, alone) == "fuse"
    else:
        assert found(net("minus", "ground", "cells.minus", "fuse.a", "board.GND")) == ""
        assert found(net("minus", "ground", "cells.minus", "switch.a"), back) == ""
        assert found(net("minus", "ground", "cells.minus", "board.GND")) == ""
        assert found(net("other", "ground", "lamp.GND", "fuse.a"), back) == ""


PACK = CellPack("alkaline", "LR03", 3, 1100.0, 0.25, 500.0)


def tree(average: float, peak: float) -> SupplyTree:
    return SupplyTree(
        "cells", part("cells", PACK), PACK, Rail("plus", (RailLoad("load", average, peak, 2.0),))
    )


@pytest.mark.parametrize("average", [30.0, 400.0, 2600.0])
def test_the_average_is_charge_for_each_hour(average: float) -> None:
    """However short the run; without a load there is none."""
    run = discharge(tree(average, average))
    assert run.average_ma == pytest.approx(average)
    assert 0 < run.hours < 1100.0 / average * 1.2
    idle = discharge(tree(0.0, 0.0))
    assert math.isinf(idle.hours)
    assert idle.average_ma == 0.0


def test_the_course_tells_volts_at_average_and_at_peak() -> None:
    """At every mark both are what the circuit solved for that state of charge says."""
    run = discharge(tree(40.0, 240.0), pieces=20)
    source = Source(PACK)
    root = tree(40.0, 240.0).root
    full, peak = (solve_state(source, root, 1.0, at_peak, {}) for at_peak in (False, True))
    assert run.terminal_v[0] == pytest.approx(full.volts)
    assert run.lowest_v[0] == pytest.approx(peak.volts)
    assert all(low < mean for low, mean in zip(run.lowest_v, run.terminal_v, strict=True))
    assert run.arriving["load"] == pytest.approx(run.lowest_v)


@pytest.mark.parametrize("count", [2, 3])
def test_cells_in_series_are_one_source(count: int) -> None:
    """Cells of all, the least current of any, protected only where all are; it returns at the last."""
    packs = [cells(number + 1, max_ma=2000.0 - 100 * number, protected=number > 0) for number in range(count)]
    parts = {**{f"c{number}": one for number, one in enumerate(packs)}, "board": board()}
    links = [net(f"between {n}", "supply", f"c{n}.minus", f"c{n + 1}.plus") for n in range(count - 1)]
    ends = [
        net("plus", "supply", "c0.plus", "board.VIN"),
        net("ground", "ground", f"c{count - 1}.minus", "board.GND"),
    ]
    made = train([need(name, one) for name, one in parts.items()], [*ends, *links])
    (found,) = build_supply(made, parts).trees
    assert isinstance(found.source, CellPack)
    assert found.source.cells == sum(range(1, count + 1))
    assert found.source.max_ma == 2000.0 - 100 * (count - 1)
    assert not found.source.protected
    assert (found.owner, found.below, found.bottom) == (
        "c0",
        tuple(f"c{n}" for n in range(1, count)),
        f"c{count - 1}",
    )
    assert found.between == tuple(f"between {n}" for n in range(count - 1))


def test_a_motor_across_two_channels_of_one_driver_is_told() -> None:
    """Both leads on one channel are right; on two channels of a driver that has just two they are not."""
    figures = MotorDriver(2.7, 10.0, 1000.0, 2000.0, 0.5, 2)
    pins = [
        pin("VM", "supply"),
        pin("GND", "ground"),
        *(pin(name, "plus") for name in ("A1", "A2", "B1", "B2")),
    ]
    two = part("driver", figures, pins=pins, family="driver")
    parts = {"cells": cells(), "driver": two}

    def told(first: str, second: str, one: Part = two) -> list[str]:
        nets = [
            net("plus", "supply", "cells.plus", "driver.VM"),
            net("ground", "ground", "cells.minus", "driver.GND"),
            net("m1", "supply", f"driver.{first}", "shunter/motor.plus"),
            net("m2", "supply", f"driver.{second}", "shunter/motor.minus"),
        ]
        chosen = {**parts, "driver": one}
        leads = (pin("plus", "plus"), pin("minus", "plus"))
        motor = BuiltIn("motor", "motor", (box(60, 20, 20, 80, 30, 30),), pins=leads)
        shunter = TrainVehicle("shunter", vehicle(built_in=(motor,)))
        made = train([need(name, part_) for name, part_ in chosen.items()], nets, [shunter])
        return [fault.kind for fault in motor_faults(made, read_circuit(made, chosen))]

    assert told("A1", "A2") == told("B1", "B2") == []
    assert told("A1", "B1") == told("A2", "B2") == ["motor across channels"]
    single = replace(two, electrical=(replace(figures, channels=1),))
    assert told("A1", "B1", single) == []


@pytest.mark.parametrize(
    ("owner", "words"),
    [("switch", "the switch"), ("main switch", "the main switch"), ("S1", "the switch S1")],
)
def test_a_name_that_says_what_it_is_says_it_once(owner: str, words: str) -> None:
    """A switch that is called switch is no switch switch."""
    assert with_kind("switch", owner) == words
