"""Shortest ways on a published voxel map: the optimum for every row, and time per row beside others.

The map and its rows: Brewer and Sturtevant, "Benchmarks for Pathfinding in 3D Voxel Space", SoCS 2018.
Run ``python tests/bench/bench_ways.py [rows for the slow references]``.  The others, in the same run:

- scipy ``csgraph.dijkstra``: the same graph (no corner cut); all within the optimum's length of the start;
- networkx A*: the same graph and the same estimate, on the middle of the map; ten rows;
- scikit-image ``MCP_Geometric``: 26 neighbours, but it cuts corners, so that its ways are shorter than the
  optimum of this problem where a corner is in the way;
- ``dijkstra3d`` (development only: its licence is copyleft): it cuts corners, and each voxel costs 1 however
  it is entered, so that it minimises something else. Its time is of interest, not its length.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from fitplan.routing.ways.shortest_ways import WayMap
from tests.routing.lattice_graph import empty_distance, lattice_graph

ROOT = Path(__file__).parents[2]
Row = tuple[tuple[int, int, int], tuple[int, int, int], float]


def published() -> Path | None:
    """Return the folder of the published data, or None."""
    folder = Path(os.environ.get("FITPLAN_PUBLISHED", ROOT / "../shared/published")) / "voxel-paths"
    return folder if folder.is_dir() else None


def read(folder: Path) -> tuple[np.ndarray, list[Row]]:
    """Return the map, (x, y, z) bool True where free, and the rows (start, goal, optimum)."""
    lines = (folder / "simple.map.txt").read_text().split("\n")
    free = np.ones([int(n) for n in lines[0].split()[1:4]], dtype=bool)
    free[tuple(np.array([line.split() for line in lines[1:] if line.strip()], dtype=int).T)] = False
    rows = []
    for line in (folder / "simple.rows.txt").read_text().split("\n"):
        items = line.split()
        if len(items) == 8:
            a, b, c, d, e, f = (int(item) for item in items[:6])
            rows.append(((a, b, c), (d, e, f), float(items[6])))
    return free, rows


def ours(free: np.ndarray) -> Callable[[Row], float]:
    """Return the router, prepared for the map."""
    field = WayMap(free, 1.0)
    field.rooms()

    def ask(row: Row) -> float:
        way = field.way(row[0], row[1])
        return float("inf") if way is None else way.length_mm

    return ask


def scipy_dijkstra(free: np.ndarray) -> Callable[[Row], float]:
    """Return scipy's Dijkstra on the same graph."""
    from scipy.sparse.csgraph import dijkstra

    graph = lattice_graph(free)

    def ask(row: Row) -> float:
        start, goal = (int(np.ravel_multi_index(end, free.shape)) for end in row[:2])
        return float(dijkstra(graph, indices=start, limit=row[2] + 1e-6)[goal])

    return ask


def scikit_image(free: np.ndarray) -> Callable[[Row], float]:
    """Return scikit-image's MCP_Geometric."""
    from skimage.graph import MCP_Geometric

    costs = np.where(free, 1.0, -1.0)

    def ask(row: Row) -> float:
        found, _ = MCP_Geometric(costs, fully_connected=True).find_costs([row[0]], [row[1]])
        return float(found[row[1]])

    return ask


def dijkstra_3d(free: np.ndarray) -> Callable[[Row], float]:
    """Return dijkstra3d's A*."""
    import dijkstra3d

    costs = np.asfortranarray(np.where(free, 1.0, np.inf).astype(np.float32))

    def ask(row: Row) -> float:
        path = dijkstra3d.dijkstra(costs, row[0], row[1], connectivity=26, compass=True).astype(float)
        return float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())

    return ask


def networkx_a_star(free: np.ndarray) -> Callable[[Row], float]:
    """Return networkx's A* on the part of the map around the solid voxels, where all rows lie."""
    import networkx as nx

    low = np.argwhere(~free).min(axis=0) - 8
    high = np.argwhere(~free).max(axis=0) + 9
    part = free[tuple(slice(a, b) for a, b in zip(low, high, strict=True))]
    half = lattice_graph(part).tocoo()
    graph = nx.Graph()
    graph.add_weighted_edges_from(
        zip(*(axis.tolist() for axis in half.coords), half.data.tolist(), strict=True)
    )
    shape = part.shape

    def ask(row: Row) -> float:
        ends = [np.array(end) - low for end in row[:2]]
        if any((end < 0).any() or (end >= shape).any() for end in ends):
            return float("nan")
        start, goal = (int(np.ravel_multi_index(end, shape)) for end in ends)

        def left(node: int, _goal: int) -> float:
            return empty_distance(np.unravel_index(node, shape), ends[1])

        return float(nx.astar_path_length(graph, start, goal, heuristic=left))

    return ask


def main(slow_rows: int) -> int:
    """Run all and print a line each; return 1 when a row misses the optimum."""
    folder = published()
    if folder is None:
        print("skipped: no published data (set FITPLAN_PUBLISHED to its folder)")
        return 0
    free, rows = read(folder)
    sample = rows[:: max(len(rows) // slow_rows, 1)][:slow_rows]
    print(f"map {free.shape}, {(~free).sum()} solid voxels, {len(rows)} rows, {len(sample)} for the others")
    print(
        "engine                     rows   prepare s  median ms   mean ms     p99 ms   worst ms"
        "  optimal  shorter"
    )
    means: dict[str, float] = {}
    wrong = 0
    for name, make, asked in (
        ("fitplan", ours, rows),
        ("fitplan, same sample", ours, sample),
        ("scipy csgraph.dijkstra", scipy_dijkstra, sample),
        ("skimage MCP_Geometric", scikit_image, sample),
        ("dijkstra3d, compass", dijkstra_3d, sample),
        ("networkx A*", networkx_a_star, sample[:: max(len(sample) // 10, 1)][:10]),
    ):
        begin = perf_counter()
        try:
            ask = make(free)
        except ImportError as missing:
            print(f"{name:24s} skipped: {missing}")
            continue
        prepared = perf_counter() - begin
        times, exact, shorter, given = [], 0, 0, 0
        for row in asked:
            begin = perf_counter()
            length = ask(row)
            times.append(1000 * (perf_counter() - begin))
            if length == length:
                given += 1
                exact += abs(length - row[2]) < 1e-5
                shorter += length < row[2] - 1e-5
        if name.startswith("fitplan"):
            wrong += len(asked) - exact
        means[name] = float(np.mean(times))
        print(
            f"{name:24s} {given:6d} {prepared:11.2f} {np.median(times):10.3f} {means[name]:9.3f}"
            f" {np.percentile(times, 99):10.3f} {max(times):10.3f} {exact:8d} {shorter:8d}"
        )
    base = means["fitplan, same sample"]
    for name, mean in means.items():
        if not name.startswith("fitplan"):
            print(f"{name}: {mean / base:,.0f} times the time of fitplan (means)")
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 60))
