"""Shortest trees on a published set of graphs: optima found and proved, beside networkx's approximations.

The graphs are SteinLib's set B (Koch, Martin, Voss). Run ``python tests/bench/bench_steiner.py``.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path
from time import perf_counter

import networkx as nx
from networkx.algorithms.approximation import steiner_tree as approximate

sys.path.insert(0, str(Path(__file__).parents[2]))

from fitplan.routing.trees.steiner import steiner_tree

OPTIMA = (82, 83, 138, 59, 61, 122, 111, 104, 220, 86, 88, 174, 165, 235, 318, 127, 131, 218)


def published() -> Path | None:
    """Return the folder of the published data, or None."""
    near = Path(__file__).parents[2] / "../shared/published"
    folder = Path(os.environ.get("FITPLAN_PUBLISHED", near)) / "steiner-trees"
    return folder if folder.is_dir() else None


def read(path: Path) -> tuple[list[tuple[int, int, float]], list[int]]:
    """Return edges and terminals of a file in the set's format."""
    edges, terminals = [], []
    for line in path.read_text().split("\n"):
        items = line.split()
        if items[:1] == ["E"]:
            edges.append((int(items[1]), int(items[2]), float(items[3])))
        elif items[:1] == ["T"]:
            terminals.append(int(items[1]))
    return edges, terminals


def main() -> int:
    """Print a line for each graph; return 1 when an optimum is missed or not proved."""
    folder = published()
    if folder is None:
        print("skipped: no published data (set FITPLAN_PUBLISHED to its folder)")
        return 0
    print("graph  nodes edges terminals  optimum  weight  gap %  proved  seconds", end="")
    print("   kou: weight (+%), s    mehlhorn: weight (+%), s")
    missed = 0
    for number, optimum in enumerate(OPTIMA, 1):
        edges, terminals = read(folder / f"b{number:02d}.stp")
        begin = perf_counter()
        found = steiner_tree(edges, terminals)
        seconds = perf_counter() - begin
        gap = 1 - found.lower_bound / found.weight
        missed += found.weight != optimum or not found.proved
        graph = nx.Graph()
        graph.add_weighted_edges_from(edges)
        line = (
            f"b{number:02d}   {len(graph):6d} {len(edges):5d} {len(terminals):9d}"
            f" {optimum:8d} {found.weight:7.0f}"
            f" {100 * gap:6.1f} {'yes' if found.proved else 'no':>7s} {seconds:8.3f}"
        )
        for method in ("kou", "mehlhorn"):
            begin = perf_counter()
            weight = approximate(graph, terminals, method=method).size(weight="weight")
            used = perf_counter() - begin
            line += f"   {weight:8.0f} (+{100 * (weight / optimum - 1):4.1f}) {used:6.3f}"
        print(line)
    print(f"{len(OPTIMA) - missed} of {len(OPTIMA)} optimal and proved")
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main())
