"""What objects of a scene say is built in already: boxes and cylinders where they are such, or voxels."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.cover import covered
from fitplan.lattice.frame import Frame
from fitplan.meshes.marks import Mark, solid_of
from fitplan.meshes.rounds import rings_of
from fitplan.meshes.scene_in import SceneObject
from fitplan.meshes.surface import shells_of
from fitplan.model.solids import AXES, Box, Solid
from fitplan.model.vehicle import BuiltIn

_KINDS = ("motor", "receiver", "cells", "lamp", "sounder")
_TRUE = 2e-3
"""Share of its volume by which a shell may differ from the box or cylinder that it is taken for."""


def built_in_of(
    pieces: Sequence[SceneObject],
    marks: Sequence[Mark],
    names: Sequence[str],
    frame: Frame,
    shift: NDArray[np.float64],
) -> tuple[tuple[BuiltIn, ...], bool]:
    """Return what is built in by name, and whether all of it is as it is and nothing rounded outwards.

    `shift` (mm) is from the frame of the pieces into the vehicle's.
    """
    found = []
    exact = True
    for name in names:
        solids: list[Solid] = []
        for number, mark in enumerate(marks):
            if mark == Mark("built in", name):
                shapes, voxels = _solids(pieces[number], frame, shift)
                solids += [*shapes, *voxels]
                exact = exact and not voxels
        kind = next((kind for kind in _KINDS if kind in name.lower()), "other")
        found.append(BuiltIn(name, kind, tuple(solids)))
    return tuple(found), exact


def _solids(piece: SceneObject, frame: Frame, shift: NDArray[np.float64]) -> tuple[list[Solid], list[Solid]]:
    """Return the shells of a piece that are boxes and cylinders, and boxes of voxels round the others."""
    shells = shells_of(piece.points, piece.faces, np.zeros(len(piece.faces), dtype=np.int64))
    found: list[Solid] = []
    voxels: list[Solid] = []
    rest = []
    for group, volume in enumerate(shells.volume):
        faces = shells.faces[shells.group == group]
        solid = _solid(shells.points + shift, faces, abs(float(volume))) if shells.closed[group] else None
        if solid is None:
            rest.append(faces)
        else:
            found.append(solid)
    if rest:
        part = SceneObject(piece.name, piece.colour, shells.points, np.concatenate(rest))
        boxes = covered(solid_of([part], [0], frame))
        corner = np.asarray(frame.origin) + shift
        for x0, y0, z0, x1, y1, z1 in boxes:
            ends = np.array([(x0, y0, z0), (x1, y1, z1)]) * frame.pitch + corner
            voxels.append(_box(ends[0], ends[1]))
    return found, voxels


def _solid(points: NDArray[np.float64], faces: NDArray[np.int64], volume: float) -> Solid | None:
    """Return the box or cylinder that a closed shell is, or None."""
    used = points[np.unique(faces)]
    low, high = (np.round(corner, 3) for corner in (used.min(axis=0), used.max(axis=0)))
    size = high - low
    if abs(volume - float(np.prod(size))) <= _TRUE * volume:
        return _box(low, high)
    rings = rings_of(points, faces, 0.08 * float(size.max()), least=0.0)
    if len(rings) != 1:
        return None
    ring = rings[0]
    whole = abs(ring.length - size[AXES.index(ring.axis)]) < 0.01
    least, most = (math.pi * radius**2 * ring.length for radius in (ring.least, ring.most))
    if not whole or not least * (1 - _TRUE) <= volume <= most * (1 + _TRUE):
        return None
    return ring.cylinder(ring.radii()[0])


def _box(low: NDArray[np.float64], high: NDArray[np.float64]) -> Box:
    x0, y0, z0, x1, y1, z1 = (round(float(c), 4) for c in (*low, *high))
    return Box((x0, y0, z0), (x1, y1, z1))
