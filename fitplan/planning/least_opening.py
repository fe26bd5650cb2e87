"""The least opening: what must be opened in bodies, at the least, before all wires can run.

Sets of removable bricks and holes are tried from the cheapest up. Each is held against the bound that knows
no places (`planning.wire_bound`): what is refuted there can be wired in no place of the parts. The first set
that is not refuted costs no more than any that does, so its cost is the least that can be; that it does is
shown by planning with it. Holes that join the same rooms in the same way are one kind to the bound, so few
sets settle many; which hole of a kind is taken is a matter of liking
(`liked_holes`).
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial
from typing import Literal, TypeAlias

import numpy as np

from fitplan.model.built import BuiltTrain
from fitplan.model.holes import opened, passage_of
from fitplan.model.proposed import LeastOpening
from fitplan.model.solids import Box
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import Hole, built_in_name
from fitplan.packing.vehicle.body_support import carrying
from fitplan.packing.vehicle.possible_spots import possible_spots
from fitplan.packing.vehicle.seats import Wanted
from fitplan.planning.body_rooms import BodyRooms, words_for
from fitplan.planning.fit_table import may_go
from fitplan.planning.hole_candidates import HoleCandidate, gaps_of, hole_candidates
from fitplan.planning.joined_rooms import Node, RoomLink
from fitplan.planning.liked_holes import apart, end_of, in_order
from fitplan.planning.room_links import room_links
from fitplan.planning.run_state import PlanningRun
from fitplan.planning.wire_bound import BoundNet, WireRooms
from fitplan.routing.map.bundles import bundle_diameter
from fitplan.routing.map.ends import resolve
from fitplan.routing.map.vehicle_map import REACH_MM, VehicleMap
from fitplan.units import PITCH

MOST_SETS = 4000
"""So many sets of holes and bricks are held against the bound."""
MOST_OF_A_KIND = 6
"""So many holes of one kind are opened at the most."""
CONFIRMED = "confirmed: the rooms among exact cells are parted in the same way as those among voxels"

Bricks: TypeAlias = frozenset[tuple[str, str]]
"""Removable bricks that are out: vehicle and name."""
RoomKind: TypeAlias = Literal["voxels", "cells", "wires"]


@dataclass(frozen=True)
class HoleKindThere:
    """Holes of one train that are one to the bound: what they join, how wide, at what cost."""

    ends: tuple[Node, Node]
    opening: tuple[float, float]
    cost: float
    name: str


@dataclass(frozen=True)
class OpenSet:
    """Bricks to take out and kinds of holes to open, with what they cost."""

    cost: float
    bricks: Bricks
    kinds: tuple[HoleKindThere, ...]


@dataclass(frozen=True, eq=False)
class _Opened:
    """The train with some bricks out: its rooms and what can be opened more."""

    rooms: WireRooms
    holes: Mapping[HoleKindThere, Sequence[tuple[str, HoleCandidate]]]
    gaps: tuple[tuple[str, Hole], ...] = ()


@dataclass(frozen=True, eq=False)
class _Body:
    """One vehicle with some bricks out: its rooms, the gaps in its end walls, and where it can be opened.

    ``spots`` are the rooms that the part of each need may be in; None: that cannot be told.
    """

    rooms: BodyRooms
    gaps: tuple[Hole, ...]
    links: tuple[RoomLink, ...]
    candidates: tuple[HoleCandidate, ...]
    spots: dict[str, frozenset[Node] | None] = field(default_factory=dict)


@dataclass(eq=False)
class OpeningSearch:
    """The search for the least opening of one placed train.

    Parameters
    ----------
    run
        Its packer tells where each part may lie.
    built
        The train as it was placed: which part serves each need, and which pins nets join.
    diameters
        Outer diameter (mm) of each net's wire.
    kind
        Which rooms are meant: those among voxels; those among exact cells, the same question asked a second
        way; or those in which the wire that leads to most ends gets about, which proves nothing.
    at_home
        Whether every part stays in the vehicle that was chosen for it, which proves nothing either.
    """

    run: PlanningRun
    built: BuiltTrain
    diameters: Mapping[str, float]
    kind: RoomKind = "voxels"
    at_home: bool = False
    _known: dict[Bricks, _Opened] = field(default_factory=dict)
    _bodies: dict[tuple[str, frozenset[str]], _Body] = field(default_factory=dict)
    _looked_at: int = 0

    @cached_property
    def shut(self) -> str:
        """Why no place of the parts lets the wires through as it is, confirmed; empty: not proved."""
        why = self._opened(frozenset()).rooms.refuted()
        return f"{why}; {CONFIRMED}" if why and self.bound > 0 else ""

    def asks_the_same(self, built: BuiltTrain, diameters: Mapping[str, float]) -> bool:
        """Whether a train with these wires and places would be asked of nothing else than this one is."""
        both = (built, self.built)
        homes = [{(one.need, one.part.id, one.vehicle) for one in train.placements} for train in both]
        return homes[0] == homes[1] and diameters == self.diameters

    @property
    def refuted(self) -> bool:
        """Whether the rooms of the bodies, as these are, do not let the wires through."""
        return bool(self._opened(frozenset()).rooms.refuted())

    @cached_property
    def in_the_way(self) -> frozenset[str]:
        """The vehicles whose rooms do not let the wires through, whatever is opened in others."""
        return self._opened(frozenset()).rooms.in_the_way()

    @cached_property
    def bound(self) -> float:
        """What anything that may help costs at the least, by the rooms of both lattices."""
        both = (self, OpeningSearch(self.run, self.built, self.diameters, "cells"))
        first = [next(search.sets(), None) for search in both]
        return min(one.cost if one is not None else 0.0 for one in first)

    def sets(self) -> Iterator[OpenSet]:
        """Yield what is not refuted, the cheapest first."""
        bricks = {
            (entry.name, brick.name): brick.cost
            for entry in self._vehicles()
            for brick in entry.vehicle.removables
        }
        order = sorted(bricks, key=lambda brick: (bricks[brick], brick))
        ticket = itertools.count()
        # A set of bricks waits at its own price, with holes at what is wanted more at the least.
        queue: list[tuple[float, int, float, Bricks, int, tuple[HoleKindThere, ...] | None]] = []
        heapq.heappush(queue, (0.0, next(ticket), 0.0, frozenset(), 0, None))
        self._looked_at = 0
        while queue and self._looked_at < MOST_SETS:
            waited, _, cost, out, first, kinds = heapq.heappop(queue)
            there = self._opened(out)
            if kinds is None:
                least = cost + self._more(out, {brick: bricks[brick] for brick in order[first:]})
                if least > waited:
                    if least < math.inf:
                        heapq.heappush(queue, (least, next(ticket), cost, out, first, None))
                    continue
                for place in range(first, len(order)):
                    more, dearer = out | {order[place]}, cost + bricks[order[place]]
                    waits = max(dearer, least)
                    heapq.heappush(queue, (waits, next(ticket), dearer, more, place + 1, None))
                self._wait(queue, next(ticket), cost, out, ())
                continue
            if not there.rooms.refuted(_links(kinds)) and self._carried(out):
                yield OpenSet(cost, out, kinds)
            for kind in there.holes:
                if kinds and _rank(kind) < _rank(kinds[-1]):
                    continue
                if kinds.count(kind) < min(MOST_OF_A_KIND, len(there.holes[kind])):
                    self._wait(queue, next(ticket), cost + kind.cost, out, (*kinds, kind))

    def _more(self, out: Bricks, bricks: Mapping[tuple[str, str], float]) -> float:
        """Return what must be opened at the least beside some bricks: holes, or more bricks at their prices.

        Told only of parts that stay at home, which have rooms enough for it to be worth it.
        """
        if not self.at_home:
            return 0.0
        there = self._opened(out)
        cheapest: dict[str, float] = {}
        ends: dict[Node, float] = {}
        for entry in self._vehicles():
            mine = {name: cost for (vehicle, name), cost in bricks.items() if vehicle == entry.name}
            if mine:
                cheapest[entry.name] = min(mine.values())
            for name, cost in mine.items():
                for gap in gaps_of(entry.vehicle, name):
                    end: Node = (entry.name, end_of(entry, gap.out or "+x"))
                    ends[end] = min(cost, ends.get(end, math.inf))
        offered = [(link, kind.cost) for kind in there.holes for link in _links((kind,))]
        links = [link for link, _ in offered]
        return there.rooms.least_more((), [*offered, *there.rooms.without_walls(cheapest, ends, links)])

    def _wait(
        self,
        queue: list[tuple[float, int, float, Bricks, int, tuple[HoleKindThere, ...] | None]],
        ticket: int,
        cost: float,
        out: Bricks,
        kinds: tuple[HoleKindThere, ...],
    ) -> None:
        """Put a set of holes where it belongs, unless nothing that is added to it joins what nets join."""
        self._looked_at += 1
        there = self._opened(out)
        offered = [(link, kind.cost) for kind in there.holes for link in _links((kind,))]
        more = there.rooms.least_more(_links(kinds), offered)
        if more < math.inf:
            heapq.heappush(queue, (cost + more, ticket, cost, out, 0, kinds))

    def least(
        self, chosen: OpenSet, *, choice: int = 0, among: OpeningSearch | None = None
    ) -> LeastOpening | None:
        """Return a set as it is told, with a hole of each kind, the best liked first; None: it has no place.

        Parameters
        ----------
        choice
            So many of the best liked holes of each kind are passed over.
        among
            Which search the set is of, `likely` say; None: this one.
        """
        there = (among or self)._opened(chosen.bricks)
        holes: list[tuple[str, Hole]] = list(there.gaps)
        for kind, count in Counter(chosen.kinds).items():
            liked = in_order(self.built.train, there.holes[kind])
            found = apart(self.built.train, liked, count, choice, holes)
            if len(found) < count:
                return None
            holes += found
        return LeastOpening(tuple(holes), tuple(sorted(chosen.bricks)), chosen.cost, self.bound, self.shut)

    @cached_property
    def likely(self) -> OpeningSearch:
        """The same search among the rooms in which wires are laid: what it finds is likely to do."""
        return OpeningSearch(self.run, self.built, self.diameters, "wires")

    @cached_property
    def likely_at_home(self) -> OpeningSearch:
        """The likely search with every part in the vehicle that was chosen for it."""
        known = self.likely._bodies
        return OpeningSearch(self.run, self.built, self.diameters, "wires", at_home=True, _bodies=known)

    @property
    def vehicles(self) -> tuple[str, ...]:
        """Names of the vehicles that may be opened."""
        return tuple(entry.name for entry in self._vehicles())

    # -- what is known with some bricks out -----------------------------------------------------------

    def _vehicles(self) -> list[TrainVehicle]:
        return [entry for entry in self.built.train.vehicles if entry.name not in self.run.added]

    def _carried(self, out: Bricks) -> bool:
        """Whether what stays of every body still stands."""
        return all(
            carrying(entry.vehicle, names).holds
            for entry in self._vehicles()
            if (names := _names(out, entry.name))
        )

    def _opened(self, out: Bricks) -> _Opened:
        if out not in self._known:
            self._known[out] = self._look(out)
        return self._known[out]

    def _look(self, out: Bricks) -> _Opened:
        train = self.built.train
        bodies = {entry.name: self._body(entry, _names(out, entry.name)) for entry in train.vehicles}
        links = [link for body in bodies.values() for link in body.links]
        links += [RoomLink(((a, "rear"), (b, "front"))) for a, b in itertools.pairwise(bodies)]
        kinds: dict[HoleKindThere, list[tuple[str, HoleCandidate]]] = {}
        outside = {(next(iter(bodies)), "front"), (next(reversed(bodies)), "rear")}  # no wire ends there
        for entry in self._vehicles():
            for one in bodies[entry.name].candidates:
                if outside.isdisjoint((kind := _kind_of(entry, one)).ends):
                    kinds.setdefault(kind, []).append((entry.name, one))
        where, nets = self._ends(bodies, out)
        # Where nothing is proved nobody is told of rooms.
        told = {node for nodes in where.values() for node in nodes or () if self.kind != "wires"}
        words = words_for({name: body.rooms for name, body in bodies.items()}, told)
        gaps = tuple((name, gap) for name, body in bodies.items() for gap in body.gaps)
        wires = WireRooms(where, nets, tuple(links), words, tuple(bodies), as_laid=self.kind == "wires")
        return _Opened(wires, kinds, gaps)

    def _body(self, entry: TrainVehicle, removed: frozenset[str]) -> _Body:
        """Return what is known of a vehicle with some bricks out, worked out once."""
        key = (entry.name, removed)
        if key not in self._bodies:
            vehicle = entry.vehicle
            gaps = tuple(gap for brick in sorted(removed) for gap in gaps_of(vehicle, brick))
            clear_for = None
            if self.kind == "wires":
                map_ = VehicleMap.of(vehicle.name, vehicle, (), removed)
                rooms = BodyRooms.as_wires_lie(map_, self._everywhere_mm, self._together_mm)
                clear_for = partial(map_.clear_for, diameters=tuple(self.diameters.values()))
            else:
                of_kind = BodyRooms.in_cells if self.kind == "cells" else BodyRooms.in_voxels
                rooms = of_kind(vehicle, removed)
            links = tuple(room_links(entry, opened(vehicle, gaps), rooms, clear_for))
            candidates = hole_candidates(vehicle, removed, rooms)
            self._bodies[key] = _Body(rooms, gaps, links, candidates)
        return self._bodies[key]

    @cached_property
    def _everywhere_mm(self) -> float:
        """The diameter of the wire with most ends, ground as a rule: where others go, it goes too."""
        nets = [net for net in self.built.train.nets if net.name in self.diameters]
        most = max(nets, key=lambda net: len(net.joins))
        return self.diameters[most.name]

    @cached_property
    def _together_mm(self) -> float:
        """The diameter of all wires in one bundle."""
        return bundle_diameter(self.diameters.values())

    def _ends(
        self, bodies: Mapping[str, _Body], out: Bricks
    ) -> tuple[dict[str, frozenset[Node] | None], tuple[BoundNet, ...]]:
        """Return the rooms in which each end of a net may be, and the nets."""
        where: dict[str, frozenset[Node] | None] = {}
        nets = []
        resolved, _ = resolve(self.built)
        for net in resolved:
            ends = []
            for end in net.ends:
                name = end.owner
                if built_in_name(end.owner) is not None:
                    name = f"{end.owner}.{end.pin}"
                    near = bodies[end.vehicle].rooms.within(Box(end.at, end.at), REACH_MM + PITCH)
                    where.setdefault(name, frozenset((end.vehicle, room) for room in near) or None)
                elif name not in where:
                    where[name] = self._may_lie(bodies, name, out)
                ends.append(name)
            nets.append(BoundNet(net.net.name, self.diameters[net.net.name], tuple(dict.fromkeys(ends))))
        return where, tuple(net for net in nets if len(net.ends) > 1)

    def _may_lie(self, bodies: Mapping[str, _Body], name: str, out: Bricks) -> frozenset[Node] | None:
        """Return the rooms that a need's part may be in, in any vehicle; None when that cannot be told."""
        need = self.built.train.need(name)
        placement = self.built.placement(name)
        assert placement is not None  # an end that was resolved has a place
        found: set[Node] = set()
        for vehicle, body in bodies.items():
            if not may_go(need, vehicle) or (self.at_home and vehicle != placement.vehicle):
                continue
            if name not in body.spots:
                spots = possible_spots(
                    self.run.packer, vehicle, Wanted(need, placement.part), _names(out, vehicle)
                )
                body.spots[name] = None
                if spots is not None and (rooms := body.rooms.at(spots)).any(axis=1).all():
                    body.spots[name] = frozenset((vehicle, int(room)) for room in np.unique(rooms) if room)
            there = body.spots[name]
            if there is None:
                return None
            found |= there
        return frozenset(found) or None


def _names(out: Bricks, vehicle: str) -> frozenset[str]:
    return frozenset(name for owner, name in out if owner == vehicle)


def _links(kinds: tuple[HoleKindThere, ...]) -> Iterator[RoomLink]:
    for kind in kinds:
        yield RoomLink(kind.ends, kind.name, (kind.opening,))


def _rank(kind: HoleKindThere) -> tuple[float, str, str]:
    return (kind.cost, kind.name, str(kind.ends))


def _kind_of(entry: TrainVehicle, one: HoleCandidate) -> HoleKindThere:
    ends: list[Node] = [
        (entry.name, end_of(entry, side) if isinstance(side, str) else side) for side in one.joins
    ]
    size = passage_of(entry.vehicle, one.hole).size
    wide, high = (round(edge, 4) for edge, axis in zip(size, "xyz", strict=True) if axis != one.hole.axis)
    first, last = sorted(ends, key=str)
    return HoleKindThere((first, last), (wide, high), one.hole.cost, f"{one.hole.kind} in {entry.name}")
