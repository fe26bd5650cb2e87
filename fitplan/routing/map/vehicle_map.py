"""The map of one vehicle for its wires: where they may be, where pins and ports let them begin."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear_radius import clear_squares, radius_of, roomy
from fitplan.lattice.frame import Frame
from fitplan.lattice.space import KEEP_CLEAR, VehicleSpace
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Direction, Solid, Vec, axis_of, is_forward, unit_vector
from fitplan.model.vehicle import Port, Vehicle, built_in_name
from fitplan.routing.map.behind_ports import lift_aside, lift_behind, straight_behind
from fitplan.routing.map.bundles import bundle_diameter, through_rectangle
from fitplan.routing.map.circle_packing import most_in_rectangle
from fitplan.routing.map.ends import NetEnd
from fitplan.routing.map.exact_clearance import clear_nearby
from fitplan.routing.map.exact_room import ExactRoom
from fitplan.routing.map.lead_outs import length_inside
from fitplan.routing.map.narrow_gaps import lift_gaps
from fitplan.routing.map.narrow_places import CapacityPlace
from fitplan.routing.map.port_room import ClearFor, Passage, clear_parts, passage, through_parts
from fitplan.routing.ways.preferences import preference_cost
from fitplan.routing.ways.way import Voxel

GRAZES_MM = 0.2
"""A lead-out may be so far inside something that it passes."""
SAMPLES = 60
"""Points of a lead-out at which walls are looked for."""
REACH_MM = 6.0
"""So far from a pin the first free voxel may lie, along its exit or, failing that, all round."""
NEAR_ENDS = 4
"""Voxels round an end where a wire needs room for its middle line only: pins stand close to walls."""
MOST_CLEAR_MM = 8.0
"""Where a ball of this radius is clear no bundle is too thick."""
SPREAD_MM = 24.0
"""Wires leave an open end so much farther from its mouth than the nearest free place, at the most."""
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
    walls
        (x, y, z) bool, True where the body, without the parts, surely lets no wire be.
    parts
        By part, and by what is built in (``vehicle/name``), what it fills.
    exact
        The same room in exact millimetres.
    """

    name: str
    vehicle: Vehicle
    frame: Frame
    free: NDArray[np.bool_]
    keep_clear: NDArray[np.bool_]
    walls: NDArray[np.bool_]
    parts: Mapping[str, tuple[Solid, ...]]
    exact: ExactRoom

    @classmethod
    def of(
        cls,
        name: str,
        vehicle: Vehicle,
        placements: tuple[Placement, ...],
        removed: frozenset[str],
        straps: Sequence[Box] = (),
    ) -> VehicleMap:
        """Draw the vehicle without the bricks taken out, with its parts and what they keep clear.

        Wires pass through the room of leads and of air; plugs, lenses and fingers keep theirs.

        Parameters
        ----------
        straps
            Bricks that will hold parts down, in mm: room is kept for them.
        """
        shapes = {
            placement.need: [placement.place.move_solid(solid) for solid in placement.part.envelope]
            for placement in placements
        }
        solids: list[Solid] = [solid for shape in shapes.values() for solid in shape]
        solids += [box for placement in placements if placement.shelf for box in placement.shelf.boxes]
        solids += straps
        kept: dict[bool, list[Solid]] = {True: [], False: []}
        for placement in placements:
            for clearance in placement.part.clearances:
                if not clearance.lets_wires_through:
                    always = clearance.needed == "always"
                    kept[always].append(placement.place.move_solid(clearance.solid))
        bare = VehicleSpace.of(vehicle, removed=removed)
        space = bare.with_solids([*solids, *kept[True], *kept[False]])
        moving = np.asarray(space.states("outward") == KEEP_CLEAR)
        filled: dict[str, tuple[Solid, ...]] = {need: tuple(shape) for need, shape in shapes.items()}
        filled |= {f"{name}/{one.name}": one.solids for one in vehicle.built_in}
        walls = ~bare.wire_free("inward")
        exact = ExactRoom(vehicle, removed, (*solids, *kept[True]), tuple(kept[False]))
        free = space.wire_free("outward")
        return cls(name, vehicle, space.frame, free, moving, walls, filled, exact)

    @cached_property
    def cost(self) -> NDArray[np.float32]:
        """(x, y, z) float32, what a millimetre costs: floors and corners are liked."""
        return preference_cost(self.free, keep_clear=self.keep_clear, pitch=self.frame.pitch)

    def clear_radius(self, voxels: NDArray[np.int32]) -> NDArray[np.float64]:
        """Return (n,) float64, the clear radius in mm round (n, 3) voxels."""
        return radius_of(self.clear_squares[tuple(voxels.T)], self.frame.pitch)

    @cached_property
    def clear_squares(self) -> NDArray[np.uint32]:
        """(x, y, z) uint32, the clear radius squared (`fitplan.lattice.clear_radius.clear_squares`).

        Straight behind ports it is that of what comes out of them (`behind_ports`), in narrow gaps of the
        body that among exact faces (`narrow_gaps`).
        """
        squares = self._squares.copy()
        lift_gaps(squares, self.free, self.walls, lambda: self.exact.boxes, self.frame)
        for port in self.vehicle.ports:
            window = self.port_window(port)
            lift_behind(squares, self.free, port, window, self.frame)
            lift_aside(squares, self.free, port, window, self.frame, lambda: self.exact.boxes)
        return squares

    def room_near(self, voxels: NDArray[np.integer]) -> NDArray[np.float64]:
        """Return (n,) float64, the diameter in mm that surely is clear close to voxels (n, 3)."""
        return 2 * clear_nearby(self.exact.boxes, self.frame.centers(voxels), MOST_CLEAR_MM)

    @cached_property
    def _squares(self) -> NDArray[np.uint32]:
        return clear_squares(self.free)

    def room(
        self,
        diameter: float,
        ends: Iterable[Voxel],
        window: tuple[slice, slice, slice] = EVERYWHERE,
    ) -> NDArray[np.bool_]:
        """Return bool, True where the middle of a wire may be, in a window of the map.

        Round the ends a wire needs room for its middle line only: pins stand close to walls.  What a port
        carries is counted by its own size, not by the clear radius of its voxels.
        """
        room = roomy(self.clear_squares[window], diameter / 2, self.frame.pitch)
        free = self.free[window]
        first = [part.start or 0 for part in window]
        opened = [tuple(slice(c - NEAR_ENDS, c + NEAR_ENDS + 1) for c in voxel) for voxel in ends]
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
        squares = np.arange(math.ceil((2 * SPLICE_CLEAR_MM / self.frame.pitch) ** 2) + 2, dtype=np.uint32)
        enough = squares[radius_of(squares, self.frame.pitch) >= SPLICE_CLEAR_MM][0]
        room: NDArray[np.bool_] = self._squares >= enough
        for port in self.vehicle.ports:
            room[self.frame.box_slice(port.box, "outward")] = False
        return room

    def start_at(self, end: NetEnd) -> Voxel | None:
        """Return the first free voxel in front of a pin, or else the nearest one; None when walled in.

        Between the pin and the voxel nothing stands but the pin's own part: there its wire leads out. A pin
        that looks out of an open end has no way back through its part.
        """
        key = (end.owner, end.at, end.exit)
        if key not in self._starts:
            self._starts[key] = self._start(end)
        return self._starts[key]

    @cached_property
    def _starts(self) -> dict[tuple[str, Vec, Direction], Voxel | None]:
        """Return where wires begin, by owner, place and direction of a pin, as far as that was asked for."""
        return {}

    def _start(self, end: NetEnd) -> Voxel | None:
        pitch = self.frame.pitch
        step = unit_vector(end.exit)
        outside = False
        for number in range(1, math.ceil(REACH_MM / pitch) + 1):
            along = [p + s * (number - 0.5) * pitch for p, s in zip(end.at, step, strict=True)]
            voxel = self.frame.index_of((along[0], along[1], along[2]))
            outside |= number == 1 and any(
                not low <= at <= high
                for low, at, high in zip(self.vehicle.hull.low, along, self.vehicle.hull.high, strict=True)
            )
            if self.frame.within(voxel) and self.free[voxel]:
                if self._in_sight(end, np.array([voxel]))[0]:
                    return voxel
                break
        return self._nearest(end, past_own=not outside)

    def _nearest(self, end: NetEnd, past_own: bool) -> Voxel | None:
        point = end.at
        middle = np.array(self.frame.index_of(point))
        reach = math.ceil(REACH_MM / self.frame.pitch)
        low = np.clip(middle - reach, 0, self.frame.shape)
        high = np.clip(middle + reach + 1, 0, self.frame.shape)
        window = self.free[low[0] : high[0], low[1] : high[1], low[2] : high[2]]
        found = np.argwhere(window) + low
        if not len(found):
            return None
        distance = np.linalg.norm(self.frame.centers(found) - np.array(point), axis=1)
        order = np.lexsort((found[:, 2], found[:, 1], found[:, 0], np.round(distance, 6)))
        order = order[distance[order] <= REACH_MM]
        for some in (order[:1], order[1:]):  # nearly always the nearest is in sight
            seen = np.flatnonzero(self._in_sight(end, found[some], past_own))
            if len(seen):
                x, y, z = found[some[seen[0]]].tolist()
                return (x, y, z)
        return None

    def _in_sight(self, end: NetEnd, voxels: NDArray[np.integer], past_own: bool = True) -> NDArray[np.bool_]:
        """Return (n,) whether straight lead-outs from a pin to voxels (n, 3) pass no wall, no other part.

        What is a hair deep is within the rounding of places and of round solids.
        """
        start, ends = np.array(end.at), self.frame.centers(voxels)
        seen = np.ones(len(voxels), dtype=np.bool_)
        for owner, solids in self.parts.items():
            for solid in solids if owner != end.owner or not past_own else ():
                seen &= length_inside(start, ends, solid) <= GRAZES_MM
        if built_in_name(end.owner) is None:
            shares = (np.arange(SAMPLES) + 0.5) / SAMPLES
            points = start + (ends - start)[:, None, :] * shares[:, None]
            cells = np.floor((points - np.array(self.frame.origin)) / self.frame.pitch + 1e-9).astype(
                np.int64
            )
            inside = ((cells >= 0) & (cells < self.walls.shape)).all(axis=-1)
            cells = np.where(inside[..., None], cells, 0)
            shut = inside & self.walls[cells[..., 0], cells[..., 1], cells[..., 2]]
            seen &= shut.mean(axis=1) * np.linalg.norm(ends - start, axis=1) <= GRAZES_MM
        return seen

    def port_window(self, port: Port) -> tuple[slice, slice, slice]:
        """Return the voxels of a port; of one that is drawn flat, those next to it on the inside."""
        window = list(self.frame.box_slice(port.box, "inward"))
        axis = axis_of(port.out)
        if window[axis].start == window[axis].stop:
            inside = max(window[axis].start - (1 if is_forward(port.out) else 0), 0)
            window[axis] = slice(inside, inside + 1)
        return (window[0], window[1], window[2])

    def mouth(self, port: Port) -> tuple[Voxel, ...]:
        """Return the free voxels at the outer end of a port; of an open end those nearest to its mouth."""
        window = self.port_window(port)
        axis = axis_of(port.out)
        outer = window[axis].stop - 1 if is_forward(port.out) else window[axis].start
        cut = list(window)
        cut[axis] = slice(outer, outer + 1)
        first = np.array([part.start for part in cut])
        found = np.argwhere(self.free[cut[0], cut[1], cut[2]]) + first
        if port.is_open_end and len(found):
            away = np.linalg.norm(self.frame.centers(found) - np.array(port.mouth), axis=1)
            found = found[away <= away.min() + SPREAD_MM]
        return tuple((x, y, z) for x, y, z in found.tolist())

    def mouth_point(self, port: Port) -> Vec:
        """Return the middle of a port's outer end, in mm."""
        return port.mouth

    def passage(self, port: Port, diameters: Iterable[float]) -> Passage:
        """Tell whether wires of these outer diameters (mm) go through a port together.

        Past what covers a part of it they go through the rest.

        Parameters
        ----------
        port
            As the vehicle has it, or its image.
        """
        wires = tuple(diameters)
        whole = passage(*port.opening, wires)
        if not (whole.holds and wires and self._left_in_part(self._own(port), max(wires))):
            return whole
        past = all(through_parts(*one) for one in self._past_covers(port, wires, self.exact))
        return whole if past else Passage("not decided")

    def goes_without_parts(self, port: Port, diameters: Sequence[float]) -> bool:
        """Tell whether these wires (mm) would go through a port if no part were in it or close behind it."""
        return all(
            through_parts(*one) for one in self._past_covers(port, diameters, self.exact.without_parts)
        )

    def clear_for(self, port: Port, diameters: Sequence[float]) -> tuple[ClearFor, ...]:
        """Return what of a port wires of some outer diameters (mm) go through.

        The whole opening for all of them, or, where something covers a part of it, what is left for those of
        each diameter with all thicker ones.
        """
        if self._left_in_part(self._own(port), max(diameters)):
            return tuple(self._past_covers(port, diameters, self.exact))
        return (ClearFor((port.opening,), tuple(diameters)),)

    def _past_covers(self, port: Port, wires: Sequence[float], room: ExactRoom) -> Iterator[ClearFor]:
        """Yield for each diameter what is left of a port beside what covers it for wires so thick."""
        for least in sorted(set(wires), reverse=True):
            parts = clear_parts(self._own(port), room.boxes, least)
            yield ClearFor(parts, tuple(wire for wire in wires if wire >= least))

    def _own(self, port: Port) -> Port:
        """Return a port as this map has it."""
        return self.vehicle.port(port.name) or port

    def _covered(self, port: Port, wire_mm: float) -> bool:
        """Tell whether voxels in a port are taken, or closer behind it than a wire's outer diameter (mm)."""
        window = self.port_window(port)
        behind = straight_behind(port, window, math.ceil(wire_mm / self.frame.pitch))
        return not (port.is_open_end or (self.free[window].all() and self.free[behind].all()))

    def _left_in_part(self, port: Port, wire_mm: float) -> bool:
        """Tell the same of what is covered by less than a voxel, too."""
        if port.is_open_end or self._covered(port, wire_mm):
            return not port.is_open_end
        return clear_parts(port, self.exact.boxes, wire_mm) != (port.opening,)

    def place(self, port: Port, given: Sequence[float], wires_mm: Sequence[float]) -> CapacityPlace:
        """Return a port as a narrow place.

        Parameters
        ----------
        given
            Outer diameters of the conductors that it was given to, which are known to go through together.
        wires_mm
            Outer diameters of all wires of the vehicle: so many of the thickest as lie side by side go
            through in any case, if nothing covers the port; how many of the thinnest cannot bounds proofs.
        """
        window = self.port_window(port)
        first = np.array([part.start for part in window])
        rows = 0 if self._covered(port, min(wires_mm)) else through_rectangle(*port.opening, max(wires_mm))
        carries = max(len(given), rows)
        most = max(carries, most_in_rectangle(*port.opening, min(wires_mm)))
        voxels = np.argwhere(self.free[window]) + first
        bundle_mm = bundle_diameter(given)
        return CapacityPlace(port.name, voxels, carries, most, self._behind(port, bundle_mm), bundle_mm)

    def _behind(self, port: Port, deep_mm: float) -> NDArray[np.int64]:
        """Return (n, 3) the voxels behind a port, at most so deep, where its whole opening goes on free.

        What goes through the opening side by side may lie there in the same way, before it bends or gathers.
        """
        window, axis = list(self.port_window(port)), axis_of(port.out)
        step = -1 if is_forward(port.out) else 1
        inner = window[axis].start if is_forward(port.out) else window[axis].stop - 1
        found = [np.zeros((0, 3), dtype=np.int64)]
        for number in range(1, math.ceil(deep_mm / self.frame.pitch) + 1):
            layer = inner + step * number
            window[axis] = slice(layer, layer + 1)
            there = self.free[window[0], window[1], window[2]]
            if not 0 <= layer < self.free.shape[axis] or not there.all():
                break
            found.append(np.argwhere(there) + np.array([part.start for part in window]))
        return np.concatenate(found)
