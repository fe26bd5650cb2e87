"""Triangles into voxels, and which shells a point lies in."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fitplan.errors import FitplanError
from fitplan.kernels import load
from fitplan.lattice.frame import Frame
from fitplan.meshes.caps import caps_of
from fitplan.meshes.groups import groups_of

SLACK = 0.001
"""Lengths in mm by which a surface may miss the grid and still lie on it (files hold single precision)."""
_SLICE = 100_000
_JITTER = np.array([0.000317, 0.000571, 0.000733])
"""Moves lines of sight off edges and corners, in voxel edges."""
_MOST_VOIDS = 2000
_NEARLY_CLOSED = 0.2

Progress = Callable[[str, float], None]


@dataclass(frozen=True, eq=False)
class Surface:
    """A surface drawn into a frame.

    Attributes
    ----------
    touched
        (x, y, z) bool, True where some triangle passes through the voxel.
    barriers
        (x, y, z) uint8, bits 1, 2, 4: the voxel's lower face along x, y, z lies in the surface.
    """

    frame: Frame
    touched: NDArray[np.bool_] = field(repr=False)
    barriers: NDArray[np.uint8] = field(repr=False)


def draw_surface(
    points: NDArray[np.float64], faces: NDArray[np.int64], frame: Frame, progress: Progress | None = None
) -> Surface:
    """Draw triangles (points in mm) into a frame; exact up to `SLACK`, and never with a gap.

    A triangle that lies on a plane between voxels touches none; it closes the faces that it lies on.
    """
    if len(faces) and not 0 <= faces.min() <= faces.max() < len(points):
        raise ValueError(f"a face names a point that is not among the {len(points)}")
    kernel = load("surface")
    at = kernel.put((points - np.asarray(frame.origin)) / frame.pitch)
    corners = kernel.put(faces.astype(np.uint32))
    touched = kernel.empty(frame.shape, np.uint8)
    barriers = kernel.empty(frame.shape, np.uint8)
    for first in range(0, len(faces), _SLICE):
        last = min(first + _SLICE, len(faces))
        kernel.call(
            "draw_surface", at, corners, first, last, touched, barriers, *frame.shape, SLACK / frame.pitch
        )
        if progress is not None:
            progress("surface", last / len(faces))
    return Surface(
        frame,
        kernel.view(touched, frame.shape, np.uint8) != 0,
        kernel.view(barriers, frame.shape, np.uint8).copy(),
    )


@dataclass(frozen=True, eq=False)
class Shells:
    """Triangles in groups: closed shells one by one, and torn ones that hang together.

    Attributes
    ----------
    group
        (m,) uint32, the group of each face.
    volume
        (g,) float64, signed volume of each group in mm³: positive when its faces look outwards.
    closed
        (g,) bool, True where each edge joins an even number of faces.
    whole
        (g,) bool, True where the group hangs together and is closed, or nearly so.
    """

    points: NDArray[np.float64]
    faces: NDArray[np.int64]
    group: NDArray[np.uint32]
    volume: NDArray[np.float64]
    closed: NDArray[np.bool_]
    whole: NDArray[np.bool_]


def shells_of(points: NDArray[np.float64], faces: NDArray[np.int64], objects: NDArray[np.int64]) -> Shells:
    """Part triangles into shells: faces are joined across each edge that exactly two of them share.

    Parameters
    ----------
    points, faces
        (n, 3) in mm; (m, 3).
    objects
        (m,) number of the object that each face belongs to, from 0; shells never reach across objects.

    Notes
    -----
    Points closer than a thousandth of a millimetre are one. A face that repeats another, the same way round,
    counts once.
    """
    cells = np.round((points - points.min(axis=0)) / SLACK).astype(np.int64)
    corner = _row_numbers(cells)[faces]
    whole = (corner[:, 0] != corner[:, 1]) & (corner[:, 1] != corner[:, 2]) & (corner[:, 2] != corner[:, 0])
    turned = np.argmin(corner, axis=1)
    rolled = np.take_along_axis(corner, (turned[:, None] + np.arange(3)) % 3, axis=1)
    _, first = np.unique(_row_numbers(np.column_stack((objects, rolled))), return_index=True)
    kept = np.zeros(len(faces), dtype=np.bool_)
    kept[first] = True
    kept &= whole
    faces, corner, objects = faces[kept], corner[kept], objects[kept]
    pairs, matched = _neighbours(corner, objects)
    shell = groups_of(pairs, len(faces))
    _, shell = np.unique(shell, return_inverse=True)
    torn = (np.bincount(shell, weights=~matched) > 0)[shell]
    group = np.where(torn, _torn_groups(points, faces, corner, objects, torn) + len(faces), shell)
    closed_below = len(faces)
    # Holes of nearly closed skins get fans, so that all lines of sight agree.
    holed = np.flatnonzero(group > closed_below + int(objects.max(initial=0)))
    if len(holed):
        caps = caps_of(points, faces[holed], corner[holed], group[holed])
        points = np.concatenate((points, caps.points))
        faces = np.concatenate((faces, caps.faces))
        group = np.concatenate((group, caps.group))
    names, group = np.unique(group, return_inverse=True)
    a, b, c = (points[faces[:, i]] for i in range(3))
    sixths = np.bincount(group, weights=np.einsum("ij,ij->i", a, np.cross(b, c)), minlength=len(names))
    closed = names < closed_below
    whole_ones = closed | (names > closed_below + int(objects.max(initial=0)))
    return Shells(points, faces, group.astype(np.uint32), sixths / 6.0, closed, whole_ones)


def _torn_groups(
    points: NDArray[np.float64],
    faces: NDArray[np.int64],
    corner: NDArray[np.int64],
    objects: NDArray[np.int64],
    torn: NDArray[np.bool_],
) -> NDArray[np.int64]:
    """Return (m,) the group of each torn face: what hangs together at points, if it is nearly closed.

    The areas of a closed skin, taken as vectors, add up to nothing. What is far from that, such as single
    sides of a box that share no point, makes one group for each object.
    """
    group = np.zeros(len(faces), dtype=np.int64)
    own = np.flatnonzero(torn)
    if not len(own):
        return group
    points_of = corner[own]
    pairs = np.concatenate((points_of[:, [0, 1]], points_of[:, [1, 2]]))
    part = groups_of(pairs, int(corner.max()) + 1)[points_of[:, 0]]
    _, part = np.unique(np.column_stack((objects[own], part)), axis=0, return_inverse=True)
    part = part.reshape(-1)
    a, b, c = (points[faces[own, i]] for i in range(3))
    area = np.cross(b - a, c - a)
    total = np.column_stack([np.bincount(part, weights=area[:, axis]) for axis in range(3)])
    size = np.bincount(part, weights=np.linalg.norm(area, axis=1))
    nearly = np.linalg.norm(total, axis=1) <= _NEARLY_CLOSED * size
    group[own] = np.where(nearly[part], objects.max() + 1 + part, objects[own])
    return group


def _row_numbers(rows: NDArray[np.int64]) -> NDArray[np.int64]:
    """Give each row of whole numbers from 0 a number; equal rows get the same."""
    number = np.zeros(len(rows), dtype=np.int64)
    for column in rows.T:
        joined = number * (int(column.max(initial=0)) + 1) + column
        _, number = np.unique(joined, return_inverse=True)
    return number.reshape(-1)


def _neighbours(
    corner: NDArray[np.int64], objects: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Pairs of faces that are the only two at an edge, and which faces have even edges only."""
    count = len(corner)
    edge = np.concatenate([corner[:, [i, (i + 1) % 3]] for i in range(3)])
    edge.sort(axis=1)
    face = np.tile(np.arange(count), 3)
    span = int(corner.max(initial=0)) + 1
    key = (objects[face] * span + edge[:, 0]) * span + edge[:, 1]
    order = np.argsort(key, kind="stable")
    key, face = key[order], face[order]
    starts = np.flatnonzero(np.r_[True, key[1:] != key[:-1]])
    lengths = np.diff(np.r_[starts, len(key)])
    two = starts[lengths == 2]
    pairs = np.column_stack((face[two], face[two + 1]))
    even = np.repeat(lengths % 2 == 0, lengths)
    return pairs, np.bincount(face[even], minlength=count) == 3


