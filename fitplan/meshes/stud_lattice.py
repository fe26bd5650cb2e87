"""Studs of a mesh in any unit and any position: where they stand tells unit, up and grid at once.

A stud ends in a level disc. Studs stand 8.0 mm apart and are 4.8 to 4.9 mm across (common practice, no
source), so discs of one radius whose middles lie on a square lattice of 3.27 to 3.34 radii are studs and
nothing else: tubes are rings, and pins are thinner for the same lattice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.meshes.groups import groups_of, numbered
from fitplan.meshes.scene_in import SceneObject
from fitplan.model.solids import DIRECTIONS, Direction
from fitplan.units import STUD, STUD_HEIGHT

FEWEST = 4
"""So many studs at least must agree."""
_LEVEL = 0.9999
_ROUND = 0.04
"""Share of the radius by which a disc may be wider one way than the other."""
_FULL = (0.85, 1.005)
"""Area of a disc over that of the circle round it: an octagon has 0.90, a square 0.64 of it."""
_RADII = (3.2, 3.45)
"""Pitch of the lattice over the radius of a stud."""
_AGREE = 0.9
_NEAR = 0.02
_SAME = 2e-4
"""Share of the extent within which points, and levels, are one."""


@dataclass(frozen=True, eq=False)
class StudLattice:
    """What studs tell of a mesh, in the file's unit.

    Attributes
    ----------
    up
        Which way of the file the studs point.
    pitch
        From stud to stud.
    count
        Studs that agree.
    corner
        (3,) a corner of the grid: half a pitch beside a stud's middle along the two level axes, and at the
        foot of a stud along the third.
    sideways
        Studs that point another way.
    """

    up: Direction
    pitch: float
    count: int
    corner: NDArray[np.float64]
    sideways: int

    @property
    def scale(self) -> float:
        """Millimetres of a unit of the file."""
        return STUD / self.pitch


@dataclass(frozen=True, eq=False)
class _Discs:
    """Level discs square to one axis: middles (n, 3) and radii (n,)."""

    middle: NDArray[np.float64]
    radius: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class _Levels:
    """Areas that lie square to an axis, by position."""

    at: NDArray[np.float64]
    area: NDArray[np.float64]


def stud_lattice_of(pieces: Sequence[SceneObject]) -> StudLattice | None:
    """Return the lattice on which a mesh's studs stand, or None where fewer than `FEWEST` agree."""
    points = np.concatenate([piece.points for piece in pieces])
    starts = np.cumsum([0, *[len(piece.points) for piece in pieces[:-1]]])
    faces = np.concatenate([piece.faces + start for piece, start in zip(pieces, starts, strict=True)])
    extent = float(np.ptp(points[faces.reshape(-1)], axis=0).max())
    if extent <= 0:
        return None
    corner = numbered(points, extent * _SAME * 0.01)[faces]
    normal = np.cross(points[faces[:, 1]] - points[faces[:, 0]], points[faces[:, 2]] - points[faces[:, 0]])
    size = np.linalg.norm(normal, axis=1)
    found: list[StudLattice] = []
    for axis in range(3):
        level = np.abs(normal[:, axis]) > _LEVEL * size
        level &= size > 0
        if not level.any():
            continue
        own, mine = faces[level], corner[level]
        levels = _levels(points[own[:, 0], axis], size[level] / 2, extent)
        discs = _discs(points, own, mine, size[level] / 2, axis)
        lattice = _lattice(discs, levels, axis, extent)
        if lattice is not None:
            found.append(lattice)
    if not found:
        return None
    best = max(found, key=lambda lattice: lattice.count)
    others = sum(lattice.count for lattice in found) - best.count
    return StudLattice(best.up, best.pitch, best.count, best.corner, best.sideways + others)


def _levels(at: NDArray[np.float64], area: NDArray[np.float64], extent: float) -> _Levels:
    key = np.round(at / (extent * _SAME)).astype(np.int64)
    _, group = np.unique(key, return_inverse=True)
    total = np.bincount(group.reshape(-1), weights=area)
    middle = np.bincount(group.reshape(-1), weights=area * at) / total
    return _Levels(middle.astype(np.float64), total.astype(np.float64))


def _discs(
    points: NDArray[np.float64],
    faces: NDArray[np.int64],
    corner: NDArray[np.int64],
    area: NDArray[np.float64],
    axis: int,
) -> _Discs:
    """Return the round patches among faces that are square to an axis."""
    pairs = np.concatenate((corner[:, [0, 1]], corner[:, [1, 2]]))
    patch = groups_of(pairs, int(corner.max()) + 1)[corner[:, 0]]
    _, patch = np.unique(patch, return_inverse=True)
    patch = patch.reshape(-1)
    count = int(patch.max()) + 1
    total = np.bincount(patch, weights=area, minlength=count)
    low, high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
    for column in range(3):
        at = points[faces[:, column]]
        np.minimum.at(low, patch, at)
        np.maximum.at(high, patch, at)
    one, two = (other for other in range(3) if other != axis)
    across, along = (high - low)[:, one], (high - low)[:, two]
    radius = (across + along) / 4
    share = total / np.maximum(np.pi * radius**2, 1e-300)
    round_ = (np.abs(across - along) <= 2 * _ROUND * radius) & (share >= _FULL[0]) & (share <= _FULL[1])
    return _Discs((low + high)[round_] / 2, radius[round_])


