"""The state of a negotiation: who uses which voxels and places, and what they cost.

A run counts not only in its own voxels but in those next to them, as wires are thicker than a voxel: at each
voxel of a way, the wires that pass it or a voxel near it must fit, as one bundle, into the widest clear
circle among these voxels. Near are the 26 neighbours, and more where the thickest wire is thicker than two
voxels (`reach_of`). Near its own ends a run is not counted, since the pins there are spaced by the part.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear_radius import radius_of, roomy, widest_near
from fitplan.routing.map.narrow_places import CapacityPlace, Run
from fitplan.routing.negotiation.negotiated import Conflict, NegotiationSettings
from fitplan.routing.negotiation.numbered_voxels import NumberedVoxels
from fitplan.routing.negotiation.occupancy import WireSets
from fitplan.routing.ways.shortest_ways import Guide, WayMap, cost_units
from fitplan.routing.ways.way import Voxel, Way

RoomNear: TypeAlias = Callable[[NDArray[np.int64]], NDArray[np.float64]]
"""Told (n, 3) voxels, returns the bundle (mm) that has room close to each."""
TOUCH = 1e-6
"""Millimetres by which a bundle may be thicker than its room: rounding only."""
GUIDED_GREED = 1.1
"""How much dearer than the cheapest a way may be whose search is led by a guide."""
ASIDE = 4
"""Voxels that a wire which is built gives way among voxels; it stays where it is."""
WORTH_A_GUIDE = 0.2
"""Once searches to the same voxels have looked at this share of all free voxels, the next are led by a guide.

