"""Trees grown by insertion: where splices may be only in places, and held against exact ones."""

from __future__ import annotations

import numpy as np
import pytest

from fitplan.routing.trees.inserted_trees import Inserted
from fitplan.routing.trees.pieces import MOST_IN_SPLICE
from fitplan.routing.trees.tree_map import FAR, CostMap, Terminal, TreeMap, VoxelTree
from fitplan.routing.trees.tree_search import Exact, Greedy
from fitplan.routing.trees.voxel_trees import MOST_WORK, lengths_between, shortest_tree

from .test_voxel_trees import check


def asked(map_: TreeMap, terminals: list[Terminal]) -> tuple[Inserted, list[int], np.ndarray]:
    goals = [one.voxels for one in terminals]
    floods = [map_.flood(goal, goals, FAR) for goal in goals]
    between = lengths_between(map_, terminals, floods)
    assert between is not None
    return Inserted(map_, terminals, floods, between), floods, between


def hall(*sites: tuple[int, int, int], shape: tuple[int, int, int] = (41, 9, 1)) -> TreeMap:
    """Return an empty hall of unit voxels with sites for splices at 1 mm."""
    free = np.ones(shape, bool)
    price = np.zeros(shape)
    for site in sites:
        price[site] = 1.0
    return TreeMap(free, CostMap.of(free, np.ones(shape), price, 1.0), further_mm=0.5)


def test_a_way_makes_room_for_a_splice() -> None:
    """Three corners and a fourth beside them: no straight way passes a site, so greedy wires go far round."""
    near, far = (2, 4, 0), (40, 8, 0)
    map_ = hall(near, far)
    ends = [(0, 0, 0), (0, 8, 0), (4, 0, 0), (4, 8, 0)]
    terminals = [Terminal((end,)) for end in ends]
    inserted, floods, _ = asked(map_, terminals)
    greedy = Greedy(map_, terminals, floods).grow()
    grown = inserted.grow()
    assert grown is not None
    check(grown, terminals)
    # Each end is two steps aslant and two straight from the site; two wires more than two at 1 mm each.
    least = 4 * (2 * np.sqrt(2) + 2) + 2.0
    assert grown.splices == (near,)
    assert grown.cost_mm == pytest.approx(least, rel=2e-3)
    assert greedy is None or greedy.cost_mm > least + 1.0


def test_a_full_splice_takes_no_more() -> None:
    """Six ends round one site: a sleeve holds five wires, and there is no second."""
    ring = [(18, 4, 0), (22, 4, 0), (20, 2, 0), (20, 6, 0), (18, 2, 0), (22, 6, 0)]
    map_ = hall((20, 4, 0))
    for count in (MOST_IN_SPLICE, MOST_IN_SPLICE + 1):
        grown = asked(map_, [Terminal((end,)) for end in ring[:count]])[0].grow()
        assert (grown is None) == (count > MOST_IN_SPLICE)


@pytest.mark.parametrize("seed", range(12))
def test_bettered_trees_lie_between_the_greedy_and_the_exact(seed: int) -> None:
    """Random maps with few sites; what is returned is the tree that was given unless it is cheaper."""
    rng = np.random.default_rng(seed)
    shape = (24, 10, 6)
    free = rng.random(shape) < 0.9
    price = np.where((rng.random(shape) < 0.05) & free, 3.0, 0.0)
    map_ = TreeMap(free, CostMap.of(free, np.ones(shape), price, 1.0), further_mm=0.5)
    cells = np.argwhere(free)
    chosen = [tuple(cell) for cell in cells[rng.permutation(len(cells))[:6]].tolist()]
    terminals = [Terminal((cell,), int(rng.choice([1, 1, 2]))) for cell in chosen]
    inserted, floods, between = asked(map_, terminals)
    grown, greedy = inserted.grow(), Greedy(map_, terminals, floods).grow()
    exact = Exact(map_, terminals, floods, between, FAR // 4, MOST_WORK).solve()
    assert exact is not None
    for tree in (grown, greedy):
        if tree is not None:
            better = Inserted(map_, terminals, floods, between).improved(tree)
            check(better, terminals)
            assert exact.cost_mm - 1e-6 <= better.cost_mm <= tree.cost_mm
            assert better is tree or better.cost_mm < tree.cost_mm


@pytest.mark.parametrize("seed", range(4))
def test_a_tree_proved_at_once_is_the_one_proved_after_a_better_greedy_tree(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With no work for the first try a greedy tree is made better before; both end in the same tree."""
    rng = np.random.default_rng(100 + seed)
    shape = (24, 10, 6)
    free = rng.random(shape) < 0.9
    price = np.where((rng.random(shape) < 0.1) & free, 3.0, 0.0)
    cells = np.argwhere(free)
    chosen = [tuple(cell) for cell in cells[rng.permutation(len(cells))[: 4 + seed % 3]].tolist()]
    terminals = [Terminal((cell,)) for cell in chosen]
    bettered: list[int] = []
    better = Inserted.improved

    def counted(self: Inserted, tree: VoxelTree) -> VoxelTree:
        bettered.append(len(tree.edges))
        return better(self, tree)

    monkeypatch.setattr(Inserted, "improved", counted)
    found = []
    for count in (int(free.sum()), 0):
        monkeypatch.setattr(TreeMap, "open_count", count)
        ground = CostMap.of(free, np.ones(shape), price, 1.0)
        found.append(shortest_tree(TreeMap(free, ground, further_mm=0.5), terminals))
        assert len(bettered) == (0 if count else 1)
    one, other = found
    assert one is not None
    assert other is not None
    check(one, terminals)
    assert one.proved
    assert other.proved
    assert (one.edges, one.splices, one.cost_mm) == (other.edges, other.splices, other.cost_mm)
    assert all((a == b).all() for a, b in zip(one.ways, other.ways, strict=True))
