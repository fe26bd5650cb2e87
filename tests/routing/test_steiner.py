"""Shortest trees against an independent exact method, published cases and their own certificate."""

from __future__ import annotations

import math
from itertools import combinations

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from networkx.algorithms.approximation import steiner_tree as approximate

from fitplan.routing.trees.steiner import steiner_tree

Edges = list[tuple[int, int, float]]


def dreyfus_wagner(edges: Edges, terminals: list[int]) -> float:
    """Return the weight of a shortest tree (Dreyfus and Wagner 1971), over sets of terminals."""
    graph = nx.Graph()
    for u, v, w in edges:
        if not graph.has_edge(u, v) or w < graph[u][v]["weight"]:
            graph.add_edge(u, v, weight=w)
    graph.add_nodes_from(terminals)
    nodes = sorted(graph)
    length = dict(nx.all_pairs_dijkstra_path_length(graph))
    *rest, root = terminals
    best: dict[frozenset[int], dict[int, float]] = {}
    for size in range(1, len(rest) + 1):
        for group in map(frozenset, combinations(rest, size)):
            if size == 1:
                (only,) = group
                best[group] = {v: length[only].get(v, math.inf) for v in nodes}
                continue
            merged = {}
            for v in nodes:
                parts = (
                    best[frozenset(part)][v] + best[group - frozenset(part)][v]
                    for cut in range(1, size // 2 + 1)
                    for part in combinations(sorted(group), cut)
                )
                merged[v] = min(parts)
            best[group] = {v: min(merged[u] + length[u].get(v, math.inf) for u in nodes) for v in nodes}
    return best[frozenset(rest)][root] if rest else 0.0


def check(edges: Edges, terminals: list[int], found: object) -> None:
    """Assert that the edges found are a tree that joins all terminals and weighs what is said."""
    tree = nx.Graph()
    tree.add_nodes_from(terminals)
    tree.add_edges_from(edges[i][:2] for i in found.edges)  # type: ignore[attr-defined]
    assert nx.is_connected(tree)
    assert tree.number_of_edges() == tree.number_of_nodes() - 1
    assert sum(edges[i][2] for i in found.edges) == pytest.approx(found.weight)  # type: ignore[attr-defined]


graphs = st.integers(3, 14).flatmap(
    lambda n: st.tuples(
        st.lists(
            st.tuples(st.integers(0, n - 1), st.integers(0, n - 1), st.integers(0, 12)),
            min_size=n,
            max_size=4 * n,
        ),
        st.sets(st.integers(0, n - 1), min_size=1, max_size=6),
    )
)


@given(graphs)
@settings(max_examples=150, deadline=None)
def test_random_graphs_equal_an_independent_exact_method(case: tuple[Edges, set[int]]) -> None:
    """The weight is that of dynamic programming over sets of terminals, parallel and zero edges included."""
    edges, terminals = case
    found = steiner_tree(edges, terminals)
    expected = dreyfus_wagner([e for e in edges if e[0] != e[1]], sorted(terminals))
    assert found.weight == pytest.approx(expected)
    assert found.proved
    if math.isfinite(expected) and len(terminals) > 1:
        check(edges, sorted(terminals), found)


@pytest.mark.parametrize("seed", range(6))
def test_equal_weights_need_a_search(seed: int) -> None:
    """On a cube of equal edges reductions do little; the search still proves the exact weight."""
    graph = nx.convert_node_labels_to_integers(nx.hypercube_graph(4))
    edges = [(u, v, 1.0) for u, v in graph.edges]
    terminals = np.random.default_rng(seed).choice(16, 7, replace=False).tolist()
    found = steiner_tree(edges, terminals)
    assert found.weight == dreyfus_wagner(edges, terminals)
    check(edges, terminals, found)


@pytest.mark.parametrize("seed", [1, 4, 19, 27])
def test_whole_weights_beside_others_need_a_search(seed: int) -> None:
    """A better tree may be lighter by a tenth where some weights are whole."""
    dice = np.random.default_rng(seed)
    graph = nx.convert_node_labels_to_integers(nx.hypercube_graph(4))
    edges = [(u, v, float(dice.choice([1.0, 1.1, 1.3, 1.2]))) for u, v in graph.edges]
    terminals = dice.choice(16, 6, replace=False).tolist()
    found = steiner_tree(edges, terminals)
    assert found.weight == pytest.approx(dreyfus_wagner(edges, terminals))
    check(edges, terminals, found)


@pytest.mark.parametrize("seed", range(3))
def test_never_heavier_than_the_approximation(seed: int) -> None:
    """On 150 nodes the tree is proved; networkx's weighs as much or up to twice that."""
    graph = nx.connected_watts_strogatz_graph(150, 4, 0.3, seed=seed)
    rng = np.random.default_rng(seed)
    edges = [(u, v, float(rng.integers(1, 11))) for u, v in graph.edges]
    graph.add_weighted_edges_from(edges)
    terminals = rng.choice(150, 30, replace=False).tolist()
    found = steiner_tree(edges, terminals)
    assert found.proved
    assert found.lower_bound == found.weight
    check(edges, terminals, found)
    other = approximate(graph, terminals, method="mehlhorn").size(weight="weight")
    assert found.weight <= other <= 2 * found.weight


def test_hwangs_cross() -> None:
    """Hwang 1976: four points at the ends of a cross need 4 with the middle, 6 without (ratio 3/2)."""
    cross = [("o", p, 1.0) for p in "nesw"]
    around = [(a, b, 2.0) for a, b in combinations("nesw", 2)]
    assert steiner_tree([*cross, *around], "nesw").weight == 4.0
    assert steiner_tree(around, "nesw").weight == 6.0


def test_what_cannot_be_joined() -> None:
    """Terminals that fall apart give an infinite weight with proof; one terminal needs nothing."""
    found = steiner_tree([(0, 1, 1.0), (2, 3, 1.0)], [0, 3])
    assert math.isinf(found.weight)
    assert found.proved
    assert steiner_tree([(0, 1, 1.0)], [5]).edges == ()
    with pytest.raises(ValueError, match="no terminal"):
        steiner_tree([(0, 1, 1.0)], [])
    with pytest.raises(ValueError, match="at least 0"):
        steiner_tree([(0, 1, -1.0)], [0])


def test_after_so_many_parts_the_best_tree_is_kept_with_what_bounds_it() -> None:
    """After one part there is a tree already; with more of them it gets no heavier, the bound no lower."""
    graph = nx.convert_node_labels_to_integers(nx.hypercube_graph(6))
    edges = [(u, v, 1.0) for u, v in graph.edges]
    terminals = [0, 7, 25, 42, 52, 63, 33, 14, 19, 60, 12, 51]
    weight, bound = math.inf, 0.0
    for parts in (1, 2, 5, 20):
        found = steiner_tree(edges, terminals, most_parts=parts)
        check(edges, terminals, found)
        assert found.parts == parts
        assert not found.proved
        assert bound <= found.lower_bound < found.weight <= weight
        weight, bound = found.weight, found.lower_bound
    assert weight < 2 * bound
