"""The studs that stand proud on studded floors and decks, found once more from the drawing order.

The upright line through the middle of each stud cell is followed from above. Wherever it comes out of free
space onto a fixed or removable solid that is not smooth, at the level face of a box, there stands a stud,
but not in holes: between walls that leave hardly its own width.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from fitplan.model.solids import Box
from fitplan.model.vehicle import Vehicle
from fitplan.units import STUD, STUD_DIAMETER, STUD_HEIGHT
from fitplan.verify.body import BodyPiece
from fitplan.verify.overlap import profile_shadow
from fitplan.verify.shapes import PLANE, Disc, Interval, Prism, Shape

_THIN = 1e-6
_HALF_A_HOLE = 2.45
"""So close to the middle of a stud, on both sides, only the walls of a hole are (mm)."""


def floor_studs(vehicle: Vehicle, pieces: Sequence[BodyPiece]) -> tuple[BodyPiece, ...]:
    """Return the studs of a vehicle's floor, given its body in drawing order; none on a smooth floor."""
    if vehicle.floor_finish != "studded":
        return ()
    found: list[BodyPiece] = []
    bounds = [(piece, piece.shape.bounds) for piece in pieces]
    for i in range(vehicle.studs_long):
        x = (i + 0.5) * STUD
        along = [one for one in bounds if _is_near(one[1], 0, x)]
        for j in range(vehicle.studs_wide):
            y = (j + 0.5) * STUD
            near = [piece for piece, box in along if _is_near(box, 1, y)]
            for level, below in _feet(near, x, y):
                if any(_between_walls(near, x, y, level, axis) for axis in (0, 1)):
                    continue
                stud = Prism(2, Disc((x, y), STUD_DIAMETER / 2), level, level + STUD_HEIGHT)
                name = "a floor stud" if below.state == "fixed" else f"a stud of {below.name}"
                found.append(BodyPiece(stud, below.state, name))
    return tuple(found)


def _is_near(box: Box, axis: int, middle: float) -> bool:
    """Tell whether a piece may bear a stud with its middle there, or stand beside it."""
    return box.low[axis] < middle + _HALF_A_HOLE and middle - _HALF_A_HOLE < box.high[axis]


def _feet(pieces: Sequence[BodyPiece], x: float, y: float) -> list[tuple[float, BodyPiece]]:
    """Return the levels at which studs stand in one cell, each with the piece that bears them."""
    spans = [(piece, span) for piece in pieces if (span := upright_span(piece.shape, x, y)) is not None]
    levels = sorted({round(level, 6) for _, span in spans for level in span}, reverse=True)
    flat = {round(level, 6) for piece, span in spans if isinstance(piece.shape, Box) for level in span}
    found: list[tuple[float, BodyPiece]] = []
    above: BodyPiece | None = None
    for high, low in pairwise(levels):
        middle = (low + high) / 2
        here = next((piece for piece, span in reversed(spans) if span[0] < middle < span[1]), None)
        bears = here is not None and here.state in ("fixed", "removable") and not here.smooth
        if here is not None and bears and above is not None and above.state == "free" and high in flat:
            found.append((high, here))
        above = here
    return found


def _between_walls(pieces: Sequence[BodyPiece], x: float, y: float, level: float, axis: int) -> bool:
    """Tell whether bricks stand half a stud's width from the middle of a stud, on both sides of it."""
    high = level + STUD_HEIGHT / 2
    for side in (-_HALF_A_HOLE, _HALF_A_HOLE):
        at = (x + side, y) if axis == 0 else (x, y + side)
        spans = ((piece, upright_span(piece.shape, *at)) for piece in pieces)
        there = [p.state for p, span in spans if span is not None and span[0] < high < span[1]]
        if not there or there[-1] not in ("fixed", "removable"):
            return False
    return True


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
