"""Studs in a block of voxels: taken off, so that the body is level, and put back by the vehicle's rule."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.draw import draw
from fitplan.lattice.frame import Frame
from fitplan.meshes.blocks import FIXED, FREE, OUTSIDE, StateBlock
from fitplan.model.solids import Cylinder
from fitplan.model.vehicle import BodySolid
from fitplan.units import PLATE, STUD, STUD_DIAMETER, STUD_HEIGHT

_FULL = 0.6
"""Share of a stud's voxels that must be solid, so that hollow and coarse studs count."""


@dataclass(frozen=True)
class StudCount:
    """Studs that were recognised.

    ``inside`` stand in cavities, ``outside`` on outer faces; ``floor_cells`` have a level floor under free
    space; ``drawn`` studs are written one by one, because the floor is not studded all over.
    """

    inside: int
    floor_cells: int
    outside: int
    drawn: int = 0


@dataclass(frozen=True)
class StudsOff:
    """A block without its studs, and the studs inside that were taken off."""

    block: StateBlock
    inside: tuple[BodySolid, ...]
    outside: int
    voxels: NDArray[np.bool_]
    """(x, y, z) bool, where voxels were taken off."""


def without_studs(block: StateBlock) -> StudsOff:
    """Take studs off: round solids in the middle of a stud cell, on a level face, with clear space on top.

    Where free space is round a stud it is given back to it; where outside is, the stud becomes outside.
    """
    pitch = block.frame.pitch
    side, height = round(STUD / pitch), round(PLATE / pitch)
    tall = int(np.ceil((STUD_HEIGHT - 1e-6) / pitch))
    small = Frame((0.0, 0.0, 0.0), (side, side, 1), pitch)
    disc = draw(Cylinder("z", (STUD / 2, STUD / 2, 0.0), pitch, STUD_DIAMETER / 2), small, "outward")[:, :, 0]
    codes = block.codes.copy()
    solid = block.codes >= FIXED
    middle = slice(side // 2, None, side)
    tops = solid[middle, middle, :]
    inside: list[BodySolid] = []
    outside = 0
    for i, j, k in np.argwhere(tops[:, :, 1:] & tops[:, :, :-1]):
        # The stud's lowest voxels stand on a level that is a whole number of plates above the base.
        low = int(k) + 1
        if low % height or low + tall >= solid.shape[2]:
            continue
        column = (slice(i * side, (i + 1) * side), slice(j * side, (j + 1) * side))
        window = (*column, slice(low, low + tall))
        if not _is_stud(solid, column, low, tall, disc):
            continue
        around = block.codes[window][~disc]
        clear = around[around < FIXED]
        if (clear == FREE).sum() * 2 > len(clear):
            own = solid[window] & disc[:, :, None]
            code = int(block.codes[window][own].min())
            above = block.codes[column[0], column[1], low + tall]
            codes[window] = np.where(own, above[:, :, None], codes[window])
            x, y = (int(i) + 0.5) * STUD, (int(j) + 0.5) * STUD
            level = round(block.frame.origin[2] + low * pitch, 4)
            origin = block.frame.origin
            stud = Cylinder("z", (origin[0] + x, origin[1] + y, level), STUD_HEIGHT, STUD_DIAMETER / 2)
            inside.append(BodySolid(stud, *block.meaning(code)))
        elif (clear == OUTSIDE).sum() * 2 > len(clear):
            outside += 1
            codes[window] = np.where(solid[window] & disc[:, :, None], OUTSIDE, codes[window])
    return StudsOff(StateBlock(block.frame, codes, block.names), tuple(inside), outside, codes != block.codes)


def _is_stud(
    solid: NDArray[np.bool_], column: tuple[slice, slice], low: int, tall: int, disc: NDArray[np.bool_]
) -> bool:
    own = solid[column[0], column[1], low : low + tall]
    below = solid[column[0], column[1], low - 1]
    above = solid[column[0], column[1], low + tall]
    round_ = own[disc]
    beside = own[~disc]
    return bool(
        below[disc].all()
        and not above[disc].any()
        and round_.sum() >= _FULL * round_.size
        and 2 * beside.sum() < beside.size
    )


def parted(found: Sequence[BodySolid], ruled: Sequence[BodySolid]) -> tuple[bool, tuple[BodySolid, ...]]:
    """Tell whether a floor is studded, and which studs must be drawn one by one.

    Parameters
    ----------
    found
        Studs of the mesh.
    ruled
        Studs that a studded floor has (`lattice.studs.floor_studs`). Where the mesh lacks one of them the
        floor is not studded.
    """
    by_rule = {_key(stud) for stud in ruled}
    own = {_key(stud) for stud in found}
    studded = bool(by_rule) and by_rule <= own
    return studded, tuple(stud for stud in found if not (studded and _key(stud) in by_rule))


def _key(stud: BodySolid) -> tuple[float, float, float, str, str]:
    solid = stud.solid
    assert isinstance(solid, Cylinder)
    x, y, z = (round(c, 3) for c in solid.start)
    return (x, y, z, stud.state, stud.removable)
