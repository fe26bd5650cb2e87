"""Which of a map and its mirror image is to be solved, so that a mirrored train gets the mirrored wires.

Among equally short ways a search takes the first it meets, and what is first depends on the voxels' order.
Solving always the same one of the two images, and turning the answer back, makes left and right equal.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.ways import Voxel


def to_be_mirrored(free: NDArray[np.bool_], places: Iterable[Sequence[int]]) -> bool:
    """Tell whether the mirror image (left for right) is the one to be solved.

    Of a map and its image, exactly one is to be mirrored, unless they are the same with all places.

    Parameters
    ----------
    free
        (x, y, z) bool; y is mirrored.
    places
        Voxels that matter, such as pins, in a fixed order.
    """
    image = free[:, ::-1]
    different = free != image
    if different.any():
        first = np.unravel_index(int(different.argmax()), free.shape)
        return bool(free[first])
    width = free.shape[1] - 1
    for voxel in places:
        if 2 * voxel[1] != width:
            return bool(2 * voxel[1] > width)
    return False


def mirrored(voxel: Voxel, width: int) -> Voxel:
    """Return the voxel's image in a map so many voxels wide."""
    return voxel[0], width - 1 - voxel[1], voxel[2]


def mirrored_way(voxels: NDArray[np.int32], width: int) -> NDArray[np.int32]:
    """Return the image of (n, 3) voxels in a map so many voxels wide."""
    image = voxels.copy()
    image[:, 1] = width - 1 - image[:, 1]
    return image