def inside_shells(shells: Shells, samples: NDArray[np.float64], pitch: float) -> NDArray[np.uint8]:
    """Return (s, g) uint8, in how many of six directions the way out crosses a group an odd number of times.

    6 (or at least 4, where the shell has holes) means that the sample lies inside the group.
    """
    kernel = load("surface")
    groups = len(shells.volume)
    at = kernel.put(shells.points)
    corners = kernel.put(shells.faces.astype(np.uint32))
    group = kernel.put(shells.group)
    result = np.zeros((len(samples), groups), dtype=np.uint8)
    if not len(samples):
        return result
    sample_at = kernel.put(samples + _JITTER * pitch)
    odd = kernel.empty((len(samples), groups), np.uint8)
    kernel.call("look_out", at, corners, len(shells.faces), group, groups, sample_at, len(samples), odd)
    bits = kernel.view(odd, (len(samples), groups), np.uint8)
    for bit in range(6):
        result += (bits >> bit) & 1
    return result


def solid_inside(shells: Shells, frame: Frame) -> NDArray[np.bool_]:
    """Return (x, y, z) bool, True where a voxel's middle lies in solid material.

    A middle is inside a group when at least four of six lines of sight say so. It is solid when it is inside
    more shells than voids; a void is a whole shell that looks the other way and lies in one that holds it.
    """
    groups = len(shells.volume)
    order = np.argsort(shells.group, kind="stable")
    starts = np.searchsorted(shells.group[order], np.arange(groups + 1))
    signs = np.where(_voids(shells, frame.pitch), -1, 1).astype(np.int8)
    kernel = load("surface")
    at = kernel.put((shells.points - np.asarray(frame.origin)) / frame.pitch)
    corners = kernel.put(shells.faces[order].astype(np.uint32))
    starts_at, signs_at = kernel.put(starts.astype(np.uint32)), kernel.put(signs)
    scratch, counts = kernel.empty(frame.shape, np.uint8), kernel.empty(frame.shape, np.int8)
    arrays = (at, corners, starts_at, signs_at, groups, scratch, counts)
    if not kernel.call("count_inside", *arrays, *frame.shape, float(_JITTER[0])):
        raise FitplanError("found a place inside more than 127 closed shells of the mesh; join them first")
    return kernel.view(counts, frame.shape, np.int8) > 0


def _voids(shells: Shells, pitch: float) -> NDArray[np.bool_]:
    """Shells with a sign opposite to that of a shell of greater volume round them."""
    groups = len(shells.volume)
    void = np.zeros(groups, dtype=np.bool_)
    size = np.abs(shells.volume)
    looks_in = shells.volume < 0
    mostly_in = bool(size[looks_in].sum() > size[~looks_in].sum())
    odd_ones = np.flatnonzero(shells.whole & (looks_in != mostly_in))
    odd_ones = odd_ones[np.argsort(-size[odd_ones], kind="stable")][:_MOST_VOIDS]
    if not len(odd_ones):
        return void
    first = np.zeros(groups, dtype=np.int64)
    first[shells.group[::-1]] = np.arange(len(shells.group))[::-1]
    corners = shells.points[shells.faces[first[odd_ones]]]
    votes = inside_shells(shells, corners.mean(axis=1), pitch) >= 4
    for row, group in enumerate(odd_ones):
        around = np.flatnonzero(votes[row] & (size > size[group]))
        if len(around):
            nearest = around[np.argmin(size[around])]
            void[group] = looks_in[group] != looks_in[nearest] and not void[nearest]
    return void
