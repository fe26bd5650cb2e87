"""Where on the stud grid a body can be opened for wires: a brick with a hole, or bricks left out.

Every upright brick place of the grid, along both level axes, and every column of a stud, upwards, is
followed from clear room to clear room through the bricks between them. Nothing is opened where something
is built in or must stay clear, nor through more than three studs of wall. A removable brick that stays may be
exchanged for one with a hole like any other.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.boxes import removable_boxes
from fitplan.lattice.cover import TENTHS
from fitplan.lattice.frame import Frame
from fitplan.lattice.space import VehicleSpace
from fitplan.lattice.states import FREE_BIT, KEEP_CLEAR_BIT, OUTSIDE_BIT, PART_BIT
from fitplan.model.holes import ABOVE_STUD, PRICES, SQUARE, SQUARE_FROM
from fitplan.model.solids import AXES, Box, Direction, plane_of
from fitplan.model.vehicle import Hole, HoleKind, Vehicle
from fitplan.planning.body_rooms import BodyRooms
from fitplan.units import BRICK, PITCH, STUD

THICKEST = 24.0
"""A wall thicker than this (mm) is not opened: three holes in a row are the most that is threaded."""
AHEAD_MM = STUD
"""So far straight on wires want to go before they turn."""
Bools: TypeAlias = NDArray[np.bool_]


@dataclass(frozen=True)
class HoleCandidate:
    """A hole, what it joins, and whether wires get on well behind it.

    Attributes
    ----------
    joins
        Rooms by number, or ``+x`` and ``-x`` for the ends of the body.
    roomy
        Whether straight before and behind it, inside the body, nothing stands for `AHEAD_MM`.
    """

    hole: Hole
    joins: tuple[int | str, int | str]
    roomy: bool = True


@dataclass(frozen=True, eq=False)
class _Drawn:
    """A body as it is looked at: where wires surely may be, and what the voxels hold."""

    vehicle: Vehicle
    frame: Frame
    rooms: BodyRooms
    free: NDArray[np.bool_]
    brick: NDArray[np.bool_]
    """Where nothing but bricks occurs, fixed or removable ones."""
    outside: NDArray[np.bool_]
    shut: NDArray[np.bool_]
    """Where nothing may be opened."""


def hole_candidates(vehicle: Vehicle, removed: frozenset[str], rooms: BodyRooms) -> tuple[HoleCandidate, ...]:
    """Return all holes that join two rooms of a body, or a room and the outside at an end.

    Parameters
    ----------
    removed
        Bricks that are out.
    rooms
        The rooms of the body without these bricks.
    """
    space = VehicleSpace.of(vehicle, removed=removed)
    bare = VehicleSpace.of(replace(vehicle, built_in=()), removed=removed)
    bits = bare.bits
    clear = bits.dtype.type(FREE_BIT | OUTSIDE_BIT)
    never = bits.dtype.type(KEEP_CLEAR_BIT | PART_BIT)
    shut = (space.bits != bits) | ((bits & never) != 0)
    drawn = _Drawn(
        vehicle,
        space.frame,
        rooms,
        space.wire_free("outward"),
        (bits & (clear | never)) == 0,
        bits == OUTSIDE_BIT,
        shut,
    )
    found: list[HoleCandidate] = []
    for low, high in _brick_rows(vehicle):
        for j in range(vehicle.studs_wide):
            found += _along(drawn, 0, (j * STUD, (j + 1) * STUD), (low, high))
        for i in range(vehicle.studs_long):
            found += _along(drawn, 1, (i * STUD, (i + 1) * STUD), (low, high))
    for i in range(vehicle.studs_long):
        for j in range(vehicle.studs_wide):
            found += _along(drawn, 2, (i * STUD, (i + 1) * STUD), (j * STUD, (j + 1) * STUD))
    return tuple(found)


def gaps_of(vehicle: Vehicle, brick: str) -> Iterator[Hole]:
    """Yield the gaps that a removable brick leaves in an end wall: ports for wires."""
    hull = vehicle.hull
    for box in removable_boxes(vehicle)[brick]:
        low, high = (tuple(c / TENTHS for c in corner) for corner in (box[:3], box[3:]))
        whole = Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
        for out in ("+x", "-x"):
            edge = hull.high[0] if out == "+x" else hull.low[0]
            if abs(plane_of(whole, out) - edge) < 1e-6 and min(whole.size[1:]) >= 1.0:
                yield Hole(f"gap of {brick}", "gap of a brick", whole, "x", out, 1, 0.0)


def _brick_rows(vehicle: Vehicle) -> list[tuple[float, float]]:
    """Return underside and top of each row of bricks: layer by layer, or from the underside of the body."""
    found: list[tuple[float, float]] = []
    layers = [(layer.base, layer.plates) for layer in vehicle.layers]
    if not layers:
        layers = [(vehicle.base, math.floor((vehicle.top - vehicle.base) / (BRICK / 3) + 1e-6))]
    for base, plates in layers:
        for number in range(plates // 3):
            low = round(base + number * BRICK, 4)
            found.append((low, round(low + BRICK, 4)))
    return list(dict.fromkeys(found))


def _along(
    drawn: _Drawn, axis: int, one: tuple[float, float], other: tuple[float, float]
) -> Iterator[HoleCandidate]:
    """Yield the holes along an axis through one place of the grid; spans on the other axes are in order."""
    yield from _through(drawn, axis, one, other, "brick left out")
    if axis < 2:
        yield from _through(drawn, axis, one, other, "brick with a hole")


def _through(
    drawn: _Drawn, axis: int, one: tuple[float, float], other: tuple[float, float], kind: HoleKind
) -> Iterator[HoleCandidate]:
    across = [k for k in range(3) if k != axis]
    cell = {across[0]: one, across[1]: other}
    passed = dict(cell)
    if kind == "brick with a hole":
        aside = (one[0] + one[1]) / 2
        passed = {
            across[0]: (aside - SQUARE / 2, aside + SQUARE / 2),
            2: (other[0] + SQUARE_FROM, other[0] + SQUARE_FROM + SQUARE),
        }
    elif axis < 2 and drawn.vehicle.floor_finish == "studded":
        passed[2] = (other[0] + ABOVE_STUD, other[1])
    way, brick = _window(drawn, axis, passed), _window(drawn, axis, cell)
    free: Bools = _every(drawn.free[way], axis)
    if not free.any() or free.all():
        return
    outside: Bools = _every(drawn.outside[way], axis)
    shut: Bools = ~_every(~drawn.shut[brick], axis)
    solid: Bools = _every(drawn.brick[brick], axis)
    some: Bools = ~_every(~drawn.brick[way], axis)
    edges = drawn.frame.edges(axis)
    for first, last, out in _walls(free, outside, some, axis):
        if shut[first:last].any() or not some[first:last].any():
            continue
        low, high = float(edges[first]), float(edges[last])
        length = high - low
        if length > THICKEST + 1e-6:
            continue
        if kind == "brick with a hole" and not (solid[first:last].all() and _on_grid(low) and _on_grid(high)):
            continue
        pitch = BRICK if axis == 2 else STUD
        bricks = (
            math.ceil(length / pitch - 0.3)
            if axis == 2
            else math.ceil(high / pitch - 1e-6) - math.floor(low / pitch + 1e-6)
        )
        bricks = max(bricks, 1)
        clear = passed if kind == "brick with a hole" else cell
        box = _box(axis, clear, (low, high))
        ends = _joined(drawn, axis, passed, (first, last), out, edges)
        if ends is None or ends[0] == ends[1]:
            continue
        name = _name(drawn.vehicle, kind, axis, box, out, bricks)
        hole = Hole(name, kind, box, AXES[axis], out, bricks, bricks * PRICES[kind])
        yield HoleCandidate(hole, ends, _roomy(free, (first, last), out))


def _window(drawn: _Drawn, axis: int, spans: dict[int, tuple[float, float]]) -> tuple[slice, ...]:
    """Return the voxels of a bar along an axis through the whole frame."""
    box = drawn.frame.box
    low, high = list(box.low), list(box.high)
    for k, (a, b) in spans.items():
        low[k], high[k] = a, b
    return drawn.frame.box_slice(Box((low[0], low[1], low[2]), (high[0], high[1], high[2])), "outward")


def _every(cells: Bools, axis: int) -> Bools:
    """Return (n,) bool, whether all cells of each slab across an axis are set."""
    slabs = np.moveaxis(cells, axis, 0)
    return np.asarray(slabs.reshape(len(slabs), -1).all(axis=1))


def _walls(
    free: NDArray[np.bool_], outside: NDArray[np.bool_], some: NDArray[np.bool_], axis: int
) -> Iterator[tuple[int, int, Direction | None]]:
    """Yield the runs of slabs that are not clear: between two clear ones, or between one and an end."""
    count = len(free)
    clear = np.flatnonzero(free)
    for a, b in zip(clear[:-1].tolist(), clear[1:].tolist(), strict=True):
        if b - a > 1 and not outside[a + 1 : b].any():
            yield a + 1, b, None
    if axis != 0:
        return
    last = int(clear[-1]) + 1
    walls = np.flatnonzero(some[last:])
    if len(walls) and outside[last + int(walls[-1]) + 1 :].all():
        yield last, last + int(walls[-1]) + 1, "+x"
    first = int(clear[0])
    walls = np.flatnonzero(some[:first])
    if len(walls) and outside[: int(walls[0])].all() and count:
        yield int(walls[0]), first, "-x"


def _roomy(free: Bools, run: tuple[int, int], out: Direction | None) -> bool:
    """Return whether the slabs before and behind a run are clear, but those outside an end wall."""
    ahead = math.ceil(AHEAD_MM / PITCH)
    below, above = free[max(run[0] - ahead, 0) : run[0]], free[run[1] : run[1] + ahead]
    return bool((out == "-x" or below.all()) and (out == "+x" or above.all()))


def _joined(
    drawn: _Drawn,
    axis: int,
    passed: dict[int, tuple[float, float]],
    run: tuple[int, int],
    out: Direction | None,
    edges: NDArray[np.float64],
) -> tuple[int | str, int | str] | None:
    """Return what the slabs on both sides of a run belong to; None when one is in no room."""

    def room(slab: int) -> int:
        point = np.zeros(3)
        for k, (a, b) in passed.items():
            point[k] = (a + b) / 2
        point[axis] = (edges[slab] + edges[slab + 1]) / 2
        return int(drawn.rooms.at(point))

    before: int | str = "-x" if out == "-x" else room(run[0] - 1)
    after: int | str = "+x" if out == "+x" else room(run[1])
    return (before, after) if before and after else None


def _box(axis: int, spans: dict[int, tuple[float, float]], along: tuple[float, float]) -> Box:
    low, high = [0.0] * 3, [0.0] * 3
    for k, (a, b) in {**spans, axis: along}.items():
        low[k], high[k] = round(a, 4), round(b, 4)
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def _on_grid(x: float) -> bool:
    return abs(x / STUD - round(x / STUD)) < PITCH / STUD / 10


def _name(vehicle: Vehicle, kind: HoleKind, axis: int, box: Box, out: Direction | None, bricks: int) -> str:
    """Say what is opened and where, so that no two holes of a body have one name."""
    wall = {"+x": "front wall", "-x": "rear wall"}.get(out or "", "inner wall" if axis < 2 else "deck")
    x, y, _ = box.center
    i, j = math.floor(x / STUD) + 1, math.floor(y / STUD) + 1
    where = [f"stud {j} from the right"] if out else [f"stud {i} from the rear, {j} from the right"]
    level = round(box.low[2] - (SQUARE_FROM if kind == "brick with a hole" else 0.0), 1)
    where.append(f"{level:g} mm above the rail")
    along = {0: "", 1: ", crosswise", 2: ", upright"}[axis]
    which = f"the {bricks} bricks" if bricks > 1 else "the brick"
    instead = "ones with a hole in their place" if bricks > 1 else "one with a hole in its place"
    return (
        f"{which} in the {wall}, {', '.join(where)}{along}"
        f" ({instead if kind == 'brick with a hole' else 'left out'})"
    )
