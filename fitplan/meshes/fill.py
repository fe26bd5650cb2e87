"""What is solid, what is a cavity and what is outside, once a surface is drawn.

A voxel is solid when a surface touches it, or when lines of sight from its middle through the shells tell
that it is inside (`surface.solid_inside`); no normal is trusted. What is clear is flooded from outside by a
ball as wide as the gaps that count as closed: where the ball cannot go is inside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear import label_spaces
from fitplan.lattice.frame import Frame
from fitplan.meshes.surface import Shells, Surface, solid_inside
from fitplan.model.solids import AXES, Direction
from fitplan.routing.distance import clear_squares

_COARSE_FROM = 8.0


@dataclass(frozen=True, eq=False)
class Filled:
    """A mesh as voxels; all (x, y, z) bool over `frame`.

    Attributes
    ----------
    solid
        Where some material may be: touched voxels and all that is wholly inside material.
    core
        Wholly inside material: surely solid.
    cavity
        Clear and inside: surely clear.
    gap
        Width of the gaps that were taken as closed, in mm.
    sheets
        How many voxels were thickened because a surface without thickness lay between clear voxels.
    filled_mm3, filled
        Volume and number of closed clear regions too small to be worth a thought, which count as solid.
    """

    frame: Frame
    solid: NDArray[np.bool_] = field(repr=False)
    core: NDArray[np.bool_] = field(repr=False)
    cavity: NDArray[np.bool_] = field(repr=False)
    gap: float = 0.0
    sheets: int = 0
    filled_mm3: float = 0.0
    filled: int = 0

    @property
    def touched(self) -> NDArray[np.bool_]:
        """Voxels of which it is not known how much is solid."""
        result: NDArray[np.bool_] = self.solid & ~self.core
        return result

    @property
    def uncertain(self) -> bool:
        """Whether some voxel beside a cavity is solid only in part, so that the cavity may be wider."""
        return bool((grown(self.cavity) & self.touched).any())

    def solid_bounds_mm3(self) -> tuple[float, float]:
        """Volume of the material, surely and at most, in mm³."""
        voxel = self.frame.pitch**3
        return (float(self.core.sum()) * voxel, float(self.solid.sum()) * voxel)

    def cavity_bounds_mm3(self) -> tuple[float, float]:
        """Volume of the cavities, surely and at most, in mm³."""
        voxel = self.frame.pitch**3
        most = self.cavity | (grown(self.cavity) & self.touched)
        return (float(self.cavity.sum()) * voxel, float(most.sum()) * voxel)


def grown(block: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return a block grown by one voxel to all 26 neighbours."""
    result = block.copy()
    for axis in range(3):
        before, behind = [slice(None)] * 3, [slice(None)] * 3
        before[axis], behind[axis] = slice(0, -1), slice(1, None)
        wide = result.copy()
        wide[tuple(behind)] |= result[tuple(before)]
        wide[tuple(before)] |= result[tuple(behind)]
        result = wide
    return result


def fill(
    surface: Surface,
    shells: Shells,
    *,
    gaps: tuple[float, ...] = (8.0,),
    closed: tuple[Direction, ...] = (),
    least_mm3: float = 1000.0,
) -> Filled:
    """Tell solid, cavity and outside apart.

    Parameters
    ----------
    gaps
        Gaps up to this width (mm) count as closed when the outside is flooded. Of several, in rising order,
        the narrowest is taken that leaves at least three fifths of the clear space that the widest leaves.
        The frame must be wider than the mesh by half of the widest all round.
    closed
        Sides of the mesh's bounds that count as closed altogether, such as the top of an open wagon.
    least_mm3
        Smaller clear spaces are no cavities: closed ones count as solid, others as outside.
    """
    frame = surface.frame
    core = solid_inside(shells, frame) & ~surface.touched
    clear = ~core & ~surface.touched
    sheets = _sheets(surface.barriers, clear)
    # A sheet takes the voxel above it (or in front of, or left of it), so that it has a thickness at all.
    clear &= ~sheets
    least = least_mm3 / frame.pitch**3
    names, count = label_spaces(clear)
    sizes = np.bincount(names.reshape(-1), minlength=count + 1)
    small = sizes < least
    small[[0, int(names[0, 0, 0])]] = False
    solid = ~clear | small[names]
    found = [_cavity(~solid, frame, gap, closed, least) for gap in gaps]
    enough = 0.6 * max((int(cavity.sum()) for cavity in found), default=0)
    gap, cavity = 0.0, np.zeros(frame.shape, dtype=np.bool_)
    if gaps:
        gap, cavity = next((g, c) for g, c in zip(gaps, found, strict=True) if int(c.sum()) >= enough)
        cavity = _to_the_mouth(cavity, ~solid, round(gap / frame.pitch))
    lost = float(sizes[small].sum()) * frame.pitch**3
    return Filled(frame, solid, core, cavity, gap, int(sheets.sum()), lost, int(small.sum()))


