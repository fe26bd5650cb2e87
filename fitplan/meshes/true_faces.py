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
    for k, place, own in planes:
        layer = _layer(frame, k, place)
        if layer is None:
            continue
        window, thin = layer
        count = np.zeros(thin.shape, dtype=np.uint16)
        for number in np.unique(objects[own]):
            corners = points[faces[own[objects[own] == number]]].reshape(-1, 3)
            count += draw_surface(corners, np.arange(len(corners)).reshape(-1, 3), thin).touched
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


def _layer(frame: Frame, axis: int, place: float) -> tuple[Window, Frame] | None:
    """Return the one layer of voxels that a plane square to an axis cuts: its window and its frame."""
    index = math.floor((place - frame.origin[axis]) / frame.pitch)
    if not 0 <= index < frame.shape[axis]:
        return None
    window, origin, shape = [slice(None)] * 3, list(frame.origin), list(frame.shape)
    window[axis] = slice(index, index + 1)
    origin[axis] += index * frame.pitch
    shape[axis] = 1
    thin = Frame((origin[0], origin[1], origin[2]), (shape[0], shape[1], shape[2]), frame.pitch)
    return (window[0], window[1], window[2]), thin


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
        low, high = list(box.low), list(box.high)
        (high if move.upper else low)[move.axis] = move.to
        moved = Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
        solids[move.solid] = replace(solids[move.solid], solid=moved)
    return replace(body, solids=tuple(solids))
