"""Supply trees, nodes and what protects cells, drawn as outlines that were gone over by hand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from fitplan.circuit.currents import net_currents
from fitplan.circuit.leads import _measured_from
from fitplan.circuit.nodes import read_circuit
from fitplan.circuit.protection import chargings_of, protection_of
from fitplan.circuit.supply import build_supply
from fitplan.circuit.supply_tree import Rail
from fitplan.model.electrical import CellPack, Charger, Connector, Controller, Load
from fitplan.model.part import Part, PinRole
from fitplan.model.train import Train
from tests.checks.test_nets import WRONG, changed

from .sample_parts import (
    bank,
    board,
    cells,
    driver,
    emitter,
    fuse,
    lamp,
    need,
    part,
    pin,
    ranger,
    shuttle,
    step_up,
    switch,
)  # fmt: skip
from .test_faults import MORE, wired, with_motor

STEPPED = {
    "g": "ground: cells.minus lift.GND brain.GND",
    "b": "supply: cells.plus switch.a",
    "on": "supply: switch.b lift.in",
    "five": "supply: lift.out brain.5V",
}
LOGIC = replace(
    driver(),
    pins=(*driver().pins, pin("VCC", "supply")),
    electrical=(*driver().electrical, Load(2.7, 5.5, 2.0, 3.0)),
)
RAIL: tuple[tuple[str, PinRole], ...] = (("P", "supply"), ("M", "ground"))
PASSING = [pin("a", "supply"), pin("b", "supply"), pin("c", "ground")]
PLUG = part("plug", Connector(2, 22, 28, 3000.0, True), pins=[pin("in", "supply"), pin("out", "supply")])
RAILS = part("rails", pins=[pin(f"{letter}{i}", role) for letter, role in RAIL for i in range(3)])

USB = Controller(3.3, 80.0, 300.0, 3.0, 20.0, 500.0, usb_ma=400.0, usb_drop_v=0.3)
SOCKETED = part(
    "usb-board",
    USB,
    pins=[replace(pin("USB", "5v"), socket="micro-B"), pin("3V3", "3v3"), pin("GND", "ground")],
)


def charger(protected: bool = True, cells_: int = 1, chemistry: str = "li-ion", minus: bool = True) -> Part:
    pins = [pin("cell", "supply"), pin("out", "plus"), pin("GND", "ground")]
    pins += [pin("cellminus", "ground")] if minus else []
    names = ("cell", "cellminus") if minus else ("cell",)
    figures = Charger(5.0, 500.0, protected, chemistry, cells_, cell_pins=names)  # type: ignore[arg-type]
    return part("charger", figures, pins=pins, family="charger")


TRAINS: dict[str, Train] = {
    "the common train": shuttle(),
    "fed behind the regulator": shuttle(raw=False),
    "a switch, a step-up, a board": wired(
        need("cells", cells(2)), need("switch", switch()), need("lift", step_up()), need("brain", board()),
        **STEPPED,
    ),
    "a board whose two rails feed": wired(
        need("cells", cells()), need("brain", board()), need("eyes", ranger()), need("dim", ranger("dim")),
        g="ground: cells.minus brain.GND eyes.GND dim.GND", b="supply: cells.plus brain.VIN",
        v="supply: brain.5V eyes.VCC", w="supply: brain.3V3 dim.VCC",
    ),
    "a socket": wired(
        need("bank", bank()), need("fuse", fuse()), need("brain", board()), need("second", board("other")),
        g="ground: bank.minus brain.GND second.GND", b="supply: bank.plus fuse.a",
        f="supply: fuse.b brain.5V second.VIN",
    ),
    "a driver with its motor": with_motor(
        g="ground: cells.minus brain.GND driver.GND", b="supply: cells.plus brain.VIN driver.VM",
        m="supply: driver.OUT1 shunter/motor.M1", n="supply: driver.OUT2 shunter/motor.M2",
        p="signal: brain.* driver.PWM", d="signal: brain.* driver.DIR",
    ),
    "a motor straight at the cells": with_motor(
        g="ground: cells.minus brain.GND shunter/motor.M2", b="supply: cells.plus brain.VIN shunter/motor.M1",
    ),
    "a driver with logic of its own": wired(
        need("cells", cells()), need("driver", LOGIC), need("brain", board()),
        g="ground: cells.minus brain.GND driver.GND", b="supply: cells.plus brain.VIN driver.VM",
        v="supply: brain.5V driver.VCC",
    ),
    "logic by the motors' pin": wired(
        need("cells", cells()), need("driver", LOGIC), need("brain", board()),
        g="ground: cells.minus brain.GND driver.GND", b="supply: cells.plus brain.VIN driver.VM",
    ),
    "loads on signal pins": wired(
        need("cells", cells()), need("brain", board()), need("lamp", lamp()), need("beam", emitter()),
        need("eyes", ranger()), g="ground: cells.minus brain.GND lamp.GND beam.GND eyes.GND",
        b="supply: cells.plus brain.VIN", v="supply: brain.5V eyes.VCC", e="signal: brain.* eyes.ECHO",
        both="signal: eyes.TRIG brain.* lamp.IN beam.IN", again="signal: brain.* lamp.IN",
    ),
    "rails and a plug": wired(
        need("cells", cells()), need("rails", RAILS), need("plug", PLUG), need("brain", board()),
        need("eyes", ranger()), g="ground: cells.minus rails.M0", h="ground: rails.M1 brain.GND eyes.GND",
        b="supply: cells.plus rails.P0", c="supply: rails.P1 plug.in", d="supply: plug.out brain.VIN",
        v="supply: brain.5V eyes.VCC",
    ),
    "two nets at one plus": wired(
        need("cells", cells()), need("brain", board()), need("second", board("other")),
        g="ground: cells.minus brain.GND second.GND", b="supply: cells.plus brain.VIN",
        c="supply: cells.plus second.VIN",
    ),
    "three packs in series": wired(
        need("low", cells(1, ohm=0.2, max_ma=900.0)), need("middle", cells(1, protected=True)),
        need("high", cells(1)), need("lift", step_up()),
        need("brain", board()), g="ground: low.minus lift.GND brain.GND", x="supply: middle.minus low.plus",
        y="supply: high.minus middle.plus", b="supply: high.plus lift.in", five="supply: lift.out brain.5V",
    ),
    "two regulators onto one rail": wired(
        need("cells", cells(2)), need("lift", step_up()), need("more", step_up()), need("brain", board()),
        g="ground: cells.minus lift.GND more.GND brain.GND", b="supply: cells.plus lift.in more.in",
        five="supply: lift.out more.out brain.5V",
    ),
    "a board entered by its socket": wired(
        need("bank", bank()), need("brain", SOCKETED), need("eyes", ranger()),
        g="ground: bank.minus brain.GND eyes.GND", b="supply: bank.plus brain.USB",
        v="supply: brain.3V3 eyes.VCC",
    ),
    "a lamp that passes nothing on": wired(
        need("cells", cells()), need("brain", board()),
        need("lamp", part("lamp", Load(3, 7, 8.0, 9.0), pins=PASSING)),
        need("eyes", ranger()), g="ground: cells.minus brain.GND lamp.c eyes.GND",
        b="supply: cells.plus brain.VIN lamp.a", c="supply: lamp.b eyes.VCC",
    ),
}  # fmt: skip


def outline(rail: Rail, deep: int = 1) -> Iterator[str]:
    fed = [
        f"{one.owner} {one.average_ma:g}–{one.peak_ma:g} mA from {one.min_v:g} to {one.max_v:g} V"
        + (f" by {one.signal}" if one.signal else "")
        + (f" back by {one.back} {one.back_net}" if one.back else "")
        for one in rail.fed
    ]
    yield "  " * deep + (rail.net or "-")
    yield from ("  " * (deep + 1) + one for one in fed)
    for link in rail.links:
        by = link.regulator
        figures = f" {by.kind} {by.out_v:g} V" if by is not None else ""
        yield "  " * deep + f"  {link.kind} {link.owner}{figures}" + (" by its socket" if link.socket else "")
        yield from outline(link.below, deep + 2)


def drawn(made: Train) -> list[str]:
    """Trees, what is unfed, and the nodes with the volts that hold them."""
    supply, rows = build_supply(made, {}), []
    for tree in supply.trees:
        pack = tree.source
        own = f"{pack.cells} cells, {pack.max_ma:g} mA" if isinstance(pack, CellPack) else "bank"
        rows.append(" ".join((tree.owner, *tree.below, *tree.between)) + f": {own}")
        rows += outline(tree.root)
    rows.append(f"unfed: {', '.join(supply.unfed) or '-'}")
    circuit = read_circuit(made, {})
    for node in circuit.nodes:
        level = node.level
        held = f"{level.nominal_v:.2f} to {level.most_v:.2f} V" if level is not None else "-"
        rows.append(" ".join((f"{node.name}: {held}", *(f"{one.owner}.{one.pin}" for one in node.givers))))
    return rows


OUTLINES = """\
# the common train
cells: 4 cells, 2000 mA
  battery
    controller brain linear 5 V
      -
        brain 20–40 mA from 4.3 to 0 V
        emitter 10–10 mA from 1.2 to 5.5 V by emitter
        lamp 8–8 mA from 1.8 to 5.5 V by lamp
        through brain
          five volts
            front eyes 15–30 mA from 4.5 to 5.5 V
            rear eyes 15–30 mA from 4.5 to 5.5 V
