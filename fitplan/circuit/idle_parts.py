"""Parts that are wired and do nothing: regulators with an open end, chargers without cells, idle drivers."""

from __future__ import annotations

from collections.abc import Iterator

from fitplan.circuit.fault_kinds import Fault
from fitplan.circuit.nodes import Circuit
from fitplan.circuit.supply_tree import Supply
from fitplan.model.electrical import CellPack, Charger, Controller, MotorDriver, Regulator
from fitplan.model.part import FEED_ROLES, Part


def idle_parts(circuit: Circuit, supply: Supply) -> Iterator[Fault]:
    """Yield what is in some net and, as its nets are written, passes nothing on.

    What is fed at its output and what is in no net at all are told elsewhere (`faults.net_faults`).
    """
    below = {
        link.owner: link.below.everything()
        for tree in supply.trees
        for rail in tree.root.walk()
        for link in rail.links
        if link.kind == "regulator"
    }
    for owner, part in circuit.parts.items():
        nets = {net_pin.pin.name: net_pin.net.name for net_pin, _ in circuit.at(owner) if net_pin.pin}
        if not nets:
            continue
        charger = part.figure(Charger)
        if charger is not None:
            if not _has_cells(circuit, owner):
                yield Fault("charger without cells", (owner,), pins=_labels(owner, _cell_plus(part, charger)))
        elif part.figure(Regulator) is not None and part.figure(Controller) is None:
            inputs = [pin.name for pin in part.pins if pin.role in ("supply", "raw")]
            outputs = [pin.name for pin in part.pins if pin.role == "plus"]
            behind = {node.nets: node for _, node in circuit.at(owner, "plus")}
            if any(giver.owner != owner for node in behind.values() for giver in node.givers):
                continue  # what else gives volts to its output is told
            if not any(name in nets for name in inputs):
                yield Fault("regulator input open", (owner,), pins=_labels(owner, inputs))
            elif not any(name in nets for name in outputs) or below.get(owner) == ():
                joined = tuple(dict.fromkeys(nets[name] for name in outputs if name in nets))
                yield Fault("regulator feeds nobody", (owner,), joined, _labels(owner, outputs))
        elif part.figure(MotorDriver) is not None:
            outputs = [pin.name for pin in part.pins if pin.role == "plus"]
            if not any(name in nets for name in outputs):
                yield Fault("driver without motor", (owner,), pins=_labels(owner, outputs[:2]))
            inputs = [pin.name for pin in part.pins if pin.wants and not pin.optional]
            if inputs and not any(name in nets for name in inputs):
                yield Fault("driver without commands", (owner,), pins=_labels(owner, inputs))


def _has_cells(circuit: Circuit, owner: str) -> bool:
    """Return whether the plus of some cells is one piece of copper with a pin of a charger."""
    return any(
        net_pin.part is not None and net_pin.part.figure(CellPack) is not None
        for _, node in circuit.at(owner, *FEED_ROLES)
        if not node.is_ground
        for net_pin in node.net_pins
    )


def _cell_plus(part: Part, charger: Charger) -> list[str]:
    """Return the pins of a charger that go to the plus of the cells."""
    plus = [pin.name for pin in part.pins if pin.role in ("supply", "raw") and not pin.socket]
    return [name for name in plus if name in charger.cell_pins] or plus


def _labels(owner: str, names: list[str]) -> tuple[str, ...]:
    return tuple(f"{owner}.{name}" for name in names)
