"""Faults at their edges, each in nets drawn by hand: two things of which only one counts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.circuit.faults import net_faults
from fitplan.circuit.idle_parts import idle_parts
from fitplan.circuit.motor_faults import motor_faults
from fitplan.circuit.nodes import inner_groups, read_circuit
from fitplan.circuit.protection import protection_of
from fitplan.circuit.role_faults import role_faults
from fitplan.circuit.supply import build_supply
from fitplan.circuit.switch_faults import switch_faults
from fitplan.model.electrical import Bank, CellPack, Charger, Load, MotorDriver
from fitplan.model.nets import Net
from fitplan.model.part import Part
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BuiltIn
from tests.circuit.sample_parts import (
    LINEAR_5V,
    bank,
    board,
    box,
    cans,
    cells,
    driver,
    fuse,
    need,
    net,
    part,
    pin,
    step_up,
    switch,
    train,
    vehicle,
)

LOAD = part("load", Load(3.0, 5.0, 10.0, 20.0), pins=[pin("V", "supply"), pin("G", "ground")])


def made(parts: dict[str, Part], *nets: Net, motor: BuiltIn | None = None) -> Train:
    vehicles = [TrainVehicle("shunter", vehicle(built_in=(motor,)))] if motor else []
    return train([need(name, one) for name, one in parts.items()], nets, vehicles)


def told(parts: dict[str, Part], *nets: Net) -> list[tuple[str, tuple[str, ...]]]:
    return [(one.kind, one.owners) for one in net_faults(made(parts, *nets), {})]


# -- grounds and polarity ----------------------------------------------------------------------------------


def test_the_ground_of_cells_may_lie_apart_as_well() -> None:
    """Cells and a board that share a plus and no ground: no current returns."""
    found = told(
        {"cells": cells(), "brain": board()},
        net("plus", "supply", "cells.plus", "brain.raw"),
        net("g", "ground", "cells.minus"),
        net("h", "ground", "brain.GND"),
    )
    assert ("grounds apart", ("cells", "brain")) in found


def test_grounds_may_meet_over_two_parts() -> None:
    """Three grounds, joined by two chargers with protection between them, one after the other."""

    def between(name: str) -> Part:
        figures = Charger(5.0, 500.0, True, cell_pins=("B+", "B-"))
        pins = [pin("B+", "supply"), pin("OUT", "plus"), pin("B-", "ground"), pin("G", "ground")]
        return part(name, figures, LINEAR_5V, pins=pins)

    parts = {"cells": cells(1, "li"), "one": between("one"), "two": between("two"), "load": LOAD}
    nets = [
        net("plus", "supply", "cells.plus", "one.B+", "two.B+", "load.V"),
        net("g", "ground", "cells.minus", "one.B-"),
        net("h", "ground", "one.G", "two.B-"),
        net("i", "ground", "two.G", "load.G"),
    ]
    assert "grounds apart" not in {kind for kind, _ in told(parts, *nets)}
    apart = [*nets[:2], net("h", "ground", "one.G"), net("j", "ground", "two.B-"), nets[3]]
    assert ("grounds apart", ("cells", "load")) in told(parts, *apart)


def test_a_part_that_may_go_without_a_ground_keeps_no_other_from_being_told() -> None:
    """A ground that is optional may be open; the next part's may not."""
    free = replace(LOAD, pins=(LOAD.pins[0], replace(LOAD.pins[1], optional=True)))
    found = told(
        {"cells": cells(), "free": free, "load": LOAD},
        net("plus", "supply", "cells.plus", "free.V", "load.V"),
        net("g", "ground", "cells.minus"),
    )
    assert [owners for kind, owners in found if kind == "part without ground"] == [("load",)]


