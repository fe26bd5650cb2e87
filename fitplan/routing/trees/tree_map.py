"""A vehicle's free voxels prepared for trees: lengths and ways from what a net joins, sites for splices."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.kernels import load
from fitplan.routing.ways.shortest_ways import COST_UNIT
from fitplan.routing.ways.way import Voxel, lattice_length

EDGE = 1024
"""Units of length of the kernel in a voxel edge at cost 1."""
FAR = 0xFFFFFFFF
"""Farther than any way, in units."""
_FIRST_REACH = 64 * EDGE

KeptFlood: TypeAlias = tuple[NDArray[np.uint32], int]
"""Lengths from some voxels to all open ones, by their numbers, in units; and as far as they were found."""


class TreeUndecidedError(Exception):
    """No tree was found, and none is proved impossible: the search gave up."""


@dataclass(frozen=True)
class Terminal:
    """What a tree joins.

    Attributes
    ----------
    voxels
        Where it can be reached; any will do.
    wires
        How many wires of the tree it takes; with one it is always an end.
    """

    voxels: tuple[Voxel, ...]
    wires: int = 1


@dataclass(frozen=True, eq=False)
class VoxelTree:
    """A tree over voxels.

    Attributes
    ----------
    edges
        Numbers of what each wire joins: terminals from 0 on, then the splices.
    ways
        For each edge the (n, 3) voxels of its way, from the first to the second.
    splices
        Their voxels.
    cost_mm
        Ways at their cost, splices and further wires at a pin at theirs.
    proved
        True when no tree is cheaper.
    least_mm
        No tree costs less; 0 where nothing is known.
    """

    edges: tuple[tuple[int, int], ...]
    ways: tuple[NDArray[np.int32], ...]
    splices: tuple[Voxel, ...]
    cost_mm: float
    proved: bool
    least_mm: float = 0.0

    @property
    def gap(self) -> float:
        """By what share of its cost the tree may be dearer than a cheapest one."""
        return 0.0 if self.proved or not self.cost_mm else 1.0 - self.least_mm / self.cost_mm


@dataclass(frozen=True, eq=False)
class CostMap:
    """What trees of all nets in one vehicle are laid over: the box that holds all free voxels, framed by one.

    Attributes
    ----------
    low, shape
        Of the box, without its frame.
    cost
        (x + 2, y + 2, z + 2) uint16, cost of a millimetre in each voxel in steps of 1/64.
    price
        (x + 2, y + 2, z + 2) uint32, what a splice counts for in units of length; 0: none may be there.
    """

    low: Voxel
    shape: Voxel
    cost: NDArray[np.uint16]
    price: NDArray[np.uint32]
    pitch: float

    @property
    def window(self) -> tuple[slice, slice, slice]:
        """The box in the whole map."""
        x, y, z = (slice(a, a + n) for a, n in zip(self.low, self.shape, strict=True))
        return (x, y, z)

    @classmethod
    def of(
        cls,
        free: NDArray[np.bool_],
        cost: NDArray[np.floating],
        splice_mm: NDArray[np.floating],
        pitch: float = 0.8,
    ) -> CostMap:
        """Return the ground of a map.

        Parameters
        ----------
        free
            (x, y, z) bool, True where any wire may be.
        cost
            (x, y, z), cost of a millimetre, at least 1.
        splice_mm
            (x, y, z), what a splice counts for in mm; where it is not above 0 none may be.
        """
        low, shape = [], []
        for axis in range(3):
            some = np.flatnonzero(free.any(axis=tuple(other for other in range(3) if other != axis)))
            low.append(int(some[0]) if len(some) else 0)
            shape.append(int(some[-1]) + 1 - low[-1] if len(some) else 1)
        window = tuple(slice(a, a + n) for a, n in zip(low, shape, strict=True))
        framed = tuple(n + 2 for n in shape)
        costs = np.full(framed, COST_UNIT, dtype=np.uint16)
        costs[1:-1, 1:-1, 1:-1] = np.clip(np.rint(cost[window] * COST_UNIT), COST_UNIT, 65535)
        prices = np.zeros(framed, dtype=np.uint32)
        prices[1:-1, 1:-1, 1:-1] = np.rint(np.maximum(splice_mm[window], 0.0) * (EDGE / pitch))
        return cls((low[0], low[1], low[2]), (shape[0], shape[1], shape[2]), costs, prices, pitch)

    def without_splices(self) -> CostMap:
        """Return the same with no site for a splice anywhere."""
        return replace(self, price=np.zeros_like(self.price))


class TreeMap:
    """The map of one vehicle for one kind of wire, asked for the ways and the tree of one net.

    Parameters
    ----------
    free
        (x, y, z) bool, True where the middle of the wire may go.
    ground
        Costs and sites for splices.
    further_mm
        Millimetres that each wire beyond the first counts for at a terminal.
    taken
        Voxels where no splice may be.
    kept
        Lengths that were found earlier in an equal map (`kept_floods`): they are not looked for again.
    """

    def __init__(
        self,
        free: NDArray[np.bool_],
        ground: CostMap,
        *,
        further_mm: float = 4.0,
        taken: Iterable[Voxel] = (),
        kept: Mapping[tuple[Voxel, ...], KeptFlood] | None = None,
    ) -> None:
        self.pitch = ground.pitch
        self.low = ground.low
        self._shape = ground.shape
        self.further = self.in_units(further_mm)
        x, y, z = ground.cost.shape
        self.rows = (y * z, z, 1)
        self.size = x * y * z
        self.kernel = load("joining")
        opened = self.kernel.empty((x, y, z), np.uint8)
        self.kernel.view(opened, (x, y, z), np.uint8)[1:-1, 1:-1, 1:-1] = free[ground.window]
        costs = self.kernel.put(ground.cost)
        self.price_at = self.kernel.put(ground.price)
        self._least_price: int | None = None
        self.take(taken)
        if not self.kernel.call("prepare", x, y, z, opened, costs, self.price_at):
            raise MemoryError(f"a map of {free.shape} voxels is too large for the search for trees")
        self._opened = opened
        self._floods: dict[tuple[Voxel, ...], tuple[int, int]] = {}
        self._kept = dict(kept or {})
        self._waiting: tuple[Voxel, ...] | None = None
        """Where the last flood begins, as long as it might go on."""

    def take(self, voxels: Iterable[Voxel]) -> None:
        """Allow no splice in some voxels from now on."""
        self._least_price = None
        prices = self.prices()
        for voxel in voxels:
            if self.holds(voxel):
                prices[self.node_of(voxel)] = 0

    def prices(self) -> NDArray[np.uint32]:
        """Return what a splice counts for at each node, in units; a view."""
        return self.kernel.view(self.price_at, self.size, np.uint32)

    def least_price(self) -> int:
        """Return what the cheapest splice counts for, in units; 0 when none may be anywhere."""
        if self._least_price is None:
            prices = self.prices()
            some = prices[prices > 0]
            self._least_price = int(some.min()) if len(some) else 0
        return self._least_price

    @property
    def open_count(self) -> int:
        """How many voxels are open."""
        return int(np.count_nonzero(self.kernel.view(self._opened, self.size, np.uint8)))

    def in_units(self, mm: float) -> int:
        """Return a length in the units of the kernel."""
        return round(mm * EDGE / self.pitch)

    def in_mm(self, units: int) -> float:
        """Return units of the kernel in mm."""
        return units * self.pitch / EDGE

    def node_of(self, voxel: Voxel) -> int:
        """Return the number of a voxel."""
        return sum((c - low + 1) * row for c, low, row in zip(voxel, self.low, self.rows, strict=True))

    def holds(self, voxel: Voxel) -> bool:
        """Tell whether the box of the map holds a voxel."""
        return all(0 <= c - low < n for c, low, n in zip(voxel, self.low, self._shape, strict=True))

    def voxel_of(self, node: int) -> Voxel:
        """Return the voxel of a number."""
        x, rest = divmod(node, self.rows[0])
        y, z = divmod(rest, self.rows[1])
        return (x - 1 + self.low[0], y - 1 + self.low[1], z - 1 + self.low[2])

    def put_nodes(self, voxels: Iterable[Voxel]) -> tuple[int, int]:
        """Put voxels into the kernel; return address and count."""
        nodes = np.array([self.node_of(voxel) for voxel in voxels if self.holds(voxel)], dtype=np.uint32)
        return self.kernel.put(nodes), len(nodes)

    # -- lengths from terminals ------------------------------------------------------------------------

    def flood(
        self,
        voxels: tuple[Voxel, ...],
        goals: Sequence[tuple[Voxel, ...]] = (),
        at_least: int = 0,
        *,
        to_go_on: bool = False,
        at_most: int = FAR,
    ) -> int:
        """Return the address of the labels from some voxels: as far as all goals within reach, and so far.

        No farther than ``at_most`` goals are looked for.

        ``to_go_on``: only the labels at the goals are looked at, and more goals of these voxels may be asked
        for next; the flood then goes on from here.
        """
        if voxels in self._kept:
            self._floods[voxels] = self._again(self._kept.pop(voxels))
        if not to_go_on:
            self._settle(but=voxels)
        known = self._floods.get(voxels)
        if known is not None and (
            known[1] >= at_most or (self._reached(known[0], goals, known[1]) and at_least <= known[1])
        ):
            if not to_go_on:
                self._settle()
            return known[0]
        if known is not None and voxels == self._waiting and not _FIRST_REACH < at_least <= known[1]:
            labels, until = known[0], at_least if at_least > known[1] else 2 * known[1]
        else:
            self._settle()
            labels, until = self.kernel.empty(self.size, np.uint32), max(at_least, _FIRST_REACH)
            self.done(self.kernel.call("begin", labels, 0, FAR, 0, 0, 0, 0))
            self.done(self.kernel.call("seed", *self.put_nodes(voxels), 0))
        self._waiting = None
        while (answer := self.kernel.call("spread", until)) == 2:
            self.done(answer)
            # What lies in the last bucket is final only with all of it.
            until |= EDGE - 1
            if until > at_most or self._reached(labels, goals, until):
                break
            until *= 2
        self.done(answer)
        self._floods[voxels] = (labels, until if answer == 2 else FAR)
        self._waiting = voxels if answer == 2 else None
        if not to_go_on:
            self._settle()
        return labels

    def _settle(self, but: tuple[Voxel, ...] | None = None) -> None:
        """Take back what is not final of the flood that might go on, unless it begins at these voxels."""
        if self._waiting is not None and self._waiting != but:
            labels, until = self._floods[self._waiting]
            self.kernel.call("trim", labels, until + 1)
            self._waiting = None

    def kept_floods(self) -> dict[tuple[Voxel, ...], KeptFlood]:
        """Return all lengths that were found, or kept from before, for another map of the same."""
        self._settle()
        open_ = self._open_nodes
        found = {
            voxels: (self.kernel.view(labels, self.size, np.uint32)[open_], until)
            for voxels, (labels, until) in self._floods.items()
        }
        return self._kept | found

    def _again(self, kept: KeptFlood) -> tuple[int, int]:
        """Put lengths that were kept where a flood would leave them."""
        labels = self.kernel.empty(self.size, np.uint32)
        self.kernel.view(labels, self.size, np.uint32)[self._open_nodes] = kept[0]
        return labels, kept[1]

    @cached_property
    def _open_nodes(self) -> NDArray[np.intp]:
        return np.flatnonzero(self.kernel.view(self._opened, self.size, np.uint8))

    def _reached(self, labels: int, goals: Iterable[tuple[Voxel, ...]], until: int = FAR) -> bool:
        view = self.kernel.view(labels, self.size, np.uint32)
        return all(any(0 < view[self.node_of(v)] <= until for v in goal if self.holds(v)) for goal in goals)

    def done(self, answer: int) -> None:
        """Raise MemoryError when a search ran out of it."""
        if not answer:
            raise MemoryError("the search for a tree ran out of memory")

    def least(self, labels: int, voxels: Iterable[Voxel]) -> tuple[int, Voxel] | None:
        """Return the least label at some voxels and where it is."""
        view = self.kernel.view(labels, self.size, np.uint32)
        found = [(int(view[self.node_of(voxel)]) - 1, voxel) for voxel in voxels if self.holds(voxel)]
        return min((one for one in found if one[0] >= 0), default=None)

    def cost_mm(self, one: Terminal, other: Terminal, most_mm: float = math.inf) -> float | None:
        """Return what the cheapest way between two terminals costs, or None when there is none.

        Where it costs more than ``most_mm``, what is returned is None or more than that.
        """
        most = min(self.in_units(most_mm) + 1, FAR) if math.isfinite(most_mm) else FAR
        labels = self.flood(one.voxels, [other.voxels], to_go_on=True, at_most=most)
        found = self.least(labels, other.voxels)
        return None if found is None else self.in_mm(found[0])

    def way(self, one: Terminal, other: Terminal) -> NDArray[np.int32] | None:
        """Return (n, 3) the voxels of a cheapest way from one terminal to another, or None."""
        if other.voxels in self._floods and one.voxels not in self._floods:
            back = self.way(other, one)
            return None if back is None else back[::-1]
        labels = self.flood(one.voxels, [other.voxels])
        found = self.least(labels, other.voxels)
        return None if found is None else self.walk(labels, found[1])[::-1]

    def length_mm(self, one: Terminal, other: Terminal) -> float | None:
        """Return the length of a cheapest way between two terminals, or None when there is none."""
        way = self.way(one, other)
        return None if way is None else lattice_length(way, self.pitch)

    def best_splice(self, terminals: Sequence[Terminal]) -> Voxel | None:
        """Return where a splice that joins all of these is cheapest, or None when none can be."""
        goals = [terminal.voxels for terminal in terminals]
        for reach in (0, FAR):
            floods = [self.flood(terminal.voxels, goals, reach) for terminal in terminals]
            if node := self.best_site(floods):
                return self.voxel_of(node)
        return None

    def best_site(self, floods: Sequence[int]) -> int:
        """Return the node where a splice costs least together with its ways to these floods; 0: none."""
        node = int(self.kernel.call("best_site", self.listed(floods), len(floods)))
        if node < 0:
            raise MemoryError(f"{len(floods)} ends are more than are looked at together")
        return node

    def listed(self, addresses: Sequence[int]) -> int:
        """Put addresses into the kernel and return where."""
        return self.kernel.put(np.array([at & 0xFFFFFFFF for at in addresses], dtype=np.uint32))

    def walk(self, labels: int, voxel: Voxel, *, kept: bool = False) -> NDArray[np.int32]:
        """Return (n, 3) the voxels from one back to where its label began."""
        room = self._way_room
        length = self.kernel.call("walk", labels, int(kept), self.node_of(voxel), room, self.size)
        self.done(length)
        nodes = self.kernel.view(room, length, np.uint32).astype(np.int64)
        way = np.empty((length, 3), dtype=np.int32)
        way[:, 0], rest = np.divmod(nodes, self.rows[0])
        way[:, 1], way[:, 2] = np.divmod(rest, self.rows[1])
        return way + (np.array(self.low, dtype=np.int32) - 1)

    @cached_property
    def _way_room(self) -> int:
        return self.kernel.empty(self.size, np.uint32)
