"""How what is exchanged often is come by once everything is built in: what must come out first, in order.

Cells are exchanged by taking their holder out; a switch or a socket needs a finger or a plug to get to the
room in front of it (`hands`). Either way something goes by straight moves (`slide`) through an opening that
may be opened for it. What stands in its way comes out first, one after the other, by straight moves as well.
Taking more out never closes a way, so the fewest parts are found by trying sets from the smallest up.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace

from fitplan.lattice.cover import TENTHS
from fitplan.model.hands import FINGER_DEPTH_MM
from fitplan.model.needed import Exchange, Need
from fitplan.model.part import Access, Part
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Solid, axis_of, is_forward
from fitplan.model.train import Train
from fitplan.model.vehicle import Opening, Vehicle
from fitplan.model.ways_in import Exchanged, WayOut
from fitplan.model.ways_in import Moves as MovesMm
from fitplan.packing.access.disassembly import Disassembly, Filling, leave_through, rows_at
from fitplan.packing.access.hands import Hand
from fitplan.packing.access.openings import is_open_side, ways_into
from fitplan.packing.access.slide import Moves, Rows, forbidden_offsets

MOST_SETS = 400
"""Sets of parts that are tried, the smallest first; beyond, a set of which no part can be spared."""
ITSELF = "the part itself"
"""Name of the access of a part that the user wants to take out, and that has none which is used often."""


def exchanges(
    train: Train,
    placements: Sequence[Placement],
    removed: dict[str, frozenset[str]],
    filled: Filling = Disassembly,
) -> tuple[Exchanged, ...]:
    """Return for everything that must be reached how it is come by, vehicle by vehicle.

    Parameters
    ----------
    removed
        Bricks that a rebuild has taken out, by vehicle.
    """
    found: list[Exchanged] = []
    for entry in train.vehicles:
        inside = [place for place in placements if place.vehicle == entry.name]
        if any(accesses(train.need(place.need), place.part) for place in inside):
            out = removed.get(entry.name, frozenset())
            needs = {place.need: train.need(place.need) for place in inside}
            found += exchanges_in(entry.vehicle, needs, inside, out, filled=filled)
    return tuple(found)


def exchanges_in(
    vehicle: Vehicle,
    needs: dict[str, Need],
    placements: Sequence[Placement],
    removed: frozenset[str] = frozenset(),
    *,
    only_often: bool = False,
    filled: Filling = Disassembly,
) -> tuple[Exchanged, ...]:
    """Return how everything in one vehicle that must be reached is come by.

    Where too many parts are in the way, removable bricks are taken out, as many as the user allows.
    """
    disassembly = filled(vehicle, placements, removed)
    return tuple(
        _with_bricks(disassembly, placement, access, needs[placement.need])
        for placement in placements
        for access in accesses(needs[placement.need], placement.part)
        if access.often or not only_often
    )


def accesses(need: Need, part: Part) -> tuple[Access, ...]:
    """Return what of a part must be reached; the part itself when that is wanted and nothing often is."""
    if need.exchange.wanted and not any(access.often for access in part.access):
        return (*part.access, Access(ITSELF, "cells", "+z", often=True))
    return part.access


def usable_openings(
    vehicle: Vehicle, access: Access, allowed: Exchange, removed: frozenset[str] = frozenset()
) -> tuple[Opening, ...]:
    """Return the openings that may be opened for an access, and the open sides."""
    every = ways_into(vehicle, removed)
    if not access.often:
        return every
    sides = tuple(opening for opening in every if is_open_side(vehicle, opening.name))
    named = tuple(opening for opening in vehicle.openings if opening.name in allowed.openings)
    return (*(named or tuple(opening for opening in vehicle.openings if opening.often)), *sides)


def access_room(part: Part, access: Access) -> tuple[Solid, ...]:
    """Return the room in front of an access, in the part's frame.

    What the part keeps clear for it; else a room as deep as a finger's tip before its whole face.
    """
    own = part.rooms_of(access)
    if own:
        return tuple(clearance.solid for clearance in own)
    bounds, axis = part.bounds, axis_of(access.side)
    low, high = list(bounds.low), list(bounds.high)
    if is_forward(access.side):
        low[axis], high[axis] = high[axis], high[axis] + FINGER_DEPTH_MM
    else:
        low[axis], high[axis] = low[axis] - FINGER_DEPTH_MM, low[axis]
    return (Box((low[0], low[1], low[2]), (high[0], high[1], high[2])),)


def _with_bricks(disassembly: Disassembly, placement: Placement, access: Access, need: Need) -> Exchanged:
    """Return how an access is come by, with bricks taken out only where that is allowed and helps."""
    openings = usable_openings(disassembly.vehicle, access, need.exchange, disassembly.removed)
    plain = _AccessTask(disassembly, placement, access, openings).done()
    if not access.often:
        # What is used only when building can be got at by taking its part out.
        return (
            plain
            if plain.reached
            else _AccessTask(disassembly, placement, access, openings, whole=True).done()
        )
    if plain.within(need):
        return plain
    bricks = sorted({brick.name for brick in disassembly.vehicle.removables} - disassembly.removed)
    for count in range(1, min(need.exchange.bricks_out, len(bricks)) + 1):
        for names in itertools.combinations(bricks, count):
            fewer = Disassembly(
                disassembly.vehicle,
                tuple(disassembly.placements.values()),
                disassembly.removed | frozenset(names),
            )
            found = replace(_AccessTask(fewer, placement, access, openings).done(), bricks=names)
            if found.within(need):
                return found
    return plain


class _AccessTask:
    """Getting to one access of one part."""

    def __init__(
        self,
        disassembly: Disassembly,
        placement: Placement,
        access: Access,
        openings: Sequence[Opening],
        whole: bool = False,
    ) -> None:
        self.disassembly = disassembly
        self.need = placement.need
        self.placement = placement
        self.access = access
        self.openings = tuple(opening.name for opening in openings)
        self.room: Rows | None = None
        if access.kind != "cells" and not whole:
            self.room = rows_at(placement.place, access_room(placement.part, access))

    def done(self) -> Exchanged:
        """Return what must come out, the least of it, and in which order."""
        access = self.access
        plain = Exchanged(
            self.need, self.placement.vehicle, access.name, access.often, False, access.kind == "cells"
        )
        for first in self._from_the_fewest():
            inside = self.disassembly.names - {name for way in first for name in way.parts}
            last = self._last(inside)
            if last is not None:
                return replace(plain, reached=True, first=first, last=last)
        last = self._with_others()
        return replace(plain, reached=last is not None, last=last)

    def _with_others(self) -> WayOut | None:
        """Return how the part comes out together with one or two others, as one; or None."""
        if self.room is not None:
            return None
        others = sorted(self.disassembly.names - {self.need})
        for count in (1, 2):
            for names in itertools.combinations(others, count):
                group = frozenset((self.need, *names))
                stay = self.disassembly.names - group
                if self.disassembly.carriers(stay) & group:
                    continue
                for opening in self.openings:
                    moves = self.disassembly.way_out(group, stay, opening)
                    if moves is not None and self.disassembly.put_together(group) is not None:
                        return WayOut(tuple(sorted(group)), opening, outwards(moves))
        return None

    def _from_the_fewest(self) -> Iterator[tuple[WayOut, ...]]:
        """Yield orders in which sets of other parts come out, the smallest sets first."""
        yield ()
        # What the body alone shuts in, nothing that is taken out lets out.
        if self._last(frozenset({self.need})) is None:
            return
        everything = self._stripped(self.disassembly.names - {self.need})
        inside = self.disassembly.names - {name for way in everything for name in way.parts}
        if not everything or self._last(inside) is None:
            return
        others = [name for way in everything for name in way.parts]
        tried = 0
        for count in range(1, len(others)):
            for names in itertools.combinations(others, count):
                tried += 1
                if tried > MOST_SETS:
                    break
                if self._last(self.disassembly.names - frozenset(names)) is None:
                    continue
                ways = self._stripped(frozenset(names))
                if len(ways) == count:
                    yield ways
            if tried > MOST_SETS:
                break
        yield self._none_to_spare(everything)

    def _none_to_spare(self, ways: tuple[WayOut, ...]) -> tuple[WayOut, ...]:
        kept = frozenset(name for way in ways for name in way.parts)
        for way in reversed(ways):
            fewer = kept - frozenset(way.parts)
            order = self._stripped(fewer)
            if len(order) == len(fewer) and self._last(self.disassembly.names - fewer) is not None:
                kept = fewer
        return self._stripped(kept)

    def _stripped(self, names: frozenset[str]) -> tuple[WayOut, ...]:
        """Take out those of some parts that come out one after the other while all others stay."""
        found: list[WayOut] = []
        inside = self.disassembly.names
        waiting = set(names)
        while waiting:
            way = next(
                (
                    WayOut((name,), opening, outwards(moves))
                    for name in sorted(waiting - self.disassembly.carriers(inside))
                    for opening in self.openings
                    if (moves := self.disassembly.way_out(frozenset({name}), inside - {name}, opening))
                    is not None
                ),
                None,
            )
            if way is None:
                break
            found.append(way)
            waiting -= set(way.parts)
            inside -= frozenset(way.parts)
        return tuple(found)

    def _last(self, inside: frozenset[str]) -> WayOut | None:
        """Return the way of what the errand is for while some parts are in, the shortest; or None."""
        if self.room is None:
            if self.need in self.disassembly.carriers(inside):
                return None
            ways = [
                (moves, opening)
                for opening in self.openings
                if (moves := self.disassembly.way_out(frozenset({self.need}), inside - {self.need}, opening))
                is not None
            ]
        else:
            ways = [
                (moves, opening)
                for opening in ("", *self.openings)
                if (moves := self._room_out(inside, opening)) is not None
            ]
        if not ways:
            return None
        moves, opening = min(ways, key=lambda way: (len(way[0]), sum(d for _, d in way[0]), way[1]))
        return WayOut(() if self.room is not None else (self.need,), opening, outwards(moves))

    def _room_out(self, inside: frozenset[str], opening: str) -> Moves | None:
        """Return how a finger or plug gets back out from the room in front of the access."""
        assert self.room is not None
        hull = self.disassembly.vehicle.hull
        through = self.disassembly.openings.get(opening) or Opening(
            "", hull, self.placement.place.pose.turn_direction(self.access.side)
        )
        standing = self.disassembly.obstacles(opening, inside | {self.need})
        forbidden = forbidden_offsets(self.room, standing)
        side = self.placement.place.pose.turn_direction(self.access.side)
        hand = Hand.at(self.access, side, self.room, 2 if opening else 1)
        return leave_through(hull, self.room, forbidden, through, hand)


def outwards(moves: Moves) -> MovesMm:
    """Return moves in tenths as moves in mm."""
    return tuple((way, distance / TENTHS) for way, distance in moves)
