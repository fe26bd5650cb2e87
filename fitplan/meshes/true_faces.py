"""Level faces off the grid where they truly are, so that a panel of 1.5 mm is written as 1.5 mm.

A voxel that a single level face cuts, with something solid on one side and clear space on the other, is known
exactly: it is solid up to that face. Boxes of a body that end in such voxels are moved to the face. The moved
body is drawn again; a face that frees a voxel which is wholly solid goes back to the grid.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.frame import Frame, Window
from fitplan.lattice.space import VehicleSpace
from fitplan.meshes.blocks import FIXED, LayeredBody, StateBlock
from fitplan.meshes.surface import SLACK, draw_surface
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid, Vehicle

_LEVEL = 1 - 1e-6
_ROUNDS = 4
_MOST_AT_ONCE = 4_000_000


@dataclass(frozen=True, eq=False)
class LevelFaces:
    """Voxels that one level face alone cuts.

    Attributes
    ----------
    axis
        (x, y, z) int8, the axis that the face is square to, −1 where there is no such face.
    at
        (x, y, z) float64, where it lies along that axis in mm.
    below
        (x, y, z) bool, True where the voxel is solid below the face, False where it is above.
    full
        (x, y, z) bool, voxels that are wholly solid because two objects meet at the face.
    """

    axis: NDArray[np.int8]
    at: NDArray[np.float64]
    below: NDArray[np.bool_]
    full: NDArray[np.bool_]


def level_faces_of(
    block: StateBlock,
    points: NDArray[np.float64],
    faces: NDArray[np.int64],
    objects: NDArray[np.int64],
) -> LevelFaces:
    """Return the voxels of a block that one level face alone cuts; points in mm in the block's frame.

    ``objects`` (m,) is the object of each face.
    """
    frame = block.frame
    axis = np.full(frame.shape, -1, dtype=np.int8)
    at = np.zeros(frame.shape)
    below = np.zeros(frame.shape, dtype=np.bool_)
    planes, rest = _planes(frame, points, faces)
    if not planes:
        return LevelFaces(axis, at, below, below)
    times = np.zeros(frame.shape, dtype=np.uint16)
    meeting = np.zeros(frame.shape, dtype=np.bool_)
    voxels = (points - np.asarray(frame.origin)) / frame.pitch
    for k in range(3):
        layers = [(place, own) for plane, place, own in planes if plane == k]
        counts = _counts(frame, k, layers, voxels, faces, objects)
        for (place, _), (index, count) in zip(layers, counts, strict=True):
            if count is None:
                continue
            window = _layer(k, index)
            axis[window][count > 0] = k
            at[window][count > 0] = place
            times[window] += count > 0
            meeting[window] |= count == 2
    if len(rest):
        times += 2 * draw_surface(points, faces[rest], frame).touched.astype(np.uint16)
    solid = block.codes >= FIXED
    alone = (times == 1) & solid
    full = np.zeros(frame.shape, dtype=np.bool_)
    for k in range(3):
        lower, upper = _neighbours(solid, k)
        here = alone & (axis == k)
        full |= here & meeting & lower & upper
        alone &= ~here | (lower != upper)
        below |= here & lower
    axis[~alone] = -1
    return LevelFaces(axis, at, below & alone, full)


def _layer(axis: int, index: int) -> Window:
    """Return the window of one layer of voxels square to an axis."""
    window = [slice(None)] * 3
    window[axis] = slice(index, index + 1)
    return (window[0], window[1], window[2])


@dataclass(frozen=True, eq=False)
class _Patch:
    """An object's faces in one plane: which plane, corners (f, 3, 3) in voxels, and the voxels round them."""

    plane: int
    corners: NDArray[np.float64]
    low: NDArray[np.int64]
    high: NDArray[np.int64]