def _sheets(barriers: NDArray[np.uint8], clear: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Clear voxels whose lower face is closed towards another clear voxel."""
    result = np.zeros(clear.shape, dtype=np.bool_)
    for axis in range(3):
        upper, lower = [slice(None)] * 3, [slice(None)] * 3
        upper[axis], lower[axis] = slice(1, None), slice(0, -1)
        bar = (barriers[tuple(upper)] & (1 << axis)) != 0
        result[tuple(upper)] |= bar & clear[tuple(upper)] & clear[tuple(lower)]
    return result


def _cavity(
    clear: NDArray[np.bool_],
    frame: Frame,
    gap: float,
    closed: tuple[Direction, ...],
    least: float,
) -> NDArray[np.bool_]:
    shut = clear
    if closed:
        shut = clear.copy()
        for side in closed:
            shut[_beyond(~clear, side)] = False
    radius = gap / 2 / frame.pitch
    # A wide ball may move on voxels of twice the edge, rounded so that no gap opens.
    reached = (
        _twice(_flooded(_halved(shut), radius / 2), shut.shape) if radius > 8 else _flooded(shut, radius)
    )
    walls = _walls_seen(~shut)
    # A corner outside that the ball cannot reach is open to several sides; a cavity with a window is not.
    inside = shut & ~reached & (walls >= 4)
    names, count = label_spaces(inside)
    sizes = np.bincount(names.reshape(-1), minlength=count + 1)
    walled = np.bincount(names.reshape(-1), weights=(walls >= 5).reshape(-1), minlength=count + 1)
    kept = (sizes >= least) & (2 * walled >= sizes)
    kept[0] = False
    cavity: NDArray[np.bool_] = kept[names]
    return cavity


def _walls_seen(solid: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Return (x, y, z) uint8, in how many of the six directions something solid lies."""
    result = np.zeros(solid.shape, dtype=np.uint8)
    for axis in range(3):
        result += np.logical_or.accumulate(solid, axis=axis)
        result += np.flip(np.logical_or.accumulate(np.flip(solid, axis), axis=axis), axis)
    return result


def _flooded(clear: NDArray[np.bool_], radius: float) -> NDArray[np.bool_]:
    """Voxels that a ball (radius in voxel edges) sweeps as it comes in from the border of the frame."""
    # Squares count half voxel edges.
    wide = clear_squares(clear) > math.floor((2 * radius + 1e-6) ** 2)
    names, count = label_spaces(wide)
    border = np.zeros(count + 1, dtype=np.bool_)
    for axis in range(3):
        for end in (0, -1):
            border[np.take(names, end, axis=axis)] = True
    border[0] = False
    # The ball's middle comes to rest on whole voxels, so it may stay almost one short of what it could touch.
    swept: NDArray[np.bool_] = clear_squares(~border[names], to="middle") <= (2 * (radius + 1)) ** 2
    return swept


def _halved(clear: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Voxels of twice the edge, clear where all eight are."""
    even = np.pad(clear, [(0, n % 2) for n in clear.shape], constant_values=True)
    x, y, z = (n // 2 for n in even.shape)
    result: NDArray[np.bool_] = np.logical_and.reduce(even.reshape(x, 2, y, 2, z, 2), axis=(1, 3, 5))
    return result


def _twice(block: NDArray[np.bool_], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Voxels of half the edge, cut to a shape."""
    fine = block.repeat(2, axis=0).repeat(2, axis=1).repeat(2, axis=2)
    return fine[: shape[0], : shape[1], : shape[2]]


def _to_the_mouth(cavity: NDArray[np.bool_], clear: NDArray[np.bool_], most: int) -> NDArray[np.bool_]:
    """Let cavities reach to the mouths of their gaps, into which the ball has bulged.

    A clear voxel is in such a gap when there is something solid on both sides of it along two axes, at most
    `most` voxels apart along one of them and at most four times as many along the other.
    """
    if not cavity.any():
        return cavity
    narrow = [_between(clear, axis, most) for axis in range(3)]
    walled = [_between(clear, axis, 4 * most) for axis in range(3)]
    gaps = np.zeros(clear.shape, dtype=np.bool_)
    for one, other in ((0, 1), (1, 2), (2, 0)):
        gaps |= (narrow[one] & walled[other]) | (narrow[other] & walled[one])
    names, count = label_spaces(gaps | cavity)
    own = np.zeros(count + 1, dtype=np.bool_)
    own[names[cavity]] = True
    own[0] = False
    return own[names]


def _between(clear: NDArray[np.bool_], axis: int, most: int) -> NDArray[np.bool_]:
    """Clear voxels in a run of at most `most` along an axis, with something solid at both ends."""
    line = np.moveaxis(clear, axis, -1)
    place = np.arange(line.shape[-1], dtype=np.int16)
    before = np.maximum.accumulate(np.where(line, np.int16(-1), place), axis=-1)
    behind = np.minimum.accumulate(np.where(line, np.int16(line.shape[-1]), place)[..., ::-1], axis=-1)[
        ..., ::-1
    ]
    short = (before >= 0) & (behind < line.shape[-1]) & (behind - before - 1 <= most)
    return np.moveaxis(short & line, -1, axis)


def _beyond(solid: NDArray[np.bool_], side: Direction) -> tuple[slice, slice, slice]:
    """Return the window of all voxels beyond the solid's bounds on one side."""
    axis = AXES.index(side[1])
    others = tuple(other for other in range(3) if other != axis)
    places = np.flatnonzero(solid.any(axis=others))
    window = [slice(None)] * 3
    if side[0] == "+":
        window[axis] = slice(int(places[-1]) + 1, None)
    else:
        window[axis] = slice(0, int(places[0]))
    return (window[0], window[1], window[2])
