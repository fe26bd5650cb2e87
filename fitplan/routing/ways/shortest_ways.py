"""Shortest ways through the free voxels of a map that is prepared once and asked many times.

Steps go to the 26 neighbours and count 1, √2 or √3 voxel edges.  No corner is cut: a diagonal step is
allowed only if every voxel of the box that it spans is free.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.kernels import load
from fitplan.routing.ways.way import Voxel, Way, lattice_length

COST_UNIT = 64
"""Costs are kept in steps of 1/64; a stated cost is rounded to the nearest."""
COST_LIMIT = 65535 / COST_UNIT
"""The largest cost of a voxel; a larger one is taken as this."""
Costs: TypeAlias = NDArray[np.floating] | NDArray[np.uint16]
"""Of a millimetre in each voxel, (x, y, z), or these in `cost_units`."""
Turn: TypeAlias = tuple[bool, bool, bool]
"""Along which axes ties are broken as in the mirror image."""
AS_IT_IS: Turn = (False, False, False)
_PLAIN_EDGE = 2.0**40
_COST_EDGE = 2.0**35
_SLICE = 200_000
_NO_REACH = 0xFFFFFFFFFFFFFFFE


@dataclass(frozen=True, eq=False)
class Guide:
    """What a way to some goals costs at least, for searches in any field that is no freer and no cheaper.

    Attributes
    ----------
    lengths
        (x + 2, y + 2, z + 2) uint32, from each voxel, in units of the kernel.
    """

    lengths: NDArray[np.uint32]


class WayMap:
    """A map of free voxels, prepared for many questions about shortest ways.

    Preparing takes about 0.01 s a million voxels and 21 bytes a voxel; a question needs time only for the
    places it looks at. Not to be shared between threads.

    Parameters
    ----------
    free
        (x, y, z) bool, True where the middle of the wire may go. A bundle with a radius needs the map of
        voxels whose clear radius is at least that (`fitplan.lattice.clear_radius`).
    pitch
        Voxel edge in mm.
    cost
        (x, y, z) float, cost of a millimetre in each voxel, at least 1 (smaller values are taken as 1) and at
        most `COST_LIMIT`, or these in `cost_units`; a step costs its length times the mean of its two voxels.
        None: lengths alone.
    """

    def __init__(self, free: NDArray[np.bool_], pitch: float = 0.8, cost: Costs | None = None) -> None:
        if free.ndim != 3 or 0 in free.shape:
            raise ValueError(
                f"a field has three axes with at least one voxel each, not the shape {free.shape}"
            )
        if not pitch > 0:
            raise ValueError(f"the pitch is a positive length in mm, not {pitch}")
        self.shape: Voxel = (free.shape[0], free.shape[1], free.shape[2])
        self.pitch = pitch
        self._inner = tuple(n + 2 for n in self.shape)
        self._rows = np.array([self._inner[1] * self._inner[2], self._inner[2], 1], dtype=np.int64)
        self._size = int(np.prod(self._inner))
        self._kernel = load("ways")
        self._open_at = self._kernel.empty(self._inner, np.uint8)
        self._kernel.view(self._open_at, self._inner, np.uint8)[1:-1, 1:-1, 1:-1] = free
        self._answer_at = int(self._kernel.call("prepare", *self._inner, self._open_at)) & 0xFFFFFFFF
        if not self._answer_at:
            raise MemoryError(f"a field of {self.shape} voxels is too large for the router's 4 GiB")
        self._cost_at = 0
        self._least_at = 0
        self._guides: dict[int, tuple[Guide, int]] = {}
        self._label_at = 0
        self._labelled = False
        self._list_at, self._list_room = self._kernel.empty(1024, np.uint32), 1024
        self._price_at, self._price_room = 0, 0
        if cost is not None:
            self.set_cost(cost)

    # -- what the field holds ------------------------------------------------------------------------

    @property
    def free(self) -> NDArray[np.bool_]:
        """(x, y, z) bool copy of the map as it stands, True where free."""
        inner = self._kernel.view(self._open_at, self._inner, np.uint8)[1:-1, 1:-1, 1:-1]
        return inner.astype(bool)

    def is_free(self, voxel: Sequence[int]) -> bool:
        """Tell whether a voxel is inside the map and free."""
        if not all(0 <= int(p) < n for p, n in zip(voxel, self.shape, strict=True)):
            return False
        return bool(self._kernel.view(self._open_at, self._size, np.uint8)[self._node(voxel)])

    def set_free(self, voxels: Iterable[Sequence[int]] | NDArray[np.integer], free: bool) -> None:
        """Open or close single voxels; cheaper than a new field when they are few."""
        nodes = self._nodes(voxels)
        if len(nodes):
            self._put(nodes)
            self._kernel.call("change", self._list_at, len(nodes), int(free))
            self._labelled = False

    def set_cost(self, cost: Costs) -> None:
        """Replace the costs of all voxels; see the class for the unit."""
        if cost.shape != self.shape:
            raise ValueError(f"the costs have the shape {cost.shape}, the field has {self.shape}")
        if not self._cost_at:
            self._cost_at = self._kernel.empty(self._inner, np.uint16)
        self._fill(self._cost_at, cost)
        self._kernel.call("set_cost", self._cost_at)

    def set_cost_at(self, nodes: NDArray[np.int64], cost: NDArray[np.floating]) -> None:
        """Replace the costs of some voxels, given by `nodes_of`; the field must have costs."""
        if not self._cost_at:
            raise ValueError("the field has no costs: give it some first")
        if not len(nodes):
            return
        self._put(nodes)
        if len(nodes) > self._price_room:
            self._price_room = 2 * len(nodes)
            self._price_at = self._kernel.empty(self._price_room, np.uint16)
        self._kernel.view(self._price_at, len(nodes), np.uint16)[...] = cost_units(cost)
        self._kernel.call("change_cost", self._list_at, self._price_at, len(nodes))

    def free_at(self, nodes: NDArray[np.int64]) -> NDArray[np.bool_]:
        """Return for each internal number (`nodes_of`) whether that voxel is free."""
        return self._kernel.view(self._open_at, self._size, np.uint8)[nodes] > 0

    def nodes_of(self, voxels: Iterable[Sequence[int]] | NDArray[np.integer]) -> NDArray[np.int64]:
        """Return the internal numbers of voxels, for `set_cost_at` and `free_at`."""
        return self._nodes(voxels)

    def nodes_at(self, flat: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return the internal numbers of voxels that are given by their places in the flat array."""
        _, wide, high = self.shape
        rows = flat // high
        # Rows of a framed map are longer by two, and two more lie at the end of each layer.
        return (rows + 2 * (rows // wide) + wide + 3) * (high + 2) + (flat - rows * high) + 1

    # -- questions -----------------------------------------------------------------------------------

    def way(
        self,
        start: Sequence[int],
        goal: Sequence[int],
        *,
        greed: float = 1.0,
        mirrored: Turn = AS_IT_IS,
    ) -> Way | None:
        """Return a shortest (with costs: a cheapest) way between two voxels, or None when there is none.

        Parameters
        ----------
        greed
            With costs: how much dearer than the cheapest the way may be (1.05: 5 %) in exchange for a
            quicker search. Without costs the shortest way is found whatever this says.
        mirrored
            Break ties along x, y, z as in the mirror image, so that a mirrored question gets the mirrored
            way.
        """
        return self.way_between([start], [goal], greed=greed, mirrored=mirrored)

    def way_between(
        self,
        starts: Iterable[Sequence[int]] | NDArray[np.integer],
        goals: Iterable[Sequence[int]] | NDArray[np.integer],
        *,
        greed: float = 1.0,
        mirrored: Turn = AS_IT_IS,
        check_rooms: bool = True,
        guide: Guide | None = None,
    ) -> Way | None:
        """Return a shortest way from any of some voxels to any of others; see `way`.

        Voxels that are outside the map or not free are left out. That both ends are in one room is looked up
        first; after a change of the map this needs a walk through all of it, so a caller who changes it
        often and expects a way may do without (`check_rooms`).  A `guide` to these goals leads the search
        past dead ends.
        """
        if not greed >= 1.0:
            raise ValueError(f"greed is at least 1, not {greed}")
        first, last = self._usable(starts), self._usable(goals)
        if not len(first) or not len(last) or (check_rooms and not self._connected(first, last)):
            return None
        self._put(np.concatenate([first, last]))
        self._run(len(first), len(last), self._options(mirrored), greed, _NO_REACH, guide)
        return self._found()

    def turned(self, mirrored: Turn) -> Way | None:
        """Return the shortest way that was asked for last, without costs, with ties broken otherwise.

        It takes a twentieth of a search of its own.
        """
        self._go_on(self._kernel.call("turn", self._options(mirrored), _SLICE))
        return self._found()

    def guide(
        self,
        goals: Iterable[Sequence[int]] | NDArray[np.integer],
        least: NDArray[np.floating],
    ) -> Guide:
        """Return what leads searches to these goals, for many searches at changing costs.

        It costs a walk through all of the map and four bytes a voxel, and holds as long as no voxel is opened
        that was closed when it was made; in a field with less free voxels, too.

        Parameters
        ----------
        least
            (x, y, z) float, costs that no voxel will ever fall below while the guide is used.

        Raises
        ------
        ValueError
            The field has no costs.
        """
        if not self._cost_at:
            raise ValueError("the field has no costs: a guide would be of no use")
        if not self._least_at:
            self._least_at = self._kernel.empty(self._inner, np.uint16)
        self._fill(self._least_at, least)
        first = self._usable(goals)
        self._put(first)
        self._kernel.call("set_cost", self._least_at)
        try:
            self._run(len(first), 0, 1, 1.0, _NO_REACH)
        finally:
            self._kernel.call("set_cost", self._cost_at)
        address = self._kernel.empty(self._inner, np.uint32)
        self._kernel.call("keep_guide", address)
        guide = Guide(self._kernel.view(address, self._inner, np.uint32).copy())
        self._guides[id(guide)] = (guide, address)
        return guide

    def distances(
        self,
        starts: Iterable[Sequence[int]] | NDArray[np.integer],
        *,
        within_mm: float = math.inf,
    ) -> NDArray[np.float64]:
        """Return (x, y, z) float64, the length (or cost) in mm from the nearest start; inf where none leads.

        Parameters
        ----------
        within_mm
            Do not look further than this.
        """
        first = self._usable(starts)
        edge = _COST_EDGE if self._cost_at else _PLAIN_EDGE
        reach = _NO_REACH
        if math.isfinite(within_mm):
            reach = min(reach, int(within_mm / self.pitch * edge))
        self._put(first)
        self._run(len(first), 0, int(bool(self._cost_at)), 1.0, reach)
        address = self._kernel.call("lengths")
        if not address:
            raise MemoryError(f"a field of {self.shape} voxels is too large for all lengths to be told")
        lengths = self._kernel.view(address, self._inner, np.uint64)
        inner = lengths[1:-1, 1:-1, 1:-1]
        out = inner * (self.pitch / edge)
        out[inner == np.uint64(0xFFFFFFFFFFFFFFFF)] = math.inf
        return out

    def rooms(self) -> NDArray[np.uint32]:
        """Return (x, y, z) uint32 labels of the connected free spaces, from 1; 0 where not free."""
        self._label()
        return self._kernel.view(self._label_at, self._inner, np.uint32)[1:-1, 1:-1, 1:-1].copy()

    # -- inside --------------------------------------------------------------------------------------

    def _address(self, guide: Guide | None) -> int:
        """Return where the kernel finds a guide, which may have been made by another field; 0 for none."""
        if guide is None:
            return 0
        if id(guide) not in self._guides:
            self._guides[id(guide)] = (guide, self._kernel.put(guide.lengths))
        return self._guides[id(guide)][1]

    def _fill(self, address: int, cost: Costs) -> None:
        """Write the costs of all voxels, and of the border, where a kernel finds them."""
        inner = self._kernel.view(address, self._inner, np.uint16)
        inner[...] = COST_UNIT
        inner[1:-1, 1:-1, 1:-1] = cost_units(cost)

    def _node(self, voxel: Sequence[int]) -> int:
        x, y, z = voxel
        return ((int(x) + 1) * self._inner[1] + int(y) + 1) * self._inner[2] + int(z) + 1

    def _nodes(self, voxels: Iterable[Sequence[int]] | NDArray[np.integer]) -> NDArray[np.int64]:
        rows = np.asarray(voxels if isinstance(voxels, np.ndarray) else list(voxels), dtype=np.int64)
        if not rows.size:
            return np.zeros(0, dtype=np.int64)
        rows = rows.reshape(-1, 3)
        if (rows < 0).any() or (rows >= self.shape).any():
            raise ValueError(f"a voxel is outside the field of {self.shape} voxels")
        nodes: NDArray[np.int64] = (rows + 1) @ self._rows
        return nodes

    def _usable(self, voxels: Iterable[Sequence[int]] | NDArray[np.integer]) -> NDArray[np.int64]:
        rows = np.asarray(voxels if isinstance(voxels, np.ndarray) else list(voxels), dtype=np.int64)
        rows = rows.reshape(-1, 3)
        nodes: NDArray[np.int64] = (rows[((rows >= 0) & (rows < self.shape)).all(axis=1)] + 1) @ self._rows
        return nodes[self._kernel.view(self._open_at, self._size, np.uint8)[nodes] > 0]

    def _put(self, nodes: NDArray[np.int64]) -> None:
        if len(nodes) > self._list_room:
            self._list_room = 2 * len(nodes)
            self._list_at = self._kernel.empty(self._list_room, np.uint32)
        self._kernel.view(self._list_at, len(nodes), np.uint32)[...] = nodes

    def _label(self) -> None:
        if not self._labelled:
            if not self._label_at:
                self._label_at = self._kernel.empty(self._inner, np.uint32)
            if self._kernel.call("label", self._label_at) < 0:
                raise MemoryError(f"a field of {self.shape} voxels is too large for its rooms to be told")
            self._labelled = True

    def _connected(self, first: NDArray[np.int64], last: NDArray[np.int64]) -> bool:
        """Tell whether some start and goal are in one room; labels anew only after a change."""
        self._label()
        labels = self._kernel.view(self._label_at, self._size, np.uint32)
        return bool(np.isin(labels[first], labels[last]).any())

    def _options(self, mirrored: Turn) -> int:
        return int(bool(self._cost_at)) | sum(2 << axis for axis in range(3) if mirrored[axis])

    def _found(self) -> Way | None:
        """Return the way that the last search found."""
        status, length, at, expanded = self._kernel.view(self._answer_at, 4, np.uint32).tolist()
        return self._trace(length, at, expanded) if status == 1 else None

    def _run(
        self,
        starts: int,
        ends: int,
        options: int,
        greed: float,
        reach: int,
        guide: Guide | None = None,
    ) -> None:
        status = self._kernel.call(
            "find",
            self._list_at,
            starts,
            self._list_at + 4 * starts,
            ends,
            options,
            round(greed * COST_UNIT),
            reach & 0xFFFFFFFF,
            reach >> 32,
            self._address(guide),
            _SLICE,
        )
        self._go_on(status)

    def _go_on(self, status: int) -> None:
        """Let a search come to its end."""
        while status == 2:
            status = self._kernel.call("advance", _SLICE)
        if status == 3:
            raise MemoryError(f"the search in a field of {self.shape} voxels ran out of memory")

    def _trace(self, length: int, at: int, expanded: int) -> Way:
        nodes = self._kernel.view(at, length, np.uint32).astype(np.int64)
        voxels = np.empty((length, 3), dtype=np.int32)
        voxels[:, 0], rest = np.divmod(nodes, self._rows[0])
        voxels[:, 1], voxels[:, 2] = np.divmod(rest, self._rows[1])
        voxels -= 1
        length_mm = lattice_length(voxels, self.pitch)
        cost_mm = length_mm
        if self._cost_at:
            prices = self._kernel.view(self._cost_at, self._size, np.uint16)[nodes] / COST_UNIT
            steps = np.sqrt(np.abs(np.diff(voxels, axis=0)).sum(axis=1)) * self.pitch
            cost_mm = float(steps @ ((prices[1:] + prices[:-1]) / 2))
        return Way(voxels, length_mm, cost_mm, expanded)


def cost_units(cost: Costs) -> NDArray[np.uint16]:
    """Return costs as they are kept, for several maps that begin with the same."""
    if cost.dtype == np.uint16:
        return cost.astype(np.uint16, copy=False)
    units = np.clip(np.rint(cost * COST_UNIT), COST_UNIT, COST_LIMIT * COST_UNIT)
    found: NDArray[np.uint16] = units.astype(np.uint16)
    return found
