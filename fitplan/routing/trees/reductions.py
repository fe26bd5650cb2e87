"""Makes a graph smaller without losing every shortest tree that joins its terminals."""

from __future__ import annotations

import heapq
import math
from typing import TypeAlias

Trace: TypeAlias = "int | tuple[Trace, Trace]"
"""Original edges that an edge of a reduced graph stands for: an index, or two traces."""

Graph: TypeAlias = dict[int, dict[int, tuple[float, Trace]]]
"""Neighbours of each node with weight and trace; kept the same both ways."""


def originals(trace: Trace) -> list[int]:
    """Return the original edges behind a trace."""
    found, stack = [], [trace]
    while stack:
        top = stack.pop()
        if isinstance(top, int):
            found.append(top)
        else:
            stack.extend(top)
    return found


def reduce_graph(graph: Graph, terminals: set[int]) -> list[int] | None:
    """Reduce in place; return the original edges found to be in a shortest tree, None when it falls apart.

    Applied until nothing changes:

    - other nodes of degree one are dropped, those of degree two become one edge;
    - an edge is dropped when both ends are joined by a shorter way, or by hops from terminal to terminal each
      of which is shorter than the edge (special distance);
    - a terminal's nearest neighbour is merged with it when the edge there plus the way on to another terminal
      is no longer than the terminal's second edge.
    """
    taken: list[int] = []
    keep_component(graph, terminals)
    if any(t not in graph for t in terminals):
        return None
    changed = True
    while changed and len(terminals) > 1:
        changed = _thin_out(graph, terminals)
        changed |= _drop_long_edges(graph, terminals)
        merged = _merge_nearest(graph, terminals)
        taken += merged
        changed |= bool(merged)
    return taken


def keep_component(graph: Graph, terminals: set[int]) -> None:
    """Drop all nodes that one of the terminals cannot reach."""
    first = min(terminals)
    seen, stack = {first}, [first]
    while stack:
        for node in graph[stack.pop()]:
            if node not in seen:
                seen.add(node)
                stack.append(node)
    for node in [node for node in graph if node not in seen]:
        del graph[node]


def lengths_from(graph: Graph, start: int, within: float = math.inf) -> dict[int, float]:
    """Return the distance of each node from one, as far as `within` (Dijkstra)."""
    found: dict[int, float] = {}
    queue = [(0.0, start)]
    while queue:
        length, node = heapq.heappop(queue)
        if node in found:
            continue
        found[node] = length
        for other, (weight, _) in graph[node].items():
            if other not in found and length + weight <= within:
                heapq.heappush(queue, (length + weight, other))
    return found


def _drop_edge(graph: Graph, u: int, v: int) -> None:
    del graph[u][v]
    del graph[v][u]


def _add_edge(graph: Graph, u: int, v: int, weight: float, trace: Trace) -> None:
    if u != v and (v not in graph[u] or weight < graph[u][v][0]):
        graph[u][v] = graph[v][u] = (weight, trace)


def _thin_out(graph: Graph, terminals: set[int]) -> bool:
    queue = list(graph)
    changed = False
    while queue:
        node = queue.pop()
        if node not in graph or node in terminals or len(graph[node]) > 2:
            continue
        changed = True
        near = list(graph[node].items())
        for other, _ in near:
            _drop_edge(graph, node, other)
        del graph[node]
        if len(near) == 2:
            (u, (a, first)), (v, (b, second)) = near
            _add_edge(graph, u, v, a + b, (first, second))
        queue += [other for other, _ in near]
    return changed


def _drop_long_edges(graph: Graph, terminals: set[int]) -> bool:
    longest = max((weight for near in graph.values() for weight, _ in near.values()), default=0.0)
    lengths = {node: lengths_from(graph, node, longest) for node in graph}
    hop = _bottlenecks(graph, terminals)
    near = {
        node: sorted((length, t) for t, length in lengths[node].items() if t in terminals)[:4]
        for node in graph
    }
    drop = []
    for u in graph:
        for v, (weight, _) in graph[u].items():
            if u < v and (
                lengths[u].get(v, weight) < weight - 1e-12 * weight
                or _hops_below(near[u], near[v], hop, weight)
            ):
                drop.append((u, v))
    for u, v in drop:
        _drop_edge(graph, u, v)
    return bool(drop)


def _hops_below(
    near_u: list[tuple[float, int]],
    near_v: list[tuple[float, int]],
    hop: dict[int, dict[int, float]],
    weight: float,
) -> bool:
    """Tell whether ends are joined over terminals by hops that are all strictly shorter than the edge."""
    limit = weight - 1e-12 * weight
    return any(
        a < limit and b < limit and (s == t or hop[s].get(t, math.inf) < limit)
        for a, s in near_u
        for b, t in near_v
    )


def _bottlenecks(graph: Graph, terminals: set[int]) -> dict[int, dict[int, float]]:
    """Return for each pair of terminals the longest hop on the best way from terminal to terminal."""
    reached = {t: lengths_from(graph, t) for t in terminals}
    pairs = sorted(
        (length, s, t) for s in terminals for t, length in reached[s].items() if t in terminals and s < t
    )
    group = {t: [t] for t in terminals}
    hop: dict[int, dict[int, float]] = {t: {} for t in terminals}
    for length, s, t in pairs:  # Kruskal: the hop that first joins two groups is the bottleneck between them
        one, two = group[s], group[t]
        if one is two:
            continue
        for a in one:
            for b in two:
                hop[a][b] = hop[b][a] = length
        one += two
        for b in two:
            group[b] = one
    return hop


def _merge_nearest(graph: Graph, terminals: set[int]) -> list[int]:
    taken: list[int] = []
    for terminal in sorted(terminals):
        if terminal not in terminals or len(terminals) == 1 or not graph[terminal]:
            continue
        order = sorted((weight, node) for node, (weight, _) in graph[terminal].items())
        first, nearest = order[0]
        second = order[1][0] if len(order) > 1 else math.inf
        if nearest in terminals:
            on = 0.0
        else:
            lengths = lengths_from(graph, nearest, second - first)
            on = min(
                (length for t, length in lengths.items() if t in terminals and t != terminal),
                default=math.inf,
            )
        if first + on <= second:
            taken += originals(graph[terminal][nearest][1])
            _merge(graph, terminals, terminal, nearest)
    return taken


def _merge(graph: Graph, terminals: set[int], keep: int, gone: int) -> None:
    for other, (weight, trace) in list(graph[gone].items()):
        _drop_edge(graph, gone, other)
        _add_edge(graph, keep, other, weight, trace)
    del graph[gone]
    terminals.discard(gone)
