"""Wanted parts as items of the exact search, and its placed items as parts that stand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from fitplan.lattice.boxes import part_boxes
from fitplan.lattice.frame import Rounding
from fitplan.model.part import Part
from fitplan.model.solids import ORIGIN, Box, Place, Pose, pose_named
from fitplan.model.vehicle import Vehicle
from fitplan.packing.access.openings import ways_into
from fitplan.packing.access.reachable_offsets import offsets_with_a_way_in
from fitplan.packing.engine.problem import IntBox, Item, ItemClearance, Placed, Shape, Variant, moved
from fitplan.packing.vehicle.lowering import SUPPORT_GAP, LoweredPart
from fitplan.packing.vehicle.room_for_parts import RoomForParts
from fitplan.packing.vehicle.seats import Seat, Wanted, view_ahead

SHUT, SHUT_OFTEN = 2, 8
"""What a seat costs for each switch or socket that faces no way out; on an open deck, in everyday use."""


def item_of(
    entry: Wanted,
    found: Sequence[Seat],
    vehicle: Vehicle,
    rounding: Rounding,
    access: bool,
    every_pose: bool = False,
) -> Item:
    """Return a part with its seats in a vehicle, rounded outwards or relaxed.

    With ``every_pose`` poses that fill the same room are kept apart, since their pins look other ways.
    """
    variants: list[Variant] = []
    seen: set[tuple[Shape, tuple[IntBox, ...]]] = set()
    ways_out = {opening.out for opening in (ways_into(vehicle) if vehicle.load_top else vehicle.openings)}
    for seat in found:
        shape = shape_of(entry.part, seat.pose, rounding, access)
        if entry.need.looks is not None and rounding == "outward":
            view = view_ahead(entry.part, seat.pose, vehicle.hull)
            shape = Shape(shape.solid, (*shape.clearances, ItemClearance(view)))
        domain = tuple(box for box in seat.offsets if all(box[i] <= box[i + 3] for i in range(3)))
        # Poses that fill the same room at the same offsets differ only in which way the pins look.
        if not domain or (not every_pose and (shape, domain) in seen):
            continue
        seen.add((shape, domain))
        standing = seat.pose.turn_direction("+z") != "+z"
        shut = sum(
            SHUT_OFTEN if vehicle.load_top and need.often else SHUT
            for need in entry.part.access
            if seat.pose.turn_direction(need.side) not in ways_out
        )
        variants.append(Variant(seat.pose.name, shape, domain, cost=int(standing) + 2 * seat.cost + shut))
    return Item(entry.need.name, tuple(variants))


@lru_cache(maxsize=8192)  # one part in one pose is asked for again beside every other set of parts
def shape_of(part: Part, pose: Pose, rounding: Rounding, access: bool) -> Shape:
    """Return what a part takes in a pose at offset 0, and what it keeps clear, in tenths of a millimetre."""
    place = Place(pose, ORIGIN)
    solid = _with_volume(part_boxes([place.move_solid(s) for s in part.envelope], rounding))
    clearances = [
        # What a lens needs clear in front of it is the window's affair: the wall round it may touch.
        ItemClearance(box, clear_of_obstacles=clearance.kind != "lens")
        for clearance in part.clearances
        if access or clearance.needed == "always"
        for box in _with_volume(part_boxes([place.move_solid(clearance.solid)], rounding))
    ]
    return Shape(tuple(solid), tuple(clearances))


def _with_volume(boxes: Sequence[IntBox]) -> list[IntBox]:
    return [box for box in boxes if all(box[i] < box[i + 3] for i in range(3))]


def with_a_way_in(cavity: RoomForParts, variant: Variant) -> Variant:
    """Return a variant with only those offsets from which it comes out through an opening."""
    found = offsets_with_a_way_in(cavity.vehicle, variant.shape.solid, cavity.removed)
    if found is None:
        return variant
    domain = np.array(variant.domain, dtype=np.int64)
    low = np.maximum(domain[:, None, :3], found[None, :, :3]).reshape(-1, 3)
    high = np.minimum(domain[:, None, 3:], found[None, :, 3:]).reshape(-1, 3)
    kept = np.unique(np.concatenate([low, high], axis=1)[np.all(low <= high, axis=1)], axis=0)
    return replace(variant, domain=tuple(tuple(int(c) for c in row) for row in kept))  # type: ignore[misc]


def standing_part(entry: Wanted, variant: Variant, placed: Placed) -> LoweredPart:
    """Return a placed part as one that is to be let down, with all lengths in tenths of a mm."""
    boxes = tuple(moved(box, placed.offset) for box in variant.shape.solid)
    kept = tuple(moved(c.box, placed.offset) for c in variant.shape.clearances)
    x, y, z = placed.offset
    lowest = min(
        box[2] for box in variant.domain
        if box[0] <= x <= box[3] and box[1] <= y <= box[4] and box[2] <= z <= box[5]
    )  # fmt: skip
    soles = tuple(moved(box, placed.offset) for box in soles_of(entry.part, variant.key))
    return LoweredPart(entry.need.name, boxes, kept, z - lowest, entry.part.mount.needs_support, soles)


@lru_cache(maxsize=8192)
def soles_of(part: Part, pose: str) -> tuple[IntBox, ...]:
    """Return the boxes of a part in a pose that may rest on something: of what is round, its lowest line.

    Round solids are cut into strips, and under the upper strips there is air, not an underside.
    """
    place = Place(pose_named(pose), ORIGIN)
    found: list[IntBox] = []
    for solid in part.envelope:
        boxes = _with_volume(part_boxes([place.move_solid(solid)], "outward"))
        lowest = min((box[2] for box in boxes), default=0)
        found += [box for box in boxes if isinstance(solid, Box) or box[2] - lowest <= SUPPORT_GAP]
    return tuple(found)
