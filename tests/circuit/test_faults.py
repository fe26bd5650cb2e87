"""Faults of nets, each planted by hand: all that is told of them, with its figures, and no more."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fitplan.circuit.faults import Fault, net_faults
from fitplan.model.electrical import Load
from fitplan.model.needed import Need
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import BuiltIn
from tests.checks.test_nets import CATALOGUE, WRONG, adding, changed, lacking, part
from tests.circuit.sample_parts import (
    bank,
    board,
    box,
    cells,
    driver,
    fuse,
    lamp,
    need,
    net,
    pin,
    ranger,
    switch,
    train,
    vehicle,
)
from tests.circuit.sample_parts import part as made_part


def wired(*needs: Need, **nets: str) -> Train:
    """A train whose nets are written as ``name="role: pin pin …"``; underscores are blanks."""
    written = []
    for name, text in nets.items():
        role, _, joins = text.partition(": ")
        written.append(net(name.replace("_", " "), role, *joins.replace("_", " ").split()))  # type: ignore[arg-type]
    return train(needs, written, catalogue=CATALOGUE)


def with_motor(**nets: str) -> Train:
    """Cells, a board and a vehicle with a motor built in."""
    motor = BuiltIn("motor", "motor", (box(10, 10, 20, 30, 30, 40),), 30.0, "invented", current_ma=100.0)
    one = replace(motor, pins=(pin("M1", "plus"), pin("M2", "plus")))
    made = wired(need("cells", cells()), need("brain", board()), need("driver", driver()), **nets)
    return replace(made, vehicles=(TrainVehicle("shunter", vehicle(built_in=(one,))),))


PLAIN = {"g": "ground: cells.minus brain.GND", "b": "supply: cells.plus brain.VIN"}
MORE = {
    "a bank's plus on its minus": wired(
        need("bank", bank()), need("brain", board()), g="ground: bank.minus bank.plus brain.GND"
    ),
    "a driver's outputs in one net": wired(
        need("cells", cells()),
        need("driver", driver()),
        need("brain", board()),
        g="ground: cells.minus driver.GND brain.GND",
        b="supply: cells.plus driver.VM brain.VIN",
        m="supply: driver.OUT1 driver.OUT2",
        p="signal: brain.* driver.PWM",
        d="signal: brain.* driver.DIR",
    ),
    "a ground pin on plus": changed(lacking("ground", "eyes.GND"), adding("five", "eyes.GND")),
    "a switch in the ground lead": wired(
        need("cells", cells()),
        need("switch", switch()),
        need("brain", board()),
        minus="ground: cells.minus switch.a",
        g="ground: switch.b brain.GND",
        b="supply: cells.plus brain.VIN",
    ),
    "a charger with protection between two grounds": wired(
        part("cells", "pouch-503035"),
        part("charger", "charger-protected"),
        part("lift", "regulator-step-up-5v"),
        part("brain", "controller-compact-5v"),
        cell_minus="ground: cells.minus charger.cellminus",
        cell="supply: cells.plus charger.cell",
        out="supply: charger.out lift.in",
        g="ground: charger.GND lift.GND brain.GND",
        five="supply: lift.out brain.5v",
    ),
    "a fuse bypassed and another open": wired(
        need("cells", cells()),
        need("fuse", fuse()),
        need("spare", fuse()),
        need("brain", board()),
        g="ground: cells.minus brain.GND",
        b="supply: cells.plus fuse.a fuse.b spare.a brain.VIN",
    ),
    "boards that talk, and two pins of one in one net": wired(
        need("cells", cells()),
        need("one", board()),
        need("two", board("other")),
        g="ground: cells.minus one.GND two.GND",
        b="supply: cells.plus one.VIN two.VIN",
        talk="signal: one.D2 two.D2",
        loop="signal: one.D3 one.D4 two.D3",
    ),
    "pins of a board that are to be chosen, on ground and on plus": wired(
        need("cells", cells()),
        need("one", board()),
        g="ground: cells.minus one.GND one.*",
        b="supply: cells.plus one.VIN one.*",
    ),
    "a supply net that nothing feeds, told by its loads": wired(
        need("cells", cells()),
        need("brain", board()),
        need("eyes", ranger()),
        need("more", ranger()),
        g="ground: cells.minus brain.GND eyes.GND more.GND",
        b="supply: cells.plus brain.VIN",
        v="supply: eyes.VCC more.VCC",
        t="signal: brain.* eyes.TRIG more.TRIG",
        e="signal: brain.* eyes.ECHO",
        f="signal: brain.* more.ECHO",
    ),
    "three grounds that never meet": wired(
        need("cells", cells()),
        need("brain", board()),
        need("eyes", ranger()),
        need("more", ranger()),
        g="ground: cells.minus brain.GND",
        h="ground: eyes.GND",
        i="ground: more.GND",
        b="supply: cells.plus brain.VIN",
        v="supply: brain.5v eyes.VCC more.VCC",
    ),
    "cells in series, the upper ones' minus on plus": wired(
        need("cells", cells(2)),
        need("upper", cells(2)),
        need("brain", board()),
        g="ground: cells.minus brain.GND",
        m="supply: cells.plus upper.minus",
        b="supply: upper.plus brain.VIN",
    ),
    "a lamp of which the supply pin lies on ground": wired(
        need("cells", cells()),
        need("brain", board()),
        need("eyes", ranger()),
        g="ground: cells.minus brain.GND eyes.GND eyes.VCC",
        b="supply: cells.plus brain.VIN",
        e="signal: brain.* eyes.ECHO",
        t="signal: brain.* eyes.TRIG",
    ),
    "packs of different volts side by side": wired(
        need("cells", cells(4)),
        need("more", cells(3)),
        need("brain", board()),
        g="ground: cells.minus more.minus brain.GND",
        b="supply: cells.plus more.plus brain.VIN",
    ),
    "a board's rail on its raw pin": wired(
        need("cells", cells(6)),
        need("brain", board()),
        g="ground: cells.minus brain.GND",
        b="supply: cells.plus brain.VIN brain.5V",
    ),
    "an echo that two pins of a board read": wired(
        need("cells", cells()),
        need("brain", board()),
        need("eyes", ranger()),
        **PLAIN | {"g": "ground: cells.minus brain.GND eyes.GND"},
        v="supply: brain.5v eyes.VCC",
        t="signal: brain.D2 eyes.TRIG",
        e="signal: brain.D3 brain.D4 eyes.ECHO",
    ),
    "a lamp on a net with its plus": wired(
        need("cells", cells()),
        need("brain", board()),
        need("lamp", lamp()),
        **PLAIN | {"g": "ground: cells.minus brain.GND lamp.GND"},
        on="signal: lamp.IN cells.plus",
    ),
    "a motor without a driver, and one on a driver": with_motor(
        g="ground: cells.minus brain.GND driver.GND",
        b="supply: cells.plus brain.VIN driver.VM",
        m="signal: driver.OUT1 shunter/motor.M1",
        n="signal: driver.OUT2 shunter/motor.M2",
        p="signal: brain.* driver.PWM",
        d="signal: brain.* driver.DIR",
    ),
    "a charger ahead of a board that cells overfeed": wired(
        need("cells", cells(6)),
        part("charger", "charger-protected"),
        need("brain", board()),
        g="ground: cells.minus charger.GND brain.GND",
        b="supply: charger.out cells.plus brain.5V",
    ),
    "a sensor of more volts than its supply": wired(
        need("cells", cells(6)),
        need("brain", board()),
        need(
            "eyes",
            made_part("eyes", Load(4.5, 5.5, 10.0, 10.0), pins=[pin("V", "supply"), pin("G", "ground")]),
        ),
        g="ground: cells.minus brain.GND eyes.G",
        b="supply: cells.plus brain.VIN eyes.V",
    ),
    "regulators, a driver and a charger that do nothing, and a rail without a wire": wired(
        need("cells", cells()),
        need("brain", board()),
        part("open", "regulator-step-up-down-5v"),
        part("idle", "regulator-step-up-down-5v"),
        part("drive", "driver-single"),
        part("charger", "charger-plain"),
        part("rail", "junction-one-rail"),
        g="ground: cells.minus brain.GND open.GND idle.GND drive.GND charger.GND",
        b="supply: cells.plus brain.VIN idle.in drive.VM",
    ),
    "a regulator that feeds no more than a rail": wired(
        need("cells", cells()),
        need("brain", board()),
        part("lift", "regulator-step-up-down-5v"),
        part("rail", "junction-one-rail"),
        g="ground: cells.minus brain.GND lift.GND",
        b="supply: cells.plus brain.VIN lift.in",
        o="supply: lift.out rail.P1",
    ),
}

TOLD = """\
no ground at all
    no ground | cells, lift, brain, eyes, tail eyes, lamp | - | - | 0 for 1
