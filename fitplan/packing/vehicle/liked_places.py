"""What makers like of places that are otherwise equal: easy to reach, square to the body.

Weights are small beside a way of a wire: they decide between equals. All are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fitplan.model.part import Part
from fitplan.model.solids import DIRECTIONS, Direction, axis_of, is_forward, pose_named
from fitplan.model.vehicle import Opening

PER_REACH = {True: 0.2, False: 0.05}
"""What a millimetre costs between what is reached often, or seldom, and the lid over it (mm of wire)."""
PER_ACROSS = 0.05
"""What a millimetre costs by which a part lies longer across the vehicle than along it (mm of wire)."""


def unliked(
    part: Part,
    poses: Sequence[str],
    variant: NDArray[np.int64],
    bounds: NDArray[np.float64],
    lids: Sequence[Opening],
) -> NDArray[np.float64]:
    """Return (n,) float64, what places cost by themselves, in mm of wire.

    Parameters
    ----------
    poses, variant
        Names of the poses, and (n,) which of them a place has.
    bounds
        (n, 6) boxes round the part in its places, in mm.
    lids
        Openings of the vehicle.
    """
    size = bounds[:, 3:5] - bounds[:, :2]
    cost = PER_ACROSS * np.maximum(size[:, 1] - size[:, 0], 0.0)
    for access in part.access:
        sides = [pose_named(pose).turn_direction(access.side) for pose in poses]
        for side in DIRECTIONS:
            under = [lid for lid in lids if lid.out == side]
            here = np.array([own == side for own in sides], dtype=np.bool_)[variant]
            if under and here.any():
                away = np.min([_away(bounds[here], lid, side) for lid in under], axis=0)
                cost[here] += PER_REACH[access.often] * away
    return cost


def _away(bounds: NDArray[np.float64], lid: Opening, side: Direction) -> NDArray[np.float64]:
    """Return (n,) how far (mm) boxes lie behind a lid, and how far their middles lie beside it."""
    axis = axis_of(side)
    if is_forward(side):
        away = np.maximum(lid.box.low[axis] - bounds[:, axis + 3], 0.0)
    else:
        away = np.maximum(bounds[:, axis] - lid.box.high[axis], 0.0)
    for other in range(3):
        if other != axis:
            middle = (bounds[:, other] + bounds[:, other + 3]) / 2
            away = away + np.maximum(lid.box.low[other] - middle, 0.0)
            away = away + np.maximum(middle - lid.box.high[other], 0.0)
    found: NDArray[np.float64] = away
    return found
