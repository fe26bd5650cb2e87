"""Where in a vehicle a part may lie at all: points inside it, one set for each connected set of offsets.

In: a part that is wanted, a vehicle and the bricks taken out. Out: points that tell in which room of the body
the part then is, since a box of free offsets is connected and so is the way of every point of the part.
"""

from __future__ import annotations

from fitplan.lattice.cover import TENTHS
from fitplan.model.solids import Vec
from fitplan.packing.engine.free_offsets import free_pieces
from fitplan.packing.vehicle.pack import Packer
from fitplan.packing.vehicle.seats import Wanted


def possible_spots(
    packer: Packer, name: str, wanted: Wanted, removed: frozenset[str]
) -> tuple[tuple[Vec, ...], ...] | None:
    """Return the middles (mm) of a part's solids for each box of offsets that the body leaves it.

    Solids are rounded inwards and bricks stand back by their play, so no place is left out.

    Returns
    -------
    spots
        Empty when the body leaves the part no place; None when its places are too many to be told.
    """
    problem = packer.possible(name, wanted, removed)
    found: list[tuple[Vec, ...]] = []
    try:
        for variant in problem.items[0].variants:
            middles = [tuple((box[k] + box[k + 3]) / 2 for k in range(3)) for box in variant.shape.solid]
            for piece in free_pieces(variant, problem).tolist():
                found.append(
                    tuple(
                        (
                            (x + piece[0]) / TENTHS,
                            (y + piece[1]) / TENTHS,
                            (z + piece[2]) / TENTHS,
                        )
                        for x, y, z in middles
                    )
                )
    except OverflowError:
        return None
    return tuple(dict.fromkeys(found))
