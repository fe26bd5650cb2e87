"""How much room there is around each free voxel, and maps that leave room for a bundle.

The clear radius is measured from the middle of a voxel to the nearest point of any solid voxel's box, so it
is exact for the voxel model. A ball of that radius around the middle touches no solid voxel. The same
holds between the middles: at a point between neighbouring free middles (all 2, 4 or 8 of the box that
they span) each solid box is at least as far away as it is from one of those middles, along every axis. A way
whose steps cut no corner therefore has at each of its points at least the least clear radius of its voxels.
"""

from __future__ import annotations

from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from fitplan.kernels import load
from fitplan.lattice.box_round import box_round

Measure = Literal["face", "middle"]
Number = TypeVar("Number", bound=np.generic)

_NONE = 0x3FFFFFFF


def clear_squares(
    free: NDArray[np.bool_], *, to: Measure = "face", outside_solid: bool = False, within: int | None = None
) -> NDArray[np.uint32]:
    """Return the exact squared distance to the nearest solid voxel, as a whole number of (voxel edge / 2)².

    Parameters
    ----------
    free
        (x, y, z) bool, True where free.
    to
        ``face``: to the nearest point of the solid voxel's box; ``middle``: to its middle (the common
        Euclidean distance transform).
    outside_solid
        Take all voxels outside the map as solid.
    within
        Tell distances up to so many voxel edges only; what is farther counts as nowhere.

    Returns
    -------
    NDArray
        (x, y, z) uint32, 0 where solid, 0x3FFFFFFF where there is no solid voxel at all.
    """
    # Of solid voxels those next to the box of all free ones are the nearest.
    box = box_round(free, 1)
    part = free[box]
    kernel = load("clear")
    address = kernel.empty(part.shape, np.uint32)
    kernel.view(address, part.shape, np.uint32)[...] = part
    scratch = kernel.empty(max(part.shape[:2]) * part.shape[2], np.uint32)
    most = _NONE if within is None else (2 * within) ** 2 + 1
    kernel.call("clear_squares", address, scratch, *part.shape, int(to == "middle"), int(outside_solid), most)
    squares = np.zeros(free.shape, dtype=np.uint32)
    found = squares[box]
    found[...] = kernel.view(address, part.shape, np.uint32)
    found[found >= most] = _NONE
    return squares


def clear_radius(
    free: NDArray[np.bool_], pitch: float = 0.8, *, outside_solid: bool = False
) -> NDArray[np.float64]:
    """Return (x, y, z) float64, the clear radius in mm around the middle of each voxel.

    0 where solid, inf where no solid voxel is in the map. See the module for what it guarantees.
    """
    return radius_of(clear_squares(free, outside_solid=outside_solid), pitch)


def radius_of(squares: NDArray[np.uint32], pitch: float = 0.8) -> NDArray[np.float64]:
    """Return (x, y, z) float64, the clear radius in mm from the result of `clear_squares`."""
    radius = np.sqrt(squares.astype(np.float64)) * (pitch / 2)
    radius[squares == _NONE] = np.inf
    return radius


def room_for(
    free: NDArray[np.bool_], radius: float, pitch: float = 0.8, *, outside_solid: bool = False
) -> NDArray[np.bool_]:
    """Return (x, y, z) bool, True where the middle of a bundle with this radius in mm may go.

    A bundle that just touches is let through (to a millionth of the pitch, against rounding).
    """
    if radius <= pitch / 2:
        return free.copy()
    return roomy(clear_squares(free, outside_solid=outside_solid), radius, pitch)


def roomy(squares: NDArray[np.uint32], radius: float, pitch: float = 0.8) -> NDArray[np.bool_]:
    """Return the same as `room_for` from the result of `clear_squares`, for one map and many radii."""
    if radius <= pitch / 2:
        return squares > 0
    result: NDArray[np.bool_] = squares >= (2 * (radius / pitch - 1e-6)) ** 2
    return result


def grown(solid: NDArray[np.bool_], radius: float, pitch: float = 0.8) -> NDArray[np.bool_]:
    """Return (x, y, z) bool, True where a voxel is solid or its middle is nearer than `radius` mm to one.

    Exactly the voxels that `room_for` takes away.
    """
    return ~room_for(~solid, radius, pitch)


def widest_near(width: NDArray[Number]) -> NDArray[Number]:
    """Return the largest value among each voxel and its 26 neighbours."""
    for axis in range(3):
        along = np.moveaxis(width, axis, 0)
        pairs = np.maximum(along[:-1], along[1:])
        found = np.empty_like(width)
        here = np.moveaxis(found, axis, 0)
        here[[0, -1]] = pairs[[0, -1]] if len(pairs) else along[[0, -1]]
        np.maximum(pairs[:-1], pairs[1:], out=here[1:-1])
        width = found
    return width
