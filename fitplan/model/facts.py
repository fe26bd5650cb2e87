"""Facts that several rooms ask for, each in one place."""

from __future__ import annotations

from fitplan.model.electrical import CellPack
from fitplan.model.part import Part


def mass_of(part: Part) -> float:
    """Return the mass of a part as it is built in, with its cells, in g."""
    pack = part.figure(CellPack)
    return part.mass_g + (pack.cells * pack.cell_mass_g if pack is not None else 0.0)
