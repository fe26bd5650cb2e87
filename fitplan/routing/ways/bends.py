"""Corners of taut ways rounded to a bend radius: how much of it they have room for.

A taut way turns at edges of solid voxels. A wire cannot turn on the spot, so each corner is moved outwards
until an arc of the bend radius, laid into it, passes the edge that the way turned around.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.ways.taut import turning_angles

_STRAIGHT_DEG = 0.5
"""Corners that turn by less are left as they are."""

_HAIRPIN_DEG = 170.0
"""Corners that turn by more have no room for an arc."""


def room_at_corners(chain: NDArray[np.float64], radius: float) -> dict[int, float]:
    """Return the bend radius that each corner of a way has room for, at most the one wanted.

    Parameters
    ----------
    chain
        (n, 3) float64, in the unit of the radius.
    radius
        The one wanted, to the wire's middle, such as some times the outer diameter.

    Returns
    -------
    dict
        By the number of the point, of corners that turn by more than half a degree.
    """
    turning = np.flatnonzero(turning_angles(chain) > _STRAIGHT_DEG) + 1
    radii = np.zeros(len(chain))
    radii[turning] = np.minimum(radius, _largest_radii(chain)[turning])
    # Pieces turn a little when corners move: what fits is asked once more.
    moved = _moved_out(chain, radii, turning)
    fits = np.minimum(radii, _largest_radii(moved))[turning]
    return dict(zip(turning.tolist(), fits.tolist(), strict=True))


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


def _lengths(vectors: NDArray[np.float64]) -> NDArray[np.float64]:
    found: NDArray[np.float64] = np.sqrt((vectors * vectors).sum(axis=1))
    return found


def _moved_out(
    chain: NDArray[np.float64], radii: NDArray[np.float64], turning: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Return the corners moved outwards, so that the arcs in them pass where the corners were."""
    moved, corners, wanted = chain.copy(), chain[turning], radii[turning]
    for _ in range(40 if len(turning) else 0):
        pieces = moved[1:] - moved[:-1]
        pieces /= np.maximum(_lengths(pieces), 1e-12)[:, None]
        before, behind = pieces[turning - 1], pieces[turning]
        outwards = before - behind
        norms = _lengths(outwards)
        # Of two unit pieces the sum is twice the cosine of half the angle that they turn by.
        off = wanted * (2 / np.maximum(_lengths(before + behind), 2e-12) - 1)
        # An arc of a near hairpin would stand off far: no further than its own radius.
        off = np.where(norms > 1e-9, np.maximum(np.minimum(off, wanted), 0.0), 0.0)
        fresh = corners + outwards * (off / np.maximum(norms, 1e-9))[:, None]
        if np.abs(fresh - moved[turning]).max() < 1e-9:
            break
        moved[turning] = fresh
    return moved
