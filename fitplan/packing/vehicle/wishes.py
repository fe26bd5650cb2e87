"""What wires would like of the places in one vehicle: frozen values in mm, from whoever knows the wires."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fitplan.model.solids import Box, Direction, Vec, axis_of, is_forward, vec
from fitplan.packing.vehicle.preferred import Liked

EXIT_MM, ASIDE_MM = 6.0, 1.0
"""Room that is wished for before pins: so far along their exit, and so far to each side."""
BEFORE_PINS = 90.0
"""What a box of this room costs when all of it is taken, in mm of wire."""
DEAR = 3.0
"""So many times as much that costs where pins were walled in before."""


def before_pins(points: Iterable[Vec], out: Direction, far: float = EXIT_MM) -> Box:
    """Return the room (mm) that is wished for before pins which all look the same way, so ``far`` out."""
    rows, axis = list(zip(*points, strict=True)), axis_of(out)
    low, high = [min(row) - ASIDE_MM for row in rows], [max(row) + ASIDE_MM for row in rows]
    low[axis], high[axis] = min(rows[axis]), max(rows[axis])
    if is_forward(out):
        high[axis] += far
    else:
        low[axis] -= far
    return Box(vec(low), vec(high))


@dataclass(frozen=True)
class WiredPin:
    """A pin that is wired: the need of its part, and point (mm) and exit in the part's own frame."""

    need: str
    at: Vec
    exit: Direction


@dataclass(frozen=True)
class WiredNet:
    """What one net joins in a vehicle: pins of parts, and points (mm) that stay where they are."""

    terminals: tuple[WiredPin, ...]
    points: tuple[Vec, ...] = ()


@dataclass(frozen=True)
class KeepClear:
    """A box (mm) that parts had better leave to wires; ``weight``: mm of wire that it is worth as a whole.

    ``before`` names what is built in and has pins there; empty for room that is for anyone's wires. ``least``
    is what of it wires cannot do without.
    """

    box: Box
    weight: float
    before: str = ""
    least: Box | None = None


@dataclass(frozen=True)
class Wishes:
    """What wires would like of the places in one vehicle.

    ``dear`` are needs, and what is built in, whose pins were walled in before: the room before these counts
    `DEAR` times. ``kept`` are boxes (mm) that all parts must leave to wires.
    """

    nets: tuple[WiredNet, ...]
    clear: tuple[KeepClear, ...] = ()
    dear: frozenset[str] = frozenset()
    liked: tuple[Liked, ...] = ()
    kept: tuple[Box, ...] = ()
