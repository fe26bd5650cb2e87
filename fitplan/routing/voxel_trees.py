"""Shortest trees over the free voxels of one vehicle: where the wires of a net branch.

A tree branches in a splice, where one may be, or at a terminal that takes more than one wire. Up to
`MOST_EXACT` terminals the tree is a shortest one over all voxels: labels for sets of terminals are handed
from voxel to voxel and joined at splices (Dreyfus and Wagner 1971; Erickson, Monma and Veinott 1987; from
memory, not confirmed), and what cannot be part of a tree as short as the one found greedily is left out. With
more terminals the greedy tree is compared with a shortest one over the terminals and some sites for splices
(`fitplan.routing.steiner`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from time import monotonic

import numpy as np
from numpy.typing import NDArray

from fitplan.kernels import load
from fitplan.routing.steiner import steiner_tree
from fitplan.routing.ways import COST_UNIT, Voxel, lattice_length

MOST_EXACT = 8
"""Up to so many terminals the tree is exact over all voxels: the work grows threefold with each."""
EDGE = 1024
"""Units of length of the kernel in a voxel edge at cost 1."""
_MOST_BYTES = 600_000_000
_FAR = 0xFFFFFFFF
_FIRST_REACH = 64 * EDGE
_SITES = 12
_SECONDS = 2.0
"""Longest search over sites; then the best so far is taken."""


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
    """

    edges: tuple[tuple[int, int], ...]
    ways: tuple[NDArray[np.int32], ...]
    splices: tuple[Voxel, ...]
    cost_mm: float
    proved: bool


