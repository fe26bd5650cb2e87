"""The meter sequence held against the harness: what is said to be joined is, what is said to be apart is not.

Wires, splices and what parts join with copper are a graph; every wire is taken out of it once, and some
reading must then be wrong. How large readings may be is held against a second run (`lists`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import networkx as nx

from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Charger, Controller, Fuse, Switch
from fitplan.model.meter import NO_METER, STAGES, MeterTest, Probe
from fitplan.model.part import FEED_ROLES, Part
from fitplan.model.plan import Plan
from fitplan.model.wired import Wire, WireEnd
from fitplan.verify.result import Tally

Node = tuple[str, str, str, str]
_CELLS_IN = ("source", "power")
_FORBIDS = frozenset({"nets", "supply", "pins", "safety", "heat", "wire", "wiring"})


def check_meter(plan: Plan, sheet: Tally) -> None:
    """Check a plan's meter sequence: order, places, what is joined and apart, its coverage of open wires."""
    meter, built = plan.meter, plan.built
    if meter == NO_METER:
        if built.harness.wires:
            sheet.note("meter", "sequence", "has no readings")
        return
    tests = meter.tests
    _in_order(tests, sheet)
    _held(plan, sheet)
    wires = built.harness.wires
    places = {_node(end) for wire in wires for end in (wire.start, wire.end)}
    places |= {("pin", one.need, pin.name, one.vehicle) for one in built.placements for pin in one.part.pins}
    for test in tests:
        sheet.count("readings")
        for probe in (probe for pair in test.pairs for probe in pair):
            if _place(probe) not in places:
                what = f"touches {probe.owner}.{probe.pin}: no such place"
                sheet.problem("meter", f"reading {test.number}", what)
    inside = list(_inside(built))
    whole = _graph(wires, inside)
    for test in tests:
        if test.stage in ("continuity", "supply to ground", "neighbours"):
            joined = [_joined(whole, pair) for pair in test.pairs]
            if test.stage == "continuity" and not all(joined):
                sheet.problem("meter", f"reading {test.number}", "is of places that no wires join")
            if test.stage != "continuity" and any(joined):
                sheet.problem("meter", f"reading {test.number}", "is of places that copper joins")
    _coverage(plan, inside, sheet)


def _in_order(tests: tuple[MeterTest, ...], sheet: Tally) -> None:
    if [test.number for test in tests] != list(range(1, len(tests) + 1)):
        sheet.problem("meter", "sequence", "is not numbered through")
    stages = [STAGES.index(test.stage) if test.stage not in _CELLS_IN else len(STAGES) for test in tests]
    if stages != sorted(stages):
        sheet.problem("meter", "sequence", "puts cells in, or couples, before all is read without")
    for test in tests:
        where = f"reading {test.number}"
        if not (math.isfinite(test.low) and (test.high is None or test.low < test.high)) or not test.pairs:
            sheet.problem("meter", where, "has no bounds that a reading can keep")
        unit = "Ω" if test.stage not in _CELLS_IN else "V" if test.stage == "source" else test.quantity
        if test.quantity != unit or (test.stage == "power" and unit == "Ω"):
            sheet.problem("meter", where, f"measures {test.quantity} in the stage {test.stage}")


def _held(plan: Plan, sheet: Tally) -> None:
    """Nothing is switched on where a stop forbids it, or where something is missing."""
    stops = any(found.severity == "stop" and found.subject in _FORBIDS for found in plan.findings)
    must = stops or not plan.complete
    powered = any(test.stage in _CELLS_IN for test in plan.meter.tests)
    if must and powered:
        sheet.problem("meter", "sequence", "puts the cells in though a stop stands or something is missing")
    if must != bool(plan.meter.held) and plan.meter.tests:
        sheet.problem("meter", "sequence", "does not say rightly whether anything may be switched on")


def _coverage(plan: Plan, inside: list[tuple[Node, Node]], sheet: Tally) -> None:
    """Take out every wire once; hold the counts against what is said."""
    meter, wires = plan.meter, plan.built.harness.wires
    tests = [test for test in meter.tests if test.stage == "continuity"]
    told = 0
    for wire in wires:
        graph = _graph([one for one in wires if one is not wire], inside)
        noticing = [test for test in tests if not all(_joined(graph, pair) for pair in test.pairs)]
        told += bool(noticing)
        for test in tests:
            if (wire.number in test.wires) != (test in noticing) and noticing:
                what = f"does not say rightly whether wire {wire.number} is in it"
                sheet.problem("meter", f"reading {test.number}", what)
    sheet.count("wires opened", len(wires))
    coverage = meter.coverage
    if (coverage.opens, coverage.opens_told) != (len(wires), told):
        sheet.problem("meter", "coverage", f"{told} of {len(wires)} open wires are told", told, "wires")
    swaps, shorts = (coverage.swaps_told, coverage.swaps), (coverage.shorts_told, coverage.shorts)
    for some, every in (swaps, shorts):
        if not 0 <= some <= every:
            sheet.problem("meter", "coverage", f"tells {some} of {every} faults")
    missing = coverage.opens + coverage.swaps + coverage.shorts
    missing -= coverage.opens_told + coverage.swaps_told + coverage.shorts_told
    if missing != len(coverage.untold):
        sheet.problem("meter", "coverage", "does not name all that is not told", missing, "faults")


def _node(end: WireEnd) -> Node:
    return (end.kind, end.owner, "" if end.kind == "splice" else end.pin, end.vehicle)


def _place(probe: Probe) -> Node:
    return (probe.kind, probe.owner, probe.pin, probe.vehicle)


def _graph(wires: Iterable[Wire], inside: Iterable[tuple[Node, Node]]) -> nx.Graph[Node]:
    graph: nx.Graph[Node] = nx.Graph()
    graph.add_edges_from(inside)
    graph.add_edges_from((_node(wire.start), _node(wire.end)) for wire in wires)
    return graph


def _joined(graph: nx.Graph[Node], pair: tuple[Probe, Probe]) -> bool:
    a, b = _place(pair[0]), _place(pair[1])
    return a in graph and b in graph and nx.has_path(graph, a, b)


def _inside(built: BuiltTrain) -> Iterable[tuple[Node, Node]]:
    """Yield which pins parts join with copper, whatever the state of switches and fuses."""
    for placement in built.placements:
        for names in _groups(placement.part):
            nodes = [("pin", placement.need, name, placement.vehicle) for name in names]
            yield from ((nodes[0], node) for node in nodes[1:])


def _groups(part: Part) -> list[list[str]]:
    groups: dict[str, list[str]] = {}
    charger = part.figure(Charger)
    apart = set(charger.cell_pins) if charger is not None else set()
    board = part.figure(Controller)
    for pin in part.pins:
        if board is not None and board.usb_drop_v and pin.socket and pin.role != "ground":
            continue  # a diode lies between it and the rail
        if pin.joined:
            groups.setdefault(f"joined {pin.joined}", []).append(pin.name)
        if pin.role in ("ground", "5v", "3v3"):
            side = "cells" if pin.name in apart else "train"
            groups.setdefault(f"{pin.role} {side}", []).append(pin.name)
    in_line = any(part.figure(kind) is not None for kind in (Switch, Fuse))
    if not in_line and (not part.electrical or part.family in ("connector", "junction")):
        free = [pin.name for pin in part.pins if pin.role in FEED_ROLES and not pin.joined]
        groups["through"] = free
    return [names for names in groups.values() if len(names) > 1]
