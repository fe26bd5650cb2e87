"""The space of a vehicle as boxes in whole tenths of a millimetre, for exact searches and proofs.

All faces of all solids cut the hull into cells; each cell keeps the set of states that occur in it, as a
voxel of `space` does. Boxes on whole tenths are exact. Cylinders and wedges are taken between an outer and an
inner stair, so both answers stay on their safe side.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear import within_reach
from fitplan.lattice.cover import (
    STEP,
    TENTHS,
    IntBox,
    box_in_tenths,
    corner_of,
    covered,
    solid_in_tenths,
)
from fitplan.lattice.frame import Rounding
from fitplan.lattice.states import (
    FIXED_BIT,
    FREE_BIT,
    KEEP_CLEAR_BIT,
    NAMES_FROM,
    OUTSIDE_BIT,
    name_bit,
    names_of,
    state_bit,
)
from fitplan.model.solids import Box, Solid
from fitplan.model.studs import floor_studs
from fitplan.model.vehicle import Vehicle
from fitplan.units import PLAY, STUD_DIAMETER

Edges = tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]


@dataclass(frozen=True)
class _Stroke:
    """One solid on its way into the cells: what surely and what possibly belongs to it."""

    outer: tuple[IntBox, ...]
    inner: tuple[IntBox, ...]
    bit: int
    level: bool
    """A box: its upright faces are those of bricks."""


@dataclass(frozen=True, eq=False)
class ExactSpace:
    """A vehicle's hull cut into cells by the faces of its solids.

    Attributes
    ----------
    edges
        Coordinates of the cell faces along x, y, z in tenths of a millimetre, ascending.
    bits
        (x, y, z), the set of states that occur in a cell: free 1, outside 2, keep-clear 4, fixed 8, and 32,
        64 … for each of `names`; of the narrowest unsigned type that holds them.
    """

    vehicle: Vehicle
    edges: Edges
    bits: NDArray[np.unsignedinteger] = field(repr=False)
    names: tuple[str, ...]

    @classmethod
    def of(
        cls,
        vehicle: Vehicle,
        *,
        removed: Collection[str] = (),
        play: bool = False,
        studs: bool = True,
        step: float = STEP,
    ) -> ExactSpace:
        """Cut up a vehicle's hull.

        Parameters
        ----------
        removed
            Removable bricks that are taken out: they are free, and the studs under them show.
        play
            Upright faces of bricks against free or outside space stand back by 0.1 mm (a brick of n studs
            measures 8n − 0.2 mm). Studs, round and sloping solids and what is built in do not.
        studs
            Draw the studs of the floor, each as one square post (round it, or within it).
        step
            Width of the strips of cylinders and wedges, in mm.

        Raises
        ------
        KeyError
            When a removed name is not one of the vehicle's.
        FitplanError
            When the vehicle has more than 58 removable names.
        """
        return _cut_up(vehicle, frozenset(removed), play, studs, step)

    def free(self, rounding: Rounding = "outward") -> NDArray[np.bool_]:
        """Return (x, y, z) bool, True for cells where parts may go: surely (outward) or possibly (inward)."""
        one = self.bits.dtype.type(FREE_BIT)
        result: NDArray[np.bool_]
        result = self.bits == one if rounding == "outward" else (self.bits & one) != 0
        return result

    def solid(self, rounding: Rounding = "outward") -> NDArray[np.bool_]:
        """Return (x, y, z) bool, True for cells where something solid is: possibly (outward), or surely."""
        clear = self.bits.dtype.type(FREE_BIT | OUTSIDE_BIT | KEEP_CLEAR_BIT)
        result: NDArray[np.bool_]
        result = (self.bits & ~clear) != 0 if rounding == "outward" else (self.bits & clear) == 0
        return result

    def walls(self, rounding: Rounding = "outward") -> NDArray[np.bool_]:
        """Return (x, y, z) bool, True for cells that no clearance may enter: possibly (outward), or surely.

        Clearances may reach into the clear space outside the body, in the hull as beyond it.
        """
        clear = self.bits.dtype.type(FREE_BIT | OUTSIDE_BIT)
        result: NDArray[np.bool_]
        result = (self.bits & ~clear) != 0 if rounding == "outward" else (self.bits & clear) == 0
        return result

    def removable(self, name: str, rounding: Rounding = "outward") -> NDArray[np.bool_]:
        """Return (x, y, z) bool, True for cells that a removable brick enters, or fills (inward)."""
        bit = self.bits.dtype.type(name_bit(self.names, name))
        result: NDArray[np.bool_] = (self.bits & bit) != 0 if rounding == "outward" else self.bits == bit
        return result

    @cached_property
    def faces(self) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """The cell faces along each axis in mm, float64."""
        x, y, z = (line / TENTHS for line in self.edges)
        return (x, y, z)

    def boxes(self, cells: NDArray[np.bool_], may: NDArray[np.bool_] | None = None) -> list[IntBox]:
        """Return few boxes in tenths whose union is the given cells (and at most those that `may` be)."""
        if may is not None:
            return [corner_of(box, self.edges) for box in covered(cells, may, self.faces)]
        cells, edges = without_repeats(cells, self.edges)
        # In whole tenths volumes are exact: which of two boxes is the larger hangs on no rounding.
        x, y, z = (line.astype(np.float64) for line in edges)
        return [corner_of(box, edges) for box in covered(cells, None, (x, y, z))]


def without_repeats(cells: NDArray[np.bool_], edges: Edges) -> tuple[NDArray[np.bool_], Edges]:
    """Return cells with layers that are like the one before joined to it: most faces cut little of a body."""
    lines = list(edges)
    for axis in range(3):
        layers = np.moveaxis(cells, axis, 0)
        other = np.concatenate([[True], (layers[1:] != layers[:-1]).any(axis=(1, 2))])
        cells = np.compress(other, cells, axis=axis)
        lines[axis] = lines[axis][np.concatenate([other, [True]])]
    return cells, (lines[0], lines[1], lines[2])


@lru_cache(maxsize=8)  # several in a row want the same one; of meshes they may be large
def _cut_up(vehicle: Vehicle, removed: frozenset[str], play: bool, studs: bool, step: float) -> ExactSpace:
    names = names_of(vehicle, removed)
    body = [_stroke(entry.solid, state_bit(entry, names, removed), step) for entry in vehicle.body]
    later = [
        _stroke(stud.solid, state_bit(stud, names, removed), STUD_DIAMETER)
        for stud in (floor_studs(vehicle, removed) if studs else ())
    ]
    later += [_stroke(solid, FIXED_BIT, step) for built in vehicle.built_in for solid in built.solids]
    hull = hull_in_tenths(vehicle)
    slack = round(vehicle.rounded * TENTHS)
    edges = _edges([*body, *later], hull, round(PLAY * TENTHS) if play else 0, slack)
    # Half a million cells are looked through a dozen times: narrow ones take a fraction of the time.
    kind = np.min_scalar_type((1 << NAMES_FROM + len(names)) - 1)
    bits = np.full(tuple(len(line) - 1 for line in edges), OUTSIDE_BIT, dtype=kind)
    level = np.ones(bits.shape, dtype=np.bool_)
    _paint(bits, edges, body, level)
    if play:
        _stand_back(bits, level)
    _paint(bits, edges, later)
    if slack:
        _give_way(bits, edges, slack)
    bits.flags.writeable = False
    return ExactSpace(vehicle, edges, bits, names)


def obstacle_boxes(
    vehicle: Vehicle,
    *,
    removed: Collection[str] = (),
    rounding: Rounding = "outward",
    play: bool = False,
    studs: bool = True,
    step: float = STEP,
) -> list[IntBox]:
    """Return boxes whose union is everything within the hull that parts may not enter.

    That is fixed and removable bricks (but those removed), keep-clear and outside space, studs, and what is
    built in. The hull without these boxes is free: surely with ``outward``, at most with ``inward``. The
    boxes may overlap. Options as in `ExactSpace.of`.
    """
    space = ExactSpace.of(vehicle, removed=removed, play=play, studs=studs, step=step)
    return space.boxes(~space.free(rounding))


def removable_boxes(
    vehicle: Vehicle, *, rounding: Rounding = "outward", play: bool = False
) -> dict[str, list[IntBox]]:
    """Return for each removable name the boxes that it fills (with its studs)."""
    space = ExactSpace.of(vehicle, play=play)
    return {name: space.boxes(space.removable(name, rounding)) for name in space.names}


def part_boxes(solids: Iterable[Solid], rounding: Rounding = "outward", step: float = STEP) -> list[IntBox]:
    """Return boxes in tenths that hold all solids (outward) or lie within their union (inward)."""
    return [box for solid in solids for box in solid_in_tenths(solid, rounding == "outward", step)]


def hull_in_tenths(vehicle: Vehicle, rounding: Rounding = "inward") -> IntBox:
    """Return the vehicle's hull in whole tenths; ``inward``: corners rounded so that it holds no more."""
    hull = box_in_tenths(vehicle.hull, rounding == "outward")
    assert hull is not None
    return hull