@dataclass(frozen=True, eq=False)
class Ground:
    """What trees of all nets in one vehicle are laid over, framed by a voxel all round.

    Attributes
    ----------
    cost
        (x + 2, y + 2, z + 2) uint16, cost of a millimetre in each voxel in steps of 1/64.
    price
        (x + 2, y + 2, z + 2) uint32, what a splice counts for in units of length; 0: none may be there.
    """

    cost: NDArray[np.uint16]
    price: NDArray[np.uint32]
    pitch: float

    @classmethod
    def of(cls, cost: NDArray[np.floating], splice_mm: NDArray[np.floating], pitch: float = 0.8) -> Ground:
        """Return the ground of a map: cost of a millimetre, at least 1, and what a splice counts for in mm.

        A splice may be where that is above 0.
        """
        shape = tuple(n + 2 for n in cost.shape)
        costs = np.full(shape, COST_UNIT, dtype=np.uint16)
        costs[1:-1, 1:-1, 1:-1] = np.clip(np.rint(cost * COST_UNIT), COST_UNIT, 65535)
        prices = np.zeros(shape, dtype=np.uint32)
        prices[1:-1, 1:-1, 1:-1] = np.rint(np.maximum(splice_mm, 0.0) * (EDGE / pitch))
        return cls(costs, prices, pitch)


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
    """

    def __init__(
        self,
        free: NDArray[np.bool_],
        ground: Ground,
        *,
        further_mm: float = 4.0,
        taken: Iterable[Voxel] = (),
    ) -> None:
        self.pitch = ground.pitch
        self.further = self._units(further_mm)
        x, y, z = ground.cost.shape
        self._rows = (y * z, z, 1)
        self._size = x * y * z
        self._kernel = load("joining")
        opened = self._kernel.empty((x, y, z), np.uint8)
        self._kernel.view(opened, (x, y, z), np.uint8)[1:-1, 1:-1, 1:-1] = free
        costs = self._kernel.put(ground.cost)
        self._price_at = self._kernel.put(ground.price)
        prices = self._prices()
        for voxel in taken:
            prices[self._node(voxel)] = 0
        if not self._kernel.call("prepare", x, y, z, opened, costs, self._price_at):
            raise MemoryError(f"a map of {free.shape} voxels is too large for the search for trees")
        self._floods: dict[tuple[Voxel, ...], tuple[int, int]] = {}

    def _prices(self) -> NDArray[np.uint32]:
        return self._kernel.view(self._price_at, self._size, np.uint32)

    def _units(self, mm: float) -> int:
        return round(mm * EDGE / self.pitch)

    def _mm(self, units: int) -> float:
        return units * self.pitch / EDGE

    def _node(self, voxel: Voxel) -> int:
        return sum((int(c) + 1) * row for c, row in zip(voxel, self._rows, strict=True))

    def _voxel(self, node: int) -> Voxel:
        x, rest = divmod(node, self._rows[0])
        y, z = divmod(rest, self._rows[1])
        return (x - 1, y - 1, z - 1)

    def _nodes(self, voxels: Iterable[Voxel]) -> tuple[int, int]:
        """Put voxels into the kernel; return address and count."""
        nodes = np.array([self._node(voxel) for voxel in voxels], dtype=np.uint32)
        return self._kernel.put(nodes), len(nodes)

    # -- lengths from terminals ------------------------------------------------------------------------

    def _flood(
        self, voxels: tuple[Voxel, ...], goals: Sequence[tuple[Voxel, ...]] = (), at_least: int = 0
    ) -> int:
        """Return the address of the labels from some voxels: as far as all goals within reach, and so far."""
        known = self._floods.get(voxels)
        if known is not None and (
            known[1] == _FAR or (self._reached(known[0], goals) and at_least <= known[1])
        ):
            return known[0]
        labels = self._kernel.empty(self._size, np.uint32)
        self._kernel.call("begin", labels, 0, _FAR, 0, 0, 0)
        self._done(self._kernel.call("seed", *self._nodes(voxels), 0))
        until = max(at_least, _FIRST_REACH)
        while (answer := self._kernel.call("spread", until)) == 2:
            self._done(answer)
            # What lies in the last bucket is final only with all of it.
            until |= EDGE - 1
            if self._reached(labels, goals, until):
                break
            until *= 2
        self._done(answer)
        if answer == 1:
            until = _FAR
        else:
            self._kernel.call("trim", labels, until + 1)
        self._floods[voxels] = (labels, until)
        return labels

    def _reached(self, labels: int, goals: Iterable[tuple[Voxel, ...]], until: int = _FAR) -> bool:
        view = self._kernel.view(labels, self._size, np.uint32)
        return all(any(0 < view[self._node(v)] <= until for v in goal) for goal in goals)

    def _done(self, answer: int) -> None:
        if not answer:
            raise MemoryError("the search for a tree ran out of memory")

    def _least(self, labels: int, voxels: Iterable[Voxel]) -> tuple[int, Voxel] | None:
        """Return the least label at some voxels and where it is."""
        view = self._kernel.view(labels, self._size, np.uint32)
        found = [(int(view[self._node(voxel)]) - 1, voxel) for voxel in voxels]
        return min((one for one in found if one[0] >= 0), default=None)

    def cost_mm(self, one: Terminal, other: Terminal) -> float | None:
        """Return what the cheapest way between two terminals costs, or None when there is none."""
        found = self._least(self._flood(one.voxels, [other.voxels]), other.voxels)
        return None if found is None else self._mm(found[0])

    def way(self, one: Terminal, other: Terminal) -> NDArray[np.int32] | None:
        """Return (n, 3) the voxels of a cheapest way from one terminal to another, or None."""
        if other.voxels in self._floods and one.voxels not in self._floods:
            back = self.way(other, one)
            return None if back is None else back[::-1]
        labels = self._flood(one.voxels, [other.voxels])
        found = self._least(labels, other.voxels)
        return None if found is None else self._walk(labels, found[1])[::-1]

    def length_mm(self, one: Terminal, other: Terminal) -> float | None:
        """Return the length of a cheapest way between two terminals, or None when there is none."""
        way = self.way(one, other)
        return None if way is None else lattice_length(way, self.pitch)

    def best_splice(self, terminals: Sequence[Terminal]) -> Voxel | None:
        """Return where a splice that joins all of these is cheapest, or None when none can be."""
        goals = [terminal.voxels for terminal in terminals]
        for reach in (0, _FAR):
            floods = [self._flood(terminal.voxels, goals, reach) for terminal in terminals]
            if node := self._kernel.call("best_site", self._list(floods), len(floods)):
                return self._voxel(node)
        return None

    def _list(self, addresses: Sequence[int]) -> int:
        return self._kernel.put(np.array(addresses, dtype=np.uint32))

    def _walk(self, labels: int, voxel: Voxel, *, kept: bool = False) -> NDArray[np.int32]:
        """Return (n, 3) the voxels from one back to where its label began."""
        room = self._way_room
        length = self._kernel.call("walk", labels, int(kept), self._node(voxel), room, self._size)
        nodes = self._kernel.view(room, length, np.uint32).astype(np.int64)
        way = np.empty((length, 3), dtype=np.int32)
        way[:, 0], rest = np.divmod(nodes, self._rows[0])
        way[:, 1], way[:, 2] = np.divmod(rest, self._rows[1])
        return way - 1

    @cached_property
    def _way_room(self) -> int:
        return self._kernel.empty(self._size, np.uint32)

    # -- trees -------------------------------------------------------------------------------------------

    def tree(self, terminals: Sequence[Terminal]) -> VoxelTree | None:
        """Return a tree that joins all terminals, or None when none can be found.

        Raises
        ------
        ValueError
            There are fewer than two terminals.
        """
        if len(terminals) < 2:
            raise ValueError("a tree joins at least two terminals")
        floods = self._floods_of(terminals)
        between = self._between(terminals, floods)
        if between is None:
            return None
        greedy = _Greedy(self, terminals, floods).grow()
        if len(terminals) > MOST_EXACT:
            return self._over_sites(terminals, floods, between, greedy)
        # Without a greedy tree a chain through all terminals and back bounds nothing: look at everything.
        limit = _FAR // 4 if greedy is None else self._units(greedy.cost_mm) + 1
        found = _Exact(self, terminals, floods, between, limit).solve()
        return found or greedy

    def _floods_of(self, terminals: Sequence[Terminal]) -> list[int]:
        """Return labels from each terminal, as far as a shortest tree can matter.

        Leading all terminals to the splice nearest to the first one is a tree, and bounds the shortest.
        """
        goals = [terminal.voxels for terminal in terminals]
        first = self._flood(goals[0], goals)
        node = self._kernel.call("best_site", self._list([first]), 1)
        ways = [self._least(first, goal) for goal in goals]
        if not node or any(way is None for way in ways):
            return [self._flood(goal, goals, _FAR) for goal in goals]
        to_splice = int(self._kernel.view(first, self._size, np.uint32)[node]) - 1
        splices = (len(goals) - 2) * int(self._prices()[node])
        bound = sum(way[0] for way in ways if way) + len(goals) * to_splice + splices
        return [self._flood(goal, goals, bound) for goal in goals]

    def _between(self, terminals: Sequence[Terminal], floods: Sequence[int]) -> NDArray[np.uint32] | None:
        found = np.zeros((len(terminals), len(terminals)), dtype=np.uint32)
        for i, j in combinations(range(len(terminals)), 2):
            least = self._least(floods[i], terminals[j].voxels)
            if least is None:
                return None
            found[i, j] = found[j, i] = least[0]
        return found

    def _over_sites(
        self,
        terminals: Sequence[Terminal],
        floods: Sequence[int],
        between: NDArray[np.uint32],
        greedy: VoxelTree | None,
    ) -> VoxelTree | None:
        """Return the cheaper of the greedy tree and a shortest one over terminals and some sites."""
        near = np.argsort(between, axis=1)[:, :4].tolist()
        triples = {tuple(sorted(three)) for row in near for three in combinations(row, 3)}
        votes: dict[Voxel, int] = {}
        for three in sorted(triples):
            node = self._kernel.call("best_site", self._list([floods[i] for i in three]), 3)
            if node:
                votes[self._voxel(node)] = votes.get(self._voxel(node), 0) + 1
        chosen = sorted(votes, key=lambda site: (-votes[site], site))[:_SITES]
        nodes = [*terminals, *(Terminal((site,), len(terminals)) for site in chosen)]
        goals = [node.voxels for node in nodes]
        known = [self._flood(node.voxels, goals) for node in nodes]
        every = self._between(nodes, known)
        if every is None:
            return greedy
        found = self._shortest_over(nodes, every, len(terminals))
        if greedy is not None and (found is None or greedy.cost_mm <= found.cost_mm):
            return greedy
        return found

    def _shortest_over(
        self, nodes: Sequence[Terminal], between: NDArray[np.uint32], terminals: int
    ) -> VoxelTree | None:
        """Return a shortest tree over given nodes; terminals are its leaves, and sites cost as splices do."""
        prices = self._prices()
        site = [int(prices[self._node(node.voxels[0])]) for node in nodes]
        # Half of a splice's cost lies on each way to it; a leaf weighs so much that no second way to it pays.
        leaf = float(between.sum()) + 1.0
        edges = []
        for i, j in combinations(range(len(nodes)), 2):
            if j < terminals:
                continue
            extra = site[j] / 3 + (leaf if i < terminals else site[i] / 3)
            edges.append((i, j, float(between[i, j]) + extra))
        found = steiner_tree(edges, range(terminals), deadline=monotonic() + _SECONDS)
        links = [list(edges[index][:2]) for index in found.edges]
        for number in range(terminals, len(nodes)):
            own = [link for link in links if number in link]
            if len(own) == 2:
                one, two = (next(end for end in link if end != number) for link in own)
                links = [link for link in links if link not in own] + [[one, two]]
        ends = [end for link in links for end in link]
        if any(ends.count(number) != 1 for number in range(terminals)):
            return None
        kept = sorted({end for end in ends if end >= terminals})
        names = {old: terminals + new for new, old in enumerate(kept)}
        cost = sum(int(between[i, j]) for i, j in links) + sum((ends.count(n) - 2) * site[n] for n in kept)
        ways = [self.way(nodes[i], nodes[j]) for i, j in links]
        return VoxelTree(
            tuple((names.get(i, i), names.get(j, j)) for i, j in links),
            tuple(way for way in ways if way is not None),
            tuple(nodes[number].voxels[0] for number in kept),
            self._mm(cost),
            False,
        )


class _Greedy:
    """Each further terminal joins the nearest point of what stands (Takahashi and Matsuyama 1980)."""

    def __init__(self, map_: TreeMap, terminals: Sequence[Terminal], floods: Sequence[int]) -> None:
        self.map = map_
        self.terminals = terminals
        self.floods = floods
        self.room = [terminal.wires for terminal in terminals]
        self.edges: list[tuple[int, int, NDArray[np.int32]]] = []
        self.splices: list[Voxel] = []
        self.cost = 0

    def grow(self) -> VoxelTree | None:
        waiting = set(range(len(self.terminals)))
        first = min(waiting, key=lambda i: (-self.room[i], i))
        waiting.remove(first)
        self.joined = [first]
        while waiting:
            offers = [offer for i in sorted(waiting) if (offer := self._offer(i)) is not None]
            if not offers:
                return None
            cost, number, voxel, terminal = min(offers)
            self._join(number, voxel, terminal)
            self.cost += cost
            self.joined.append(number)
            waiting.remove(number)
        return VoxelTree(
            tuple((i, j) for i, j, _ in self.edges),
            tuple(way for _, _, way in self.edges),
            tuple(self.splices),
            self.map._mm(self.cost),
            False,
        )

    def _offer(self, number: int) -> tuple[int, int, Voxel, int] | None:
        """Return (cost, terminal, voxel, terminal that it joins or −1) of the cheapest way to the tree."""
        found: list[tuple[int, int, Voxel, int]] = []
        labels = self.floods[number]
        for other in self.joined:
            taken = sum(other in edge[:2] for edge in self.edges)
            if self.room[other] > taken:
                least = self.map._least(labels, self.terminals[other].voxels)
                if least is not None:
                    found.append((least[0] + (self.map.further if taken else 0), number, least[1], other))
        view = self.map._kernel.view(labels, self.map._size, np.uint32)
        price = self.map._prices()
        for _, _, way in self.edges:
            nodes = (way.astype(np.int64) + 1) @ np.array(self.map._rows)
            cost = view[nodes].astype(np.int64) - 1 + price[nodes]
            cost[(price[nodes] == 0) | (view[nodes] == 0)] = 2 * _FAR
            best = int(cost.argmin())
            if cost[best] < _FAR:
                x, y, z = way[best].tolist()
                found.append((int(cost[best]), number, (x, y, z), -1))
        return min(found, default=None)

    def _join(self, number: int, voxel: Voxel, terminal: int) -> None:
        way = self.map._walk(self.floods[number], voxel)[::-1]
        if terminal >= 0:
            self.edges.append((number, terminal, way))
            return
        count = len(self.terminals)
        if voxel in self.splices:
            self.edges.append((number, count + self.splices.index(voxel), way))
            return
        for place, (start, end, old) in enumerate(self.edges):
            at = np.flatnonzero((old == voxel).all(axis=1))
            if len(at):
                splice = count + len(self.splices)
                self.splices.append(voxel)
                self.edges[place : place + 1] = [
                    (start, splice, old[: at[0] + 1]),
                    (splice, end, old[at[0] :]),
                ]
                self.edges.append((number, splice, way))
                return
        raise AssertionError("a way ended beside the tree it was led to")


class _Exact:
    """Labels for every set of terminals without the first, over voxels that a tree in the limit may use."""

    def __init__(
        self,
        map_: TreeMap,
        terminals: Sequence[Terminal],
        floods: Sequence[int],
        between: NDArray[np.uint32],
        limit: int,
    ) -> None:
        self.map, self.kernel = map_, map_._kernel
        # The first terminal is the root: best the one that takes most wires.
        order = sorted(range(len(terminals)), key=lambda i: (-terminals[i].wires, i))
        self.order = order
        self.terminals = [terminals[i] for i in order]
        self.floods = [floods[i] for i in order]
        self.between = np.ascontiguousarray(between[np.ix_(order, order)])
        self.guards = self._over_groups()
        self.limit = limit
        self.labels: dict[int, int] = {}
        self.known: dict[tuple[int, int, int], tuple[int, tuple[int, ...]]] = {}
        self.edges: list[tuple[int, int, NDArray[np.int32]]] = []
        self.splices: list[Voxel] = []

    def _over_groups(self) -> list[int]:
        """Return labels from each terminal that no tree undercuts; shorten the ways between them likewise.

        A tree may reach a terminal at one voxel and leave it at another, which no way over voxels does.
        """
        groups = [i for i, one in enumerate(self.terminals) if one.wires > 1 and len(one.voxels) > 1]
        if not groups:
            return self.floods
        for over in groups:
            both = self.between[:, over, None].astype(np.uint64) + self.between[None, over, :]
            self.between = np.minimum(self.between, both).astype(np.uint32)
        found = []
        for i, flood in enumerate(self.floods):
            labels = self.kernel.call("copied", flood)
            self.map._done(labels)
            for over in groups:
                if over != i:
                    self.kernel.call("lower", labels, self.floods[over], int(self.between[i, over]))
            found.append(labels)
        return found

    def solve(self) -> VoxelTree | None:
        count = len(self.terminals)
        between = self.kernel.put(np.ascontiguousarray(self.between))
        kept = int(self.kernel.call("keep", self.map._list(self.guards), count, between, self.limit))
        self._size = kept
        if not kept or 4 * kept << (count - 1) > _MOST_BYTES:
            return None
        self._numbers = [
            [n for v in terminal.voxels if (n := self.kernel.call("number", self.map._node(v)))]
            for terminal in self.terminals
        ]
        self._fill_singles()
        whole = (1 << (count - 1)) - 1
        for group in range(1, whole + 1):
            if group & (group - 1):
                self._spread(group)
        cost, parts = self._joined_at(0, whole, self.terminals[0].wires)
        if cost >= _FAR:
            return None
        for part in parts:
            self._descend(part, 0, self._arrival(part, 0)[1])
        back = dict(enumerate(self.order))
        return VoxelTree(
            tuple((back.get(i, i), back.get(j, j)) for i, j, _ in self.edges),
            tuple(way for _, _, way in self.edges),
            tuple(self.splices),
            self.map._mm(cost - self.map.further),
            True,
        )

    def _fill_singles(self) -> None:
        """Copy the labels of single terminals, numbered by kept voxels."""
        for i in range(1, len(self.terminals)):
            self.labels[1 << (i - 1)] = self.kernel.call("numbered", self.floods[i])

    def _spread(self, group: int) -> None:
        labels = self.kernel.empty(self._size, np.uint32)
        outside = [i for i in range(len(self.terminals)) if not i or not group >> (i - 1) & 1]
        guards = self.map._list([self.guards[i] for i in outside])
        apart = self.kernel.put(np.ascontiguousarray(self.between[np.ix_(outside, outside)]))
        self.kernel.call("begin", labels, 1, self.limit, guards, len(outside), apart)
        lowest = group & -group
        part = (group - 1) & group
        while part:
            rest = group ^ part
            if part & lowest and part in self.labels and rest in self.labels:
                self.map._done(self.kernel.call("merge", self.labels[part], self.labels[rest]))
            part = (part - 1) & group
        for i in range(1, len(self.terminals)):
            if group >> (i - 1) & 1 and self.terminals[i].wires > 1:
                cost, _ = self._joined_at(i, group ^ 1 << (i - 1), self.terminals[i].wires - 1)
                if cost < _FAR:
                    nodes = self.map._nodes(self.terminals[i].voxels)
                    self.map._done(self.kernel.call("seed", *nodes, cost))
        self.map._done(self.kernel.call("spread", self.limit))
        self.labels[group] = labels

    def _arrival(self, group: int, terminal: int) -> tuple[int, Voxel]:
        """Return the least label of a set at a terminal outside it, and the voxel; `_FAR`: none."""
        if group not in self.labels:
            return _FAR, (0, 0, 0)
        view = self.kernel.view(self.labels[group], self._size, np.uint32)
        found = [
            (int(view[number]) - 1, voxel)
            for number, voxel in zip(self._numbers[terminal], self.terminals[terminal].voxels, strict=True)
            if view[number]
        ]
        return min(found, default=(_FAR, (0, 0, 0)))

    def _joined_at(self, terminal: int, group: int, wires: int) -> tuple[int, tuple[int, ...]]:
        """Return the least cost of leading a set to a terminal by at most so many wires, and its parts."""
        if not group:
            return (0, ())
        if wires <= 0:
            return (_FAR, ())
        key = (terminal, group, wires)
        if key not in self.known:
            self.known[key] = self._best_at(*key)
        return self.known[key]

    def _best_at(self, terminal: int, group: int, wires: int) -> tuple[int, tuple[int, ...]]:
        direct = self._arrival(group, terminal)[0] + self.map.further
        best: tuple[int, tuple[int, ...]] = (direct, (group,)) if direct < _FAR else (_FAR, ())
        lowest = group & -group
        part = (group - 1) & group
        while part:
            if part & lowest and wires > 1:
                first = self._arrival(part, terminal)[0] + self.map.further
                if first < best[0]:
                    cost, parts = self._joined_at(terminal, group ^ part, wires - 1)
                    if first + cost < best[0]:
                        best = (first + cost, (part, *parts))
            part = (part - 1) & group
        return best

    def _descend(self, group: int, node: int, voxel: Voxel) -> None:
        """Note the wires of a set's tree from a node outwards."""
        count = len(self.terminals)
        if not group & (group - 1):
            terminal = group.bit_length()
            self.edges.append((node, terminal, self.map._walk(self.floods[terminal], voxel)))
            return
        way = self.map._walk(self.labels[group], voxel, kept=True)
        x, y, z = way[-1].tolist()
        seed: Voxel = (x, y, z)
        number = self.kernel.call("number", self.map._node(seed))
        value = self._label(group, number)
        for i in range(1, count):
            if group >> (i - 1) & 1 and self.terminals[i].wires > 1 and seed in self.terminals[i].voxels:
                cost, parts = self._joined_at(i, group ^ 1 << (i - 1), self.terminals[i].wires - 1)
                if cost == value:
                    self.edges.append((node, i, way))
                    for part in parts:
                        self._descend(part, i, self._arrival(part, i)[1])
                    return
        price = int(self.map._prices()[self.map._node(seed)])
        part = (group - 1) & group
        while part:
            rest = group ^ part
            one, two = self._label(part, number), self._label(rest, number)
            if one < _FAR and two < _FAR and one + two + price == value:
                break
            part = (part - 1) & group
        assert part, "a label began where nothing joins"
        if node >= count and self.splices[node - count] == seed:
            splice = node
        else:
            splice = count + len(self.splices)
            self.splices.append(seed)
            self.edges.append((node, splice, way))
        self._descend(part, splice, seed)
        self._descend(group ^ part, splice, seed)

    def _label(self, group: int, number: int) -> int:
        if group not in self.labels:
            return _FAR
        value = int(self.kernel.view(self.labels[group], self._size, np.uint32)[number])
        return value - 1 if value else _FAR
