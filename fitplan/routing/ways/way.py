"""A way from voxel to voxel."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Voxel = tuple[int, int, int]


@dataclass(frozen=True, eq=False)
class Way:
    """A way from voxel to voxel.

    Attributes
    ----------
    voxels
        (n, 3) int32, from start to goal, both included; one row when start and goal are the same.
    length_mm
        Length between the voxel centres.
    cost_mm
        What the search minimised: the length, each step times the mean cost of its two voxels. Equal to
        the length in a field without costs.
    expanded
        Number of places the search looked at; a measure of its work.
    """

    voxels: NDArray[np.int32]
    length_mm: float
    cost_mm: float
    expanded: int

    @property
    def start(self) -> Voxel:
        """The voxel the way begins in."""
        x, y, z = self.voxels[0].tolist()
        return x, y, z

    @property
    def goal(self) -> Voxel:
        """The voxel the way ends in."""
        x, y, z = self.voxels[-1].tolist()
        return x, y, z

    def backwards(self) -> Way:
        """Return the same way from its goal to its start."""
        return Way(self.voxels[::-1], self.length_mm, self.cost_mm, self.expanded)


def lattice_length(voxels: NDArray[np.int32], pitch: float = 1.0) -> float:
    """Return the length of a voxel way: its straight, √2 and √3 steps counted, times the pitch."""
    if len(voxels) < 2:
        return 0.0
    kinds = np.bincount(np.abs(np.diff(voxels, axis=0)).sum(axis=1), minlength=4)
    return float(kinds[1] + kinds[2] * math.sqrt(2) + kinds[3] * math.sqrt(3)) * pitch