@pytest.mark.parametrize("other", ["minus", "OUT"])
def test_a_ground_pin_on_plus_is_told_of_loads_and_of_cells(other: str) -> None:
    """Cells whose minus lies on the plus of others are in series; on a regulator's output they are not."""
    parts = {"cells": cells(), "more": cells(), "lift": step_up(), "brain": board()}
    nets = [
        net("g", "ground", "cells.minus", "lift.GND", "brain.GND"),
        net("plus", "supply", "cells.plus", "lift.in", *(["more.minus"] if other == "minus" else [])),
        net("five", "supply", "lift.out", "brain.5v", *(["more.minus"] if other == "OUT" else [])),
    ]
    found = [owners for kind, owners in told(parts, *nets) if kind == "ground pin on plus"]
    assert found == ([] if other == "minus" else [("more",)])


def test_a_source_with_both_ends_on_ground_is_shorted_not_turned() -> None:
    """Of a source turned round its minus lies on no ground."""
    parts = {"cells": cells(), "more": cells(), "brain": board()}
    nets = [
        net("g", "ground", "cells.minus", "cells.plus", "more.minus", "brain.GND"),
        net("plus", "supply", "more.plus", "brain.raw"),
    ]
    kinds = {kind for kind, owners in told(parts, *nets) if "cells" in owners}
    assert "source shorted" in kinds
    assert "polarity reversed" not in kinds


def test_of_several_sources_the_shorted_one_is_told() -> None:
    """What is no source before it, and sound cells, are passed over."""
    parts = {"brain": board(), "more": cells(), "cells": cells()}
    nets = [
        net("plus", "supply", "more.plus", "brain.raw"),
        net("g", "ground", "brain.GND", "more.minus", "cells.minus", "cells.plus"),
    ]
    assert ("source shorted", ("cells",)) in told(parts, *nets)


@pytest.mark.parametrize(("out", "kind"), [(0.05, "sources in parallel"), (0.0501, "different volts")])
def test_volts_that_differ_by_a_twentieth_are_alike(out: float, kind: str) -> None:
    """Two sources of no more than 50 mV apart lie side by side."""

    def of(volts: float) -> Part:
        return replace(bank(), electrical=(Bank(volts, 5000.0, 3.7, 0.85, 2000.0, 60.0),))

    found = told(
        {"one": of(out), "two": of(2 * out), "load": LOAD},
        net("plus", "supply", "one.plus", "two.plus", "load.V"),
        net("g", "ground", "one.minus", "two.minus", "load.G"),
    )
    assert (kind, ("one", "two")) in found


# -- volts -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("most", "limit", "found"),
    [
        (6.72, 9.0, None),
        (6.7, 9.0, ("volts out of range", 6.72, 6.7)),
        (6.7, 6.72, ("volts out of range", 6.72, 6.7)),
        (6.6, 6.7, ("too many volts", 6.72, 6.7)),
        (6.5, 0.0, ("too many volts", 6.72, 6.5)),
        (6.65, 6.70, ("too many volts", 6.72, 6.7)),
    ],
)
def test_volts_against_what_a_load_is_made_for_and_what_it_stands(
    most: float, limit: float, found: tuple[str, float, float] | None
) -> None:
    """Four fresh alkaline cells give 6.72 V; at just that much nothing is told."""
    parts = {
        "cells": cells(4),
        "load": replace(LOAD, electrical=(Load(3.0, most, 10.0, 20.0, limit_v=limit),)),
    }
    nets = [
        net("plus", "supply", "cells.plus", "load.V"),
        net("g", "ground", "cells.minus", "load.G"),
    ]
    rows = [
        (one.kind, one.figure, one.limit)
        for one in net_faults(made(parts, *nets), {})
        if one.nets == ("plus",)
    ]
    assert rows == ([found] if found else [])


