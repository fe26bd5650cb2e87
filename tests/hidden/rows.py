"""Parts in a row beside a strip that is kept clear for wires: a plan is known before there is a body."""

from __future__ import annotations

import random
from dataclasses import dataclass

from fitplan.model.part import Part
from fitplan.model.solids import Box, Direction, Place, Pose, Vec, bounds_of

LEADS = 5.0
"""Room in mm before pins that look along the row, and over pins that look up."""
ORIGIN = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Lying:
    """A part in a pose: the box of its envelope with what it keeps clear, and of the envelope alone."""

    part: Part
    pose: Pose
    room: Box
    solid: Box
    before: float
    """Room that its pins want behind it and in front of it along the row."""
    after: float


@dataclass(frozen=True)
class Piece:
    """One thing in a row: a part, or something of the body. ``long``, ``wide``, ``high`` in mm."""

    name: str
    long: float
    wide: float
    high: float
    lying: Lying | None = None
    x: float = 0.0
    y: float = 0.0
    z: float = 0.0


def lying(
    rng: random.Random, part: Part, most_wide: float, strip_side: Direction, most_high: float
) -> Lying | None:
    """Return a pose in which a part may stand in a row, or None: pins look up, along it or to the strip."""
    found = []
    for pose in part.mount.allowed_poses():
        place = Place(pose, ORIGIN)
        solid = bounds_of(tuple(place.move_solid(one) for one in part.envelope))
        kept = tuple(place.move_solid(c.solid) for c in part.clearances if c.needed == "always")
        room = bounds_of((solid, *kept)) if kept else solid
        if room.size[1] > most_wide or room.size[2] > most_high:
            continue
        if part.mount.needs_support and room.low[2] < solid.low[2] - 1e-6:
            continue
        if any(
            pose.turn_direction(access.side) != "+z"
            for access in part.access
            if access.kind in ("switch", "cells")
        ):
            continue
        exits = {pose.turn_direction(pin.exit) for pin in part.pins}
        allowed = {"+z", "+x", "-x", strip_side} | (set() if part.mount.needs_support else {"-z"})
        if exits - allowed:
            continue
        before, after = (LEADS if way in exits else 0.0 for way in ("-x", "+x"))
        found.append(Lying(part, pose, room, solid, before, after))
    if not found:
        return None
    # Makers lay things flat more often than on edge.
    found.sort(key=lambda one: (one.room.size[2], one.pose.name))
    return found[min(int(rng.expovariate(1.5) * len(found) / 2), len(found) - 1)]


def place_of(piece: Piece) -> Place:
    """Return where the part of a piece lies, its room's lower corner at the piece's (to tenths of a mm)."""
    assert piece.lying is not None
    room = piece.lying.room
    corner = (piece.x + piece.lying.before, piece.y, piece.z)
    offset: Vec = tuple(round(c - low, 1) for c, low in zip(corner, room.low, strict=True))  # type: ignore[assignment]
    return Place(piece.lying.pose, offset)


def piece_of(name: str, one: Lying) -> Piece:
    """Return the piece of a row that a lying part takes, lengths rounded up to tenths."""
    x, y, z = (round(size + 0.0499, 1) for size in one.room.size)
    return Piece(name, x + one.before + one.after, y, z, one)
