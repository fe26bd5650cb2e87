"""The map of one vehicle for its wires: where they may be, where pins and ports let them begin."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear_radius import clear_squares, radius_of, roomy
from fitplan.lattice.frame import Frame
from fitplan.lattice.space import KEEP_CLEAR, VehicleSpace
from fitplan.model.plan import Placement
from fitplan.model.solids import Vec, is_forward, plane_of, unit_vector
from fitplan.model.vehicle import Port, Vehicle
from fitplan.routing.map.circle_packing import most_in_rectangle
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.narrow_places import CapacityPlace
from fitplan.routing.map.port_room import Passage, passage
from fitplan.routing.ways.preferences import preference_cost
from fitplan.routing.ways.shortest_ways import Voxel

REACH_MM = 6.0
"""So far from a pin the first free voxel may lie, along its exit or, failing that, all round."""
NEAR_ENDS = 4
"""Voxels round an end where a wire needs room for its middle line only: pins stand close to walls."""
EVERYWHERE = (slice(None), slice(None), slice(None))
SPLICE_CLEAR_MM = 1.6
"""Clear radius that a splice with its sleeve needs (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class VehicleMap:
    """One vehicle with its parts in it, as the wires see it.

    Attributes
    ----------
    free
        (x, y, z) bool, True where a wire may be.
    """

    name: str
    vehicle: Vehicle
    frame: Frame
    free: NDArray[np.bool_]
    keep_clear: NDArray[np.bool_]

    @classmethod
    def of(
        cls, name: str, vehicle: Vehicle, placements: tuple[Placement, ...], removed: frozenset[str]
    ) -> VehicleMap:
        """Draw the vehicle without the bricks taken out, with its parts and what they keep clear.

        Wires pass through the room of leads and of air; plugs, lenses and fingers keep theirs.
        """
        solids = [
            placement.place.move_solid(solid) for placement in placements for solid in placement.part.envelope
        ]
        solids += [box for placement in placements if placement.shelf for box in placement.shelf.boxes]
        kept = [
            placement.place.move_solid(clearance.solid)
            for placement in placements
            for clearance in placement.part.clearances
            if clearance.kind not in ("lead", "air")
        ]
        space = VehicleSpace.of(vehicle, removed=removed).with_solids([*solids, *kept])
        moving = np.asarray(space.states("outward") == KEEP_CLEAR)
        return cls(name, vehicle, space.frame, space.wire_free("outward"), moving)

    @cached_property
    def cost(self) -> NDArray[np.float32]:
        """(x, y, z) float32, what a millimetre costs: floors and corners are liked."""
        return preference_cost(self.free, keep_clear=self.keep_clear, pitch=self.frame.pitch)

    @cached_property
    def clear_radius(self) -> NDArray[np.float64]:
        """(x, y, z) float64, the clear radius in mm round each voxel."""
        return radius_of(self.clear_squares, self.frame.pitch)

    @cached_property
    def clear_squares(self) -> NDArray[np.uint32]:
        """(x, y, z) uint32, the clear radius squared (`fitplan.lattice.clear_radius.clear_squares`)."""
        return clear_squares(self.free)

    def room(
        self,
        diameter: float,
        ends: Iterable[Voxel],
        window: tuple[slice, slice, slice] = EVERYWHERE,
        *,
        through_ports: bool = False,
    ) -> NDArray[np.bool_]:
        """Return bool, True where the middle of a wire may be, in a window of the map.

        Round the ends a wire needs room for its middle line only: pins stand close to walls.  What a port
        carries is counted by its own size, not by the clear radius of its voxels: `through_ports` opens them.
        """
        room = roomy(self.clear_squares[window], diameter / 2, self.frame.pitch)
        free = self.free[window]
        first = [part.start or 0 for part in window]
        opened = [tuple(slice(c - NEAR_ENDS, c + NEAR_ENDS + 1) for c in voxel) for voxel in ends]
        if through_ports:
            opened += [self.port_window(port) for port in self.vehicle.ports]
        for box in opened:
            near = tuple(
                slice(max(part.start - low, 0), max(part.stop - low, 0))
                for part, low in zip(box, first, strict=True)
            )
            room[near] |= free[near]
        return room

    @cached_property
    def splice_room(self) -> NDArray[np.bool_]:
        """(x, y, z) bool, True where a splice with its sleeve has room."""
        room: NDArray[np.bool_] = self.clear_radius >= SPLICE_CLEAR_MM
        for port in self.vehicle.ports:
            room[self.frame.box_slice(port.box, "outward")] = False
        return room

    def start_at(self, end: NetEnd) -> Voxel | None:
        """Return the first free voxel in front of a pin, or else the nearest one; None when walled in."""
        pitch = self.frame.pitch
        step = unit_vector(end.exit)
        for number in range(1, math.ceil(REACH_MM / pitch) + 1):
            along = [p + s * (number - 0.5) * pitch for p, s in zip(end.at, step, strict=True)]
            voxel = self.frame.index_of((along[0], along[1], along[2]))
            if self.frame.within(voxel) and self.free[voxel]:
                return voxel
        return self._nearest(end.at)

    def _nearest(self, point: Vec) -> Voxel | None:
        middle = np.array(self.frame.index_of(point))
        reach = math.ceil(REACH_MM / self.frame.pitch)
        low = np.clip(middle - reach, 0, self.frame.shape)
        high = np.clip(middle + reach + 1, 0, self.frame.shape)
        window = self.free[low[0] : high[0], low[1] : high[1], low[2] : high[2]]
        found = np.argwhere(window) + low
        if not len(found):
            return None
        distance = np.linalg.norm(self.frame.centers(found) - np.array(point), axis=1)
        best = int(np.lexsort((found[:, 2], found[:, 1], found[:, 0], np.round(distance, 6)))[0])
        if distance[best] > REACH_MM:
            return None
        x, y, z = found[best].tolist()
        return (x, y, z)

    def port_window(self, port: Port) -> tuple[slice, slice, slice]:
        """Return the voxels of a port; of one that is drawn flat, those next to it on the inside."""
        window = list(self.frame.box_slice(port.box, "inward"))
        axis = [abs(s) for s in unit_vector(port.out)].index(1)
        if window[axis].start == window[axis].stop:
            inside = max(window[axis].start - (1 if is_forward(port.out) else 0), 0)
            window[axis] = slice(inside, inside + 1)
        return (window[0], window[1], window[2])

    def mouth(self, port: Port) -> tuple[Voxel, ...]:
        """Return the free voxels at the outer end of a port."""
        window = self.port_window(port)
        axis = [abs(s) for s in unit_vector(port.out)].index(1)
        outer = window[axis].stop - 1 if is_forward(port.out) else window[axis].start
        cut = list(window)
        cut[axis] = slice(outer, outer + 1)
        first = np.array([part.start for part in cut])
        found = np.argwhere(self.free[cut[0], cut[1], cut[2]]) + first
        return tuple((x, y, z) for x, y, z in found.tolist())

    def mouth_point(self, port: Port) -> Vec:
        """Return the middle of a port's outer end, in mm."""
        axis = [abs(s) for s in unit_vector(port.out)].index(1)
        point = list(port.box.center)
        point[axis] = plane_of(port.box, port.out)
        return (point[0], point[1], point[2])

    def passage(self, port: Port, diameters: Iterable[float]) -> Passage:
        """Tell whether wires of these outer diameters (mm) go through a port together."""
        return passage(*port.opening, diameters)

    def place(self, port: Port, carries: int, wire_mm: float) -> CapacityPlace:
        """Return a port as a narrow place.

        Parameters
        ----------
        carries
            Conductors that are known to go through.
        wire_mm
            Outer diameter of the thinnest of them: how many of it cannot go through bounds every proof.
        """
        window = self.port_window(port)
        first = np.array([part.start for part in window])
        most = max(carries, most_in_rectangle(*port.opening, wire_mm))
        return CapacityPlace(port.name, np.argwhere(self.free[window]) + first, carries, most)
