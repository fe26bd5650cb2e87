"""Solids into voxels, exactly: each voxel is tested as a cube against the solid, never by its middle.

Every solid is a plane figure (rectangle, disc, half rectangle) drawn out along one axis, so a voxel's test
is one in the plane and one along the axis.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.frame import TOLERANCE, Frame, Rounding, Window
from fitplan.model.solids import AXES, Cylinder, Solid, Wedge, axis_of, is_forward

__all__ = ["Rounding", "draw", "draw_local"]


def draw(solid: Solid, frame: Frame, rounding: Rounding) -> NDArray[np.bool_]:
    """Return (x, y, z) bool, True where the voxel's open cube touches the solid, or lies wholly inside it.

    The part of the solid outside the frame is left out.
    """
    result = np.zeros(frame.shape, dtype=np.bool_)
    window, mask = draw_local(solid, frame, rounding)
    result[window] = mask
    return result


def draw_local(solid: Solid, frame: Frame, rounding: Rounding) -> tuple[Window, NDArray[np.bool_]]:
    """Return the window of the solid's bounds in the frame and the drawing inside that window."""
    window = frame.box_slice(solid.bounds, rounding)
    shape = tuple(part.stop - part.start for part in window)
    match solid:
        case Cylinder():
            along = AXES.index(solid.axis)
            plane = _disc(solid, frame, window, rounding)
        case Wedge():
            axes = {axis_of(solid.base), axis_of(solid.back)}
            along = next(axis for axis in range(3) if axis not in axes)
            plane = _half(solid, frame, window, rounding)
        case _:
            return window, np.ones(shape, dtype=np.bool_)
    return window, np.broadcast_to(np.expand_dims(plane, along), shape)


def _interval(frame: Frame, window: Window, axis: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    edges = frame.edges(axis)[window[axis].start : window[axis].stop + 1]
    return edges[:-1], edges[1:]


def _disc(solid: Cylinder, frame: Frame, window: Window, rounding: Rounding) -> NDArray[np.bool_]:
    squares = []
    for axis in range(3):
        if axis == AXES.index(solid.axis):
            continue
        low, high = _interval(frame, window, axis)
        middle = solid.start[axis]
        if rounding == "outward":
            apart = np.maximum(np.maximum(low - middle, middle - high), 0.0)
        else:
            apart = np.maximum(np.abs(low - middle), np.abs(high - middle))
        squares.append(apart**2)
    distance = np.sqrt(squares[0][:, None] + squares[1][None, :])
    result: NDArray[np.bool_]
    if rounding == "outward":
        result = distance < solid.radius - TOLERANCE
    else:
        result = distance <= solid.radius + TOLERANCE
    return result


def _half(solid: Wedge, frame: Frame, window: Window, rounding: Rounding) -> NDArray[np.bool_]:
    """Sum of the shares of the box's edges: the least over voxel and box (outward), or the greatest."""
    shares: dict[int, NDArray[np.float64]] = {}
    for face in (solid.base, solid.back):
        axis = axis_of(face)
        low, high = _interval(frame, window, axis)
        near, far = solid.box.low[axis], solid.box.high[axis]
        if not is_forward(face):
            nearest, farthest = low - near, high - near
        else:
            nearest, farthest = far - high, far - low
        chosen = np.maximum(nearest, 0.0) if rounding == "outward" else farthest
        shares[axis] = chosen / (far - near)
    one, other = (shares[axis] for axis in sorted(shares))
    total = one[:, None] + other[None, :]
    slack = TOLERANCE / max(solid.box.size)
    result: NDArray[np.bool_] = total < 1 - slack if rounding == "outward" else total <= 1 + slack
    return result
