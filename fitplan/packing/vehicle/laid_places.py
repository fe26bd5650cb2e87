"""Where parts come to lie: the engine's offsets with everything let down, and what is added under it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from fitplan.model.as_built import same_point
from fitplan.model.placed import Placement
from fitplan.model.solids import Place, pose_named
from fitplan.packing.engine.problem import PackingProblem, Placed
from fitplan.packing.vehicle.bores import edges_in_bores
from fitplan.packing.vehicle.lowering import Carried, LoweredPart, lower_parts
from fitplan.packing.vehicle.packed_items import standing_part
from fitplan.packing.vehicle.room_for_parts import RoomForParts
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.shelves import with_shelves
from fitplan.packing.vehicle.support import middle_of, stands


def laid_places(
    cavity: RoomForParts, wanted: Sequence[Wanted], problem: PackingProblem, placed: Mapping[str, Placed]
) -> tuple[Placement, ...]:
    """Turn the engine's offsets into places, after letting everything down onto something.

    Parameters
    ----------
    wanted
        The parts in the order of the problem's items.
    """
    standing: list[LoweredPart] = []
    held: set[str] = set()
    for entry, item in zip(wanted, problem.items, strict=True):
        lies = placed[item.name]
        standing.append(standing_part(entry, item.variants[lies.variant], lies))
        if entry.need.is_held:
            held.add(entry.need.name)
    space = problem.spaces[0]
    carried = lower_parts(
        standing, space.obstacles, frozenset(held), walls=space.off_limits, bricks=cavity.bricks
    )
    carried = tuple(_in_a_bore(cavity, part, rest) for part, rest in zip(standing, carried, strict=True))
    found: list[Placement] = []
    for entry, item, rest in zip(wanted, problem.items, carried, strict=True):
        lies = placed[item.name]
        x, y, z = lies.offset
        place = Place(pose_named(item.variants[lies.variant].key), (x / 10, y / 10, (z - rest.drop) / 10))
        found.append(Placement(entry.need.name, entry.part, cavity.name, place, rest.by))
    kept = {
        place.need: fixed.on
        for entry, place in zip(wanted, found, strict=True)
        if (fixed := entry.need.pinned) is not None and fixed.on is not None
        if fixed.offset is not None and same_point(fixed.offset, place.place.offset)
        if fixed.pose == place.place.pose.name
    }
    return with_shelves(cavity.vehicle, cavity.removed, found, carried, kept)


def _in_a_bore(cavity: RoomForParts, standing: LoweredPart, rest: Carried) -> Carried:
    """Return how a part is carried that would tip, if it were not in a bore of the body."""
    if rest.steady or rest.shelf is not None or not standing.needs_support:
        return rest
    part = standing.lowered(rest.drop)
    bricks = np.array(cavity.bricks, dtype=np.int64).reshape(-1, 6)
    edges = edges_in_bores(cavity.vehicle, part.soles or part.boxes, bricks)
    if not edges or not stands(middle_of(part.boxes), [*rest.contacts, *edges]):
        return rest
    return replace(rest, by="the body", steady=True, contacts=())
