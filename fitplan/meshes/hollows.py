"""The hollows of bricks: a brick is open below, and what is in it is brick to everybody but a mesh.

A shell that stands on the grid, a plate or a brick high, with a roof and walls all round, is a hollow brick.
Its hollow is what lies under its own roof and between its own walls. Larger shells are bodies drawn in one
piece, whose hollows are rooms; a wide shell a brick high without tubes or pins may be either, which is told.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.frame import Frame
from fitplan.meshes.groups import groups_of, numbered
from fitplan.meshes.surface import SLACK, Surface, draw_surface, shells_of, solid_inside
from fitplan.units import BRICK, PLATE, STUD, STUD_HEIGHT

PLAY = 0.15
"""Bricks stand back from the grid by up to this (mm) on each side; common practice, no source."""
_TALLEST = 5 * BRICK
"""Bricks up to two studs wide may be so tall; wider ones are a brick high at most."""
_NARROW = 2 * STUD + PLAY
_THICKEST = 2.4
"""Walls of bricks are about 1.5 mm thick (common practice, no source); in voxels they may be so thick."""
_MOST_EDGE_FACES = 64


@dataclass(frozen=True, eq=False)
class BrickShells:
    """Which shells of a mesh are bricks on the grid.

    Attributes
    ----------
    points
        (n, 3) in mm: outer faces of bricks are moved out onto the grid, by the play at most.
    hollow
        (x, y, z) bool over the frame, the hollows of bricks.
    brick
        (m,) number of the brick that each face belongs to, 0 for none.
    bricks, hollow_bricks
        How many shells are bricks, and how many of them are hollow.
    doubtful
        Sizes in studs (long, wide) of hollow shells wide enough for a lid of one piece, without tubes.
    low, high
        (s, 3) corners of all shells in mm.
    """

    points: NDArray[np.float64]
    hollow: NDArray[np.bool_] = field(repr=False)
    brick: NDArray[np.int64] = field(repr=False)
    low: NDArray[np.float64] = field(repr=False)
    high: NDArray[np.float64] = field(repr=False)
    bricks: int = 0
    hollow_bricks: int = 0
    doubtful: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, eq=False)
class ShellBounds:
    """Shells of a mesh: of each face (m,), bounds (s, 3) in mm, and which are bricks on the grid (s,)."""

    shell: NDArray[np.int64] = field(repr=False)
    low: NDArray[np.float64] = field(repr=False)
    high: NDArray[np.float64] = field(repr=False)
    on_grid: NDArray[np.bool_] = field(repr=False)


def shell_bounds_of(
    points: NDArray[np.float64], faces: NDArray[np.int64], objects: NDArray[np.int64]
) -> ShellBounds:
    """Return the shells of a mesh whose zero is a stud's corner on a plate's level, in mm.

    A brick may be put together from walls and a roof that are bodies of their own: an object of several
    shells, none of them a brick, whose bounds are a brick's, is one shell.
    """
    shell = manifold_groups(points, faces, objects)
    if not len(shell):
        return ShellBounds(shell, np.empty((0, 3)), np.empty((0, 3)), np.empty(0, dtype=np.bool_))
    low, high, first = _bounds(points, faces, shell)
    on_grid = _stands_on_grid(low, high)
    _, owner = np.unique(objects, return_inverse=True)
    of = owner.reshape(-1)[first]  # the object of each shell
    count = np.bincount(of)
    whole_low, whole_high, _ = _bounds(points, faces, owner.reshape(-1))
    pieced = (count > 1) & (np.bincount(of, weights=on_grid) == 0) & _stands_on_grid(whole_low, whole_high)
    if pieced.any():
        same = np.where(pieced[of], len(of) + of, np.arange(len(of)))
        _, shell = np.unique(same[shell], return_inverse=True)
        shell = shell.reshape(-1)
        low, high, _ = _bounds(points, faces, shell)
        on_grid = _stands_on_grid(low, high)
    return ShellBounds(shell, low, high, on_grid)


def _bounds(
    points: NDArray[np.float64], faces: NDArray[np.int64], group: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
    """Return the corners (g, 3) of the bounds of each group of faces, and a face of each."""
    order = np.argsort(group, kind="stable")
    starts = np.flatnonzero(np.r_[True, np.diff(group[order]) > 0])
    corners = points[faces[order]]
    low = np.minimum.reduceat(corners.min(axis=1), starts)
    return low, np.maximum.reduceat(corners.max(axis=1), starts), order[starts]


def brick_shells_of(
    points: NDArray[np.float64],
    faces: NDArray[np.int64],
    objects: NDArray[np.int64],
    frame: Frame,
    level: float,
) -> BrickShells:
    """Return the bricks of a mesh that stands on the stud grid; zero along x and y is a stud's corner.

    Parameters
    ----------
    points, faces, objects
        (n, 3) in mm; (m, 3); (m,) number of the object that each face belongs to.
    level
        Where a plate's face lies along z, in mm.
    """
    points = points - np.array([0.0, 0.0, level])
    frame = replace(frame, origin=(frame.origin[0], frame.origin[1], frame.origin[2] - level))
    bounds = shell_bounds_of(points, faces, objects)
    shell, low, high = bounds.shell, bounds.low, bounds.high
    count = len(low)
    on_grid = np.flatnonzero(bounds.on_grid)
    moved = points.copy()
    hollow = np.zeros(frame.shape, dtype=np.bool_)
    order = np.argsort(shell, kind="stable")
    starts = np.searchsorted(shell[order], np.arange(count + 1))
    things = _Contents(low, high)
    known: dict[bytes, NDArray[np.bool_]] = {}
    hollow_bricks, doubtful = 0, []
    changed = np.zeros(count, dtype=np.bool_)
    for number in on_grid:
        own = faces[order[starts[number] : starts[number + 1]]]
        used = np.unique(own)
        moved[used] = _snapped(points[used], low[number], high[number])
        changed[number] = bool(np.abs(moved[used] - points[used]).max() > SLACK)
        local = moved[used] - np.round(low[number] / (STUD, STUD, PLATE)) * (STUD, STUD, PLATE)
        mesh = np.searchsorted(used, own)
        key = np.round(local * 1000).astype(np.int32).tobytes() + mesh.tobytes()
        if key not in known:
            known[key] = _hollow(local, mesh, frame.pitch)
        room = known[key]
        if not room.any():
            continue
        size = np.round((high[number] - low[number])[:2] / STUD).astype(int)
        if size.min() > 2 and not things.inside(low[number], high[number]):
            doubtful.append((int(size.max()), int(size.min())))
        hollow_bricks += 1
        changed[number] = True
        _put(hollow, room, low[number], frame)
    # What stands on the grid as it is and is full needs no hand.
    brick = np.where(changed[shell], shell + 1, 0)
    return BrickShells(
        moved + np.array([0.0, 0.0, level]),
        hollow,
        brick,
        low + np.array([0.0, 0.0, level]),
        high + np.array([0.0, 0.0, level]),
        len(on_grid),
        hollow_bricks,
        tuple(sorted(set(doubtful))),
    )


def _stands_on_grid(low: NDArray[np.float64], high: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell which bounds are a brick's: whole studs, whole plates (and a stud), no larger than bricks are."""
    fits = np.ones(len(low), dtype=np.bool_)
    for axis in (0, 1):
        for end in (low[:, axis], high[:, axis]):
            fits &= np.abs(end / STUD - np.round(end / STUD)) * STUD <= PLAY
        fits &= np.round((high - low)[:, axis] / STUD) >= 1
    foot = low[:, 2] / PLATE
    fits &= np.abs(foot - np.round(foot)) * PLATE <= PLAY
    tall = high[:, 2] - low[:, 2]
    level = np.zeros(len(low), dtype=np.bool_)
    for studs in (0.0, STUD_HEIGHT):
        plates = (tall - studs) / PLATE
        level |= (np.abs(plates - np.round(plates)) * PLATE <= PLAY) & (np.round(plates) >= 1)
    narrow = (high - low)[:, :2].min(axis=1) <= _NARROW
    return fits & level & (tall <= np.where(narrow, _TALLEST, BRICK) + STUD_HEIGHT + PLAY)


