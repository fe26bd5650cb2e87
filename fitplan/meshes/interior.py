"""What of the clear space is inside a model: cavities that end flat at their windows, doors and holes.

Nothing solid is decided here; solids need no gap (see `surface.solid_inside`). What is clear is inside when

1. a ball as wide as the gaps that count as closed cannot get there from outside,
2. the model has something solid above it and below it: what has no floor is room for wheels, what has no
   roof is an open platform. A hole in a floor or roof does not count where the room beside it is inside,
3. it lies behind the mouths of the gaps. A mouth is where something solid lies on both sides, no farther
   apart than the gap: between a roof and a floor, or between two walls that reach from floor to roof. Room
   that is open to two sides, such as a platform behind a windscreen, must border on the rest of the inside at
   least as much as on walls, or it is the strip below the eaves outside a wall with windows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear import label_spaces, within_reach
from fitplan.lattice.clear_radius import clear_squares
from fitplan.lattice.frame import Frame
from fitplan.model.solids import AXES, Box, Direction, axis_of, is_forward
from fitplan.units import PLATE

Block = NDArray[np.bool_]
_SHALLOW = 2 * PLATE
_WHOLE = 0.8
_COARSE_FROM = 8.0
"""Radius in voxel edges from which a ball moves on voxels of twice the edge."""


@dataclass(frozen=True)
class Mouth:
    """Where a cavity is open: the flat box of the opening (mm) and the direction out of it."""

    box: Box
    out: Direction

    @property
    def width(self) -> float:
        """The lesser edge of the opening in mm."""
        axis = axis_of(self.out)
        return min(size for other, size in enumerate(self.box.size) if other != axis)


def interior_of(
    clear: Block, frame: Frame, gap: float, closed: tuple[Direction, ...], least_mm3: float
) -> Block:
    """Return (x, y, z) bool, the clear voxels that are inside.

    Parameters
    ----------
    clear
        (x, y, z) bool, True where nothing solid is; clear at the border of the frame.
    gap
        Gaps up to this width (mm) count as closed.
    closed
        Sides of the mesh's bounds that count as closed altogether, such as the top of an open wagon.
    least_mm3
        Smaller spaces are left out.
    """
    shut = clear
    if closed:
        shut = clear.copy()
        for side in closed:
            shut[_beyond(~clear, side)] = False
    least = least_mm3 / frame.pitch**3
    most = round(gap / frame.pitch)
    unreached = shut & ~_reached(shut, gap / 2 / frame.pitch)
    covered = _seen(~shut, 2, 1) & _seen(~shut, 2, -1)
    over_holes = _over_holes(unreached, covered)
    through: Block = np.logical_or.reduce(over_holes, axis=2, keepdims=True)
    mouths = _mouths(shut, most) & (covered | through)
    walls = _walls_seen(~shut)
    # A corner outside that the ball cannot reach is open to several sides; a cavity with a window is not.
    under = unreached & (covered | over_holes)
    names, sizes = _sized(under & (walls >= 4))
    walled = np.bincount(names[walls >= 5], minlength=len(sizes))
    kept = (sizes >= least) & (2 * walled >= sizes)
    kept[0] = False
    core = kept[names]
    if not core.any():
        return core
    edges = [np.arange(n + 1) for n in shut.shape]
    mouths &= within_reach(core, edges, most // 2 + 2)
    firm = core | (mouths & (walls >= 4))
    alcoves = _alcoves((under | mouths) & (walls < 4) & ~firm, firm, ~shut)
    names, count = label_spaces(firm | alcoves)
    sealed = ((mouths & (firm | alcoves)) | core) & _touching(names, count, core)
    # What the ball swept of the space behind a mouth belongs to it once the mouth is closed.
    names, count = label_spaces(shut & ~sealed)
    behind = np.ones(count + 1, dtype=np.bool_)
    behind[_border_names(names)] = False
    behind[0] = False
    pockets = behind[names]
    names, count = label_spaces(pockets | sealed)
    return _touching(names, count, sealed)


def open_rooms_of(solid: Block, frame: Frame, least_mm3: float) -> Block:
    """Return (x, y, z) bool, the clear voxels between sides on a deck without a roof, as in an open wagon.

    Each has something solid below it and on all four sides, and nothing above. Rooms less than two plates
    deep, and smaller ones than `least_mm3`, are left out.
    """
    sides = np.logical_and.reduce([_seen(solid, axis, step) for axis in (0, 1) for step in (1, -1)])
    room = ~solid & sides & _seen(solid, 2, 1) & ~_seen(solid, 2, -1)
    names, sizes = _sized(room)
    kept = sizes >= least_mm3 / frame.pitch**3
    kept[0] = False
    result = np.zeros(room.shape, dtype=np.bool_)
    for number in np.flatnonzero(kept):
        own = names == number
        areas = own.sum(axis=(0, 1))
        # Between the studs on top of the sides only part of the room is left: it ends below them.
        levels = np.flatnonzero(areas >= _WHOLE * areas.max())
        if (levels[-1] + 1 - levels[0]) * frame.pitch >= _SHALLOW:
            result |= own & (np.arange(room.shape[2]) <= levels[-1])
    return result


def mouths_of(cavity: Block, solid: Block, frame: Frame) -> tuple[Mouth, ...]:
    """Return where cavities are open towards what is clear outside, the widest first."""
    outside = ~cavity & ~solid
    found: list[Mouth] = []
    for axis in range(3):
        for step, sign in ((1, "+"), (-1, "-")):
            here, there = [slice(None)] * 3, [slice(None)] * 3
            here[axis], there[axis] = (slice(0, -1), slice(1, None)) if step > 0 else (
                slice(1, None), slice(0, -1))  # fmt: skip
            open_ = np.zeros(cavity.shape, dtype=np.bool_)
            open_[tuple(here)] = cavity[tuple(here)] & outside[tuple(there)]
            names, count = label_spaces(open_)
            for number in range(1, count + 1):
                places = np.argwhere(names == number)
                low = [float(c) for c in places.min(axis=0)]
                high = [float(c) + 1 for c in places.max(axis=0)]
                if step > 0:
                    low[axis] = high[axis]
                else:
                    high[axis] = low[axis]
                corners = [
                    tuple(round(o + c * frame.pitch, 4) for o, c in zip(frame.origin, corner, strict=True))
                    for corner in (low, high)
                ]
                box = Box(corners[0], corners[1])  # type: ignore[arg-type]
                found.append(Mouth(box, f"{sign}{AXES[axis]}"))  # type: ignore[arg-type]
    return tuple(sorted(found, key=lambda mouth: (-mouth.width, mouth.box.low, mouth.out)))


def _sized(block: Block) -> tuple[NDArray[np.uint32], NDArray[np.int64]]:
    names, count = label_spaces(block)
    return names, np.bincount(names.reshape(-1), minlength=count + 1)


def _touching(names: NDArray[np.uint32], count: int, block: Block) -> Block:
    """Return the spaces that hold some of a block."""
    own = np.zeros(count + 1, dtype=np.bool_)
    own[names[block]] = True
    own[0] = False
    return own[names]


def _border_names(names: NDArray[np.uint32]) -> NDArray[np.uint32]:
    ends = [np.take(names, end, axis=axis).reshape(-1) for axis in range(3) for end in (0, -1)]
    return np.unique(np.concatenate(ends))


def _seen(solid: Block, axis: int, step: int) -> Block:
    """Return where something solid lies below along an axis (step 1), or above (step -1)."""
    line = solid if step > 0 else np.flip(solid, axis)
    seen: Block = np.logical_or.accumulate(line, axis=axis)
    return seen if step > 0 else np.flip(seen, axis)


def _walls_seen(solid: Block) -> NDArray[np.uint8]:
    """Return (x, y, z) uint8, in how many of the six directions something solid lies."""
    result = np.zeros(solid.shape, dtype=np.uint8)
    for axis in range(3):
        for step in (1, -1):
            result += _seen(solid, axis, step)
    return result


def _neighbours(*axes: int) -> Iterator[tuple[int, tuple[slice, ...], tuple[slice, ...]]]:
    """Yield along some axes, both ways: the axis, the voxels with a neighbour there, and the neighbours."""
    for axis in axes:
        here, there = [slice(None)] * 3, [slice(None)] * 3
        here[axis], there[axis] = slice(0, -1), slice(1, None)
        yield axis, tuple(here), tuple(there)
        yield axis, tuple(there), tuple(here)


def _over_holes(unreached: Block, covered: Block) -> Block:
    """Return uncovered voxels that lie, level by level, mostly beside covered ones.

    Room above a hole in the floor is beside the rest of the room; a wheel well is beside solid frames.
    """
    open_ = unreached & ~covered
    room = unreached & covered
    names, count = label_spaces(open_, np.full(open_.shape, 4, dtype=np.uint8))
    sides, beside = np.zeros(count + 1), np.zeros(count + 1)
    for _, here, there in _neighbours(0, 1):
        own = names[here]
        sides += np.bincount(own[~open_[there]], minlength=count + 1)
        beside += np.bincount(own[room[there]], minlength=count + 1)
    accepted = 2 * beside >= sides
    accepted[0] = False
    return accepted[names]


def _alcoves(room: Block, firm: Block, solid: Block) -> Block:
    """Return the parts of some room, open to two sides, that belong to the firm room beside them.

    A part does when it borders on firm room at least as much as on walls. A platform behind a windscreen
    does; the strip outside a wall with windows, below the eaves, does not.
    """
    names, count = label_spaces(room)
    walls, beside = np.zeros(count + 1), np.zeros(count + 1)
    for axis, here, there in _neighbours(0, 1, 2):
        own = names[here]
        beside += np.bincount(own[firm[there]], minlength=count + 1)
        if axis < 2:
            walls += np.bincount(own[solid[there]], minlength=count + 1)
    accepted = beside >= walls
    accepted[0] = False
    return accepted[names]


def _mouths(clear: Block, most: int) -> Block:
    """Return clear voxels in a mouth: solid on both sides, at most so many voxels apart.

    Between roof and floor that is enough; between walls there must be something on both sides along a
    second axis too, at most four times as far apart.
    """
    narrow = [_between(clear, axis, most) for axis in range(3)]
    walled = [_between(clear, axis, 4 * most) for axis in range(3)]
    found = narrow[2].copy()
    for one, other in ((0, 1), (0, 2), (1, 0), (1, 2)):
        found |= narrow[one] & walled[other]
    return found


def _between(clear: Block, axis: int, most: int) -> Block:
    """Clear voxels in a run of at most `most` along an axis, with something solid at both ends."""
    line = np.moveaxis(clear, axis, -1)
    place = np.arange(line.shape[-1], dtype=np.int16)
    before = np.maximum.accumulate(np.where(line, np.int16(-1), place), axis=-1)
    behind = np.minimum.accumulate(np.where(line, np.int16(line.shape[-1]), place)[..., ::-1], axis=-1)[
        ..., ::-1
    ]
    short = (before >= 0) & (behind < line.shape[-1]) & (behind - before - 1 <= most)
    return np.moveaxis(short & line, -1, axis)


def _beyond(solid: Block, side: Direction) -> tuple[slice, slice, slice]:
    """Return the window of all voxels beyond the solid's bounds on one side."""
    axis = axis_of(side)
    others = tuple(other for other in range(3) if other != axis)
    places = np.flatnonzero(solid.any(axis=others))
    window = [slice(None)] * 3
    if is_forward(side):
        window[axis] = slice(int(places[-1]) + 1, None)
    else:
        window[axis] = slice(0, int(places[0]))
    return (window[0], window[1], window[2])