a part without ground
    part without ground | eyes | - | eyes.GND | 0 for 1
a part without supply
    part without supply | eyes | - | eyes.VCC | 0 for 1
two grounds that never meet
    grounds apart | lift, eyes | ground, other ground | five | 2 for 1
two different voltages in one net
    different volts | lift, block | five | lift.out, block.plus | 9 for 5
    too many volts | brain | five | brain.5V | 10.08 for 6
    too many volts | eyes | five | eyes.VCC | 10.08 for 6
    too many volts | tail eyes | five | tail eyes.VCC | 10.08 for 6
an output and a supply in one net
    output on supply | eyes | five | eyes.ECHO | 1 for 0
a regulator's output on its input
    different volts | cells, lift | raw, on | cells.plus, lift.out | 6 for 5
    part without supply | brain | five | brain.5v | 0 for 1
    part without supply | eyes | five | eyes.VCC | 0 for 1
    part without supply | tail eyes | five | tail eyes.VCC | 0 for 1
both ends of the switch in one net
    switch bypassed | switch | raw | - | 2 for 1
a wire round the switch
    switch bypassed | switch | raw, on | - | 2 for 1
a switch joined at one end
    switch open | switch | raw | switch.a | 1 for 2
a switch left out
    part without wire | switch | - | - | 0 for 1
