"""How supply nets are read, rule by rule: what is fed where, what passes current on, what is left out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.circuit.net_ends import part_of
from fitplan.circuit.nodes import read_circuit
from fitplan.circuit.ratings import is_logic_pin
from fitplan.circuit.supply import build_supply
from fitplan.circuit.supply_tree import Link, Rail, Supply
from fitplan.model.electrical import CellPack, Controller, Load, MotorDriver, Regulator
from fitplan.model.nets import Net
from fitplan.model.part import Part, Pin
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import BuiltIn
from tests.circuit.sample_parts import (
    LINEAR_5V,
    bank,
    board,
    box,
    cans,
    cells,
    driver,
    need,
    net,
    part,
    pin,
    step_up,
    switch,
    train,
    vehicle,
)

DRAWS = Load(3.0, 9.0, 10.0, 20.0)
MOTOR = BuiltIn("motor", "motor", (box(10, 10, 20, 30, 30, 40),), current_ma=100.0)
LEADS = (pin("M1", "plus"), pin("M2", "plus"))


def read(parts: dict[str, Part], *nets: Net, motor: BuiltIn | None = None) -> Supply:
    vehicles = [TrainVehicle("shunter", vehicle(built_in=(motor,)))] if motor else []
    return build_supply(train([need(name, one) for name, one in parts.items()], nets, vehicles), {})


def load(*pins: Pin) -> Part:
    return part("load", DRAWS, pins=pins or (pin("V", "supply"), pin("G", "ground")))


def fed(rail: Rail) -> list[str]:
    return [one.owner for one in rail.fed]


def below(rail: Rail, owner: str) -> Rail:
    return next(link.below for link in rail.links if link.owner == owner)


@pytest.mark.parametrize("turned", [False, True])
def test_a_load_on_both_sides_of_a_switch_is_fed_ahead_of_it(turned: bool) -> None:
    """In whatever order the net names them: what only draws comes first."""
    two = load(pin("V", "supply"), pin("W", "supply"), pin("G", "ground"))
    ends = ["switch.a", "load.V"]
    (tree,) = read(
        {"cells": cells(), "switch": switch(), "load": two},
        net("raw", "supply", "cells.plus", *(ends[::-1] if turned else ends)),
        net("on", "supply", "switch.b", "load.W"),
    ).trees
    assert fed(tree.root) == ["load"]
    assert fed(below(tree.root, "switch")) == []


def test_what_a_driver_or_a_regulator_gives_is_no_way_into_it() -> None:
    """Cells on an output feed neither; on the input both pass on to their outputs."""
    nets = [
        net("raw", "supply", "cells.plus", "driver.OUT1", "lift.out"),
        net("in", "supply", "driver.VM", "lift.in"),
    ]
    parts = {"cells": cells(), "driver": driver(), "lift": step_up()}
    found = read(parts, *nets)
    assert found.trees[0].root == Rail("raw")
    assert found.unfed == ("driver",)
    (tree,) = read(parts, net("raw", "supply", "cells.plus", "driver.VM", "lift.in")).trees
    assert fed(tree.root) == ["driver"]
    assert [link.owner for link in tree.root.links] == ["lift"]
    # A load fed at a pin of the role plus is fed all the same.
    plus = load(pin("V", "plus"), pin("G", "ground"))
    (tree,) = read({"cells": cells(), "load": plus}, net("raw", "supply", "cells.plus", "load.V")).trees
    assert fed(tree.root) == ["load"]


LOGIC = part(
    "driver",
    MotorDriver(2.7, 10.0, 1000.0, 2000.0, 0.5, 1),
    Load(2.7, 5.5, 2.0, 3.0),
    pins=[
        pin("VM", "supply"),
        pin("VCC", "supply"),
        pin("GND", "ground"),
        pin("OUT1", "plus"),
        pin("OUT2", "plus"),
    ],
    family="driver",
)


@pytest.mark.parametrize(
    ("joins", "loads"),
    [
        (("driver.VM",), [0.0, 3.0]),  # its logic by the pin of the motors, as no other net has it
        (("driver.VCC",), [3.0]),
        (("driver.VM", "driver.VCC"), [0.0, 3.0]),
        (("driver.supply",), [0.0, 3.0]),  # both pins by their role
    ],
)
def test_motors_and_logic_of_a_driver(joins: tuple[str, ...], loads: list[float]) -> None:
    """Each by its own pin, once; what hangs on the outputs is fed wherever the motors' pin is."""
    motor = replace(MOTOR, pins=LEADS)
    (tree,) = read(
        {"cells": cells(3), "driver": LOGIC},
        net("raw", "supply", "cells.plus", *joins),
        net("m", "supply", "driver.OUT1", "shunter/motor.M1"),
        net("n", "supply", "driver.OUT2", "shunter/motor.M2"),
        motor=motor,
    ).trees
    assert sorted(one.peak_ma for one in tree.root.fed) == loads
    motors = [one.owner for one in tree.root.everything() if one.owner != "driver"]
    assert motors == (["shunter/motor"] if 0.0 in loads else [])


