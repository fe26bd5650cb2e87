"""The shortest way of a wire alone through a built vehicle: an any-angle reference at half a millimetre.

It knows nothing of the router. What is in the way comes from the checker's exact solids; a wire keeps off
them by its radius, round its ends and ports by 0.4 mm. On a grid of 0.5 mm scipy's Dijkstra finds a way over
26 neighbours, and its corners are cut where the straight line stays off everything, in exact millimetres.

A way that is no longer than a known one lies wholly in the ellipsoid about its ends that is as long: nothing
else is looked at.
"""

from __future__ import annotations

import math
from itertools import pairwise, product

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

from fitplan.model.solids import Box, Vec
from fitplan.verify.body import STATE_CODES, Body, holds
from fitplan.verify.distance import line_to_boxes, line_to_shape, point_to_prism
from fitplan.verify.nearest import nearest
from fitplan.verify.scene import BLOCKED, Site
from fitplan.verify.shapes import Prism, Shape

Floats = NDArray[np.float64]
PITCH = 0.5
NEAR_END = 4.0
"""Round ends and ports a wire keeps off less (mm, along each axis)."""
MIDDLE = 0.4
SLIP = 0.05
"""What the checker lets a wire lie nearer to something (mm)."""
_SAMPLE = 0.2
_CODES = [STATE_CODES[state] for state in BLOCKED]


class Room:
    """What wires keep off in one vehicle."""

    def __init__(self, site: Site) -> None:
        self.body: Body = site.wire_room
        cells = self.body.cells
        blocked = np.isin(self.body.codes[cells.governs], _CODES)
        shapes: list[Shape] = [shape for part in site.parts for shape in part.envelope]
        shapes += [
            shape
            for part in site.parts
            for clearance, shape in part.clearances
            if clearance.kind not in ("lead", "air") and clearance.needed == "always"
        ]
        boxes = [shape for shape in shapes if isinstance(shape, Box)] + [box for _, box in site.shelves]
        self.low = np.concatenate([cells.low[blocked], np.array([b.low for b in boxes]).reshape(-1, 3)])
        self.high = np.concatenate([cells.high[blocked], np.array([b.high for b in boxes]).reshape(-1, 3)])
        self.prisms = [shape for shape in shapes if isinstance(shape, Prism)]
        self.ports = [port.box for port in site.vehicle.ports]
        self.round = self._sampled()

    def _sampled(self) -> cKDTree | None:
        """Return points of what is round or sloping in the body: of cells that outlines pass."""
        found = []
        for box, stack in self.body.mixed:
            axes = [
                np.linspace(low, high, max(math.ceil((high - low) / _SAMPLE), 1) + 1)
                for low, high in zip(box.low, box.high, strict=True)
            ]
            for point in product(*(axis.tolist() for axis in axes)):
                spot: Vec = (point[0], point[1], point[2])
                owner = next(
                    (i for i in reversed(stack[1:]) if holds(self.body.pieces[i].shape, spot)), stack[0]
                )
                if self.body.codes[owner] in _CODES:
                    found.append(spot)
        return cKDTree(np.array(found)) if found else None

    def close(self, points: Floats, ends: Floats) -> NDArray[np.bool_]:
        """Return (n,) which points lie close to an end or a port."""
        found: NDArray[np.bool_] = (np.abs(points[:, None] - ends[None]).max(axis=2) <= NEAR_END).any(axis=1)
        for box in self.ports:
            found |= (
                (points >= np.array(box.low) - NEAR_END) & (points <= np.array(box.high) + NEAR_END)
            ).all(1)
        return found

    def free(
        self, low: Floats, shape: tuple[int, int, int], ends: Floats, radius: float
    ) -> NDArray[np.bool_]:
        """Return which points of a grid are far enough off everything for a wire with these ends."""
        axes = [low[i] + PITCH * np.arange(shape[i]) for i in range(3)]
        grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
        wanted = np.where(self.close(grid.reshape(-1, 3), ends), min(radius, MIDDLE), radius).reshape(shape)
        wanted -= SLIP
        free = np.ones(shape, dtype=bool)
        hull = self.body.hull
        free &= ((grid > np.array(hull.low)) & (grid < np.array(hull.high))).all(axis=-1)
        for one, other in zip(self.low, self.high, strict=True):
            window = _window(low, shape, one - radius, other + radius)
            if window is not None:
                off = np.maximum(np.maximum(one - grid[window], grid[window] - other), 0.0)
                free[window] &= np.sqrt((off * off).sum(axis=-1)) >= wanted[window]
        for prism in self.prisms:
            one, other = np.array(prism.bounds.low), np.array(prism.bounds.high)
            window = _window(low, shape, one - radius, other + radius)
            if window is not None:
                spots = grid[window].reshape(-1, 3).tolist()
                away = np.array([point_to_prism((x, y, z), prism) for x, y, z in spots])
                free[window] &= away.reshape(grid[window].shape[:3]) >= wanted[window]
        if self.round is not None:
            left = np.flatnonzero(free.ravel())
            away, _ = self.round.query(grid.reshape(-1, 3)[left], distance_upper_bound=radius)
            free.ravel()[left] &= away >= wanted.ravel()[left]
        return free

    def sees(self, start: Floats, end: Floats, ends: Floats, radius: float) -> bool:
        """Return whether a straight piece keeps off everything, in exact millimetres."""
        count = max(math.ceil(float(np.linalg.norm(end - start)) / 2.0), 1)
        marks = start + np.linspace(0.0, 1.0, count + 1)[:, None] * (end - start)
        close = self.close(marks, ends)
        for place in range(count):
            less = bool(close[place] and close[place + 1])
            wanted = (min(radius, MIDDLE) if less else radius) - SLIP - 0.02
            if not self._clear(_vec(marks[place]), _vec(marks[place + 1]), wanted):
                return False
        return True

    def _clear(self, start: Vec, end: Vec, wanted: float) -> bool:
        low, high = np.minimum(start, end) - wanted, np.maximum(start, end) + wanted
        near = np.flatnonzero(((self.low < high) & (self.high > low)).all(axis=1))
        if near.size and line_to_boxes(start, end, self.low[near], self.high[near]).min() < wanted:
            return False
        if any(
            _meets(prism, low, high) and line_to_shape(start, end, prism) < wanted for prism in self.prisms
        ):
            return False
        touched = (
            ((self.body.mixed_low < high) & (self.body.mixed_high > low)).any() if self.body.mixed else False
        )
        return not touched or nearest(self.body, start, end, wanted, BLOCKED) is None


