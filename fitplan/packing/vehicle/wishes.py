"""What wires would like of the places in one vehicle: frozen values in mm, from whoever knows the wires."""

from __future__ import annotations

from dataclasses import dataclass

from fitplan.model.solids import Box, Direction, Vec
from fitplan.packing.vehicle.preferred import Liked


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
    """A box (mm) that parts had better leave to wires; ``weight``: mm of wire that it is worth as a whole."""

    box: Box
    weight: float


@dataclass(frozen=True)
class Wishes:
    """What wires would like of the places in one vehicle.

    ``dear`` are needs whose pins were walled in before: the room before them counts thrice.
    """

    nets: tuple[WiredNet, ...]
    clear: tuple[KeepClear, ...] = ()
    dear: frozenset[str] = frozenset()
    liked: tuple[Liked, ...] = ()
