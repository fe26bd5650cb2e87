"""A vehicle's outline with everything that sticks out: the corner points that may foul something."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np
from numpy.typing import NDArray

from fitplan.checks.scene import placed_solids, wheel_solids
from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Solid

Floats = NDArray[np.float64]
_THIN = 1e-6
WHEEL = "wheel"
"""What wheels are called in an outline."""


@dataclass(frozen=True)
class Outline:
    """Corner points of everything solid of a vehicle, in its frame.

    ``points`` is (n, 3) in mm, eight for each solid's box; ``names`` says what each belongs to.
    """

    points: Floats
    names: tuple[str, ...]

    def bands(self, marks: Floats) -> list[Floats]:
        """Return the convex outline in plan of each slice between heights; without points where it is empty.

        Parameters
        ----------
        marks
            Heights in mm, rising; slices lie between one and the next.
        """
        boxes = self.points.reshape(-1, 8, 3)
        low, high = boxes[:, :, 2].min(axis=1), boxes[:, :, 2].max(axis=1)
        known: dict[bytes, Floats] = {}
        found = []
        for bottom, top in pairwise(marks):
            inside = (low < top - _THIN) & (high > bottom + _THIN)
            key = inside.tobytes()
            if key not in known:
                known[key] = hull_of(boxes[inside][:, :, :2].reshape(-1, 2))
            found.append(known[key])
        return found


def outline_of(built: BuiltTrain, vehicle: str) -> Outline:
    """Return the outline of a vehicle with all parts and wires in it.

    A wire's corners count as a small cube of its diameter.  Couplings swing on their pivots and do not count.
    """
    shape = built.train.vehicle(vehicle).vehicle
    removed = built.taken_out(vehicle)
    points: list[tuple[float, ...]] = []
    names: list[str] = []

    def add(name: str, solid: Solid) -> None:
        bounds = solid.bounds
        for corner in product(*zip(bounds.low, bounds.high, strict=True)):
            points.append(corner)
            names.append(name)

    for entry in shape.body:
        gone = entry.state == "removable" and entry.removable in removed
        if entry.state in ("fixed", "removable") and not gone:
            add(entry.removable or "body", entry.solid)
    for item in shape.built_in:
        for solid in item.solids:
            add(item.name, solid)
    for wheel in wheel_solids(shape, built.train.track.gauge):
        add(WHEEL, wheel)
    for need, solid in placed_solids(built, vehicle):
        add(need, solid)
    for wire in built.harness.wires:
        for leg in wire.legs:
            if leg.vehicle == vehicle:
                half = wire.outer_mm / 2
                for point in leg.points:
                    for corner in product(*((value - half, value + half) for value in point)):
                        points.append(corner)
                        names.append(wire.label)
    if not points:
        add("body", shape.hull)
    return Outline(np.array(points, dtype=float), tuple(names))


def hull_of(points: Floats) -> Floats:
    """Return the convex hull of points (n, 2), counter-clockwise (Andrew's monotone chain, 1979)."""
    unique = sorted({(x, y) for x, y in points.tolist()})
    if len(unique) < 3:
        return np.array(unique, dtype=float).reshape(-1, 2)

    def half(order: list[tuple[float, float]]) -> list[tuple[float, float]]:
        made: list[tuple[float, float]] = []
        for point in order:
            while len(made) >= 2 and _turn(made[-2], made[-1], point) <= 0:
                made.pop()
            made.append(point)
        return made[:-1]

    return np.array(half(unique) + half(unique[::-1]))


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def hull_gap(one: Floats, other: Floats) -> float:
    """Return the distance of two convex outlines (n, 2); below zero by how deep they overlap.

    Convex outlines are apart when some edge's normal separates them; otherwise the depth is the least
    overlap along any of those normals. Each has three corners at the least.
    """
    deepest = -np.inf
    for first, second in ((one, other), (other, one)):
        edges = _edges(first)
        lengths = np.hypot(edges[:, 0], edges[:, 1])
        good = lengths > 1e-12
        normals = np.column_stack([edges[good, 1], -edges[good, 0]]) / lengths[good, None]
        beyond = (second @ normals.T).min(axis=0) - (first @ normals.T).max(axis=0)
        deepest = max(deepest, float(beyond.max()))
    if deepest <= 0:
        return deepest
    return min(_points_to_edges(one, other), _points_to_edges(other, one))


def _edges(outline: Floats) -> Floats:
    """Return the ways from each corner to the next."""
    return np.concatenate([outline[1:], outline[:1]]) - outline


def _points_to_edges(points: Floats, outline: Floats) -> float:
    """Return the least distance of points to the edges of an outline."""
    starts = outline
    edges = _edges(outline)
    squares = np.maximum((edges**2).sum(axis=1), 1e-18)
    away = points[:, None, :] - starts[None, :, :]
    shares = np.clip((away * edges).sum(axis=2) / squares, 0.0, 1.0)
    nearest = away - shares[:, :, None] * edges
    return float(np.sqrt((nearest**2).sum(axis=2)).min())
