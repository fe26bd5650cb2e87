"""The shortest way of one wire alone, in exact millimetres: past gaps that voxels show as shut.

A voxel counts as narrow as its narrowest place, so a gap that is hardly wider than a wire is no way among
voxels. Here a grid of half a voxel goes through the wire's first end, and each of its points is asked how far
it lies off what is in the way. A way no longer than a known one lies in the ellipsoid about its ends that is
as long; nothing else is looked at.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.map.exact_room import ExactRoom, Floats
from fitplan.routing.ways.shortest_ways import WayMap
from fitplan.routing.ways.taut import Tautener
from fitplan.routing.ways.tight import clear_points, drawn_tight, is_clear

PITCH = 0.4
"""Distance of the points that a way may lead over, in mm."""
SLIP = 0.04
"""A wire may lie nearer to something by this (mm): less than what the checker lets pass."""
MOST_POINTS = 3_000_000
"""Where more points would have to be asked, they lie twice as far apart."""


def shortest_alone(
    room: ExactRoom, way: Floats, diameter: float, freest: Floats | None = None
) -> Floats | None:
    """Return the shortest way found between the ends of a known one; None where none is found.

    Parameters
    ----------
    way
        (n, 3) float64, the corners of the known way in mm, without its lead-outs.
    diameter
        Of the wire, in mm.
    freest
        The same where less is in the way: no other is shorter where it keeps off everything here, too.

    Returns
    -------
    numpy.ndarray
        (k, 3) float64, from the first end to the last; every piece keeps off everything.
    """
    ends = way[[0, -1]]
    known = float(np.linalg.norm(np.diff(way, axis=0), axis=1).sum())
    half = _half_extent(ends, known)
    middle, hull = ends.mean(axis=0), room.vehicle.hull
    least = np.maximum(middle - half, np.array(hull.low))
    most = np.minimum(middle + half, np.array(hull.high))
    pitch = PITCH
    while float(np.prod((most - least) / pitch + 1)) > MOST_POINTS:
        pitch *= 2
    low = ends[0] - pitch * np.floor((ends[0] - least) / pitch)
    counts = np.floor((most - low) / pitch).astype(int) + 1
    boxes, zones, wide, close = room.around(low, most, ends, diameter)

    def is_sure(points: Floats) -> bool:
        sure = (wide - SLIP - 0.001, close - SLIP - 0.001)
        return all(is_clear(one, other, boxes, zones, *sure) for one, other in pairwise(points))

    if freest is not None and is_sure(freest):
        return freest
    lines = [low[i] + pitch * np.arange(counts[i]) for i in range(3)]
    spans = _within(lines, ends, known + 2 * pitch)
    free = clear_points(lines, spans, boxes, zones, wide - SLIP, close - SLIP)
    start, goal = (np.clip(np.rint((end - low) / pitch).astype(int), 0, counts - 1) for end in ends)
    for voxel in (start, goal):
        free[tuple(voxel)] = True
    found = WayMap(free, pitch).way_between([start], [goal], check_rooms=False)
    if found is None:
        return None
    # A string that is pulled does not leave the box that it lay in: nothing else need be looked at.
    first, last = np.maximum(found.voxels.min(axis=0) - 2, 0), found.voxels.max(axis=0) + 3
    x, y, z = (slice(int(a), int(b)) for a, b in zip(first, last, strict=True))
    taut = (Tautener(free[x, y, z], pitch).pull(found.voxels - first).points + first) * pitch + low
    points = np.concatenate([ends[:1], taut[1:-1], ends[1:]])
    points = drawn_tight(points, boxes, zones, wide - SLIP, close - SLIP)
    return points if is_sure(points) else None


def _half_extent(ends: Floats, known: float) -> Floats:
    """Return half the size of the smallest box round the ellipsoid about two ends, a little larger."""
    between = ends[1] - ends[0]
    square = known * known / 4
    along = between * between / max(float(between @ between), 1e-12)
    across = max(square - float(between @ between) / 4, 0.0)
    half: Floats = np.sqrt(along * square + (1 - along) * across) + PITCH
    return half


def _within(lines: list[Floats], ends: Floats, known: float) -> NDArray[np.uint32]:
    """Return (x, y, 2), which points along z lie in the ellipsoid about the ends that is as long as a way.

    The first of them, and the one behind the last: those between the roots of a quadratic.
    """
    between, longest = ends[1] - ends[0], known / 2
    apart = float(np.linalg.norm(between))
    if apart >= known:
        return np.zeros((len(lines[0]), len(lines[1]), 2), dtype=np.uint32)
    along = between / apart if apart else np.array([1.0, 0.0, 0.0])
    across = 1 / (longest**2 - apart**2 / 4)
    less = across - 1 / longest**2
    x, y, z = (line - middle for line, middle in zip(lines, ends.mean(axis=0), strict=True))
    off = x[:, None] ** 2 + y**2
    on_axis = along[0] * x[:, None] + along[1] * y
    square = across - less * along[2] ** 2
    middle = less * along[2] * on_axis / square
    root = middle**2 - (across * off - less * on_axis**2 - 1) / square
    half = np.sqrt(np.maximum(root, 0.0))
    low, high = (np.where(root < 0, -np.inf, middle + sign * half) for sign in (-1, 1))
    spans = np.stack([np.searchsorted(z, low, "left"), np.searchsorted(z, high, "right")], axis=-1)
    return spans.astype(np.uint32)
