"""Checks beside general-purpose references: the discharge of cells, a beam against solids, the pin matching.

Run ``python tests/bench/bench_checks.py``.  In the same run:

- discharge: scipy ``solve_ivp`` (RK45 and LSODA, with an event at brown-out) over the same cell and loads;
- beam: every solid as a convex hull (scipy ``ConvexHull``; a cylinder as a prism of 96 sides), rays clipped
  by its half-spaces; and the exact solid angle of a disc and of a plate;
- pin matching: scipy ``linear_sum_assignment`` on the same costs, and networkx Hopcroft–Karp for the number.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from itertools import product
from pathlib import Path
from time import perf_counter
from typing import Any

import networkx as nx
import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import linear_sum_assignment
from scipy.spatial import ConvexHull

sys.path.insert(0, str(Path(__file__).parents[2]))

from fitplan.checks import run_checks
from fitplan.checks.rays import Obstacle, cone, first_hits
from fitplan.circuit.cells import Source
from fitplan.circuit.discharge import discharge, solve_state
from fitplan.circuit.supply import build_supply
from fitplan.circuit.supply_tree import SupplyTree
from fitplan.model.solids import Box, Cylinder
from fitplan.pins.assignment import assign_rows
from tests.checks.test_registry import ODD
from tests.circuit.sample_parts import cells, shuttle


def timed(work: Callable[[], Any], least: float = 0.2) -> tuple[float, Any]:
    """Return the best time of repeated runs in seconds, and the result."""
    best, spent, result = math.inf, 0.0, None
    while spent < least:
        begin = perf_counter()
        result = work()
        took = perf_counter() - begin
        best, spent = min(best, took), spent + took
    return best, result


def by_scipy(tree: SupplyTree, method: str) -> float:
    """Return the hours to brown-out by scipy at a relative tolerance of 1e-8."""
    source = Source(tree.source)
    fed = tree.root.everything()

    def fall(_: float, s: np.ndarray) -> list[float]:
        return [-source.fall(solve_state(source, tree.root, float(s[0]), False, {}).current_ma)]

    def weakest(_: float, s: np.ndarray) -> float:
        volts = solve_state(source, tree.root, float(s[0]), True, {}).flow.volts
        return min(float(s[0]), *(volts[one.owner] - one.min_v for one in fed))

    weakest.terminal = True  # type: ignore[attr-defined]
    solved = solve_ivp(
        fall, (0.0, 1000.0), [1.0], events=weakest, method=method, rtol=1e-8, atol=1e-10, max_step=0.1
    )
    return float(solved.t[-1])


def bench_discharge() -> None:
    """Print hours and time for three supplies."""
    print("Discharge to brown-out        ours h    RK45 h   differs     ours ms   RK45 ratio  LSODA ratio")
    for name, pack in (
        ("four alkaline AA, raw pin", cells(4)),
        ("two li-ion, raw pin", cells(2, "li", 2600.0, 0.06)),
        ("six NiMH AA, raw pin", cells(6, "nimh", 1900.0, 0.03)),
    ):
        tree = build_supply(shuttle(supply=pack), {}).trees[0]
        own_time, own = timed(lambda tree=tree: discharge(tree))
        times = {}
        for method in ("RK45", "LSODA"):
            times[method], hours = timed(lambda tree=tree, method=method: by_scipy(tree, method), 0.01)
            if method == "RK45":
                reference = hours
        print(
            f"{name:28} {own.hours:8.3f} {reference:9.3f} {100 * (own.hours / reference - 1):8.4f}%"
            f" {1000 * own_time:10.1f} {times['RK45'] / own_time:12.1f} {times['LSODA'] / own_time:12.1f}"
        )


def by_hulls(origins: np.ndarray, rays: np.ndarray, hulls: list[np.ndarray]) -> np.ndarray:
    """Return the distance of the first hit of each ray by clipping with each hull's half-spaces."""
    best = np.full(len(origins), np.inf)
    for planes in hulls:
        along = rays @ planes[:, :3].T
        here = origins @ planes[:, :3].T + planes[:, 3]
        with np.errstate(divide="ignore", invalid="ignore"):
            cross = -here / along
        enter = np.where(
            along < -1e-12, cross, np.where((np.abs(along) <= 1e-12) & (here > 0), np.inf, -np.inf)
        )
        leave = np.where(along > 1e-12, cross, np.inf)
        first, last = np.maximum(enter.max(axis=1), 0.0), leave.min(axis=1)
        best = np.where((first < last) & (first < best), first, best)
    return best


