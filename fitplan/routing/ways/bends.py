"""Corners of taut ways rounded to a bend radius: which have room, and how long the rounded way is.

A taut way turns at edges of solid voxels. A wire cannot turn on the spot, so each corner is moved outwards
until an arc of the bend radius, laid into it, passes the edge that the way turned around.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.ways.taut import Tautener, chain_length, turning_angles

_STRAIGHT_DEG = 0.5
"""Corners that turn by less are left as they are."""

_HAIRPIN_DEG = 170.0
"""Corners that turn by more have no room for an arc."""


@dataclass(frozen=True)
class Corner:
    """One corner of a way.

    Attributes
    ----------
    point
        Number of its point on the taut way.
    turn_deg
        By how much the way turns.
    radius_mm
        Radius that it is rounded with: the one wanted, or the largest that the pieces beside it
        have room for.
    has_room
        True when that is the one wanted.
    """

    point: int
    turn_deg: float
    radius_mm: float
    has_room: bool


@dataclass(frozen=True, eq=False)
class RoundedWay:
    """A way with rounded corners.

    Attributes
    ----------
    corners
        Those that turn by more than half a degree.
    points
        (n, 3) float64 in voxel coordinates: the rounded way in short pieces.
    length_mm
        Its length, arcs exact.
    free
        Whether the rounded way is free of solid voxels; None when no map was given.
    """

    corners: tuple[Corner, ...]
    points: NDArray[np.float64]
    length_mm: float
    free: bool | None

    @property
    def has_room(self) -> bool:
        """True when every corner has room and nothing solid is in the way."""
        return all(corner.has_room for corner in self.corners) and self.free is not False


def rounded(
    points: NDArray[np.float64], radius_mm: float, *, pitch: float = 0.8, pull: Tautener | None = None
) -> RoundedWay:
    """Round the corners of a way with a bend radius measured to the wire's middle.

    Parameters
    ----------
    points
        (n, 3) float64 in voxel coordinates (`fitplan.routing.ways.taut.TautWay.points`).
    radius_mm
        The radius wanted, such as some times the outer diameter.
    pull
        The map, to see whether the rounded way is free.

    Raises
    ------
    ValueError
        The radius is negative.
    """
    if radius_mm < 0:
        raise ValueError(f"a bend radius is at least 0, not {radius_mm}")
    chain = np.asarray(points, dtype=np.float64)
    turns = np.radians(turning_angles(chain))
    turning = np.flatnonzero(turns > math.radians(_STRAIGHT_DEG)) + 1
    radii = np.zeros(len(chain))
    radii[turning] = np.minimum(radius_mm, _largest_radii(chain)[turning] * pitch)
    moved = _moved_out(chain, radii / pitch, turning)
    # legs turn a little when corners move: what fits is asked once more
    radii[turning] = np.minimum(radii[turning], _largest_radii(moved)[turning] * pitch)
    pieces, saved = _with_arcs(moved, radii / pitch, turning)
    corners = tuple(
        Corner(int(i), math.degrees(turns[i - 1]), float(radii[i]), bool(radii[i] >= radius_mm * (1 - 1e-9)))
        for i in turning
    )
    length = (chain_length(moved) - saved) * pitch
    return RoundedWay(corners, pieces, length, None if pull is None else pull.is_free(pieces))


def _largest_radii(chain: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return for each point the largest radius of an arc there; equal arcs share the piece between them."""
    half = np.zeros(len(chain))
    turns = turning_angles(chain)
    half[1:-1] = np.tan(np.radians(np.minimum(turns, _HAIRPIN_DEG)) / 2)
    lengths = np.linalg.norm(np.diff(chain, axis=0), axis=1)
    shared = half[:-1] + half[1:]
    per_piece = np.where(shared > 0, lengths / np.where(shared > 0, shared, 1.0), math.inf)
    largest = np.full(len(chain), math.inf)
    largest[:-1] = per_piece
    largest[1:] = np.minimum(largest[1:], per_piece)
    largest[1:-1][turns > _HAIRPIN_DEG] = 0.0
    return largest


def _moved_out(
    chain: NDArray[np.float64], radii: NDArray[np.float64], turning: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Return the corners moved outwards, so that the arcs in them pass where the corners were."""
    moved = chain.copy()
    for _ in range(40):
        pieces = np.diff(moved, axis=0)
        pieces = pieces / np.maximum(np.linalg.norm(pieces, axis=1, keepdims=True), 1e-12)
        turns = np.radians(turning_angles(moved))
        fresh = chain.copy()
        for i in turning:
            outwards = pieces[i - 1] - pieces[i]
            norm = float(np.linalg.norm(outwards))
            if norm > 1e-9:
                away = radii[i] * (1 / math.cos(turns[i - 1] / 2) - 1)
                # an arc of a near hairpin would stand off far: no further than its own radius
                fresh[i] = chain[i] + outwards / norm * max(min(away, radii[i]), 0.0)
        if np.abs(fresh - moved).max() < 1e-9:
            break
        moved = fresh
    return moved


def _with_arcs(
    chain: NDArray[np.float64], radii: NDArray[np.float64], turning: NDArray[np.intp]
) -> tuple[NDArray[np.float64], float]:
    """Return the chain with arcs in short pieces, and how much shorter the arcs are than the corners."""
    turns = np.zeros(len(chain))
    turns[1:-1] = np.radians(turning_angles(chain))
    out = [chain[0]]
    saved = 0.0
    corners = set(turning.tolist())
    for i in range(1, len(chain) - 1):
        turn, radius = float(turns[i]), float(radii[i])
        if i not in corners or radius == 0.0:
            out.append(chain[i])
            continue
        before = (chain[i] - chain[i - 1]) / np.linalg.norm(chain[i] - chain[i - 1])
        after = (chain[i + 1] - chain[i]) / np.linalg.norm(chain[i + 1] - chain[i])
        cut = radius * math.tan(turn / 2)
        saved += 2 * cut - radius * turn
        start = chain[i] - cut * before
        inwards = after - before * float(before @ after)
        inwards = inwards / np.linalg.norm(inwards)
        # tangents rather than chords, so that the pieces lie outside the arc and not across the edge
        parts = 2 * max(int(math.degrees(turn) / 12), 1)
        wide = radius / math.cos(turn / parts / 2)
        out.append(start)
        for angle in (np.arange(parts) + 0.5) * (turn / parts):
            out.append(start + wide * math.sin(angle) * before + (radius - wide * math.cos(angle)) * inwards)
        out.append(start + radius * (math.sin(turn) * before + (1 - math.cos(turn)) * inwards))
    out.append(chain[-1])
    return np.array(out), saved
