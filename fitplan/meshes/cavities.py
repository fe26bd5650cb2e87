"""The clear spaces in a vehicle: how large, what box and ball they hold, where they narrow, what fits."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import ExactSpace, part_boxes
from fitplan.lattice.clear import SizeTest, label_spaces, largest_box, necks
from fitplan.lattice.clear_radius import clear_radius
from fitplan.lattice.cover import TENTHS, corner_of
from fitplan.lattice.frame import Frame
from fitplan.lattice.space import VehicleSpace
from fitplan.model.part import Part
from fitplan.model.solids import Box, Vec
from fitplan.model.vehicle import Vehicle
from fitplan.units import PITCH

_BOXES = 3
_LEAST_MM3 = 100.0
_PROMINENCE = 1.2
"""Both sides of a neck are wider by this (mm in radius), or it is none."""


@dataclass(frozen=True)
class Ball:
    """A ball that is in the clear: its middle and radius in mm."""

    middle: Vec
    radius: float


@dataclass(frozen=True)
class CavityNeck:
    """A neck between two wider places: where it is, how wide (the ball that passes, mm), and those places."""

    at: Vec
    width: float
    lesser: Ball
    greater: Ball


@dataclass(frozen=True)
class Cavity:
    """One connected clear space.

    Attributes
    ----------
    volume_mm3
        Exact for boxes on tenths of a millimetre; at least, where round solids bound it.
    boxes
        The largest empty box, then the largest in what it leaves, and so on; exact.
    ball
        The widest ball about the middle of a voxel.
    parts
        Ids of the parts whose bounding box fits somewhere in it, in a pose that they allow.
    """

    number: int
    bounds: Box
    volume_mm3: float
    boxes: tuple[Box, ...]
    ball: Ball
    necks: tuple[CavityNeck, ...]
    parts: tuple[str, ...]


def cavities_of(
    vehicle: Vehicle,
    catalogue: Iterable[Part] = (),
    *,
    removed: Collection[str] = (),
    least_mm3: float = _LEAST_MM3,
    pitch: float = PITCH,
) -> tuple[Cavity, ...]:
    """Return the connected clear spaces of a vehicle, the largest first.

    Parameters
    ----------
    catalogue
        Parts to try. A part that is not named does not fit as a box; it might still, as the shape it is.
    removed
        Removable bricks that are taken out first.
    least_mm3
        Smaller spaces are left out.

    Raises
    ------
    KeyError
        When a removed name is not one of the vehicle's.
    """
    exact = ExactSpace.of(vehicle, removed=removed)
    free = exact.free()
    names, count = label_spaces(free)
    widths = [np.diff(line) for line in exact.faces]
    cell = widths[0][:, None, None] * widths[1][None, :, None] * widths[2]
    volumes = np.bincount(names.reshape(-1), weights=cell.reshape(-1), minlength=count + 1)
    order = [int(n) for n in np.argsort(-volumes[1:], kind="stable") + 1 if volumes[n] >= least_mm3]
    space = VehicleSpace.of(vehicle, removed=removed, pitch=pitch)
    owner = _owners(names, exact, space.frame)
    radius = clear_radius(space.free(), pitch)
    sizes = {part.id: _sizes(part) for part in catalogue}
    found = []
    for place, number in enumerate(order, 1):
        own = names == number
        test = SizeTest(own, exact.faces)
        fitting = tuple(
            key for key, tried in sizes.items() if any(test.position(size) is not None for size in tried)
        )
        here = np.where(owner == number, radius, 0.0)
        found.append(
            Cavity(
                place,
                _bounds(own, exact),
                float(volumes[number]),
                _largest(own, exact),
                _ball(here, space.frame),
                _narrow_places(here, space.frame),
                fitting,
            )
        )
    return tuple(found)


def _owners(names: NDArray[np.uint32], exact: ExactSpace, frame: Frame) -> NDArray[np.uint32]:
    """Return (x, y, z) uint32, the exact space that holds the middle of each voxel; 0 for none."""
    index = []
    inside = []
    for axis, line in enumerate(exact.faces):
        middle = frame.edges(axis)[:-1] + frame.pitch / 2
        cell = np.searchsorted(line, middle, side="right") - 1
        within = (cell >= 0) & (cell < len(line) - 1)
        inside.append(within)
        index.append(np.where(within, cell, 0))
    owners = names[np.ix_(*index)]
    owners[~(inside[0][:, None, None] & inside[1][None, :, None] & inside[2])] = 0
    return owners


def _bounds(own: NDArray[np.bool_], exact: ExactSpace) -> Box:
    low, high = [], []
    for axis, line in enumerate(exact.faces):
        others = tuple(other for other in range(3) if other != axis)
        places = np.flatnonzero(own.any(axis=others))
        low.append(float(line[places[0]]))
        high.append(float(line[places[-1] + 1]))
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def _largest(own: NDArray[np.bool_], exact: ExactSpace) -> tuple[Box, ...]:
    left = own.copy()
    found = []
    for _ in range(_BOXES):
        cells = largest_box(left, exact.faces)
        if min(cells.size) <= 0:
            break
        left[cells.x0 : cells.x1, cells.y0 : cells.y1, cells.z0 : cells.z1] = False
        found.append(corner_of(cells, exact.edges).mm)
    return tuple(found)


def _ball(radius: NDArray[np.float64], frame: Frame, index: tuple[int, int, int] | None = None) -> Ball:
    if index is None:
        x, y, z = np.unravel_index(int(radius.argmax()), radius.shape)
        index = (int(x), int(y), int(z))
    x_mm, y_mm, z_mm = (round(c, 4) for c in frame.center(index))
    return Ball((x_mm, y_mm, z_mm), float(radius[index]))


def _narrow_places(radius: NDArray[np.float64], frame: Frame) -> tuple[CavityNeck, ...]:
    found = [
        CavityNeck(
            _ball(radius, frame, neck.place).middle,
            2 * float(radius[neck.place]),
            _ball(radius, frame, neck.lesser),
            _ball(radius, frame, neck.greater),
        )
        for neck in necks(radius, _PROMINENCE)
    ]
    return tuple(sorted(found, key=lambda place: -place.lesser.radius))


def _sizes(part: Part) -> tuple[tuple[float, float, float], ...]:
    """Return the edges (mm) of the part's bounding box in all poses that it allows, without repeats."""
    boxes = part_boxes(part.envelope)
    edges = [(max(b[axis + 3] for b in boxes) - min(b[axis] for b in boxes)) / TENTHS for axis in range(3)]
    found: dict[tuple[float, float, float], None] = {}
    for pose in part.mount.allowed_poses():
        order = [[abs(c) for c in row].index(1) for row in pose.matrix]
        found[edges[order[0]], edges[order[1]], edges[order[2]]] = None
    return tuple(found)
