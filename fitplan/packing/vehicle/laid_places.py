"""Where parts come to lie: the engine's offsets with everything let down, and what is added under it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fitplan.model.placed import Placement
from fitplan.model.solids import Place, pose_named
from fitplan.packing.engine.problem import PackingProblem, Placed
from fitplan.packing.vehicle.lowering import LoweredPart, lower_parts
from fitplan.packing.vehicle.packed_items import standing_part
from fitplan.packing.vehicle.room_for_parts import RoomForParts
from fitplan.packing.vehicle.seats import Wanted
from fitplan.packing.vehicle.shelves import with_shelves


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
    found: list[Placement] = []
    for entry, item, rest in zip(wanted, problem.items, carried, strict=True):
        lies = placed[item.name]
        x, y, z = lies.offset
        place = Place(pose_named(item.variants[lies.variant].key), (x / 10, y / 10, (z - rest.drop) / 10))
        found.append(Placement(entry.need.name, entry.part, cavity.name, place, rest.by))
    return with_shelves(cavity.vehicle, cavity.removed, found, carried)
