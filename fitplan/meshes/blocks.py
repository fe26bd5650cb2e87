"""Voxels with states into a vehicle's body: layer drawings and few boxes, as a person would write them."""

from __future__ import annotations

import string
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fitplan.files.layers import DEFAULT_LEGEND, Meaning, body_of_layers
from fitplan.files.sidecar import sidecar_bytes
from fitplan.lattice.cover import cover, covered
from fitplan.lattice.frame import Frame
from fitplan.model.solids import Box
from fitplan.model.vehicle import BodySolid, Layer
from fitplan.units import PLATE, STUD

OUTSIDE, FREE, KEEP_CLEAR, FIXED, REMOVABLE = range(5)
"""Codes of a voxel; the removable brick with number n has the code REMOVABLE + n."""
MOST_CORRECTIONS = 120
"""With more boxes than this on top of them, layer drawings are no help to a reader."""
MOST_SOLIDS = 400
"""With more boxes than this a body goes into a sidecar file."""


@dataclass(frozen=True, eq=False)
class StateBlock:
    """Voxels of a vehicle on its own stud grid.

    ``codes`` (x, y, z) uint8; the frame starts on a stud corner and holds whole studs and plates. ``names``
    are the removable bricks in the order of their codes.
    """

    frame: Frame
    codes: NDArray[np.uint8] = field(repr=False)
    names: tuple[str, ...] = ()

    def meaning(self, code: int) -> Meaning:
        """Return the state, and the removable's name, of a code."""
        match code:
            case 0:
                return ("outside", "")
            case 1:
                return ("free", "")
            case 2:
                return ("keep-clear", "")
            case 3:
                return ("fixed", "")
        return ("removable", self.names[code - REMOVABLE])


@dataclass(frozen=True)
class LayeredBody:
    """A body as it can be written: layers with their legend, and solids that are drawn after them."""

    layers: tuple[Layer, ...]
    legend: tuple[tuple[str, Meaning], ...]
    solids: tuple[BodySolid, ...]

    @property
    def drawn(self) -> tuple[BodySolid, ...]:
        """All solids in drawing order."""
        return (*body_of_layers(self.layers, dict(self.legend)), *self.solids)

    def sidecar(self) -> bytes:
        """Return the solids as the sidecar file that the vehicle file names."""
        return sidecar_bytes(self.solids)


def body_of(block: StateBlock) -> LayeredBody:
    """Return a body whose drawing is exactly the block: layers and corrections, or boxes alone."""
    legend = legend_of(block)
    layers, layered = layers_of(block, legend)
    corrections = _corrections(block, layered)
    if corrections is not None and len(corrections) <= MOST_CORRECTIONS:
        return LayeredBody(layers, legend, corrections)
    return LayeredBody((), tuple(DEFAULT_LEGEND.items()), _boxes(block))


def legend_of(block: StateBlock) -> tuple[tuple[str, Meaning], ...]:
    """Return the legend of layer drawings: the usual characters and one for each removable brick."""
    taken = set(DEFAULT_LEGEND)
    found = list(DEFAULT_LEGEND.items())
    for name in block.names:
        wanted = [c for c in name.lower() if c in string.ascii_lowercase]
        free = [c for c in (*wanted, *string.ascii_lowercase, *string.ascii_uppercase) if c not in taken]
        taken.add(free[0])
        found.append((free[0], ("removable", name)))
    return tuple(found)


def _cells(block: StateBlock) -> tuple[int, int]:
    pitch = block.frame.pitch
    return round(STUD / pitch), round(PLATE / pitch)


def layers_of(
    block: StateBlock, legend: tuple[tuple[str, Meaning], ...]
) -> tuple[tuple[Layer, ...], NDArray[np.uint8]]:
    """Draw each stud of each plate as what most of it is; returns the layers and their voxels."""
    side, height = _cells(block)
    nx, ny, nz = (n // m for n, m in zip(block.codes.shape, (side, side, height), strict=True))
    cells = block.codes.reshape(nx, side, ny, side, nz, height).transpose(0, 2, 4, 1, 3, 5)
    cells = cells.reshape(nx, ny, nz, -1)
    count = REMOVABLE + len(block.names)
    votes = np.stack([(cells == code).sum(axis=-1) for code in range(count)])
    # Half a stud of each: solid, so that a hole is drawn as a hole and not as its surroundings.
    most = (count - 1 - votes[::-1].argmax(axis=0)).astype(np.uint8)
    sign = {meaning: character for character, meaning in legend}
    characters = [sign[block.meaning(code)] for code in range(count)]
    layers: list[Layer] = []
    start = 0
    base = block.frame.origin[2]
    for k in range(1, nz + 1):
        if k < nz and (most[:, :, k] == most[:, :, start]).all():
            continue
        plane = most[:, :, start]
        rows = tuple("".join(characters[code] for code in plane[:, j]) for j in reversed(range(ny)))
        layers.append(Layer(f"layer {len(layers) + 1}", round(base + start * PLATE, 6), k - start, rows))
        start = k
    # Where only studs stood on top nothing is left to draw.
    if len(layers) > 1 and not (most[:, :, nz - 1] != OUTSIDE).any():
        layers.pop()
    voxels = np.repeat(np.repeat(np.repeat(most, side, axis=0), side, axis=1), height, axis=2)
    return tuple(layers), voxels


def box_of(block: StateBlock, corners: tuple[int, ...]) -> Box:
    """Return a box of voxels of a block in mm."""
    frame = block.frame
    low = [round(o + n * frame.pitch, 4) for o, n in zip(frame.origin, corners[:3], strict=True)]
    high = [round(o + n * frame.pitch, 4) for o, n in zip(frame.origin, corners[3:], strict=True)]
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def _corrections(block: StateBlock, drawn: NDArray[np.uint8]) -> tuple[BodySolid, ...] | None:
    """Return boxes that turn the drawn voxels into the block, or None when there would be too many."""
    found: list[BodySolid] = []
    wrong = drawn != block.codes
    for code in range(REMOVABLE + len(block.names)):
        own = block.codes == code
        if not (own & wrong).any():
            continue
        boxes = cover(own & wrong, own, most=MOST_CORRECTIONS)
        if boxes is None:
            return None
        found.extend(BodySolid(box_of(block, box), *block.meaning(code)) for box in boxes)
    return tuple(found)


def _boxes(block: StateBlock) -> tuple[BodySolid, ...]:
    """Return boxes for all but outside; a fixed box may run into what is drawn after it."""
    order = [FIXED, *range(REMOVABLE, REMOVABLE + len(block.names)), KEEP_CLEAR, FREE]
    found: list[BodySolid] = []
    for place, code in enumerate(order):
        own = block.codes == code
        if not own.any():
            continue
        later = np.isin(block.codes, order[place + 1 :]) if code == FIXED else np.zeros_like(own)
        boxes = covered(own, own | later)
        found.extend(BodySolid(box_of(block, box), *block.meaning(code)) for box in boxes)
    return tuple(found)