def _stroke(solid: Solid, bit: int, step: float) -> _Stroke:
    return _Stroke(
        solid_in_tenths(solid, True, step), solid_in_tenths(solid, False, step), bit, isinstance(solid, Box)
    )


def _edges(strokes: list[_Stroke], hull: IntBox, play: int, slack: int) -> Edges:
    lines = []
    for axis in range(3):
        cuts = {hull[axis], hull[axis + 3]}
        for stroke in strokes:
            for box in (*stroke.outer, *stroke.inner):
                cuts |= {box[axis], box[axis + 3]}
        if play and axis < 2:
            cuts |= {cut + side for cut in cuts for side in (-play, play)}
        if slack:
            cuts |= {cut + side for cut in cuts for side in (-slack, slack)}
        lines.append(np.array([c for c in sorted(cuts) if hull[axis] <= c <= hull[axis + 3]], dtype=np.int64))
    return (lines[0], lines[1], lines[2])


def _windows(boxes: list[IntBox], edges: Edges) -> list[tuple[slice, slice, slice]]:
    corners = np.array(boxes, dtype=np.int64).reshape(-1, 6)
    starts, stops = (
        [np.searchsorted(line, corners[:, axis + side]).tolist() for axis, line in enumerate(edges)]
        for side in (0, 3)
    )
    x, y, z = (map(slice, *ends) for ends in zip(starts, stops, strict=True))
    return list(zip(x, y, z, strict=True))


