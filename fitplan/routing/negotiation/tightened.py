"""A whole layout drawn tight in exact millimetres, once everything has found its way.

A wire whose corners would lose their room to bend stays as it was pulled among voxels, and so does one that
keeps off a place for the sake of a corner. What the shortest way alone would be is looked for once more,
in millimetres, since voxels shut gaps that are hardly wider than a wire.
"""

from __future__ import annotations

import os
from collections.abc import Hashable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.budget import UNHURRIED, Budget
from fitplan.model.solids import Vec
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.exact_room import ExactRoom
from fitplan.routing.map.exact_ways import shortest_alone
from fitplan.routing.map.topology import Portal, Segment
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.detours import HANDS, NARROW, ROOM_TO_BEND, TOLD_MM, is_straight
from fitplan.routing.negotiation.layout import DrawnTight, LaidDetour, LaidSegment, Layout, Pulled
from fitplan.routing.negotiation.wired_before import WiredBefore
from fitplan.routing.ways.bend_room import sharp_corners
from fitplan.routing.ways.taut import chain_length, turning_angles

_WORTH_MM = 0.01
WORTH_GAP_MM = 0.3
"""A way past a narrow gap is told when it is shorter by so much (mm)."""


@dataclass(frozen=True)
class TightLayout:
    """Segments drawn tight, and what is told of longer ways, both by ``id`` of the laid segment."""

    pulled: Mapping[int, Pulled]
    detours: Mapping[int, LaidDetour]


def tightened(
    layout: Layout,
    diameters: Mapping[str, float],
    budget: Budget = UNHURRIED,
    known: WiredBefore | None = None,
) -> TightLayout:
    """Draw all segments of a layout tight, and the shorter ways that some of them tell of.

    When the budget's clock says so, no shorter ways are looked for; `Layout.cut` then names that.

    Parameters
    ----------
    known
        What was drawn tight before; it is looked up and added to.
    """
    known = known or WiredBefore()
    loose = [one for one in layout.laid if id(one) not in layout.kept.wires]
    late = False

    def drawn(one: LaidSegment) -> DrawnTight:
        nonlocal late
        late = late or budget.over("shortest ways to compare with")
        map_, diameter = layout.maps[one.segment.vehicle], diameters[one.segment.net]
        pulled = layout.pulled[id(one)]
        if not len(one.shut):
            pulled = _tight(pulled, one.segment, map_, diameter)
        told = _told(pulled, one, layout.detours.get(id(one)), map_, diameter, compare=not late)
        return DrawnTight(pulled, told)

    asked = {id(one): _question(one, layout, diameters) for one in loose if id(one) not in known.tight}
    first = {asked[id(one)]: one for one in reversed(loose) if id(one) in asked}
    # Each wire is asked about alone, those that lie the same once, and most of it is done outside Python.
    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        found = dict(zip(first, pool.map(drawn, first.values()), strict=True))
    tight = {
        id(one): (one, found[asked[id(one)]]) if id(one) in asked else known.tight[id(one)] for one in loose
    }
    if late:
        layout.cut.add("shortest ways to compare with")
    else:
        known.tight |= tight
    pulled = {id(one): layout.pulled[id(one)] for one in layout.laid}
    return TightLayout(
        pulled | {key: one.pulled for key, (_, one) in tight.items()},
        {key: one.detour for key, (_, one) in tight.items() if one.detour is not None},
    )


def _question(one: LaidSegment, layout: Layout, diameters: Mapping[str, float]) -> Hashable:
    """Return all that drawing a segment tight hangs on: what is equal comes to the same."""
    segment, key = one.segment, id(one)
    ends = (type(segment.start), type(segment.end))
    laid = (layout.pulled[key], layout.detours.get(key), one.shut.tobytes())
    return (segment.vehicle, diameters[segment.net], ends, laid)


