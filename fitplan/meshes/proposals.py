"""Openings, windows and ports that the shape of a body suggests; a person confirms them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear import label_spaces, largest_box
from fitplan.lattice.frame import Frame
from fitplan.meshes.blocks import FIXED, FREE, OUTSIDE, StateBlock
from fitplan.meshes.fill import grown
from fitplan.model.solids import DIRECTIONS, SIDE_NAMES, Box, Direction, axis_of, is_forward
from fitplan.model.vehicle import Opening, Port, Window
from fitplan.units import BRICK, PLATE, STUD, STUD_HEIGHT

LEAST_WINDOW = 8.0
"""A gap at least so wide and high (mm) is proposed as a window; a smaller one as a hole for wires."""
LEAST_PORT = 2.0
_LEAST_DOOR, _WIDEST_DOOR = 2 * BRICK, 4 * STUD
"""A gap at least so high, no wider, and down to the floor is a door; common practice, no source."""
_LEVEL = 4
_MOST_ROOFS = 4
_SIDES: dict[Direction, str] = {way: SIDE_NAMES[way] for way in DIRECTIONS[:4]} | {"-z": "floor"}


class Gaps(NamedTuple):
    """Windows and ports that were found."""

    windows: tuple[Window, ...]
    ports: tuple[Port, ...]


def propose_openings(block: StateBlock) -> tuple[Opening, ...]:
    """Return for each cavity the roofs above it as openings.

    A roof reaches from the highest level at which the cavity is nearly as wide as anywhere below (the ceiling
    of a box, the widest part of a barrel) up to the outside. What is left of the cavity beside it, if it is
    more than a fifth, gets a roof of its own.
    """
    names, count = label_spaces(block.codes == FREE)
    found: list[Opening] = []
    for number in range(1, count + 1):
        own = names == number
        left = own.any(axis=2)
        whole = int(left.sum())
        for _ in range(_MOST_ROOFS):
            if 5 * int(left.sum()) < whole:
                break
            pieces, _ = label_spaces(left[None])
            largest = int(np.bincount(pieces.reshape(-1))[1:].argmax()) + 1
            x, y, level, top = _roof(block, own & (pieces[0] == largest)[:, :, None])
            left[x, y] = False
            if top <= level:
                continue  # open above: nothing lifts off
            name = "roof" if not found else f"roof {len(found) + 1}"
            box = _box(block.frame, (x.start, y.start, level), (x.stop, y.stop, top))
            found.append(Opening(name, box, "+z"))
    return tuple(found)


def _roof(block: StateBlock, own: NDArray[np.bool_]) -> tuple[slice, slice, int, int]:
    """Return the stretch along x and y of the highest part of a space, and its roof's underside and top."""
    heights = np.where(own.any(axis=2), own.shape[2] - own[:, :, ::-1].argmax(axis=2), 0)
    crown = heights > heights.max() - _LEVEL
    xs = np.flatnonzero(crown.any(axis=1))
    x = slice(int(xs[0]), int(xs[-1]) + 1)
    ys = np.flatnonzero(own[x].any(axis=(0, 2)))
    y = slice(int(ys[0]), int(ys[-1]) + 1)
    areas = own[x, y].sum(axis=(0, 1))
    level = int(np.flatnonzero(areas >= 0.9 * areas.max())[-1]) + 1
    solid = np.flatnonzero((block.codes[x, y, level:] >= FIXED).any(axis=(0, 1)))
    return x, y, level, level + (int(solid[-1]) + 1 if len(solid) else 0)


def propose_gaps(block: StateBlock) -> Gaps:
    """Return the gaps in the walls and the floor through which a cavity is seen straight from outside."""
    windows: list[Window] = []
    ports: list[Port] = []
    for side, word in _SIDES.items():
        boxes = sorted(_gaps(block, side), key=lambda box: (-box.volume, box.low))
        across = [axis for axis in range(3) if axis != axis_of(side)]
        for box in boxes:
            least = min(box.size[axis] for axis in across)
            if side != "-z" and _is_door(block, box, side):
                number = sum(entry.name.startswith(f"{word} door") for entry in ports) + 1
                ports.append(Port(f"{word} door" + (f" {number}" if number > 1 else ""), box, side))
                continue
            if least >= LEAST_WINDOW - 1e-6:
                number = sum(entry.out == side for entry in windows) + 1
                windows.append(Window(f"{word} gap" + (f" {number}" if number > 1 else ""), box, side))
            if least >= LEAST_PORT - 1e-6:
                number = sum(entry.name.startswith(f"{word} hole") for entry in ports) + 1
                ports.append(Port(f"{word} hole" + (f" {number}" if number > 1 else ""), box, side))
    return Gaps(tuple(windows), tuple(ports))