def _reached(clear: Block, radius: float) -> Block:
    """Voxels that a ball (radius in voxel edges) sweeps as it comes in from beyond the frame."""
    margin = 2 * math.ceil(radius / 2) + 4
    wide = np.pad(clear, margin, constant_values=True)
    # A wide ball may move on voxels of twice the edge, rounded so that no gap opens.
    coarse = radius > _COARSE_FROM
    swept = _twice(_flooded(_halved(wide), radius / 2), wide.shape) if coarse else _flooded(wide, radius)
    own: Block = swept[margin:-margin, margin:-margin, margin:-margin]
    return own


def _flooded(clear: Block, radius: float) -> Block:
    # Squares count half voxel edges.
    wide = clear_squares(clear) > math.floor((2 * radius + 1e-6) ** 2)
    names, count = label_spaces(wide)
    border = np.zeros(count + 1, dtype=np.bool_)
    border[_border_names(names)] = True
    border[0] = False
    # The ball's middle comes to rest on whole voxels, so it may stay almost one short of what it could touch.
    swept: Block = clear_squares(~border[names], to="middle") <= (2 * (radius + 1)) ** 2
    return swept


def _halved(clear: Block) -> Block:
    """Voxels of twice the edge, clear where all eight are."""
    even = np.pad(clear, [(0, n % 2) for n in clear.shape], constant_values=True)
    x, y, z = (n // 2 for n in even.shape)
    result: Block = np.logical_and.reduce(even.reshape(x, 2, y, 2, z, 2), axis=(1, 3, 5))
    return result


def _twice(block: Block, shape: tuple[int, ...]) -> Block:
    """Voxels of half the edge, cut to a shape."""
    fine = block.repeat(2, axis=0).repeat(2, axis=1).repeat(2, axis=2)
    return fine[: shape[0], : shape[1], : shape[2]]
