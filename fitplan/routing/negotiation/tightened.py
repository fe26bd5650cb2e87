"""A whole layout drawn tight in exact millimetres, once everything has found its way.

A wire whose corners would lose their room to bend stays as it was pulled among voxels, and so does one that
keeps off a place for the sake of a corner.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import Vec
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.topology import Portal, Segment
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.detours import TOLD_MM
from fitplan.routing.negotiation.layout import LaidDetour, Layout, Pulled
from fitplan.routing.ways.bend_room import sharp_corners
from fitplan.routing.ways.taut import chain_length, turning_angles

_WORTH_MM = 0.01


@dataclass(frozen=True)
class TightLayout:
    """Segments drawn tight, and what is told of longer ways, both by ``id`` of the laid segment."""

    pulled: Mapping[int, Pulled]
    detours: Mapping[int, LaidDetour]


def tightened(layout: Layout, diameters: Mapping[str, float]) -> TightLayout:
    """Draw all segments of a layout tight, and the shorter ways that some of them tell of."""
    pulled: dict[int, Pulled] = {}
    detours: dict[int, LaidDetour] = {}
    for one in layout.laid:
        segment, before = one.segment, layout.pulled[id(one)]
        map_, diameter = layout.maps[segment.vehicle], diameters[segment.net]
        after = before if len(one.shut) else _tight(before, segment, map_, diameter)
        pulled[id(one)] = after
        told = layout.detours.get(id(one))
        if told is not None:
            short = _drawn(told.shortest, segment, map_, diameter)
            more = after.length_mm - chain_length(np.array(short))
            if more >= TOLD_MM:
                detours[id(one)] = LaidDetour(told.why, round(more, 2), short)
    return TightLayout(pulled, detours)


def _tight(before: Pulled, segment: Segment, map_: VehicleMap, diameter: float) -> Pulled:
    points = _drawn(before.points, segment, map_, diameter)
    length = chain_length(np.array(points))
    if length > before.length_mm - _WORTH_MM:
        return before
    held = (not isinstance(segment.start, Portal), not isinstance(segment.end, Portal))
    was, now = (len(sharp_corners(way, diameter, held)) for way in (before.points, points))
    if now > was:
        return before
    turns = turning_angles(np.array(points))
    return Pulled(points, length, before.lattice_mm, tuple(turns.tolist()))


def _drawn(points: tuple[Vec, ...], segment: Segment, map_: VehicleMap, diameter: float) -> tuple[Vec, ...]:
    """Return a way drawn tight between its lead-outs, which stay as they are."""
    first = int(isinstance(segment.start, NetEnd) and len(points) > 2)
    last = len(points) - int(isinstance(segment.end, NetEnd) and len(points) > 2)
    way: NDArray[np.float64] = np.array(points[first:last], dtype=np.float64)
    if len(way) < 3:
        return points
    drawn = map_.exact.tightened(way, diameter).round(4).tolist()
    return (*points[:first], *((x, y, z) for x, y, z in drawn), *points[last:])
