"""Wires: volts lost on the way, currents against gauges and connectors, bundles against ports."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from fitplan.checks.closed_ends import drawn_open
from fitplan.checks.ends import circuit_of
from fitplan.checks.gaps import bricked_ports
from fitplan.checks.sources import PRACTICE
from fitplan.checks.wire_couplers import keyed_pairs
from fitplan.checks.wire_ports import port_findings
from fitplan.circuit.chain import flow_through
from fitplan.circuit.draws import by_flow, tree_draws
from fitplan.circuit.leads import lead_ohms, net_drop
from fitplan.circuit.supply_tree import Rail, Supply, nominal_volts
from fitplan.model.built import BuiltTrain
from fitplan.model.copper import awg_area, current_limit
from fitplan.model.electrical import Connector
from fitplan.model.found import Finding, Outcome, Table
from fitplan.model.proposed import LeastOpening
from fitplan.model.wired import Unreached
from fitplan.model.words import listed
from fitplan.pins.train_circuit import TrainCircuit

SUBJECT = "wire"

CHASSIS_MA = {22: 7000.0, 24: 3500.0, 26: 2200.0, 28: 1400.0, 30: 860.0, 32: 530.0}
"""Currents for short single wires in air by gauge, a column of a handbook; 32 AWG from memory.

