"""Small geometry for the catalogue's tests, on its own so that it shares nothing with the lattice."""

from __future__ import annotations

from fitplan.model.solids import AXES, Box, Cylinder, Solid, Vec


def inside(point: Vec, solid: Solid, margin: float = 0.0) -> bool:
    """Return True when a point lies inside a solid, at least ``margin`` from its surface (mm)."""
    box = solid.bounds
    within = all(
        low + margin < value < high - margin
        for value, low, high in zip(point, box.low, box.high, strict=True)
    )
    if not within or isinstance(solid, Box):
        return within
    assert isinstance(solid, Cylinder)
    across = [i for i, axis in enumerate(AXES) if axis != solid.axis]
    return bool(sum((point[i] - solid.start[i]) ** 2 for i in across) < (solid.radius - margin) ** 2)


def distance(point: Vec, solid: Solid) -> float:
    """Return how far a point lies outside the bounds of a solid (mm); 0 inside."""
    box = solid.bounds
    beyond = [
        max(low - value, value - high, 0.0) for value, low, high in zip(point, box.low, box.high, strict=True)
    ]
    return float(sum(step**2 for step in beyond) ** 0.5)


def overlap(one: Box, other: Box) -> float:
    """Return the smallest edge of the room that two boxes share (mm); 0 or less when they share none."""
    return min(min(one.high[i], other.high[i]) - max(one.low[i], other.low[i]) for i in range(3))
