"""Reductions, bounds and quick trees of graphs, step by step, beside shortest trees by enumeration."""

from __future__ import annotations

import math
from copy import deepcopy
from itertools import combinations

import networkx as nx
import numpy as np
import pytest

from fitplan.routing.trees.reductions import (
    Graph,
    _bottlenecks,
    _drop_long_edges,
    _merge_nearest,
    _thin_out,
    keep_component,
    lengths_from,
    originals,
    reduce_graph,
)
from fitplan.routing.trees.tree_bounds import (
    _ascend,
    _drop_costly,
    _lightest,
    _nearest,
    _pruned,
    dual_ascent,
    join_nearest,
)

SEEDS = range(20)


def drawn(seed: int, nodes: int = 8, share: float = 0.4) -> tuple[Graph, set[int], nx.Graph]:
    """Return a random connected graph with whole weights, some of its nodes, and it for networkx."""
    rng = np.random.default_rng(seed)
    plain: nx.Graph = nx.Graph(nx.random_labeled_tree(nodes, seed=seed))
    plain.add_edges_from((u, v) for u, v in combinations(range(nodes), 2) if rng.random() < share)
    for _, _, data in plain.edges(data=True):
        data["weight"] = float(rng.integers(1, 12))
    terminals = set(rng.choice(nodes, int(rng.integers(2, 6)), replace=False).tolist())
    return as_graph(plain), terminals, plain


def as_graph(plain: nx.Graph) -> Graph:
    graph: Graph = {node: {} for node in plain}
    for index, (u, v, data) in enumerate(plain.edges(data=True)):
        graph[u][v] = graph[v][u] = (data["weight"], index)
    return graph


def as_plain(graph: Graph) -> nx.Graph:
    plain: nx.Graph = nx.Graph()
    plain.add_nodes_from(graph)
    plain.add_weighted_edges_from((u, v, w) for u, near in graph.items() for v, (w, _) in near.items())
    return plain


def least(plain: nx.Graph, terminals: set[int]) -> float:
    """Weight of a shortest tree: a lightest tree over the terminals with any others that it may pass."""
    best = math.inf
    others = sorted(set(plain) - terminals)
    for count in range(len(others) + 1):
        for some in combinations(others, count):
            part = plain.subgraph([*terminals, *some])
            if nx.is_connected(part):
                best = min(best, nx.minimum_spanning_tree(part).size(weight="weight"))
    return best


def same_both_ways(graph: Graph) -> bool:
    return all(graph[v][u] == told for u, near in graph.items() for v, told in near.items())


def weight_of(plain: nx.Graph, indices: list[int]) -> float:
    edges = list(plain.edges(data="weight"))
    return sum(edges[index][2] for index in indices)


@pytest.mark.parametrize("seed", SEEDS)
def test_lengths_are_those_of_networkx(seed: int) -> None:
    """To every node, and to those within a length only."""
    graph, _, plain = drawn(seed)
    for start in graph:
        every = nx.single_source_dijkstra_path_length(plain, start)
        assert lengths_from(graph, start) == every
        assert lengths_from(graph, start, 7.0) == {node: far for node, far in every.items() if far <= 7.0}


@pytest.mark.parametrize("seed", SEEDS)
def test_each_reduction_keeps_a_shortest_tree(seed: int) -> None:
    """What is left, with what was taken, weighs as much as before: one step at a time and all in turn."""
    graph, terminals, plain = drawn(seed)
    wanted = least(plain, terminals)
    for step in (_thin_out, _drop_long_edges):
        own = deepcopy(graph)
        before = deepcopy(own)
        changed = step(own, set(terminals))
        assert changed == (own != before)
        assert same_both_ways(own)
        assert least(as_plain(own), terminals) == wanted
        for near in own.values():
            for weight, trace in near.values():
                assert weight == weight_of(plain, originals(trace))
    own, left = deepcopy(graph), set(terminals)
    taken = _merge_nearest(own, left)
    assert same_both_ways(own)
    assert left <= set(own)
    assert weight_of(plain, taken) + least(as_plain(own), left) == wanted
    own, left = deepcopy(graph), set(terminals)
    found = reduce_graph(own, left)
    assert found is not None
    assert len(set(found)) == len(found)
    assert weight_of(plain, found) + least(as_plain(own), left) == wanted
    if len(left) > 1:
        # Nothing that a reduction speaks of is left.
        assert all(len(near) > 2 for node, near in own.items() if node not in left)
        assert not any(step(own, left) for step in (_thin_out, _drop_long_edges, _merge_nearest))


@pytest.mark.parametrize("seed", SEEDS)
def test_a_bottleneck_is_the_longest_hop_of_the_best_way(seed: int) -> None:
    """Of all ways from terminal to terminal over others, the least of the longest hops (brute force)."""
    graph, terminals, plain = drawn(seed)
    lengths = dict(nx.all_pairs_dijkstra_path_length(plain))
    found = _bottlenecks(graph, terminals)
    for s, t in combinations(sorted(terminals), 2):
        hops: nx.Graph = nx.Graph()
        limits = sorted(lengths[a][b] for a, b in combinations(terminals, 2))
        for limit in limits:
            hops.add_edges_from((a, b) for a, b in combinations(terminals, 2) if lengths[a][b] <= limit)
            if s in hops and t in hops and nx.has_path(hops, s, t):
                break
        assert found[s][t] == found[t][s] == limit


