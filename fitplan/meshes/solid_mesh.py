"""Solids into triangles: closed primitives, skins of blocks of cells, and tubes along a wire."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.flat import rectangles
from fitplan.model.solids import AXES, Box, Cylinder, Solid, Vec, Wedge, axis_of, is_forward

SIDES = 48
"""Flat sides that a cylinder is given."""
Faces = Sequence[NDArray[np.float64]]


class Triangles(NamedTuple):
    """Triangles: (n, 3) float64 points in mm and (m, 3) int64 faces that look outwards."""

    points: NDArray[np.float64]
    faces: NDArray[np.int64]


_BOX_FACES = np.array([
    (3, 2, 0), (1, 3, 0), (7, 5, 4), (6, 7, 4), (5, 1, 0), (4, 5, 0),
    (7, 6, 2), (3, 7, 2), (6, 4, 0), (2, 6, 0), (7, 3, 1), (5, 7, 1),
])  # fmt: skip


def mesh_of(solid: Solid, sides: int = SIDES) -> Triangles:
    """Return a closed mesh of a solid; a cylinder gets the cross-section of equal area with so many sides."""
    match solid:
        case Box():
            corners = np.array([
                (x, y, z)
                for x in (solid.low[0], solid.high[0])
                for y in (solid.low[1], solid.high[1])
                for z in (solid.low[2], solid.high[2])
            ])  # fmt: skip
            return Triangles(corners, _BOX_FACES.copy())
        case Cylinder():
            return _cylinder(solid, sides)
    return _wedge(solid)


def joined(meshes: Sequence[Triangles]) -> Triangles:
    """Return several meshes as one, shell beside shell."""
    points, faces, start = [np.zeros((0, 3))], [np.zeros((0, 3), dtype=np.int64)], 0
    for mesh in meshes:
        points.append(mesh.points)
        faces.append(mesh.faces + start)
        start += len(mesh.points)
    return Triangles(np.concatenate(points), np.concatenate(faces))


def _prism(outline: NDArray[np.float64], low: float, high: float, along: int) -> Triangles:
    """Draw an outline (n, 2), counter-clockwise as seen against the axis, out along an axis."""
    count = len(outline)
    others = [(along + 1) % 3, (along + 2) % 3]
    points = np.zeros((2 * count, 3))
    for end, place in enumerate((low, high)):
        rows = slice(end * count, (end + 1) * count)
        points[rows, others[0]], points[rows, others[1]] = outline[:, 0], outline[:, 1]
        points[rows, along] = place
    faces = []
    for i in range(count):
        j = (i + 1) % count
        faces += [(i, j, count + j), (i, count + j, count + i)]
    for i in range(1, count - 1):
        faces += [(0, i + 1, i), (count, count + i, count + i + 1)]
    return Triangles(points, np.array(faces, dtype=np.int64))


def _cylinder(solid: Cylinder, sides: int) -> Triangles:
    along = AXES.index(solid.axis)
    # A polygon of equal area: half of it stands out of the circle, half stays within.
    radius = solid.radius * math.sqrt(2 * math.pi / (sides * math.sin(2 * math.pi / sides)))
    angle = 2 * np.pi * (np.arange(sides) + 0.5) / sides
    middle = [solid.start[(along + 1) % 3], solid.start[(along + 2) % 3]]
    outline = np.column_stack((np.cos(angle), np.sin(angle))) * radius + middle
    return _prism(outline, solid.start[along], solid.start[along] + solid.length, along)


def _wedge(solid: Wedge) -> Triangles:
    base, back = axis_of(solid.base), axis_of(solid.back)
    along = 3 - base - back
    one, other = (along + 1) % 3, (along + 2) % 3
    full = {base: not is_forward(solid.base), back: not is_forward(solid.back)}
    low, high = solid.box.low, solid.box.high
    corner = {
        axis: (low[axis], high[axis]) if full[axis] else (high[axis], low[axis]) for axis in (base, back)
    }
    outline = np.array([
        (corner[one][0], corner[other][0]),
        (corner[one][1], corner[other][0]),
        (corner[one][0], corner[other][1]),
    ])  # fmt: skip
    (ax, ay), (bx, by), (cx, cy) = outline
    if (bx - ax) * (cy - ay) - (by - ay) * (cx - ax) < 0:
        outline = outline[::-1]
    return _prism(outline, low[along], high[along], along)


def skin_of(cells: NDArray[np.bool_], faces: Faces) -> Triangles:
    """Return the skin of a block of cells: two triangles for each cell face between set and unset.

    Parameters
    ----------
    cells
        (x, y, z) bool.
    faces
        Coordinates of the cell faces along each axis in mm.

    Notes
    -----
    Corners are shared, so the skin is watertight wherever set cells do not meet along an edge alone.
    """
    padded = np.pad(cells, 1)
    shape = tuple(n + 1 for n in cells.shape)
    corners: list[NDArray[np.int64]] = []
    for axis in range(3):
        before, behind = [slice(1, -1)] * 3, [slice(1, -1)] * 3
        before[axis], behind[axis] = slice(0, -1), slice(1, None)
        lower, upper = padded[tuple(before)], padded[tuple(behind)]
        one, other = (axis + 1) % 3, (axis + 2) % 3
        for found, outwards in ((np.argwhere(lower & ~upper), True), (np.argwhere(upper & ~lower), False)):
            quad = np.repeat(found[:, None, :], 4, axis=1)
            quad[:, 1:3, one] += 1
            quad[:, 2:4, other] += 1
            corners.append(quad if outwards else quad[:, ::-1])
    quads = np.concatenate(corners).reshape(-1, 3)
    flat = np.ravel_multi_index((quads[:, 0], quads[:, 1], quads[:, 2]), shape)
    used, index = np.unique(flat, return_inverse=True)
    place = np.column_stack(np.unravel_index(used, shape))
    points = np.column_stack([faces[axis][place[:, axis]] for axis in range(3)])
    index = index.reshape(-1, 4)
    triangles = np.concatenate((index[:, [0, 1, 2]], index[:, [0, 2, 3]]))
    return Triangles(points.astype(np.float64), triangles.astype(np.int64))


def plates_of(cells: NDArray[np.bool_], faces: Faces) -> Triangles:
    """Return the skin of a block of cells in few rectangles: for the eye, corners are not shared."""
    padded = np.pad(cells, 1)
    points: list[tuple[float, ...]] = []
    triangles: list[tuple[int, int, int]] = []
    for axis in range(3):
        one, other = (axis + 1) % 3, (axis + 2) % 3
        lines = np.moveaxis(padded, (axis, one, other), (0, 1, 2))
        steps = (lines[1:] != lines[:-1]).any(axis=(1, 2))
        for level in np.flatnonzero(steps).tolist():
            lower, upper = lines[level, 1:-1, 1:-1], lines[level + 1, 1:-1, 1:-1]
            for mask, outwards in ((lower & ~upper, True), (upper & ~lower, False)):
                for a0, b0, a1, b1 in rectangles(mask):
                    corners = [(a0, b0), (a1, b0), (a1, b1), (a0, b1)]
                    start = len(points)
                    for a, b in corners if outwards else corners[::-1]:
                        point = [0.0, 0.0, 0.0]
                        point[axis] = float(faces[axis][level])
                        point[one], point[other] = float(faces[one][a]), float(faces[other][b])
                        points.append(tuple(point))
                    triangles += [(start, start + 1, start + 2), (start, start + 2, start + 3)]
    return Triangles(np.array(points).reshape(-1, 3), np.array(triangles, dtype=np.int64).reshape(-1, 3))


def tube(points: Sequence[Vec], radius: float, sides: int = 8) -> Triangles:
    """Return a wire: a closed prism round each straight piece of a way, long enough to meet at the bends."""
    pieces = []
    turn = 2 * np.pi * np.arange(sides) / sides
    for start, end in pairwise(points):
        a, b = np.array(start), np.array(end)
        length = float(np.linalg.norm(b - a))
        if length < 1e-9:
            continue
        along = (b - a) / length
        aside = np.cross(along, np.eye(3)[int(np.abs(along).argmin())])
        aside /= np.linalg.norm(aside)
        upright = np.cross(along, aside)
        ring = radius * (np.cos(turn)[:, None] * aside + np.sin(turn)[:, None] * upright)
        reach = along * min(radius, length) / 2
        shape = _prism(np.column_stack((np.cos(turn), np.sin(turn))), 0.0, 1.0, 2)
        pieces.append(Triangles(np.concatenate((ring + a - reach, ring + b + reach)), shape.faces))
    return joined(pieces)
