"""A placed and wired train: what checks read."""

from __future__ import annotations

from dataclasses import dataclass

from fitplan.model.needed import Need
from fitplan.model.part import Pin
from fitplan.model.pins_used import PinUse, Resistor
from fitplan.model.placed import Fastening, Placement, Rebuild
from fitplan.model.proposed import LeastOpening
from fitplan.model.train import Train
from fitplan.model.vehicle import built_in_name
from fitplan.model.ways_in import Exchanged
from fitplan.model.wired import Harness, Unreached


@dataclass(frozen=True)
class BuiltTrain:
    """A placed and wired train: what checks read."""

    train: Train
    placements: tuple[Placement, ...]
    harness: Harness
    pin_map: tuple[PinUse, ...]
    rebuilds: tuple[Rebuild, ...] = ()
    exchanged: tuple[Exchanged, ...] = ()
    fastenings: tuple[Fastening, ...] = ()
    resistors: tuple[Resistor, ...] = ()
    """What is soldered between controller pins and what they feed."""
    opening: LeastOpening | None = None
    """Where wires find no way through a body: the least that must be opened."""

    def placement(self, need: str) -> Placement | None:
        """Return where a need's part lies, or None when it was not placed."""
        return next((entry for entry in self.placements if entry.need == need), None)

    def pins_of(self, owner: str) -> tuple[Pin, ...]:
        """Return the pins of a need's part or of ``vehicle/built-in``; none where it has no place."""
        there = self.train.built_in(owner)
        if there is not None:
            return there.pins
        placement = self.placement(owner)
        return placement.part.pins if placement is not None else ()

    def vehicle_of(self, owner: str) -> str | None:
        """Return the vehicle that a need's part or ``vehicle/built-in`` is in; None where it has no place."""
        named = built_in_name(owner)
        if named is not None:
            return named[0]
        placement = self.placement(owner)
        return placement.vehicle if placement is not None else None

    @property
    def unreached(self) -> tuple[Unreached, ...]:
        """Pins that no wire reaches though their part has a place, and nets that are not laid."""
        homeless = {need.name for need in self.train.needs} - {entry.need for entry in self.placements}
        return tuple(entry for entry in self.harness.unreached if entry.owner not in homeless)

    def taken_out(self, vehicle: str) -> frozenset[str]:
        """Return the names of the bricks that a rebuild takes out of a vehicle."""
        return frozenset(name for one in self.rebuilds if one.vehicle == vehicle for name in one.remove)

    def need_of(self, placement: Placement) -> Need:
        """Return the need that a placement serves."""
        return self.train.need(placement.need)
