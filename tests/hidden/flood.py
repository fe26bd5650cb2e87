"""Wires as tubes through voxels: an oracle that shares no code with the router.

Every wire is a chain of voxels that keeps off walls and off every other wire, so two middles lie at least two
voxels (1.6 mm) apart: no bundle, no price, no negotiation. What is found here exists; what is not found
proves nothing. Where wires bunch by nature they may overlap: round their own pins and in front of their own
ports; close to solids they come round their pins, in the holes and straight behind them alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import Box, Direction, Vec, axis_of, is_forward, unit_vector

PITCH = 0.8
"""Edge of a voxel in mm."""
ROUND_PINS = 4
"""Voxels round a pin where its own wire may come close to walls and other wires."""
BEHIND_PORT = 6.4
"""Room in mm behind a port where the wires of one coupling come together."""
STRAIGHT_ON = 3.2
"""Room in mm straight behind a hole where a wire lies as it lay in the hole."""
REACH = 6.0
"""So far in mm before a pin its wire may begin."""
CLOSE = 2
"""What stands less than so many voxels behind a port covers it: no wire turns aside before it."""
RESTARTS = 12
Cells = NDArray[np.int64]


@dataclass(frozen=True)
class Terminal:
    """Voxels of which a net must reach one; ``wires``: how many may end there."""

    cells: Cells
    wires: int
    own: Cells
    """Voxels where its wires may come close to other wires."""
    snug: Cells
    """Voxels where its wires may come close to solids: round a pin, in a hole and straight behind it."""


@dataclass
class Grid:
    """One vehicle in voxels, with a rim of solid ones round it.

    Attributes
    ----------
    solid
        (x, y, z) bool: whatever a solid touches.
    low
        Corner of voxel (0, 0, 0) in mm.
    """

    solid: NDArray[np.bool_]
    low: Vec
    taken: NDArray[np.bool_] = field(init=False)

    @classmethod
    def round(cls, hull: Box) -> Grid:
        """Return a grid round a hull in which all is solid."""
        low = tuple(math.floor(value / PITCH) * PITCH - PITCH for value in hull.low)
        shape = [math.ceil((high - first) / PITCH + 1) for first, high in zip(low, hull.high, strict=True)]
        return cls(np.ones(shape, dtype=np.bool_), (low[0], low[1], low[2]))

    def draw(self, box: Box, *, solid: bool) -> None:
        """Draw a box: solid ones fill what they touch, clear ones clear what lies wholly in them."""
        window = []
        for axis in range(3):
            a = (box.low[axis] - self.low[axis]) / PITCH
            b = (box.high[axis] - self.low[axis]) / PITCH
            first, last = (math.floor(a + 1e-6), math.ceil(b - 1e-6))
            if not solid:
                first, last = math.ceil(a - 1e-6), math.floor(b + 1e-6)
            window.append(slice(max(first, 1), min(last, self.solid.shape[axis] - 1)))
        self.solid[window[0], window[1], window[2]] = solid

    def cells(self, box: Box) -> Cells:
        """Return the clear voxels whose middles lie in a box, as flat indices."""
        marks = []
        for axis in range(3):
            middles = self.low[axis] + (np.arange(self.solid.shape[axis]) + 0.5) * PITCH
            marks.append((middles >= box.low[axis] - 1e-6) & (middles <= box.high[axis] + 1e-6))
        inside = marks[0][:, None, None] & marks[1][None, :, None] & marks[2][None, None, :]
        found: Cells = np.flatnonzero(inside & ~self.solid)
        return found

    def pin(self, at: Vec, exit_: Direction, wires: int) -> Terminal | None:
        """Return the first clear voxel before a pin, or else the nearest one; None when none is in reach."""
        step = unit_vector(exit_)
        middles = [
            [a + s * (number + 0.5) * PITCH for a, s in zip(at, step, strict=True)]
            for number in range(math.ceil(REACH / PITCH))
        ]
        r = REACH
        near = self.cells(Box((at[0] - r, at[1] - r, at[2] - r), (at[0] + r, at[1] + r, at[2] + r)))
        for x, y, z in middles:
            r = PITCH / 2
            ahead = self.cells(Box((x - r, y - r, z - r), (x + r, y + r, z + r)))
            if len(ahead):
                return self._pin_at(int(ahead[0]), wires)
        if not len(near):
            return None
        away = np.linalg.norm(self._middles(near) - np.array(at), axis=1)
        return self._pin_at(int(near[int(np.argmin(away))]), wires)

    def _pin_at(self, flat: int, wires: int) -> Terminal:
        x, y, z = self._middles(np.array([flat]))[0].tolist()
        r = ROUND_PINS * PITCH
        near = self.cells(Box((x - r, y - r, z - r), (x + r, y + r, z + r)))
        return Terminal(np.array([flat]), wires, near, near)

    def _middles(self, flat: Cells) -> NDArray[np.float64]:
        cells = np.stack(np.unravel_index(flat, self.solid.shape), axis=-1)
        return np.array(self.low) + (cells + 0.5) * PITCH

    def port(self, hole: Box, out: Direction) -> Terminal:
        """Return the outer end of a port as a terminal."""
        axis = axis_of(out)
        forward = is_forward(out)
        low, high = list(hole.low), list(hole.high)
        if forward:
            low[axis] = high[axis] - PITCH
        else:
            high[axis] = low[axis] + PITCH
        mouth = self.cells(Box((low[0], low[1], low[2]), (high[0], high[1], high[2])))
        behind = (BEHIND_PORT, 0.0) if forward else (0.0, BEHIND_PORT)
        snug = (STRAIGHT_ON, 0.0) if forward else (0.0, STRAIGHT_ON)
        return Terminal(
            mouth,
            99,
            self.cells(_longer(hole, axis, behind, 2 * PITCH)),
            self.cells(_longer(hole, axis, snug, 0.0)),
        )

    def clear_part(self, hole: Box, out: Direction) -> tuple[float, float]:
        """Return width and height in mm of the largest part of a port across x that nothing covers.

        What stands less than `CLOSE` voxels behind the port covers it. What a solid touches is solid here, so
        more may be clear.
        """
        inner = hole.low[0] if is_forward(out) else hole.high[0]
        first = round((inner - self.low[0]) / PITCH)
        layers = slice(first - CLOSE, first) if is_forward(out) else slice(first, first + CLOSE)
        spans = [
            slice(
                math.floor((hole.low[axis] - self.low[axis]) / PITCH + 1e-6),
                math.ceil((hole.high[axis] - self.low[axis]) / PITCH - 1e-6),
            )
            for axis in (1, 2)
        ]
        clear = ~self.solid[layers, spans[0], spans[1]].any(axis=0)
        wide, high = hole.size[1:]
        if clear.all():
            return (wide, high)
        best = (0.0, 0.0)
        for top in range(1, clear.shape[1] + 1):
            for low in range(top):
                row = np.concatenate([[False], clear[:, low:top].all(axis=1), [False]])
                ends = np.flatnonzero(np.diff(row.astype(np.int8))).reshape(-1, 2)
                longest = int((ends[:, 1] - ends[:, 0]).max(initial=0))
                sides = (min(longest * PITCH, wide), min((top - low) * PITCH, high))
                best = max(best, sides, key=lambda two: two[0] * two[1])
        return best

    def passing(self, terminal: Terminal, gate: Box) -> Terminal:
        """Return a terminal whose wires come together, too, in a hole of an inner wall across x."""
        near = self.cells(_longer(gate, 0, (BEHIND_PORT, BEHIND_PORT), 2 * PITCH))
        snug = self.cells(_longer(gate, 0, (STRAIGHT_ON, STRAIGHT_ON), 0.0))
        return Terminal(
            terminal.cells, terminal.wires, np.union1d(terminal.own, near), np.union1d(terminal.snug, snug)
        )


def _longer(box: Box, axis: int, by: tuple[float, float], wider: float) -> Box:
    """Return a box longer along an axis by two lengths, and wider to all other sides."""
    low, high = list(box.low), list(box.high)
    for other in range(3):
        low[other] -= by[0] if other == axis else wider
        high[other] += by[1] if other == axis else wider
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def lay(grid: Grid, nets: Mapping[str, Sequence[Terminal]]) -> dict[str, float] | str:
    """Lay all nets of a vehicle side by side; return their lengths in mm, or the net that found no way."""
    order = list(nets)
    clear = _shrunk(~grid.solid, 1)
    room = np.flatnonzero(_shrunk(~grid.solid, 2))
    why = ""
    for _ in range(RESTARTS):
        taken = np.zeros(grid.solid.size, dtype=np.bool_)
        lengths: dict[str, float] = {}
        for net in order:
            open_ = (clear.ravel() & ~taken).copy()
            for terminal in nets[net]:
                open_[terminal.own[clear.ravel()[terminal.own]]] = True
                open_[terminal.snug] = True
            done = _tree(open_, grid.solid.shape, nets[net], room)
            if done is None:
                why = net
                break
            cells, lengths[net] = done
            mark = np.zeros(grid.solid.size, dtype=np.bool_)
            mark[cells] = True
            taken |= _grown(mark.reshape(grid.solid.shape)).ravel()
        else:
            return lengths
        order.remove(why)
        order.insert(0, why)
    return why


def row_high(diameters: Iterable[float], wide: float) -> float:
    """Return how high a hole is in which wires lie in rows, the thickest lowest, side by side."""
    high = here = across = 0.0
    for diameter in sorted(diameters, reverse=True):
        if across + diameter > wide + 1e-9:
            high, across, here = high + here, 0.0, 0.0
        across += diameter
        here = max(here, diameter)
    return high + here


def _tree(
    open_: NDArray[np.bool_], shape: tuple[int, ...], terminals: Sequence[Terminal], room: Cells
) -> tuple[Cells, float] | None:
    """Join terminals one by one, the nearest first; branches have room for a sleeve or are at pins."""
    strides = np.array([shape[1] * shape[2], shape[2], 1])
    steps = np.concatenate([strides, -strides])
    uses = [0] * len(terminals)
    left = set(range(1, len(terminals)))
    tree: set[int] = set(terminals[0].cells.tolist())
    roomy = np.zeros(len(open_), dtype=np.bool_)
    roomy[room] = True
    on_way: set[int] = set()
    joined = [0]
    length = 0.0
    while left:
        sources = {c for c in on_way if roomy[c]}
        for number in joined:
            if uses[number] < terminals[number].wires:
                sources |= set(terminals[number].cells.tolist())
        goals = {c: n for n in left for c in terminals[n].cells.tolist()}
        way = _way(open_, steps, sources, set(goals))
        if way is None:
            return None
        for number in joined:
            if way[0] in set(terminals[number].cells.tolist()):
                uses[number] += 1
        reached = goals[way[-1]]
        uses[reached] += 1
        left.discard(reached)
        joined.append(reached)
        on_way |= set(way)
        tree |= set(way)
        length += _taut(way, open_, shape)
    return np.array(sorted(on_way), dtype=np.int64), length


def _way(open_: NDArray[np.bool_], steps: Cells, sources: set[int], goals: set[int]) -> list[int] | None:
    """Return a shortest way in steps along axes, breadth first."""
    came = np.full(len(open_), -1, dtype=np.int64)
    front = np.array(sorted(sources), dtype=np.int64)
    if not len(front):
        return None
    came[front] = front
    goal = np.zeros(len(open_), dtype=np.bool_)
    goal[list(goals)] = True
    while len(front):
        hit = front[goal[front]]
        if len(hit):
            way = [int(hit[0])]
            while came[way[-1]] != way[-1]:
                way.append(int(came[way[-1]]))
            return way[::-1]
        following = (front[None, :] + steps[:, None]).ravel()
        before = np.tile(front, len(steps))
        fresh = (came[following] < 0) & (open_[following] | goal[following])
        following, first = np.unique(following[fresh], return_index=True)
        came[following] = before[fresh][first]
        front = following
    return None


def _taut(way: Sequence[int], open_: NDArray[np.bool_], shape: tuple[int, ...]) -> float:
    """Return the length in mm of a way with all corners cut that can be cut in sight of one another."""
    points = np.stack(np.unravel_index(np.array(way), shape), axis=-1).astype(float)
    grid = open_.reshape(shape)
    total, at = 0.0, 0
    while at < len(points) - 1:
        far = at + 1
        while far + 1 < len(points) and _sees(grid, points[at], points[far + 1]):
            far += 1
        total += float(np.linalg.norm(points[far] - points[at])) * PITCH
        at = far
    return total


def _sees(grid: NDArray[np.bool_], a: NDArray[np.float64], b: NDArray[np.float64]) -> bool:
    count = int(2 * np.abs(b - a).max()) + 2
    cells = np.rint(a + (b - a) * np.linspace(0, 1, count)[:, None]).astype(np.int64)
    return bool(grid[cells[1:-1, 0], cells[1:-1, 1], cells[1:-1, 2]].all())


def _grown(marked: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return what is marked or touches what is marked (26 neighbours)."""
    out = marked
    for axis in range(3):
        wide = out.copy()
        after = [slice(None)] * 3
        before = [slice(None)] * 3
        after[axis], before[axis] = slice(1, None), slice(None, -1)
        wide[tuple(after)] |= out[tuple(before)]
        wide[tuple(before)] |= out[tuple(after)]
        out = wide
    return out


def _shrunk(clear: NDArray[np.bool_], by: int) -> NDArray[np.bool_]:
    solid = ~clear
    for _ in range(by):
        solid = _grown(solid)
    return ~solid
