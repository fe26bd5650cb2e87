"""What is solid, what is a cavity and what is outside, once a surface is drawn.

A voxel is solid when a surface touches it, or when lines of sight from its middle through the shells tell
that it is inside (`surface.solid_inside`); no normal is trusted and no gap is closed for that. Which clear
space is inside is told by `interior.interior_of`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear import label_spaces
from fitplan.lattice.frame import Frame
from fitplan.meshes.interior import interior_of, open_rooms_of
from fitplan.meshes.surface import Shells, Surface, solid_inside
from fitplan.model.solids import Direction

GAP = 32.0
"""Gaps up to this width in mm count as closed when the user names none: four studs, the widest door or
windscreen; what is wider is an open platform (common practice, no source)."""


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
    shells, torn
        How many shells the mesh has, and how many of them are not closed.
    """

    frame: Frame
    solid: NDArray[np.bool_] = field(repr=False)
    core: NDArray[np.bool_] = field(repr=False)
    cavity: NDArray[np.bool_] = field(repr=False)
    gap: float = 0.0
    sheets: int = 0
    filled_mm3: float = 0.0
    filled: int = 0
    shells: int = 0
    torn: int = 0

    @property
    def touched(self) -> NDArray[np.bool_]:
        """Voxels of which it is not known how much is solid."""
        result: NDArray[np.bool_] = self.solid & ~self.core
        return result

    def solid_bounds_mm3(self) -> tuple[float, float]:
        """Volume of the material, surely and at most, in mm³."""
        voxel = self.frame.pitch**3
        return (float(self.core.sum()) * voxel, float(self.solid.sum()) * voxel)


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
    gap: float = GAP,
    closed: tuple[Direction, ...] = (),
    least_mm3: float = 1000.0,
    hollow: NDArray[np.bool_] | None = None,
) -> Filled:
    """Tell solid, cavity and outside apart.

    Parameters
    ----------
    gap
        Gaps up to this width (mm) count as closed when the outside is told from cavities; with 0 no cavity is
        looked for. The frame must be wider than the mesh by a voxel all round.
    closed
        Sides of the mesh's bounds that count as closed altogether, such as the top of an open wagon.
    least_mm3
        Smaller clear spaces are no cavities: closed ones count as solid, others as outside.
    hollow
        (x, y, z) bool, clear places that count as material, such as the hollows of bricks.
    """
    frame = surface.frame
    core = solid_inside(shells, frame) & ~surface.touched
    if hollow is not None:
        core |= hollow
    touched = surface.touched if hollow is None else surface.touched & ~hollow
    clear = ~core & ~touched
    sheets = _sheets(surface.barriers, clear)
    # A sheet takes the voxel above it (or in front of, or left of it), so that it has a thickness at all.
    clear &= ~sheets
    least = least_mm3 / frame.pitch**3
    names, count = label_spaces(clear)
    sizes = np.bincount(names.reshape(-1), minlength=count + 1)
    small = sizes < least
    small[[0, int(names[0, 0, 0])]] = False
    solid = ~clear | small[names]
    cavity = np.zeros(frame.shape, dtype=np.bool_)
    if gap:
        cavity = interior_of(~solid, frame, gap, closed, least_mm3) | open_rooms_of(solid, frame, least_mm3)
    lost = float(sizes[small].sum()) * frame.pitch**3
    return Filled(
        frame,
        solid,
        core,
        cavity,
        gap,
        int(sheets.sum()),
        lost,
        int(small.sum()),
        len(shells.closed),
        int((~shells.closed).sum()),
    )


def _sheets(barriers: NDArray[np.uint8], clear: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Clear voxels whose lower face is closed towards another clear voxel."""
    result = np.zeros(clear.shape, dtype=np.bool_)
    for axis in range(3):
        upper, lower = [slice(None)] * 3, [slice(None)] * 3
        upper[axis], lower[axis] = slice(1, None), slice(0, -1)
        bar = (barriers[tuple(upper)] & (1 << axis)) != 0
        result[tuple(upper)] |= bar & clear[tuple(upper)] & clear[tuple(lower)]
    return result
