"""A proof that no place of the parts lets all wires through: rooms, what joins them, what must cross.

Parts are not placed here. Each counts as being wherever its mount and the bodies let it be by itself, and a
net takes one conductor from one room to another; so what is refuted here is so for every place of the parts.

- Whatever nets join, part by part, must lie in rooms that are joined.
- What one net joins must lie in rooms that are joined between the first and the last vehicle that it may have
  ends in: no wire is led out of a vehicle and back into it.
- Through the ports of an end, or through what alone joins two rooms, no more conductors go than are not
  proved impossible (`fitplan.routing.map.circle_packing`).
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from fitplan.planning.joined_rooms import Node, RoomLink, carried_as_laid, too_narrow
from fitplan.planning.least_crossing import least_crossing


@dataclass(frozen=True)
class BoundNet:
    """A net: its wire's outer diameter (mm) and its ends, by names in `WireRooms.where`."""

    name: str
    outer_mm: float
    ends: tuple[str, ...]


@dataclass(frozen=True)
class WireRooms:
    """What is known of a train whose parts have no places yet.

    Attributes
    ----------
    where
        For each end of a net the rooms that it may be in; None: anywhere.
    links
        Ports and couplings.
    words
        What a room is called.
    order
        The vehicles from the front to the rear; empty: which of them wires pass is not looked at.
    as_laid
        Holes carry what is known to go through them as wires are laid: side by side through the end of a
        vehicle, as a round bundle inside it. Then nothing is proved.
    """

    where: Mapping[str, frozenset[Node] | None]
    nets: tuple[BoundNet, ...]
    links: tuple[RoomLink, ...]
    words: Mapping[Node, str] = field(default_factory=dict)
    order: tuple[str, ...] = ()
    as_laid: bool = False

    @cached_property
    def _groups(self) -> list[list[BoundNet]]:
        return _groups(self.nets)

    def refuted(self, more: Iterable[RoomLink] = ()) -> str:
        """Say why no place of the parts lets all wires through with these links more; empty: not refuted."""
        links = (*self.links, *more)
        rooms = _Joined(links)
        for group in self._groups:
            left = self._common(rooms, group)
            if left is None:
                continue
            if not left:
                return self._apart(rooms, group)
            reasons = [self._overfull(rooms, home, group, links) for home in sorted(left)]
            if all(reasons):
                return reasons[0]
        for net, beyond in self._confined:
            between = _Joined(_short_of(beyond, links))
            if self._common(between, [net]) == set():
                return f"{self._apart(between, [net])}: no wire is led out of a vehicle and back in"
        return ""

    def in_the_way(self) -> frozenset[str]:
        """Return the vehicles whose rooms do not let all wires through, were all others without walls."""
        nodes = {node for places in self.where.values() for node in places or ()}
        nodes |= {node for link in self.links for node in link.ends}
        found = set()
        for name in self.order:
            own = [link for link in self.links if link.openings is None or link.ends[0][0] == name]
            bare = [RoomLink((node, (node[0], 0))) for node in nodes if node[0] != name]
            if replace(self, links=(*own, *bare)).refuted():
                found.add(name)
        return frozenset(found)

    @cached_property
    def _confined(self) -> list[tuple[BoundNet, frozenset[Node]]]:
        """The nets of which it is known which vehicles they pass, each with the ends that it stays off."""
        number = {name: place for place, name in enumerate(self.order)}
        found = []
        for net in self.nets if self.order else ():
            places = [self.where[end] for end in net.ends]
            homes = [number[node[0]] for nodes in places for node in nodes or ()]
            if None not in places and homes:
                beyond: list[Node] = [(name, "rear") for name in self.order[: min(homes)]]
                beyond += [(name, "front") for name in self.order[: min(homes) + 1]]
                beyond += [(name, "rear") for name in self.order[max(homes) :]]
                beyond += [(name, "front") for name in self.order[max(homes) + 1 :]]
                found.append((net, frozenset(beyond)))
        return found

    def least_more(self, more: Iterable[RoomLink], offered: Sequence[tuple[RoomLink, float]]) -> float:
        """Return what links more cost at the least before what nets join can be joined; inf: it never is.

        The way from one end of a group of nets to the farthest other, over what is offered at its price; how
        many conductors a link carries is not looked at.
        """
        everywhere = [*((link, 0.0) for link in (*self.links, *more)), *offered]
        asked = [
            (list(dict.fromkeys(end for net in group for end in net.ends)), everywhere)
            for group in self._groups
        ]
        for net, beyond in self._confined:
            asked.append((list(net.ends), [one for one in everywhere if _short_of(beyond, [one[0]])]))
        return max((self._farthest(ends, links) for ends, links in asked), default=0.0)

    def without_walls(
        self, inside: Mapping[str, float], ends: Mapping[Node, float], more: Sequence[RoomLink]
    ) -> list[tuple[RoomLink, float]]:
        """Return links at their price as if a brick joined all rooms of a vehicle, or these with an end.

        Parameters
        ----------
        inside, ends
            The price of a brick by vehicle, and of one by the end that its gap leads to.
        more
            Links whose rooms count as well.
        """
        nodes = {node for places in self.where.values() for node in places or ()}
        nodes |= {node for link in (*self.links, *more) for node in link.ends}
        rooms: dict[str, list[Node]] = {}
        for node in sorted(nodes, key=str):
            if not isinstance(node[1], str):
                rooms.setdefault(node[0], []).append(node)
        found = [
            (RoomLink(pair), price)
            for vehicle, price in inside.items()
            for pair in itertools.combinations(rooms.get(vehicle, ()), 2)
        ]
        for end, price in ends.items():
            found += [(RoomLink((room, end)), price) for room in rooms.get(end[0], ())]
        return found

    def _farthest(self, ends: Sequence[str], links: Sequence[tuple[RoomLink, float]]) -> float:
        """Return the price of the way from one end to the farthest other; inf where none leads there."""
        places = [nodes for end in ends if (nodes := self.where[end]) is not None]
        if len(places) < 2:
            return 0.0
        first = min(places, key=len)
        priced: dict[Node, list[tuple[Node, float]]] = {}
        for link, price in links:
            a, b = link.ends
            priced.setdefault(a, []).append((b, price))
            priced.setdefault(b, []).append((a, price))
        far = _distances(first, priced)
        return max(min(far.get(node, math.inf) for node in nodes) for nodes in places)

    def _common(self, rooms: _Joined, group: Sequence[BoundNet]) -> set[int] | None:
        """Return which groups of joined rooms may hold all ends of some nets; None: any."""
        left: set[int] | None = None
        for end in dict.fromkeys(end for net in group for end in net.ends):
            places = self.where[end]
            if places is not None:
                homes = {rooms.home(node) for node in places}
                left = homes if left is None else left & homes
        return left

    def _apart(self, rooms: _Joined, group: Sequence[BoundNet]) -> str:
        """Name two ends that no way joins, of one net if there are such."""
        pairs = [(net.ends[i], net.ends[j]) for net in group for j in range(len(net.ends)) for i in range(j)]
        ends = list(dict.fromkeys(end for net in group for end in net.ends))
        pairs += [(ends[i], ends[j]) for j in range(len(ends)) for i in range(j)]
        for one, other in pairs:
            first, second = self.where[one], self.where[other]
            if first is None or second is None:
                continue
            if {rooms.home(n) for n in first}.isdisjoint(rooms.home(n) for n in second):
                return (
                    f"{one} can only be in {self._named(first)}, {other} only in {self._named(second)},"
                    " and nothing that a wire passes joins the two"
                )
        return "no rooms that are joined for wires can hold all parts that nets join"

    def _named(self, nodes: Iterable[Node]) -> str:
        names = sorted({self.words.get(node, str(node)) for node in nodes})
        return " or ".join(names) if names else "no room"

    def _overfull(
        self, rooms: _Joined, home: int, group: Sequence[BoundNet], links: Sequence[RoomLink]
    ) -> str:
        """Say which links of one group of joined rooms carry less than must cross them; empty: none."""
        mine = [link for link in links if rooms.home(link.ends[0]) == home]
        for cut in _cuts(mine):
            others = [link for link in mine if link not in cut]
            parted = _Joined(others)
            crossing = [net.outer_mm for net in group if self._must_cross(net, rooms, home, parted)]
            if crossing and (why := too_narrow(cut, crossing)):
                return why
            if self.as_laid and any(
                wires and not carried_as_laid(cut, wires)
                for wires in (crossing, *self._wherever_they_lie(rooms, home, group, cut, parted))
            ):
                return "what wants through is not known to go through as it is laid"
        return ""

    def _wherever_they_lie(
        self,
        rooms: _Joined,
        home: int,
        group: Sequence[BoundNet],
        cut: Sequence[RoomLink],
        parted: _Joined,
    ) -> Iterator[list[float]]:
        """Yield what crosses a cut at the least, by diameter, if no part reaches through it.

        A part with a choice of rooms is in one of them, for all of its nets: once for each of the parts into
        which the cut falls, against all others.
        """
        ends = list(dict.fromkeys(end for net in group for end in net.ends))
        for near in dict.fromkeys(parted.key(node) for link in cut for node in link.ends):
            sides: list[bool | None] = []
            for end in ends:
                places = {parted.key(node) for node in self.where[end] or () if rooms.home(node) == home}
                sides.append(None if near in places and len(places) > 1 else near in places)
                if not places:
                    sides[-1] = None
            key = (tuple(ends), tuple(sides))
            if key not in self._crossings:
                nets = [(net.outer_mm, net.ends) for net in group]
                least = least_crossing(nets, dict(zip(ends, sides, strict=True)))
                self._crossings[key] = [group[number].outer_mm for number in least]
            yield self._crossings[key]

    @cached_property
    def _crossings(self) -> dict[tuple[tuple[str, ...], tuple[bool | None, ...]], list[float]]:
        """What crosses at the least, by the ends of a group and the sides that they lie on."""
        return {}

    def _must_cross(self, net: BoundNet, rooms: _Joined, home: int, parted: _Joined) -> bool:
        sides: list[set[Node]] = []
        for end in net.ends:
            places = self.where[end]
            if places is not None:
                sides.append({parted.key(node) for node in places if rooms.home(node) == home})
        return any(a.isdisjoint(b) for k, a in enumerate(sides) for b in sides[:k])