def _is_door(block: StateBlock, box: Box, side: Direction) -> bool:
    """Tell whether a gap is a door: higher than wide, and down to the floor behind it."""
    axis, frame = axis_of(side), block.frame
    wide, high = box.size[1 - axis], box.size[2]
    if high < max(_LEAST_DOOR, wide) - 1e-6 or wide > _WIDEST_DOOR + 1e-6:
        return False
    low, last = (
        [round((c - o) / frame.pitch) for c, o in zip(end, frame.origin, strict=True)]
        for end in (box.low, box.high)
    )
    window = [slice(a, b) for a, b in zip(low, last, strict=True)]
    behind = low[axis] - 1 if is_forward(side) else last[axis]
    if not 0 <= behind < frame.shape[axis]:
        return False
    window[axis] = slice(behind, behind + 1)
    window[2] = slice(0, low[2])
    below = block.codes[tuple(window)][..., ::-1] == FREE
    runs = np.logical_and.accumulate(below, axis=2).sum(axis=2)
    return float(np.median(runs)) * frame.pitch <= PLATE + STUD_HEIGHT


def _gaps(block: StateBlock, side: Direction) -> list[Box]:
    axis = axis_of(side)
    # Depth counts from the outside inwards: index 0 is the outermost voxel.
    codes = np.moveaxis(block.codes, axis, 0)
    if is_forward(side):
        codes = codes[::-1]
    seen = (codes != OUTSIDE).argmax(axis=0)
    first = np.take_along_axis(codes, seen[None], axis=0)[0]
    open_ = first == FREE
    solid_depth = np.where((codes >= FIXED).any(axis=0), (codes >= FIXED).argmax(axis=0), codes.shape[0])
    names, count = label_spaces(open_[None])
    found = []
    for number in range(1, count + 1):
        rectangle = largest_box(names == number)
        window = (slice(rectangle.y0, rectangle.y1), slice(rectangle.z0, rectangle.z1))
        inner = int(seen[window].max())
        ring = grown(names == number)[0] & (names[0] != number)
        outer = min(int(solid_depth[ring].min()), inner)
        inner = max(inner, _wall(codes, ring, outer))
        found.append(_turned(block.frame, axis, side, (outer, inner), rectangle))
    return found


def _wall(codes: NDArray[np.uint8], ring: NDArray[np.bool_], outer: int) -> int:
    """Return how deep the wall round a gap reaches; the gap itself runs on into the cavity."""
    around = (codes[outer:][:, ring] >= FIXED).mean(axis=1) >= 0.5
    ends = np.flatnonzero(~around)
    return outer + (int(ends[0]) if len(ends) else 0)


def _turned(
    frame: Frame, axis: int, side: Direction, depth: tuple[int, int], rectangle: tuple[int, ...]
) -> Box:
    count = frame.shape[axis]
    low_depth, high_depth = (count - depth[1], count - depth[0]) if is_forward(side) else depth
    low = [rectangle[1], rectangle[2]]
    high = [rectangle[4], rectangle[5]]
    low.insert(axis, low_depth)
    high.insert(axis, high_depth)
    return _box(frame, (low[0], low[1], low[2]), (high[0], high[1], high[2]))


def _box(frame: Frame, low: tuple[int, int, int], high: tuple[int, int, int]) -> Box:
    corners = [
        tuple(round(o + int(n) * frame.pitch, 4) for o, n in zip(frame.origin, corner, strict=True))
        for corner in (low, high)
    ]
    return Box(corners[0], corners[1])  # type: ignore[arg-type]
