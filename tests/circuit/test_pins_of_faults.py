"""Which pins a fault names: the open lead of a motor, where cells go, what would stand the volts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.circuit.faults import net_faults, volt_faults
from fitplan.circuit.idle_parts import idle_parts
from fitplan.circuit.motor_faults import motor_faults
from fitplan.circuit.nodes import read_circuit
from fitplan.circuit.supply import build_supply
from fitplan.model.electrical import Charger, Regulator
from fitplan.model.nets import Net
from fitplan.model.part import Part
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BuiltIn
from tests.circuit.sample_parts import (
    LINEAR_5V,
    board,
    box,
    cells,
    driver,
    need,
    net,
    part,
    pin,
    step_up,
    train,
    vehicle,
)


def made(parts: dict[str, Part], *nets: Net, motor: bool = False) -> Train:
    leads = (pin("M1", "plus"), pin("M2", "plus"))
    one = BuiltIn("motor", "motor", (box(60, 20, 20, 80, 30, 30),), pins=leads)
    vehicles = [TrainVehicle("shunter", vehicle(built_in=(one,)))] if motor else []
    return train([need(name, entry) for name, entry in parts.items()], nets, vehicles)


@pytest.mark.parametrize(
    ("first", "second", "kind", "pins"),
    [
        ("M1", "", "motor lead open", ("shunter/motor.M2",)),
        ("", "M2", "motor lead open", ("shunter/motor.M1",)),
    ],
)
def test_the_open_lead_of_a_motor_is_named(first: str, second: str, kind: str, pins: tuple[str, ...]) -> None:
    parts = {"cells": cells(), "driver": driver()}
    nets = [
        net("plus", "supply", "cells.plus", "driver.VM"),
        net("ground", "ground", "cells.minus", "driver.GND"),
        net("m1", "supply", "driver.OUT1", *([f"shunter/motor.{first}"] if first else [])),
        net("m2", "supply", "driver.OUT2", *([f"shunter/motor.{second}"] if second else [])),
    ]
    whole = made(parts, *nets, motor=True)
    (fault,) = motor_faults(whole, read_circuit(whole, parts))
    assert (fault.kind, fault.pins) == (kind, pins)


def test_where_cells_go_on_a_charger() -> None:
    """Its cell pins among those that feed; a socket is none; without cell pins all that feed."""
    pins = [
        pin("IN", "supply"),
        replace(pin("USB", "supply"), socket="micro-B"),
        pin("B+", "supply"),
        pin("GND", "ground"),
    ]

    def named(*cell_pins: str) -> tuple[str, ...]:
        charger = part("charger", Charger(5.0, 500.0, False, cell_pins=cell_pins), pins=pins)
        parts = {"charger": charger, "board": board()}
        whole = made(parts, net("ground", "ground", "charger.GND", "board.GND"))
        found = idle_parts(read_circuit(whole, parts), build_supply(whole, parts))
        (fault,) = (one for one in found if one.kind == "charger without cells")
        return fault.pins

    assert named("B+") == ("charger.B+",)
    assert named("B-") == ("charger.IN", "charger.B+")
    assert named("B+", "GND") == ("charger.B+",)


@pytest.mark.parametrize(
    ("count", "joined", "instead"),
    [(4, False, "brain.VIN"), (4, True, ""), (9, False, "")],
)
def test_the_raw_pin_that_would_stand_the_volts(count: int, joined: bool, instead: str) -> None:
    """Cells on the 5 V rail of a board whose regulator takes 6 to 12 V: 4 give 6 nominal, 9 give 13.5."""
    parts = {
        "cells": cells(count),
        "brain": board(regulator=replace(LINEAR_5V, in_min_v=5.9)),
        "more": step_up(),
    }
    nets = [
        net("ground", "ground", "cells.minus", "brain.GND", "more.GND"),
        net("plus", "supply", "cells.plus", "brain.5V"),
    ]
    if joined:
        nets.append(net("raw", "supply", "more.out", "brain.VIN"))
    faults = [
        one for one in net_faults(made(parts, *nets), {}) if "plus" in one.nets and "brain.5V" in one.pins
    ]
    assert faults
    assert {one.instead for one in faults} == {instead}


@pytest.mark.parametrize(("takes", "instead"), [(6.72, "brain.VIN"), (6.71, ""), (9.0, "brain.VIN")])
def test_a_raw_pin_stands_just_what_it_says(takes: float, instead: str) -> None:
    """Four fresh alkaline cells give 6.72 V."""
    parts = {"cells": cells(4), "brain": board(regulator=replace(LINEAR_5V, in_min_v=5.9, in_max_v=takes))}
    nets = [
        net("ground", "ground", "cells.minus", "brain.GND"),
        net("plus", "supply", "cells.plus", "brain.5V"),
    ]
    (fault,) = (one for one in net_faults(made(parts, *nets), {}) if "brain.5V" in one.pins)
    assert (fault.figure, fault.instead) == (6.72, instead)


def chargers(*joins: str, role: str = "supply") -> tuple[str, ...]:
    """Kinds of idle parts, where a charger's net joins these."""
    pins = [pin("B+", "supply"), pin("OUT", "plus"), pin("GND", "ground")]
    parts = {
        "charger": part("charger", Charger(5.0, 500.0, False, cell_pins=("B+",)), pins=pins),
        "cells": cells(1, "li"),
        "board": board(),
    }
    whole = made(
        parts,
        net("ground", "ground", "charger.GND", "board.GND", "cells.minus"),
        net("plus", role, "charger.B+", *joins),  # type: ignore[arg-type]
    )
    return tuple(one.kind for one in idle_parts(read_circuit(whole, parts), build_supply(whole, parts)))


