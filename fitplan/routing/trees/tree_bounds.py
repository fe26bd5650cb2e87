"""Bounds for trees that join terminals: from below by dual ascent, from above by joining the nearest."""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable

from fitplan.routing.trees.reductions import Graph


def join_nearest(graph: Graph, terminals: set[int]) -> list[tuple[int, int]] | None:
    """Return the edges of a tree that joins all terminals, None when they fall apart.

    From each of some terminals: join the nearest terminal by a shortest way, then the next to all of that;
    then span what was found by a lightest tree and cut off ends that are no terminals. The best is returned.
    """
    best: tuple[float, list[tuple[int, int]]] = (math.inf, [])
    starts = sorted(terminals)
    for start in starts[:: max(len(starts) // 12, 1)]:
        inside = {start}
        missing = terminals - inside
        while missing:
            path = _nearest(graph, inside, missing)
            if path is None:
                return None
            inside.update(path)
            missing = missing - inside
        tree = _pruned(_lightest(graph, inside), terminals)
        weight = sum(graph[u][v][0] for u, v in tree)
        if weight < best[0]:
            best = (weight, tree)
    return best[1]


def _nearest(graph: Graph, inside: set[int], missing: set[int]) -> list[int] | None:
    before: dict[int, int] = {}
    done: set[int] = set()
    queue = [(0.0, node, -1) for node in sorted(inside)]  # in order, so a heap
    while queue:
        length, node, origin = heapq.heappop(queue)
        if node in done:
            continue
        done.add(node)
        before[node] = origin
        if node in missing:
            path = [node]
            while before[path[-1]] >= 0:
                path.append(before[path[-1]])
            return path
        for other, (weight, _) in graph[node].items():
            if other not in done:
                heapq.heappush(queue, (length + weight, other, node))
    return None


def _lightest(graph: Graph, inside: set[int]) -> list[tuple[int, int]]:
    """Return a lightest spanning tree of some nodes (Prim)."""
    start = min(inside)
    done: set[int] = set()
    tree = []
    queue = [(0.0, start, -1)]
    while queue:
        _, node, origin = heapq.heappop(queue)
        if node in done:
            continue
        done.add(node)
        if origin >= 0:
            tree.append((origin, node))
        for other, (weight, _) in graph[node].items():
            if other in inside and other not in done:
                heapq.heappush(queue, (weight, other, node))
    return tree


def _pruned(tree: list[tuple[int, int]], terminals: set[int]) -> list[tuple[int, int]]:
    near: dict[int, set[int]] = {}
    for u, v in tree:
        near.setdefault(u, set()).add(v)
        near.setdefault(v, set()).add(u)
    ends = [node for node, others in near.items() if len(others) == 1 and node not in terminals]
    while ends:
        node = ends.pop()
        (other,) = near.pop(node)
        near[other].discard(node)
        if len(near[other]) == 1 and other not in terminals:
            ends.append(other)
    return [(u, v) for u, v in tree if u in near and v in near]


def dual_ascent(graph: Graph, terminals: set[int], allowed: float) -> tuple[float, bool]:
    """Return a lower bound of the tree's weight, and whether nodes or edges could be dropped from the graph.

    Every tree, directed away from a root, has an arc into each set of nodes that holds a terminal but not the
    root. Raising such sets until one of their arcs is used up gives a feasible dual solution, whose value is
    the bound. A node or edge whose use would cost more than `allowed` by the arcs' remaining weights is in
    no tree worth looking for, and is dropped.
    """
    best, changed = 0.0, False
    roots = sorted(terminals, key=lambda t: (-len(graph[t]), t))[:3]
    for root in roots:
        rest = {(u, v): weight for u, near in graph.items() for v, (weight, _) in near.items()}
        bound = _ascend(graph, rest, terminals, root)
        best = max(best, bound)
        if bound > allowed:
            return bound, changed
        if _drop_costly(graph, rest, terminals, root, allowed - bound):
            changed = True
    return best, changed


def _ascend(graph: Graph, rest: dict[tuple[int, int], float], terminals: set[int], root: int) -> float:
    bound = 0.0
    # the set with the fewest arcs into it is raised first; sizes are looked up again when it comes up
    queue = [(len(graph[t]), t) for t in terminals if t != root]
    heapq.heapify(queue)
    while queue:
        _, terminal = heapq.heappop(queue)
        behind, arcs = _set_behind(graph, rest, terminal, root)
        if root in behind:
            continue
        if queue and len(arcs) > queue[0][0]:
            heapq.heappush(queue, (len(arcs), terminal))
            continue
        if not arcs:
            return math.inf  # what was dropped before was needed: nothing as light as allowed is left
        least = min(rest[arc] for arc in arcs)
        bound += least
        for arc in arcs:
            rest[arc] -= least
        heapq.heappush(queue, (len(arcs), terminal))
    return bound


def _set_behind(
    graph: Graph, rest: dict[tuple[int, int], float], terminal: int, root: int
) -> tuple[set[int], list[tuple[int, int]]]:
    """Return the nodes that reach a terminal over used-up arcs, and the arcs that lead into them."""
    behind, stack = {terminal}, [terminal]
    while stack:
        node = stack.pop()
        for other in graph[node]:
            if other not in behind and rest[other, node] <= 1e-12:
                behind.add(other)
                stack.append(other)
                if other == root:
                    return behind, []
    return behind, [(other, node) for node in behind for other in graph[node] if other not in behind]


def _drop_costly(
    graph: Graph, rest: dict[tuple[int, int], float], terminals: set[int], root: int, allowed: float
) -> bool:
    """Drop what costs more than allowed on the way from the root to a terminal; tell whether any was."""
    out = _spread(graph, {root}, lambda u, v: rest[u, v])
    home = _spread(graph, terminals - {root}, lambda u, v: rest[v, u])
    margin = allowed + 1e-9
    nodes = [n for n in graph if n not in terminals and out.get(n, math.inf) + home.get(n, math.inf) > margin]
    for node in nodes:
        for other in list(graph[node]):
            del graph[node][other]
            del graph[other][node]
        del graph[node]
    edges = [
        (u, v)
        for u in graph
        for v in graph[u]
        if u < v
        and out[u] + rest[u, v] + home.get(v, math.inf) > margin
        and out[v] + rest[v, u] + home.get(u, math.inf) > margin
    ]
    for u, v in edges:
        del graph[u][v]
        del graph[v][u]
    return bool(nodes or edges)


def _spread(graph: Graph, starts: set[int], weight: Callable[[int, int], float]) -> dict[int, float]:
    """Return the least sum of arc weights from the starts to each node (Dijkstra)."""
    found: dict[int, float] = {}
    queue = [(0.0, node) for node in sorted(starts)]  # in order, so a heap
    while queue:
        length, node = heapq.heappop(queue)
        if node in found:
            continue
        found[node] = length
        for other in graph[node]:
            if other not in found:
                heapq.heappush(queue, (length + max(weight(node, other), 0.0), other))
    return found
