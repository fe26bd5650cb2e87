"""Trees of nets over voxels: exact beside greedy and beside networkx, and those of two examples.

Run: ``python -m tests.bench.bench_trees``. Every voxel may be a splice in the random maps, so that all three
answer the same question; networkx takes the lattice as a graph.
"""

from __future__ import annotations

import sys
from pathlib import Path
from time import perf_counter, process_time

import networkx as nx
import numpy as np
from networkx.algorithms.approximation import steiner_tree as approximate

sys.path.insert(0, str(Path(__file__).parents[2]))

from fitplan.files.find import find_train
from fitplan.files.read import read_train
from fitplan.planning.run import PlanOptions, plan_train
from fitplan.routing.trees import net_ways as joining
from fitplan.routing.trees.tree_map import CostMap, Terminal, TreeMap, VoxelTree
from fitplan.routing.trees.tree_search import Greedy
from fitplan.routing.trees.voxel_trees import shortest_tree
from fitplan.routing.ways.shortest_ways import WayMap
from fitplan.routing.ways.way import Voxel
from tests.routing.lattice_graph import lattice_graph

SHAPE = (40, 24, 12)


def random_case(seed: int, count: int) -> tuple[np.ndarray, list[Voxel]]:
    """Return a random map and pins in its largest room."""
    rng = np.random.default_rng(seed)
    free = rng.random(SHAPE) > 0.25
    rooms = WayMap(free).rooms()
    cells = np.argwhere(rooms == np.bincount(rooms[rooms > 0]).argmax())
    pins = cells[rng.choice(len(cells), count, replace=False)].tolist()
    return free, [(x, y, z) for x, y, z in pins]


def greedy_tree(map_: TreeMap, terminals: list[Terminal]) -> VoxelTree | None:
    """Return the tree that grows by the nearest terminal."""
    goals = [terminal.voxels for terminal in terminals]
    return Greedy(map_, terminals, [map_.flood(goal, goals) for goal in goals]).grow()


def random_maps() -> None:
    """Print cost and time on random maps."""
    print("terminals  seed    exact    s     greedy   %     networkx   %      s")
    for count in range(3, 9):
        for seed in range(2):
            free, pins = random_case(100 * count + seed, count)
            terminals = [Terminal((pin,), count) for pin in pins]
            ground = CostMap.of(free, np.ones(SHAPE), np.where(free, 0.001, 0.0), 1.0)
            map_ = TreeMap(free, ground, further_mm=0.0)
            begin = perf_counter()
            tree = shortest_tree(map_, terminals)
            seconds = perf_counter() - begin
            greedy = greedy_tree(map_, terminals)
            assert tree is not None
            assert tree.proved
            assert greedy is not None
            nodes = [int(np.ravel_multi_index(pin, SHAPE)) for pin in pins]
            lattice = nx.from_scipy_sparse_array(lattice_graph(free))
            graph = lattice.subgraph(nx.node_connected_component(lattice, nodes[0])).copy()
            begin = perf_counter()
            other = approximate(graph, nodes, method="mehlhorn").size(weight="weight")
            spent = perf_counter() - begin
            print(
                f"{count:9d} {seed:5d} {tree.cost_mm:8.2f} {seconds:6.3f} {greedy.cost_mm:8.2f}"
                f" {100 * (greedy.cost_mm / tree.cost_mm - 1):5.1f} {other:10.2f}"
                f" {100 * (other / tree.cost_mm - 1):5.1f} {spent:7.2f}"
            )


def large_trees() -> None:
    """Print the gap of trees of many terminals: pins of one wire, with splices of 24 mm, and pins of two."""
    print("terminals  seed  wires  cost mm  proved   gap %      s")
    for count in (9, 10, 11, 12, 14, 16):
        for seed, wires in ((0, 1), (0, 2), (1, 1), (1, 2)):
            free, pins = random_case(100 * count + seed, count)
            ground = CostMap.of(free, np.ones(SHAPE), np.where(free, 24.0, 0.0), 1.0)
            begin = process_time()
            map_ = TreeMap(free, ground, further_mm=4.0)
            tree = shortest_tree(map_, [Terminal((pin,), wires) for pin in pins])
            seconds = process_time() - begin
            assert tree is not None
            print(
                f"{count:9d} {seed:5d} {wires:6d} {tree.cost_mm:8.2f}  {tree.proved!s:6}"
                f" {100 * tree.gap:7.1f} {seconds:6.2f}",
                flush=True,
            )


def examples() -> None:
    """Print the trees of two examples: proved, seconds, and how much dearer greedy ones would be."""
    own = shortest_tree
    lines: list[str] = []

    def watched(map_: TreeMap, terminals: tuple[Terminal, ...], *, quickly: bool = False) -> VoxelTree | None:
        begin = process_time()
        tree = own(map_, terminals, quickly=quickly)
        spent = process_time() - begin
        greedy = greedy_tree(map_, list(terminals))
        if tree is not None and greedy is not None:
            lines.append(
                f"  {len(terminals)} terminals: {tree.cost_mm:7.1f} mm, proved {tree.proved}, {spent:5.3f} s,"
                f" greedy +{100 * (greedy.cost_mm / tree.cost_mm - 1):.1f} %"
            )
        return tree

    joining.shortest_tree = watched
    for name in ("harbour-line", "market-tram"):
        lines.clear()
        plan = plan_train(read_train(find_train(name)), PlanOptions())
        harness = plan.built.harness
        ends = [end.kind for wire in harness.wires for end in (wire.start, wire.end)]
        joints = sum(kind != "splice" for kind in ends) + len(harness.splices)
        metres = sum(wire.cut_mm for wire in harness.wires) / 1000
        print(f"{name}: {len(harness.wires)} wires, {metres:.2f} m, {joints} joints")
        print("\n".join(dict.fromkeys(lines)))


if __name__ == "__main__":
    random_maps()
    large_trees()
    examples()
