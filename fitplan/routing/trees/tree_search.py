"""Two searches for a tree over voxels: greedy, and exact by labels for sets of terminals."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.trees.tree_map import FAR, Terminal, TreeMap, VoxelTree
from fitplan.routing.ways.way import Voxel

_MOST_BYTES = 600_000_000


class Greedy:
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
        """Return the tree, or None when a terminal can join nowhere."""
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
            self.map.in_mm(self.cost),
            False,
        )

    def _offer(self, number: int) -> tuple[int, int, Voxel, int] | None:
        """Return (cost, terminal, voxel, terminal that it joins or −1) of the cheapest way to the tree."""
        found: list[tuple[int, int, Voxel, int]] = []
        labels = self.floods[number]
        for other in self.joined:
            taken = sum(other in edge[:2] for edge in self.edges)
            if self.room[other] > taken:
                least = self.map.least(labels, self.terminals[other].voxels)
                if least is not None:
                    found.append((least[0] + (self.map.further if taken else 0), number, least[1], other))
        view = self.map.kernel.view(labels, self.map.size, np.uint32)
        price = self.map.prices()
        for _, _, way in self.edges:
            nodes = (way.astype(np.int64) + 1 - np.array(self.map.low)) @ np.array(self.map.rows)
            cost = view[nodes].astype(np.int64) - 1 + price[nodes]
            cost[(price[nodes] == 0) | (view[nodes] == 0)] = 2 * FAR
            best = int(cost.argmin())
            if cost[best] < FAR:
                x, y, z = way[best].tolist()
                found.append((int(cost[best]), number, (x, y, z), -1))
        return min(found, default=None)

    def _join(self, number: int, voxel: Voxel, terminal: int) -> None:
        way = self.map.walk(self.floods[number], voxel)[::-1]
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


def through_all(between: NDArray[np.uint32]) -> NDArray[np.uint32]:
    """Return the shortest ways from one terminal to another through all others of a set (Held and Karp 1962).

    Parameters
    ----------
    between
        (n, n) lengths.

    Returns
    -------
    numpy.ndarray
        (2**n, n, n) uint32, by the set as bits, from and to; where one of them is not in the set, or both are
        the same and others are in it, nothing of use.
    """
    count = len(between)
    far = np.uint64(FAR)
    found = np.full((1 << count, count, count), far, dtype=np.uint64)
    lengths = between.astype(np.uint64)
    sets = np.arange(1 << count)
    size = np.array([int(one).bit_count() for one in sets])
    for i in range(count):
        found[1 << i, i, i] = 0
    for many in range(2, count + 1):
        for last in range(count):
            here = sets[(size == many) & (sets >> last & 1 == 1)]
            before = found[here ^ (1 << last)]
            found[here, :, last] = np.minimum((before + lengths[:, last]).min(axis=2), far)
    return found.astype(np.uint32)


def least_joints(map_: TreeMap, terminals: Iterable[Terminal], branches: int) -> int:
    """Return what a tree that branches so often takes for it at least, in units.

    It branches in splices, each as dear as the cheapest, or at terminals that take more than one wire.
    """
    splice = map_.least_price()
    at_pins = min(sum(terminal.wires - 1 for terminal in terminals), branches)
    if map_.further >= splice > 0:
        at_pins = 0
    return at_pins * map_.further + (branches - at_pins) * splice


class Exact:
    """Labels for every set of terminals without the first, over voxels that a tree in the limit may use."""

    def __init__(
        self,
        map_: TreeMap,
        terminals: Sequence[Terminal],
        floods: Sequence[int],
        between: NDArray[np.uint32],
        limit: int,
        most_work: int,
        rounds: NDArray[np.uint32] | None = None,
    ) -> None:
        self.most_work = most_work
        self.gave_up = False
        self.map, self.kernel = map_, map_.kernel
        # The first terminal is the root: best the one that takes most wires.
        order = sorted(range(len(terminals)), key=lambda i: (-terminals[i].wires, i))
        self.order = order
        self.terminals = [terminals[i] for i in order]
        self.floods = [floods[i] for i in order]
        self.between = np.ascontiguousarray(between[np.ix_(order, order)])
        self.guards = self._over_groups()
        self.rounds = through_all(self.between) if rounds is None else rounds
        self.limit = limit
        self.labels: dict[int, int] = {}
        self._spare: list[int] = []
        self.known: dict[tuple[int, int, int], tuple[int, tuple[int, ...]]] = {}
        self.edges: list[tuple[int, int, NDArray[np.int32]]] = []
        self.splices: list[Voxel] = []

    def half_round(self) -> int:
        """Return half of a shortest round through all terminals, with the joints: no tree costs less."""
        count = len(self.terminals)
        ends = self.rounds[-1].astype(np.uint64) + self.between
        ends[np.diag_indices(count)] = FAR
        return int(ends.min()) // 2 + self._joints(range(count), count - 2)

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
            self.map.done(labels)
            for over in groups:
                if over != i:
                    self.kernel.call("lower", labels, self.floods[over], int(self.between[i, over]))
            found.append(labels)
        return found

    def solve(self) -> VoxelTree | None:
        """Return the tree, or None when there is none within the limit, or with `gave_up` none was found."""
        self.gave_up = True  # until the search has come to its end
        count = len(self.terminals)
        through = self.kernel.put(self.rounds[-1])
        ways = self.limit - self._joints(range(count), count - 2)
        if ways < 0:
            self.gave_up = False
            return None
        kept = int(self.kernel.call("keep", self.map.listed(self.guards), count, through, ways))
        self._size = kept
        if not kept:
            return None
        self._numbers = [
            [self.kernel.call("number", self.map.node_of(v)) for v in terminal.voxels]
            for terminal in self.terminals
        ]
        self._fill_singles()
        whole = (1 << (count - 1)) - 1
        begun = int(self.kernel.call("work_done"))
        for group in range(1, whole + 1):
            if group & (group - 1):
                self._spread(group)
                if int(self.kernel.call("work_done")) - begun > self.most_work:
                    return None
                if 4 * kept * len(self.labels) > _MOST_BYTES:
                    return None
        self.gave_up = False
        cost, parts = self._joined_at(0, whole, self.terminals[0].wires)
        if cost >= FAR:
            return None
        for part in parts:
            self._descend(part, 0, self._arrival(part, 0)[1])
        back = dict(enumerate(self.order))
        return VoxelTree(
            tuple((back.get(i, i), back.get(j, j)) for i, j, _ in self.edges),
            tuple(way for _, _, way in self.edges),
            tuple(self.splices),
            self.map.in_mm(cost - self.map.further),
            True,
        )

    def _fill_singles(self) -> None:
        """Copy the labels of single terminals, numbered by kept voxels."""
        for i in range(1, len(self.terminals)):
            labels = self.kernel.call("numbered", self.floods[i])
            self.map.done(labels)
            self.labels[1 << (i - 1)] = labels

    def _spread(self, group: int) -> None:
        if not self._spare:
            self._spare.append(self.kernel.empty(self._size, np.uint32))
        labels = self._spare[0]
        outside = [i for i in range(len(self.terminals)) if not i or not group >> (i - 1) & 1]
        guards = self.map.listed([self.guards[i] for i in outside])
        rounds = self.rounds[sum(1 << i for i in outside)][np.ix_(outside, outside)]
        through = self.kernel.put(np.ascontiguousarray(rounds))
        joints = self._joints(outside, len(outside) - 1)
        self.map.done(self.kernel.call("begin", labels, 1, self.limit, guards, len(outside), through, joints))
        lowest = group & -group
        for part in self.labels:
            if part & group == part and part & lowest and group ^ part in self.labels:
                self.map.done(self.kernel.call("merge", self.labels[part], self.labels[group ^ part]))
        for i in range(1, len(self.terminals)):
            if group >> (i - 1) & 1 and self.terminals[i].wires > 1:
                cost, _ = self._joined_at(i, group ^ 1 << (i - 1), self.terminals[i].wires - 1)
                if cost < FAR:
                    nodes = self.map.put_nodes(self.terminals[i].voxels)
                    self.map.done(self.kernel.call("seed", *nodes, cost))
        if self.kernel.call("is_empty"):
            return  # the memory is as it was and serves the next set
        self._spare.clear()
        self.map.done(self.kernel.call("spread", self.limit))
        self.labels[group] = labels

    def _joints(self, missing: Iterable[int], branches: int) -> int:
        return least_joints(self.map, [self.terminals[i] for i in missing], branches)

    def _arrival(self, group: int, terminal: int) -> tuple[int, Voxel]:
        """Return the least label of a set at a terminal outside it, and the voxel; `FAR`: none."""
        if group not in self.labels:
            return FAR, (0, 0, 0)
        view = self.kernel.view(self.labels[group], self._size, np.uint32)
        found = [
            (int(view[number]) - 1, voxel)
            for number, voxel in zip(self._numbers[terminal], self.terminals[terminal].voxels, strict=True)
            if view[number]
        ]
        return min(found, default=(FAR, (0, 0, 0)))

    def _joined_at(self, terminal: int, group: int, wires: int) -> tuple[int, tuple[int, ...]]:
        """Return the least cost of leading a set to a terminal by at most so many wires, and its parts."""
        key = (terminal, group, wires)
        if key not in self.known:
            self.known[key] = self._best_at(*key)
        return self.known[key]

    def _best_at(self, terminal: int, group: int, wires: int) -> tuple[int, tuple[int, ...]]:
        direct = self._arrival(group, terminal)[0] + self.map.further
        best: tuple[int, tuple[int, ...]] = (direct, (group,)) if direct < FAR else (FAR, ())
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
            self.edges.append((node, terminal, self.map.walk(self.floods[terminal], voxel)))
            return
        way = self.map.walk(self.labels[group], voxel, kept=True)
        x, y, z = way[-1].tolist()
        seed: Voxel = (x, y, z)
        number = self.kernel.call("number", self.map.node_of(seed))
        value = self._label(group, number)
        for i in range(1, count):
            if group >> (i - 1) & 1 and self.terminals[i].wires > 1 and seed in self.terminals[i].voxels:
                cost, parts = self._joined_at(i, group ^ 1 << (i - 1), self.terminals[i].wires - 1)
                if cost == value:
                    self.edges.append((node, i, way))
                    for part in parts:
                        self._descend(part, i, self._arrival(part, i)[1])
                    return
        price = int(self.map.prices()[self.map.node_of(seed)])
        part = (group - 1) & group
        while part:
            rest = group ^ part
            one, two = self._label(part, number), self._label(rest, number)
            if one + two + price == value:
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
            return FAR
        value = int(self.kernel.view(self.labels[group], self._size, np.uint32)[number])
        return value - 1 if value else FAR
