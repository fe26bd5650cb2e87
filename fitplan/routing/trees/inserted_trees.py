"""Trees over voxels grown by insertion: each terminal goes where it makes the tree least dearer.

The greedy tree (`tree_search.Greedy`) leads a terminal to a way that lies already, and where no splice may be
on a way it goes far round. Here a way makes room: it is parted by the best splice of all, for its two ends
and the terminal together. When all are in, each is taken out and put in again as long as that helps.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.trees.pieces import MOST_IN_SPLICE
from fitplan.routing.trees.tree_map import Terminal, TreeMap, VoxelTree

_ROUNDS = 4
"""So often all terminals are taken out and put in again."""

_Link = tuple[int, int]
_Offer = tuple[int, int, int, int]
"""What it costs; the node of its splice, or 0 for a wire to a terminal; the link, or twice that terminal."""


class Inserted:
    """A tree that grows.

    Parameters
    ----------
    floods
        Labels of all terminals.
    between
        (n, n) lengths between terminals, in units.
    """

    def __init__(
        self,
        map_: TreeMap,
        terminals: Sequence[Terminal],
        floods: Sequence[int],
        between: NDArray[np.uint32],
    ) -> None:
        self.map, self._count = map_, len(terminals)
        self._nodes = list(terminals)
        self._floods = list(floods)
        self._between = between
        self._links: list[_Link] = []
        self._asked: dict[tuple[int, _Link], _Offer | None] = {}

    def grow(self) -> VoxelTree | None:
        """Return the tree, or None where a terminal has no place in it."""
        between = self._between
        one, other = divmod(int(between.argmax()), self._count)
        self._links = [(one, other)]
        waiting = [number for number in range(self._count) if number not in (one, other)]
        while waiting:
            offers = [(offer, number) for number in waiting if (offer := self._offer(number)) is not None]
            if not offers:
                return None
            offer, number = min(offers)
            self._insert(number, offer)
            waiting.remove(number)
        return self._tree()

    def improved(self, tree: VoxelTree) -> VoxelTree:
        """Return a tree in which each terminal hangs where it is best, if that is cheaper."""
        numbers = [self._splice(self.map.node_of(voxel)) for voxel in tree.splices]
        names = dict(enumerate(numbers, self._count))
        self._links = [(names.get(one, one), names.get(other, other)) for one, other in tree.edges]
        self._improve()
        found = self._tree()
        return found if found.cost_mm < tree.cost_mm else tree

    def _improve(self) -> None:
        """Take each terminal out and put it in again, as long as the tree is cheaper for it."""
        cost = self._cost()
        for _ in range(_ROUNDS):
            before = cost
            for number in range(self._count):
                if self._degree(number) != 1:
                    continue
                kept = self._links
                self._take_out(number)
                offer = self._offer(number)
                if offer is not None:
                    self._insert(number, offer)
                if offer is not None and self._cost() < cost:
                    cost = self._cost()
                else:
                    self._links = kept
            if cost == before:
                return

    # -- insertion -------------------------------------------------------------------------------------------

    def _offer(self, number: int) -> _Offer | None:
        """Return the cheapest place of a terminal in the tree."""
        found = [
            offer
            for link in self._links
            if (offer := self._parted(number, link)) is not None and not self._is_full(offer[1])
        ]
        for other in {end for link in self._links for end in link if end < self._count}:
            if self._nodes[other].wires > self._degree(other):
                found.append((int(self._between[number, other]) + self.map.further, 0, other, other))
        return min(found, default=None)

    def _parted(self, number: int, link: _Link) -> _Offer | None:
        """Return what it costs to lead a terminal to a splice that parts a link; None: none may be."""
        if (number, link) not in self._asked:
            self._asked[number, link] = self._part(number, link)
        return self._asked[number, link]

    def _part(self, number: int, link: _Link) -> _Offer | None:
        floods = [self._floods[end] for end in (*link, number)]
        node = self.map.best_site(floods)
        if not node:
            return None
        ways = sum(int(self.map.kernel.view(at, self.map.size, np.uint32)[node]) - 1 for at in floods)
        return ways + int(self.map.prices()[node]) - self._length(*link), node, *link

    def _is_full(self, node: int) -> bool:
        place = self.map.voxel_of(node)
        numbers = (n for n in range(self._count, len(self._nodes)) if self._nodes[n].voxels[0] == place)
        return any(self._degree(number) >= MOST_IN_SPLICE for number in numbers)

    def _insert(self, number: int, offer: _Offer) -> None:
        _, node, one, other = offer
        if not node:
            self._links = [*self._links, (one, number)]
            return
        splice = self._splice(node)
        rest = [link for link in self._links if link != (one, other)]
        ends = [end for end in (one, other, number) if end != splice]
        self._links = rest + [(end, splice) for end in ends]

    def _take_out(self, number: int) -> None:
        """Take out a terminal at an end of the tree, and the splice that it hung from where two are left."""
        (held,) = (link for link in self._links if number in link)
        at = held[0] if held[1] == number else held[1]
        self._links = [link for link in self._links if link != held]
        if at >= self._count and self._degree(at) == 2:
            one, other = (end for link in self._links if at in link for end in link if end != at)
            self._links = [*(link for link in self._links if at not in link), (one, other)]

    def _splice(self, node: int) -> int:
        """Return the number of a splice at a site."""
        place = Terminal((self.map.voxel_of(node),), self._count)
        if place not in self._nodes[self._count :]:
            goals = [terminal.voxels for terminal in self._nodes]
            self._nodes.append(place)
            self._floods.append(self.map.flood(place.voxels, goals))
        return self._nodes.index(place, self._count)

    # -- what it costs ---------------------------------------------------------------------------------------

    def _degree(self, number: int) -> int:
        return sum(number in link for link in self._links)

    def _length(self, one: int, other: int) -> int:
        if max(one, other) < self._count:
            return int(self._between[one, other])
        if one < other:
            one, other = other, one
        least = self.map.least(self._floods[one], self._nodes[other].voxels)
        assert least is not None, "what is linked hangs together"
        return least[0]

    def _cost(self) -> int:
        prices = self.map.prices()
        cost = sum(self._length(*link) for link in self._links)
        for number in {end for link in self._links for end in link}:
            more = self._degree(number)
            if number < self._count:
                cost += (more - 1) * self.map.further
            else:
                cost += (more - 2) * int(prices[self.map.node_of(self._nodes[number].voxels[0])])
        return cost

    def _tree(self) -> VoxelTree:
        cost = self.map.in_mm(self._cost())
        used = sorted({end for link in self._links for end in link if end >= self._count})
        names = {old: self._count + new for new, old in enumerate(used)}
        ways = tuple(self._way(*link) for link in self._links)
        edges = tuple((names.get(one, one), names.get(other, other)) for one, other in self._links)
        return VoxelTree(edges, ways, tuple(self._nodes[number].voxels[0] for number in used), cost, False)

    def _way(self, one: int, other: int) -> NDArray[np.int32]:
        if other >= self._count:
            return self.map.walk(self._floods[one], self._nodes[other].voxels[0])[::-1]
        if one >= self._count:
            return self.map.walk(self._floods[other], self._nodes[one].voxels[0])
        way = self.map.way(self._nodes[one], self._nodes[other])
        assert way is not None, "what is linked hangs together"
        return way