Its other column, for power transmission, is the rule of `current_limit`, rounded.
"""
_OHM_SHARE = "a setting of this check, common practice"


@dataclass(frozen=True)
class WireSettings:
    """What is asked of wires.

    Attributes
    ----------
    drop_share
        Share of the volts that the leads to a part and back may cost.
    port_share
        Share of a port's sides that its wires may fill: they must be pulled through.
    """

    drop_share: float = 0.05
    port_share: float = 0.9


DEFAULTS = WireSettings()


def bundled_limit(awg: int) -> float:
    """Return the careful current limit of a wire in a bundle, mA."""
    return 1000.0 * current_limit(awg)


def single_limit(awg: int) -> float:
    """Return the current limit of a single short wire in air, mA, by the nearest thinner gauge known.

    Beyond the thinnest by its section, as the handbook's column goes on but for its rounding (from memory).
    """
    thinnest = max(CHASSIS_MA)
    if awg > thinnest:
        return CHASSIS_MA[thinnest] * awg_area(awg) / awg_area(thinnest)
    return CHASSIS_MA[min(known for known in CHASSIS_MA if known >= awg)]


def check_wire(
    built: BuiltTrain, settings: WireSettings = DEFAULTS, circuit: TrainCircuit | None = None
) -> Outcome:
    """Check the harness: drops, currents, connectors, ports, and what could not be wired."""
    if not built.harness.wires and not built.harness.unreached:
        return Outcome(SUBJECT, ())
    circuit = circuit_of(built, circuit)
    peaks = wire_currents(built, circuit)
    findings = [
        *_unreached(built),
        *_opening(built),
        *_drops(built, circuit.supply, settings),
        *_currents(built, peaks),
        *_connectors(built, peaks),
        *port_findings(built.train, built.harness.facts.ports, settings.port_share),
    ]
    rows = tuple(
        (
            wire.number,
            wire.net,
            f"AWG {wire.awg}",
            round(wire.cut_mm),
            round(peaks[wire.number][0], 1),
            round(peaks[wire.number][1], 1),
        )
        for wire in built.harness.wires
    )
    columns = ("wire", "net", "gauge", "cut (mm)", "average (mA)", "peak (mA)")
    return Outcome(SUBJECT, tuple(findings), (Table("Currents in wires", columns, rows),) if rows else ())


def wire_currents(built: BuiltTrain, circuit: TrainCircuit) -> dict[int, tuple[float, float]]:
    """Return for each wire its (average, peak) current in mA.

    Solved through the branches of each net; where a net hangs from no source, the net's own current.
    """
    roles = {net.name: net.role for net in built.train.nets}
    found: dict[int, tuple[float, float]] = {}
    for tree in circuit.supply.trees:
        for peak in (False, True):
            _, flow = flow_through(tree.root, nominal_volts(tree.source), peak, {})
            for entry in tree_draws(tree, by_flow(flow), peak):
                if entry.net:
                    wires = [wire for wire in built.harness.wires if wire.net == entry.net]
                else:
                    wires = [wire for wire in built.harness.wires if roles.get(wire.net) == "ground"]
                for number, current in net_drop(wires, entry.giver, entry.draws).currents.items():
                    average, most = found.get(number, (0.0, 0.0))
                    found[number] = (average, most + current) if peak else (average + current, most)
    for wire in built.harness.wires:
        if wire.number not in found:
            net_current = circuit.currents.get(wire.net)
            found[wire.number] = (
                (net_current.average_ma, net_current.peak_ma) if net_current else (wire.current_ma,) * 2
            )
    return found


def _opening(built: BuiltTrain) -> Iterator[Finding]:
    """Yield what must be opened for the wires, and what nothing cheaper does."""
    opening = built.opening
    if opening is None:
        return
    why = f"as it is, no place of the parts lets the wires through: {opening.proof}" if opening.proof else ""
    if opening.planned and _is_built(built, opening):
        said = f"opened already, as it is built: {opening.words}"
        remedy = "nothing to do: it is open"
    elif opening.failed:
        others = f" and with {opening.failed - 1} more, the next by cost," if opening.failed > 1 else ""
        said = (
            f"{why}; the cheapest that may help is {opening.words}: the train was planned with it{others}"
            f" and not all wires ran"
        )
        remedy = "open more in the vehicle's file, where wires that are not reached would pass, or move parts"
    elif not opening.planned:
        said = f"{why}; the cheapest that may help is {opening.words}; with anything cheaper it cannot be"
        remedy = "write `may open: yes` into the train file, and it is planned with and checked"
    else:
        least = (
            "and nothing cheaper can be"
            if opening.least == opening.cost
            else (f"and nothing below {opening.least:g} can be; what lies between is not decided")
        )
        why = why or _bricked(built, opening) or "as it is, no way was found for all wires"
        said = f"{why}; opened: {opening.words}, {least}"
        remedy = "open it before anything is built in"
    yield Finding(
        SUBJECT,
        "note",
        ", ".join(dict.fromkeys([v for v, _ in opening.holes] + [v for v, _ in opening.remove])),
        said,
        opening.cost,
        opening.least,
        "cost",
        remedy,
        "rooms of the bodies without parts; a hole costs 1 a brick, a brick left out 2",
    )


def _bricked(built: BuiltTrain, opening: LeastOpening) -> str:
    """Return in which ports that wires pass bricks stood which are taken out; empty where in none."""
    ports = [
        f"{listed(one.bricks)} of {entry.name} in the port {one.port}"
        for entry in built.train.vehicles
        for one in bricked_ports(built, entry, [name for home, name in opening.remove if home == entry.name])
    ]
    return f"where wires run {listed(ports)} would be in their way" if ports else ""


def _is_built(built: BuiltTrain, opening: LeastOpening) -> bool:
    """Return whether all that is opened was open before this plan."""
    before = built.train.as_built
    return set(opening.holes) <= set(before.holes) and set(opening.remove) <= set(before.bricks_out)


def _unreached(built: BuiltTrain) -> Iterator[Finding]:
    for one in built.harness.unreached:
        yield Finding(
            SUBJECT,
            "stop",
            one.where,
            f"it is not decided whether a wire of {one.net} reaches it: {one.reason}"
            if one.undecided
            else f"no wire of {one.net} reaches it: {one.reason}",
            0.0,
            1.0,
            "ways",
            _remedy(built, one),
            "the ways that were found",
        )


def _remedy(built: BuiltTrain, lost: Unreached) -> str:
    reason = lost.reason
    if reason.endswith(f" has no pin {lost.pin}"):
        # What is named by hand are supplies and grounds: which pin a signal gets is chosen (*).
        pins = [pin.name for pin in built.pins_of(lost.owner) if not pin.can]
        write = f"write a pin that it has into the net ({listed(pins, 'or')}), or " if pins else ""
        return f"{write}take a part with such a pin"
    if reason.startswith("no free pin"):
        return f"what helps the pins of {lost.owner} helps it too"
    if "`load height`" in reason:
        return "turn the part so that its plug leaves lower, or write a greater load height for the vehicle"
    if reason.startswith("it comes with the lead"):
        return "what helps the lead helps it too"
    opening = built.opening
    vehicle = built.vehicle_of(lost.owner) or lost.owner
    offered = opening is not None and not opening.planned and not opening.failed
    if opening is not None and offered and vehicle in {one for one, _ in (*opening.holes, *opening.remove)}:
        drawn = drawn_open(built, lost)
        return (f"{drawn}; or " if drawn else "") + (
            "write `may open: yes`: then the least that may help is opened and planned with; or move the part"
        )
    return drawn_open(built, lost) or "open a port, take out the brick in the way, or move the part"


def _drops(built: BuiltTrain, supply: Supply, settings: WireSettings) -> Iterator[Finding]:
    for tree in supply.trees:
        nominal = nominal_volts(tree.source)
        ohms = lead_ohms(built.train, built.harness, tree, flow_through(tree.root, nominal, True, {})[1])
        if not ohms:
            continue
        _, flow = flow_through(tree.root, nominal, True, ohms)
        draws: dict[str, float] = {}
        rails: dict[str, float] = {}
        for entry in tree_draws(tree, by_flow(flow), peak=True):
            for owner, current in entry.draws.items():
                if owner != entry.giver:
                    draws[owner] = max(draws.get(owner, 0.0), abs(current))
        _rail_volts(tree.root, nominal, rails)
        losses = {
            owner: (ohm * draws.get(owner, 0.0) / 1000, rails.get(owner, nominal))
            for owner, ohm in ohms.items()
        }
        bad = [o for o, (lost, rail) in sorted(losses.items()) if lost > settings.drop_share * rail]
        worst = max(sorted(losses), key=lambda owner: losses[owner][0] / losses[owner][1])
        for owner in bad or [worst]:
            yield _drop(owner, *losses[owner], settings)


def _drop(owner: str, lost: float, rail: float, settings: WireSettings) -> Finding:
    limit = settings.drop_share * rail
    bad = lost > limit
    return Finding(
        SUBJECT,
        "caution" if bad else "note",
        owner,
        f"the leads to {owner} and back cost {1000 * lost:.0f} mV of {rail:.1f} V at peak current"
        + ("" if bad else ", the most of all"),
        round(lost, 4),
        round(limit, 4),
        "V",
        f"use wire of {_thicker(lost / limit)}, shorten it, or feed it by leads of its own"
        if bad
        else "nothing to do",
        f"copper 1/58 Ω·mm²/m, IEC 60028; {100 * settings.drop_share:.0f} %: {_OHM_SHARE}",
    )


def _rail_volts(rail: Rail, volts: float, found: dict[str, float]) -> None:
    for fed in rail.fed:
        found.setdefault(fed.owner, volts)
    for link in rail.links:
        found.setdefault(link.owner, volts)
        _rail_volts(link.below, link.regulator.out_v if link.regulator else volts, found)


def _thicker(factor: float) -> str:
    """Return how many gauge numbers thicker a wire must be: three halve the resistance (ASTM B258)."""
    steps = 1
    while 92 ** (2 * steps / 39) < factor:
        steps += 1
    return f"{steps} AWG number{'s' if steps > 1 else ''} less"


def _currents(built: BuiltTrain, peaks: dict[int, tuple[float, float]]) -> Iterator[Finding]:
    worst: dict[tuple[str, int], tuple[float, float, int]] = {}
    for wire in built.harness.wires:
        average, peak = peaks[wire.number]
        key = (wire.net, wire.awg)
        if key not in worst or peak > worst[key][1]:
            worst[key] = (average, peak, wire.number)
    for (net, awg), (average, peak, number) in worst.items():
        hot = peak > single_limit(awg)
        steady = average > bundled_limit(awg)
        if not hot and not steady:
            continue
        figure, limit = (peak, single_limit(awg)) if hot else (average, bundled_limit(awg))
        fitting = [g for g in CHASSIS_MA if bundled_limit(g) >= average and CHASSIS_MA[g] >= peak]
        yield Finding(
            SUBJECT,
            "stop" if hot else "caution",
            f"wire {number} ({net})",
            f"carries {average:.0f} mA on average and {peak:.0f} mA at peak on AWG {awg}",
            round(figure, 1),
            round(limit, 1),
            "mA",
            f"use AWG {max(fitting)}" if fitting else "use two wires side by side or share the load out",
            "wire table of a handbook: short single wire in air at peak, careful column on average",
        )


def _connectors(built: BuiltTrain, peaks: dict[int, tuple[float, float]]) -> Iterator[Finding]:
    gauges = {wire.number: wire.awg for wire in built.harness.wires}
    for crossing in built.harness.crossings:
        part = built.train.catalogue.get(crossing.connector)
        figures = part.figure(Connector) if part is not None else None
        if figures is None:
            continue
        where = f"{crossing.ahead} to {crossing.behind}"
        passing = [
            replace(wire, current_ma=peaks.get(wire.number, (0.0, 0.0))[1]) for wire in built.harness.wires
        ]
        fitting = keyed_pairs(
            built.train.catalogue.values(), [wire for wire in passing if wire.number in crossing.joined]
        )
        named = fitting[0].id if fitting else ""
        most = max((peaks[number][1] for number in crossing.joined if number in peaks), default=0.0)
        if most > figures.max_ma:
            yield Finding(
                SUBJECT,
                "stop",
                where,
                f"a cavity of the connector carries {most:.0f} mA at peak",
                round(most, 1),
                figures.max_ma,
                "mA",
                f"use {named or 'a larger connector'}, or two cavities side by side",
                "the connector's own figures",
            )
        if len(crossing.joined) > figures.cavities:
            yield Finding(
                SUBJECT,
                "stop",
                where,
                f"{len(crossing.joined)} wires cross and the connector has {figures.cavities} cavities",
                float(len(crossing.joined)),
                float(figures.cavities),
                "wires",
                f"use {named or f'a connector with {len(crossing.joined)} cavities'}, or two",
                "the connector's own figures",
            )
        wrong = [
            n for n in crossing.joined if n in gauges and not figures.awg_min <= gauges[n] <= figures.awg_max
        ]
        if wrong:
            yield Finding(
                SUBJECT,
                "stop",
                where,
                f"the connector does not take AWG {gauges[wrong[0]]} of wire {wrong[0]}",
                float(gauges[wrong[0]]),
                float(figures.awg_max if gauges[wrong[0]] > figures.awg_max else figures.awg_min),
                "AWG",
                f"use {named or 'another connector'}, or wire of AWG {figures.awg_min} to {figures.awg_max}",
                "the connector's own figures",
            )
        if not figures.keyed:
            yield Finding(
                SUBJECT,
                "caution",
                where,
                "the connector can be plugged the wrong way round and would put supply on signals",
                0.0,
                1.0,
                "keys",
                "use a keyed pair, or mark both halves in the same colour",
                PRACTICE,
            )
