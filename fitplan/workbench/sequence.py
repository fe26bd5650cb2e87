"""The whole sequence of readings: without cells, coupled, with cells; numbered, with its coverage."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from fitplan.circuit.supply_tree import Supply
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Bank, CellPack, Fuse, Switch
from fitplan.model.found import Outcome
from fitplan.model.meter import JOINED_OHM, STAGES, MeterPlan, MeterStage, MeterTest
from fitplan.workbench.continuity import ProbedWay, continuity_pairs, coupled_pairs
from fitplan.workbench.copper import Copper, Node, Ohmmeter, copper_of, probe_of
from fitplan.workbench.coverage import coverage_of
from fitplan.workbench.isolation import ApartRow, neighbour_rows, supply_pairs
from fitplan.workbench.neighbours import neighbours_of
from fitplan.workbench.power import power_tests

HOLDING = frozenset({"nets", "supply", "pins", "safety", "heat", "wire", "wiring"})
"""Subjects of checks whose stops forbid that anything is switched on."""
_AROUND = 0.1
"""Share by which resistors and meters may be off together (common practice, no source)."""


def meter_plan(built: BuiltTrain, supply: Supply, outcomes: Iterable[Outcome], complete: bool) -> MeterPlan:
    """Return what is measured before and at the first switching on.

    Parameters
    ----------
    outcomes
        What the checks found: where a stop of theirs stands, nothing is switched on.
    complete
        Whether every part has a place and every net is wired.
    """
    if not built.harness.wires:
        return MeterPlan()
    copper = copper_of(built)
    neighbours = neighbours_of(built, copper)
    apart = Ohmmeter(copper.bonds(wire_ohm=False))
    supplies = supply_pairs(built, copper, apart)
    rows = neighbour_rows(neighbours, apart, supplies)
    tests = [_joined(copper, path) for path in continuity_pairs(copper)]
    tests += [_apart(row) for row in [*supplies, *rows]]
    tests += [_through(path) for path in coupled_pairs(copper)]
    tests += _switches(built, copper)
    held = _held(outcomes, complete)
    if not held:
        tests += power_tests(built, copper, supply)
    order = {entry.name: place for place, entry in enumerate(built.train.vehicles)}
    powered = ("source", "power")
    tests.sort(
        key=lambda test: (
            STAGES.index(test.stage) if test.stage not in powered else len(STAGES),
            order.get(test.vehicle, 0) if test.stage not in ("coupled", *powered) else 0,
        )
    )
    tests = [replace(test, first=_with_places(built, test)) for test in tests]
    numbered = tuple(replace(test, number=number) for number, test in enumerate(tests, 1))
    return MeterPlan(numbered, coverage_of(copper, neighbours, numbered), held)


def _held(outcomes: Iterable[Outcome], complete: bool) -> str:
    if not complete:
        return "not all is placed and wired: nothing is switched on"
    stops = [
        found.where
        for outcome in outcomes
        for found in outcome.findings
        if found.severity == "stop" and found.subject in HOLDING
    ]
    if stops:
        where = ", ".join(dict.fromkeys(stops))
        return f"a stop stands at {where}: nothing is switched on before it is mended"
    return ""


def _with_places(built: BuiltTrain, test: MeterTest) -> str:
    """Return what comes before a reading, with where leads are put at plugs and sockets while it is off."""
    if test.stage in ("source", "power") or len(test.pairs) != 1:
        return test.first
    plugged = {
        (end.owner, end.pin)
        for wire in built.harness.wires
        if wire.lead is not None and not wire.lead.shortened
        for end in (wire.start, wire.end)
    }
    found = [test.first] if test.first else []
    for probe in test.pairs[0]:
        if (probe.owner, probe.pin) not in plugged or probe.kind != "pin":
            continue
        placement = built.placement(probe.owner)
        if placement is None:
            continue
        if placement.part.figure(Bank) is not None or placement.part.figure(CellPack) is not None:
            words = f"the lead is not in {probe.owner} yet: touch the contact of its plug"
        elif any(pin.name == probe.pin and pin.socket for pin in placement.part.pins):
            words = f"{probe.owner}.{probe.pin}: at the solder tails of its socket"
        else:
            continue
        if words not in found:
            found.append(words)
    return "; ".join(found)


def _words(node: Node) -> str:
    kind, owner, pin, _ = node
    return f"{owner} cavity {pin}" if kind == "connector" else f"{owner}.{pin}"


def _joined(copper: Copper, path: ProbedWay) -> MeterTest:
    bare = sum(one.ohm for one in copper.conductors if one.wire.number in path.wires)
    resistors = max(0.0, round(path.ohm - bare, 6))  # in this order: of 0.0 and -0.0 the first is taken
    low = round((1 - _AROUND) * resistors, 1)
    high = round((1 + _AROUND) * resistors + bare + JOINED_OHM, 1)
    numbers = ", ".join(str(number) for number in path.wires)
    which = f"wire {numbers}" if len(path.wires) == 1 else f"one of wires {numbers}"
    look = f"too much: {which} is broken, its joint is dry, or its end lies at a neighbour's place"
    if low:
        look += "; too little: the resistor is bridged or has another value"
    pair = ((probe_of(path.one), probe_of(path.other)),)
    return MeterTest(0, "continuity", path.one[3], "", "Ω", pair, low, high, path.wires, look)


def _through(path: ProbedWay) -> MeterTest:
    high = round((1 + _AROUND) * path.ohm + 2 * JOINED_OHM, 1)
    look = "too much: a contact in a coupling is not home in its housing, or the halves are not fully plugged"
    pair = ((probe_of(path.one), probe_of(path.other)),)
    first = "all couplings coupled"
    return MeterTest(0, "coupled", path.one[3], first, "Ω", pair, 0.0, high, (), look)


def _apart(row: ApartRow) -> MeterTest:
    pairs = tuple((probe_of(a), probe_of(b)) for a, b in row.pairs)
    where = row.pairs[0][0]
    if row.supply:
        look = (
            f"too little: a bridge between supply and ground, or a part turned round, on the net of "
            f"{_words(where)}; part it load by load until the reading rises; no cells before"
        )
    else:
        look = f"too little: solder or a strand lies across, at {where[1]} or at far ends of these wires"
    stage: MeterStage = "supply to ground" if row.supply else "neighbours"
    return MeterTest(0, stage, where[3], "", "Ω", pairs, round(row.low, 1), None, (), look)


def _switches(built: BuiltTrain, copper: Copper) -> list[MeterTest]:
    """Return one reading over each switch while it is on, and over each fuse."""
    found = []
    for one in built.placements:
        switch, fuse = one.part.figure(Switch), one.part.figure(Fuse)
        tags = [node for node in copper.wired if node[:2] == ("pin", one.need)]
        if (switch is None and fuse is None) or len(tags) < 2:
            continue
        high = JOINED_OHM + (fuse.resistance_ohm if fuse is not None else 0.0)
        first = f"{one.need} on" if switch is not None else ""
        look = f"too much: {one.need} is open or its leads are at the wrong tags"
        pair = ((probe_of(tags[0]), probe_of(tags[1])),)
        found.append(MeterTest(0, "coupled", one.vehicle, first, "Ω", pair, 0.0, round(high, 1), (), look))
    return found
