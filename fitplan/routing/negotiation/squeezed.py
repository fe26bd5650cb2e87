"""What a bundle that has too little room asks for: room along its way, or fewer conductors through a port."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from fitplan.model.solids import Box
from fitplan.routing.map.bundles import bundle_diameter
from fitplan.routing.map.topology import Portal, Segment
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.laid_segments import LaidSegments
from fitplan.routing.negotiation.layout import Layout, Squeeze
from fitplan.routing.negotiation.negotiated import Conflict
from fitplan.routing.ways.way import Way


def squeeze_of(
    done: LaidSegments,
    segments: Sequence[Segment],
    map_: VehicleMap,
    layout: Layout,
) -> Squeeze:
    """Return what the conflicts of a vehicle's segments, given in the order of their runs, ask for."""
    ways = {run.name: way for run, way in zip(done.runs, done.outcome.ways, strict=True)}
    conflicts = done.outcome.conflicts
    boxes = [box for conflict in conflicts for box in room_wanted(conflict, ways, map_, layout)]
    return Squeeze(
        map_.name, tuple(dict.fromkeys(boxes)), getting_on(done, segments, layout.ports_of(map_.name))
    )


def room_wanted(
    conflict: Conflict, ways: Mapping[str, Way | None], map_: VehicleMap, layout: Layout
) -> list[Box]:
    """Return the room that a conflict's bundle wants along its way, as boxes one voxel step apart."""
    way = ways[conflict.runs[0]]
    if way is None or isinstance(conflict.where, str):
        return []
    half = conflict.used / 2
    tight = 2 * map_.clear_radius(way.voxels) < conflict.used
    # Only the tight stretch round the conflict: other narrow places are conflicts of their own.
    here = int(np.abs(way.voxels - np.array(conflict.where)).max(axis=1).argmin())
    first, last = here, here
    while first > 0 and tight[first - 1]:
        first -= 1
    while last + 1 < len(tight) and tight[last + 1]:
        last += 1
    found = []
    for x, y, z in map_.frame.centers(way.voxels[first : last + 1]).tolist():
        x, y, z = layout.true_point(map_.name, (x, y, z))
        found.append(Box((x - half, y - half, z - half), (x + half, y + half, z + half)))
    return found


def getting_on(
    done: LaidSegments, segments: Sequence[Segment], passed: Mapping[Portal, str]
) -> tuple[tuple[str, int], ...]:
    """Return the ports whose conductors meet where they have too little room, and how many would have it.

    They may meet in another port of the same end, where its opening is all of the way on from theirs.
    """
    through: dict[str, list[str]] = {}
    coupling = {port: portal.coupling for portal, port in passed.items()}
    for run, segment in zip(done.runs, segments, strict=True):
        for node in (segment.start, segment.end):
            if isinstance(node, Portal):
                through.setdefault(passed[node], []).append(run.name)
    thick = {run.name: run.diameter for run in done.runs}
    most = {port: len(runs) for port, runs in through.items()}
    for conflict in done.outcome.conflicts:
        for port, runs in through.items():
            meet = [thick[name] for name in conflict.runs if name in runs]
            others = [thick[name] for name in conflict.runs if name not in runs]
            if isinstance(conflict.where, str):
                # What is given to a port goes through it, and what comes from the other end is to go there.
                if conflict.where == port or coupling.get(conflict.where) != coupling[port]:
                    continue
                fit = min(max(int(conflict.room) - len(others), 0), len(meet))
            else:
                fit = len(meet)
                while fit and bundle_diameter([*others, *meet[:fit]]) > conflict.room + 1e-9:
                    fit -= 1
            if len(meet) > 1 or isinstance(conflict.where, str):
                most[port] = min(most[port], len(runs) - len(meet) + fit)
    return tuple((port, count) for port, count in most.items() if count < len(through[port]))
