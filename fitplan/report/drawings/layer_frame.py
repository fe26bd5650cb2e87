"""Sizes of layer drawings, and the way from a vehicle's frame onto the sheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeAlias

from fitplan.model.placed import Placement
from fitplan.model.solids import Box
from fitplan.report.drawings.drawing import Point
from fitplan.report.drawings.slices import Section

HEAD = 7.6
SIDE = 11.0
RULER = 7.0
ROW = 5.2
BODY = 3.55
"""Size of text that is read, in mm: 10 pt."""
LINE = 4.5
TOUCH = 0.05
Flat: TypeAlias = Callable[[Sequence[float]], Point]
"""From the vehicle's frame onto the sheet."""
Box4: TypeAlias = tuple[float, float, float, float]


def is_in_layer(placement: Placement, section: Section) -> bool:
    """Whether a part reaches into a layer by more than a touch."""
    return any(meets(solid.bounds, section) for solid in placement.solids)


def meets(box: Box, section: Section) -> bool:
    """Whether a box reaches into a layer by more than a touch."""
    return box.low[2] < section.high - TOUCH and box.high[2] > section.low + TOUCH
