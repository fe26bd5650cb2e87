"""The box of a vehicle's map that wires can be in: often half of the map, as bodies are walls and air."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.box_round import box_round
from fitplan.routing.map.narrow_places import CapacityPlace, Run
from fitplan.routing.ways.way import Voxel, Way

Number = TypeVar("Number", bound=np.integer)


@dataclass(frozen=True)
class FreeBox:
    """A box of voxels, and what lies in it told by its own numbers of voxels instead of the map's.

    The order of voxels is the same in both, and so is what hangs on it.
    """

    low: Voxel
    high: Voxel

    @classmethod
    def round(
        cls, free: NDArray[np.bool_], further: Iterable[Sequence[Voxel] | NDArray[np.integer]] = ()
    ) -> FreeBox:
        """Return the smallest box in a map (x, y, z) that holds all free voxels and further ones of it."""
        box = box_round(free)
        low, high = [part.start for part in box], [part.stop for part in box]
        for voxels in further:
            rows = np.asarray(voxels, dtype=np.int64).reshape(-1, 3)
            if len(rows):
                low = np.minimum(low, rows.min(axis=0)).tolist()
                high = np.maximum(high, rows.max(axis=0) + 1).tolist()
        first, last = (np.clip(corner, 0, free.shape).tolist() for corner in (low, high))
        return cls((first[0], first[1], first[2]), (last[0], last[1], last[2]))

    @property
    def slices(self) -> tuple[slice, slice, slice]:
        """The box in the whole map."""
        x, y, z = (slice(a, b) for a, b in zip(self.low, self.high, strict=True))
        return (x, y, z)

    def inside(self, voxels: Sequence[Voxel]) -> tuple[Voxel, ...]:
        """Return voxels of the map by their numbers in the box."""
        a, b, c = self.low
        return tuple((x - a, y - b, z - c) for x, y, z in voxels)

    def outside(self, voxel: Voxel) -> Voxel:
        """Return a voxel of the box by its number in the map."""
        return (voxel[0] + self.low[0], voxel[1] + self.low[1], voxel[2] + self.low[2])

    def rows_inside(self, rows: NDArray[Number]) -> NDArray[Number]:
        """Return (n, 3) voxels of the map by their numbers in the box."""
        return rows - np.array(self.low, dtype=rows.dtype)

    def rows_outside(self, rows: NDArray[Number]) -> NDArray[Number]:
        """Return (n, 3) voxels of the box by their numbers in the map."""
        return rows + np.array(self.low, dtype=rows.dtype)

    def way_inside(self, way: Way) -> Way:
        """Return a way through the map by its voxels in the box."""
        return replace(way, voxels=self.rows_inside(way.voxels))

    def way_outside(self, way: Way) -> Way:
        """Return a way through the box by its voxels in the map."""
        return replace(way, voxels=self.rows_outside(way.voxels))

    def run_inside(self, run: Run) -> Run:
        """Return a run with its ends in the box."""
        return replace(run, starts=self.inside(run.starts), goals=self.inside(run.goals))

    def place_inside(self, place: CapacityPlace) -> CapacityPlace:
        """Return a narrow place with its voxels in the box."""
        voxels, behind = (
            self.rows_inside(np.asarray(rows, dtype=np.int64)) for rows in (place.voxels, place.behind)
        )
        return replace(place, voxels=voxels, behind=behind)
