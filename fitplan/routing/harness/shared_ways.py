"""The stretches that wires share, vehicle by vehicle, told where the wires lie once they are taut.

Who shares a way is seen among voxels. A stretch passes one port at the most. A taut wire that has left the
way which it shared among voxels, as one does in a wide empty room, is a stretch of its own there.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import Vec
from fitplan.model.wired import Stretch
from fitplan.routing.map.bundles import BundleSection, bundle_diameter, stretches
from fitplan.routing.map.vehicle_map import VehicleMap
from fitplan.routing.negotiation.layout import Layout, Pulled
from fitplan.routing.ways.way import lattice_length

APART_MM = 25.0
"""A taut wire farther than this from the way that it shared among voxels does not share it any more."""
TOGETHER_MM = 5.0
"""Wires that have left the shared way still share theirs if they are no farther than this from each other."""
Floats = NDArray[np.float64]


def shared_ways(
    layout: Layout, pulled: Mapping[int, Pulled], diameters: Mapping[str, float], numbers: Mapping[int, int]
) -> tuple[Stretch, ...]:
    """Return the stretches that wires share, named B1, B2 ….

    Parameters
    ----------
    pulled, numbers
        Taut segments and the numbers of their wires, by ``id`` of the laid segment.
    """
    found: list[Stretch] = []
    for vehicle, map_ in layout.maps.items():
        mine = [laid for laid in layout.laid if laid.segment.vehicle == vehicle]
        thick = [diameters[laid.segment.net] for laid in mine]
        for section in stretches([laid.voxels for laid in mine], thick, map_.frame.pitch):
            for piece, port in _at_ports(map_, section):
                ways = [np.array(pulled[id(mine[run])].points, dtype=np.float64) for run in piece.runs]
                for runs, points, diameter, length in _as_they_lie(map_, piece, ways, thick):
                    found.append(
                        Stretch(
                            name=f"B{len(found) + 1}",
                            vehicle=vehicle,
                            points=_rounded(layout.true_points(vehicle, points)),
                            wires=tuple(sorted({numbers[id(mine[run])] for run in runs})),
                            diameter_mm=round(diameter, 3),
                            length_mm=round(length, 2),
                            port=port,
                        )
                    )
    return tuple(found)


def _at_ports(map_: VehicleMap, section: BundleSection) -> Iterator[tuple[BundleSection, str]]:
    """Yield a section with the port that it passes; cut half-way between where it passes more than one."""
    passed = []
    for port in map_.vehicle.ports:
        window = map_.port_window(port)
        low, high = [part.start for part in window], [part.stop for part in window]
        inside = np.flatnonzero(((section.voxels >= low) & (section.voxels < high)).all(axis=1))
        if len(inside):
            passed.append((int(inside[0]), int(inside[-1]), port.name))
    passed.sort()
    first = 0
    for number, (_, last, name) in enumerate(passed):
        if number + 1 == len(passed):
            yield (section if not first else _cut(map_, section, first, len(section.voxels) - 1)), name
            return
        end = max((last + passed[number + 1][0]) // 2, first + 1)
        yield _cut(map_, section, first, end), name
        first = end
    yield section, ""


def _cut(map_: VehicleMap, section: BundleSection, first: int, last: int) -> BundleSection:
    voxels = section.voxels[first : last + 1]
    return replace(section, voxels=voxels, length_mm=lattice_length(voxels, map_.frame.pitch))


def _as_they_lie(
    map_: VehicleMap, section: BundleSection, ways: Sequence[Floats], thick: Sequence[float]
) -> Iterator[tuple[tuple[int, ...], list[Vec], float, float]]:
    """Yield runs with the points, diameter and length that they share, once they are taut."""
    corners = map_.frame.centers(_corners(section.voxels))
    away = [max(_along(way, spot)[0] for spot in corners) for way in ways]
    near = tuple(run for run, far in zip(section.runs, away, strict=True) if far <= APART_MM)
    if near:
        diameter = bundle_diameter(thick[run] for run in near)
        yield near, _points(corners), diameter, section.length_mm
    left = [one for one, far in enumerate(away) if far > APART_MM]
    pieces = {one: _piece(ways[one], corners[0], corners[-1]) for one in left}
    while left:
        first = left[0]
        group = [
            one
            for one in left
            if all(_along(ways[one], spot)[0] <= TOGETHER_MM for spot in pieces[first])
            and all(_along(ways[first], spot)[0] <= TOGETHER_MM for spot in pieces[one])
        ]
        left = [one for one in left if one not in group]
        runs = tuple(section.runs[one] for one in group)
        length = float(np.linalg.norm(np.diff(pieces[first], axis=0), axis=1).sum())
        diameter = bundle_diameter(thick[run] for run in runs)
        yield runs, _points(pieces[first]), diameter, length


def _corners(voxels: NDArray[np.int32]) -> NDArray[np.int32]:
    """Return the voxels of a way where its direction changes, with both ends."""
    if len(voxels) < 3:
        return voxels
    steps = np.diff(voxels, axis=0)
    turns = np.flatnonzero((steps[1:] != steps[:-1]).any(axis=1)) + 1
    return voxels[[0, *turns.tolist(), len(voxels) - 1]]


def _along(way: Floats, spot: Floats) -> tuple[float, int, Floats]:
    """Return how far a spot is from a way (mm), the number of the nearest piece, and the nearest point."""
    best: tuple[float, int, Floats] = (math.inf, 0, way[0])
    for number, (a, b) in enumerate(pairwise(way)):
        step = b - a
        square = float(step @ step)
        share = min(max(float((spot - a) @ step) / square, 0.0), 1.0) if square > 0 else 0.0
        point = a + share * step
        far = float(np.linalg.norm(spot - point))
        if far < best[0] - 1e-9:
            best = (far, number, point)
    return best


def _piece(way: Floats, start: Floats, end: Floats) -> Floats:
    """Return the part of a way between the points nearest to two spots, in the order of the spots."""
    (_, one, first), (_, other, last) = _along(way, start), _along(way, end)
    if (one, float(np.linalg.norm(first - way[one]))) > (other, float(np.linalg.norm(last - way[other]))):
        return _piece(way, end, start)[::-1]
    return np.array([first, *way[one + 1 : other + 1], last])


def _points(rows: Floats) -> list[Vec]:
    return [(x, y, z) for x, y, z in rows.tolist()]


def _rounded(points: Sequence[Vec]) -> tuple[Vec, ...]:
    return tuple((round(x, 4), round(y, 4), round(z, 4)) for x, y, z in points)