def test_volts_are_told_to_a_hundredth() -> None:
    """4.2 V of a lithium cell behind another of 1.68 / 3 …: the sum is rounded, no digits are made up."""
    odd = Bank(5.0 / 1.05 * 1.23456, 5000.0, 3.7, 0.85, 2000.0, 60.0)
    parts = {"bank": replace(bank(), electrical=(odd,)), "load": LOAD}
    (one,) = (
        fault
        for fault in net_faults(
            made(
                parts,
                net("plus", "supply", "bank.plus", "load.V"),
                net("g", "ground", "bank.minus", "load.G"),
            ),
            {},
        )
    )
    assert one.figure == 6.17


def test_a_raw_pin_is_named_of_boards_alone_and_no_socket_is_one() -> None:
    """Six cells kill a sensor, which has no other pin; a board's socket is no raw pin to solder at."""
    sensor = part(
        "eye", Load(3.0, 5.5, 5.0, 5.0), pins=[pin("V", "supply"), pin("R", "raw"), pin("G", "ground")]
    )
    brain = board(regulator=replace(LINEAR_5V, in_min_v=6.0))
    socketed = replace(
        brain,
        pins=tuple(replace(one, socket="micro-B") if one.role == "raw" else one for one in brain.pins),
    )
    for one, pin_name, instead in (
        (sensor, "V", ""),
        (brain, "5V", "x.VIN"),
        (socketed, "5V", ""),
        (board(regulator=replace(LINEAR_5V, in_min_v=9.1)), "5V", ""),
        (board(regulator=replace(LINEAR_5V, in_min_v=9.0)), "5V", "x.VIN"),
    ):
        faults = net_faults(
            made(
                {"cells": cells(6), "x": one},
                net("plus", "supply", "cells.plus", f"x.{pin_name}"),
                net("g", "ground", "cells.minus", "x.ground"),
            ),
            {},
        )
        (found,) = (fault for fault in faults if fault.kind == "too many volts")
        assert found.instead == instead


# -- motors, drivers, switches, roles ----------------------------------------------------------------------

LEADS = (pin("M1", "plus"), pin("M2", "plus"))
MOTOR = BuiltIn("motor", "motor", (box(10, 10, 20, 30, 30, 40),), current_ma=100.0, pins=LEADS)


def of_motor(*nets: Net, parts: dict[str, Part] | None = None) -> list[tuple[str, tuple[str, ...]]]:
    own = parts or {"cells": cells(), "driver": driver(), "brain": board()}
    whole = made(own, *nets, motor=MOTOR)
    return [(one.kind, one.pins) for one in motor_faults(whole, read_circuit(whole, own))]


def test_one_lead_in_two_nets_is_still_one_lead() -> None:
    """The other one is open, and not one conductor with it."""
    found = of_motor(
        net("plus", "supply", "cells.plus", "driver.VM"),
        net("m", "supply", "driver.OUT1", "shunter/motor.M1"),
        net("n", "supply", "shunter/motor.M1", "driver.OUT2"),
    )
    assert found == [("motor lead open", ("shunter/motor.M2",))]


@pytest.mark.parametrize(("pin_name", "told_"), [("D2", True), ("GND", False), ("5V", False)])
def test_a_motor_hangs_on_a_pin_only_where_that_is_a_signal(pin_name: str, told_: bool) -> None:
    """Not on a board's rail; nor where what wants a pin, such as a lamp, lies beside it."""
    lamp = part("lamp", LOAD.electrical[0], pins=[pin("IN", wants=cans("output"))])
    found = of_motor(
        net("plus", "supply", "cells.plus", "brain.raw"),
        net("m", "signal", f"brain.{pin_name}", "shunter/motor.M1", "lamp.IN"),
        net("g", "ground", "cells.minus", "brain.GND", "shunter/motor.M2")
        if pin_name != "GND"
        else net("g", "ground", "cells.minus", "shunter/motor.M2"),
        parts={"cells": cells(), "brain": board(), "lamp": lamp},
    )
    assert (("motor on a pin", (f"brain.{pin_name}",)) in found) is told_