unfed: -
ground: -
battery: 6.00 to 6.72 V cells.plus
front trigger: -
front echo: -
rear trigger: -
rear echo: -
emitter: -
lamp: -
five volts: 5.00 to 5.00 V brain.5V
# fed behind the regulator
cells: 4 cells, 2000 mA
  battery
    front eyes 15–30 mA from 4.5 to 5.5 V
    rear eyes 15–30 mA from 4.5 to 5.5 V
    controller brain
      -
        brain 20–40 mA from 4.3 to 0 V
        emitter 10–10 mA from 1.2 to 5.5 V by emitter
        lamp 8–8 mA from 1.8 to 5.5 V by lamp
unfed: -
ground: -
battery: 6.00 to 6.72 V cells.plus
front trigger: -
front echo: -
rear trigger: -
rear echo: -
emitter: -
lamp: -
# a switch, a step-up, a board
cells: 2 cells, 2000 mA
  b
    through switch
      on
        regulator lift step-up 5 V
          five
            controller brain
              -
                brain 20–40 mA from 4.3 to 0 V
unfed: -
g: -
b and on: 3.00 to 3.36 V cells.plus
five: 5.00 to 5.00 V lift.out
# a board whose two rails feed
cells: 4 cells, 2000 mA
  b
    controller brain linear 5 V
      -
        brain 20–40 mA from 4.3 to 0 V
        through brain
          v
            eyes 15–30 mA from 4.5 to 5.5 V
        regulator brain linear 3.3 V
          w
            dim 15–30 mA from 4.5 to 5.5 V