def test_a_charger_has_cells_where_their_plus_is_on_its_pin() -> None:
    """Their minus alone is none, nor is a board."""
    assert "charger without cells" not in chargers("cells.plus")
    assert "charger without cells" not in chargers("cells.plus", "board.VIN")
    assert "charger without cells" in chargers("board.VIN")
    assert "charger without cells" in chargers()


def test_what_a_charger_gives_is_not_held_against_its_own_output() -> None:
    """Cells of 12.6 V on its plus are not told there; on its input, which stands 6 V, they are."""
    pins = [pin("IN", "supply"), pin("OUT", "plus"), pin("GND", "ground")]
    figures = (Charger(5.0, 500.0, False), Regulator("linear", 5.0, 4.5, 6.0, 500.0))
    parts = {"charger": part("charger", *figures, pins=pins), "cells": cells(3, "li"), "board": board()}

    def told(at: str) -> set[str]:
        nets = [
            net("ground", "ground", "charger.GND", "board.GND", "cells.minus"),
            net("plus", "supply", "cells.plus", f"charger.{at}", "board.VIN"),
        ]
        return {label for one in volt_faults(read_circuit(made(parts, *nets), parts)) for label in one.pins}

    assert "charger.OUT" not in told("OUT")
    assert "charger.IN" in told("IN")


@pytest.mark.parametrize("duty", [1.0, 0.5, 0.25])
def test_a_board_that_is_on_at_times_draws_its_share(duty: float) -> None:
    """On average 20 mA times its duty; at its peak what it always does."""
    parts = {"cells": cells(4), "brain": board()}
    nets = [
        net("ground", "ground", "cells.minus", "brain.GND"),
        net("plus", "supply", "cells.plus", "brain.VIN"),
    ]
    whole = train(
        [need(name, one, duty=duty if name == "brain" else 1.0) for name, one in parts.items()], nets
    )
    ((loads,),) = ([one.root.everything()] for one in build_supply(whole, parts).trees)
    (own,) = (one for one in loads if one.owner == "brain")
    assert (own.average_ma, own.peak_ma, own.at_times) == (20.0 * duty, 40.0, duty < 1)
