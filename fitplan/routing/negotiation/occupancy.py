"""What goes through each voxel: sets of wires as numbers, so that whole ways are added and taken at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.map.bundles import bundle_diameter


class WireSets:
    """The sets of wires that meet somewhere, numbered as they first occur; 0 is the empty one.

    Parameters
    ----------
    diameters
        Outer diameter in mm of each kind of wire; a set counts the wires of each kind.
    """

    def __init__(self, diameters: tuple[float, ...]) -> None:
        self._diameters = diameters
        self._counts: list[tuple[int, ...]] = [(0,) * len(diameters)]
        self._number = {self._counts[0]: 0}
        self._thickness = [0.0]

    def changed(self, members: NDArray[np.int32], kind: int, by: int) -> NDArray[np.int32]:
        """Return the numbers of the sets with one wire of a kind more (by = 1) or less (by = −1)."""
        table = np.zeros(len(self._counts), dtype=np.int32)
        for number in np.flatnonzero(np.bincount(members)).tolist():
            table[number] = self._with(number, kind, by)
        result: NDArray[np.int32] = table[members]
        return result

    def thickness(self, members: NDArray[np.int32]) -> NDArray[np.float64]:
        """Return the bundle diameter in mm of each numbered set."""
        result: NDArray[np.float64] = np.array(self._thickness)[members]
        return result

    def _with(self, number: int, kind: int, by: int) -> int:
        counts = list(self._counts[number])
        counts[kind] += by
        if counts[kind] < 0:
            raise ValueError("a wire was taken out where it never was")
        key = tuple(counts)
        found = self._number.get(key)
        if found is None:
            found = self._number[key] = len(self._counts)
            self._counts.append(key)
            wires = [d for d, n in zip(self._diameters, key, strict=True) for _ in range(n)]
            self._thickness.append(bundle_diameter(wires))
        return found
