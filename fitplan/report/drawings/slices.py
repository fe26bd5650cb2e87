"""A vehicle's body cut into cells along the edges of its solids, and into layers that are drawn alike.

The cells are exact for boxes: every face of a box is a cut. Cylinders and wedges are cut finer and sampled
at the middle of each cell, which is for drawing only; nothing is decided on these cells.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import AXES, Box, Cylinder, Solid, Wedge, axis_of, is_forward
from fitplan.model.vehicle import STATES, Vehicle
from fitplan.units import PLATE, STUD

FINE = 0.8
"""Width of the cells that curved and slanting solids are sampled with, in mm."""
BUILT_IN = -2
"""Mark of cells that something built in fills, in place of the index of a removable brick."""
_SAME = 1e-6
_OUTSIDE = STATES.index("outside")
SOLID_STATES: tuple[int, int] = (STATES.index("fixed"), STATES.index("removable"))


@dataclass(frozen=True)
class CellGrid:
    """A body as cells between cuts.

    Attributes
    ----------
    cuts
        For each axis the sorted positions of the cuts (mm), one more than there are cells.
    state
        ``(x, y, z) int8``: index into `STATES`.
    removable
        ``(x, y, z) int16``: index into the vehicle's removables, −1 where there is none, `BUILT_IN`.
    """

    cuts: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]
    state: NDArray[np.int8]
    removable: NDArray[np.int16]

    def middles(self, axis: int) -> NDArray[np.float64]:
        """Return the middles of the cells along an axis (mm)."""
        cuts = self.cuts[axis]
        return (cuts[1:] + cuts[:-1]) / 2

    def of_studs(self, axis: int, count: int) -> NDArray[np.intp]:
        """Return the numbers of the cells in which the middles of so many studs in a row lie."""
        return np.searchsorted(self.cuts[axis], (np.arange(count) + 0.5) * STUD, side="right") - 1

    @property
    def solid(self) -> NDArray[np.bool_]:
        """``(x, y, z) bool``, True where there is brick."""
        return np.isin(self.state, SOLID_STATES)


@dataclass(frozen=True)
class Section:
    """A layer that is the same all the way up: ``state`` and ``removable`` are ``(x, y)``."""

    name: str
    low: float
    high: float
    state: NDArray[np.int8]
    removable: NDArray[np.int16]


@lru_cache(maxsize=16)
def cells_of(vehicle: Vehicle) -> CellGrid:
    """Return the cells of a vehicle's body; what no solid covers is outside."""
    cuts = tuple(_cuts(vehicle, axis) for axis in range(3))
    shape = tuple(len(cut) - 1 for cut in cuts)
    state = np.full(shape, _OUTSIDE, np.int8)
    removable = np.full(shape, -1, np.int16)
    names = [entry.name for entry in vehicle.removables]
    for body in vehicle.body:
        window = _window(cuts, body.solid)
        if window is None:
            continue
        inside = _inside(body.solid, cuts, window)
        state[window][inside] = STATES.index(body.state)
        number = names.index(body.removable) if body.removable in names else -1
        removable[window][inside] = number
    for built_in in vehicle.built_in:
        for solid in built_in.solids:
            window = _window(cuts, solid)
            if window is not None:
                inside = _inside(solid, cuts, window)
                state[window][inside] = STATES.index("fixed")
                removable[window][inside] = BUILT_IN
    arrays: list[NDArray[np.generic]] = [*cuts, state, removable]
    for array in arrays:
        array.setflags(write=False)
    return CellGrid((cuts[0], cuts[1], cuts[2]), state, removable)


def sections_of(vehicle: Vehicle, cells: CellGrid | None = None) -> tuple[Section, ...]:
    """Return the layers of a vehicle from the bottom up; plates that look alike are one layer.

    A plate is read at its middle height. A layer bears the name that the vehicle's drawings give it.
    """
    cells = cells or cells_of(vehicle)
    found: list[Section] = []
    low = vehicle.base
    while low < vehicle.top - _SAME:
        high = min(low + PLATE, vehicle.top)
        k = int(np.clip(np.searchsorted(cells.cuts[2], (low + high) / 2) - 1, 0, cells.state.shape[2] - 1))
        state, removable = cells.state[:, :, k], cells.removable[:, :, k]
        name = next(
            (
                layer.name
                for layer in vehicle.layers
                if layer.base - _SAME <= low and high <= layer.base + layer.plates * PLATE + _SAME
            ),
            "",
        )
        last = found[-1] if found else None
        if (
            last
            and last.name == name
            and np.array_equal(last.state, state)
            and np.array_equal(last.removable, removable)
        ):
            found[-1] = Section(name, last.low, round(high, 4), state, removable)
        else:
            found.append(Section(name, round(low, 4), round(high, 4), state, removable))
        low = round(low + PLATE, 6)
    return tuple(found)


def _cuts(vehicle: Vehicle, axis: int) -> NDArray[np.float64]:
    hull = vehicle.hull
    positions: set[float] = {hull.low[axis], hull.high[axis]}
    solids = [body.solid for body in vehicle.body]
    solids += [solid for built_in in vehicle.built_in for solid in built_in.solids]
    for solid in solids:
        low, high = solid.bounds.low[axis], solid.bounds.high[axis]
        positions |= {low, high}
        if _is_curved(solid, axis):
            positions |= set(np.arange(low, high, FINE).tolist())
    found = sorted(round(position, 4) for position in positions)
    kept = [found[0]]
    for position in found[1:]:
        if position - kept[-1] > 1e-3:
            kept.append(position)
    return np.array(kept)


def _is_curved(solid: Solid, axis: int) -> bool:
    match solid:
        case Cylinder():
            return AXES[axis] != solid.axis
        case Wedge():
            return axis in (axis_of(solid.base), axis_of(solid.back))
        case _:
            return False


def _window(cuts: tuple[NDArray[np.float64], ...], solid: Solid) -> tuple[slice, slice, slice] | None:
    box = solid.bounds
    slices = []
    for axis in range(3):
        first = int(np.searchsorted(cuts[axis], box.low[axis] - 1e-3))
        last = int(np.searchsorted(cuts[axis], box.high[axis] + 1e-3)) - 1
        if last <= first:
            return None
        slices.append(slice(first, last))
    return slices[0], slices[1], slices[2]


def _inside(
    solid: Solid, cuts: tuple[NDArray[np.float64], ...], window: tuple[slice, slice, slice]
) -> NDArray[np.bool_]:
    """``(x, y, z) bool`` over the window: True where the middle of the cell is inside the solid."""
    middles = []
    for axis in range(3):
        shape = [1, 1, 1]
        part = cuts[axis][window[axis].start : window[axis].stop + 1]
        shape[axis] = len(part) - 1
        middles.append(((part[1:] + part[:-1]) / 2).reshape(shape))
    size = tuple(slot.stop - slot.start for slot in window)
    match solid:
        case Box():
            return np.ones(size, np.bool_)
        case Cylinder():
            square: NDArray[np.float64] = np.zeros(size)
            for axis in range(3):
                if AXES[axis] != solid.axis:
                    square = square + (middles[axis] - solid.start[axis]) ** 2
            return square <= solid.radius**2
        case Wedge():
            total: NDArray[np.float64] = np.zeros(size)
            for direction in (solid.base, solid.back):
                axis = axis_of(direction)
                low, high = solid.box.low[axis], solid.box.high[axis]
                share = (middles[axis] - low) / (high - low)
                total = total + (share if not is_forward(direction) else 1 - share)
            return total <= 1.0
