"""One item more beside those that lie: asked where it has room left, without moving any other."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from fitplan.packing.engine.candidate_points import meeting_offsets
from fitplan.packing.engine.free_offsets import allowed, free_pieces
from fitplan.packing.engine.problem import Item, PackingProblem, Placed, Shape, moved


def one_more(problem: PackingProblem, laid: Mapping[str, Placed], name: str) -> Placed | None:
    """Return a place for an item beside those that are laid, or None when they leave it none.

    Of its variants the cheapest that has room, as low as it goes there. What lies where, and all that lies,
    is exact; that None comes back says nothing of other places of the others.

    Raises
    ------
    OverflowError
        When the free offsets fall into too many boxes.
    """
    items = {item.name: item for item in problem.items}
    mine = items[name]
    for number in sorted(range(len(mine.variants)), key=lambda k: (mine.variants[k].cost, k)):
        variant = mine.variants[number]
        pieces = free_pieces(variant, problem)
        if not len(pieces):
            continue
        taken = [
            _forbidden(variant.shape, items[other], placed, variant.space)
            for other, placed in laid.items()
            if other != name
        ]
        if taken:
            pieces = allowed(pieces.astype(np.int64), np.concatenate(taken))
        if len(pieces):
            lowest = pieces[np.lexsort((pieces[:, 1], pieces[:, 0], pieces[:, 2]))[0]]
            return Placed(number, (int(lowest[0]), int(lowest[1]), int(lowest[2])))
    return None


def _forbidden(shape: Shape, other: Item, placed: Placed, space: int) -> NDArray[np.int64]:
    """Return the open boxes of offsets at which a shape meets an item that lies, ``(n, 6)``."""
    there = other.variants[placed.variant]
    if there.space != space:
        return np.zeros((0, 6), dtype=np.int64)
    solid = [moved(box, placed.offset) for box in there.shape.solid]
    rooms = [moved(clearance.box, placed.offset) for clearance in there.shape.clearances]
    kept = [clearance.box for clearance in shape.clearances]
    return np.concatenate(
        [meeting_offsets(solid, [*shape.solid, *kept]), meeting_offsets(rooms, shape.solid)]
    )