def test_a_motor_is_switched_where_a_driver_lies_between() -> None:
    """Straight at cells it is not; at one output and a rail it is; where nothing gives volts nobody knows."""
    ground = net("g", "ground", "cells.minus", "driver.GND", "brain.GND", "shunter/motor.M2")
    plus = net("plus", "supply", "cells.plus", "driver.VM", "shunter/motor.M1")
    assert [kind for kind, _ in of_motor(plus, ground)] == ["motor not switched"]
    fed = net("plus", "supply", "cells.plus", "driver.VM")
    assert of_motor(fed, ground, net("m", "supply", "driver.OUT1", "shunter/motor.M1")) == []
    assert of_motor(ground, net("m", "supply", "fuse.a", "shunter/motor.M1"), parts={"fuse": fuse()}) == []


@pytest.mark.parametrize("channels", [1, 2])
def test_leads_at_two_drivers_belong_to_no_channel(channels: int) -> None:
    """However many channels each has; the pins of both are named."""
    figures = MotorDriver(2.7, 10.0, 1000.0, 2000.0, 0.5, channels)
    one = replace(driver(), electrical=(figures,))
    parts = {"cells": cells(), "a": one, "b": one}
    found = of_motor(
        net("plus", "supply", "cells.plus", "a.VM", "b.VM"),
        net("g", "ground", "cells.minus", "a.GND", "b.GND"),
        net("m", "supply", "a.OUT1", "shunter/motor.M1"),
        net("n", "supply", "b.OUT1", "shunter/motor.M2"),
        parts=parts,
    )
    assert found == [("motor across channels", ("a.OUT1", "b.OUT1"))]


def test_an_input_that_is_fed_is_enough() -> None:
    """A regulator with two inputs of which one is in a net; of a driver one of its inputs."""
    two = replace(step_up(), pins=(*step_up().pins, pin("in2", "supply")))
    parts = {"cells": cells(2), "lift": two, "brain": board(), "driver": driver()}
    whole = made(
        parts,
        net("plus", "supply", "cells.plus", "lift.in", "driver.VM"),
        net("five", "supply", "lift.out", "brain.5v"),
        net("m", "supply", "driver.OUT1"),
        net("s", "signal", "driver.PWM", "brain.D2"),
        net("g", "ground", "cells.minus", "lift.GND", "brain.GND", "driver.GND"),
    )
    assert list(idle_parts(read_circuit(whole, parts), build_supply(whole, parts))) == []


def test_a_driver_wants_all_its_supply_pins_or_is_told_as_unfed() -> None:
    """One of two open is told pin by pin; both open is told of the part; no supply pin, nothing."""
    logic = Load(2.7, 5.5, 2.0, 3.0)
    pins = [pin("VM", "supply"), pin("VCC", "supply"), *driver().pins[1:]]
    two = replace(driver(), electrical=(driver().electrical[0], logic), pins=tuple(pins))
    parts = {"cells": cells(), "driver": two, "brain": board()}

    def open_pins(*joins: str) -> list[tuple[str, ...]]:
        nets = (
            net("plus", "supply", "cells.plus", "brain.raw", *joins),
            net("g", "ground", "cells.minus", "brain.GND", "driver.GND"),
        )
        return [one.pins for one in net_faults(made(parts, *nets), {}) if one.kind == "supply pin open"]

    assert open_pins("driver.VM") == [("driver.VCC",)]
    assert open_pins("driver.VCC") == [("driver.VM",)]
    assert open_pins("driver.VM", "driver.VCC") == []
    assert open_pins() == []


def test_every_open_switch_is_told_and_the_bypassed_one_behind_it() -> None:
    parts = {"cells": cells(), "open": switch(), "passed": switch(), "load": LOAD}
    whole = made(
        parts,
        net("plus", "supply", "cells.plus", "open.a", "passed.a", "passed.b", "load.V"),
        net("g", "ground", "cells.minus", "load.G"),
    )
    found = [(one.kind, one.owners) for one in switch_faults(read_circuit(whole, parts))]
    assert found == [("switch open", ("open",)), ("switch bypassed", ("passed",))]