def _told(
    after: Pulled,
    one: LaidSegment,
    before: LaidDetour | None,
    map_: VehicleMap,
    diameter: float,
    *,
    compare: bool,
) -> LaidDetour | None:
    """Return by how much a wire drawn tight is longer than its shortest way, for what takes most of that.

    ``compare``: look for the shortest way in exact millimetres too.
    """
    ways: list[tuple[str, tuple[Vec, ...] | None]] = []
    if before is not None:
        ways.append((before.why, _drawn(before.shortest, one.segment, map_, diameter)))
    ways += _alone(after, one, map_.exact, diameter) if compare else ()
    short, length = after.points, after.length_mm
    shares: dict[str, float] = {}
    for number, (why, way) in enumerate(ways):
        least = TOLD_MM if before is not None and number == 0 else WORTH_GAP_MM
        if way is not None and (shorter := chain_length(np.array(way))) <= length - least:
            shares[why] = shares.get(why, 0.0) + length - shorter
            short, length = way, shorter
    if not shares:
        return None
    return LaidDetour(max(shares, key=lambda why: shares[why]), round(after.length_mm - length, 2), short)


def _alone(
    laid: Pulled, one: LaidSegment, room: ExactRoom, diameter: float
) -> Iterator[tuple[str, tuple[Vec, ...] | None]]:
    """Return the shorter ways that a wire could have alone in exact millimetres, and what they stand for.

    Nothing is shorter than the straight line, nor than the way where no hand needs room: where that way is
    not worth telling, the way that keeps off hands is not looked for.
    """
    first, last, way = _between_lead_outs(laid.points, one.segment)
    if is_straight(laid) or chain_length(way) - chain_length(way[[0, -1]]) < WORTH_GAP_MM:
        return

    def whole(found: NDArray[np.float64] | None) -> tuple[Vec, ...] | None:
        return None if found is None else (*laid.points[:first], *_vecs(found), *laid.points[last:])

    freest = shortest_alone(room.without_hands, way, diameter) if room.hands else None
    past_hands = whole(freest)
    if past_hands is not None and laid.length_mm - chain_length(np.array(past_hands)) < WORTH_GAP_MM:
        return
    yield ROOM_TO_BEND if len(one.shut) else NARROW, whole(shortest_alone(room, way, diameter, freest))
    if room.hands:
        yield HANDS, past_hands


def _tight(before: Pulled, segment: Segment, map_: VehicleMap, diameter: float) -> Pulled:
    points = _drawn(before.points, segment, map_, diameter)
    length = chain_length(np.array(points))
    if length > before.length_mm - _WORTH_MM:
        return before
    held = (not isinstance(segment.start, Portal), not isinstance(segment.end, Portal))
    now = len(sharp_corners(points, diameter, held))
    if now and now > len(sharp_corners(before.points, diameter, held)):
        return before
    turns = turning_angles(np.array(points))
    return Pulled(points, length, before.lattice_mm, tuple(turns.tolist()))


def _drawn(points: tuple[Vec, ...], segment: Segment, map_: VehicleMap, diameter: float) -> tuple[Vec, ...]:
    """Return a way drawn tight between its lead-outs, which stay as they are."""
    first, last, way = _between_lead_outs(points, segment)
    if len(way) < 3:
        return points
    return (*points[:first], *_vecs(map_.exact.tightened(way, diameter)), *points[last:])


def _between_lead_outs(points: tuple[Vec, ...], segment: Segment) -> tuple[int, int, NDArray[np.float64]]:
    """Return where a way begins and ends without its lead-outs, and its corners there."""
    first = int(isinstance(segment.start, NetEnd) and len(points) > 2)
    last = len(points) - int(isinstance(segment.end, NetEnd) and len(points) > 2)
    return first, last, np.array(points[first:last], dtype=np.float64)


def _vecs(points: NDArray[np.float64]) -> tuple[Vec, ...]:
    return tuple((x, y, z) for x, y, z in points.round(4).tolist())