unfed: -
g: -
b: 6.00 to 6.72 V cells.plus
v: 5.00 to 5.00 V brain.5V
w: 3.30 to 3.30 V brain.3V3
# a socket
bank: bank
  b
    through fuse
      f
        controller brain
          -
            brain 20–40 mA from 4.3 to 0 V
        controller second linear 5 V
          -
            second 20–40 mA from 4.3 to 0 V
unfed: -
g: -
b and f: 5.00 to 5.25 V bank.plus
# a driver with its motor
cells: 4 cells, 2000 mA
  b
    driver 0–0 mA from 2.7 to 10 V
    controller brain linear 5 V
      -
        brain 20–40 mA from 4.3 to 0 V
    through driver
      m
        shunter/motor 100–100 mA from 0 to 0 V back by driver n
unfed: -
g: -
b: 6.00 to 6.72 V cells.plus
m: 6.00 to 6.72 V driver.OUT1
n: 6.00 to 6.72 V driver.OUT2
p: -
d: -
# a motor straight at the cells
cells: 4 cells, 2000 mA
  b
    shunter/motor 100–100 mA from 0 to 0 V
    controller brain linear 5 V
      -
        brain 20–40 mA from 4.3 to 0 V
unfed: driver
g: -
b: 6.00 to 6.72 V cells.plus
# a driver with logic of its own
cells: 4 cells, 2000 mA
  b
    driver 0–0 mA from 2.7 to 10 V
    controller brain linear 5 V
      -
        brain 20–40 mA from 4.3 to 0 V
        through brain
          v
            driver 2–3 mA from 2.7 to 5.5 V
unfed: -
g: -
b: 6.00 to 6.72 V cells.plus
v: 5.00 to 5.00 V brain.5V
# logic by the motors' pin
cells: 4 cells, 2000 mA
  b
    driver 0–0 mA from 2.7 to 10 V
    driver 2–3 mA from 2.7 to 5.5 V
    controller brain linear 5 V
      -
        brain 20–40 mA from 4.3 to 0 V
unfed: -
g: -
b: 6.00 to 6.72 V cells.plus
# loads on signal pins
cells: 4 cells, 2000 mA
  b
    controller brain linear 5 V
      -
        brain 20–40 mA from 4.3 to 0 V
        lamp 8–8 mA from 1.8 to 5.5 V by both
        beam 10–10 mA from 1.2 to 5.5 V by both
        through brain
          v
            eyes 15–30 mA from 4.5 to 5.5 V
unfed: -
g: -
b: 6.00 to 6.72 V cells.plus
v: 5.00 to 5.00 V brain.5V
e: -
both and again: -
# rails and a plug
cells: 4 cells, 2000 mA
  b
    through rails
      c
        through plug
          d
            controller brain linear 5 V
              -
                brain 20–40 mA from 4.3 to 0 V
                through brain
                  v
                    eyes 15–30 mA from 4.5 to 5.5 V
