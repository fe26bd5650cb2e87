"""What is known of a harness beside its wires: frozen figures, for checks to word."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor

from fitplan.budget import UNHURRIED, Budget
from fitplan.model.built import BuiltTrain
from fitplan.model.wired import Harness
from fitplan.model.wiring_facts import PortLoad, Trunk, WiringFacts
from fitplan.routing.harness.styles import compare
from fitplan.routing.map.bundles import bundle_diameter
from fitplan.routing.map.port_room import least_share
from fitplan.routing.map.splice_sites import in_sight
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.layout import Layout
from fitplan.routing.negotiation.net_joining import StyleQuestion
from fitplan.routing.ways.bend_room import bends_of

SHARES = tuple(number / 20 for number in range(4, 21) if number != 19)
"""Shares of a port's sides that its wires are laid through; a search looks at the last two."""


def wiring_facts(built: BuiltTrain, layout: Layout, budget: Budget = UNHURRIED) -> WiringFacts:
    """Return what is known of the harness of a wired train.

    Parameters
    ----------
    built
        The train with its harness.
    layout
        What the harness was laid out in (`fitplan.routing.harness.harness.WiredTrain`).
    budget
        When its clock, if it has one, says so, no further net is laid in other styles.
    """
    harness = built.harness
    trunks = [] if budget.over("styles of wiring") else _trunks(layout.questions)
    return WiringFacts(
        bends=tuple(bends_of(wire, leg) for wire in harness.wires for leg in wire.legs if leg.points[1:]),
        ports=port_loads(built, harness, layout.maps),
        shortages=tuple(layout.shortages),
        hidden_splices=hidden_splices(harness, layout),
        styles=compare(built, harness, layout, budget),
        trunks=tuple(trunks),
        alike=harness.facts.alike,
        unproved=tuple(layout.unproved),
    )


def _trunks(questions: Sequence[StyleQuestion]) -> list[Trunk]:
    """Have all styles worked out, vehicles side by side but for equal ones; return what branches cost."""
    by_vehicle: dict[str, list[StyleQuestion]] = {}
    for question in questions:
        by_vehicle.setdefault(question.joiner.asked_in, []).append(question)

    def asked(mine: Sequence[StyleQuestion]) -> list[Trunk]:
        return [trunk for question in mine if (trunk := question.ask()) is not None]

    # Searches run outside the interpreter's lock.
    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        return [trunk for found in pool.map(asked, by_vehicle.values()) for trunk in found]


def port_loads(built: BuiltTrain, harness: Harness, maps: Mapping[str, VehicleMap]) -> tuple[PortLoad, ...]:
    """Return each port that wires pass, with all of them and whether they go through together.

    Parameters
    ----------
    maps
        What the harness was laid in, by vehicle.
    """
    wires = {wire.number: wire for wire in harness.wires}
    # Not by stretches: a wire that only reaches into a hole on its way inside does not go through it.
    passing: dict[tuple[str, str], set[int]] = {}
    for wire in harness.wires:
        for leg in wire.legs:
            for name in filter(None, (leg.enters, leg.leaves)):
                passing.setdefault((leg.vehicle, name), set()).add(wire.number)
    found = []
    for (vehicle, name), numbers in passing.items():
        port = next(one for one in built.train.vehicle(vehicle).vehicle.ports if one.name == name)
        diameters = [wires[number].outer_mm for number in sorted(numbers)]
        through = maps[vehicle].passage(port, diameters)
        clear = maps[vehicle].clear_for(port, diameters)
        share, (parts, _) = max(((least_share(*one, SHARES), one) for one in clear), key=lambda pair: pair[0])
        width, height = parts[0] if parts else (0.0, 0.0)
        found.append(
            PortLoad(
                vehicle=vehicle,
                port=name,
                width_mm=round(width, 3),
                height_mm=round(height, 3),
                wires=tuple(sorted(numbers)),
                bundle_mm=round(bundle_diameter(diameters), 3),
                through=through.verdict,
                proof=through.proof,
                share=share,
            )
        )
    return tuple(found)


def hidden_splices(harness: Harness, layout: Layout) -> tuple[str, ...]:
    """Return the names of splices that have no opening straight ahead."""
    seen = {name: in_sight(layout.maps[name]) for name in {splice.vehicle for splice in harness.splices}}
    found = []
    for splice in harness.splices:
        at = layout.true_point(splice.vehicle, splice.at)
        if not seen[splice.vehicle][layout.maps[splice.vehicle].frame.index_of(at)]:
            found.append(splice.name)
    return tuple(found)