def _vec(row: Floats) -> Vec:
    x, y, z = row.tolist()
    return (x, y, z)


def _meets(prism: Prism, low: Floats, high: Floats) -> bool:
    return bool((np.array(prism.bounds.low) < high).all() and (np.array(prism.bounds.high) > low).all())


def _window(
    low: Floats, shape: tuple[int, int, int], one: Floats, other: Floats
) -> tuple[slice, slice, slice] | None:
    first = np.maximum(np.ceil((one - low) / PITCH).astype(int), 0)
    last = np.minimum(np.floor((other - low) / PITCH).astype(int) + 1, np.array(shape))
    if (first >= last).any():
        return None
    return (slice(first[0], last[0]), slice(first[1], last[1]), slice(first[2], last[2]))


def shortest(room: Room, way: Floats, radius: float) -> float:
    """Return the length of the shortest way found between the ends of a known one; that one's own at most.

    Parameters
    ----------
    way
        (n, 3) points of the known way, from end to end.
    radius
        Of the wire, in mm.
    """
    ends = way[[0, -1]]
    known = float(np.linalg.norm(np.diff(way, axis=0), axis=1).sum())
    # Half the size of the box round the ellipsoid: a² along the line of its ends, b² across.
    line = ends[1] - ends[0]
    long, wide = known**2 / 4, max(known**2 - float(line @ line), 0.0) / 4
    along = line**2 / max(float(line @ line), 1e-12)
    half = np.sqrt(along * long + (1 - along) * wide) + 2 * PITCH
    hull = room.body.hull
    least = np.maximum(ends.mean(axis=0) - half, np.array(hull.low))
    most = np.minimum(ends.mean(axis=0) + half, np.array(hull.high))
    # The grid goes through the first end.
    low = ends[0] - PITCH * np.ceil((ends[0] - least) / PITCH)
    counts = np.ceil((most - low) / PITCH).astype(int) + 1
    shape = (int(counts[0]), int(counts[1]), int(counts[2]))
    free = room.free(low, shape, ends, radius)
    axes = [low[i] + PITCH * np.arange(shape[i]) for i in range(3)]
    from_ends = sum(
        np.sqrt(
            (axes[0][:, None, None] - end[0]) ** 2
            + (axes[1][None, :, None] - end[1]) ** 2
            + (axes[2][None, None, :] - end[2]) ** 2
        )
        for end in ends
    )
    free &= from_ends <= known + 2 * PITCH
    chain = _chain(free, low, ends)
    best = known
    if chain is not None:
        best = min(best, _pulled(room, chain, ends, radius))
    return min(best, _pulled(room, way, ends, radius))


