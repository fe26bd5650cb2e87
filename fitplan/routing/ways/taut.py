"""Pulling stepwise ways taut: the length a wire needs, not the up to 13 % more of a voxel way.

A taut way is a chain of straight pieces between points in voxel coordinates (voxel (0, 0, 0) has its middle
at the origin and reaches from −½ to ½). It may touch solid voxels but never enters one, so it is never
shorter than the shortest way there is. Pulling moves a way to the nearest chain that no small move shortens.

Two kinds of clearance:

- ``walls``: each solid voxel is its own box. For thin wires, and for lengths with a closed form.
- ``middles``: the map is one of allowed middles (`fitplan.lattice.clear_radius.room_for`), and the way keeps
  within the boxes that free middles span (2, 4 or 8 of them), so all of it has the clear radius that the map
  was made for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fitplan.kernels import load

Clearance = Literal["walls", "middles"]

_HALF: dict[Clearance, float] = {
    "walls": 0.5 + 2e-6,  # boxes overlap a little, so that no way slips between two that touch
    "middles": 1.0 - 1e-4,  # so that a channel one voxel wide keeps a way through
}
_SWEEPS = 400
_ROOM = 3500
_TURNS_ROUND = 3


@dataclass(frozen=True, eq=False)
class TautWay:
    """A chain of straight pieces that cannot be pulled shorter by a small move.

    Attributes
    ----------
    points
        (n, 3) float64 in voxel coordinates, from start to goal.
    length_mm
        Its length.
    """

    points: NDArray[np.float64]
    length_mm: float

    @property
    def turns_deg(self) -> NDArray[np.float64]:
        """Return by how many degrees the way turns at each inner point."""
        return turning_angles(self.points)


def chain_length(points: NDArray[np.float64]) -> float:
    """Return the length of a chain of straight pieces, in the unit of its points."""
    return float(np.sqrt((np.diff(points, axis=0) ** 2).sum(axis=1)).sum())


def turning_angles(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (n − 2,) float64, by how many degrees a chain turns at each inner point; 0 is straight on."""
    if len(points) < 3:
        return np.zeros(0)
    pieces = np.diff(points, axis=0)
    pieces = pieces / np.maximum(np.linalg.norm(pieces, axis=1, keepdims=True), 1e-300)
    # by the half-angle, which keeps its digits for small turns
    across = np.linalg.norm(pieces[1:] - pieces[:-1], axis=1)
    along = np.linalg.norm(pieces[1:] + pieces[:-1], axis=1)
    angles: NDArray[np.float64] = np.degrees(2 * np.arctan2(across, along))
    return angles


class Tautener:
    """A map prepared for pulling ways taut. Not to be shared between threads.

    Parameters
    ----------
    free
        (x, y, z) bool, True where free; what is outside the map is solid.
    pitch
        Voxel edge in mm.
    clearance
        See the module.
    """

    def __init__(self, free: NDArray[np.bool_], pitch: float = 0.8, clearance: Clearance = "middles") -> None:
        self.shape = free.shape
        self.pitch = pitch
        self._half = _HALF[clearance]
        self._kernel = load("taut")
        solid = np.pad(~free, 1, constant_values=True).astype(np.uint8)
        if not self._kernel.call("prepare", *free.shape, self._kernel.put(solid)):
            raise MemoryError(f"a map of {free.shape} voxels is too large to pull ways taut in")
        self._points_at = int(self._kernel.call("points"))

    def is_free(self, points: NDArray[np.float64]) -> bool:
        """Tell whether all pieces of a chain are free.

        Raises
        ------
        MemoryError
            The kernel keeps fewer points than it was given.
        """
        for first in range(0, max(len(points) - 1, 1), _ROOM - 1):
            answer = self._kernel.call("is_free", self._put(points[first : first + _ROOM]), self._half)
            if answer == 2:
                raise MemoryError(f"a way of {len(points)} points is longer than is looked at together")
            if not answer:
                return False
        return True

    def pull(self, points: NDArray[np.integer] | NDArray[np.floating]) -> TautWay:
        """Pull a free chain taut, its ends held.

        Parameters
        ----------
        points
            (n, 3) voxel coordinates: the voxels of a way, or any chain of free pieces.

        Raises
        ------
        ValueError
            A piece of the chain is not free.
        """
        chain = np.asarray(points, dtype=np.float64).reshape(-1, 3)
        if not self.is_free(chain):
            raise ValueError("the chain to be pulled taut enters a solid voxel")
        if len(chain) > _ROOM:  # piece by piece, then once more over the seams
            parts = [self._pull(chain[i : i + _ROOM])[:-1] for i in range(0, len(chain) - 1, _ROOM - 1)]
            chain = np.concatenate([*parts, chain[-1:]])
        taut = self._pull(chain[:_ROOM]) if len(chain) <= _ROOM else chain
        return TautWay(taut, chain_length(taut) * self.pitch)

    def _put(self, points: NDArray[np.float64]) -> int:
        self._kernel.view(self._points_at, points.shape, np.float64)[...] = points
        return len(points)

    def _pull(self, chain: NDArray[np.float64]) -> NDArray[np.float64]:
        """Pull from either end in turn: from the other end a way sometimes gives a little more."""
        length = math.inf
        for turn in range(2 * _TURNS_ROUND):
            left = int(self._kernel.call("pull", self._put(chain), self._half, _SWEEPS))
            if not left:  # more points than the kernel keeps: the chain stays as it is
                return chain if turn % 2 == 0 else chain[::-1]
            chain = self._kernel.view(self._points_at, (left, 3), np.float64)[::-1].copy()
            gain, length = length - chain_length(chain), chain_length(chain)
            if turn % 2 and gain < 1e-7 * length:
                break
        return chain
