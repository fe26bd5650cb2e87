"""The ways into a vehicle: what lifts or swings open, and the sides where no brick is.

Openings are declared in the vehicle file. Where free room borders on the outside, a part may go in without
anything being opened: such a side is an opening with a name of its own (`OPEN_SIDES`) and no lid.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import ExactSpace
from fitplan.lattice.clear import label_spaces
from fitplan.lattice.states import OUTSIDE_BIT
from fitplan.model.solids import DIRECTIONS, Box, Direction, axis_of, is_forward
from fitplan.model.vehicle import OPEN_SIDES, Opening, Vehicle


@dataclass(frozen=True)
class Gap:
    """A face of the free room that borders on the outside: a flat box (mm) round it, and its area in mm²."""

    out: Direction
    box: Box
    area: float

    @property
    def size(self) -> tuple[float, float]:
        """Its two edges in mm, in the order of the axes."""
        one, other = (edge for i, edge in enumerate(self.box.size) if i != axis_of(self.out))
        return (one, other)


def ways_into(vehicle: Vehicle, removed: frozenset[str] = frozenset()) -> tuple[Opening, ...]:
    """Return all openings of a vehicle, those that are declared first, then its open sides."""
    declared = {opening.name for opening in vehicle.openings}
    return (
        *vehicle.openings,
        *(
            Opening(OPEN_SIDES[out], vehicle.hull, out)
            for out in open_directions(vehicle, removed)
            if OPEN_SIDES[out] not in declared
        ),
    )


def is_open_side(vehicle: Vehicle, name: str) -> bool:
    """Return whether an opening is a side where no brick is, so that nothing has to be opened."""
    return name in OPEN_SIDES.values() and all(opening.name != name for opening in vehicle.openings)


def open_directions(vehicle: Vehicle, removed: frozenset[str] = frozenset()) -> tuple[Direction, ...]:
    """Return the directions in which free room borders on the outside."""
    return tuple(dict.fromkeys(gap.out for gap in gaps(vehicle, removed)))


@lru_cache(maxsize=64)
def gaps(vehicle: Vehicle, removed: frozenset[str] = frozenset()) -> tuple[Gap, ...]:
    """Return the faces of the free room that border on the outside, upwards first, the largest first."""
    space = ExactSpace.of(vehicle, removed=removed)
    free, outside = space.free(), space.bits == np.uint64(OUTSIDE_BIT)
    found: list[Gap] = []
    for out in sorted(DIRECTIONS, key=list(OPEN_SIDES).index):
        axis = axis_of(out)
        facing = free & _beyond(outside, out)
        for level in np.unique(np.nonzero(facing)[axis]).tolist():
            found += _patches(space, facing, out, int(level))
    order = list(OPEN_SIDES)
    return tuple(sorted(found, key=lambda gap: (order.index(gap.out), -gap.area, gap.box.low)))


def _beyond(outside: NDArray[np.bool_], out: Direction) -> NDArray[np.bool_]:
    """Return which cells have the outside, or the end of the hull, next to them in a direction."""
    axis = axis_of(out)
    found = np.ones_like(outside)
    here, there = [slice(None)] * 3, [slice(None)] * 3
    here[axis], there[axis] = (
        (slice(None, -1), slice(1, None)) if is_forward(out) else (slice(1, None), slice(None, -1))
    )
    found[tuple(here)] = outside[tuple(there)]
    return found


def _patches(space: ExactSpace, facing: NDArray[np.bool_], out: Direction, level: int) -> list[Gap]:
    """Return the faces in one plane that hang together, as boxes round them."""
    axis = axis_of(out)
    here = np.zeros_like(facing)
    window = [slice(None)] * 3
    window[axis] = slice(level, level + 1)
    here[tuple(window)] = facing[tuple(window)]
    labels, count = label_spaces(here)
    edges = [np.diff(line) for line in space.faces]
    found: list[Gap] = []
    for number in range(1, count + 1):
        cells = np.argwhere(labels == number)
        low = [float(space.faces[i][cells[:, i].min()]) for i in range(3)]
        high = [float(space.faces[i][cells[:, i].max() + 1]) for i in range(3)]
        plane = high[axis] if is_forward(out) else low[axis]
        low[axis] = high[axis] = plane
        one, other = (i for i in range(3) if i != axis)
        area = float((edges[one][cells[:, one]] * edges[other][cells[:, other]]).sum())
        found.append(Gap(out, Box((low[0], low[1], low[2]), (high[0], high[1], high[2])), round(area, 2)))
    return found