def _chain(free: NDArray[np.bool_], low: Floats, ends: Floats) -> Floats | None:
    number = np.full(free.shape, -1)
    number[free] = np.arange(free.sum())
    cells = np.argwhere(free)
    if not len(cells):
        return None
    at = low + PITCH * cells
    rows, columns, data = [], [], []
    for step in product((-1, 0, 1), repeat=3):
        if step <= (0, 0, 0):
            continue
        here = tuple(slice(max(-s, 0), n - max(s, 0)) for s, n in zip(step, free.shape, strict=True))
        there = tuple(slice(max(s, 0), n - max(-s, 0)) for s, n in zip(step, free.shape, strict=True))
        a, b = number[here].ravel(), number[there].ravel()
        both = (a >= 0) & (b >= 0)
        rows.append(a[both])
        columns.append(b[both])
        data.append(np.full(both.sum(), PITCH * float(np.linalg.norm(step))))
    graph = coo_matrix(
        (np.concatenate(data), (np.concatenate(rows), np.concatenate(columns))), (len(at), len(at))
    ).tocsr()
    start, goal = (int(np.linalg.norm(at - end, axis=1).argmin()) for end in ends)
    if np.linalg.norm(at[start] - ends[0]) > 2 * PITCH or np.linalg.norm(at[goal] - ends[1]) > 2 * PITCH:
        return None
    _, before = dijkstra(graph, directed=False, indices=start, return_predecessors=True)
    chain = [goal]
    while chain[-1] != start:
        if before[chain[-1]] < 0:
            return None
        chain.append(int(before[chain[-1]]))
    return np.concatenate([ends[:1], at[chain[::-1]], ends[1:]])


def _pulled(room: Room, way: Floats, ends: Floats, radius: float) -> float:
    """Return the length of a way whose corners are cut where straight lines stay off everything."""

    def sees(one: Floats, other: Floats) -> bool:
        return room.sees(one, other, ends, radius)

    best = math.inf
    for _ in range(6):
        cut = [way[0]]
        place = 0
        while place < len(way) - 1:
            step, reach = 1, 1
            while place + step < len(way) and sees(way[place], way[place + step]):
                reach, step = step, step * 2
            onwards = place + max(
                (n for n in range(reach, min(step, len(way) - place)) if sees(way[place], way[place + n])),
                default=1,
            )
            cut.append(way[onwards])
            place = onwards
        length = float(np.linalg.norm(np.diff(np.array(cut), axis=0), axis=1).sum())
        if length > best - 0.01:
            break
        best = length
        fine = [cut[0]]
        for one, other in pairwise(cut):
            fine += [one + share * (other - one) for share in (0.05, 0.2, 0.4, 0.6, 0.8, 0.95)] + [other]
        way = np.array(fine)
    return best
