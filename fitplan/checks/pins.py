"""Pins: does every signal have a pin that can do it, at a level it stands, with a current it gives."""

from __future__ import annotations

from collections.abc import Iterator

from fitplan.checks.ends import chosen_parts, circuit_of
from fitplan.checks.pin_currents import current_faults
from fitplan.checks.pin_facts import (
    bare_diodes,
    bus_faults,
    cannot,
    cares,
    fixed_faults,
    resistor_table,
    timer_faults,
)
from fitplan.checks.pin_levels import DEFAULTS, PinSettings, level_faults
from fitplan.checks.sources import PRACTICE
from fitplan.circuit.net_ends import ends_of
from fitplan.model.built import BuiltTrain
from fitplan.model.buying import Asked
from fitplan.model.electrical import MotorDriver, Ranger
from fitplan.model.found import Finding, Outcome, Table
from fitplan.model.part import Part
from fitplan.model.train import Train
from fitplan.model.words import listed
from fitplan.pins.matching import PinMatch
from fitplan.pins.remedies import find_remedies
from fitplan.pins.train_circuit import TrainCircuit

SUBJECT = "pins"


def check_pins(
    built: BuiltTrain, settings: PinSettings = DEFAULTS, circuit: TrainCircuit | None = None
) -> Outcome:
    """Check the pin map of every controller."""
    train, chosen = built.train, chosen_parts(built)
    circuit = circuit_of(built, circuit)
    match = circuit.pins
    placed = {entry.need for entry in built.placements}
    rows = tuple(
        (use.controller, use.pin, use.net or "kept free", use.does, use.serves)
        for use in match.uses
        if not placed or not use.net or train.joins_others(use.net, use.controller, placed)
    )
    table = Table("Pin map", ("controller", "pin", "net", "does", "for"), rows)
    resistors = resistor_table(circuit.resistors)
    tables = [*([table] if rows else []), *([resistors] if resistors is not None else [])]
    return Outcome(SUBJECT, tuple(pin_limits(train, chosen, circuit, settings)), tuple(tables))


def pin_limits(
    train: Train, chosen: dict[str, Part], circuit: TrainCircuit, settings: PinSettings = DEFAULTS
) -> Iterator[Finding]:
    """Judge the pins of every controller, by parts and nets alone."""
    match = circuit.pins
    yield from fixed_faults(train, chosen, match)
    yield from _clash(train, chosen, match)
    yield from _console(train, chosen, match)
    yield from level_faults(train, chosen, match, circuit, settings)
    yield from current_faults(train, chosen, circuit.supply, match)
    yield from _left_open(train, chosen)
    yield from cares(train, chosen, match)
    yield from timer_faults(train, chosen, match)
    yield from bus_faults(train, chosen)
    yield from bare_diodes(train, chosen, circuit.resistors)


def _clash(train: Train, chosen: dict[str, Part], match: PinMatch) -> list[Finding]:
    if all(cannot(chosen, want) for want in match.clash):
        return []
    remedies = find_remedies(train, chosen, match)
    wanting = ", ".join(want.name for want in match.clash)
    able = ", ".join(match.clash_pins) or "none"
    doing = " or ".join(dict.fromkeys(want.doing for want in match.clash))
    controller = match.clash[0].controller
    # The clash is the smallest: it may be short of one pin where more wants than one get none.
    left = [want.name for want in match.unmatched if want.controller == controller and not want.optional]
    more = f"; in all, {listed(left)} get no pin" if len(left) > 1 else ""
    remedy = "; or ".join(one.text for one in remedies) or (
        "use a controller with more pins of this kind, or leave one of these needs out"
    )
    return [
        Finding(
            SUBJECT,
            "stop",
            controller,
            f"too few pins: {wanting} want {doing}, and only these can serve any of them: {able}{more}",
            float(len(match.clash)),
            float(len(match.clash_pins)),
            "pins",
            remedy,
            "maximum matching; a set that wants more pins than can serve it (Hall, 1935)",
            add=(Asked("port expander"),) if remedies and remedies[0].kind == "expander" else (),
        )
    ]


def _console(train: Train, chosen: dict[str, Part], match: PinMatch) -> list[Finding]:
    if not match.console:
        return []
    fixed = [
        label
        for label in match.console
        if any(f"{ref.owner}.{ref.pin}" == label for n in train.nets for ref in n.joins)
    ]
    sound = [
        part
        for part in chosen.values()
        if (ranger := part.figure(Ranger)) is not None and ranger.method == "sound"
    ]
    ways = [f"write * instead of {' and '.join(fixed)}, and others are chosen"] if fixed else []
    if not fixed:
        ways += ["let both rangers share the net of their trigger"] if len(sound) > 1 else []
        ways.append("use a board with more pins")
    return [
        Finding(
            SUBJECT,
            "caution",
            match.console[0].rpartition(".")[0],
            f"pins of the serial console are used for signals: {', '.join(match.console)}; they move while "
            "a program is loaded and the console cannot be read",
            float(len(match.console)),
            0.0,
            "pins",
            f"{' or '.join(ways)}; unplug these leads to debug",
            PRACTICE,
        )
    ]


def _left_open(train: Train, chosen: dict[str, Part]) -> list[Finding]:
    """Tell parts with signal pins in no net; parts in no net at all are told among the nets."""
    joined = {
        (end.owner, pin.name) for net in train.nets for end in ends_of(train, chosen, net) for pin in end.pins
    }
    wired = {ref.owner for net in train.nets for ref in net.joins}
    found = []
    for owner, part in chosen.items():
        wanted = [pin.name for pin in part.pins if pin.wants and not pin.optional]
        open_pins = [name for name in wanted if (owner, name) not in joined]
        if part.figure(MotorDriver) is not None and open_pins == wanted:
            continue  # that nothing commands it is told among the nets
        if open_pins and owner in wired:
            several = len(open_pins) > 1
            found.append(
                Finding(
                    SUBJECT,
                    "stop",
                    owner,
                    f"{' and '.join(f'{owner}.{name}' for name in open_pins)} "
                    f"{'are' if several else 'is'} in no net: {owner} does not work without "
                    f"{'them' if several else 'it'}",
                    float(len(open_pins)),
                    0.0,
                    "pins",
                    f"write a net for {'each' if several else 'it'} with a pin of the controller (* for any "
                    "that can)"
                    + (", or join it to the supply where it is only to be high" if _only_high(part) else "")
                    + f", or leave {owner} out",
                    "the part's own pin list",
                )
            )
    return found


def _only_high(part: Part) -> bool:
    """Return whether a supply may hold an input of a part for good: a driver's, a lamp's."""
    return part.figure(MotorDriver) is not None or part.family == "lamp"