def _lattice(discs: _Discs, levels: _Levels, axis: int, extent: float) -> StudLattice | None:
    """Return the lattice of the discs' radius that has the most on it."""
    best: StudLattice | None = None
    left = np.ones(len(discs.radius), dtype=np.bool_)
    while left.sum() >= FEWEST:
        # The commonest radius first; radii within a hundredth are one.
        values = np.sort(discs.radius[left])
        ends = np.searchsorted(values, values * 1.01, side="right")
        radius = float(values[int((ends - np.arange(len(values))).argmax())]) * 1.005
        own = left & (np.abs(discs.radius - radius) <= 0.006 * radius)
        if not own.any():
            break
        left &= ~own
        made = _of_radius(discs.middle[own], radius, levels, axis, extent)
        if made is not None and (best is None or made.count > best.count):
            best = made
    return best


def _of_radius(
    middle: NDArray[np.float64], radius: float, levels: _Levels, axis: int, extent: float
) -> StudLattice | None:
    sides = [other for other in range(3) if other != axis]
    # A stud that is a body of its own ends in two discs: one on the other is one stud.
    flat = np.unique(np.round(middle / (extent * _SAME)).astype(np.int64), axis=0)
    if len(flat) < FEWEST:
        return None
    steps = []
    for side in sides:
        places = np.unique(flat[:, side]) * (extent * _SAME)
        apart = np.diff(places) / radius
        near = apart[(apart > _RADII[0]) & (apart < _RADII[1])]
        steps += list(near * radius)
    if not steps:
        return None
    pitch = float(np.median(steps))
    offsets = []
    agree = np.ones(len(middle), dtype=np.bool_)
    for side in sides:
        pitch, offset, fits = _fitted(middle[:, side], pitch)
        offsets.append(offset)
        agree &= fits
    if agree.mean() < _AGREE:
        return None
    own = middle[agree]
    offsets = [_fitted(own[:, side], pitch, free=False)[1] for side in sides]
    ups = _feet(own[:, axis], radius, pitch, levels, extent)
    if ups is None:
        return None
    sign, foot, tops = ups
    corner = np.zeros(3)
    for side, offset in zip(sides, offsets, strict=True):
        # In the middle of the studs, where an error of the pitch tells least.
        corner[side] = offset + (round(float((own[:, side].mean() - offset) / pitch)) + 0.5) * pitch
    corner[axis] = foot
    up: Direction = DIRECTIONS[2 * axis + (0 if sign > 0 else 1)]
    return StudLattice(up, pitch, tops, corner, 0)


def _fitted(
    at: NDArray[np.float64], pitch: float, free: bool = True
) -> tuple[float, float, NDArray[np.bool_]]:
    """Fit ``at = offset + pitch · k``; returns pitch, offset and which values agree."""
    turn = np.exp(2j * np.pi * at / pitch).mean()
    offset = float(np.angle(turn)) * pitch / (2 * np.pi)
    for _ in range(3):
        k = np.round((at - offset) / pitch)
        fits: NDArray[np.bool_] = np.abs(at - offset - k * pitch) <= _NEAR * pitch
        if free and fits.any() and np.ptp(k[fits]) > 0:
            slope, start = np.polyfit(k[fits], at[fits], 1)
            pitch, offset = float(slope), float(start)
        elif fits.any():
            offset = float((at - k * pitch)[fits].mean())
    k = np.round((at - offset) / pitch)
    return pitch, offset, np.abs(at - offset - k * pitch) <= _NEAR * pitch


def _feet(
    at: NDArray[np.float64], radius: float, pitch: float, levels: _Levels, extent: float
) -> tuple[int, float, int] | None:
    """Return which way studs point (1 or -1), the level of a foot, and how many studs there are.

    A foot stands on a level face that is more than discs; a stud's height away is a level of discs alone.
    """
    step = extent * _SAME
    places, number = np.unique(np.round(at / step).astype(np.int64), return_counts=True)
    votes = {1: 0, -1: 0}
    feet: dict[int, list[tuple[int, float]]] = {1: [], -1: []}
    tall = STUD_HEIGHT / STUD * pitch
    for place, count in zip(places * step, number, strict=True):
        own = levels.area[np.abs(levels.at - place) <= 1.5 * step].sum()
        if own > 1.3 * count * np.pi * radius**2:
            continue
        for sign in (1, -1):
            near = np.abs((place - levels.at) * sign - tall) <= 0.2 * tall
            if near.any():
                foot = int(np.flatnonzero(near)[levels.area[near].argmax()])
                if levels.area[foot] > 1.3 * count * np.pi * radius**2:
                    votes[sign] += int(count)
                    feet[sign].append((int(count), float(levels.at[foot])))
    sign = 1 if votes[1] >= votes[-1] else -1
    if votes[sign] < FEWEST:
        return None
    return sign, max(feet[sign])[1], votes[sign]