def test_what_hangs_apart_is_left_out_or_told() -> None:
    """Nodes that no terminal reaches go; terminals that do not reach each other have no tree."""
    plain: nx.Graph = nx.Graph()
    plain.add_weighted_edges_from([(0, 1, 2.0), (1, 2, 3.0), (5, 6, 1.0)])
    graph = as_graph(plain)
    keep_component(graph, {2, 0})
    assert set(graph) == {0, 1, 2}
    assert reduce_graph(as_graph(plain), {0, 6}) is None
    assert join_nearest(as_graph(plain), {0, 6}) is None
    assert sorted(reduce_graph(as_graph(plain), {0, 2}) or []) == [0, 1]
    rest = {(u, v): w for u, near in as_graph(plain).items() for v, (w, _) in near.items()}
    assert _ascend(as_graph(plain), rest, {0, 6}, 0) == math.inf


@pytest.mark.parametrize("seed", SEEDS)
def test_trees_over_the_nearest_join_all_and_are_less_than_twice_too_heavy(seed: int) -> None:
    """Joining the nearest is at most 2 − 2/k times too heavy (Takahashi and Matsuyama 1980, from memory)."""
    graph, terminals, plain = drawn(seed)
    edges = join_nearest(graph, terminals)
    assert edges is not None
    tree = plain.edge_subgraph(edges)
    assert nx.is_tree(tree)
    assert terminals <= set(tree)
    assert {node for node in tree if tree.degree[node] == 1} <= terminals
    weight, wanted = tree.size(weight="weight"), least(plain, terminals)
    assert wanted <= weight <= (2 - 2 / len(terminals)) * wanted
    # From any set, the nearest that is missing, by a shortest way; spanned as light as networkx spans it.
    start = min(terminals)
    path = _nearest(graph, {start}, terminals - {start})
    assert path is not None
    far = nx.single_source_dijkstra_path_length(plain, start)
    assert nx.path_weight(plain, path, "weight") == min(far[t] for t in terminals - {start})
    assert start in path
    inside = set(nx.single_source_dijkstra_path_length(plain, start, cutoff=9.0))
    spanned = plain.edge_subgraph(_lightest(graph, inside))
    assert len(spanned) in (len(inside), 0)
    assert spanned.size(weight="weight") == nx.minimum_spanning_tree(plain.subgraph(inside)).size("weight")


@pytest.mark.parametrize("seed", SEEDS)
def test_a_pruned_tree_ends_in_terminals_alone(seed: int) -> None:
    """What stays are the ways between terminals (the union of networkx's paths)."""
    tree: nx.Graph = nx.Graph(nx.random_labeled_tree(12, seed=seed))
    terminals = set(np.random.default_rng(seed).choice(12, 3, replace=False).tolist())
    wanted = {
        frozenset(edge)
        for s, t in combinations(terminals, 2)
        for edge in nx.utils.pairwise(nx.shortest_path(tree, s, t))
    }
    assert {frozenset(edge) for edge in _pruned(list(tree.edges), terminals)} == wanted


@pytest.mark.parametrize("seed", SEEDS)
def test_bounds_from_below_hold_and_what_is_dropped_is_in_no_tree_worth_having(seed: int) -> None:
    """Never above the shortest tree; exact of two terminals and on a graph that is a tree itself."""
    graph, terminals, plain = drawn(seed)
    wanted = least(plain, terminals)
    own = deepcopy(graph)
    bound, changed = dual_ascent(own, terminals, wanted)
    assert 0 < bound <= wanted + 1e-9
    assert changed == (own != graph)
    assert same_both_ways(own)
    assert least(as_plain(own), terminals) == wanted
    pair = set(sorted(terminals)[:2])
    apart = nx.dijkstra_path_length(plain, *pair)
    assert dual_ascent(deepcopy(graph), pair, math.inf)[0] == pytest.approx(apart)
    spanning = nx.minimum_spanning_tree(plain)
    alone = dual_ascent(as_graph(spanning), terminals, math.inf)[0]
    assert alone == pytest.approx(least(spanning, terminals))


@pytest.mark.parametrize("seed", SEEDS)
def test_just_what_costs_too_much_by_the_remaining_weights_is_dropped(seed: int) -> None:
    """Nodes and edges on no way from root to terminal that is short enough, and no others (Dijkstra)."""
    graph, terminals, _ = drawn(seed)
    root = min(terminals)
    rest = {(u, v): w for u, near in graph.items() for v, (w, _) in near.items()}
    bound = _ascend(graph, rest, terminals, root)
    assert all(value >= -1e-9 for value in rest.values())
    arcs: nx.DiGraph = nx.DiGraph()
    arcs.add_weighted_edges_from((u, v, max(w, 0.0)) for (u, v), w in rest.items())
    out = nx.single_source_dijkstra_path_length(arcs, root)
    home = nx.multi_source_dijkstra_path_length(arcs.reverse(), terminals - {root})
    # Each other terminal is reached from the root over arcs that are used up.
    assert all(out[terminal] == pytest.approx(0.0) for terminal in terminals)
    assert bound > 0
    for allowed in (0.5, 2.5, 5.5):
        own = deepcopy(graph)
        _drop_costly(own, rest, terminals, root, allowed)
        kept = {n for n in graph if n in terminals or out[n] + home[n] <= allowed}
        assert set(own) == kept
        for u, v in combinations(sorted(kept), 2):
            if v in graph[u]:
                through = min(
                    out[u] + arcs[u][v]["weight"] + home[v], out[v] + arcs[v][u]["weight"] + home[u]
                )
                assert (v in own[u]) == (through <= allowed)
