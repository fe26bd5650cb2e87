"""Voxels with states into a vehicle's body: layer drawings and few boxes, as a person would write them."""

from __future__ import annotations

import string
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fitplan.files.layers import DEFAULT_LEGEND, Meaning, body_of_layers
from fitplan.files.sidecar import sidecar_bytes
from fitplan.lattice.cover import cover
from fitplan.lattice.draw import draw
from fitplan.lattice.frame import Frame
from fitplan.model.solids import Box, Cylinder
from fitplan.model.vehicle import BodySolid, Layer
from fitplan.units import PLATE, STUD, STUD_DIAMETER, STUD_HEIGHT

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
class Body:
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


def body_of(block: StateBlock) -> Body:
    """Return a body whose drawing is exactly the block: layers and corrections, or boxes alone."""
    legend = _legend(block)
    layers, layered = _layers(block, legend)
    corrections = _corrections(block, layered)
    if corrections is not None and len(corrections) <= MOST_CORRECTIONS:
        return Body(layers, legend, corrections)
    return Body((), tuple(DEFAULT_LEGEND.items()), _boxes(block))


def _legend(block: StateBlock) -> tuple[tuple[str, Meaning], ...]:
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


def _layers(
    block: StateBlock, legend: tuple[tuple[str, Meaning], ...]
) -> tuple[tuple[Layer, ...], NDArray[np.uint8]]:
    """Draw each stud of each plate as what most of it is; returns the layers and their voxels."""
    side, height = _cells(block)
    nx, ny, nz = (n // m for n, m in zip(block.codes.shape, (side, side, height), strict=True))
    cells = block.codes.reshape(nx, side, ny, side, nz, height).transpose(0, 2, 4, 1, 3, 5)
    cells = cells.reshape(nx, ny, nz, -1)
    count = REMOVABLE + len(block.names)
    votes = np.stack([(cells == code).sum(axis=-1) for code in range(count)])
    most = votes.argmax(axis=0).astype(np.uint8)
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
    voxels = np.repeat(np.repeat(np.repeat(most, side, axis=0), side, axis=1), height, axis=2)
    return tuple(layers), voxels


def _box(block: StateBlock, corners: tuple[int, ...]) -> Box:
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
        found.extend(BodySolid(_box(block, box), *block.meaning(code)) for box in boxes)
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
        boxes = cover(own, own | later)
        assert boxes is not None
        found.extend(BodySolid(_box(block, box), *block.meaning(code)) for box in boxes)
    return tuple(found)


@dataclass(frozen=True)
class StudCount:
    """Studs that were recognised: on the floors of cavities, of how many cells, and on outer faces."""

    inside: int
    floor_cells: int
    outside: int


def without_studs(block: StateBlock) -> tuple[StateBlock, StudCount]:
    """Take studs off: in a stud cell above a level face, solid voxels that lie all within a stud's round.

    Studs on the lowest floor of a cavity become free space if at least four of five floor cells have one
    (the floor is studded then, and they come back with it). Studs on outer faces become outside space.
    """
    side, height = _cells(block)
    pitch = block.frame.pitch
    tall = int(np.ceil((STUD_HEIGHT - 1e-6) / pitch))
    small = Frame((0.0, 0.0, 0.0), (side, side, tall), pitch)
    stud = Cylinder("z", (STUD / 2, STUD / 2, 0.0), STUD_HEIGHT, STUD_DIAMETER / 2)
    round_ = draw(stud, small, "outward")
    codes = block.codes.copy()
    solid = codes >= FIXED
    inner: list[tuple[slice, slice, slice]] = []
    floor_cells = outer = 0
    for i in range(0, codes.shape[0], side):
        for j in range(0, codes.shape[1], side):
            column = (slice(i, i + side), slice(j, j + side))
            first_floor = True
            for k in range(height, codes.shape[2] - tall, height):
                window = (*column, slice(k, k + tall))
                below = solid[i : i + side, j : j + side, k - 1]
                own = solid[window]
                if not below.all() or own.all():
                    continue
                round_only = not (own & ~round_).any()
                around = codes[window][~round_]
                if not round_only or (around != around[0]).any():
                    first_floor = first_floor and bool(own.any())
                    continue
                has_stud = own.sum() >= 0.6 * round_.sum()
                if around[0] == FREE and first_floor:
                    floor_cells += 1
                    first_floor = False
                    if has_stud:
                        inner.append(window)
                elif around[0] == OUTSIDE and has_stud:
                    outer += 1
                    codes[window] = OUTSIDE
    studded = bool(inner) and len(inner) >= 0.8 * floor_cells
    if studded:
        for window in inner:
            codes[window] = FREE
    found = StudCount(len(inner) if studded else 0, floor_cells, outer)
    return StateBlock(block.frame, codes, block.names), found