def test_which_supply_pin_feeds_the_motors() -> None:
    """VM where there is one, else the first; no other pin is of the logic."""
    assert [is_logic_pin(LOGIC, one) for one in LOGIC.pins] == [False, True, False, False, False]
    turned = replace(LOGIC, pins=(pin("VCC", "supply"), pin("VM", "supply"), *LOGIC.pins[2:]))
    assert [is_logic_pin(turned, one) for one in turned.pins[:2]] == [True, False]
    other = replace(LOGIC, pins=(pin("B", "supply"), pin("A", "supply"), pin("C", "raw")))
    assert [is_logic_pin(other, one) for one in other.pins] == [False, True, False]
    assert not is_logic_pin(replace(LOGIC, pins=(pin("B", "supply"),)), pin("B", "supply"))


@pytest.mark.parametrize(
    ("out", "rail", "kind"),
    [
        (5.0, "3v3", "regulator"),
        (5.0, "5v", "through"),
        (3.8, "3v3", "through"),  # half a volt is no second rail
        (3.9, "3v3", "regulator"),
        (3.3, "3v3", "through"),
        (3.3, "5v", "through"),
    ],
)
def test_rails_of_a_board(out: float, rail: str, kind: str) -> None:
    """Lower than its own by more than half a volt: behind a regulator of its own, of 0.3 V dropout."""
    brain = board(logic=3.3, regulator=replace(LINEAR_5V, out_v=out))
    for low, most in ((0.0, 500.0), (50.0, 50.0)):
        own = brain.figure(Controller)
        assert own is not None
        figures = replace(own, low_rail_ma=low)
        (tree,) = read(
            {"cells": cells(6), "brain": replace(brain, electrical=(figures,)), "load": load()},
            net("raw", "supply", "cells.plus", "brain.raw"),
            net("rail", "supply", f"brain.{rail}", "load.V"),
        ).trees
        (link,) = below(tree.root, "brain").links
        assert (link.kind, fed(link.below)) == (kind, ["load"])
        if link.regulator is not None:
            by = link.regulator
            assert (by.kind, by.out_v, by.in_min_v, by.in_max_v) == ("linear", 3.3, 3.3, out)
            assert (by.max_ma, by.dropout_v) == (most, 0.3)


@pytest.mark.parametrize(
    ("entered", "out", "regulated"),
    [("raw", 5.0, True), ("5v", 5.0, False), ("5v", 4.5, True), ("5v", 4.6, False), ("5v", 3.3, True)],
)
def test_where_a_board_is_entered(entered: str, out: float, regulated: bool) -> None:
    """Its own rail lies behind its regulator; a rail half a volt higher lies ahead of it."""
    brain = board(logic=3.3, regulator=replace(LINEAR_5V, out_v=out))
    (tree,) = read(
        {"cells": cells(4), "brain": brain}, net("raw", "supply", "cells.plus", f"brain.{entered}")
    ).trees
    assert (tree.root.links[0].regulator is not None) is regulated