def _paint(
    bits: NDArray[np.unsignedinteger],
    edges: Edges,
    strokes: list[_Stroke],
    level: NDArray[np.bool_] | None = None,
) -> None:
    """Draw solids one over the other; ``level``: note where a box was drawn last."""
    # All windows at once: to look for each by itself takes longer than to draw in it.
    outer = iter(_windows([box for stroke in strokes for box in stroke.outer], edges))
    inner = iter(_windows([box for stroke in strokes for box in stroke.inner], edges))
    for stroke in strokes:
        bit = bits.dtype.type(stroke.bit)
        for window in islice(outer, len(stroke.outer)):
            bits[window] |= bit
            if level is not None:
                level[window] = stroke.level
        for window in islice(inner, len(stroke.inner)):
            bits[window] = bit


def _give_way(bits: NDArray[np.unsignedinteger], edges: Edges, slack: int) -> None:
    """Let what is not free be possibly free as far as it may have been rounded outwards."""
    solid = (bits & bits.dtype.type(FREE_BIT | OUTSIDE_BIT)) == 0
    for bit in (bits.dtype.type(FREE_BIT), bits.dtype.type(OUTSIDE_BIT)):
        possibly = (bits & bit) != 0
        bits[solid & within_reach(possibly, edges, slack)] |= bit


def _stand_back(bits: NDArray[np.unsignedinteger], level: NDArray[np.bool_]) -> None:
    """Free the cells of bricks that lie within the play of clear cells, sideways (they are that wide)."""
    one, outside, keep_clear = map(bits.dtype.type, (FREE_BIT, OUTSIDE_BIT, KEEP_CLEAR_BIT))
    brick = level & ((bits & (one | outside | keep_clear)) == 0)
    surely = brick & _beside(level & (bits == one))
    possibly = brick & _beside(level & ((bits & one) != 0))
    in_the_open = brick & _beside((bits & outside) != 0)
    bits[surely] = one
    bits[possibly] |= one
    bits[in_the_open] |= outside


def _beside(cells: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return these cells and those beside them on the level, across corners too."""
    near = cells.copy()
    near[1:] |= cells[:-1]
    near[:-1] |= cells[1:]
    wide = near.copy()
    wide[:, 1:] |= near[:, :-1]
    wide[:, :-1] |= near[:, 1:]
    return wide
