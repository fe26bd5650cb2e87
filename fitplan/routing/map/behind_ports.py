"""Room straight behind ports: what comes out of a hole lies there as it lay in the hole.

A voxel behind a hole is close to the wall round the hole, but what goes straight on through the hole does not
meet that wall. So there the wall does not count, and where the whole opening goes on free nothing but its
own sides does. Where something stands close behind the hole, wires turn aside in the gap before it, or pass
slantwise between it and the edge of the hole.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.clear_radius import clear_squares, radius_of
from fitplan.lattice.frame import Frame
from fitplan.model.solids import axis_of, is_forward
from fitplan.model.vehicle import Port
from fitplan.routing.map.exact_clearance import AT_THE_POINT, IN_THE_VOXEL, clear_nearby

DEEP = 4
"""So many voxels behind a port its wall does not count: as far as round the end of a wire."""
_FARTHEST = 6
"""What is farther off than so many voxels is in no wire's way."""


def straight_behind(port: Port, window: tuple[slice, slice, slice], deep: int) -> tuple[slice, slice, slice]:
    """Return the voxels straight behind those of a port, so many layers of them."""
    axis = axis_of(port.out)
    found, own = list(window), window[axis]
    if is_forward(port.out):
        found[axis] = slice(max(own.start - deep, 0), own.start)
    else:
        found[axis] = slice(own.stop, own.stop + deep)
    return (found[0], found[1], found[2])


def lift_behind(
    squares: NDArray[np.uint32],
    free: NDArray[np.bool_],
    port: Port,
    window: tuple[slice, slice, slice],
    frame: Frame,
) -> None:
    """Raise the clear radius straight behind a port, in place.

    No wire is counted as being nearer to the sides of the opening than its voxel's middle is, but for half a
    voxel, which drawing the opening in voxels takes.

    Parameters
    ----------
    squares, free
        (x, y, z), see `fitplan.lattice.clear_radius.clear_squares`.
    window
        The port's voxels.
    """
    axis = axis_of(port.out)
    inwards = slice(None, None, -1) if is_forward(port.out) else slice(None)
    room, raised = np.moveaxis(free, axis, 0)[inwards], np.moveaxis(squares, axis, 0)[inwards]
    first = len(room) - window[axis].start if is_forward(port.out) else window[axis].stop
    others = [other for other in range(3) if other != axis]
    across = tuple(window[other] for other in others)
    wider = tuple(slice(max(part.start - _FARTHEST, 0), part.stop + _FARTHEST) for part in across)
    there = room[(slice(first, first + DEEP), *across)]
    if not there.size:
        return
    behind = np.ascontiguousarray(room[(slice(first, first + DEEP + _FARTHEST), *wider)])
    clear = np.minimum(radius_of(clear_squares(behind), frame.pitch), _FARTHEST * frame.pitch)
    middle = tuple(
        slice(part.start - grown.start, part.stop - grown.start)
        for part, grown in zip(across, wider, strict=True)
    )
    off_walls = clear[(slice(0, len(there)), *middle)]
    off_sides = _off_sides(port, window, frame, others)
    whole = np.logical_and.accumulate(there.all(axis=(1, 2)))[:, None, None]
    radius = np.where(whole, off_sides, np.minimum(off_walls, off_sides))
    found = np.floor((2 * radius / frame.pitch) ** 2 + 1e-6).astype(np.uint32)
    target = raised[(slice(first, first + DEEP), *across)]
    np.maximum(target, found, out=target, where=np.logical_and.accumulate(there, axis=0))


def lift_aside(
    squares: NDArray[np.uint32],
    free: NDArray[np.bool_],
    port: Port,
    window: tuple[slice, slice, slice],
    frame: Frame,
    boxes: Callable[[], NDArray[np.float64]],
) -> None:
    """Raise the clear radius round a port that something stands behind, in place.

    Where nothing goes straight on wires turn aside in the gap before what covers the port, and one of two
    voxels has no voxel in its middle. So the largest ball counts that has its middle anywhere in the voxel,
    among exact boxes: so close to a port a wire's middle need not be its radius off everything. Where a part
    of the hole is covered, by studs of the floor say, wires get past what covers it: there counts how far the
    voxel's own middle is off exact boxes, as voxels leave nothing between a stud and the edge of the hole.

    Parameters
    ----------
    squares, free, window
        As for `lift_behind`.
    boxes
        Returns (n, 6) float64, low and high corners in mm of all that is in the way; asked where it matters.
    """
    axis, behind = axis_of(port.out), straight_behind(port, window, DEEP)
    there = free[behind]
    if there.all() or not there.any():
        return
    by, steps = (1, AT_THE_POINT) if there.all(axis=axis).any() else (DEEP, IN_THE_VOXEL)
    round_it = tuple(
        part if number == axis else slice(max(part.start - by, 0), part.stop + by)
        for number, part in enumerate(behind)
    )
    cells = np.argwhere(free[round_it]) + [part.start for part in round_it]
    radius = clear_nearby(boxes(), frame.centers(cells), DEEP * frame.pitch, steps)
    at = tuple(cells.T)
    squares[at] = np.maximum(squares[at], np.floor((2 * radius / frame.pitch) ** 2 + 1e-6).astype(np.uint32))


def _off_sides(
    port: Port, window: tuple[slice, slice, slice], frame: Frame, others: list[int]
) -> NDArray[np.float64]:
    """Return (1, a, b) float64, how far in mm a port's voxels are off its sides, at the most."""
    rows = []
    for axis in others:
        middles = frame.origin[axis] + (np.arange(window[axis].start, window[axis].stop) + 0.5) * frame.pitch
        rows.append(np.minimum(middles - port.box.low[axis], port.box.high[axis] - middles))
    found: NDArray[np.float64] = np.minimum(rows[0][:, None], rows[1])[None] + frame.pitch / 2
    return found
