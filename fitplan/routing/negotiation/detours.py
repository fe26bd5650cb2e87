"""How much longer a laid wire is than the shortest way that it could have alone, and why.

A wire lies longer on purpose: along floors and in corners where tape holds, beside others in a bundle, out of
the way of others, round a corner that leaves room to bend. What that costs is told wire by wire.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear_radius import roomy
from fitplan.model.solids import Box
from fitplan.model.wired import Wire
from fitplan.routing.map.topology import Segment
from fitplan.routing.map.vehicle_map import NEAR_ENDS, VehicleMap
from fitplan.routing.negotiation.free_box import FreeBox
from fitplan.routing.negotiation.layout import LaidDetour, LaidSegment, Pulled
from fitplan.routing.negotiation.pulled import Puller
from fitplan.routing.ways.shortest_ways import WayMap
from fitplan.routing.ways.tight import is_clear
from fitplan.routing.ways.way import Voxel, Way

STRAIGHT = 1.002
"""A wire that is so little longer than its ends are apart is not looked at."""
TOLD_MM = 0.1
"""Detours from so many millimetres on are told."""
ROOM_TO_BEND = "room to bend"
"""Why a wire is longer that was laid again to keep off walls at a corner."""
NARROW = "past a gap hardly wider than it"
"""Why a wire is longer whose shorter way is so narrow that voxels show none."""
HANDS = "round room for plugs and fingers"
"""Why a wire is longer that keeps out of what must be clear while the vehicle is open."""
OTHER_HAND = (True, True, True)
"""Of equal ways the one that a mirror image would take."""
_NOWHERE: NDArray[np.int32] = np.zeros((0, 3), dtype=np.int32)


class ShortestAlone:
    """The shortest ways of single wires through one vehicle, whatever else lies in it; between some ends."""

    def __init__(self, map_: VehicleMap, puller: Puller, ends: Iterable[Sequence[Voxel]]) -> None:
        self._map = map_
        self._puller = puller
        self._box = FreeBox.round(map_.free, ends)
        self._fields: dict[float, WayMap] = {}
        self._known: dict[tuple[object, ...], list[Way]] = {}

    def way(
        self, segment: Segment, starts: Sequence[Voxel], goals: Sequence[Voxel], diameter: float
    ) -> tuple[Way, Pulled] | None:
        """Return the shortest way of a segment, and it pulled taut; None when there is none."""
        key = (tuple(starts), tuple(goals), diameter)
        if key not in self._known:
            self._known[key] = self._ways(starts, goals, diameter)
        ends = (*starts, *goals)
        taut = [
            (way, self._puller.pull(LaidSegment(segment, way.voxels, ends, _NOWHERE), diameter))
            for way in self._known[key]
        ]
        return min(taut, key=lambda pair: pair[1].length_mm, default=None)

    def _ways(self, starts: Sequence[Voxel], goals: Sequence[Voxel], diameter: float) -> list[Way]:
        """Return shortest ways over voxels, with equal ones chosen from either hand."""
        field = self._field(diameter)
        starts, goals = self._box.inside(starts), self._box.inside(goals)
        narrow = self._close(field, [*starts, *goals])
        field.set_free(narrow, True)
        try:
            way = field.way_between(starts, goals, check_rooms=False)
            other = None if way is None else field.turned(OTHER_HAND)
            return [self._box.way_outside(found) for found in (way, other) if found is not None]
        finally:
            field.set_free(narrow, False)

    def _field(self, diameter: float) -> WayMap:
        if diameter not in self._fields:
            room = roomy(self._map.clear_squares, diameter / 2, self._map.frame.pitch)
            for port in self._map.vehicle.ports:
                window = self._map.port_window(port)
                room[window] |= self._map.free[window]
            self._fields[diameter] = WayMap(room[self._box.slices], self._map.frame.pitch)
        return self._fields[diameter]

    def _close(self, field: WayMap, ends: Sequence[Voxel]) -> NDArray[np.int64]:
        """Return the free voxels near ends that a wire of this thickness has no room in; in the box."""
        spots = np.array(ends, dtype=np.int64).reshape(-1, 3)
        if not len(spots):
            return spots
        low = np.maximum(spots.min(axis=0) - NEAR_ENDS, 0)
        high = spots.max(axis=0) + NEAR_ENDS + 1
        free = self._map.free[self._box.slices][tuple(slice(a, b) for a, b in zip(low, high, strict=True))]
        close = np.zeros(free.shape, dtype=bool)
        for voxel in (spots - low).tolist():
            close[tuple(slice(max(c - NEAR_ENDS, 0), c + NEAR_ENDS + 1) for c in voxel)] = True
        cells: NDArray[np.int64] = np.argwhere(close & free) + low
        return cells[~field.free_at(field.nodes_of(cells))]


def detour_of(
    laid: LaidSegment, taut: Pulled, short: tuple[Way, Pulled], map_: VehicleMap
) -> LaidDetour | None:
    """Return by how much a laid wire is longer than it need be alone and why; None when it is not."""
    way, shortest = short
    more = taut.length_mm - shortest.length_mm
    if more < TOLD_MM:
        return None
    if len(laid.shut):
        return LaidDetour(ROOM_TO_BEND, round(more, 2), shortest.points)
    dearer = liking(laid.voxels, map_) > liking(way.voxels, map_) + 1e-6
    why = "beside and round other wires" if dearer else "along floors and corners"
    return LaidDetour(why, round(more, 2), shortest.points)


def liking(voxels: NDArray[np.int32], map_: VehicleMap) -> float:
    """Return what a voxel way costs where floors and corners are liked, in mm."""
    cost = map_.cost[tuple(voxels.T)].astype(np.float64)
    steps = np.sqrt(np.abs(np.diff(voxels, axis=0)).sum(axis=1)) * map_.frame.pitch
    return float(steps @ (cost[1:] + cost[:-1])) / 2


def is_straight(taut: Pulled) -> bool:
    """Tell whether a wire is hardly longer than its ends are apart."""
    return taut.length_mm <= STRAIGHT * float(np.linalg.norm(np.subtract(taut.points[-1], taut.points[0])))


def short_ways(
    alone: ShortestAlone,
    laid: Mapping[int, LaidSegment],
    pulled: Mapping[int, Pulled],
    ends: Mapping[int, tuple[Sequence[Voxel], Sequence[Voxel]]],
    diameters: Mapping[str, float],
) -> dict[int, tuple[Way, Pulled]]:
    """Return the shortest way alone of each laid segment, by its number; straight ones are left out."""
    known: dict[tuple[object, ...], tuple[Way, Pulled] | None] = {}
    found = {}
    for number, one in laid.items():
        if is_straight(pulled[id(one)]):
            continue
        starts, goals = ends[number]
        diameter = diameters[one.segment.net]
        key = (tuple(starts), tuple(goals), diameter, one.segment.start, one.segment.end)
        if key not in known:
            known[key] = alone.way(one.segment, starts, goals, diameter)
        if (short := known[key]) is not None:
            found[number] = short
    return found


def without_barred_ways(wire: Wire, bricks: Mapping[str, Sequence[Box]]) -> Wire:
    """Return a wire without the shorter ways that it tells of which bricks, by vehicle, have barred since."""
    off = wire.outer_mm / 2
    told = []
    for entry in wire.detours:
        room = np.array([(*box.low, *box.high) for box in bricks.get(entry.vehicle, ())], dtype=np.float64)
        boxes, way = room.reshape(-1, 6), np.array(entry.shortest, dtype=np.float64)
        if all(is_clear(one, other, boxes, boxes[:0], off, off) for one, other in pairwise(way)):
            told.append(entry)
    return replace(wire, detours=tuple(told)) if len(told) < len(wire.detours) else wire
