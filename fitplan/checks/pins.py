"""Pins: does every signal have a pin that can do it, at a level it stands, with a current it gives."""

from __future__ import annotations

from dataclasses import dataclass

from fitplan.checks.divider import divider, ohms
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
from fitplan.checks.sources import PART, PRACTICE
from fitplan.circuit.net_ends import ResolvedEnd, ends_of
from fitplan.circuit.nodes import Circuit
from fitplan.circuit.supply_tree import Supply, nominal_volts
from fitplan.model.built import BuiltTrain
from fitplan.model.buying import Asked
from fitplan.model.electrical import Controller, Load
from fitplan.model.found import Finding, Outcome, Table
from fitplan.model.part import FEED_ROLES, Part
from fitplan.model.train import Train
from fitplan.pins.matching import PinMatch
from fitplan.pins.remedies import find_remedies
from fitplan.pins.train_circuit import TrainCircuit

SUBJECT = "pins"


@dataclass(frozen=True)
class PinSettings:
    """Levels.

    Attributes
    ----------
    above_logic_v
        How far a signal may lie above a pin's own level: inputs clamp at about 0.3 V more (common practice;
        the data sheet of the chip goes before).
    high_share
        Share of a receiver's supply that counts as high: 0.7 for plain CMOS inputs (common practice).
    """

    above_logic_v: float = 0.3
    high_share: float = 0.7


DEFAULTS = PinSettings()


def check_pins(
    built: BuiltTrain, settings: PinSettings = DEFAULTS, circuit: TrainCircuit | None = None
) -> Outcome:
    """Check the pin map of every controller."""
    train, chosen = built.train, chosen_parts(built)
    circuit = circuit_of(built, circuit)
    match, supply = circuit.pins, circuit.supply
    findings = [
        *fixed_faults(train, chosen, match),
        *_clash(train, chosen, match),
        *_console(match),
        *_levels(train, chosen, match, circuit, settings),
        *current_faults(train, chosen, supply, match),
        *_left_open(train, chosen),
        *cares(train, chosen, match),
        *timer_faults(train, chosen, match),
        *bus_faults(train, chosen),
        *bare_diodes(train, chosen, circuit.resistors),
    ]
    placed = {entry.need for entry in built.placements}
    rows = tuple(
        (use.controller, use.pin, use.net or "kept free", use.does, use.serves)
        for use in match.uses
        if not placed or not use.net or train.joins_others(use.net, use.controller, placed)
    )
    table = Table("Pin map", ("controller", "pin", "net", "does", "for"), rows)
    resistors = resistor_table(circuit.resistors)
    tables = [*([table] if rows else []), *([resistors] if resistors is not None else [])]
    return Outcome(SUBJECT, tuple(findings), tuple(tables))


def _clash(train: Train, chosen: dict[str, Part], match: PinMatch) -> list[Finding]:
    if all(cannot(chosen, want) for want in match.clash):
        return []
    remedies = find_remedies(train, chosen, match)
    wanting = ", ".join(want.name for want in match.clash)
    able = ", ".join(match.clash_pins) or "none"
    doing = " or ".join(dict.fromkeys(want.doing for want in match.clash))
    controller = match.clash[0].controller
    remedy = "; or ".join(one.text for one in remedies) or (
        "use a controller with more pins of this kind, or leave one of these needs out"
    )
    return [
        Finding(
            SUBJECT,
            "stop",
            controller,
            f"too few pins: {wanting} want {doing}, and only these can serve any of them: {able}",
            float(len(match.clash)),
            float(len(match.clash_pins)),
            "pins",
            remedy,
            "maximum matching; a set that wants more pins than can serve it (Hall, 1935)",
            add=(Asked("port expander"),) if remedies and remedies[0].kind == "expander" else (),
        )
    ]


def _console(match: PinMatch) -> list[Finding]:
    if not match.console:
        return []
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
            "share the trigger of both rangers or use a board with more pins; unplug these leads to debug",
            PRACTICE,
        )
    ]


def _levels(
    train: Train, chosen: dict[str, Part], match: PinMatch, circuit: TrainCircuit, settings: PinSettings
) -> list[Finding]:
    nets = {net.name: net for net in train.nets}
    volts = supply_volts(circuit.supply)
    found: list[Finding] = []
    for use in match.uses:
        controller = chosen[use.controller].figure(Controller) if use.controller in chosen else None
        if controller is None or not use.net:
            continue
        for end in ends_of(train, chosen, nets[use.net]):
            if end.owner == use.controller or end.part is None:
                continue
            wants = frozenset(can for pin in end.pins for can in pin.wants)
            where = f"{use.controller}.{use.pin}"
            if wants & {"input", "analog", "receive", "data", "clock"}:
                sent = _level_of(end, circuit.nodes)
                found.extend(_too_high(where, end, sent, controller, settings))
            if wants & {"output", "pwm", "send"}:
                found.extend(_too_low(where, end, controller, volts, settings))
    return found


