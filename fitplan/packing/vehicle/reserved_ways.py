"""Places from which a part that is exchanged comes out through an opening, past all other parts.

The part (or the finger or plug that gets to it) is drawn out to the hull in the opening's direction, a plug
that faces aside once its cable may turn off: this shaft is kept clear of the other parts, and only offsets
are left at which the opened body does not stand in it. For ways of several moves else the part is fixed to a
place that has one, and the way is kept clear.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import hull_in_tenths
from fitplan.lattice.cover import TENTHS, box_in_tenths
from fitplan.model.hands import CABLE_BEND_MM
from fitplan.model.part import Access, Part
from fitplan.model.placed import Placement
from fitplan.model.solids import ORIGIN, Direction, Place, Pose, axis_of, is_forward, poses, unit_vector
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
    """Return a variant once for each opening that its access can be come by through."""
    found: list[Variant] = []
    pose = next(pose for pose in poses() if pose.name == variant.key)
    mover = _mover(part, pose, variant, access)
    ways: list[Opening | None] = list(lids)
    if access.kind != "cells":
        ways.append(None)
    for lid in ways:
        side = pose.turn_direction(access.side)
        out = lid.out if lid else side
        way = _StraightOut.of(mover, access, side, out)
        if way is None:
            continue
        forbidden = _forbidden(vehicle, removed, way, lid)
        if access.kind != "cells":
            forbidden = np.concatenate([forbidden, _out_of_reach(vehicle, way.mover, out, way.reach)])
        domain = _less(variant.domain, forbidden)
        if domain:
            # The body is no affair of the shaft: it is open there, and the domain sees to the rest.
            before = [_as_box(row) for row in way.before.tolist()]
            kept = (*before, *_drawn_out(way.mover, out, vehicle))
            shaft = tuple(ItemClearance(box, clear_of_obstacles=False) for box in kept)
            shape = replace(variant.shape, clearances=(*variant.shape.clearances, *shaft))
            found.append(replace(variant, shape=shape, domain=domain))
    return tuple(found)


@dataclass(frozen=True)
class _StraightOut:
    """A way straight out, for a plug that faces aside after it is drawn out of its socket.

    Attributes
    ----------
    before
        What a plug fills until its cable may turn off; no rows where the way is straight from the start.
    mover
        Where it goes straight out from.
    reach
        How deep in the hull that may be, in tenths; nothing bounds what is taken out itself.
    """

    before: Rows
    mover: Rows
    out: Direction
    reach: int = FAR

    @classmethod
    def of(cls, mover: Rows, access: Access, side: Direction, out: Direction) -> _StraightOut | None:
        """Return the way of a part, or of what gets at its access that faces ``side``; None where none is."""
        nothing = mover[:0]
        if access.kind == "cells":
            return cls(nothing, mover, out)
        hand = Hand.at(access, side, mover, 1)
        if out in hand.firsts:
            return cls(nothing, mover, out, hand.reach)
        if not hand.leaves(out):
            return None
        turn = round(CABLE_BEND_MM * TENTHS)
        step = np.array(unit_vector(side), dtype=np.int64) * turn
        drawn = swept_rows(mover, ((side, CABLE_BEND_MM),))
        return cls(drawn, mover + np.array([*step, *step]), out, hand.reach - turn)


def _mover(part: Part, pose: Pose, variant: Variant, access: Access) -> Rows:
    if access.kind == "cells":
        return rows_of(variant.shape.solid)
    return rows_at(Place(pose, ORIGIN), access_room(part, access))


def _forbidden(vehicle: Vehicle, removed: frozenset[str], way: _StraightOut, lid: Opening | None) -> Rows:
    """Return the open boxes of offsets from which the body stands in the way out."""
    off = None if lid is None or is_open_side(vehicle, lid.name) else lid
    body = opened_body(vehicle, removed, off)
    forbidden = forbidden_offsets(way.mover, body)
    if lid is not None:
        edges = box_in_tenths(lid.box, True)
        assert edges is not None
        forbidden = np.concatenate([forbidden, beyond_opening(way.mover, edges, way.out)])
    forbidden = forbidden.copy()
    axis = axis_of(way.out)
    # What lies ahead is met from every offset before it.
    if is_forward(way.out):
        forbidden[:, axis] = -FAR
    else:
        forbidden[:, axis + 3] = FAR
    return np.concatenate([forbidden, forbidden_offsets(way.before, body)]) if len(way.before) else forbidden


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
