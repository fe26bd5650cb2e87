"""The studs that stand proud on a studded floor, found once more from the drawing order.

The upright line through the middle of each stud cell is followed from below. Where it first passes from a
fixed or removable solid into free space, at the level face of a box, there stands a stud.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from fitplan.model.solids import Box
from fitplan.model.vehicle import Vehicle
from fitplan.units import STUD, STUD_DIAMETER, STUD_HEIGHT
from fitplan.verify.body import Piece
from fitplan.verify.overlap import profile_shadow
from fitplan.verify.shapes import PLANE, Disc, Interval, Prism, Shape

_THIN = 1e-6


def floor_studs(vehicle: Vehicle, pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """Return the studs of a vehicle's floor, given its body in drawing order; none on a smooth floor."""
    if vehicle.floor_finish != "studded":
        return ()
    found: list[Piece] = []
    for i in range(vehicle.studs_long):
        for j in range(vehicle.studs_wide):
            x, y = (i + 0.5) * STUD, (j + 0.5) * STUD
            foot = _foot(pieces, x, y)
            if foot is not None:
                level, below = foot
                stud = Prism(2, Disc((x, y), STUD_DIAMETER / 2), level, level + STUD_HEIGHT)
                name = "a floor stud" if below.state == "fixed" else f"a stud of {below.name}"
                found.append(Piece(stud, below.state, name))
    return tuple(found)


def _foot(pieces: Sequence[Piece], x: float, y: float) -> tuple[float, Piece] | None:
    spans = [(piece, span) for piece in pieces if (span := upright_span(piece.shape, x, y)) is not None]
    levels = sorted({round(level, 6) for _, span in spans for level in span})
    below: Piece | None = None
    for low, high in pairwise(levels):
        middle = (low + high) / 2
        here = next((piece for piece, span in reversed(spans) if span[0] < middle < span[1]), None)
        if here is not None and here.state == "free" and below is not None:
            level_face = any(
                isinstance(piece.shape, Box) and min(abs(level - low) for level in span) < 1e-6
                for piece, span in spans
            )
            return (low, below) if level_face else None
        below = here if here is not None and here.state in ("fixed", "removable") else None
    return None


def upright_span(shape: Shape, x: float, y: float) -> Interval | None:
    """Return between which heights an upright line lies inside a shape; None when it passes by."""
    bounds = shape.bounds
    if not (bounds.low[0] < x < bounds.high[0] and bounds.low[1] < y < bounds.high[1]):
        return None
    if isinstance(shape, Box):
        return (bounds.low[2], bounds.high[2])
    if shape.axis == 2:
        shadow = profile_shadow(shape.profile, 1, (x - _THIN, x + _THIN))
        return (shape.low, shape.high) if shadow and shadow[0] < y < shadow[1] else None
    across = y if shape.axis == 0 else x
    return profile_shadow(shape.profile, PLANE[shape.axis].index(2), (across - _THIN, across + _THIN))
