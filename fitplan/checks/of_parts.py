"""What stops a train by its parts and nets alone, wherever they lie: asked before anything has a place.

The same rules as in the checks of a whole plan, read with the wires that the train file asks for,
without their lengths.
"""

from __future__ import annotations

from collections.abc import Iterator

from fitplan.checks.fuses import fuse_limits
from fitplan.checks.in_line import in_line_limits
from fitplan.checks.pins import pin_limits
from fitplan.checks.running_time import running_time
from fitplan.checks.safety import cell_limits
from fitplan.checks.settings import DEFAULTS, CheckSettings
from fitplan.checks.supply_limits import tree_limits
from fitplan.circuit.discharge import discharge
from fitplan.circuit.net_ends import parts_of
from fitplan.model.electrical import CellPack
from fitplan.model.found import Finding
from fitplan.model.train import Train
from fitplan.model.wired import Harness
from fitplan.pins.train_circuit import TrainCircuit


def stops_of_parts(
    train: Train, circuit: TrainCircuit, settings: CheckSettings = DEFAULTS
) -> tuple[Finding, ...]:
    """Return the stops that the parts of a circuit earn by their own figures.

    Sources and how long they last, regulators, drivers, switches, fuses, pins, what guards and charges cells.
    """
    return tuple(found for found in _limits(train, circuit, settings) if found.severity == "stop")


def _limits(train: Train, circuit: TrainCircuit, settings: CheckSettings) -> Iterator[Finding]:
    chosen = parts_of(train, circuit.chosen)
    yield from pin_limits(train, chosen, circuit, settings.pins)
    yield from in_line_limits(train, chosen, circuit.currents, circuit.supply)
    for tree in circuit.supply.trees:
        fed = bool(tree.root.everything())
        if isinstance(tree.source, CellPack):
            yield from cell_limits(circuit.nodes, chosen, tree, tree.source)
            if fed:
                yield from fuse_limits(train, chosen, tree, Harness(), settings.safety.trip_factor)
        if fed:
            yield from tree_limits(tree, settings.supply)
        if fed and not any(tree.owner in unlike for unlike in circuit.supply.unlike):
            yield running_time(tree, train.running.hours, {}, discharge(tree, course=False))
