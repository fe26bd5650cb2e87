"""Levels: what a signal swings to against what the pin the input at its other end stands."""

from __future__ import annotations

from dataclasses import dataclass

from fitplan.checks.divider import divider, ohms
from fitplan.checks.sources import PART
from fitplan.circuit.net_ends import ResolvedEnd, ends_of
from fitplan.circuit.nodes import Circuit
from fitplan.circuit.ratings import ABOVE_LOGIC_V, RAIL_V, has_supply_pin, rating_of
from fitplan.circuit.resistors import next_value
from fitplan.circuit.supply_tree import Supply, nominal_volts
from fitplan.model.buying import Asked
from fitplan.model.electrical import Controller, Load
from fitplan.model.found import Finding
from fitplan.model.part import FEED_ROLES, Part, PinRole
from fitplan.model.train import Train
from fitplan.pins.matching import PinMatch
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
_LEAST_FEED_V = 1.0
"""What gives less feeds nothing: a stop at the supply tells that."""


def level_faults(
    train: Train,
    chosen: dict[str, Part],
    match: PinMatch,
    circuit: TrainCircuit,
    settings: PinSettings = DEFAULTS,
) -> list[Finding]:
    """Return every signal that is too high for a pin or an input, or too low to be taken for high."""
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
                if not _swings_with(end, use.controller, controller, circuit.nodes):
                    found.extend(_too_high(where, end, sent, controller, settings))
            found.extend(_over_input(where, end, controller, circuit.nodes))
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


def _swings_with(end: ResolvedEnd, owner: str, controller: Controller, nodes: Circuit) -> bool:
    """Return whether a device's output never lies above a board's own rail: both hang on one node."""
    load = end.part.figure(Load) if end.part is not None else None
    if any(pin.volts for pin in end.pins) or (load is not None and load.logic_v):
        return False
    logic: list[PinRole] = [role for role, volts in RAIL_V.items() if volts == controller.logic_v]
    rails = [node for role in logic for _, node in nodes.at(owner, role)]
    return any(node in rails for _, node in nodes.at(end.owner, *(FEED_ROLES - {"plus"})))


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


def _over_input(where: str, end: ResolvedEnd, controller: Controller, nodes: Circuit) -> list[Finding]:
    """Tell a pin that gives more volts than the input at the other end stands."""
    part = end.part
    assert part is not None
    load = part.figure(Load)
    for pin in end.pins:
        rating = rating_of(part, pin)
        if rating is None or not pin.wants & {"output", "pwm", "send", "data", "clock"}:
            continue
        most, limit = rating.most_v, rating.limit_v
        if load is not None and not load.signal_max_v and has_supply_pin(part):
            # No figure of its own: it stands a little more than what it is fed with.
            fed = [
                giver.level.nominal_v
                for _, node in nodes.at(end.owner, *(FEED_ROLES - {"plus"}))
                for giver in node.givers
                if giver.owner != end.owner and giver.level.nominal_v >= _LEAST_FEED_V
            ]
            most = limit = max(fed, default=most) + ABOVE_LOGIC_V
        if controller.logic_v <= most:
            continue
        made, bus = divider(controller.logic_v, most - ABOVE_LOGIC_V), bool(pin.wants & {"data", "clock"})
        over = controller.logic_v > limit
        remedy = (
            "put a level shifter into both lines of the bus"
            if bus
            else f"put {ohms(made.upper_ohm)} between the pin and {end.label} and {ohms(made.lower_ohm)} "
            f"from {end.label} to ground: {made.volts:.2f} V"
        )
        add: tuple[Asked, ...] = (Asked("level shifter for two lines"),)
        if not bus:
            add = tuple(Asked(f"resistor {ohms(one)}, 0.25 W") for one in (made.upper_ohm, made.lower_ohm))
        if not has_supply_pin(part):
            add = ()
            remedy = _in_its_lead(end.owner, load, controller.logic_v, most)
        return [
            Finding(
                SUBJECT,
                "stop" if over else "caution",
                where,
                f"{where} gives {controller.logic_v:g} V; {end.label} "
                + (f"stands {limit:g} V at most" if over else f"is made for {most:g} V"),
                controller.logic_v,
                round(limit if over else most, 2),
                "V",
                remedy,
                "the part's own figures; without one 0.3 V above its supply: common practice",
                add=add,
            )
        ]
    return []


def _in_its_lead(owner: str, load: Load | None, sent_v: float, most_v: float) -> str:
    """Return what keeps volts off something that a pin feeds: a resistor, where it draws enough for one."""
    other = f"use one that stands {sent_v:g} V"
    if load is None or load.peak_ma <= 0:
        return f"{other}, or a board of {most_v:g} V or less"
    ohm = next_value(1000 * (sent_v - most_v) / load.peak_ma)
    return (
        f"solder {ohms(ohm)} into the lead of {owner} for {load.peak_ma:g} mA and write its figures "
        f"'series' in its part file, or {other}"
    )


def _too_low(
    where: str, end: ResolvedEnd, controller: Controller, volts: dict[str, float], settings: PinSettings
) -> list[Finding]:
    if end.part is None or (load := end.part.figure(Load)) is None:
        return []
    if not has_supply_pin(end.part):
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
            f"feed {end.owner} with {controller.logic_v:g} V, or shift the level"
            if load.min_v <= controller.logic_v
            else f"put a level shifter between the pin and {end.label}: {end.owner} wants {load.min_v:g} V",
            "0.7 of the receiver's supply: plain CMOS inputs, common practice; its data sheet goes before",
            add=() if load.min_v <= controller.logic_v else (Asked("level shifter"),),
        )
    ]
