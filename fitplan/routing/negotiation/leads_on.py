"""Which ports lead on inside: a hole whose room is shut off by what stands behind it helps no wire.

Only asked where a conductor has a choice of ports.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear import label_spaces
from fitplan.routing.map.vehicle_map import NEAR_ENDS, VehicleMap
from fitplan.routing.ways.way import Voxel

STEP_MM = 0.2
"""Diameters are taken in steps of so much, upwards: rooms are drawn in voxels four times as large."""
Goal: TypeAlias = tuple[Voxel, ...]
"""Voxels of which a wire must reach any one."""


class LeadsOn:
    """Tells where wires of a diameter get to from the ports of each vehicle, past its parts."""

    def __init__(self, maps: Mapping[str, VehicleMap]) -> None:
        self._maps = maps
        self._rooms: dict[tuple[str, float], NDArray[np.uint32]] = {}

    def missed(self, vehicle: str, port: str, diameter: float, goals: Sequence[Goal]) -> int:
        """Return how many goals no wire of an outer diameter (mm) reaches from a port, given by name."""
        if not goals:
            return 0
        mouth = self.mouths(vehicle, (port,))
        return sum(not self.joined(vehicle, diameter, mouth, goal) for goal in goals)

    def joined(self, vehicle: str, diameter: float, start: Goal, goal: Goal) -> bool:
        """Return whether a wire of an outer diameter (mm) gets from a start, or close to it, to a goal."""
        rooms = self._rooms_of(vehicle, diameter)
        here = _near(rooms, start, 0) or _near(rooms, start, NEAR_ENDS)
        return bool(here & _near(rooms, goal, NEAR_ENDS))

    def rooms_at(self, vehicle: str, diameter: float, voxels: Goal) -> frozenset[int]:
        """Return the rooms, by number, in which a wire of an outer diameter (mm) may begin."""
        return _near(self._rooms_of(vehicle, diameter), voxels, NEAR_ENDS)

    def mouths(self, vehicle: str, ports: Collection[str]) -> Goal:
        """Return the voxels in the mouths of some ports, as the vehicle's map has them."""
        map_ = self._maps[vehicle]
        return tuple(voxel for port in map_.vehicle.ports if port.name in ports for voxel in map_.mouth(port))

    def _rooms_of(self, vehicle: str, diameter: float) -> NDArray[np.uint32]:
        """Return (x, y, z) uint32, a number for each room that a wire gets about in, 0 elsewhere."""
        diameter = math.ceil(diameter / STEP_MM - 1e-6) * STEP_MM
        key = (vehicle, diameter)
        if key not in self._rooms:
            room = self._maps[vehicle].room(diameter, ())
            self._rooms[key], _ = label_spaces(room)
        return self._rooms[key]


def _near(rooms: NDArray[np.uint32], voxels: Sequence[Voxel], by: int) -> frozenset[int]:
    """Return the rooms so many voxels round some voxels."""
    found: set[int] = set()
    for voxel in voxels:
        window = tuple(slice(max(c - by, 0), c + by + 1) for c in voxel)
        found.update(int(room) for room in np.unique(rooms[window]) if room)
    return frozenset(found)