@pytest.mark.parametrize(("usb_ma", "by_socket"), [(500.0, True), (0.0, False)])
def test_a_socket_counts_where_its_current_is_known(usb_ma: float, by_socket: bool) -> None:
    usb = Controller(3.3, 80.0, 300.0, 4.4, 20.0, 500.0, usb_ma=usb_ma, usb_drop_v=0.3)
    pins = (replace(pin("USB", "5v"), socket="micro-B"), pin("GND", "ground"))
    brain = part("brain", usb, pins=pins)
    (tree,) = read({"bank": bank(), "brain": brain}, net("lead", "supply", "bank.plus", "brain.USB")).trees
    assert tree.root.links[0].socket is by_socket
    plain = part("brain", usb, pins=(pin("5V", "5v"), pin("GND", "ground")))
    (tree,) = read({"bank": bank(), "brain": plain}, net("lead", "supply", "bank.plus", "brain.5V")).trees
    assert not tree.root.links[0].socket
    # What is no board is entered by no socket, whatever its regulator is.
    link = Link("regulator", "x", step_up(), Rail("r"), LINEAR_5V)
    assert not link.socket


def test_loads_on_signal_pins_of_their_own_board() -> None:
    """The first net may be another board's; a pin that only hears feeds nothing; each load is fed once."""
    lamp = part("lamp", DRAWS, pins=(pin("IN", wants=cans("output")), pin("G", "ground")))
    ear = part("ear", DRAWS, pins=(pin("S", wants=cans("input")), pin("G", "ground")))
    found = read(
        {"cells": cells(), "one": board(), "two": board("two"), "lamp": lamp, "more": lamp, "ear": ear},
        net("raw", "supply", "cells.plus", "one.raw", "two.raw"),
        net("a", "signal", "two.D2", "more.IN"),
        net("b", "signal", "one.D2", "ear.S", "lamp.IN"),
        net("c", "signal", "two.D3", "lamp.IN"),
    )
    (tree,) = found.trees
    assert [(one.owner, one.signal) for one in below(tree.root, "one").fed] == [("one", ""), ("lamp", "b")]
    assert [(one.owner, one.signal) for one in below(tree.root, "two").fed] == [("two", ""), ("more", "a")]
    assert all(one.at_times for one in tree.root.everything() if one.signal)
    assert not any(one.at_times for one in tree.root.everything() if not one.signal)
    assert found.unfed == ("ear",)


def test_a_load_that_is_joined_by_the_role_of_its_pins() -> None:
    """One of them takes what the board gives, the other sends: it is fed."""
    both = part("both", DRAWS, pins=(pin("S", wants=cans("input")), pin("IN", wants=cans("output"))))
    (tree,) = read(
        {"cells": cells(), "brain": board(), "both": both},
        net("raw", "supply", "cells.plus", "brain.raw"),
        net("a", "signal", "brain.D2", "both.signal"),
    ).trees
    assert fed(below(tree.root, "brain")) == ["brain", "both"]


@pytest.mark.parametrize(("duty", "at_times"), [(1.0, False), (0.99, True), (0.25, True)])
def test_a_load_that_is_on_at_times(duty: float, at_times: bool) -> None:
    """Its share on average; its peak as it is, or what it always draws where that is more."""
    needs = [need("cells", cells()), need("load", load(), duty=duty)]
    made = train(needs, [net("raw", "supply", "cells.plus", "load.V")])
    ((one,),) = (tree.root.fed for tree in build_supply(made, {}).trees)
    assert (one.average_ma, one.peak_ma, one.at_times) == (10.0 * duty, 20.0, at_times)
    flat = replace(load(), electrical=(replace(DRAWS, peak_ma=5.0),))
    ((one,),) = (tree.root.fed for tree in build_supply(made, {"load": flat}).trees)
    assert one.peak_ma == 10.0


@pytest.mark.parametrize(
    ("current", "stall", "drawn"),
    [(100.0, 300.0, (100.0, 300.0, True)), (100.0, 0.0, (100.0, 100.0, False)), (0.0, 0.5, (0.0, 0.5, True)),
     (0.0, 0.0, None)],
)  # fmt: skip
def test_a_motor_draws_what_its_figures_say(
    current: float, stall: float, drawn: tuple[float, float, bool] | None
) -> None:
    """One that stalls draws at times; one without figures is no load; on two rails it is fed once."""
    motor = replace(MOTOR, pins=LEADS, current_ma=current, stall_ma=stall)
    (tree,) = read(
        {"cells": cells(), "switch": switch()},
        net("raw", "supply", "cells.plus", "switch.a", "shunter/motor.M1"),
        net("on", "supply", "switch.b", "shunter/motor.M1"),
        motor=motor,
    ).trees
    found = [(one.average_ma, one.peak_ma, one.at_times) for one in tree.root.everything()]
    assert found == ([drawn] if drawn else [])


