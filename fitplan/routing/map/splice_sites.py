"""Where a splice may be soldered: room for its sleeve, in sight of an opening, away from other splices."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import axis_of, is_forward
from fitplan.routing.map.vehicle_map import SPLICE_CLEAR_MM, VehicleMap
from fitplan.routing.ways.way import Voxel

HIDDEN_MM = 60.0
"""Wire that is spent to have a splice in sight of an opening (common practice, no source)."""


def in_sight(map_: VehicleMap) -> NDArray[np.bool_]:
    """Return (x, y, z) bool, True where an opening or the open top is straight ahead, nothing in between.

    There a splice can be held, soldered and looked at while the opening is open and the parts are in.
    """
    seen = np.zeros(map_.free.shape, dtype=np.bool_)
    for opening in map_.vehicle.openings:
        box = map_.frame.box_slice(opening.box, "outward")
        axis, forwards = axis_of(opening.out), is_forward(opening.out)
        window = list(box)
        # From the outer end of the opening inwards; the lid itself is off.
        window[axis] = slice(None, box[axis].stop) if forwards else slice(box[axis].start, None)
        clear = map_.free[window[0], window[1], window[2]].copy()
        lid = [slice(None)] * 3
        depth = box[axis].stop - box[axis].start
        lid[axis] = slice(-depth, None) if forwards else slice(None, depth)
        clear[tuple(lid)] = True
        inwards = np.flip(clear, axis) if forwards else clear
        sight = np.logical_and.accumulate(inwards, axis=axis)
        seen[window[0], window[1], window[2]] |= np.flip(sight, axis) if forwards else sight
    if map_.vehicle.load_top:
        # Open at the top: nothing has to be opened.
        top = map_.frame.box_slice(map_.vehicle.hull, "outward")[2].stop
        sight = np.logical_and.accumulate(np.flip(map_.free[:, :, :top], 2), axis=2)
        seen[:, :, :top] |= np.flip(sight, 2)
    return seen & map_.free


def splice_prices(map_: VehicleMap, splice_mm: float) -> NDArray[np.float32]:
    """Return (x, y, z) float32, how many millimetres a splice counts for; 0 where none may be.

    Parameters
    ----------
    splice_mm
        Wire that a splice takes for itself.
    """
    prices = np.where(in_sight(map_), splice_mm, splice_mm + HIDDEN_MM).astype(np.float32)
    prices[~map_.splice_room] = 0.0
    return prices


def round_splices(map_: VehicleMap, splices: Iterable[Voxel]) -> list[Voxel]:
    """Return the voxels so close to splices that no other may be there: sleeves lie beside each other."""
    reach = int(2 * SPLICE_CLEAR_MM / map_.frame.pitch)
    steps = np.argwhere(np.ones((2 * reach + 1,) * 3, dtype=np.bool_)) - reach
    near = steps[(steps**2).sum(axis=1) * map_.frame.pitch**2 < (2 * SPLICE_CLEAR_MM) ** 2 - 1e-9]
    found = {
        (x, y, z)
        for splice in splices
        for x, y, z in (near + np.array(splice)).tolist()
        if map_.frame.within((x, y, z))
    }
    return sorted(found)
