"""Round bodies in a mesh: rings of flat sides at one distance from a line along x, y or z.

A ring is the wall of a rod or of a bore; which of the two is told by the voxels, never by normals. A polygon
stands for a circle between the one that it touches with its sides and the one that it touches with its
corners, so a ring has the least and the greatest radius that it may mean.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.kernels import load
from fitplan.meshes.surface import SLACK
from fitplan.model.solids import AXES, Axis, Cylinder

LEAST_RADIUS = 2.5
"""Thinner rings (mm) are bars and studs: in a body they are drawn as voxels, or taken off."""
_LEAST_SIDES = 8
_LEAST_AREA = 0.9
"""A ring may lack a tenth of its wall, where something else runs through it."""
_UNEVEN = 0.01
"""Share of the least radius by which the corners of a ring may lie at different distances."""
_SQUARE = 2e-3
"""Sine of the angle up to which a side is parallel to the axis."""
_SHARE = 0.08
"""A side of an octagon lies 8 % of the radius nearer to the axis than its corners."""


@dataclass(frozen=True)
class Ring:
    """A round wall along an axis: middle of its lower end, length, and the circles within and round it."""

    axis: Axis
    start: tuple[float, float, float]
    length: float
    least: float
    most: float

    def cylinder(self, radius: float) -> Cylinder:
        """Return the cylinder of a radius between `least` and `most`."""
        x, y, z = (round(c, 3) for c in self.start)
        return Cylinder(self.axis, (x, y, z), round(self.length, 3), radius)

    def radii(self) -> tuple[float, ...]:
        """Return radii that it may mean: the roundest figures first, then the least and the greatest."""
        found: dict[float, None] = {}
        for step in (0.5, 0.25, 0.1, 0.05, 0.01):
            first = math.ceil((self.least - SLACK) / step)
            for number in range(first, math.floor((self.most + SLACK) / step) + 1):
                found[round(number * step, 4)] = None
            if len(found) > 4:
                break
        for edge in (self.least, self.most):
            found[round(edge, 3)] = None
        return tuple(found)


def rings_of(
    points: NDArray[np.float64], faces: NDArray[np.int64], tolerance: float, least: float = LEAST_RADIUS
) -> tuple[Ring, ...]:
    """Return the round walls of a mesh (points in mm), the largest first; coaxial ones that meet are one.

    Parameters
    ----------
    tolerance
        How far (mm) corners and sides of a wall may differ in their distance from the axis.
    least
        Walls of a smaller radius (mm) are left out.
    """
    a, b, c = (points[faces[:, i]] for i in range(3))
    normal = np.cross(b - a, c - a)
    area = np.linalg.norm(normal, axis=1)
    sound = area > 0
    unit = np.abs(normal / np.where(sound, area, 1.0)[:, None])
    slanting = sound & (unit.max(axis=1) < 1 - _SQUARE**2)
    found: list[Ring] = []
    for axis in range(3):
        sides = np.flatnonzero(sound & (unit[:, axis] < _SQUARE))
        leaning = slanting[sides]
        if int(leaning.sum()) < _LEAST_SIDES:
            continue
        # Sides of the ring that lie square to another axis belong to it where both neighbours do.
        corner = _welded(points, faces[sides])
        on_ring = np.zeros(int(corner.max()) + 1, dtype=np.bool_)
        on_ring[corner[leaning]] = True
        kept = np.flatnonzero(leaning | on_ring[corner].all(axis=1))
        kept = kept[_firsts(np.sort(corner[kept], axis=1))]
        parts = _parts(corner[kept])
        reaches = _reaches(points, faces[sides[kept[np.concatenate(parts)]]], parts, axis)
        for part, reach in zip(parts, reaches, strict=True):
            # No circle round the corners of a ring is smaller than its own.
            if reach < (1 - _UNEVEN) * least:
                continue
            own = sides[kept[part]]
            ring = _ring(points, faces[own], area[own] / 2, axis, tolerance)
            if ring is not None and ring.most >= least:
                found.append(ring)
    return tuple(sorted(_joined(found), key=lambda ring: (-ring.length * ring.most**2, ring.start)))


def _welded(points: NDArray[np.float64], faces: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the faces by numbers of places: points closer than a thousandth of a millimetre are one."""
    used, index = np.unique(faces, return_inverse=True)
    cells = np.round(points[used] / SLACK).astype(np.int64)
    _, place = np.unique(cells, axis=0, return_inverse=True)
    result: NDArray[np.int64] = place.reshape(-1)[index].reshape(-1, 3)
    return result


def _firsts(rows: NDArray[np.int64]) -> NDArray[np.int64]:
    _, first = np.unique(rows, axis=0, return_index=True)
    return np.sort(first)


