"""A drawn body as cells of one stud and one plate: which are bricks that could be left out.

Bricks are what fills whole cells of the grid once all is drawn, or all but a hole in them; odd solids, and
what is built in, stay.
All lengths in tenths of a millimetre.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import ExactSpace
from fitplan.lattice.cover import TENTHS
from fitplan.lattice.states import FIXED_BIT, FREE_BIT, KEEP_CLEAR_BIT, OUTSIDE_BIT, name_bit
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid, Vehicle
from fitplan.units import PLATE, STUD

Cell: TypeAlias = tuple[int, int, int]
"""Which stud from the rear, which from the right, which plate from the underside."""
CELL = round(STUD * TENTHS)
LEVEL = round(PLATE * TENTHS)
CLEAR, BRICK, REMOVABLE, OUTSIDE, HARD = range(5)
"""Kinds of cells. Nothing of the lowest plate, the frame of a vehicle, is ever a brick that may go."""


@dataclass(frozen=True, eq=False)
class StudCells:
    """The cells of a body.

    Attributes
    ----------
    kinds
        (x, y, z) uint8, `CLEAR`, `BRICK`, `REMOVABLE`, `OUTSIDE` or `HARD`; up to where loads may stand.
    names
        (x, y, z) of text: the removable brick that a cell belongs to, or nothing.
    base
        Underside of the lowest cells.
    """

    kinds: NDArray[np.uint8]
    names: NDArray[np.str_]
    base: int

    @classmethod
    def of(cls, vehicle: Vehicle) -> StudCells | None:
        """Return the cells of a vehicle; None where its layers do not lie on one another without a gap."""
        levels = [
            (layer, round(layer.base * TENTHS) + number * LEVEL)
            for layer in sorted(vehicle.layers, key=lambda layer: layer.base)
            for number in range(layer.plates)
        ]
        if not levels or any(height != levels[0][1] + LEVEL * k for k, (_, height) in enumerate(levels)):
            return None
        base = levels[0][1]
        # Over an open deck loads stand in cells of their own.
        over = -(-max(round(vehicle.load_top * TENTHS) - base - LEVEL * len(levels), 0) // LEVEL)
        shape = (vehicle.studs_long, vehicle.studs_wide, len(levels) + over)
        space = ExactSpace.of(vehicle, studs=False)
        kind_of = {FIXED_BIT: BRICK, FREE_BIT: CLEAR, OUTSIDE_BIT: OUTSIDE, KEEP_CLEAR_BIT: HARD}
        name_of = {name_bit(space.names, name): name for name in space.names}
        # What is drawn into the bricks stays, but for what may come out by its name.
        loose = [entry.solid.bounds for entry in drawn_in(vehicle) if entry.state == "removable"]
        stays = [entry.solid.bounds for entry in drawn_in(vehicle) if entry.state == "fixed"]
        stays += [solid.bounds for built in vehicle.built_in for solid in built.solids]
        spans = [
            [
                (
                    int(np.searchsorted(line, n * step + start, side="right")) - 1,
                    int(np.searchsorted(line, (n + 1) * step + start, side="left")),
                )
                for n in range(count)
            ]
            for line, step, start, count in zip(
                space.edges, (CELL, CELL, LEVEL), (0, 0, base), shape, strict=True
            )
        ]
        # What is not all of one kind is left to the packer: it asks for nothing here.
        kinds = np.full(shape, CLEAR, dtype=np.uint8)
        names = np.full(shape, "", dtype=object)
        for i, j, k in np.ndindex(*shape):
            window = tuple(slice(*spans[axis][at]) for axis, at in enumerate((i, j, k)))
            held = np.unique(space.bits[window])
            if set(held.tolist()) == {FIXED_BIT, FREE_BIT}:
                kinds[i, j, k] = BRICK  # with a hole, for wires or a part of a window
                continue
            if len(held) != 1:
                continue
            bit = int(held[0])
            if bit in name_of:
                kinds[i, j, k], names[i, j, k] = REMOVABLE, name_of[bit]
            else:
                kinds[i, j, k] = kind_of.get(bit, CLEAR)
        found = cls(kinds, names.astype(np.str_), base)
        for i, j, k in np.argwhere(np.isin(kinds, (BRICK, REMOVABLE))).tolist():
            cell = found.box((i, j, k), (i + 1, j + 1, k + 1))
            hard = [*stays, *loose] if kinds[i, j, k] == BRICK else stays
            if any(cell.meets(box) for box in hard):
                kinds[i, j, k] = HARD
        kinds[:, :, 0] = np.where(kinds[:, :, 0] == BRICK, HARD, kinds[:, :, 0])
        return found

    def box(self, low: Cell, high: Cell) -> Box:
        """Return the cells from ``low`` to before ``high`` as a box in mm."""
        x, y, z = (
            (low[i] * step + start, high[i] * step + start)
            for i, (step, start) in enumerate(((CELL, 0), (CELL, 0), (LEVEL, self.base)))
        )
        ends = [(one / TENTHS, two / TENTHS) for one, two in (x, y, z)]
        return Box((ends[0][0], ends[1][0], ends[2][0]), (ends[0][1], ends[1][1], ends[2][1]))

    def boxes(self, cells: frozenset[Cell]) -> tuple[Box, ...]:
        """Return cells as few boxes that do not overlap: runs across, grown upwards, then lengthwise."""
        left = set(cells)
        found: list[Box] = []
        while left:
            low = min(left)
            high = [low[0] + 1, low[1] + 1, low[2] + 1]
            for axis in (1, 2, 0):
                while _all_in(left, low, high, axis):
                    high[axis] += 1
            top: Cell = (high[0], high[1], high[2])
            left -= set(_cells(low, top))
            found.append(self.box(low, top))
        return tuple(found)


def without_bricks(vehicle: Vehicle, gone: tuple[Box, ...]) -> Vehicle:
    """Return a vehicle with the bricks in some boxes left out; what is drawn into them as solids stays."""
    drawn = [entry for entry in vehicle.body if _on_grid(entry, vehicle)]
    left_out = (BodySolid(box, "free") for box in gone)
    return replace(vehicle, body=(*drawn, *left_out, *drawn_in(vehicle)))


def drawn_in(vehicle: Vehicle) -> tuple[BodySolid, ...]:
    """Return the solids that are no bricks of a layer drawing."""
    return tuple(entry for entry in vehicle.body if not _on_grid(entry, vehicle))


def _on_grid(entry: BodySolid, vehicle: Vehicle) -> bool:
    """Return whether a solid can be one that a layer drawing made."""
    box = entry.solid
    if not isinstance(box, Box):
        return False
    heights = {round(layer.base * TENTHS) for layer in vehicle.layers}
    heights |= {round((layer.base + layer.plates * PLATE) * TENTHS) for layer in vehicle.layers}
    across = all(round(value * TENTHS) % CELL == 0 for end in (box.low, box.high) for value in end[:2])
    return across and {round(box.low[2] * TENTHS), round(box.high[2] * TENTHS)} <= heights


def _cells(low: Cell, high: Cell) -> list[Cell]:
    return [
        (i, j, k)
        for i in range(low[0], high[0])
        for j in range(low[1], high[1])
        for k in range(low[2], high[2])
    ]


def _all_in(left: set[Cell], low: Cell, high: list[int], axis: int) -> bool:
    """Return whether a block of cells can grow by one along an axis."""
    first, last = list(low), list(high)
    first[axis], last[axis] = high[axis], high[axis] + 1
    return all(cell in left for cell in _cells((first[0], first[1], first[2]), (last[0], last[1], last[2])))