def _counts(
    frame: Frame,
    axis: int,
    layers: Sequence[tuple[float, NDArray[np.int64]]],
    voxels: NDArray[np.float64],
    faces: NDArray[np.int64],
    objects: NDArray[np.int64],
) -> list[tuple[int, NDArray[np.uint16] | None]]:
    """Return for each plane the layer that it cuts and how many objects lie in it voxel by voxel.

    ``layers`` holds each plane's place in mm and its faces, ``voxels`` (n, 3) the points in voxels. The count
    is None where a plane lies beyond the frame. Each object is drawn into a layer of its own, many at once.
    """
    thin = list(frame.shape)
    thin[axis] = 1
    found: list[tuple[int, NDArray[np.uint16] | None]] = []
    patches: list[_Patch] = []
    for plane, (place, own) in enumerate(layers):
        index = math.floor((place - frame.origin[axis]) / frame.pitch)
        inside = 0 <= index < frame.shape[axis]
        found.append((index, np.zeros(thin, dtype=np.uint16) if inside else None))
        if not inside:
            continue
        order = np.argsort(objects[own], kind="stable")
        for group in np.split(own[order], np.flatnonzero(np.diff(objects[own[order]])) + 1):
            corners = voxels[faces[group]]
            low = np.maximum(np.floor(corners.min(axis=(0, 1))).astype(np.int64) - 1, 0)
            high = np.minimum(np.ceil(corners.max(axis=(0, 1))).astype(np.int64) + 1, frame.shape)
            low[axis], high[axis] = index, index + 1
            if (low < high).all():
                patches.append(_Patch(plane, corners, low, high))
    patches.sort(key=lambda patch: int((patch.high - patch.low).max()))
    while patches:
        some = _as_many_as_fit(patches, axis)
        patches = patches[len(some) :]
        for patch, touched in zip(some, _drawn(some, axis, frame.pitch), strict=True):
            count = found[patch.plane][1]
            assert count is not None
            window = [slice(a, b) for a, b in zip(patch.low, patch.high, strict=True)]
            window[axis] = slice(0, 1)
            count[tuple(window)] += touched
    return found


def _as_many_as_fit(patches: Sequence[_Patch], axis: int) -> Sequence[_Patch]:
    """Return the first patches whose layers, all as large as the largest, are few enough voxels together."""
    area = 1
    for number, patch in enumerate(patches, 1):
        size = patch.high - patch.low
        area = max(area, int(np.delete(size, axis).max()) ** 2)
        if number > 1 and number * area > _MOST_AT_ONCE:
            return patches[: number - 1]
    return patches


def _drawn(patches: Sequence[_Patch], axis: int, pitch: float) -> list[NDArray[np.bool_]]:
    """Return the voxels that each patch touches in its own layer."""
    shape = np.max([patch.high - patch.low for patch in patches], axis=0)
    shape[axis] = len(patches)
    corners = []
    for number, patch in enumerate(patches):
        shift = -patch.low
        shift[axis] += number
        corners.append(patch.corners + shift)
    points = np.concatenate(corners).reshape(-1, 3) * pitch
    into = Frame((0.0, 0.0, 0.0), (int(shape[0]), int(shape[1]), int(shape[2])), pitch)
    touched = draw_surface(points, np.arange(len(points)).reshape(-1, 3), into).touched
    found = []
    for number, patch in enumerate(patches):
        window = [slice(0, size) for size in patch.high - patch.low]
        window[axis] = slice(number, number + 1)
        found.append(touched[tuple(window)])
    return found


def _planes(
    frame: Frame, points: NDArray[np.float64], faces: NDArray[np.int64]
) -> tuple[list[tuple[int, float, NDArray[np.int64]]], NDArray[np.int64]]:
    """Return the level planes off the grid (axis, place in mm, faces), and the faces that are not level."""
    a, b, c = (points[faces[:, i]] for i in range(3))
    normal = np.cross(b - a, c - a)
    unit = np.abs(normal) / np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
    found = []
    for k in range(3):
        own = np.flatnonzero(unit[:, k] > _LEVEL)
        places = np.round(a[own, k] / SLACK).astype(np.int64)
        order = np.argsort(places, kind="stable")
        own, places = own[order], places[order]
        for group in np.split(np.arange(len(own)), np.flatnonzero(np.diff(places)) + 1):
            if not len(group):
                continue
            place = float(places[group[0]]) * SLACK
            steps = (place - frame.origin[k]) / frame.pitch
            if abs(steps - round(steps)) * frame.pitch >= 2 * SLACK:
                found.append((k, round(place, 3), own[group]))
    return found, np.flatnonzero((unit <= _LEVEL).all(axis=1))


