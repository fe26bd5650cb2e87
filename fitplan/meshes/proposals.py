"""Openings, windows and ports that the shape of a body suggests; a person confirms them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear import label_spaces, largest_box
from fitplan.lattice.frame import Frame
from fitplan.meshes.blocks import FIXED, FREE, OUTSIDE, StateBlock
from fitplan.model.solids import AXES, Box, Direction
from fitplan.model.vehicle import Opening, Port, Window

LEAST_WINDOW = 8.0
"""A gap at least so wide and high (mm) is proposed as a window; a smaller one as a hole for wires."""
LEAST_PORT = 2.0
_SIDES: tuple[tuple[Direction, str], ...] = (
    ("+x", "front"), ("-x", "rear"), ("+y", "left"), ("-y", "right"), ("-z", "floor"),
)  # fmt: skip


class Gaps(NamedTuple):
    """Windows and ports that were found."""

    windows: tuple[Window, ...]
    ports: tuple[Port, ...]


def propose_openings(block: StateBlock) -> tuple[Opening, ...]:
    """Return for each cavity the roof above it as an opening, from its ceiling up to the outside."""
    free = block.codes == FREE
    names, count = label_spaces(free)
    found = []
    for number in range(1, count + 1):
        own = names == number
        levels = np.flatnonzero(own.any(axis=(0, 1)))
        top = int(levels[-1]) + 1
        under = own[:, :, :top].any(axis=2) & own[:, :, max(top - 4, 0) : top].any(axis=2)
        xs, ys = np.flatnonzero(under.any(axis=1)), np.flatnonzero(under.any(axis=0))
        window = (slice(xs[0], xs[-1] + 1), slice(ys[0], ys[-1] + 1))
        above = block.codes[*window, top:] >= FIXED
        heights = np.flatnonzero(above.any(axis=(0, 1)))
        lid = int(heights[-1]) + 1 if len(heights) else 0
        name = "roof" if number == 1 else f"roof {number}"
        box = _box(block.frame, (int(xs[0]), int(ys[0]), top), (int(xs[-1]) + 1, int(ys[-1]) + 1, top + lid))
        found.append(Opening(name, box, "+z"))
    return tuple(found)


def propose_gaps(block: StateBlock) -> Gaps:
    """Return the gaps in the walls and the floor through which a cavity is seen straight from outside."""
    windows: list[Window] = []
    ports: list[Port] = []
    for side, word in _SIDES:
        boxes = sorted(_gaps(block, side), key=lambda box: (-box.volume, box.low))
        across = [axis for axis in range(3) if AXES[axis] != side[1]]
        for box in boxes:
            least = min(box.size[axis] for axis in across)
            if least >= LEAST_WINDOW - 1e-6:
                number = sum(entry.out == side for entry in windows) + 1
                windows.append(Window(f"{word} gap" + (f" {number}" if number > 1 else ""), box, side))
            if least >= LEAST_PORT - 1e-6:
                number = sum(entry.out == side for entry in ports) + 1
                ports.append(Port(f"{word} hole" + (f" {number}" if number > 1 else ""), box, side))
    return Gaps(tuple(windows), tuple(ports))


def _gaps(block: StateBlock, side: Direction) -> list[Box]:
    axis = AXES.index(side[1])
    # Depth counts from the outside inwards: index 0 is the outermost voxel.
    codes = np.moveaxis(block.codes, axis, 0)
    if side[0] == "+":
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
        wide = (
            slice(max(rectangle.y0 - 1, 0), rectangle.y1 + 1),
            slice(max(rectangle.z0 - 1, 0), rectangle.z1 + 1),
        )
        outer = min(int(solid_depth[wide].min()), inner)
        inner = max(inner, _wall(codes, window, wide, outer))
        found.append(_turned(block.frame, axis, side, (outer, inner), rectangle))
    return found


def _wall(
    codes: NDArray[np.uint8], window: tuple[slice, slice], wide: tuple[slice, slice], outer: int
) -> int:
    """How deep the wall round a gap reaches: the gap runs on into the cavity when it is drawn as free."""
    ring = np.zeros(codes.shape[1:], dtype=np.bool_)
    ring[wide] = True
    ring[window] = False
    around = (codes[outer:][:, ring] >= FIXED).mean(axis=1) >= 0.5
    ends = np.flatnonzero(~around)
    return outer + (int(ends[0]) if len(ends) else 0)


def _turned(
    frame: Frame, axis: int, side: Direction, depth: tuple[int, int], rectangle: tuple[int, ...]
) -> Box:
    count = frame.shape[axis]
    low_depth, high_depth = (count - depth[1], count - depth[0]) if side[0] == "+" else depth
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
