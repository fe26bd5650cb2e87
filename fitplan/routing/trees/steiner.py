"""Shortest trees that join given nodes of a graph, with proof: the Steiner tree problem in graphs.

Branch and bound. Each part of the search first makes the graph smaller without losing every best tree (nodes
of degree one and two, edges longer than a way round over given nodes, edges that must be in), then bounds it
from below by dual ascent (Wong, Math. Programming 28, 1984) and from above by joining the nearest node by a
shortest way (Takahashi and Matsuyama 1980). The reductions are those of Duin and Volgenant, Networks 19
(1989). All three are cited from memory, not confirmed; the tests prove the results another way.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from fitplan.routing.trees.reductions import Graph, originals, reduce_graph
from fitplan.routing.trees.tree_bounds import dual_ascent, join_nearest

Node = TypeVar("Node", bound=Hashable)


@dataclass(frozen=True)
class SteinerTree(Generic[Node]):
    """A tree that joins the terminals, and how good it is.

    Attributes
    ----------
    edges
        Indices of the graph's edges in the tree, ascending.
    weight
        Their sum; inf when the terminals cannot be joined.
    lower_bound
        No tree weighs less.
    proved
        True when the tree is a shortest one: nothing lighter was left to look at.
    parts
        Parts of the search.
    """

    edges: tuple[int, ...]
    weight: float
    lower_bound: float
    proved: bool
    parts: int


def steiner_tree(
    edges: Sequence[tuple[Node, Node, float]],
    terminals: Iterable[Node],
    *,
    most_parts: int | None = None,
) -> SteinerTree[Node]:
    """Return a shortest tree that joins all terminals.

    Parameters
    ----------
    edges
        (node, node, weight), undirected, weights at least 0; parallel edges are allowed.
    terminals
        The nodes to be joined.
    most_parts
        After so many parts of the search the best tree so far is returned, with what bounds it.

    Raises
    ------
    ValueError
        There is no terminal, or a weight is negative or not finite.
    """
    names: dict[Node, int] = {}
    graph: Graph = {}
    for index, (one, two, weight) in enumerate(edges):
        if not (0 <= weight < math.inf):
            raise ValueError(f"an edge weighs at least 0 and is finite, not {weight}")
        u, v = names.setdefault(one, len(names)), names.setdefault(two, len(names))
        graph.setdefault(u, {})
        graph.setdefault(v, {})
        if u != v and (v not in graph[u] or weight < graph[u][v][0]):
            graph[u][v] = graph[v][u] = (float(weight), index)
    wanted = set()
    for terminal in terminals:
        number = names.setdefault(terminal, len(names))
        graph.setdefault(number, {})
        wanted.add(number)
    if not wanted:
        raise ValueError("there is no terminal to join")
    whole = all(float(weight).is_integer() for _, _, weight in edges)
    return _SteinerSearch(edges, whole, most_parts).run(graph, wanted)


@dataclass
class _Part:
    """A part of the search: what is left of the graph, what is already in the tree, and a bound."""

    graph: Graph
    terminals: set[int]
    taken: list[int]
    weight: float
    bound: float


class _SteinerSearch(Generic[Node]):
    def __init__(
        self,
        edges: Sequence[tuple[Node, Node, float]],
        whole: bool,
        most_parts: int | None,
    ) -> None:
        self.weights = [float(weight) for _, _, weight in edges]
        # with whole weights the next better tree is lighter by one
        self.step = 1.0 - 1e-6 if whole else 1e-9 * max(self.weights, default=1.0)
        self.most_parts = most_parts
        self.best: tuple[int, ...] = ()
        self.best_weight = math.inf

    def run(self, graph: Graph, terminals: set[int]) -> SteinerTree[Node]:
        open_parts = [_Part(graph, terminals, [], 0.0, 0.0)]
        done = 0
        while open_parts and done != self.most_parts:
            done += 1
            open_parts.extend(self._split(open_parts.pop()))
        bound = min((part.bound for part in open_parts), default=self.best_weight)
        proved = not open_parts or bound > self.best_weight - self.step
        lower = self.best_weight if proved else min(bound, self.best_weight)
        return SteinerTree(self.best, self.best_weight, lower, proved, done)

    def _offer(self, taken: Iterable[int]) -> None:
        tree = tuple(sorted(set(taken)))
        weight = sum(self.weights[edge] for edge in tree)
        if weight < self.best_weight:
            self.best, self.best_weight = tree, weight

    def _hopeless(self, bound: float) -> bool:
        return bound > self.best_weight - self.step

    def _split(self, part: _Part) -> list[_Part]:
        """Look at a part: close it, or return the two parts that it falls into, the more promising last."""
        if self._hopeless(part.bound):
            return []
        graph, terminals = part.graph, part.terminals
        while True:
            added = reduce_graph(graph, terminals)
            if added is None:
                return []  # the terminals fall apart
            for edge in added:
                part.taken.append(edge)
                part.weight += self.weights[edge]
            if len(terminals) == 1:
                self._offer(part.taken)
                return []
            tree = join_nearest(graph, terminals)
            if tree is None:
                return []
            self._offer([*part.taken, *(e for u, v in tree for e in originals(graph[u][v][1]))])
            allowed = self.best_weight - self.step - part.weight
            bound, removed = dual_ascent(graph, terminals, allowed)
            part.bound = max(part.bound, part.weight + bound)
            if self._hopeless(part.bound):
                return []
            if not removed:
                break
        inner = [node for pair in tree for node in pair if node not in terminals]
        choice = inner or [node for node in graph if node not in terminals]
        if not choice:
            raise AssertionError("a graph of terminals alone is solved by its reductions")
        pick = max(sorted(set(choice)), key=lambda node: (choice.count(node), len(graph[node])))
        without = {u: {v: e for v, e in near.items() if v != pick} for u, near in graph.items() if u != pick}
        with_it = {u: dict(near) for u, near in graph.items()}
        return [
            _Part(without, set(terminals), list(part.taken), part.weight, part.bound),
            _Part(with_it, {*terminals, pick}, part.taken, part.weight, part.bound),
        ]