cells the wrong way round
    polarity reversed | cells | ground | cells.plus | 1 for 0 | so brain, eyes, tail eyes, switch, lift get nothing
a ranger the wrong way round
    polarity reversed | eyes | ground, five | eyes.VCC, eyes.GND | 1 for 0
plus on minus
    source shorted | cells | ground | - | 2 for 1
    switch open | switch | on | switch.b | 1 for 2 | so brain, eyes, tail eyes get nothing
plus on minus through the switch
    source shorted | cells | ground, raw | - | 2 for 1
    regulator input open | lift | - | lift.in | 0 for 1 | so brain, eyes, tail eyes get nothing
outputs shorted
    outputs shorted | eyes, tail eyes | echo | eyes.ECHO, tail eyes.ECHO | 2 for 1
two pins of the board in one net
    outputs shorted | brain | light | brain.D3, brain.D5 | 2 for 1
trigger on echo
    trigger on echo | eyes, tail eyes | trigger | eyes.TRIG, tail eyes.TRIG, eyes.ECHO | 2 for 1
a signal on ground
    signal on ground | lamp | ground | lamp.IN | 1 for 0
a ground in a signal
    ground pin on signal | lamp | light | lamp.GND | 1 for 0
a part with no wire at all
    part without wire | horn | - | - | 0 for 1
a net joined to nothing
    net joins nothing | lamp | loose | lamp.IN | 1 for 2
a net that nothing feeds
    net without source | rail, strip | spare | rail.P1, strip.P1 | 0 for 1
a signal that nobody sends
    signal without sender | eyes, tail eyes | trigger | eyes.TRIG, tail eyes.TRIG | 0 for 1
a supply that feeds nobody
    supply feeds nobody | block | - | - | 0 for 1
two packs side by side
    sources in parallel | cells, more | raw, on | cells.plus, more.plus | 2 for 1
unlike cells in series
    series of unlike cells | cells, more | - | - | 0 for 1
a bank's plus on its minus
    source shorted | bank | g | - | 2 for 1 | so brain get nothing
a driver's outputs in one net
    outputs shorted | driver | m | driver.OUT1, driver.OUT2 | 2 for 1
a regulator turned round
    fed at its output | lift | raw, on | lift.out | 1 for 0 | so brain, eyes, tail eyes get nothing | cells idle
a regulator beside the one that feeds its net
    fed at its output | more | five | more.out | 1 for 0
