"""Where in a vehicle a part may lie at all: points inside it, one set for each connected set of offsets.

In: a part that is wanted, a vehicle and the bricks taken out. Out: points that tell in which room of the body
the part then is, since a box of free offsets is connected and so is the way of every point of the part.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.cover import TENTHS
from fitplan.packing.engine.free_offsets import free_pieces
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.seats import Wanted


def possible_spots(
    packer: Packer, name: str, wanted: Wanted, removed: frozenset[str]
) -> NDArray[np.float64] | None:
    """Return the middles (mm) of a part's solids for each box of offsets that the body leaves it.

    Solids are rounded inwards and bricks stand back by their play, so no place is left out.

    Returns
    -------
    spots
        (n, k, 3): for each of n boxes the middles of its k solids. No box when the body leaves the part no
        place; None when its places are too many to be told.
    """
    problem = packer.possible(name, wanted, removed)
    found: list[NDArray[np.float64]] = [np.zeros((0, 1, 3))]
    try:
        for variant in problem.items[0].variants:
            solid = np.array(variant.shape.solid, dtype=np.float64).reshape(-1, 6)
            pieces = free_pieces(variant, problem).astype(np.float64)
            found.append(((solid[:, :3] + solid[:, 3:]) / 2 + pieces[:, None, :3]) / TENTHS)
    except OverflowError:
        return None
    most = max(rows.shape[1] for rows in found)
    # A variant with fewer solids names its last one again.
    return np.concatenate(
        [np.pad(rows, ((0, 0), (0, most - rows.shape[1]), (0, 0)), "edge") for rows in found]
    )