def test_a_role_is_wrong_where_two_parts_speak_for_another() -> None:
    """One part alone speaks for nothing; a net written as ground is told pin by pin."""
    parts = {"a": cells(), "b": LOAD}

    def roles(*joins: str, role: str) -> list[tuple[tuple[str, ...], str]]:
        whole = made(parts, net("x", role, *joins))  # type: ignore[arg-type]
        return [(one.owners, one.instead) for one in role_faults(read_circuit(whole, parts))]

    assert roles("a.plus", "b.V", role="signal") == [(("a", "b"), "supply")]
    assert roles("a.minus", "b.G", role="supply") == [(("a", "b"), "ground")]
    assert roles("a.plus", role="signal") == []
    assert roles("a.plus", "b.V", role="ground") == []
    assert roles("a.plus", "b.G", role="signal") == []


# -- what is joined inside, and what guards cells ----------------------------------------------------------


def test_pins_joined_by_a_group_and_rails_of_one_name() -> None:
    """Each group by its name, each rail by its role; what is alone is no group."""
    pins = [
        replace(pin("a", "supply"), joined="x"),
        replace(pin("b", "supply"), joined="x"),
        replace(pin("c", "supply"), joined="y"),
        replace(pin("d", "signal"), joined="y"),
        replace(pin("e", "signal"), joined="z"),
        pin("f", "5v"),
        pin("g", "5v"),
        pin("h", "3v3"),
    ]
    found = set(inner_groups(part("rails", Load(1, 2, 3, 4), pins=pins)))
    assert found == {frozenset("ab"), frozenset("cd"), frozenset("fg")}


def guard(**changes: object) -> Part:
    figures = replace(Charger(5.0, 500.0, True, cell_pins=("B+", "B-")), **changes)  # type: ignore[arg-type]
    pins = [pin("B+", "supply"), pin("B-", "ground"), pin("OUT", "plus"), pin("G", "ground")]
    return part("guard", figures, pins=pins, family="charger")


def lack(parts: dict[str, Part], *nets: Net) -> tuple[str, str]:
    whole = made(parts, *nets)
    tree = next(one for one in build_supply(whole, parts).trees if one.owner == "cells")
    assert isinstance(tree.source, CellPack)
    found = protection_of(read_circuit(whole, parts), parts, tree, tree.source)
    return found.owner, found.lack


PARTS = {"cells": cells(1, "li"), "s": switch(), "f": fuse(), "guard": guard(), "brain": board()}


def chain(*names: str) -> list[Net]:
    """Cells to the guard over these, then the board."""
    ends = ["cells.plus", *(f"{one}.{end}" for one in names for end in "ab"), "guard.B+"]
    pairs = zip(ends[::2], ends[1::2], strict=True)
    return [
        *(net(f"n{i}", "supply", *pair) for i, pair in enumerate(pairs)),
        net("out", "supply", "guard.OUT", "brain.5v"),
        net("m", "ground", "cells.minus", "guard.B-"),
        net("g", "ground", "guard.G", "brain.GND"),
    ]


@pytest.mark.parametrize("names", [(), ("s",), ("f",), ("s", "f")])
def test_a_guard_may_lie_behind_switch_and_fuse(names: tuple[str, ...]) -> None:
    """Where nothing but it hangs on the way; a board beside it on the way passes it by."""
    parts = {name: one for name, one in PARTS.items() if name in (*names, "cells", "guard", "brain")}
    nets = chain(*names)
    assert lack(parts, *nets) == ("guard", "")
    aside = {**parts, "other": LOAD}
    for place in range(len(names) + 1):
        beside = list(nets)
        beside[place] = replace(
            beside[place], joins=(*beside[place].joins, *net("x", "supply", "other.V").joins)
        )
        assert lack(aside, *beside) == ("guard", "bypassed at plus")


