"""Places at which a part stands on the body alone, whatever lies beside it."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from fitplan.model.part import Part
from fitplan.packing.engine.problem import IntBox, Item, PackingProblem, Variant, moved
from fitplan.packing.vehicle.lowering import SUPPORT_GAP
from fitplan.packing.vehicle.packed_items import soles_of
from fitplan.packing.vehicle.place_grid import places_on_grid
from fitplan.packing.vehicle.room_for_parts import RoomForParts
from fitplan.packing.vehicle.support import contacts, middle_of, resting_faces, stands

MOST_FOOTINGS = 400
"""So many places of a pose are kept, evenly among all."""


def with_a_footing(cavity: RoomForParts, problem: PackingProblem, item: Item, part: Part) -> Item:
    """Return an item with only those places on a grid at which it stands on the body; itself without any."""
    bearing = np.array(cavity.bricks, dtype=np.int64).tobytes()
    found = []
    for variant in item.variants:
        domain = _standing(problem, variant, part, bearing)
        if domain:
            found.append(replace(variant, domain=domain))
    return replace(item, variants=tuple(found)) if found else item


def _standing(problem: PackingProblem, variant: Variant, part: Part, bearing: bytes) -> tuple[IntBox, ...]:
    """Return the offsets (tenths) at which the middle of a part lies over its contacts with bricks."""
    places = np.asarray(places_on_grid(variant, problem, False, None), dtype=np.int64).reshape(-1, 3)
    if len(places) > 4 * MOST_FOOTINGS:
        places = places[np.linspace(0, len(places) - 1, 4 * MOST_FOOTINGS).round().astype(int)]
    middle = middle_of(variant.shape.solid)
    return _stood(bearing, soles_of(part, variant.key), middle, places.tobytes())


@lru_cache(maxsize=512)
def _stood(
    bearing: bytes, soles: tuple[IntBox, ...], middle: tuple[float, float], places: bytes
) -> tuple[IntBox, ...]:
    """Return where a part stands of some places: no more than `MOST_FOOTINGS` of them.

    The same part is asked for in the same body with each layout. Remembered are rows of int64 as bytes: as
    tuples they would take eight times the memory.
    """
    bricks = np.frombuffer(bearing, dtype=np.int64).reshape(-1, 6)
    kept = []
    for x, y, z in np.frombuffer(places, dtype=np.int64).reshape(-1, 3).tolist():
        place = (x, y, z)
        faces = resting_faces([moved(box, place) for box in soles])
        if stands((middle[0] + place[0], middle[1] + place[1]), contacts(faces, bricks, SUPPORT_GAP)):
            kept.append((*place, *place))
    if len(kept) > MOST_FOOTINGS:
        kept = [kept[i] for i in np.linspace(0, len(kept) - 1, MOST_FOOTINGS).round().astype(int)]
    return tuple(kept)