unfed: -
g and h: -
b and c and d: 6.00 to 6.72 V cells.plus
v: 5.00 to 5.00 V brain.5V
# two nets at one plus
cells: 4 cells, 2000 mA
  b
    controller brain linear 5 V
      -
        brain 20–40 mA from 4.3 to 0 V
    through cells
      c
        controller second linear 5 V
          -
            second 20–40 mA from 4.3 to 0 V
unfed: -
g: -
b and c: 6.00 to 6.72 V cells.plus
# three packs in series
high middle low y x: 3 cells, 900 mA
  b
    regulator lift step-up 5 V
      five
        controller brain
          -
            brain 20–40 mA from 4.3 to 0 V
unfed: -
g: -
x: 1.50 to 1.68 V low.plus
y: 3.00 to 3.36 V middle.plus
b: 4.50 to 5.04 V high.plus
five: 5.00 to 5.04 V lift.out
# two regulators onto one rail
cells: 2 cells, 2000 mA
  b
    regulator lift step-up 5 V
      five
        controller brain
          -
            brain 20–40 mA from 4.3 to 0 V
    regulator more step-up 5 V
      -
unfed: -
g: -
b: 3.00 to 3.36 V cells.plus
five: 5.00 to 5.00 V lift.out more.out
# a board entered by its socket
bank: bank
  b
    controller brain linear 5 V by its socket
      -
        brain 80–300 mA from 3 to 0 V
        regulator brain linear 3.3 V
          v
            eyes 15–30 mA from 4.5 to 5.5 V
unfed: -
g: -
b: 5.00 to 5.25 V bank.plus
v: 3.30 to 3.30 V brain.3V3
# a lamp that passes nothing on
cells: 4 cells, 2000 mA
  b
    lamp 8–9 mA from 3 to 7 V
    controller brain linear 5 V
      -
        brain 20–40 mA from 4.3 to 0 V
