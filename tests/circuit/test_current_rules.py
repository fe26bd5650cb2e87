"""Currents and volts at the edges of their rules: small loads, grounds with a switch, what gives up first."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.circuit.cells import open_volts, source_of
from fitplan.circuit.chain import Flow, flow_through, most_output
from fitplan.circuit.currents import net_currents
from fitplan.circuit.discharge import discharge
from fitplan.circuit.draws import Drawn, by_flow, end_currents
from fitplan.circuit.leads import lead_ohms, wire_ohm
from fitplan.circuit.nodes import read_circuit
from fitplan.circuit.resistors import resistors_of
from fitplan.circuit.supply import build_supply
from fitplan.circuit.supply_tree import Link, Rail, RailLoad, Supply, SupplyTree
from fitplan.model.electrical import CellPack, Load, Regulator
from fitplan.model.nets import Net
from fitplan.model.part import Part
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BuiltIn
from fitplan.model.wired import Harness
from tests.circuit.sample_parts import (
    LINEAR_5V,
    bank,
    board,
    box,
    cans,
    cells,
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
from tests.circuit.test_leads import wire

LIFT = Regulator("step-up", 5.0, 1.0, 5.0, 600.0, efficiency=0.8, in_max_ma=900.0)


def tree(rail: Rail, pack: CellPack) -> SupplyTree:
    return SupplyTree("cells", cells(2), pack, rail)


AA = CellPack("alkaline", "LR6", 2, 2200.0, 0.15, 1000.0)


# -- what arrives ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("volts", "most"), [(0.5, 72.0), (0.0, 0.0), (-1.0, 0.0), (5.0, 600.0)])
def test_a_step_up_gives_what_its_switch_lets_pass(volts: float, most: float) -> None:
    """900 mA · 0.8 · V / 5 V, nothing below no volts, and no more than it is made for."""
    assert most_output(LIFT, volts) == pytest.approx(most)
    assert most_output(replace(LIFT, in_max_ma=0.5), 2.5) == pytest.approx(0.5 * 0.8 * 2.5 / 5)


@pytest.mark.parametrize(("least", "weak"), [(5.0, 0), (5.001, 1), (4.9, 0)])
def test_just_enough_volts_are_enough(least: float, weak: int) -> None:
    rail = Rail("five", (RailLoad("x", 10.0, 10.0, least),))
    assert len(flow_through(rail, 5.0, False, {})[1].weak) == weak


@pytest.mark.parametrize(("volts", "weak"), [(6.0, 0), (5.99, 0)])
def test_a_linear_regulator_stops_nothing(volts: float, weak: int) -> None:
    """It follows below its least volts; a step-down stops."""
    below = Rail("five", (RailLoad("x", 10.0, 10.0),))
    for kind, told in (("linear", 0), ("step-down", int(volts < 6.0))):
        rail = Rail("raw", (), (Link("regulator", "r", step_up(), below, replace(LINEAR_5V, kind=kind)),))  # type: ignore[arg-type]
        assert len(flow_through(rail, volts, False, {})[1].weak) == weak + told


def test_the_curve_of_alkaline_cells_between_and_at_its_points() -> None:
    """Straight between points: halfway between 1.2 V at 0.3 and 1.235 V at 0.4; ends as they stand."""
    assert open_volts("alkaline", 0.35) == pytest.approx((1.2 + 1.235) / 2)
    assert open_volts("alkaline", 0.3) == pytest.approx(1.2)
    assert (open_volts("alkaline", 0.0), open_volts("alkaline", -1.0)) == (0.75, 0.75)
    assert open_volts("alkaline", 1.0) == open_volts("alkaline", 2.0) == pytest.approx(1.58)
    assert open_volts("alkaline", 0.01) == pytest.approx((0.75 + 0.9) / 2)


# -- a discharge -------------------------------------------------------------------------------------------


def test_too_much_current_from_the_start_is_no_end() -> None:
    """Asked for more than it is made for it runs on until its volts are too few, and that is told."""
    loads = Rail("five", (RailLoad("x", 50.0, 700.0),))
    lift = replace(LIFT, in_max_ma=0.0, in_min_v=1.8)
    run = discharge(tree(Rail("low", (), (Link("regulator", "lift", step_up(), loads, lift),)), AA))
    assert run.failed is not None
    assert (run.failed.owner, run.failed.unit, run.at_start) == ("lift", "V", False)
    assert run.hours > 1.0
    # Asked for too much only as its cells sag, it ends there.
    sags = replace(LIFT, in_max_ma=2500.0, in_min_v=0.5)
    loads = Rail("five", (RailLoad("x", 50.0, 900.0),))
    run = discharge(
        tree(
            Rail("low", (), (Link("regulator", "lift", step_up(), loads, replace(sags, max_ma=1000.0)),)),
            replace(AA, resistance_ohm=0.01),
        )
    )
    assert run.failed is not None
    assert (run.failed.reason, run.failed.unit) == ("is asked for too much current", "mA")
    assert 0.1 < run.left < 1.0


def test_cells_that_collapse_tell_a_fifth_of_their_volts() -> None:
    """The matched load of a source takes half its volts; below a fifth of them it is told as power."""
    run = discharge(tree(Rail("low", (RailLoad("x", 100.0, 20_000.0),)), AA))
    assert run.failed is not None
    assert (run.failed.reason, run.failed.figure, run.failed.unit) == ("cannot give the power", 0.0, "V")
    assert run.failed.limit == round(0.2 * source_of(AA).open_volts(1.0), 3)
    assert (run.at_start, run.left, run.hours) == (True, 1.0, 0.0)
    assert run.arriving["x"] == (0.0,)
    assert run.lowest_v == (0.0,)


def test_a_course_has_many_points_and_ends_empty() -> None:
    """Two hundred pieces and more from full to empty; nothing failed, and nothing was so at the start."""
    run = discharge(tree(Rail("low", (RailLoad("x", 100.0, 100.0),)), AA))
    assert len(run.times_h) > 200
    assert run.times_h[0] == 0.0
    assert run.times_h[-1] == run.hours
    assert list(run.times_h) == sorted(run.times_h)
    assert (run.failed, run.at_start, run.left) == (None, False, 0.0)
    assert run.terminal_v[0] == pytest.approx(2 * 1.58 - 0.3 * 0.1)
    assert run.terminal_v[-1] == pytest.approx(2 * 0.75 - 0.3 * 2.5 * 0.1)
    few = discharge(tree(Rail("low", (RailLoad("x", 100.0, 100.0),)), AA), course=False)
    assert (few.times_h, few.terminal_v, few.lowest_v, few.arriving) == ((), (), (), {})
    assert few.hours == pytest.approx(run.hours, rel=1e-5)


# -- currents at nets --------------------------------------------------------------------------------------


def test_what_a_board_draws_is_what_flowed_into_its_regulator() -> None:
    """A rail of the same board without a regulator passes on what is drawn below it."""
    flow = Flow(inputs={"brain": (8.0, 105.0)})
    drawn = by_flow(flow)
    below = Rail("five")
    assert drawn(Link("controller", "brain", board(), below, LINEAR_5V), 90.0) == 105.0
    assert drawn(Link("through", "brain", board(), below), 90.0) == 90.0
    assert drawn(Link("regulator", "lift", step_up(), below, LIFT), 90.0) == 90.0


def returned(*nets: Net) -> dict[tuple[str, str], float]:
    """Currents (mA) at all ends of cells that feed a board of 20 mA on average."""
    parts: dict[str, Part] = {"cells": cells(), "switch": switch(), "brain": board()}
    made = train(
        [need(name, one) for name, one in parts.items()],
        [net("plus", "supply", "cells.plus", "brain.raw"), *nets],
    )

    def plain(_: SupplyTree) -> Drawn:
        return lambda link, below: below

    return end_currents(made, {}, build_supply(made, {}), plain, False)


def test_a_switch_in_the_ground_lead_carries_what_returns() -> None:
    """Over two grounds with a switch between; and over a net of another role that joins grounds."""
    found = returned(
        net("minus", "ground", "cells.minus", "switch.a"), net("g", "ground", "switch.b", "brain.GND")
    )
    assert found == {
        ("plus", "cells"): pytest.approx(20.0),
        ("plus", "brain"): pytest.approx(-20.0),
        ("minus", "cells"): pytest.approx(-20.0),
        ("minus", "switch"): pytest.approx(20.0),
        ("g", "switch"): pytest.approx(-20.0),
        ("g", "brain"): pytest.approx(20.0),
    }
    found = returned(net("g", "supply", "cells.minus", "brain.GND"))
    assert found["g", "cells"] == pytest.approx(-20.0)
    assert found["g", "brain"] == pytest.approx(20.0)


@pytest.mark.parametrize(
    ("current", "stall", "expected"),
    [(0.4, 0.0, (0.4, 0.4)), (0.0, 0.8, (0.0, 0.8)), (100.0, 300.0, (100.0, 300.0)), (0.0, 0.0, (1.0, 1.0))],
)
def test_a_motors_lead_bears_what_it_draws(
    current: float, stall: float, expected: tuple[float, float]
) -> None:
    """However little; a motor without figures on a signal counts as a signal."""
    leads = (pin("M1", "plus"), pin("M2", "plus"))
    motor = BuiltIn(
        "motor", "motor", (box(0, 0, 0, 1, 1, 1),), current_ma=current, stall_ma=stall, pins=leads
    )
    made = train(
        [need("brain", board())],
        [net("m", "signal", "brain.D2", "shunter/motor.M1"), net("n", "supply", "shunter/motor.M2")],
        [TrainVehicle("shunter", vehicle(built_in=(motor,)))],
    )
    found = net_currents(made, {})
    assert (found["m"].average_ma, found["m"].peak_ma) == expected
    assert (found["n"].average_ma, found["n"].peak_ma) == (expected if current or stall else (0.0, 0.0))


def test_a_users_own_figure_of_less_than_a_milliampere_stands() -> None:
    """Of a signal as it is; of another net its peak is no less than what is reckoned."""
    needs = [need("cells", cells(4)), need("brain", board()), need("lamp", lamp(8.0))]
    nets = [
        net("raw", "supply", "cells.plus", "brain.raw", current=0.5),
        net("light", "signal", "brain.*", "lamp.IN", current=0.4),
        net("ground", "ground", "cells.minus", "brain.GND", "lamp.GND"),
    ]
    found = net_currents(train(needs, nets), {})
    assert (found["light"].average_ma, found["light"].peak_ma) == (0.4, 0.4)
    assert found["raw"].average_ma == 0.5
    assert found["raw"].peak_ma == pytest.approx(53.0)  # 40 + 8 mA, and 5 mA of the regulator


def test_the_leads_of_what_draws_little() -> None:
    """Half a milliampere through 10 m of wire there, and 5 m back, sees their ohms all the same."""
    small = part("x", Load(1.0, 6.0, 0.5, 0.5), pins=[pin("V", "supply"), pin("G", "ground")])
    made = train(
        [need("bank", bank()), need("x", small)],
        [net("plus", "supply", "bank.plus", "x.V"), net("g", "ground", "bank.minus", "x.G")],
    )
    there, back = (
        wire(1, "plus", "bank.plus", "x.V", 10_000.0, 30),
        wire(2, "g", "bank.minus", "x.G", 5000.0, 30),
    )
    (one,) = build_supply(made, {}).trees
    _, flow = flow_through(one.root, 5.0, True, {})
    found = lead_ohms(made, Harness((there, back)), one, flow)
    assert found == {"x": pytest.approx(wire_ohm(there) + wire_ohm(back))}
    alone = lead_ohms(made, Harness((there,)), one, flow)
    assert alone == {"x": pytest.approx(wire_ohm(there))}


# -- levels and resistors ----------------------------------------------------------------------------------


@pytest.mark.parametrize("turned", [False, True])
def test_the_higher_of_two_levels_counts(turned: bool) -> None:
    """Two inputs of one regulator at 3 and 6 V: it is held at what comes of 6 V; so is a pack upon others."""
    twin = replace(step_up(LINEAR_5V), pins=(*step_up().pins, pin("in2", "supply")))
    low, high = ("high", "low") if turned else ("low", "high")
    made = train(
        [need("low", cells(2)), need("high", cells(4)), need("lift", twin)],
        [
            net("a", "supply", f"{low}.plus", "lift.in"),
            net("b", "supply", f"{high}.plus", "lift.in2"),
            net("out", "supply", "lift.out"),
            net("g", "ground", "low.minus", "high.minus", "lift.GND"),
        ],
    )
    (giver,) = read_circuit(made, {}).node("out").givers
    assert (giver.level.nominal_v, giver.level.most_v) == pytest.approx((5.0, 5.0))
    side = train(
        [need("low", cells(2)), need("high", cells(4)), need("top", cells(1))],
        [
            net("m", "supply", f"{low}.plus", f"{high}.plus", "top.minus"),
            net("t", "supply", "top.plus"),
            net("g", "ground", "low.minus", "high.minus"),
        ],
    )
    (giver,) = read_circuit(side, {}).node("t").givers
    assert giver.level.nominal_v == pytest.approx(7.5)


def test_resistors_of_nets_behind_one_without_a_board() -> None:
    """A net that joins lamps alone, and one of another role, come before; the pin that is fed is named."""
    two = replace(lamp(), pins=(pin("S", wants=cans("input")), *lamp().pins))
    made = train(
        [need("brain", board()), need("lamp", lamp()), need("other", two)],
        [
            net("loose", "signal", "lamp.IN"),
            net("v", "supply", "brain.5v"),
            net("a", "signal", "lamp.IN", "brain.D2"),
            net("b", "signal", "other.signal", "brain.D3"),
        ],
    )
    found = resistors_of(made, {})
    assert [(one.owner, one.pin, one.net) for one in found] == [("lamp", "IN", "a"), ("other", "IN", "b")]


def test_a_fuse_costs_its_own_volts_beside_the_leads() -> None:
    """0.3 Ω of the fuse and 0.2 Ω of its leads in one line: 50 mV at 100 mA; no less than nothing arrives."""
    below = Rail("out", (RailLoad("x", 100.0, 100.0),))
    rail = Rail("raw", (), (Link("through", "fuse", fuse(), below),))
    _, flow = flow_through(rail, 5.0, False, {"fuse": 0.2})
    assert flow.volts["x"] == pytest.approx(5.0 - 0.05)
    assert flow.lead_mw == pytest.approx(0.05 * 100.0)
    _, flow = flow_through(rail, 0.04, False, {"fuse": 0.2})
    assert flow.volts["x"] == 0.0
    assert Supply((tree(rail, AA),)).trees[0].bottom == "cells"
