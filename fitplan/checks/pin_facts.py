"""Pins as the catalogue knows them: reset and boot pins, the chip's current, the bus, resistors in series."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from fitplan.checks.divider import ohms
from fitplan.checks.sources import PRACTICE
from fitplan.circuit.net_ends import ResolvedEnd, ends_of
from fitplan.model.electrical import BusDevice, Controller, SeriesResistor
from fitplan.model.found import Finding, Table
from fitplan.model.nets import Net
from fitplan.model.part import CANS, Can, Part, PinCare
from fitplan.model.pins_used import Resistor
from fitplan.model.train import Train
from fitplan.pins.matching import PinMatch, troubles
from fitplan.pins.timers import TimerUse, timers_in_use
from fitplan.pins.wants import PinRequest, controllers_of, signal_pins, wants_of

SUBJECT = "pins"
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


_WORSE: frozenset[PinCare] = frozenset({"reset", "boot"})
"""What is told of a pin before that it cannot do what is wanted of it."""


def cares(train: Train, chosen: Mapping[str, Part], match: PinMatch) -> Iterator[Finding]:
    """Yield pins that were fixed against what the board's own pin list says of them."""
    for name, part in controllers_of(train, chosen).items():
        for want in wants_of(train, chosen, name):
            given = match.pin_for(name, want)
            pin = next((one for one in part.pins if one.name == given), None)
            for trouble in troubles(pin, want) if pin is not None else ():
                if trouble not in _WORSE and cannot(chosen, want):
                    continue  # that it cannot is told, and another pin is asked for anyway
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


def cannot(chosen: Mapping[str, Part], want: PinRequest) -> tuple[Can, ...]:
    """Return what a pin that the user fixed cannot do of what is wanted of it; nothing for one to choose."""
    if not want.pin:
        return ()
    pin = next((one for one in chosen[want.controller].pins if one.name == want.pin), None)
    able = pin.can if pin is not None else frozenset()
    return tuple(can for can in CANS if can in want.abilities - able)


def fixed_faults(train: Train, chosen: Mapping[str, Part], match: PinMatch) -> Iterator[Finding]:
    """Yield pins that the user fixed and that cannot do what their net wants."""
    for want in match.unmatched:
        lacks = cannot(chosen, want)
        fixed = next((pin for pin in chosen[want.controller].pins if pin.name == want.pin), None)
        if not lacks or (fixed is not None and _WORSE & set(troubles(fixed, want))):
            continue
        able = [pin.name for pin in signal_pins(chosen[want.controller]) if want.abilities <= pin.can]
        yield Finding(
            SUBJECT,
            "stop",
            f"{want.controller}.{want.pin}",
            f"{want.controller}.{want.pin}, taken for {want.name}, cannot serve as {' and '.join(lacks)}",
            0.0,
            float(len(lacks)),
            "abilities",
            f"write * and one that can is chosen, or take {' or '.join(able[:4])}"
            if able
            else f"use a controller that has pins for {want.doing}",
            "the board's own pin list",
        )


def timer_faults(train: Train, chosen: Mapping[str, Part], match: PinMatch) -> Iterator[Finding]:
    """Yield pins that were fixed so that two things want one timer at frequencies of their own.

    Sounders alone that share the timer of the tone call take turns, and emitters alone have one carrier: both
    are told as notes.
    """
    for name, part in controllers_of(train, chosen).items():
        given = [(want, match.pin_for(name, want)) for want in wants_of(train, chosen, name)]
        for used in timers_in_use(part, given):
            if used.clashes:
                yield _two_frequencies(name, used)
            elif len(used.setters) > 1:
                yield _one_for_all(name, used)


def _two_frequencies(name: str, used: TimerUse) -> Finding:
    users = [
        f"the tone of {want.name}" if want.use == "tone" else f"the carrier of {want.name} at {pin}"
        for want, pin in used.setters
    ]
    users += [f"{want.name} at {pin}" for want, pin in used.dimmed]
    users += ["the clock"] if used.clock else []
    return Finding(
        SUBJECT,
        "stop",
        name,
        f"{' and '.join(users)} want timer {used.timer} of {name} at frequencies of their own",
        float(len(users)),
        1.0,
        "uses",
        "write * for their pins: one with a timer of its own is chosen where there is one",
        "the board's own pin list; which timer the tone call and the clock take: common practice",
    )


def _one_for_all(name: str, used: TimerUse) -> Finding:
    """Return the word that sounders take turns, or that emitters have one carrier.

    The tone call gives one tone at a time, at one pin; a timer has one frequency for all of its pins.
    """
    tones = used.setters[0][0].use == "tone"
    users = " and ".join(want.name for want, _ in used.setters)
    return Finding(
        SUBJECT,
        "note",
        name,
        f"{users} take turns: all tones come from timer {used.timer} of {name}, one at a time"
        if tones
        else f"{users} have one carrier: timer {used.timer} of {name} has one frequency for all of its pins",
        float(len(used.setters)),
        1.0,
        "tones" if tones else "carriers",
        "end one tone before the next begins; for one tone at both, join them to one pin by a net"
        if tones
        else "set the carrier once, that of the receivers; where these want two, take a second board",
        "the board's own pin list; that one tone sounds at one pin at a time: common practice, no source"
        if tones
        else "the board's own pin list; what a timer is shared by: common practice, no source",
    )


def bus_faults(train: Train, chosen: Mapping[str, Part]) -> Iterator[Finding]:
    """Yield parts on one bus with one address, and buses without pull-ups or with too many."""
    joined = {
        (end.owner, pin.name) for net in train.nets for end in ends_of(train, chosen, net) for pin in end.pins
    }
    buses: dict[tuple[str, str], dict[str, BusDevice]] = {}
    for net in train.nets:
        ends = ends_of(train, chosen, net)
        boards = [e for e in ends if e.part is not None and e.part.figure(Controller) is not None]
        for end in ends:
            device = end.part.figure(BusDevice) if end.part is not None else None
            if device is not None and boards and any("data" in pin.wants for pin in end.pins):
                buses.setdefault((boards[0].owner, _data_line(boards[0], net)), {})[end.owner] = device
    for (board, _), devices in buses.items():
        by_address: dict[str, list[str]] = {}
        for owner, device in devices.items():
            by_address.setdefault(device.address, []).append(owner)
        for address, owners in by_address.items():
            stuck = [
                owner
                for owner in owners
                if not (devices[owner].changes and (owner, devices[owner].off_pin) in joined)
            ]
            if len(stuck) > 1:
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


def _data_line(board: ResolvedEnd, net: Net) -> str:
    """Return which bus of a board a net of data is on: its own where the board has pins for several."""
    able = [pin.name for pin in board.part.pins if "data" in pin.can] if board.part is not None else []
    if len(able) < 2:
        return ""
    return board.pins[0].name if len(board.pins) == 1 else f"net {net.name}"


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
            ohms(one.ohm),
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
                    PRACTICE,
                )
