"""Lengths of finished harnesses beside an any-angle reference at 0.5 mm.

    python -m tests.bench.bench_lengths [scenes]

Seeded wagons with blocks in them and wires between some. The reference knows nothing of voxels of the router:
free is what lies far enough off the exact boxes, on a grid of 0.5 mm; scipy's Dijkstra over 26 neighbours
finds a way, and its corners are cut where a straight line stays free. Printed is the share of wires whose
length, less the detours that the plan tells, is within 1 and 3 % of it; nothing here is asserted.
"""

from __future__ import annotations

import sys
from itertools import pairwise, product

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra

from fitplan.model.wired import Wire
from fitplan.routing.harness.harness import wire_train
from tests.routing.test_harness import FLOOR, Flow, built_of

Floats = NDArray[np.float64]
PITCH = 0.5
NEAR = 3.6
"""Round its ends a wire keeps only half a voxel of the router off everything (mm, along each axis)."""
MIDDLE = 0.4
INSIDE = ((8.0, 8.0, FLOOR), (104.0, 40.0, FLOOR + 9 * 3.2 - 0.0))


def boxes_of(spots: dict[str, tuple[str, float, float]]) -> list[tuple[Floats, Floats]]:
    """Return the blocks as (low, high)."""
    return [
        (np.array([x, y, FLOOR]), np.array([x + 10.0, y + 8.0, FLOOR + 6.0])) for _, x, y in spots.values()
    ]


def room(points: Floats, boxes: list[tuple[Floats, Floats]]) -> Floats:
    """Return (n,) how far points lie off everything solid (mm; below 0 outside the wagon)."""
    low, high = np.array(INSIDE)
    best = np.minimum(points - low, high - points).min(axis=1)
    for one, other in boxes:
        out = np.maximum(np.maximum(one - points, points - other), 0.0)
        best = np.minimum(best, np.linalg.norm(out, axis=1))
    return best


def wanted(points: Floats, ends: Floats, radius: float) -> Floats:
    """Return (n,) how far off a wire must be there."""
    near = (np.abs(points[:, None] - ends[None]).max(axis=2) <= NEAR).any(axis=1)
    return np.where(near, min(radius, MIDDLE), radius)


def reference(ends: Floats, boxes: list[tuple[Floats, Floats]], radius: float) -> float:
    """Return the length of an any-angle way between two points, by Dijkstra and cutting of corners."""
    low, high = np.array(INSIDE)
    shape = np.ceil((high - low) / PITCH).astype(int) + 1
    grid = np.stack(np.meshgrid(*(np.arange(n) for n in shape), indexing="ij"), axis=-1).reshape(-1, 3)
    points = low + grid * PITCH
    free = room(points, boxes) >= wanted(points, ends, radius) - 1e-9
    number = np.full(len(points), -1)
    number[free] = np.arange(free.sum())
    cube = number.reshape(shape)
    rows, columns, data = [], [], []
    for step in product((-1, 0, 1), repeat=3):
        if step <= (0, 0, 0):
            continue
        here = tuple(slice(max(-s, 0), n - max(s, 0)) for s, n in zip(step, shape, strict=True))
        there = tuple(slice(max(s, 0), n - max(-s, 0)) for s, n in zip(step, shape, strict=True))
        a, b = cube[here].ravel(), cube[there].ravel()
        both = (a >= 0) & (b >= 0)
        rows.append(a[both])
        columns.append(b[both])
        data.append(np.full(both.sum(), PITCH * float(np.linalg.norm(step))))
    at = points[free]
    start, goal = (int(np.linalg.norm(at - end, axis=1).argmin()) for end in ends)
    graph = coo_matrix(
        (np.concatenate(data), (np.concatenate(rows), np.concatenate(columns))), (len(at), len(at))
    ).tocsr()
    _, before = dijkstra(graph, directed=False, indices=start, return_predecessors=True)
    chain = [goal]
    while chain[-1] != start:
        chain.append(int(before[chain[-1]]))
    way = np.concatenate([[ends[0]], at[chain[::-1]], [ends[1]]])

    def sees(one: Floats, other: Floats) -> bool:
        count = max(int(np.linalg.norm(other - one) / 0.1), 1)
        line = one + np.linspace(0, 1, count + 1)[:, None] * (other - one)
        return bool((room(line, boxes) >= wanted(line, ends, radius) - 0.02).all())

    # Cut corners: from each point straight to the farthest one in sight; then again over halved pieces.
    for _ in range(4):
        cut = [way[0]]
        place = 0
        while place < len(way) - 1:
            onwards = next(
                n for n in range(len(way) - 1, place, -1) if n == place + 1 or sees(way[place], way[n])
            )
            cut.append(way[onwards])
            place = onwards
        fine = [cut[0]]
        for one, other in pairwise(cut):
            fine += [one + share * (other - one) for share in (1 / 3, 2 / 3)] + [other]
        way = np.array(fine)
    return float(np.linalg.norm(np.diff(np.array(cut), axis=0), axis=1).sum())


def inner(wire: Wire) -> tuple[Floats, float]:
    """Return where a wire of one leg begins and ends beyond its lead-outs, and its length between."""
    points = np.array(wire.legs[0].points[1:-1])
    return points[[0, -1]], float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def main(scenes: int) -> None:
    """Print the excess over the reference, as laid and less what is told."""
    laid, rest = [], []
    for seed in range(scenes):
        rng = np.random.default_rng(seed)
        places = list(product((14.0, 33.0, 52.0, 71.0, 88.0), (9.0, 20.0, 31.0)))
        rng.shuffle(places)
        names = [f"p{i}" for i in range(10)]
        spots = {n: ("a", float(x), float(y)) for n, (x, y) in zip(names, places, strict=False)}
        nets = {f"n{i}": [f"p{2 * i}.p0", f"p{2 * i + 1}.p0"] for i in range(3)}
        harness = wire_train(built_of(spots, nets), {n: Flow(10.0, 10.0) for n in nets}).harness
        for wire in harness.wires:
            ends, length = inner(wire)
            least = reference(ends, boxes_of(spots), wire.outer_mm / 2)
            told = sum(entry.more_mm for entry in wire.detours)
            laid.append(length / least - 1)
            rest.append((length - told) / least - 1)
            print(
                f"scene {seed}, {wire.net}: {length:.1f} mm, told {told:.1f}, reference {least:.1f}",
                flush=True,
            )
    for name, values in (("as laid", np.array(laid)), ("less what is told", np.array(rest))):
        shares = ", ".join(
            f"{100 * (values <= limit).mean():.0f} % within {limit:.0%}" for limit in (0.01, 0.03)
        )
        print(f"{name}: median {np.median(values):+.1%}, most {values.max():+.1%}; {shares}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 4)
