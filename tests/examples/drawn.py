"""A vehicle drawn into voxels and a part tried at every place of them, by brute force.

Shares nothing with the lattice or the packer: it answers for the examples whether a part has a place at all.
A place that is found with all solids grown to whole voxels is a place. Where none is found with the body
shrunk to whole voxels, and of the part only the voxels that it fills wherever it begins within a voxel, there
is no place in the right-angled poses.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from fitplan.model.part import Part
from fitplan.model.solids import AXES, Box, Cylinder, Place, Pose, Solid, bounds_of, poses
from fitplan.model.vehicle import Vehicle

GROWN, SHRUNK = 0.8, 0.4
"""Voxel edges in mm: a proof that there is no place wants the finer one."""
FREE, CLEAR, SOLID = 0, 1, 2
ORIGIN = (0.0, 0.0, 0.0)


def _grown(low: float, high: float) -> tuple[int, int]:
    return math.floor(low / GROWN + 1e-6), math.ceil(high / GROWN - 1e-6)


def _shrunk(low: float, high: float) -> tuple[int, int]:
    return math.ceil(low / SHRUNK - 1e-6), math.floor(high / SHRUNK + 1e-6)


def _stamp(space: NDArray[np.uint8], hull: Box, solid: Solid, state: int, grown: bool) -> None:
    """Set the state of the voxels that a solid touches (grown) or fills (not grown)."""
    assert isinstance(solid, Box | Cylinder)
    span, edge = (_grown, GROWN) if grown else (_shrunk, SHRUNK)
    box = solid.bounds
    spans = [span(box.low[i] - hull.low[i], box.high[i] - hull.low[i]) for i in range(3)]
    cut = tuple(slice(max(a, 0), max(b, 0)) for a, b in spans)
    room = space[cut]
    if isinstance(solid, Box):
        room[...] = state
        return
    across = [i for i, axis in enumerate(AXES) if axis != solid.axis]
    middles = np.meshgrid(
        *[(np.arange(room.shape[i]) + cut[i].start + 0.5) * edge + hull.low[i] for i in range(3)],
        indexing="ij",
    )
    apart = np.hypot(*(middles[i] - solid.start[i] for i in across))
    room[apart < solid.radius + edge / math.sqrt(2) * (1 if grown else -1)] = state


def draw(vehicle: Vehicle, grown: bool, removed: Collection[str] = ()) -> NDArray[np.uint8]:
    """Return (x, y, z) uint8: free, clear (nothing may be put there) or solid.

    Grown, free room shrinks and the whole floor is as high as its studs; otherwise there are no studs.
    """
    hull = vehicle.hull
    edge = GROWN if grown else SHRUNK
    space = np.full([round(length / edge) for length in hull.size], CLEAR, np.uint8)
    for entry in vehicle.body:
        if entry.state == "free" or entry.removable in removed:
            _stamp(space, hull, entry.solid, FREE, not grown if isinstance(entry.solid, Cylinder) else grown)
        else:
            state = SOLID if entry.state in ("fixed", "removable") else CLEAR
            _stamp(space, hull, entry.solid, state, grown)
    for built in vehicle.built_in:
        for item in built.solids:
            _stamp(space, hull, item, SOLID, grown)
    if grown and vehicle.floor_finish == "studded":
        above = space[:, :, 1:]
        floors = np.argwhere((above == FREE) & (space[:, :, :-1] == SOLID))
        for x, y, z in floors:
            space[x, y, z + 1 : z + 4] = SOLID  # 1.7 mm
    return space


def _sums(blocked: NDArray[np.bool_]) -> NDArray[np.int32]:
    table = np.zeros([edge + 1 for edge in blocked.shape], np.int32)
    table[1:, 1:, 1:] = blocked.cumsum(0, dtype=np.int32).cumsum(1, dtype=np.int32).cumsum(2, dtype=np.int32)
    return table


def _has_place(table: NDArray[np.int32], part: Part, pose: Pose, grown: bool) -> bool:
    """Return True when the envelope's boxes meet no blocked voxel at some whole-voxel position."""
    turned = Place(pose, ORIGIN)
    bounds = bounds_of(tuple(turned.move_solid(solid) for solid in part.envelope))
    edge = GROWN if grown else SHRUNK
    spans: list[list[tuple[int, int]]] = []
    for solid in part.envelope:
        box = turned.move_solid(solid).bounds
        near = [box.low[i] - bounds.low[i] for i in range(3)]
        far = [box.high[i] - bounds.low[i] for i in range(3)]
        if grown:
            spans.append([_grown(a, b) for a, b in zip(near, far, strict=True)])
        elif isinstance(solid, Box):
            # The part begins up to one voxel further on: what it fills wherever it begins.
            spans.append([_shrunk(a + edge, b) for a, b in zip(near, far, strict=True)])
    size = [math.floor(length / edge + 1e-6) for length in bounds.size]
    if grown:
        size = [math.ceil(length / edge - 1e-6) for length in bounds.size]
    steps = [whole - length for whole, length in zip(table.shape, size, strict=True)]
    if min(steps) <= 0:
        return False
    found = np.ones(steps, bool)
    for span in spans:
        if any(a >= b for a, b in span):
            continue
        count = np.zeros(steps, np.int32)
        for corner in itertools.product((0, 1), repeat=3):
            cut = tuple(slice(span[i][c], span[i][c] + steps[i]) for i, c in enumerate(corner))
            count += (-1) ** (3 - sum(corner)) * table[cut]
        found &= count == 0
    return bool(found.any())


def fits(vehicle: Vehicle, part: Part, removed: Collection[str] = ()) -> bool:
    """Return True when the part surely has a place in one of its poses."""
    table = _sums(draw(vehicle, True, removed) != FREE)
    return any(_has_place(table, part, pose, True) for pose in poses())


def cannot_fit(vehicle: Vehicle, part: Part, removed: Collection[str] = ()) -> bool:
    """Return True when the part surely has no place in any right-angled pose."""
    table = _sums(draw(vehicle, False, removed) != FREE)
    return not any(_has_place(table, part, pose, False) for pose in poses())
