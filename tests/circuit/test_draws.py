"""Kirchhoff's first law at every net and every part, on random trains and on motors."""

from __future__ import annotations

import random
from functools import partial

import pytest

from fitplan.circuit.cells import source_of
from fitplan.circuit.currents import by_label, net_currents
from fitplan.circuit.discharge import solve_state
from fitplan.circuit.draws import by_flow, end_currents
from fitplan.circuit.supply import build_supply
from fitplan.model.electrical import Charger, Regulator
from fitplan.model.needed import Need
from fitplan.model.part import Part
from fitplan.model.solids import Box
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BuiltIn
from tests.circuit.sample_parts import (
    board,
    cells,
    driver,
    fuse,
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


def motor(current: float = 200.0, stall: float = 900.0) -> BuiltIn:
    pins = (pin("plus", "supply"), pin("minus", "supply"))
    return BuiltIn("motor", "motor", (Box((0, 0, 0), (1, 1, 1)),), (), pins, 60.0, stall, current)


def charger() -> Part:
    pins = [pin("out", "plus"), pin("cell", "supply"), pin("cellminus", "ground"), pin("GND", "ground")]
    return part("charger", Charger(5.0, 500.0, True, cell_pins=("cell", "cellminus")), pins=pins)


def random_train(seed: int) -> Train:
    """Cells (in series or not), maybe a charger, fuse, switch and regulator, a board, loads and a motor."""
    dice = random.Random(seed)
    needs: list[Need] = []
    nets: dict[str, list[str]] = {"ground": []}
    roles = {"ground": "ground"}

    def joint(name: str, role: str, *labels: str) -> None:
        roles.setdefault(name, role)
        nets.setdefault(name, []).extend(labels)

    lithium = dice.random() < 0.4
    count = 1 if lithium else dice.randint(1, 4)
    needs.append(need("cells", cells(count, "li-ion" if lithium else "alkaline")))
    minus = "cells"
    if not lithium and dice.random() < 0.3:
        needs.append(need("more", cells(count)))
        joint("middle", "supply", "cells.minus", "more.plus")
        minus = "more"
    rail = "raw"
    joint(rail, "supply", "cells.plus")
    if lithium and dice.random() < 0.7:
        needs.append(need("charger", charger()))
        joint("cell ground", "ground", "cells.minus", "charger.cellminus")
        joint(rail, "supply", "charger.cell")
        rail = "charged"
        joint(rail, "supply", "charger.out")
        joint("ground", "ground", "charger.GND")
    else:
        joint("ground", "ground", f"{minus}.minus")
    for name, made in (("fuse", fuse()), ("switch", switch())):
        if dice.random() < 0.5:
            needs.append(need(name, made))
            joint(rail, "supply", f"{name}.a")
            rail = f"after {name}"
            joint(rail, "supply", f"{name}.b")
    if dice.random() < 0.5:
        kind = dice.choice(["step-up", "step-up-down", "linear"])
        lift = Regulator(kind, 5.0, 0.5, 20.0, 5000.0, dropout_v=0.4, efficiency=0.8, quiescent_ma=2.0)  # type: ignore[arg-type]
        needs.append(need("lift", step_up(lift)))
        joint(rail, "supply", "lift.in")
        joint("ground", "ground", "lift.GND")
        rail = "lifted"
        joint(rail, "supply", "lift.out")
    needs.append(need("brain", board(plain=9), duty=dice.random()))
    joint(rail, "supply", dice.choice(["brain.5v", "brain.raw"]))
    joint("ground", "ground", "brain.GND")
    five = "five" if "brain.raw" in nets[rail] else rail
    second = dice.random() < 0.3
    for number in range(dice.randint(0, 3)):
        eyes = f"eyes {number}"
        needs.append(need(eyes, ranger(current=dice.uniform(5, 40))))
        joint(five, "supply", f"{eyes}.VCC")
        if five == "five" and "brain.5v" not in nets[five]:
            joint(five, "supply", "brain.5v")
        joint("ground two" if second else "ground", "ground", f"{eyes}.GND")
        joint(f"echo {number}", "signal", "brain.*", f"{eyes}.ECHO")
    if "ground two" in nets:
        needs.append(need("post", part("post", pins=[pin("G1", "ground"), pin("G2", "ground")])))
        joint("ground two", "ground", "post.G1")
        joint("ground", "ground", "post.G2")
    for number in range(dice.randint(0, 2)):
        needs.append(need(f"lamp {number}", lamp(dice.uniform(2, 20))))
        joint(f"light {number}", "signal", "brain.*", f"lamp {number}.IN")
        joint("ground", "ground", f"lamp {number}.GND")
    built = ()
    if dice.random() < 0.5:
        built = (motor(dice.uniform(50, 300), dice.uniform(300, 900)),)
        needs.append(need("drive", driver()))
        joint(rail, "supply", "drive.VM")
        joint("ground", "ground", "drive.GND")
        joint("motor one", "supply", "drive.OUT1", "shunter/motor.plus")
        joint("motor two", "supply", "drive.OUT2", "shunter/motor.minus")
    written = [net(name, roles[name], *joins) for name, joins in nets.items()]  # type: ignore[arg-type]
    return train(needs, written, [TrainVehicle("shunter", vehicle(built_in=built))])


def sums(currents: dict[tuple[str, str], float], which: int) -> dict[str, float]:
    found: dict[str, float] = {}
    for key, current in currents.items():
        found[key[which]] = found.get(key[which], 0.0) + current
    return found


@pytest.mark.parametrize("seed", range(300))
def test_kirchhoff_at_every_net_and_part(seed: int) -> None:
    """What flows into a net flows out of it, and what flows into a part flows out of it, at peak and average.

    By the label's volts, and as solved at a state of charge.
    """
    made = random_train(seed)
    supply = build_supply(made, {})
    (tree,) = supply.trees
    assert supply.unfed == ()
    for peak in (False, True):
        state = solve_state(source_of(tree.source), tree.root, 0.7, peak, {})
        for drawn in (partial(by_label, peak=peak), lambda _, flow=state.flow: by_flow(flow)):
            ends = end_currents(made, {}, supply, drawn, peak)
            assert max(abs(current) for current in ends.values()) > 1.0
            for name, total in (*sums(ends, 0).items(), *sums(ends, 1).items()):
                assert total == pytest.approx(0.0, abs=1e-6), name


def test_every_net_of_a_random_train_carries_something() -> None:
    """No supply or ground net of two hundred random trains is reckoned without current."""
    for seed in range(200):
        made = random_train(seed)
        currents = net_currents(made, {})
        for entry in made.nets:
            if len(entry.joins) > 1:
                assert currents[entry.name].peak_ma > 0.5, (seed, entry.name)


def test_a_motor_in_both_leads_and_in_the_ground() -> None:
    """A motor of 200 mA: both its leads, the driver's supply and the way back to the cells carry them."""
    made = train(
        [need("cells", cells(4)), need("drive", driver())],
        [
            net("raw", "supply", "cells.plus", "drive.VM"),
            net("ground", "ground", "cells.minus", "drive.GND"),
            net("one", "supply", "drive.OUT1", "shunter/motor.plus"),
            net("two", "supply", "drive.OUT2", "shunter/motor.minus"),
        ],
        [TrainVehicle("shunter", vehicle(built_in=(motor(),)))],
    )
    found = net_currents(made, {})
    assert {name: (one.average_ma, one.peak_ma) for name, one in found.items()} == {
        name: (pytest.approx(200.0), pytest.approx(900.0)) for name in ("raw", "ground", "one", "two")
    }
    supply = build_supply(made, {})
    ends = end_currents(made, {}, supply, partial(by_label, peak=False), False)
    assert ends["two", "shunter/motor"] == pytest.approx(200.0)
    assert ends["two", "drive"] == pytest.approx(-200.0)
    assert ends["ground", "drive"] == pytest.approx(200.0)


def test_a_motor_with_cells_of_its_own() -> None:
    """Cells that the vehicle carries feed its motor; the board's own cells know nothing of it."""
    figures = cells(6, "alkaline").electrical[0]
    box = BuiltIn(
        "box", "cells", (Box((0, 0, 0), (1, 1, 1)),), (), (pin("plus", "plus"), pin("minus", "ground")),
        cells=figures,  # type: ignore[arg-type]
    )  # fmt: skip
    made = train(
        [need("cells", cells(4)), need("brain", board()), need("drive", driver())],
        [
            net("raw", "supply", "cells.plus", "brain.raw"),
            net("ground", "ground", "cells.minus", "brain.GND", "drive.GND", "shunter/box.minus"),
            net("motor supply", "supply", "shunter/box.plus", "drive.VM"),
            net("one", "supply", "drive.OUT1", "shunter/motor.plus"),
            net("two", "supply", "drive.OUT2", "shunter/motor.minus"),
        ],
        [TrainVehicle("shunter", vehicle(built_in=(motor(), box)))],
    )
    supply = build_supply(made, {})
    assert [tree.owner for tree in supply.trees] == ["cells", "shunter/box"]
    found = net_currents(made, {})
    assert found["raw"].average_ma == pytest.approx(25.0)
    assert found["motor supply"].average_ma == pytest.approx(200.0)
    ends = end_currents(made, {}, supply, partial(by_label, peak=False), False)
    assert ends["ground", "shunter/box"] == pytest.approx(-200.0)
    for total in (*sums(ends, 0).values(), *sums(ends, 1).values()):
        assert total == pytest.approx(0.0, abs=1e-9)
