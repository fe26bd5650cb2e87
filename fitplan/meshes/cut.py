"""Voxels cut to the whole studs and plates that a body reaches into, from its own rear right corner."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.frame import Frame, Window
from fitplan.units import PLATE, STUD


@dataclass(frozen=True, eq=False)
class Cut:
    """From the frame of a mesh into that of its vehicle.

    Attributes
    ----------
    frame
        Starts at the footprint's rear right corner, which is the vehicle's zero; whole studs and plates.
    moved
        (3,) from the frame of the mesh into the vehicle's, in mm.
    """

    frame: Frame
    moved: NDArray[np.float64]
    _to: Window
    _of: Window

    def codes(self, codes: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Return the codes of the voxels that lie in the vehicle's frame, 0 where it reaches farther."""
        result = np.zeros(self.frame.shape, dtype=np.uint8)
        result[self._to] = codes[self._of]
        return result

    def block(self, block: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Return the voxels that lie in the vehicle's frame, False where it reaches farther."""
        result: NDArray[np.bool_] = self.codes(block.view(np.uint8)) != 0
        return result


def cut_of(used: NDArray[np.bool_], frame: Frame) -> Cut:
    """Return the cut round the voxels that are used; the frame's zero along x and y lies on a stud corner."""
    pitch = frame.pitch
    to, of, shape, origin = [], [], [], []
    for axis, period in enumerate((STUD, STUD, PLATE)):
        others = tuple(other for other in range(3) if other != axis)
        places = np.flatnonzero(used.any(axis=others))
        step = round(period / pitch)
        # Index of the vehicle's zero along x and y; layers start at the lowest solid along z.
        zero = round(-frame.origin[axis] / pitch) if axis < 2 else int(places[0])
        first = zero + math.floor((int(places[0]) - zero) / step) * step
        last = first + math.ceil((int(places[-1]) + 1 - first) / step) * step
        to.append(slice(max(-first, 0), min(last, frame.shape[axis]) - first))
        of.append(slice(max(first, 0), min(last, frame.shape[axis])))
        shape.append(last - first)
        origin.append(frame.origin[axis] + first * pitch)
    corner = (0.0, 0.0, round(origin[2], 4))
    return Cut(
        Frame(corner, (shape[0], shape[1], shape[2]), pitch),
        np.array([-origin[0], -origin[1], 0.0]),
        (to[0], to[1], to[2]),
        (of[0], of[1], of[2]),
    )
