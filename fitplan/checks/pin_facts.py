"""Pins as the catalogue knows them: reset and boot pins, the chip's current, the bus, resistors in series."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from fitplan.checks.divider import ohms
from fitplan.circuit.net_ends import ends_of
from fitplan.circuit.supply import Supply
from fitplan.model.electrical import BusDevice, Controller, SeriesResistor
from fitplan.model.part import Part, PinCare
from fitplan.model.plan import Finding, Resistor, Table
from fitplan.model.train import Train
from fitplan.pins.matching import PinMatch, troubles
from fitplan.pins.wants import controllers_of, wants_of

SUBJECT = "pins"
OWN = "the board's own figures"
LEAST_PULL_UP, MOST_PULL_UP = 1000.0, 12_000.0
"""Pull-ups of a bus line at 3.3 to 5 V and 100 kHz (common practice; bus specification, from memory)."""
_WHY: dict[PinCare, tuple[str, str]] = {
    "reset": ("is the reset pin: a signal restarts the board", "any other pin that can do it"),
    "boot": (
        "decides at its level how the board starts, and a sensor holds it",
        "a pin that has no part in the start",
    ),
    "not with radio": ("measures nothing while the radio is on", "an analog pin that the radio leaves alone"),
    "no pull-up": (
        "has no pull-up inside, and what is joined only switches to ground",
        "a pin with a pull-up, or solder 10 kΩ from it to the board's own rail",
    ),
    "wants pull-up": ("", ""),
}


def cares(train: Train, chosen: Mapping[str, Part], match: PinMatch) -> Iterator[Finding]:
    """Yield pins that were fixed against what the board's own pin list says of them."""
    for name, part in controllers_of(train, chosen).items():
        for want in wants_of(train, chosen, name):
            given = want.pin or next((match.pin(name, net) for net in want.nets), "")
            pin = next((one for one in part.pins if one.name == given), None)
            for trouble in troubles(pin, want) if pin is not None else ():
                says, instead = _WHY[trouble]
                yield Finding(
                    SUBJECT,
                    "stop",
                    f"{name}.{given}",
                    f"{name}.{given}, taken for {want.name}, {says}",
                    1.0,
                    0.0,
                    "pins",
                    f"use {instead}: write * and it is chosen",
                    "the board's own pin list",
                )


def chip_currents(train: Train, chosen: Mapping[str, Part], supply: Supply) -> Iterator[Finding]:
    """Yield boards whose signal pins together are asked for more than their chip gives."""
    nets = {net.name: net for net in train.nets}
    drawn: dict[str, float] = {}
    for tree in supply.trees:
        for fed in tree.root.everything():
            for end in ends_of(train, chosen, nets[fed.signal]) if fed.signal else ():
                if end.part is not None and end.part.figure(Controller) is not None:
                    drawn[end.owner] = drawn.get(end.owner, 0.0) + fed.peak_ma
    for owner, current in drawn.items():
        figures = next(
            (f for name, part in chosen.items() if name == owner and (f := part.figure(Controller))), None
        )
        if figures is None or not figures.chip_ma or current <= figures.chip_ma:
            continue
        yield Finding(
            SUBJECT,
            "stop",
            owner,
            f"the pins of {owner} are asked for {current:.0f} mA together; its chip gives "
            f"{figures.chip_ma:g} mA",
            round(current, 1),
            figures.chip_ma,
            "mA",
            "feed lamps from the rail and switch them with transistors, or let them draw less",
            OWN,
        )


def bus_faults(train: Train, chosen: Mapping[str, Part]) -> Iterator[Finding]:
    """Yield parts on one bus with one address, and buses without pull-ups or with too many."""
    joined = {
        (end.owner, pin.name) for net in train.nets for end in ends_of(train, chosen, net) for pin in end.pins
    }
    buses: dict[str, dict[str, BusDevice]] = {}
    for net in train.nets:
        ends = ends_of(train, chosen, net)
        boards = [e.owner for e in ends if e.part is not None and e.part.figure(Controller) is not None]
        for end in ends:
            device = end.part.figure(BusDevice) if end.part is not None else None
            if device is not None and boards and any("data" in pin.wants for pin in end.pins):
                buses.setdefault(boards[0], {})[end.owner] = device
    for board, devices in buses.items():
        by_address: dict[str, list[str]] = {}
        for owner, device in devices.items():
            by_address.setdefault(device.address, []).append(owner)
        for address, owners in by_address.items():
            stuck = [
                owner
                for owner in owners
                if not (devices[owner].changes and (owner, devices[owner].off_pin) in joined)
            ]
            if len(owners) > 1 and len(stuck) > 1:
                pins = ", ".join(f"{o}.{devices[o].off_pin}" for o in stuck if devices[o].off_pin)
                yield Finding(
                    SUBJECT,
                    "stop",
                    ", ".join(owners),
                    f"{' and '.join(owners)} answer at one address, {address}, on the bus of {board}",
                    float(len(stuck)),
                    1.0,
                    "parts",
                    f"join {pins} to pins of the controller, so that the program can change them one "
                    "after the other"
                    if pins
                    else "use parts with different addresses, or a second bus",
                    "the parts' own figures",
                )
        yield from _pull_ups(board, devices)


def _pull_ups(board: str, devices: Mapping[str, BusDevice]) -> Iterator[Finding]:
    siemens = sum(1 / device.pull_up_ohm for device in devices.values() if device.pull_up_ohm > 0)
    together = 1 / siemens if siemens > 0 else 1e6
    if LEAST_PULL_UP <= together <= MOST_PULL_UP:
        return
    weak = together > MOST_PULL_UP
    yield Finding(
        SUBJECT,
        "caution",
        board,
        f"the bus of {board} has {'no pull-ups that hold it' if weak else 'too many pull-ups'}",
        round(together),
        MOST_PULL_UP if weak else LEAST_PULL_UP,
        "Ω",
        "solder 4.7 kΩ from each of its lines to the board's own rail"
        if weak
        else "take the pull-ups off all boards but one or two",
        "1 to 12 kΩ on each line: common practice; bus specification, from memory",
    )


def resistor_table(resistors: tuple[Resistor, ...]) -> Table | None:
    """Return the resistors in series as a table; None when there are none."""
    if not resistors:
        return None
    rows = tuple(
        (
            one.owner,
            one.net,
            ohms(round(one.ohm)),
            f"{one.power_w * 1000:.0f} mW, rated {one.rated_w:g} W",
            f"in the lead of {one.owner}.{one.pin}" if one.place == "lead" else "on its board already",
            round(one.current_ma, 1),
        )
        for one in resistors
    )
    return Table(
        "Resistors in series", ("for", "net", "value", "power", "place", "current (mA)"), rows, "E24"
    )


def bare_diodes(train: Train, chosen: Mapping[str, Part], resistors: Sequence[Resistor]) -> Iterator[Finding]:
    """Yield lamps and emitters on a pin of which nothing says that a resistor bounds their current."""
    having = {one.owner for one in resistors}
    for net in train.nets:
        if net.role != "signal":
            continue
        for end in ends_of(train, chosen, net):
            part = end.part
            if part is None or part.family not in ("lamp", "emitter") or end.owner in having:
                continue
            if part.figure(SeriesResistor) is None and any(pin.wants & {"output", "pwm"} for pin in end.pins):
                yield Finding(
                    SUBJECT,
                    "caution",
                    end.owner,
                    f"nothing says what bounds the current of {end.owner}: a bare diode destroys the pin",
                    0.0,
                    1.0,
                    "resistors",
                    "write its figures 'series' (drop, current, place of the resistor) in its part file",
                    "common practice, no source",
                )