def _snapped(
    points: NDArray[np.float64], low: NDArray[np.float64], high: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Move the outer faces of a brick out onto the grid."""
    result = points.copy()
    for axis, period in ((0, STUD), (1, STUD), (2, PLATE)):
        for end in (low[axis], high[axis]):
            to = round(end / period) * period
            if abs(end - to) <= PLAY:
                result[np.abs(points[:, axis] - end) <= 1e-3, axis] = to
    return result


def _hollow(points: NDArray[np.float64], faces: NDArray[np.int64], pitch: float) -> NDArray[np.bool_]:
    """Return (x, y, z) bool from the brick's own corner: under its own roof, between its own walls."""
    top = points.max(axis=0)
    shape = tuple(math.ceil(float(edge) / pitch - 1e-6) for edge in top)
    frame = Frame((-pitch, -pitch, -pitch), (shape[0] + 2, shape[1] + 2, shape[2] + 2), pitch)
    drawn: Surface = draw_surface(points, faces, frame)
    shells = shells_of(points, faces, np.zeros(len(faces), dtype=np.int64))
    solid = (solid_inside(shells, frame) | drawn.touched)[1:-1, 1:-1, 1:-1]
    roofed = _seen(solid, 2, -1)
    walled = _seen(solid, 0, 1) & _seen(solid, 0, -1) & _seen(solid, 1, 1) & _seen(solid, 1, -1)
    room: NDArray[np.bool_] = ~solid & roofed & walled
    if room.any():
        # A hollow reaches down to the foot; a bore or a notch does not make a brick hollow.
        open_below: NDArray[np.bool_] = room[:, :, 0]
        room &= np.logical_or.reduce(room & open_below[:, :, None], axis=2)[:, :, None]
    if room.any() and not _thin(room, pitch):
        room[:] = False
    return room


def _thin(room: NDArray[np.bool_], pitch: float) -> bool:
    """Tell whether a hollow comes as near to all sides of its brick as a brick's walls are thin."""
    places = np.argwhere(room)
    low, high = places.min(axis=0), places.max(axis=0) + 1
    walls = (*low[:2], *(np.array(room.shape) - high)[:2])
    return bool(max(walls) * pitch <= _THICKEST)


def _seen(solid: NDArray[np.bool_], axis: int, step: int) -> NDArray[np.bool_]:
    line = solid if step > 0 else np.flip(solid, axis)
    seen: NDArray[np.bool_] = np.logical_or.accumulate(line, axis=axis)
    return seen if step > 0 else np.flip(seen, axis)


def _put(hollow: NDArray[np.bool_], room: NDArray[np.bool_], low: NDArray[np.float64], frame: Frame) -> None:
    """Mark a brick's hollow in the frame of the mesh."""
    corner = np.round(low / (STUD, STUD, PLATE)) * (STUD, STUD, PLATE)
    first = np.round((corner - np.asarray(frame.origin)) / frame.pitch).astype(int)
    last = first + np.array(room.shape)
    start, stop = np.maximum(first, 0), np.minimum(last, frame.shape)
    if (start >= stop).any():
        return
    target = hollow[start[0] : stop[0], start[1] : stop[1], start[2] : stop[2]]
    a, b = start - first, stop - first
    target |= room[a[0] : b[0], a[1] : b[1], a[2] : b[2]]


class _Contents:
    """Tells whether some shell stands within another's bounds: a tube or a pin."""

    def __init__(self, low: NDArray[np.float64], high: NDArray[np.float64]) -> None:
        self._low, self._high = low, high

    def inside(self, low: NDArray[np.float64], high: NDArray[np.float64]) -> bool:
        within = (self._low[:, :2] > low[:2] + 1.0).all(axis=1) & (self._high[:, :2] < high[:2] - 1.0).all(
            axis=1
        )
        level = (self._low[:, 2] >= low[2] - PLAY) & (self._high[:, 2] <= high[2] + PLAY)
        return bool((within & level).any())


def manifold_groups(
    points: NDArray[np.float64], faces: NDArray[np.int64], objects: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Return (m,) the shell of each face, from 0: what hangs together at edges, bodies that touch kept apart.

    Where more than two faces of an object meet at an edge, as where equal bricks stand on one another, each
    is joined to the next one across its own material. Which side that is, the greater volume tells.
    """
    number = numbered(points, SLACK)
    corner = number[faces]
    span = int(corner.max(initial=0)) + 1
    edge = np.concatenate([corner[:, [i, (i + 1) % 3]] for i in range(3)])
    forward = edge[:, 0] < edge[:, 1]
    edge.sort(axis=1)
    face = np.tile(np.arange(len(faces)), 3)
    third = np.concatenate([faces[:, (i + 2) % 3] for i in range(3)])
    key = (objects[face] * span + edge[:, 0]) * span + edge[:, 1]
    order = np.argsort(key, kind="stable")
    key, face, forward, third, edge = key[order], face[order], forward[order], third[order], edge[order]
    starts = np.flatnonzero(np.r_[True, key[1:] != key[:-1]])
    lengths = np.diff(np.r_[starts, len(key)])
    two = starts[lengths == 2]
    pairs = [np.column_stack((face[two], face[two + 1]))]
    a, b, c = (points[faces[:, i]] for i in range(3))
    normal = np.cross(b - a, c - a)
    outward = 1.0 if float(np.einsum("ij,ij->", a - points.mean(axis=0), normal)) >= 0 else -1.0
    place = np.zeros((int(number.max(initial=0)) + 1, 3))
    place[number] = points
    crowded = np.flatnonzero((lengths > 2) & (lengths <= _MOST_EDGE_FACES))
    joined: list[tuple[int, int]] = []
    for start, length in zip(starts[crowded], lengths[crowded], strict=True):
        own = slice(start, start + length)
        axis = place[edge[start, 1]] - place[edge[start, 0]]
        joined += _paired(
            axis,
            points[third[own]] - place[edge[start, 0]],
            normal[face[own]] * outward,
            forward[own],
            face[own],
        )
    if joined:
        pairs.append(np.array(joined, dtype=np.int64))
    group = groups_of(np.concatenate(pairs), len(faces))
    _, group = np.unique(group, return_inverse=True)
    return group.reshape(-1)


def _paired(
    axis: NDArray[np.float64],
    towards: NDArray[np.float64],
    normal: NDArray[np.float64],
    forward: NDArray[np.bool_],
    face: NDArray[np.int64],
) -> Sequence[tuple[int, int]]:
    """Join the faces at one edge, each to the next across its own material that runs the other way round."""
    length = math.sqrt(float(axis @ axis))
    if length <= 0:
        return []
    along = axis / length
    level = towards - np.outer(towards @ along, along)
    side = np.cross(along, level[0])  # as long as level[0], for along is a unit vector square to it
    angle = np.arctan2(level @ side, level @ level[0])
    # Material lies against the normal: which way round the edge that is from the face.
    turn = np.sign(np.einsum("ij,ij->i", np.cross(along, level), -normal))
    found = []
    for i in range(len(face)):
        gaps = (angle - angle[i]) * turn[i] % (2 * np.pi)
        gaps[gaps < 1e-6] = 2 * np.pi
        other = (forward != forward[i]) & (turn == -turn[i])
        other[i] = False
        if other.any():
            j = int(np.where(other, gaps, 9.0).argmin())
            found.append((int(face[i]), int(face[j])))
    return found
