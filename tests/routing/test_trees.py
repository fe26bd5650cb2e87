"""Joined nets: splices where they may be, each style complete, and trees close to exact ones."""

from __future__ import annotations

import math
from itertools import pairwise, permutations

import networkx as nx
import numpy as np
import pytest

from fitplan.routing.orders import best_order, exchanged_order
from fitplan.routing.steiner import steiner_tree
from fitplan.routing.trees import Joining, compare_styles, daisy_chain, home_runs, tree
from fitplan.routing.ways import Field, Voxel

from .lattice_graph import lattice_graph


def small(seed: int, pins: int, share: float = 0.2) -> tuple[np.ndarray, list[Voxel]]:
    """Return a random map and pins in its largest room."""
    rng = np.random.default_rng(seed)
    free = rng.random((12, 11, 6)) > share
    rooms = Field(free).rooms()
    cells = np.argwhere(rooms == np.bincount(rooms[rooms > 0]).argmax())
    chosen = cells[rng.choice(len(cells), pins, replace=False)]
    return free, [(int(x), int(y), int(z)) for x, y, z in chosen]


def check(joining: Joining, pins: list[Voxel]) -> None:
    """Assert that the links join all pins into one tree, between the voxels that they name."""
    places = [*pins, *joining.splices]
    graph = nx.Graph()
    graph.add_nodes_from(range(len(places)))
    for link in joining.links:
        graph.add_edge(*link.ends)
        assert link.way.start == places[link.ends[0]]
        assert link.way.goal == places[link.ends[1]]
    assert nx.is_tree(graph)
    assert joining.copper_mm == pytest.approx(sum(link.way.length_mm for link in joining.links))


@pytest.mark.parametrize("seed", range(5))
def test_three_pins_meet_at_the_best_voxel(seed: int) -> None:
    """With three pins the splice is where the sum of the three ways is least over all allowed voxels."""
    free, pins = small(seed, 3)
    sites = np.zeros_like(free)
    sites[:, :, :3] = True
    field = Field(free, 1.0)
    joining = tree(field, pins, sites)
    assert joining is not None
    check(joining, pins)
    total = np.sum([field.distances([pin]) for pin in pins], axis=0)
    assert joining.copper_mm == pytest.approx(total[sites & free].min())
    assert joining.joints == 4
    assert sites[joining.splices[0]]


@pytest.mark.parametrize(("seed", "count"), [(0, 4), (1, 5), (2, 6), (3, 6)])
def test_trees_are_close_to_the_exact_tree_of_the_lattice(seed: int, count: int) -> None:
    """With splices anywhere, the tree is within 4 % of the exact one over all voxels, never below."""
    free, pins = small(seed, count)
    joining = tree(Field(free, 1.0), pins, pins_join=True)
    assert joining is not None
    check(joining, pins)
    half = lattice_graph(free).tocoo()
    edges = [(int(a), int(b), float(w)) for a, b, w in zip(*half.coords, half.data, strict=True) if a < b]
    exact = steiner_tree(edges, [int(np.ravel_multi_index(pin, free.shape)) for pin in pins])
    assert exact.proved
    assert exact.weight - 1e-6 <= joining.copper_mm <= 1.04 * exact.weight


@pytest.mark.parametrize("seed", range(4))
def test_styles_compare(seed: int) -> None:
    """Each style joins all pins; home runs sum up shortest ways, the chain is the best of all orders."""
    free, pins = small(seed + 10, 5)
    field = Field(free, 1.0)
    found = compare_styles(field, pins, hub=2)
    assert set(found) == {"tree", "home", "daisy"}
    for joining in found.values():
        check(joining, pins)
    lengths = np.array([[field.way(a, b).length_mm for b in pins] for a in pins])  # type: ignore[union-attr]
    assert found["home"].copper_mm == pytest.approx(lengths[2].sum())
    best = min(sum(lengths[a, b] for a, b in pairwise(order)) for order in permutations(range(5)))
    assert found["daisy"].copper_mm == pytest.approx(best)
    assert found["daisy"].joints == 8
    assert found["tree"].joints == 5 + len(found["tree"].splices)
    for number in range(5, 5 + len(found["tree"].splices)):
        assert sum(number in link.ends for link in found["tree"].links) >= 3


def test_many_pins_and_few_sites() -> None:
    """Twelve pins with splices on the floor alone: all are joined, each splice on the floor."""
    free, pins = small(30, 12, 0.1)
    sites = np.zeros_like(free)
    sites[:, :, 0] = True
    joining = tree(Field(free, 0.8), pins, sites)
    assert joining is not None
    check(joining, pins)
    assert all(splice[2] == 0 for splice in joining.splices)
    chain = daisy_chain(Field(free, 0.8), pins)
    assert chain is not None
    check(chain, pins)
    assert not chain.shortest


def test_exchanged_orders_are_near_the_best() -> None:
    """On random points the improved order is at most 10 % longer than the best of all."""
    for seed in range(5):
        points = np.random.default_rng(seed).random((9, 3))
        lengths = np.linalg.norm(points[:, None] - points[None], axis=2)

        def total(order: list[int], lengths: np.ndarray = lengths) -> float:
            return sum(lengths[a, b] for a, b in pairwise(order))

        assert sorted(exchanged_order(lengths)) == list(range(9))
        assert (
            total(best_order(lengths)) <= total(exchanged_order(lengths)) <= 1.1 * total(best_order(lengths))
        )


def test_what_cannot_be_joined_is_none() -> None:
    """A pin in a sealed room, or no voxel for a splice, leaves the style out."""
    free = np.ones((9, 9, 3), bool)
    free[4] = False
    pins = [(0, 0, 0), (1, 7, 2), (7, 1, 1)]
    field = Field(free)
    assert compare_styles(field, pins) == {}
    assert home_runs(field, pins) is None
    pins = [(0, 0, 0), (1, 7, 2), (3, 1, 1)]
    assert set(compare_styles(field, pins, np.zeros_like(free))) == {"home", "daisy"}
    two = tree(field, pins[:2])
    assert two is not None
    assert two.splices == ()
    assert math.isfinite(two.copper_mm)
    with pytest.raises(ValueError, match="at least two"):
        tree(field, pins[:1])