class _Joined:
    """Which nodes are joined by some links; a node without links stands alone."""

    def __init__(self, links: Iterable[RoomLink]) -> None:
        self._parent: dict[Node, Node] = {}
        for link in links:
            a, b = self.key(link.ends[0]), self.key(link.ends[1])
            if a != b:
                self._parent[max(a, b, key=str)] = min(a, b, key=str)
        self._numbers: dict[Node, int] = {}

    def key(self, node: Node) -> Node:
        """Return the node that stands for all that are joined with this one."""
        while node in self._parent:
            node = self._parent[node]
        return node

    def home(self, node: Node) -> int:
        """Return a number for all that are joined with a node."""
        return self._numbers.setdefault(self.key(node), len(self._numbers))


def _short_of(beyond: frozenset[Node], links: Iterable[RoomLink]) -> list[RoomLink]:
    """Return the links that come to none of some ends of vehicles."""
    return [link for link in links if beyond.isdisjoint(link.ends)]


def _distances(
    first: Iterable[Node], priced: Mapping[Node, Sequence[tuple[Node, float]]]
) -> dict[Node, float]:
    """Return the least price of a way from some nodes to each that can be reached (Dijkstra)."""
    far: dict[Node, float] = {}
    ticket = itertools.count()
    queue = [(0.0, next(ticket), node) for node in first]
    heapq.heapify(queue)
    while queue:
        price, _, node = heapq.heappop(queue)
        if node in far:
            continue
        far[node] = price
        for other, more in priced.get(node, ()):
            if other not in far:
                heapq.heappush(queue, (price + more, next(ticket), other))
    return far


def _groups(nets: Sequence[BoundNet]) -> list[list[BoundNet]]:
    """Return nets that hang together by the parts that they join."""
    groups: list[tuple[set[str], list[BoundNet]]] = []
    for net in nets:
        ends, mine = set(net.ends), [net]
        for other in [group for group in groups if group[0] & ends]:
            groups.remove(other)
            ends |= other[0]
            mine = [*other[1], *mine]
        groups.append((ends, mine))
    return [mine for _, mine in groups]


def _cuts(links: Sequence[RoomLink]) -> list[tuple[RoomLink, ...]]:
    """Return sets of links that may part what they join: at an end of a vehicle, between two rooms."""
    found: dict[tuple[RoomLink, ...], None] = {}
    narrow = [link for link in links if link.openings is not None]
    for node in dict.fromkeys(node for link in narrow for node in link.ends if isinstance(node[1], str)):
        found[tuple(link for link in narrow if node in link.ends)] = None
    for ends in dict.fromkeys(frozenset(link.ends) for link in narrow):
        found[tuple(link for link in narrow if frozenset(link.ends) == ends)] = None
    return list(found)
