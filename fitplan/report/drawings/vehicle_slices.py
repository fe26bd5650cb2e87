"""A vehicle of a train cut up for drawing: cells, layers, the parts that lie in it."""

from __future__ import annotations

from dataclasses import dataclass

from fitplan.model.placed import Placement
from fitplan.model.train import TrainVehicle
from fitplan.report.drawings.slices import CellGrid, Section
from fitplan.report.drawings.wire_ways import Drawn


@dataclass(frozen=True)
class VehicleSlices:
    """A vehicle cut up for drawing: its cells, its layers, and the parts that lie in it."""

    entry: TrainVehicle
    cells: CellGrid
    sections: tuple[Section, ...]
    placements: tuple[tuple[int, Placement], ...]
    """With their numbers in the parts list, from 1."""
    aside: dict[int, list[Drawn]]
    """The legs of all wires, by their numbers, drawn aside and at their true height."""