def supply_volts(supply: Supply) -> dict[str, float]:
    """Return the label volts of the rail that feeds each owner."""
    found: dict[str, float] = {}
    for tree in supply.trees:
        queue = [(tree.root, nominal_volts(tree.source))]
        while queue:
            rail, volts = queue.pop()
            for fed in rail.fed:
                found[fed.owner] = volts
            for link in rail.links:
                queue.append((link.below, link.regulator.out_v if link.regulator else volts))
    return found


def _level_of(end: ResolvedEnd, nodes: Circuit) -> float:
    """Return the level that a device's output swings to, with fresh cells where they feed it."""
    fixed = max((pin.volts for pin in end.pins), default=0.0)
    load = end.part.figure(Load) if end.part is not None else None
    fed = (
        giver.level.most_v
        for _, node in nodes.at(end.owner, *(FEED_ROLES - {"plus"}))
        for giver in node.givers
        if giver.owner != end.owner
    )
    return fixed or (load.logic_v if load is not None else 0.0) or max(fed, default=0.0)


def _too_high(
    where: str, end: ResolvedEnd, sent: float, controller: Controller, settings: PinSettings
) -> list[Finding]:
    allowed = controller.logic_v + settings.above_logic_v
    if sent <= allowed or (controller.five_volt_tolerant and sent <= 5.5):
        return []
    if frozenset(can for pin in end.pins for can in pin.wants) & {"data", "clock"}:
        remedy = (
            f"feed {end.owner} with {controller.logic_v:g} V, or put a level shifter into both lines of the "
            "bus: a divider would not let the board answer"
        )
        add: tuple[Asked, ...] = (Asked("level shifter for two lines"),)
    else:
        made = divider(sent, controller.logic_v)
        add = tuple(Asked(f"resistor {ohms(one)}, 0.25 W") for one in (made.upper_ohm, made.lower_ohm))
        remedy = (
            f"put {ohms(made.upper_ohm)} between {end.label} and the pin and {ohms(made.lower_ohm)} from the "
            f"pin to ground: {made.volts:.2f} V, at most {made.most_volts:.2f} V"
        )
    return [
        Finding(
            SUBJECT,
            "stop",
            where,
            f"{end.label} sends up to {sent:.3g} V into a pin that stands {controller.logic_v:g} V",
            sent,
            allowed,
            "V",
            remedy,
            "level of the pin plus 0.3 V: common practice; resistors of series E24, IEC 60063",
            add=add,
        )
    ]


def _too_low(
    where: str, end: ResolvedEnd, controller: Controller, volts: dict[str, float], settings: PinSettings
) -> list[Finding]:
    load = end.part.figure(Load) if end.part is not None else None
    has_supply = end.part is not None and any(
        pin.role in ("supply", "5v", "3v3", "raw") for pin in end.part.pins
    )
    if load is None:
        return []
    if not has_supply:
        if controller.logic_v >= load.min_v:
            return []
        return [
            Finding(
                SUBJECT,
                "stop",
                where,
                f"{end.owner} needs {load.min_v:g} V and the pin gives {controller.logic_v:g} V",
                controller.logic_v,
                load.min_v,
                "V",
                "switch it with a transistor from the 5 V rail, or use one for fewer volts",
                PART,
            )
        ]
    needed = settings.high_share * min(volts.get(end.owner, controller.logic_v), load.max_v or 5.0)
    if load.logic_v:
        needed = settings.high_share * load.logic_v
    if controller.logic_v >= needed:
        return []
    return [
        Finding(
            SUBJECT,
            "caution",
            where,
            f"{end.label} may not take {controller.logic_v:g} V for high",
            controller.logic_v,
            round(needed, 2),
            "V",
            f"feed {end.owner} with {controller.logic_v:g} V if its data sheet allows, or shift the level",
            "0.7 of the receiver's supply: plain CMOS inputs, common practice; its data sheet goes before",
        )
    ]


def _left_open(train: Train, chosen: dict[str, Part]) -> list[Finding]:
    joined = {
        (end.owner, pin.name) for net in train.nets for end in ends_of(train, chosen, net) for pin in end.pins
    }
    found = []
    for owner, part in chosen.items():
        open_pins = [
            pin.name
            for pin in part.pins
            if pin.wants and not pin.optional and (owner, pin.name) not in joined
        ]
        if open_pins:
            found.append(
                Finding(
                    SUBJECT,
                    "caution",
                    owner,
                    f"{owner} has signal pins that no net joins: {', '.join(open_pins)}",
                    float(len(open_pins)),
                    0.0,
                    "pins",
                    "write a net for each, or leave the part out",
                    "the part's own pin list",
                )
            )
    return found