def test_of_two_guards_the_one_that_comes_nearest_is_named() -> None:
    """One that lies idle beside one that guards; two that hang on the cells are one too many."""
    nets = chain()
    assert lack({**PARTS, "idle": guard()}, *nets) == ("guard", "")
    assert lack({"idle": guard(), **PARTS}, *nets) == ("guard", "")
    weak = {**PARTS, "guard": guard(protected=False)}
    assert lack({"idle": guard(), **weak}, *nets) == ("guard", "without protection")
    both = [
        replace(nets[0], joins=(*nets[0].joins, *net("x", "supply", "idle.B+").joins)),
        nets[1],
        replace(nets[2], joins=(*nets[2].joins, *net("x", "ground", "idle.B-").joins)),
        nets[3],
    ]
    assert lack({**PARTS, "idle": guard()}, *both) == ("guard and idle", "doubled")


def test_a_guard_is_wired_by_its_own_cell_pins() -> None:
    """A cell pin that is still to be chosen is no wire of theirs, nor is its minus on their plus."""
    nets = chain()
    wild = [net("n0", "supply", "cells.plus", "guard.*"), *nets[1:]]
    assert lack(PARTS, *wild) == ("guard", "not wired")
    minus_on_plus = [
        net("n0", "supply", "cells.plus", "guard.B-"),
        nets[1],
        net("m", "ground", "cells.minus"),
        nets[3],
    ]
    assert lack(PARTS, *minus_on_plus) == ("guard", "not wired")


def test_what_else_a_part_needs_and_no_net_joins_is_told() -> None:
    """A coil's output, the coil of a relay beside its contact, a second supply; of copper one pin."""
    ground, plus = pin("G", "ground"), pin("P", "plus")
    coil = replace(LOAD, electrical=(), pins=(plus, ground))
    relay = replace(LOAD, pins=(pin("V", "supply"), pin("C", "supply"), ground))
    rails = [replace(pin(name, "supply"), joined="rail") for name in "ab"]
    board_of_rails = replace(LOAD, electrical=(), pins=(*rails, ground))
    spare = replace(LOAD, electrical=(), pins=(replace(plus, optional=True), ground))

    def open_pins(part: Part, *joins: str) -> list[tuple[str, ...]]:
        parts = {"cells": cells(), "brain": board(), "it": part}
        nets = (
            net("plus", "supply", "cells.plus", "brain.raw", *joins),
            net("g", "ground", "cells.minus", "brain.GND", "it.G"),
        )
        return [one.pins for one in net_faults(made(parts, *nets), {}) if one.kind == "pin open"]

    assert open_pins(coil) == [("it.P",)]
    assert open_pins(relay, "it.V") == [("it.C",)]
    assert open_pins(relay, "it.V", "it.C") == []
    assert open_pins(relay) == []  # nothing feeds it: told as such
    assert open_pins(board_of_rails, "it.a") == []
    assert open_pins(board_of_rails) == [("it.a", "it.b")]
    assert open_pins(spare) == []


def test_a_lamp_that_is_built_in_wants_both_its_pins() -> None:
    """A motor has its own rule, and of what else is built in nobody knows what it needs."""
    for kind, wrong in (("lamp", [("shunter/it.M2",)]), ("sounder", [("shunter/it.M2",)]), ("other", [])):
        item = BuiltIn("it", kind, (box(10, 10, 20, 30, 30, 40),), 3.0, "invented")  # type: ignore[arg-type]
        item = replace(item, pins=(pin("M1", "supply"), pin("M2", "ground")))
        whole = made(
            {"cells": cells(), "brain": board()},
            net("plus", "supply", "cells.plus", "brain.raw", "shunter/it.M1"),
            net("g", "ground", "cells.minus", "brain.GND"),
            motor=item,
        )
        assert [one.pins for one in net_faults(whole, {}) if one.kind == "pin open"] == wrong
