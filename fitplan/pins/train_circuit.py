"""A train's nets as one circuit, with the parts chosen: worked out once and handed from stage to stage."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fitplan.circuit.currents import NetCurrent, net_currents
from fitplan.circuit.measured_draw import measured_supply
from fitplan.circuit.nodes import Circuit, read_circuit
from fitplan.circuit.resistors import resistors_of
from fitplan.circuit.supply import build_supply
from fitplan.circuit.supply_tree import Supply
from fitplan.model.part import Part
from fitplan.model.pins_used import Resistor
from fitplan.model.train import Train
from fitplan.pins.matching import PinMatch, match_pins


@dataclass(frozen=True)
class TrainCircuit:
    """What follows from the nets and the parts alone, wherever those lie.

    Attributes
    ----------
    chosen
        The part of each need that has one.
    supply
        The supply trees.
    currents
        The current of every net, by name.
    pins
        Which pin of a controller serves which net.
    nodes
        The nets as nodes, with who gives volts to which.
    resistors
        Those in series with what controller pins feed.
    """

    chosen: Mapping[str, Part]
    supply: Supply
    currents: Mapping[str, NetCurrent]
    pins: PinMatch
    nodes: Circuit
    resistors: tuple[Resistor, ...]

    @classmethod
    def of(cls, train: Train, chosen: Mapping[str, Part]) -> TrainCircuit:
        """Work it out for a train."""
        supply = measured_supply(train, chosen, build_supply(train, chosen))
        currents = net_currents(train, chosen, supply)
        pins = match_pins(train, chosen)
        resistors = resistors_of(train, chosen)
        return cls(dict(chosen), supply, currents, pins, read_circuit(train, chosen), resistors)
