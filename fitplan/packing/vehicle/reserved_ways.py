"""Places from which a part that is exchanged comes out through an opening, past all other parts.

The part (or the finger or plug that gets to it) is drawn out to the hull in the opening's direction: this
shaft is kept clear of the other parts, and only offsets are left at which the opened body does not stand in
it. For ways of several moves the part is fixed to a place that has one, and the way is kept clear.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import hull_in_tenths
from fitplan.lattice.cover import TENTHS, box_in_tenths
from fitplan.model.part import Access, Part
from fitplan.model.placed import Placement
from fitplan.model.solids import ORIGIN, Direction, Place, Pose, axis_of, is_forward, poses
from fitplan.model.vehicle import Opening, Vehicle
from fitplan.model.ways_in import Exchanged
from fitplan.packing.access.disassembly import part_rows, rows_at, swept_rows
from fitplan.packing.access.exchange import access_room, accesses, usable_openings
from fitplan.packing.access.hands import Hand
from fitplan.packing.access.opened_body import opened_body
from fitplan.packing.access.openings import is_open_side
from fitplan.packing.access.slide import FAR, Rows, beyond_opening, forbidden_offsets, rows_of
from fitplan.packing.engine.free_offsets import allowed
from fitplan.packing.engine.problem import IntBox, Item, ItemClearance, Offset, PackingProblem, Variant, moved
from fitplan.packing.vehicle.seats import Wanted

MOST_BOXES = 3000
"""A pose whose offsets fall into more boxes than this is left out."""


@dataclass(frozen=True)
class ReservedWay:
    """A part fixed to a place (pose and offset in tenths), and the boxes of its way out, to be kept clear."""

    need: str
    pose: str
    offset: Offset
    way: tuple[IntBox, ...]


def reserved_way(placement: Placement, found: Iterable[Exchanged]) -> ReservedWay:
    """Return a placement fixed, with the ways open by which it was found to be come by."""
    way: list[IntBox] = []
    for entry in found:
        if entry.last is None:
            continue
        access = next((one for one in placement.part.access if one.name == entry.access), None)
        if entry.last.parts or access is None:
            rows = part_rows(placement)
        else:
            rows = rows_at(placement.place, access_room(placement.part, access))
        way += [_as_box(row) for row in swept_rows(rows, entry.last.moves).tolist()]
    x, y, z = (round(value * TENTHS) for value in placement.place.offset)
    return ReservedWay(placement.need, placement.place.pose.name, (x, y, z), tuple(dict.fromkeys(way)))


def with_ways_open(problem: PackingProblem, held: Iterable[ReservedWay]) -> PackingProblem:
    """Return a problem in which some items are fixed and their ways out kept clear of all others."""
    fixed = {entry.need: entry for entry in held}
    items = []
    for item in problem.items:
        if (hold := fixed.get(item.name)) is not None:
            back = tuple(-value for value in hold.offset)
            rooms = tuple(
                ItemClearance(moved(box, (back[0], back[1], back[2])), clear_of_obstacles=False)
                for box in hold.way
            )
            item = replace(
                item,
                variants=tuple(
                    replace(
                        variant,
                        shape=replace(variant.shape, clearances=(*variant.shape.clearances, *rooms)),
                        domain=((*hold.offset, *hold.offset),),
                    )
                    for variant in item.variants
                    if variant.key == hold.pose
                ),
            )
        items.append(item)
    return replace(problem, items=tuple(items))


def with_shafts(
    vehicle: Vehicle,
    removed: frozenset[str],
    problem: PackingProblem,
    wanted: tuple[Wanted, ...],
    names: frozenset[str],
) -> PackingProblem:
    """Return a problem in which some items lie only where they are come by while all others are in.

    Parameters
    ----------
    names
        Needs of those items; each of their accesses that is used often counts.
    """
    items: list[Item] = []
    for entry, item in zip(wanted, problem.items, strict=True):
        if item.name in names:
            often = [access for access in accesses(entry.need, entry.part) if access.often]
            for access in often:
                lids = usable_openings(vehicle, access, entry.need.exchange, removed)
                found = [
                    cut
                    for variant in item.variants
                    for cut in _cut(vehicle, removed, entry.part, variant, access, lids)
                ]
                item = replace(item, variants=tuple(found))
        items.append(item)
    return replace(problem, items=tuple(items))


@lru_cache(maxsize=512)  # asked again beside other parts
def _cut(
    vehicle: Vehicle,
    removed: frozenset[str],
    part: Part,
    variant: Variant,
    access: Access,
    lids: tuple[Opening, ...],
) -> tuple[Variant, ...]:
    """Return a variant once for each opening that its access can be come by straight through."""
    found: list[Variant] = []
    pose = next(pose for pose in poses() if pose.name == variant.key)
    mover = _mover(part, pose, variant, access)
    ways: list[Opening | None] = list(lids)
    if access.kind != "cells":
        ways.append(None)
    for lid in ways:
        side = pose.turn_direction(access.side)
        out = lid.out if lid else side
        forbidden = _forbidden(vehicle, removed, mover, lid, out)
        if access.kind != "cells":
            hand = Hand.at(access, side, mover, 1)
            if out not in hand.firsts:
                continue
            forbidden = np.concatenate([forbidden, _out_of_reach(vehicle, mover, out, hand.reach)])
        domain = _less(variant.domain, forbidden)
        if domain:
            # The body is no affair of the shaft: it is open there, and the domain sees to the rest.
            shaft = tuple(
                ItemClearance(box, clear_of_obstacles=False) for box in _drawn_out(mover, out, vehicle)
            )
            shape = replace(variant.shape, clearances=(*variant.shape.clearances, *shaft))
            found.append(replace(variant, shape=shape, domain=domain))
    return tuple(found)


def _mover(part: Part, pose: Pose, variant: Variant, access: Access) -> Rows:
    if access.kind == "cells":
        return rows_of(variant.shape.solid)
    return rows_at(Place(pose, ORIGIN), access_room(part, access))


def _forbidden(
    vehicle: Vehicle, removed: frozenset[str], mover: Rows, lid: Opening | None, out: Direction
) -> Rows:
    """Return the open boxes of offsets from which the body stands in the straight way out."""
    off = None if lid is None or is_open_side(vehicle, lid.name) else lid
    forbidden = forbidden_offsets(mover, opened_body(vehicle, removed, off))
    if lid is not None:
        edges = box_in_tenths(lid.box, True)
        assert edges is not None
        forbidden = np.concatenate([forbidden, beyond_opening(mover, edges, out)])
    forbidden = forbidden.copy()
    axis = axis_of(out)
    # What lies ahead is met from every offset before it.
    if is_forward(out):
        forbidden[:, axis] = -FAR
    else:
        forbidden[:, axis + 3] = FAR
    return forbidden


def _out_of_reach(vehicle: Vehicle, mover: Rows, out: Direction, reach: int) -> Rows:
    """Return the open box of offsets that lie deeper in the hull than a finger or plug gets."""
    hull, axis = hull_in_tenths(vehicle), axis_of(out)
    row = [-FAR, -FAR, -FAR, FAR, FAR, FAR]
    if is_forward(out):
        row[axis + 3] = hull[axis + 3] - int(mover[:, axis].min()) - reach
    else:
        row[axis] = hull[axis] - int(mover[:, axis + 3].max()) + reach
    return rows_of([row])


def _less(domain: tuple[IntBox, ...], forbidden: NDArray[np.int64]) -> tuple[IntBox, ...]:
    """Return a domain less forbidden offsets; nothing where that falls into too many boxes."""
    try:
        pieces = allowed(np.array(domain), forbidden)
    except OverflowError:
        return ()
    if len(pieces) > MOST_BOXES:
        return ()
    return tuple(_as_box(row) for row in pieces.tolist())


def _as_box(row: Sequence[int]) -> IntBox:
    return (row[0], row[1], row[2], row[3], row[4], row[5])


def _drawn_out(mover: Rows, out: Direction, vehicle: Vehicle) -> list[IntBox]:
    """Return the mover's boxes drawn out as far as any place in the hull may ask for."""
    hull = hull_in_tenths(vehicle)
    axis = axis_of(out)
    reach = hull[axis + 3] - hull[axis]
    found: list[IntBox] = []
    for row in mover.tolist():
        if is_forward(out):
            row[axis + 3] += reach
        else:
            row[axis] -= reach
        found.append(_as_box(row))
    return found