def test_a_junction_passes_on_what_two_pins_take() -> None:
    """Three pins as well; one alone passes nothing on; neither does a load with two."""
    for count, passes in ((1, False), (2, True), (3, True)):
        rail = part("rail", pins=[pin(f"P{i}", "supply") for i in range(count)])
        (tree,) = read(
            {"cells": cells(), "rail": rail, "load": load()},
            net("raw", "supply", "cells.plus", "rail.P0"),
            *([net("out", "supply", f"rail.P{count - 1}", "load.V")] if count > 1 else []),
        ).trees
        assert [one.owner for one in tree.root.everything()] == (["load"] if passes else [])
        assert bool(tree.root.links) is passes


def test_packs_in_series_and_what_is_none() -> None:
    """Minus of one on the plus of another; two at one minus, or a pack on its own plus, are no series."""
    packs = {name: cells(1) for name in ("a", "b", "c")}
    series = read(packs, net("x", "supply", "a.minus", "b.plus"), net("raw", "supply", "a.plus"))
    assert [(tree.owner, tree.below) for tree in series.trees] == [("a", ("b",)), ("c", ())]
    two = read(packs, net("x", "supply", "a.minus", "c.minus", "b.plus"))
    assert all(tree.below == () for tree in two.trees)
    own = read(packs, net("x", "supply", "a.minus", "a.plus"))
    assert all(tree.below == () for tree in own.trees)
    ring = read(packs, net("x", "supply", "a.minus", "b.plus"), net("y", "supply", "b.minus", "a.plus"))
    assert {tree.owner for tree in ring.trees} >= {"c"}


@pytest.mark.parametrize(
    ("changes", "alike"),
    [
        ({}, True),
        ({"cell_size": "LR03"}, False),
        ({"capacity_mah": 2400.0}, False),
        ({"chemistry": "nimh"}, False),
        ({"cells_per_unit": 6}, False),
        ({"resistance_ohm": 0.2}, True),
        ({"cells": 3}, True),
    ],
)
def test_unlike_packs_in_series_are_told_and_not_added(changes: dict[str, object], alike: bool) -> None:
    """Kind, size and capacity must agree; cells, and what each holds back, may differ."""
    first = CellPack("alkaline", "LR6", 2, 2500.0, 0.15, 2000.0)
    other = replace(first, **changes)  # type: ignore[arg-type]
    packs = {"a": replace(cells(2), electrical=(first,)), "b": replace(cells(2), electrical=(other,))}
    found = read(packs, net("x", "supply", "a.minus", "b.plus"), net("raw", "supply", "a.plus"))
    (tree,) = found.trees
    assert isinstance(tree.source, CellPack)
    assert tree.source.cells == (2 + other.cells if alike else 2)
    assert found.unlike == (() if alike else (("a", "b"),))


def test_packs_beside_a_bank_are_no_series_of_cells() -> None:
    """A bank has no minus that lies on cells; cells alone are taken as they are."""
    found = read({"bank": bank(), "a": cells(2)}, net("x", "supply", "bank.minus", "a.plus"))
    assert [(tree.owner, tree.below) for tree in found.trees] == [("bank", ()), ("a", ())]
    assert found.unlike == ()
    assert found.trees[1].source == cells(2).electrical[0]


def test_a_board_at_a_rail_that_it_only_gives_is_not_fed() -> None:
    """3.3 V at the second rail of a board of 5 V."""
    low = replace(step_up(), electrical=(Regulator("step-up", 3.3, 1.0, 3.3, 500.0),))
    found = read(
        {"cells": cells(1), "low": low, "brain": board()},
        net("raw", "supply", "cells.plus", "low.in"),
        net("three", "supply", "low.out", "brain.3v3"),
    )
    assert found.unfed == ("brain",)


def test_what_is_no_need_has_no_part() -> None:
    made = train([need("cells", cells())], [])
    assert part_of(made, {}, "cells") == cells()
    assert part_of(made, {}, "other") is None
    assert part_of(made, {"other": board()}, "other") == board()
    circuit = read_circuit(made, {})
    assert (circuit.net_pins, circuit.nodes) == ((), ())
