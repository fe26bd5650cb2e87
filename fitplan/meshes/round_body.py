"""Bodies with rods and bores as cylinders, where that draws the voxels again and leaves fewer solids.

A cylinder is taken with what it draws too much (a voxel at most, beside what is solid in the mesh); what it
draws too little, or wrong beyond that, is corrected by boxes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.files.layers import DEFAULT_LEGEND
from fitplan.lattice.cover import IntBox, covered
from fitplan.lattice.draw import draw, draw_local
from fitplan.lattice.frame import Frame, Window
from fitplan.meshes.blocks import (
    FIXED,
    FREE,
    KEEP_CLEAR,
    MOST_CORRECTIONS,
    OUTSIDE,
    REMOVABLE,
    LayeredBody,
    StateBlock,
    body_of,
    box_of,
    layers_of,
    legend_of,
)
from fitplan.meshes.fill import grown
from fitplan.meshes.rounds import Ring
from fitplan.model.solids import AXES, Cylinder
from fitplan.model.vehicle import BodySolid

MOST_RINGS = 24
"""So many round walls, the largest, are tried as cylinders."""
_STRIP = 1.5
"""Width in voxels of the strips on both sides of a wall that tell what lies there."""
_MENDED = 10
"""A voxel that must be mended weighs as much as so many that are drawn solid beside solid ones."""
_RANK = np.full(256, 3, dtype=np.int16)
_RANK[[FREE, OUTSIDE, KEEP_CLEAR, FIXED]] = (0, 1, 2, 4)
"""How solid a state is, from free through outside, keep-clear and removable to fixed."""
Codes = NDArray[np.uint8]


@dataclass(frozen=True)
class _Round:
    """A cylinder and what it makes of its room."""

    cylinder: Cylinder
    code: int


def round_body_of(block: StateBlock, rings: Sequence[Ring]) -> LayeredBody:
    """Return the body with the fewest solids, with cylinders for rings where they help."""
    best = body_of(block)
    chosen = [found for ring in rings[:MOST_RINGS] if (found := _round_of(block, ring)) is not None]
    if not chosen:
        return best
    # All at once first, for a bore and its rod help little without each other; then without each in turn.
    made = _body(block, chosen)
    for entry in list(chosen):
        fewer = [other for other in chosen if other is not entry]
        without = _body(block, fewer) if fewer else best
        if _cost(without) <= _cost(made):
            made, chosen = without, fewer
    return made if _cost(made) < _cost(best) else best


def _cost(body: LayeredBody) -> int:
    return len(body.solids) + len(body.layers)


def _round_of(block: StateBlock, ring: Ring) -> _Round | None:
    """Tell rod from bore by what lies on both sides of the wall, and choose the radius."""
    frame, pitch = block.frame, block.frame.pitch
    window = frame.box_slice(ring.cylinder(ring.most + 3 * pitch).bounds, "inward")
    codes = block.codes[window]
    far = _far(frame, ring, window)
    within = codes[(far < ring.least - pitch) & (far >= ring.least - (1 + _STRIP) * pitch)]
    around = codes[(far > ring.most + pitch) & (far <= ring.most + (1 + _STRIP) * pitch)]
    if not len(within):
        return None
    code = int(np.bincount(within).argmax())
    beyond = int(np.bincount(around).argmax()) if len(around) else OUTSIDE
    rod = _RANK[code] > _RANK[beyond]
    if code == OUTSIDE or _RANK[code] == _RANK[beyond]:
        return None
    solid = _RANK[codes] >= _RANK[code] + (0 if rod else 1)
    zone = np.abs(far - ring.most) < 2 * pitch
    faults = []
    for place, radius in enumerate(ring.radii()):
        touched = draw(ring.cylinder(radius), frame, "outward" if rod else "inward")[window]
        drawn = touched if rod else ~touched
        # Too little solid must be mended by boxes; too much is only less true.
        less, more = int((solid & ~drawn & zone).sum()), int((drawn & ~solid & zone).sum())
        faults.append((_MENDED * less + more, place, radius))
    return _Round(ring.cylinder(min(faults)[2]), code)


def _far(frame: Frame, ring: Ring, window: Window) -> NDArray[np.float64]:
    """Return (x, y, z) float64, how far the middles of a window's voxels lie from a ring's axis."""
    squares = np.zeros(tuple(part.stop - part.start for part in window))
    for axis, part in enumerate(window):
        if AXES[axis] != ring.axis:
            middles = frame.edges(axis)[part.start : part.stop] + frame.pitch / 2
            shape = [1, 1, 1]
            shape[axis] = -1
            squares = squares + ((middles - ring.start[axis]) ** 2).reshape(shape)
    far: NDArray[np.float64] = np.sqrt(squares)
    return far


def _body(block: StateBlock, rounds: Sequence[_Round]) -> LayeredBody:
    """Return the body with these cylinders: over layer drawings, or with boxes alone."""
    legend = legend_of(block)
    layers, drawn = layers_of(block, legend)
    rods = [entry for entry in rounds if entry.code == FIXED]
    bores = [entry for entry in rounds if entry.code == FREE]
    bores += [entry for entry in rounds if entry.code not in (FIXED, FREE)]
    over = [*_cylinders(block, drawn, rods), *_cylinders(block, drawn, bores), *_mended(block, drawn)]
    bare = np.full(block.codes.shape, OUTSIDE, dtype=np.uint8)
    alone = _cylinders(block, bare, rods)
    fixed = block.codes == FIXED
    may = fixed | ((block.codes != OUTSIDE) & (block.codes != FIXED))
    boxes = covered(fixed & (bare != FIXED), may)
    alone += _painted(block, bare, boxes, FIXED)
    alone += [*_cylinders(block, bare, bores), *_mended(block, bare)]
    if len(over) <= MOST_CORRECTIONS and len(over) + len(layers) <= len(alone):
        return LayeredBody(layers, legend, tuple(over))
    return LayeredBody((), tuple(DEFAULT_LEGEND.items()), tuple(alone))


def _cylinders(block: StateBlock, drawn: Codes, rounds: Sequence[_Round]) -> list[BodySolid]:
    """Draw cylinders into voxels; where one only touches, the more solid state stays."""
    found = []
    for entry in rounds:
        window, touched = draw_local(entry.cylinder, block.frame, "outward")
        old = drawn[window]
        more = _RANK[old] < _RANK[entry.code]
        drawn[window] = np.where(touched & more, np.uint8(entry.code), old)
        window, inside = draw_local(entry.cylinder, block.frame, "inward")
        drawn[window] = np.where(inside, np.uint8(entry.code), drawn[window])
        found.append(BodySolid(entry.cylinder, *block.meaning(entry.code)))
    return found


def _mended(block: StateBlock, drawn: Codes) -> list[BodySolid]:
    """Draw boxes where the voxels are wrong, but for solid ones beside what is solid in the block."""
    rank, true_enough = _RANK[block.codes], np.zeros(drawn.shape, dtype=np.bool_)
    for state in (_RANK[KEEP_CLEAR], _RANK[REMOVABLE]):
        own = rank >= state
        true_enough |= (_RANK[drawn] >= state) & ~own & grown(own)
    found = []
    for code in (FIXED, *range(REMOVABLE, REMOVABLE + len(block.names)), KEEP_CLEAR, FREE, OUTSIDE):
        own = block.codes == code
        wrong = own & (drawn != code) & ~true_enough
        boxes = covered(wrong, own) if wrong.any() else []
        found += _painted(block, drawn, boxes, code)
    return found


def _painted(block: StateBlock, drawn: Codes, boxes: Sequence[IntBox], code: int) -> list[BodySolid]:
    for box in boxes:
        drawn[box.x0 : box.x1, box.y0 : box.y1, box.z0 : box.z1] = code
    return [BodySolid(box_of(block, box), *block.meaning(code)) for box in boxes]