def _parts(corner: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """Return the faces of each part that hangs together at its corners."""
    kernel = load("surface")
    pairs = np.concatenate((corner[:, [0, 1]], corner[:, [1, 2]]))
    count = int(corner.max()) + 1
    at = kernel.put(pairs.astype(np.uint32))
    parents = kernel.empty(count, np.uint32)
    kernel.call("join", at, len(pairs), parents, count)
    part = kernel.view(parents, count, np.uint32).astype(np.int64)[corner[:, 0]]
    order = np.argsort(part, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(part[order])) + 1)


def _reaches(
    points: NDArray[np.float64], faces: NDArray[np.int64], parts: list[NDArray[np.int64]], axis: int
) -> NDArray[np.float64]:
    """Return (p,) the radius of a circle that holds each part; ``faces`` are those of all parts in turn."""
    sizes = [len(part) for part in parts]
    starts = np.cumsum([0, *sizes[:-1]])
    across = points[faces][:, :, [(axis + 1) % 3, (axis + 2) % 3]]
    high = np.maximum.reduceat(across.max(axis=1), starts)
    low = np.minimum.reduceat(across.min(axis=1), starts)
    away = across - np.repeat((low + high) / 2, sizes, axis=0)[:, None]
    return np.maximum.reduceat(np.hypot(away[..., 0], away[..., 1]).max(axis=1), starts)


def _ring(
    points: NDArray[np.float64],
    faces: NDArray[np.int64],
    areas: NDArray[np.float64],
    axis: int,
    tolerance: float,
) -> Ring | None:
    one, other = (axis + 1) % 3, (axis + 2) % 3
    own = points[np.unique(faces)]
    flat = own[:, [one, other]]
    # Circle through the corners by least squares on x² + y² = 2ax + 2by + c (Kåsa 1976).
    middle = flat.mean(axis=0)
    rows = np.column_stack((2 * (flat - middle), np.ones(len(flat))))
    solved, *_ = np.linalg.lstsq(rows, ((flat - middle) ** 2).sum(axis=1), rcond=None)
    center = middle + solved[:2]
    reach = np.linalg.norm(flat - center, axis=1)
    most = float(reach.max())
    corners = points[faces][:, :, [one, other]] - center
    least = float(min(_distance(corners[:, i], corners[:, (i + 1) % 3]).min() for i in range(3)))
    if most - least > min(tolerance, _SHARE * most):
        return None
    turns = np.sort(np.arctan2(flat[:, 1] - center[1], flat[:, 0] - center[0]))
    steps = np.diff(np.r_[turns, turns[0] + 2 * np.pi])
    if (steps > 1e-3).sum() < _LEAST_SIDES:
        return None
    low, high = float(own[:, axis].min()), float(own[:, axis].max())
    wall = 2 * math.pi * (least + most) / 2 * (high - low)
    if not _LEAST_AREA * wall <= float(areas.sum()) <= 1.05 * wall:
        return None
    start = [0.0, 0.0, 0.0]
    start[axis], start[one], start[other] = low, float(center[0]), float(center[1])
    return Ring(AXES[axis], (start[0], start[1], start[2]), high - low, least, most)


def _distance(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (n,) the distance of the origin from each segment in the plane."""
    along = b - a
    length = np.maximum((along**2).sum(axis=1), 1e-12)
    share = np.clip(-(a * along).sum(axis=1) / length, 0.0, 1.0)
    nearest: NDArray[np.float64] = np.linalg.norm(a + share[:, None] * along, axis=1)
    return nearest


def _joined(rings: list[Ring]) -> list[Ring]:
    """Join coaxial walls of one radius that meet end to end or overlap."""
    found: list[Ring] = []
    near: dict[tuple[str, int, int], list[int]] = {}  # by axis and square of the middle, to look only there
    for ring in sorted(rings, key=lambda ring: (ring.axis, ring.start[AXES.index(ring.axis)])):
        axis = AXES.index(ring.axis)
        one, other = (k for k in range(3) if k != axis)
        a, b = (math.floor(ring.start[k] / (20 * SLACK)) for k in (one, other))
        around = [near.get((ring.axis, a + i, b + j), ()) for i in (-1, 0, 1) for j in (-1, 0, 1)]
        for place in sorted(itertools.chain.from_iterable(around)):
            old = found[place]
            aside = [abs(old.start[k] - ring.start[k]) for k in (one, other)]
            end = old.start[axis] + old.length
            if (
                max(aside) < 10 * SLACK
                and abs(old.most - ring.most) < 10 * SLACK
                and ring.start[axis] <= end + SLACK
            ):
                length = max(end, ring.start[axis] + ring.length) - old.start[axis]
                found[place] = Ring(
                    old.axis, old.start, length, min(old.least, ring.least), max(old.most, ring.most)
                )
                break
        else:
            near.setdefault((ring.axis, a, b), []).append(len(found))
            found.append(ring)
    return found