a driver whose logic is not fed
    supply pin open | drive | - | drive.VCC | 0 for 1
    driver without motor | drive | - | drive.A1, drive.A2 | 0 for 1
    driver without commands | drive | - | drive.PWMA, drive.AIN2, drive.AIN1, drive.STBY | 0 for 1
a ground pin on plus
    ground pin on plus | eyes | five | eyes.GND | 1 for 0
a switch in the ground lead
a charger with protection between two grounds
a fuse bypassed and another open
    switch bypassed | fuse | b | - | 2 for 1
    switch open | spare | b | spare.a | 1 for 2
boards that talk, and two pins of one in one net
    outputs shorted | one | loop | one.D3, one.D4 | 2 for 1
pins of a board that are to be chosen, on ground and on plus
    signal on ground | one | g | one.* | 1 for 0
    output on supply | one | b | one.* | 1 for 0
a supply net that nothing feeds, told by its loads
    part without supply | eyes | v | eyes.VCC | 0 for 1
    part without supply | more | v | more.VCC | 0 for 1
three grounds that never meet
    grounds apart | brain, eyes | g, h | v | 2 for 1
    grounds apart | brain, more | g, i | v | 2 for 1
    grounds apart | eyes, more | h, i | v | 2 for 1
    net joins nothing | eyes | h | eyes.GND | 1 for 2
    net joins nothing | more | i | more.GND | 1 for 2
cells in series, the upper ones' minus on plus
a lamp of which the supply pin lies on ground
    supply pin on ground | eyes | g | eyes.VCC | 1 for 0
packs of different volts side by side
    different volts | cells, more | b | cells.plus, more.plus | 6 for 4.5
a board's rail on its raw pin
    different volts | cells, brain | b | cells.plus, brain.5V | 9 for 5
    too many volts | brain | b | brain.5V | 10.08 for 5.5
an echo that two pins of a board read
a lamp on a net with its plus
    too many volts | lamp | b, on | lamp.IN | 6.72 for 5.5
a motor without a driver, and one on a driver
    role of a net | driver, shunter/motor | m, n | driver.OUT1, shunter/motor.M1, driver.OUT2, shunter/motor.M2 | 4 for 0
a charger ahead of a board that cells overfeed
    too many volts | brain | b | brain.5V | 10.08 for 5.5
regulators, a driver and a charger that do nothing, and a rail without a wire
    part without wire | rail | - | - | 0 for 1
    regulator input open | open | - | open.in | 0 for 1
    regulator feeds nobody | idle | - | idle.out | 0 for 1
    driver without motor | drive | - | drive.A1, drive.A2 | 0 for 1
    driver without commands | drive | - | drive.AIN1, drive.AIN2 | 0 for 1
    charger without cells | charger | - | charger.cell | 0 for 1
a regulator that feeds no more than a rail
    regulator feeds nobody | lift | o | lift.out | 0 for 1
a board at a rail that it only gives
    regulator feeds nobody | low | three | low.out | 0 for 1 | so brain get nothing
a sensor of more volts than its supply
    too many volts | eyes | b | eyes.V | 10.08 for 5.5
"""  # noqa: E501
"""Case by case: kind, owners, nets, pins, the figure for its limit; gone over by hand."""


def told() -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for line in TOLD.splitlines():
        if not line.startswith(" "):
            rows = found[line] = []
        else:
            rows.append(line.strip())
    return found


def row(fault: Fault) -> str:
    words = [", ".join(names) or "-" for names in (fault.owners, fault.nets, fault.pins)]
    after = [f"so {', '.join(fault.follows)} get nothing"] if fault.follows else []
    after += [f"{', '.join(fault.idle)} idle"] if fault.idle else []
    return " | ".join([fault.kind, *words, f"{fault.figure:g} for {fault.limit:g}", *after])


@pytest.mark.parametrize(("case", "rows"), told().items())
def test_all_that_is_wrong_is_told_and_nothing_else(case: str, rows: list[str]) -> None:
    """Each planted fault, with what follows of it, names its owners, nets, pins and figures."""
    made = MORE[case] if case in MORE else WRONG[case][1]()
    assert [row(fault) for fault in net_faults(made, {})] == rows


def test_every_case_is_told() -> None:
    """No planted fault is left out of the table."""
    assert set(told()) == {*WRONG, *MORE}
