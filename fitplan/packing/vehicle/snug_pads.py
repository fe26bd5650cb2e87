"""Pads and printed blocks as thick as the room that they fill: up to the part itself, not to its cells.

Places are looked for among boxes in whole tenths that hold the part. What is round lies above them beside its
lowest line, and what is drawn to hundredths everywhere: there foam is as thick as the gap.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fitplan.model.placed import Piece, Placement, Shelf
from fitplan.model.solids import AXES, Box, Cylinder, Solid

_BESIDE_MM = 0.3
"""So far off its boxes a part lies at the most: rounding, and how a strip of what is round bends up."""
_LEAST_MM = 1e-6


def snug(shelf: Shelf, placement: Placement) -> Shelf:
    """Return what carries a part with its pads and blocks grown to where the part is.

    Parameters
    ----------
    placement
        The part where it lies; what is said there of what carries it is not looked at.
    """
    if shelf.kind not in ("pad", "block", "wall"):
        return shelf
    solids = [placement.place.move_solid(solid) for solid in placement.part.envelope]
    grown = _to_a_side if shelf.kind == "wall" else _up_to
    return replace(shelf, pieces=tuple(grown(piece, solids) for piece in shelf.pieces))


def _up_to(piece: Piece, solids: Sequence[Solid]) -> Piece:
    """Return a piece as high as the lowest point of what is over it."""
    box = piece.box
    found = [low for solid in solids if (low := _lowest_over(solid, box)) is not None]
    gaps = [low - box.high[2] for low in found if low > box.high[2] - _LEAST_MM]
    if not gaps or not _LEAST_MM < min(gaps) < _BESIDE_MM:
        return piece
    return replace(piece, box=box.with_span(2, box.low[2], box.high[2] + min(gaps)))


def _lowest_over(solid: Solid, box: Box) -> float | None:
    """Return the height (mm) of the lowest point of a solid over a box; None where it is not over it."""
    bounds = solid.bounds
    if any(bounds.low[i] >= box.high[i] or box.low[i] >= bounds.high[i] for i in (0, 1)):
        return None
    if isinstance(solid, Cylinder) and solid.axis != "z":
        across = 1 - AXES.index(solid.axis)
        middle = solid.start[across]
        off = max(box.low[across] - middle, middle - box.high[across], 0.0)
        return float(solid.start[2] - (solid.radius**2 - off**2) ** 0.5)
    return bounds.low[2]


def _to_a_side(piece: Piece, solids: Sequence[Solid]) -> Piece:
    """Return a piece beside a part as thick as the gap to its nearest side."""
    box = piece.box
    for bounds in (solid.bounds for solid in solids):
        for axis in (0, 1):
            if any(bounds.low[i] >= box.high[i] or box.low[i] >= bounds.high[i] for i in {0, 1, 2} - {axis}):
                continue
            low, high = box.low[axis], box.high[axis]
            if _LEAST_MM < bounds.low[axis] - high < _BESIDE_MM:
                return replace(piece, box=box.with_span(axis, low, bounds.low[axis]))
            if _LEAST_MM < low - bounds.high[axis] < _BESIDE_MM:
                return replace(piece, box=box.with_span(axis, bounds.high[axis], high))
    return piece