def _neighbours(solid: NDArray[np.bool_], axis: int) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return whether the voxel below, and the one above along an axis is solid."""
    lower, upper = np.zeros_like(solid), np.zeros_like(solid)
    first, last = [slice(None)] * 3, [slice(None)] * 3
    first[axis], last[axis] = slice(0, -1), slice(1, None)
    lower[tuple(last)] = solid[tuple(first)]
    upper[tuple(first)] = solid[tuple(last)]
    return lower, upper


@dataclass(frozen=True)
class _Move:
    """A face of a solid: which one, along which axis, at its lower or upper end, to where."""

    solid: int
    axis: int
    upper: bool
    to: float
    layer: Window


def with_true_faces(
    vehicle: Vehicle, block: StateBlock, body: LayeredBody, level: LevelFaces
) -> tuple[LayeredBody, NDArray[np.bool_]]:
    """Move the faces of a body's boxes to where they are, and return the voxels that are exact by that.

    Rounded outwards the state of every voxel stays as it was.
    """
    none = np.zeros(block.codes.shape, dtype=np.bool_)
    moves = [move for number, entry in enumerate(body.solids) for move in _moves(block, level, number, entry)]
    if not moves:
        return body, none
    bare = replace(vehicle, rounded=0.0, built_in=(), floor_finish="smooth")
    before = VehicleSpace.of(replace(bare, body=body.drawn), frame=block.frame)
    for _ in range(_ROUNDS):
        made = _moved(body, moves)
        after = VehicleSpace.of(replace(bare, body=made.drawn), frame=block.frame)
        gained = after.free("inward") & ~before.free("inward")
        known = none.copy()
        for move in moves:
            own = (level.axis[move.layer] == move.axis) & (level.at[move.layer] == move.to)
            known[move.layer] |= own
        wrong = (gained & ~known) | (after.states() != before.states())
        if not wrong.any():
            return made, gained
        moves = [move for move in moves if not wrong[move.layer].any()]
    return body, none


def _moves(block: StateBlock, level: LevelFaces, number: int, entry: BodySolid) -> list[_Move]:
    """Return the faces of a box that end in known voxels: within it if it is solid, beyond it if free."""
    if not isinstance(entry.solid, Box) or entry.state not in ("fixed", "removable", "free"):
        return []
    window = block.frame.box_slice(entry.solid, "outward")
    free = entry.state == "free"
    found = []
    for axis in range(3):
        for upper in (False, True):
            edge = window[axis].stop if upper else window[axis].start
            place = edge - (upper != free)
            if not 0 <= place < block.frame.shape[axis]:
                continue
            slices = list(window)
            slices[axis] = slice(place, place + 1)
            layer = (slices[0], slices[1], slices[2])
            own = (level.axis[layer] == axis) & (level.below[layer] == (upper != free))
            places = np.unique(level.at[layer][own])
            if len(places) == 1:
                found.append(_Move(number, axis, upper, float(places[0]), layer))
    return found


def _moved(body: LayeredBody, moves: Sequence[_Move]) -> LayeredBody:
    solids = list(body.solids)
    for move in moves:
        box = solids[move.solid].solid
        assert isinstance(box, Box)
        span = (box.low[move.axis], move.to) if move.upper else (move.to, box.high[move.axis])
        solids[move.solid] = replace(solids[move.solid], solid=box.with_span(move.axis, *span))
    return replace(body, solids=tuple(solids))