unfed: eyes
g: -
b: 6.00 to 6.72 V cells.plus
c: -
"""


def outlines() -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    name = ""
    for line in OUTLINES.splitlines():
        if line.startswith("# "):
            name = line[2:]
            found[name] = []
        else:
            found[name].append(line)
    return found


@pytest.mark.parametrize("name", TRAINS)
def test_a_supply_tree_is_as_it_was_drawn(name: str) -> None:
    """Every load with its currents on its rail, every link, and every node with what holds it."""
    assert drawn(TRAINS[name]) == outlines()[name]


@pytest.mark.parametrize("name", [*MORE, *WRONG, *TRAINS])
def test_nothing_hangs_on_two_rails(name: str) -> None:
    """Of any train, right or wrong: each owner is fed once, or is a load that wants, but never both."""
    made = TRAINS.get(name) or (MORE[name] if name in MORE else WRONG[name][1]())
    supply = build_supply(made, {})
    fed = [one.owner for tree in supply.trees for one in tree.root.everything()]
    apart = [one for one in fed if fed.count(one) > 1]
    drivers = {one.name for one in made.needs if one.candidates[0].family == "driver"}
    assert set(apart) <= drivers
    assert not set(fed) & set(supply.unfed)


def lithium(board_: Part | None, count: int = 1, **nets: str) -> Train:
    needs = [need("cells", cells(count, "li-ion")), need("fuse", fuse()), need("brain", board())]
    return wired(*needs, *([need("charger", board_)] if board_ else []), **nets)


GUARDED = {
    "m": "ground: cells.minus charger.cellminus",
    "c": "supply: cells.plus charger.cell",
    "o": "supply: charger.out fuse.a",
    "f": "supply: fuse.b brain.5V",
    "g": "ground: charger.GND brain.GND",
}
BARE = {"g": "ground: cells.minus brain.GND", "c": "supply: cells.plus brain.5V"}
FUSED = GUARDED | {
    "c": "supply: cells.plus fuse.a",
    "o": "supply: fuse.b charger.cell",
    "f": "supply: charger.out brain.5V",
}
BEFORE = GUARDED | {"c": "supply: cells.plus charger.cell brain.VIN", "f": "supply: fuse.b"}
BESIDE = GUARDED | {"m": "ground: cells.minus charger.cellminus brain.GND", "g": "ground: charger.GND"}
AT_PLUS = GUARDED | {"m": "ground: cells.minus charger.GND brain.GND", "g": "ground: fuse.a"}
LACKS: dict[str, tuple[Train, str, int]] = {
    "guarded": (lithium(charger(), **GUARDED), "", 1),
    "guarded behind a fuse": (lithium(charger(), **FUSED), "", 1),
    "no board": (lithium(None, **BARE), "none", 0),
    "a board left out": (lithium(charger(), **BARE), "not wired", 0),
    "wired by its plus alone": (
        lithium(charger(), **GUARDED | {"m": "ground: cells.minus brain.GND", "g": "ground: charger.GND"}),
        "not wired", 0,
    ),
    "no protection": (lithium(charger(protected=False), **GUARDED), "without protection", 1),
    "for other cells": (lithium(charger(chemistry="nimh"), **GUARDED), "wrong chemistry", 1),
    "for two cells": (lithium(charger(cells_=2), **GUARDED), "wrong number of cells", 1),
    "two cells, and a board for them": (lithium(charger(cells_=2), 2, **GUARDED), "", 1),
    "passed at plus": (
        lithium(charger(), **BEFORE),
        "bypassed at plus", 1,
    ),
    "passed at minus": (
        lithium(charger(), **BESIDE),
        "bypassed at minus", 1,
    ),
    "a board that knows plus alone": (
        lithium(charger(minus=False), **AT_PLUS),
        "", 1,
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", LACKS)
def test_what_guards_lithium_cells(case: str) -> None:
    """A board guards when both wires of the cells go to it alone, and it is made for them."""
    made, lack, wired_boards = LACKS[case]
    supply, circuit = build_supply(made, {}), read_circuit(made, {})
    parts = {one.name: one.candidates[0] for one in made.needs}
    (tree,) = supply.trees
    pack = tree.source
    assert isinstance(pack, CellPack)
    found = protection_of(circuit, parts, tree, pack)
    assert (found.lack, found.cells) == (lack, pack.elements)
    assert found.owner == ("" if lack == "none" else "charger")
    assert len(chargings_of(circuit, tree, pack)) == wired_boards
    assert protection_of(circuit, parts, tree, replace(pack, protected=True)).owner == ""
    for charging in chargings_of(circuit, tree, pack):
        assert charging.most_ma == pytest.approx(pack.capacity_mah / 2)
    assert [c.most_ma for c in chargings_of(circuit, tree, replace(pack, charge_ma=70.0))] == [
        70.0
    ] * wired_boards


def test_volts_are_measured_from_the_ground_of_what_regulates() -> None:
    """Behind a step-up from its own ground; behind a switch, and at the step-up itself, from the source's."""
    (tree,) = build_supply(TRAINS["a switch, a step-up, a board"], {}).trees
    assert _measured_from(tree.root, "cells") == {"switch": "cells", "lift": "cells", "brain": "lift"}
    (tree,) = build_supply(shuttle(), {}).trees
    found = _measured_from(tree.root, "cells")
    assert found["brain"] == "cells"
    assert found["front eyes"] == "brain"


def test_a_socket_loses_the_volts_of_its_diode() -> None:
    """Behind it lies what passes on 4.0 to 5.5 V, less its drop, at most what the figures say."""
    (link,) = build_supply(TRAINS["a board entered by its socket"], {}).trees[0].root.links
    by = link.regulator
    assert by is not None
    assert (by.in_min_v, by.in_max_v, by.in_limit_v, by.max_ma, by.dropout_v) == (4.0, 5.5, 6.0, 400.0, 0.3)


def test_a_motor_that_no_source_feeds_is_reckoned_with_its_own_figures() -> None:
    """Its leads bear what it draws, at most what it draws when it stalls; a signal bears 1 mA."""
    made = with_motor(
        g="ground: cells.minus brain.GND", b="supply: cells.plus brain.VIN",
        m="signal: brain.D2 shunter/motor.M1", s="signal: brain.D3 driver.PWM",
        v="supply: driver.VM driver.OUT1",
    )  # fmt: skip
    found = net_currents(made, {})
    assert (found["m"].average_ma, found["m"].peak_ma) == (100.0, 100.0)
    assert (found["s"].average_ma, found["s"].peak_ma) == (1.0, 1.0)
    assert (found["v"].average_ma, found["v"].peak_ma) == (0.0, 0.0)


def test_the_highest_giver_tells_the_level() -> None:
    """Of two packs in one net the one with more volts."""
    made = changed()
    node = read_circuit(made, {}).node("five")
    (giver,) = node.givers
    low = replace(giver, level=replace(giver.level, nominal_v=1.0, most_v=1.2))
    assert replace(node, givers=(low, giver)).level == giver.level
    assert replace(node, givers=(giver, low)).level == giver.level
