"""The rooms of a body for wires, with no part in it: what no wall parts, in voxels and in exact cells.

Both count as clear whatever may be clear at all, so what they part is parted in the real body. They share no
lattice: voxels of 0.8 mm on the one hand, cells between the faces of all solids on the other. What parts
wires as they are laid is a third thing: it proves nothing, but tells where a wire is likely to get through.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import ExactSpace
from fitplan.lattice.clear import label_spaces
from fitplan.lattice.space import VehicleSpace
from fitplan.model.solids import Box, axis_of
from fitplan.model.vehicle import Port, Vehicle
from fitplan.planning.narrows import Narrow, grow, parted_where_narrow
from fitplan.routing.map.vehicle_map import NEAR_ENDS, VehicleMap

_TOUCH = 0.05
"""A port that is drawn flat reaches so far (mm) into the rooms on both sides."""


@dataclass(frozen=True, eq=False)
class BodyRooms:
    """The rooms of one body.

    Attributes
    ----------
    labels
        (x, y, z) uint32, a number from 1 for each room, 0 where no wire can be.
    faces
        Coordinates of the cell faces along each axis, in mm, ascending.
    narrows
        Where rooms are joined, but not for all wires; none where things are proved.
    lying
        (x, y, z) uint32, rooms without what is close to them: where wires themselves are; None: the same.
    """

    labels: NDArray[np.uint32]
    faces: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]
    narrows: tuple[Narrow, ...] = ()
    lying: NDArray[np.uint32] | None = None

    @classmethod
    def in_voxels(cls, vehicle: Vehicle, removed: frozenset[str]) -> BodyRooms:
        """Return the rooms among voxels, without some bricks."""
        space = VehicleSpace.of(vehicle, removed=removed)
        labels, _ = label_spaces(space.wire_free("inward"))
        return cls(labels, (space.frame.edges(0), space.frame.edges(1), space.frame.edges(2)))

    @classmethod
    def as_wires_lie(cls, map_: VehicleMap, one_mm: float, all_mm: float) -> BodyRooms:
        """Return the rooms of a map in which a wire of one diameter (mm) gets about, with what is close.

        They are parted where a bundle of the other diameter, that of all wires, does not get through.
        """
        labels, narrows = parted_where_narrow(
            map_.room(one_mm, ()),
            map_.free,
            lambda voxels: np.maximum(2 * map_.clear_radius(voxels), map_.room_near(voxels)),
            one_mm,
            all_mm,
            map_.frame.pitch,
        )
        lying, frame = labels.copy(), map_.frame
        grow(labels, map_.free, NEAR_ENDS)
        return cls(labels, (frame.edges(0), frame.edges(1), frame.edges(2)), narrows, lying)

    @classmethod
    def in_cells(cls, vehicle: Vehicle, removed: frozenset[str]) -> BodyRooms:
        """Return the rooms among exact cells, without some bricks."""
        space = ExactSpace.of(vehicle, removed=removed)
        faces, cells = [], []
        for k, line in enumerate(space.faces):
            ports = [edge for port in vehicle.ports for edge in (port.box.low[k], port.box.high[k])]
            inside = [edge for edge in ports if line[0] < edge < line[-1]]
            faces.append(np.unique(np.round([*line, *inside], 6)))
            middles = (faces[-1][:-1] + faces[-1][1:]) / 2
            cells.append(np.searchsorted(line, middles, side="right") - 1)
        clear = space.free("inward")[np.ix_(*cells)]
        for port in vehicle.ports:
            clear[_touched(faces, port.box, -1e-4)] = True
        labels, _ = label_spaces(clear)
        return cls(labels, (faces[0], faces[1], faces[2]))

    def at(self, points: NDArray[np.float64]) -> NDArray[np.uint32]:
        """Return (...) uint32, the rooms that points (..., 3) in mm are in; 0: in none."""
        cells = [
            np.searchsorted(line, points[..., axis], side="right") - 1 for axis, line in enumerate(self.faces)
        ]
        inside = np.ones(points.shape[:-1], dtype=bool)
        for cell, count in zip(cells, self.labels.shape, strict=True):
            inside &= (cell >= 0) & (cell < count)
        x, y, z = (np.where(inside, cell, 0) for cell in cells)
        return np.where(inside, self.labels[x, y, z], np.uint32(0))

    def behind(self, port: Port) -> frozenset[int]:
        """Return the rooms that a port leads to: those in it, and those at its two ends.

        Past a slit that no wire passes it leads nowhere, close as the room beyond may be.
        """
        axis = axis_of(port.out)
        by = [_TOUCH if k == axis else -_TOUCH for k in range(3)]
        low = [value - more for value, more in zip(port.box.low, by, strict=True)]
        high = [value + more for value, more in zip(port.box.high, by, strict=True)]
        box = Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
        return self._touching(self.labels if self.lying is None else self.lying, box, 0.0)

    def within(self, box: Box, more: float) -> frozenset[int]:
        """Return the rooms that a box touches, grown by so much (mm) on every side."""
        return self._touching(self.labels, box, more)

    def _touching(self, labels: NDArray[np.uint32], box: Box, more: float) -> frozenset[int]:
        found = np.unique(labels[_touched(self.faces, box, more)])
        return frozenset(int(room) for room in found if room)

    def span(self, room: int, axis: int) -> tuple[float, float]:
        """Return from where to where along an axis a room reaches, in mm."""
        others = tuple(other for other in range(3) if other != axis)
        inside = np.flatnonzero((self.labels == room).any(axis=others))
        return float(self.faces[axis][inside[0]]), float(self.faces[axis][inside[-1] + 1])


_FROM = ("its rear", "its right side", "the rail")


def words_for(
    bodies: Mapping[str, BodyRooms], nodes: Iterable[tuple[str, int | str]]
) -> dict[tuple[str, int | str], str]:
    """Return what rooms are called: by where they are along the vehicle, or on the axis that parts them."""
    found: dict[tuple[str, int | str], str] = {}
    by_vehicle: dict[str, list[int]] = {}
    for vehicle, room in nodes:
        by_vehicle.setdefault(vehicle, []).append(int(room))
    for vehicle, numbers in by_vehicle.items():
        spans = [[bodies[vehicle].span(room, axis) for room in numbers] for axis in range(3)]
        axis = next((axis for axis in range(3) if _apart(spans[axis])), 0)
        for room, (low, high) in zip(numbers, spans[axis], strict=True):
            found[vehicle, room] = f"{vehicle} between {low:.0f} and {high:.0f} mm from {_FROM[axis]}"
    return found


def _apart(spans: Iterable[tuple[float, float]]) -> bool:
    """Return whether no two of some spans overlap."""
    return all(one[1] <= other[0] for one, other in itertools.pairwise(sorted(spans)))


def _touched(faces: Sequence[NDArray[np.float64]], box: Box, more: float) -> tuple[slice, slice, slice]:
    parts = []
    for line, low, high in zip(faces, box.low, box.high, strict=True):
        first = max(int(np.searchsorted(line, low - more, side="right")) - 1, 0)
        parts.append(slice(first, max(int(np.searchsorted(line, high + more, side="left")), first)))
    return (parts[0], parts[1], parts[2])
