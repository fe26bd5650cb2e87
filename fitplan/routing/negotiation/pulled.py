"""Laid segments pulled taut: corner points in millimetres, from pin to pin."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.layout import LaidSegment, Pulled
from fitplan.routing.ways.taut import Tautener, chain_length, turning_angles
from fitplan.routing.ways.way import lattice_length


class Puller:
    """Pulls the segments of one vehicle taut; what lies the same is pulled once."""

    def __init__(self, map_: VehicleMap) -> None:
        self._map = map_
        self._known: dict[tuple[object, ...], Pulled] = {}

    def pull(self, one: LaidSegment, diameter: float) -> Pulled:
        """Pull a segment taut within the room that a wire of this diameter (mm) needs, its ends held."""
        segment = one.segment
        held = [node.at if isinstance(node, NetEnd) else None for node in (segment.start, segment.end)]
        key = (diameter, *held, one.ends, one.voxels.tobytes(), one.shut.tobytes())
        if key not in self._known:
            self._known[key] = pull(one, self._map, diameter)
        return self._known[key]


def _shut(room: NDArray[np.bool_], shut: NDArray[np.int32], way: NDArray[np.int32]) -> None:
    """Close what a way keeps off, but not what its own steps span."""
    spanned = [way[:-1] + np.diff(way, axis=0) * np.array(part) for part in np.ndindex(2, 2, 2)]
    own = np.concatenate([way, *spanned])
    was = room[tuple(own.T)]
    inside = shut[((shut >= 0) & (shut < room.shape)).all(axis=1)]
    room[tuple(inside.T)] = False
    room[tuple(own.T)] = was


def pull(laid: LaidSegment, map_: VehicleMap, diameter: float) -> Pulled:
    """Pull a segment taut within the room that a wire of this diameter needs, its ends held."""
    pitch = map_.frame.pitch
    # A string that is pulled does not leave the box that it lay in: nothing else need be looked at.
    low = np.maximum(laid.voxels.min(axis=0) - 2, 0)
    high = laid.voxels.max(axis=0) + 3
    x, y, z = (slice(int(a), int(b)) for a, b in zip(low, high, strict=True))
    room = map_.room(diameter, laid.ends, (x, y, z))
    if len(laid.shut):
        _shut(room, laid.shut - low, laid.voxels - low)
    taut = Tautener(room, pitch).pull(laid.voxels - low)
    points = np.asarray(map_.frame.origin) + (taut.points + low + 0.5) * pitch
    segment = laid.segment
    before = [segment.start.at] if isinstance(segment.start, NetEnd) else []
    after = [segment.end.at] if isinstance(segment.end, NetEnd) else []
    every = without_repeats(np.array([*before, *points.tolist(), *after], dtype=np.float64).round(4))
    return Pulled(
        points=tuple((float(x), float(y), float(z)) for x, y, z in every.tolist()),
        length_mm=chain_length(every),
        lattice_mm=lattice_length(laid.voxels, pitch),
        turns_deg=tuple(turning_angles(every).tolist()),
    )


def without_repeats(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return (n, 3) points without those that lie where the one before does: one corner is bent once."""
    moved = np.any(np.diff(points, axis=0) != 0, axis=1)
    kept: NDArray[np.float64] = points[np.concatenate([[True], moved])]
    return kept if len(kept) > 1 else points[[0, -1]]
