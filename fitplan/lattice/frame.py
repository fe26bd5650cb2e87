"""Where the voxels of a vehicle lie."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import Vehicle
from fitplan.units import PITCH

Index: TypeAlias = tuple[int, int, int]
Window: TypeAlias = tuple[slice, slice, slice]
Rounding: TypeAlias = Literal["outward", "inward"]
"""outward: every voxel that a solid touches; inward: only voxels that lie wholly inside it."""

TOLERANCE = 1e-6
"""Lengths in mm closer than this are equal, so that solids on the grid are drawn exactly."""


@dataclass(frozen=True)
class Frame:
    """A block of cubic voxels: its lower corner (mm), how many along x, y, z, and their edge (mm).

    Voxel (i, j, k) is the cube from ``origin + pitch·(i, j, k)`` to ``origin + pitch·(i+1, j+1, k+1)``.
    """

    origin: Vec
    shape: Index
    pitch: float = PITCH

    @property
    def box(self) -> Box:
        """The block that the voxels fill."""
        x, y, z = (o + n * self.pitch for o, n in zip(self.origin, self.shape, strict=True))
        return Box(self.origin, (x, y, z))

    def index_of(self, point: Vec) -> Index:
        """Return the index of the voxel that holds a point (the upper one on a face); may lie outside."""
        i, j, k = (
            math.floor((p - o + TOLERANCE) / self.pitch) for p, o in zip(point, self.origin, strict=True)
        )
        return (i, j, k)

    def center(self, index: Index) -> Vec:
        """Return the middle of a voxel in mm."""
        x, y, z = (o + (n + 0.5) * self.pitch for o, n in zip(self.origin, index, strict=True))
        return (x, y, z)

    def centers(self, indices: NDArray[np.integer]) -> NDArray[np.float64]:
        """Return (n, 3) float64, the middles in mm of voxels given as (n, 3) indices."""
        middles: NDArray[np.float64]
        middles = np.asarray(self.origin) + (np.asarray(indices, dtype=np.float64) + 0.5) * self.pitch
        return middles

    def edges(self, axis: int) -> NDArray[np.float64]:
        """Return (n + 1,) float64, the coordinates in mm of the voxel faces along an axis (0, 1, 2)."""
        return self.origin[axis] + np.arange(self.shape[axis] + 1, dtype=np.float64) * self.pitch

    def box_slice(self, box: Box, rounding: Rounding) -> Window:
        """Return the window of voxels that a box touches (outward) or wholly holds (inward).

        The window is cut to the frame and is empty where nothing is left.
        """
        found = []
        for low, high, origin, count in zip(box.low, box.high, self.origin, self.shape, strict=True):
            if rounding == "outward":
                first = math.floor((low - origin + TOLERANCE) / self.pitch)
                last = math.ceil((high - origin - TOLERANCE) / self.pitch)
            else:
                first = math.ceil((low - origin - TOLERANCE) / self.pitch)
                last = math.floor((high - origin + TOLERANCE) / self.pitch)
            first = min(max(first, 0), count)
            found.append(slice(first, max(first, min(last, count))))
        return (found[0], found[1], found[2])

    def covers(self, box: Box) -> bool:
        """Whether a box lies within the frame."""
        own = self.box
        return all(
            o <= low + TOLERANCE and high <= h + TOLERANCE
            for o, h, low, high in zip(own.low, own.high, box.low, box.high, strict=True)
        )

    def within(self, index: Index) -> bool:
        """Whether the frame has a voxel of this index."""
        return all(0 <= i < n for i, n in zip(index, self.shape, strict=True))


def frame_around(box: Box, pitch: float = PITCH, margin: int = 0) -> Frame:
    """Return the smallest frame from a box's lower corner that holds it, with a margin in voxels."""
    counts = [math.ceil((size - TOLERANCE) / pitch) + 2 * margin for size in box.size]
    x, y, z = (low - margin * pitch for low in box.low)
    return Frame((x, y, z), (counts[0], counts[1], counts[2]), pitch)


def frame_of(vehicle: Vehicle, margin: int = 1, pitch: float = PITCH) -> Frame:
    """Return a vehicle's frame: its hull and `margin` voxels all round.

    Layers, studs and plates fall on voxel faces because the frame starts at the hull's lower corner.
    """
    return frame_around(vehicle.hull, pitch, margin)
