"""Lengths of links along the axes between points: what wires take before any of them runs."""

from __future__ import annotations

from collections.abc import Sequence

from fitplan.model.solids import Vec


def link_length(one: Vec, other: Vec) -> float:
    """Return the length of a link along the axes (mm)."""
    return sum(abs(a - b) for a, b in zip(one, other, strict=True))


def tree_of_links(points: Sequence[Vec]) -> float:
    """Return the length of the shortest tree of links along the axes between points (mm; Prim)."""
    if len(points) < 2:
        return 0.0
    distance = [link_length(points[0], point) for point in points]
    waiting = set(range(1, len(points)))
    total = 0.0
    while waiting:
        nearest = min(waiting, key=lambda i: (distance[i], i))
        total += distance[nearest]
        waiting.remove(nearest)
        for i in waiting:
            distance[i] = min(distance[i], link_length(points[nearest], points[i]))
    return total