Making one looks at all of them, somewhat quicker: whatever comes, less than twice the least is spent."""


def reach_of(diameters: Iterable[float], pitch: float) -> int:
    """Return how many voxels off a wire still counts: wires one voxel farther apart do not touch."""
    thickest = max(diameters, default=0.0)
    return max(math.ceil(thickest / pitch - 1e-9) - 1, 1)


class ShareTable:
    """The state of a negotiation: who uses what, and what it costs."""

    def __init__(
        self,
        free: NDArray[np.bool_],
        squares: NDArray[np.uint32],
        runs: tuple[Run, ...],
        places: tuple[CapacityPlace, ...],
        pitch: float,
        cost: NDArray[np.floating] | None,
        settings: NegotiationSettings,
    ) -> None:
        _refuse_doubles([run.name for run in runs], "run")
        _refuse_doubles([place.name for place in places], "place")
        self.settings = settings
        self.held = 0
        self.lines: list[Way] = []
        self.corridors: list[NDArray[np.int64]] = []
        self.runs, self.places, self.pitch = runs, places, pitch
        self.shape = free.shape
        self.diameters = tuple(sorted({run.diameter for run in runs}))
        self.kind = [self.diameters.index(run.diameter) for run in runs]
        self.wire_sets = WireSets(self.diameters)
        self.measured = np.zeros(0, dtype=np.int64)
        self.ways: list[Way | None] = [None] * len(runs)
        self.free = free.ravel()
        self.voxels = NumberedVoxels(free)
        self.members = np.zeros(free.size, dtype=np.int32)
        self.users = np.zeros(free.size, dtype=np.int32)
        self.lasting = np.zeros(free.size, dtype=np.float32)
        self.base = (np.ones(free.size) if cost is None else np.maximum(cost, 1.0).ravel()).astype(np.float32)
        reach = reach_of(self.diameters, pitch)
        self.reach = reach
        widest = squares
        for _ in range(reach):
            widest = widest_near(widest)
        self.room = np.zeros(free.size)
        self.room[self.free] = 2 * radius_of(widest[free], pitch)
        self.place_of = np.full(free.size, -1, dtype=np.int32)
        for number, place in enumerate(places):
            flat = np.ravel_multi_index(tuple(np.asarray(place.voxels, dtype=np.int64).T), self.shape)
            if (self.place_of[flat] >= 0).any():
                raise ValueError(f"place {place.name!r} shares a voxel with another place")
            self.place_of[flat] = number
        for place in places:
            near = np.ravel_multi_index(tuple(np.asarray(place.behind, dtype=np.int64).T), self.shape)
            self.room[near] = np.maximum(self.room[near], place.bundle_mm)
        self.room[self.place_of >= 0] = np.inf
        self.place_voxels = [np.flatnonzero(self.place_of == number) for number in range(len(places))]
        self.place_used = np.zeros(len(places))
        self.place_lasting = np.zeros(len(places))
        self.crossed: list[NDArray[np.int64]] = [np.zeros(0, dtype=np.int64)] * len(runs)
        self.counted: list[NDArray[np.int64]] = [np.zeros(0, dtype=np.int64)] * len(runs)
        self.on: list[NDArray[np.int64]] = [np.zeros(0, dtype=np.int64)] * len(runs)
        self.near: list[NDArray[np.int64]] = [np.zeros(0, dtype=np.int64)] * len(runs)
        self.present = settings.present
        self.least = self.base.reshape(self.shape)
        self.guides: dict[tuple[Voxel, ...], Guide] = {}
        self.worth_a_guide = WORTH_A_GUIDE * np.count_nonzero(self.free)
        self.shared = Counter(end for run in runs for end in {run.starts, run.goals})
        self.looked_at: Counter[tuple[Voxel, ...]] = Counter()
        self.expanded = 0  # voxels, by all searches
        start = cost_units(self.least * (1 + settings.sharing))
        self.fields = [
            WayMap(roomy(squares, diameter / 2, pitch), pitch, start) for diameter in self.diameters
        ]
        around = {end: self._around(end) for run in runs for end in (run.starts, run.goals)}
        self.ends = [np.union1d(around[run.starts], around[run.goals]) for run in runs]
        ports = np.flatnonzero(self.place_of >= 0)
        if len(ports):
            for field in self.fields:  # what a place carries is its own figure, whatever its clear radius
                field.set_free(self.voxels.rows(ports[self.free[ports]]), True)

    # -- ways ----------------------------------------------------------------------------------------

    def route(self, index: int) -> None:
        """Take a run out, find its cheapest way at present prices and put it in."""
        self._take(index)
        run, field = self.runs[index], self.fields[self.kind[index]]
        for number, cells in enumerate(self.place_voxels):
            over = self.place_used[number] + run.demand - self.places[number].capacity
            self._price_place(field, number, cells, over)
        way = self._way(index)
        self.ways[index] = way
        if way is not None:
            self._put(index, way)

    def _way(self, index: int) -> Way | None:
        """Return a cheap way for a run, found from its lonelier end towards the other."""
        if index < self.held:
            return self._way_aside(index)
        run, field = self.runs[index], self.fields[self.kind[index]]
        turned = self.shared[run.starts] > self.shared[run.goals]
        starts, goals = (run.goals, run.starts) if turned else (run.starts, run.goals)
        guide = self._guide(goals)
        with self._opened(field, self.ends[index]):
            way = field.way_between(
                starts,
                goals,
                greed=self.settings.greed if guide is None else min(self.settings.greed, GUIDED_GREED),
                check_rooms=False,
                guide=guide,
            )
        if way is None:
            return None
        self.looked_at[goals] += way.expanded
        self.expanded += way.expanded
        return way.backwards() if turned else way

    def hold(self, lines: Sequence[Way]) -> None:
        """Let the first runs lie near these ways, whatever they meet."""
        self.held, self.lines = len(lines), list(lines)
        for way, own in zip(lines, self.ends, strict=False):
            flat = np.ravel_multi_index(tuple(way.voxels.astype(np.int64).T), self.shape)
            near = self.voxels.near(flat, ASIDE)
            self.corridors.append(np.union1d(near, np.intersect1d(own, self.voxels.near(flat, 2 * ASIDE))))

    def _way_aside(self, index: int) -> Way:
        """Return the cheapest way of a run close to the one that it lies on, or that where there is none.

        A taut wire cuts corners; among voxels it counts where there is room for its bundle beside it.
        """
        run, cells = self.runs[index], self.corridors[index]
        voxels = self.voxels.rows(cells)
        if not len(voxels):
            return self.lines[index]
        low = voxels.min(axis=0)
        shape = tuple((voxels.max(axis=0) - low + 1).tolist())
        free = np.zeros(shape, dtype=np.bool_)
        cost = np.ones(shape, dtype=np.float32)
        inner = tuple((voxels - low).T)
        open_ = self._field_free(self.fields[self.kind[index]], cells) | np.isin(cells, self.ends[index])
        free[inner] = open_
        cost[inner] = self._cost_of(cells, self.kind[index])
        starts, goals = (
            tuple(
                (int(x), int(y), int(z))
                for x, y, z in np.array(side, dtype=np.int64).reshape(-1, 3) - low
                if all(0 <= v < size for v, size in zip((x, y, z), shape, strict=True)) and free[x, y, z]
            )
            for side in (run.starts, run.goals)
        )
        if not starts or not goals:
            return self.lines[index]
        field = WayMap(free, self.pitch, cost)
        way = field.way_between(starts, goals, greed=1.0, check_rooms=False)
        if way is None:
            return self.lines[index]
        return replace(way, voxels=(way.voxels + low).astype(np.int32))

    def _guide(self, goals: tuple[Voxel, ...]) -> Guide | None:
        """Return the guide that leads runs to these goals, when it is worth its making."""
        if goals not in self.guides and self.looked_at[goals] > self.worth_a_guide:
            # It serves every run, so it must know the room of the thinnest and that round all ends.
            field = self.fields[0]
            with self._opened(field, np.unique(np.concatenate(self.ends))):
                self.guides[goals] = field.guide(goals, self.least)
        return self.guides.get(goals)

    @contextmanager
    def _opened(self, field: WayMap, ends: NDArray[np.int64]) -> Iterator[None]:
        """Let ways pass the free voxels round some ends for a while, though they have too little room."""
        narrow = self.voxels.rows(ends[~self._field_free(field, ends)])
        field.set_free(narrow, True)
        try:
            yield
        finally:
            field.set_free(narrow, False)

    def put(self, index: int, way: Way) -> None:
        """Let a run that has none take this way."""
        self.ways[index] = way
        self._put(index, way)

    def _put(self, index: int, way: Way) -> None:
        flat = np.ravel_multi_index(tuple(way.voxels.astype(np.int64).T), self.shape)
        places = np.unique(self.place_of[flat])
        self.crossed[index] = places[places >= 0].astype(np.int64)
        self.place_used[self.crossed[index]] += self.runs[index].demand
        self.on[index] = flat
        counted = flat[~np.isin(flat, self.ends[index]) & (self.place_of[flat] < 0)]
        self.counted[index] = counted
        self.near[index] = self.voxels.near(counted, self.reach)
        self._count(index, 1)

    def _take(self, index: int) -> None:
        if self.ways[index] is None:
            return
        self._count(index, -1)
        self.place_used[self.crossed[index]] -= self.runs[index].demand
        self.ways[index] = None

    def _count(self, index: int, by: int) -> None:
        near, on = self.near[index], self.on[index]
        self.members[near] = self.wire_sets.changed(self.members[near], self.kind[index], by)
        self.users[on] += by
        self._price(self.voxels.once(np.concatenate([near, on])))

    # -- prices --------------------------------------------------------------------------------------

    def _price(self, cells: NDArray[np.int64]) -> None:
        cells = cells[self.place_of[cells] < 0]
        plain = self.base[cells] * np.where(self.users[cells] > 0, 1.0, 1 + self.settings.sharing)
        plain = plain * (1 + self.lasting[cells])
        nodes = self.fields[0].nodes_at(cells)  # the fields have one shape, so one numbering
        for kind, field in enumerate(self.fields):
            field.set_cost_at(nodes, plain * (1 + self.present * self._over(cells, kind)))

    def _over(self, cells: NDArray[np.int64], kind: int) -> NDArray[np.float64]:
        """Return how overfull voxels are with one wire of a kind more; 0 where it goes in."""
        thick = self.wire_sets.thickness(self.wire_sets.changed(self.members[cells], kind, 1))
        return np.where(thick > self.room[cells] + TOUCH, _excess(thick, self.room[cells]), 0.0)

    def _cost_of(self, cells: NDArray[np.int64], kind: int) -> NDArray[np.float64]:
        """Return what a millimetre costs one wire of a kind in voxels."""
        plain = self.base[cells] * np.where(self.users[cells] > 0, 1.0, 1 + self.settings.sharing)
        inside = self.place_of[cells] >= 0
        full = plain * (1 + self.lasting[cells]) * (1 + self.present * self._over(cells, kind))
        return np.where(inside, self.base[cells], full)

    def _price_place(self, field: WayMap, number: int, cells: NDArray[np.int64], over: float) -> None:
        factor = 1 + self.place_lasting[number]
        if over > 0:
            factor *= 1 + 4 * self.present * over
        field.set_cost_at(field.nodes_at(cells), self.base[cells] * factor)

    def raise_prices(self) -> None:
        """Make what is overfull dearer: now by the growing surcharge, for good by the lasting part."""
        over = self._overfull()
        self.lasting[over] += self.settings.lasting * _excess(
            self.wire_sets.thickness(self.members[over]), self.room[over]
        )
        for number, place in enumerate(self.places):
            self.place_lasting[number] += self.settings.lasting * max(
                self.place_used[number] - place.capacity, 0
            )
        self.present *= self.settings.growth
        self._price(self.voxels.once(np.concatenate([over[:0], *self._present(self.near)])))

    def shun(self, bundle_mm: float) -> None:
        """Make all that is too narrow for a bundle dearer for good, whoever lies there."""
        narrow = np.flatnonzero(self.free & (self.room + TOUCH < bundle_mm))
        self.lasting[narrow] += self.settings.lasting
        self._price(narrow)

    def measure(self, room_near: RoomNear) -> bool:
        """Measure what is overfull in millimetres, each voxel once; tell whether any has more room."""
        over = self._overfull()
        over = over[~np.isin(over, self.measured)]
        self.measured = np.union1d(self.measured, over)
        found = room_near(self.voxels.rows(over)) if len(over) else np.zeros(0)
        wider = found > self.room[over] + TOUCH
        self.room[over[wider]] = found[wider]
        self._price(over)
        return bool(wider.any())

    # -- conflicts -----------------------------------------------------------------------------------

    def _overfull(self) -> NDArray[np.int64]:
        used: NDArray[np.int64] = np.unique(
            np.concatenate([np.zeros(0, dtype=np.int64), *self._present(self.counted)])
        )
        thick = self.wire_sets.thickness(self.members[used])
        over: NDArray[np.int64] = used[thick > self.room[used] + TOUCH]
        return over

    def _present(self, cells: list[NDArray[np.int64]]) -> list[NDArray[np.int64]]:
        return [of_run for of_run, way in zip(cells, self.ways, strict=True) if way is not None]

    def in_conflict(self, index: int) -> bool:
        """Tell whether a run passes an overfull voxel or place."""
        if self.ways[index] is None:
            return False
        crossed, own = self.crossed[index], self.counted[index]
        if any(self.place_used[number] > self.places[number].capacity for number in crossed):
            return True
        thick = self.wire_sets.thickness(self.members[own])
        return bool((thick > self.room[own] + TOUCH).any())

    def conflicts(self) -> tuple[Conflict, ...]:
        """List what is overfull: the places, then of voxels the narrowest for each set of runs that meet."""
        found = []
        for number, place in enumerate(self.places):
            if self.place_used[number] > place.capacity:
                crossing = self._crossing(number)
                if all(index < self.held for index in crossing):
                    continue
                names = tuple(self.runs[index].name for index in crossing)
                used = float(self.place_used[number])
                found.append(Conflict(place.name, names, used, float(place.capacity)))
        over = self._overfull()
        if not len(over):
            return tuple(found)
        meets: dict[int, list[int]] = {}
        for index, near in enumerate(self.near):
            if self.ways[index] is not None:
                for cell in np.intersect1d(near, over).tolist():
                    meets.setdefault(cell, []).append(index)
        seen = set()
        for cell, who in sorted(meets.items(), key=lambda meet: (self.room[meet[0]], meet[0])):
            if tuple(who) not in seen:
                seen.add(tuple(who))
                if who[-1] < self.held:
                    continue
                thick = float(self.wire_sets.thickness(self.members[[cell]])[0])
                x, y, z = (int(c) for c in np.unravel_index(cell, self.shape))
                found.append(
                    Conflict((x, y, z), tuple(self.runs[i].name for i in who), thick, float(self.room[cell]))
                )
        return tuple(found)

    def _crossing(self, place: int) -> list[int]:
        """Return the numbers of the runs that cross a place."""
        return [index for index, crossed in enumerate(self.crossed) if place in crossed]

    # -- voxels --------------------------------------------------------------------------------------

    def _field_free(self, field: WayMap, flat: NDArray[np.int64]) -> NDArray[np.bool_]:
        return field.free_at(field.nodes_at(flat))

    def _around(self, end: tuple[Voxel, ...]) -> NDArray[np.int64]:
        """Return the free voxels that lie close to an end."""
        cells = np.array(end, dtype=np.int64).reshape(-1, 3)
        if not len(cells):
            return np.zeros(0, dtype=np.int64)
        reach = self.settings.near_ends
        low = np.maximum(cells - reach, 0)
        high = np.minimum(cells + reach + 1, self.shape)
        first, window = low.min(axis=0), tuple(map(slice, low.min(axis=0), high.max(axis=0)))
        free = self.free.reshape(self.shape)[window]
        close = np.zeros(free.shape, dtype=bool)
        for begin, stop in zip((low - first).tolist(), (high - first).tolist(), strict=True):
            close[tuple(map(slice, begin, stop))] = True
        found: NDArray[np.int64] = np.ravel_multi_index(
            tuple(part + by for part, by in zip(np.nonzero(close & free), first, strict=True)), self.shape
        )
        return found


def _excess(thick: NDArray[np.float64], room: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how overfull voxels are: by area, between a quarter and four."""
    return np.clip((thick / np.maximum(room, 0.1)) ** 2 - 1, 0.25, 4.0)


def _refuse_doubles(names: Sequence[str], what: str) -> None:
    for name in names:
        if names.count(name) > 1:
            raise ValueError(f"two {what}s are called {name!r}")
