"""Harder seeded cases for the exact engine: cuts with one block grown, near misses with and without void."""

from __future__ import annotations

import random

from fitplan.packing.engine.bounds import free_volume
from fitplan.packing.engine.problem import IntBox, PackingProblem, blocks
from tests.packing.engine_cases import Size, box_cavity, cut, l_cavity, turned_sizes, u_cavity

CAVITIES = {"box": box_cavity, "L": l_cavity, "U": u_cavity}


def grown_cut(pieces: int, seed: int, shape: str = "box") -> PackingProblem:
    """Return a cut with one block grown by 1, so that its volume exceeds the cavity; it cannot fit."""
    rng = random.Random(f"grown {shape} {pieces} {seed}")
    space, boxes = CAVITIES[shape](rng)
    sizes = turned_sizes(cut(boxes, pieces, rng), rng)
    sizes[0] = (sizes[0][0] + 1, sizes[0][1], sizes[0][2])
    return blocks(sizes, space)


def near_miss(pieces: int, seed: int, void: float, shape: str = "box") -> PackingProblem:
    """Return a cut with one block 2 shorter and another 1 thicker, where the volume still allows it.

    Up to a share ``void`` of the cavity is left empty: so much of the pieces is thrown away first.  Whether
    it fits is not known beforehand.
    """
    rng = random.Random(f"near {shape} {pieces} {seed} {void}")
    while True:
        space, boxes = CAVITIES[shape](rng)
        free = free_volume(space)
        extra = max(1, round(void * pieces / (1 - void))) if void else 0
        cells = _thrown_away(cut(boxes, pieces + extra, rng), pieces, void * free, rng)
        if cells is None:
            continue
        sizes = turned_sizes(cells, rng)
        for _ in range(50):
            short, thick = rng.sample(range(pieces), 2)
            changed = [list(size) for size in sizes]
            changed[short][rng.randrange(3)] -= 2
            changed[thick][rng.randrange(3)] += 1
            grown = [(x, y, z) for x, y, z in changed]
            if sum(x * y * z for x, y, z in grown) <= free and _each_can_turn_in(grown, space.hull):
                return blocks(grown, space)


def _thrown_away(cells: list[IntBox], kept: int, most: float, rng: random.Random) -> list[IntBox] | None:
    """Throw pieces away so that at least 0.6 of the void wanted, and no more than all of it, is left."""
    if len(cells) == kept:
        return cells
    volumes = [(b[3] - b[0]) * (b[4] - b[1]) * (b[5] - b[2]) for b in cells]
    best: tuple[float, set[int]] = (0.0, set())
    for _ in range(200):
        chosen = set(rng.sample(range(len(cells)), len(cells) - kept))
        lost = sum(volumes[k] for k in chosen)
        if best[0] < lost <= most:
            best = (lost, chosen)
    if best[0] < 0.6 * most:
        return None
    return [cell for k, cell in enumerate(cells) if k not in best[1]]


def _each_can_turn_in(sizes: list[Size], hull: IntBox) -> bool:
    """Leave out cases that one block alone settles."""
    edges = sorted(hull[axis + 3] - hull[axis] for axis in range(3))
    return all(a <= b for size in sizes for a, b in zip(sorted(size), edges, strict=True))
