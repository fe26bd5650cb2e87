"""Continuity: pairs of places, as few as go, so that every wire lies between the leads of one of them.

In a tree, ends taken in the order of a walk and paired half the way round cover every branch: what hangs on
a branch is an unbroken piece of that order, and no such piece but the whole is closed under the pairing.  No
set of pairs can be smaller than half the ends.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fitplan.workbench.copper import Copper, Node, Ohmmeter


@dataclass(frozen=True)
class ProbedWay:
    """Two places and the wires between them; ``ohm`` counts these and resistors on the way."""

    one: Node
    other: Node
    wires: tuple[int, ...]
    ohm: float


class WireGraph:
    """Places joined by wires, pins that a part joins with copper taken as one."""

    def __init__(self, copper: Copper) -> None:
        self._root: dict[Node, Node] = {}
        for a, b in copper.joined:
            low, high = sorted((self.place(a), self.place(b)))
            if low != high:
                self._root[high] = low
        behind = {joint: (pin, ohm) for joint, pin, ohm in copper.leads}
        self.near: dict[Node, list[tuple[int, Node, float]]] = {}
        self.ends: dict[int, tuple[Node, Node]] = {}
        for one in copper.conductors:
            ohm = one.ohm
            ends = []
            for node in (one.start, one.end):
                pin, more = behind.get(node, (node, 0.0))
                ohm += more
                ends.append(pin)
            self.ends[one.wire.number] = (ends[0], ends[1])
            a, b = self.place(ends[0]), self.place(ends[1])
            self.near.setdefault(a, []).append((one.wire.number, b, ohm))
            self.near.setdefault(b, []).append((one.wire.number, a, ohm))
        self.wired = copper.wired

    def place(self, node: Node) -> Node:
        """Return the node that stands for all pins that are joined to one."""
        while (above := self._root.get(node, node)) != node:
            node = above
        return node

    def pieces(self) -> list[list[Node]]:
        """Return the places that wires join, each piece in the order of a walk along its branches."""
        seen: set[Node] = set()
        found = []
        for start in self.near:
            if start not in seen:
                found.append(self._walk(start, seen))
        return found

    def _walk(self, start: Node, seen: set[Node]) -> list[Node]:
        order: list[Node] = []
        stack = [start]
        while stack:
            node = stack.pop()
            if node in seen:
                continue
            seen.add(node)
            order.append(node)
            stack.extend(other for _, other, _ in reversed(self.near[node]) if other not in seen)
        return order

    def path(self, one: Node, other: Node) -> ProbedWay:
        """Return the wires between two places of a piece; of several ways the one with the fewest."""
        goal = self.place(other)
        back: dict[Node, tuple[Node, int, float] | None] = {self.place(one): None}
        queue = deque(back)
        while queue and goal not in back:
            node = queue.popleft()
            for wire, far, ohm in self.near[node]:
                if far not in back:
                    back[far] = (node, wire, ohm)
                    queue.append(far)
        wires: list[int] = []
        total = 0.0
        step = back[goal]
        while step is not None:
            node, wire, ohm = step
            wires.insert(0, wire)
            total += ohm
            step = back[node]
        return ProbedWay(one, other, tuple(wires), total)


def continuity_pairs(copper: Copper) -> list[ProbedWay]:
    """Return the pairs that cover every wire and touch every pin and cavity that stands for itself."""
    graph = WireGraph(copper)
    touched: dict[Node, list[Node]] = {}
    for node in graph.wired:
        touched.setdefault(graph.place(node), []).append(node)
    found: list[ProbedWay] = []
    for piece in graph.pieces():
        ends = [node for place in piece for node in _leads(touched.get(place, ()), graph.wired)]
        found += [graph.path(a, b) for a, b in half_way_round(ends) if graph.place(a) != graph.place(b)]
    return found


def _leads(nodes: Iterable[Node], wired: Mapping[Node, tuple[int, ...]]) -> list[Node]:
    """Return where a lead is put at pins that a part joins: at one, and at each with several wires."""
    several = [node for node in nodes if len(wired[node]) > 1]
    return several or list(nodes)[:1]


def half_way_round(ends: list[Node]) -> list[tuple[Node, Node]]:
    """Pair the ends of a tree, in the order of a walk, each with the one half the way round."""
    half = len(ends) // 2
    pairs = [(ends[place], ends[place + half]) for place in range(half)]
    if len(ends) % 2 and len(ends) > 1:
        pairs.append((ends[-1], ends[0] if half else ends[-1]))
    return pairs


def coupled_pairs(copper: Copper) -> list[ProbedWay]:
    """Return the pairs that cover every contact of the coupling connectors once the train is coupled."""
    graph, meter = WireGraph(copper), Ohmmeter(copper.bonds(coupled=True, parts=False))
    home = {place: number for number, piece in enumerate(graph.pieces()) for place in piece}
    near: dict[int, list[int]] = {}
    for a, b in copper.contacts:
        one, other = home[graph.place(a)], home[graph.place(b)]
        near.setdefault(one, []).append(other)
        near.setdefault(other, []).append(one)
    best: dict[int, Node] = {}
    for node in sorted(graph.wired, key=lambda node: node[0] != "pin"):
        best.setdefault(home[graph.place(node)], node)
    seen: set[int] = set()
    found = []
    for start in near:
        if start in seen:
            continue
        order, stack = [], [start]
        while stack:
            piece = stack.pop()
            if piece not in seen:
                seen.add(piece)
                order.append(piece)
                stack.extend(reversed(near[piece]))
        ends = [best[piece] for piece in order if len(near[piece]) == 1]
        found += [ProbedWay(a, b, (), meter.ohm(a, b)) for a, b in half_way_round(ends)]
    return found
