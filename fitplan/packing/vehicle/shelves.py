"""What carries the parts of a vehicle that hang or would tip where they lie: one addition for each.

The cheapest on which a part stands; where a heavy part stands on none, the lower half of the cheapest pair of
plates that presses it (`pressed`): the upper half is a fastening, laid when wires are.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from fitplan.lattice.boxes import hull_in_tenths
from fitplan.model.facts import mass_of, sideways_n
from fitplan.model.placed import NOTHING, SHELF_WORDS, Piece, Placement, Shelf
from fitplan.model.solids import Box, Cylinder, Solid
from fitplan.model.vehicle import Vehicle
from fitplan.packing.access.disassembly import rows_at
from fitplan.packing.access.slide import rows_of
from fitplan.packing.engine.problem import IntBox
from fitplan.packing.vehicle.addition_shapes import LAYER, UnsupportedPart, box_of, in_mm, in_tenths
from fitplan.packing.vehicle.additions import bricks_stand_free, cheapest_addition, steadying_addition
from fitplan.packing.vehicle.lowering import Carried
from fitplan.packing.vehicle.posts import broadened
from fitplan.packing.vehicle.pressed import cheapest_pair
from fitplan.packing.vehicle.room_for_parts import bricks_of, taken_of
from fitplan.packing.vehicle.snug_pads import snug
from fitplan.packing.vehicle.support import borne_by, cut_to, from_above, middle_of, stands
from fitplan.packing.vehicle.wall_tape import tape_on_a_wall

_FAR = 100_000
TAPED_MOST_G = 20.0
"""Tape holds a part that would tip up to so much (common practice, no source)."""


def with_shelves(
    vehicle: Vehicle,
    removed: frozenset[str],
    placements: Sequence[Placement],
    settled: Sequence[Carried],
    kept: Mapping[str, Shelf] = MappingProxyType({}),
) -> tuple[Placement, ...]:
    """Return placements of one vehicle with the cheapest addition under each part that hangs or would tip.

    Parameters
    ----------
    settled
        What carries each of them.
    kept
        What was added for some of them already: it stays where nothing runs into it now.
    """
    if not kept and all(rest.steady and rest.shelf is None and not rest.pads for rest in settled):
        return tuple(placements)
    solid = {place.need: tuple(_moved(place, place.part.envelope)) for place in placements}
    rooms = {
        place.need: tuple(
            _moved(place, [room.solid for room in place.part.clearances if room.needed == "always"])
        )
        for place in placements
    }
    added: list[IntBox] = []
    found: list[Placement] = []
    # Pads lie where they lie; what is built up goes round them.
    added += [pad for rest in settled if rest.name not in kept for pad in rest.pads]
    for place, rest in zip(placements, settled, strict=True):
        others = [other for other in solid if other != place.need]
        around = [box for other in others for box in (*solid[other], *rooms[other])]
        mass = mass_of(place.part)
        push = sideways_n(place.part)
        flat = _flat_sides(place)
        mine = [*solid[place.need], *rooms[place.need]]
        if (there := kept.get(place.need)) is not None and _still_free(vehicle, removed, there, mine, around):
            found.append(_on(place, there))
            added += map(in_tenths, there.boxes)
            continue
        part = UnsupportedPart(solid[place.need], rooms[place.need], (*around, *added), mass, push, flat)
        shelf: Shelf | None = None
        steady = rest.steady
        if rest.pads:
            shelf = Shelf("pad", tuple(Piece("pad", in_mm(pad)) for pad in rest.pads), 0, True)
        elif rest.shelf is not None:
            below = [*bricks_of(vehicle, removed), *(box for other in others for box in solid[other])]
            bearing = _over_what_bears(rest.shelf, below)
            # What lies there may be beside all that the part would rest on: a round one rests on a line.
            if bearing is not None and not borne_by(bearing, part.boxes):
                bearing = None
            under = bearing or rest.shelf
            thin = under[5] - under[2] < LAYER
            shelf = cheapest_addition(vehicle, removed, part, under if thin else rest.shelf)
            if shelf.kind in ("pad", "block"):
                # A block may be wider than what it is glued to; the part stands only over that.
                steady = bearing is not None and stands(middle_of(part.boxes), borne_by(bearing, part.boxes))
                shelf = replace(shelf, steady=steady)
            if shelf.kind == "block":
                beyond = _beyond(hull_in_tenths(vehicle))
                taken = [*taken_of(vehicle, removed), *part.boxes, *part.own_room, *part.around, *beyond]
                shelf = _broad(shelf, part, (rest.shelf, *([bearing] if bearing else ())), below, taken)
                steady = shelf is not None and shelf.steady
        elif not rest.steady:
            shelf = steadying_addition(vehicle, removed, part, rest.contacts)
        if mass > TAPED_MOST_G and not (steady if shelf is None else shelf.steady):
            pair = cheapest_pair(vehicle, removed, part, rest.contacts, _thin_pads(shelf, part))
            shelf = shelf if pair is None else pair.shelf
        if not (steady if shelf is None else shelf.steady and shelf.kind != "block"):
            shelf = tape_on_a_wall(vehicle, removed, part) or shelf
        if shelf is None:
            hangs = rest.steady and not steady
            found.append(replace(place, steady=steady, carried_by=NOTHING if hangs else place.carried_by))
            continue
        if not shelf.pieces:
            found.append(replace(place, carried_by=SHELF_WORDS[shelf.kind], steady=False))
            continue
        added += [box for one in shelf.boxes if (box := in_tenths(one)) not in added]
        found.append(_on(place, snug(shelf, place)))
    return tuple(found)


def _on(place: Placement, shelf: Shelf) -> Placement:
    return replace(place, shelf=shelf, carried_by=SHELF_WORDS[shelf.kind], steady=shelf.steady)


def _still_free(
    vehicle: Vehicle, removed: frozenset[str], there: Shelf, mine: Sequence[IntBox], around: Sequence[IntBox]
) -> bool:
    """Return whether what carries a part as it is built runs into nothing, as the vehicle is now."""
    return bricks_stand_free(vehicle, removed, [in_tenths(box) for box in there.boxes], [*mine, *around])


def _broad(
    block: Shelf,
    part: UnsupportedPart,
    rooms: Sequence[IntBox],
    below: Sequence[IntBox],
    taken: Sequence[IntBox],
) -> Shelf | None:
    """Return a block in one of some rooms, as wide as what stands by itself; None: there is no room."""

    def holds(wide: IntBox) -> bool:
        return not block.steady or stands(middle_of(part.boxes), borne_by(wide, part.boxes))

    for room in rooms:
        wide = broadened(room, rows_of(below), rows_of(taken), holds)
        if wide is not None:
            return replace(block, pieces=(Piece("block", in_mm(wide)),))
    return None


def _beyond(hull: IntBox) -> Iterator[IntBox]:
    """Yield what lies ahead of, behind and beside a vehicle."""
    for axis in (0, 1):
        for low, high in ((-_FAR, hull[axis]), (hull[axis + 3], _FAR)):
            edges = [-_FAR, -_FAR, -_FAR, _FAR, _FAR, _FAR]
            edges[axis], edges[axis + 3] = low, high
            yield (edges[0], edges[1], edges[2], edges[3], edges[4], edges[5])


def _moved(place: Placement, solids: Sequence[Solid]) -> Iterator[IntBox]:
    for row in rows_at(place.place, solids).tolist():
        if min(row[i + 3] - row[i] for i in range(3)) > 0:
            yield box_of(row)


def _flat_sides(place: Placement) -> tuple[tuple[IntBox, ...], ...]:
    """Return the boxes of a part with a flat side along x, and those along y: of what is round, its ends."""
    found: tuple[list[IntBox], list[IntBox]] = ([], [])
    for solid in place.part.envelope:
        there = place.place.move_solid(solid)
        for axis in ("x", "y"):
            if isinstance(there, Box) or (isinstance(there, Cylinder) and there.axis == axis):
                found["xy".index(axis)].extend(_moved(place, [solid]))
    return tuple(tuple(boxes) for boxes in found)


def _over_what_bears(under: IntBox, below: Sequence[IntBox]) -> IntBox | None:
    """Return the room under a part, cut down to the rectangle round what lies below: a pad ends with it.

    None where all that lies there is too narrow to carry.
    """
    return cut_to([from_above(box) for box in below if box[5] == under[2]], under)


def _thin_pads(shelf: Shelf | None, part: UnsupportedPart) -> tuple[IntBox, ...]:
    """Return pads under a part that hangs less than a plate above something, where it touches them."""
    if shelf is None or shelf.kind != "pad":
        return ()
    under = in_tenths(shelf.pieces[0].box)
    return tuple((x0, y0, under[2], x1, y1, under[5]) for x0, y0, x1, y1 in borne_by(under, part.boxes))