def hull_of(solid: Box | Cylinder) -> np.ndarray:
    """Return the half-spaces (n, 4) of a solid: normal and offset, inside where below zero."""
    if isinstance(solid, Box):
        points = np.array(list(product(*zip(solid.low, solid.high, strict=True))))
    else:
        turns = np.linspace(0, 2 * np.pi, 96, endpoint=False)
        ring = solid.radius * np.column_stack([np.cos(turns), np.sin(turns)])
        ends = [np.insert(ring, "xyz".index(solid.axis), x, axis=1) for x in (0.0, solid.length)]
        points = np.concatenate(ends) + np.array(solid.start)
    return np.unique(ConvexHull(points).equations.round(9), axis=0)


def bench_beam() -> None:
    """Print the shares hidden of a beam, and time for a hundred solids."""
    rng = np.random.default_rng(1)
    print("\nBeam of 30° against one solid      exact      2048 rays  differs   20000 rays  differs")
    whole = 2 * math.pi * (1 - math.cos(math.radians(30)))
    disc = Cylinder("x", (50.0, 0.0, 0.0), 1.0, 12.0)
    plate = Box((40.0, -5.0, -8.0), (41.0, 5.0, 8.0))
    beta = math.atan(12 / 50)
    exact = {
        "disc": 2 * math.pi * (1 - math.cos(beta)) / whole,
        "plate": 4 * math.asin(10 * 16 / math.sqrt((10**2 + 4 * 40**2) * (16**2 + 4 * 40**2))) / whole,
    }
    for name, solid in (("disc", disc), ("plate", plate)):
        shares = []
        for count in (2048, 20_000):
            rays = cone((1.0, 0.0, 0.0), 30.0, count)
            hits = first_hits(np.zeros_like(rays), rays, [Obstacle(solid, name)])
            shares.append(float(np.isfinite(hits.distance).mean()))
        parts = "".join(f" {s:12.5f} {100 * (s / exact[name] - 1):7.2f}%" for s in shares)
        print(f"{name:32} {exact[name]:8.5f}{parts}")
    solids: list[Box | Cylinder] = []
    for number in range(100):
        low = rng.uniform([10, -60, -60], [150, 60, 60])
        size = rng.uniform(2, 16, 3)
        if number % 3 == 2:
            solids.append(Cylinder("xyz"[number % 9 // 3], tuple(low), float(size[0]), float(size[1]) / 2))  # type: ignore[arg-type]
        else:
            solids.append(Box(tuple(low), tuple(low + size)))  # type: ignore[arg-type]
    rays = cone((1.0, 0.0, 0.0), 30.0, 2048)
    origins = np.zeros_like(rays)
    obstacles = [Obstacle(solid, "") for solid in solids]
    own_time, own = timed(lambda: first_hits(origins, rays, obstacles).distance)
    hulls = [hull_of(solid) for solid in solids]
    other_time, other = timed(lambda: by_hulls(origins, rays, hulls))
    agree = 100 * float((np.isfinite(own) == np.isfinite(other)).mean())
    both = np.isfinite(own) & np.isfinite(other)
    apart = np.abs(own[both] - other[both])
    hidden = (float(np.isfinite(one).mean()) for one in (own, other))
    print("2048 rays, 100 solids: hidden {:.4f}, by hulls {:.4f};".format(*hidden))
    print(
        f"  {agree:.2f} % of rays agree, at most {apart.max():.3f} mm apart, median {np.median(apart):.1e};"
    )
    print(f"  {1000 * own_time:.1f} ms, hulls take {other_time / own_time:.1f} times as long")


def bench_matching() -> None:
    """Print time and cost of the assignment for a large board."""
    rng = np.random.default_rng(2)
    print("\nAssignment, wants × pins      cost     scipy    ours ms  scipy ratio")
    for wants, pins in ((8, 20), (20, 54), (40, 80)):
        costs = rng.integers(0, 1000, (wants, pins))
        rows = costs.tolist()
        own_time, given = timed(lambda rows=rows: assign_rows(rows))
        other_time, (row, column) = timed(lambda costs=costs: linear_sum_assignment(costs))
        own_cost = sum(rows[i][c] for i, c in enumerate(given))
        print(
            f"{wants:3} × {pins:3}                {own_cost:8} {costs[row, column].sum():9}"
            f" {1000 * own_time:10.2f} {other_time / own_time:12.4f}"
        )
    graph = nx.Graph((("want", i), ("pin", j)) for i in range(20) for j in range(54) if rng.random() < 0.2)
    tops = {node for node in graph if node[0] == "want"}
    print("Hopcroft–Karp of networkx on 20 × 54:", len(nx.bipartite.hopcroft_karp_matching(graph, tops)) // 2)


def bench_all() -> None:
    """Print the time of all checks on one placed and wired train."""
    took, outcomes = timed(lambda: run_checks(ODD[0]))
    findings = sum(len(one.findings) for one in outcomes)
    print(f"\nAll checks on a train of two vehicles: {1000 * took:.0f} ms, {findings} findings")


if __name__ == "__main__":
    bench_discharge()
    bench_beam()
    bench_matching()
    bench_all()
