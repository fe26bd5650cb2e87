"""How large a mesh is meant to be, which way up it stands, and where its stud grid lies.

Brick-built models repeat every 8.0 mm sideways and every 3.2 mm upwards (common practice, no source): studs
tell the size where there are enough, else the unit in which faces agree best with that grid
(`grid_agreement`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.meshes.grid_agreement import Planes, agreement, by_chance, phase, planes_along, strengths
from fitplan.meshes.scene_in import Scene, bounds_of_pieces
from fitplan.meshes.stud_lattice import StudLattice, stud_lattice_of
from fitplan.model.solids import AXES, DIRECTIONS, Direction, axis_of, unit_vector
from fitplan.units import PLATE, STUD

MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4, "foot": 304.8, "micron": 0.001, "stud": STUD}
"""Units that can be declared, in mm."""
_TRIED = (("mm", 1.0), ("cm", 10.0), ("m", 1000.0), ("inch", 25.4), ("stud", STUD), ("1/20 stud", 0.4))
_COHERENT = 0.6
"""Mean vector from which on a grid is believed; common practice, no source."""
_TIE = 0.05
_KNOWN = 0.01
"""Share by which the studs' scale may differ from a known unit and still be that."""
_SURE = 0.8
_BY_CHANCE = 1e-3
"""A scale of its own is believed where faces agree so well by chance in one mesh of so many at most."""
SMALLEST, LONGEST, WIDEST, HIGHEST = 12.0, 520.0, 136.0, 330.0
"""A vehicle's length lies between the first two, its width and height at most at the others (mm)."""


@dataclass(frozen=True, eq=False)
class Fitting:
    """How points of the file become millimetres in the vehicle's frame, but for the final shift.

    ``millimetres = scale · turn @ point``; ``grid`` is where a stud face, a stud face and a plate face lie
    along x, y, z after that, or None when no grid was found. ``said`` tells the user what was taken,
    ``studs`` how many studs told it.
    """

    scale: float
    turn: NDArray[np.float64]
    grid: tuple[float, float, float] | None
    said: tuple[str, ...]
    studs: int = 0

    def apply(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return (n, 3) points in mm, turned."""
        moved: NDArray[np.float64] = (points @ self.turn.T) * self.scale
        return moved


def fit_scene(
    scene: Scene, units: str = "", up: Direction | None = None, front: Direction | None = None
) -> Fitting:
    """Find scale, axes and grid of a scene.

    Parameters
    ----------
    units
        Declared by the user: a key of `MM`, or empty to find out.
    up, front
        Which way of the file points up, and to the front; None to find out.

    Raises
    ------
    ValueError
        When the size cannot be a vehicle's in any unit that was tried; the message says what to do.
    """
    corners = np.concatenate([piece.points[piece.faces] for piece in scene.pieces])
    first = corners[:, 0]
    normal = np.cross(corners[:, 1] - first, corners[:, 2] - first)
    size = np.linalg.norm(normal, axis=1)
    planes = [planes_along(first, normal, size, axis) for axis in range(3)]
    extent = _extent(scene)
    studs = stud_lattice_of(scene.pieces)
    if studs is not None and _believed(studs, extent, units, up):
        return _by_studs(studs, extent, front, scene.unit)
    declared = units or scene.unit
    tried = [(declared, MM[declared])] if declared in MM else list(_TRIED)
    ups = [axis_of(up)] if up else [0, 1, 2]
    found = _best(planes, extent, tried, ups, scene.up)
    said: list[str] = []
    if found is None and declared and not units:
        # Many programs write millimetres into formats that are meant to hold metres.
        said.append(f"the file says {declared}, which cannot be; other units were tried")
        found = _best(planes, extent, list(_TRIED), ups, scene.up)
        declared = ""
    if found is None or found.score < _COHERENT:
        other = None if units else _scan(planes, extent, ups, scene.up)
        if other is not None:
            found = other
    lost = found is None or (found.score < _COHERENT and not declared)
    if lost and studs is not None and _plausible(extent, studs.scale, axis_of(studs.up)):
        unit = _unit_of(studs) or f"{studs.scale:.4g} mm"
        raise ValueError(
            f"{studs.count} studs that point to {studs.up} and make one unit {unit}, and other words on the"
            f" command line; expected --up {studs.up}" + (f" --units {unit}" if _unit_of(studs) else "")
        )
    if found is not None and found.score < _COHERENT and not declared:
        raise ValueError(_choices(extent, AXES.index(scene.up or "z")))
    if found is None and units:
        size = " × ".join(f"{e * MM[units]:.4g}" for e in extent)
        raise ValueError(
            f"a mesh of {size} mm in {units}; expected at least {SMALLEST:g} mm and at most"
            f" {LONGEST:g} × {WIDEST:g} × {HIGHEST:g} mm (declare other units or scale it)"
        )
    if found is None:
        size = " × ".join(f"{e:.4g}" for e in extent)
        raise ValueError(
            f"a mesh of {size} units, which is no vehicle's size in mm, cm, m, inches or studs"
            " (declare the units)"
        )
    return _fitting(found, planes, extent, up, front, units, said)


def _believed(studs: StudLattice, extent: NDArray[np.float64], units: str, up: Direction | None) -> bool:
    """Tell whether studs decide: nothing that the user said is against them, and the size is a vehicle's."""
    if units and abs(studs.scale / MM[units] - 1) > _KNOWN:
        return False
    if up and up != studs.up:
        return False
    return _plausible(extent, studs.scale, axis_of(studs.up))


def _unit_of(studs: StudLattice) -> str:
    """Return the known unit that studs tell; empty when it is none."""
    return next((name for name, mm in MM.items() if abs(studs.scale / mm - 1) < _KNOWN), "")


def _by_studs(
    studs: StudLattice, extent: NDArray[np.float64], front: Direction | None, declared: str
) -> Fitting:
    """Return the fitting that studs tell: unit, up and grid at once."""
    name = _unit_of(studs)
    scale = MM[name] if name else studs.scale
    turn = _turned(extent, axis_of(studs.up), studs.up, front)
    said = []
    if declared and declared != name:
        said.append(f"the file says {declared}, which its studs contradict")
    said.append(
        f"units: one unit is {name or f'{scale:.4g} mm'}, told by {studs.count} studs that stand 8 mm apart"
    )
    if studs.sideways:
        said.append(f"{studs.sideways} studs point another way than the rest: taken for sideways bricks")
    said += _said_of_axes(turn, "as the studs do", "as told" if front else "taken: the longer side")
    said.append("size: " + " × ".join(f"{s:.1f}" for s in np.abs(turn) @ extent * scale) + " mm")
    corner = turn @ studs.corner * scale
    return Fitting(
        scale, turn, (float(corner[0]), float(corner[1]), float(corner[2])), tuple(said), studs.count
    )


def _choices(extent: NDArray[np.float64], up: int) -> str:
    """Say what each unit would make of a mesh that shows neither studs nor a grid, standing the usual way."""
    found = []
    for name, scale in _TRIED:
        sides = sorted((e * scale for e in np.delete(extent, up)), reverse=True)
        if name in MM and SMALLEST <= sides[0] <= LONGEST:
            found.append(f"{round(sides[0] / STUD)} × {round(sides[1] / STUD)} studs in {name}")
    return (
        "a mesh without studs or a stud grid, whose unit cannot be told; expected declared units: "
        + (", ".join(found) or "no unit makes a vehicle of it")
        + " (say --units)"
    )


@dataclass(frozen=True)
class _Guess:
    name: str
    scale: float
    up: int
    score: float


def _extent(scene: Scene) -> NDArray[np.float64]:
    low, high = bounds_of_pieces(scene.pieces)
    extent: NDArray[np.float64] = high - low
    return extent


def _plausible(extent: NDArray[np.float64], scale: float, up: int) -> bool:
    size = extent * scale
    sides = sorted(size[axis] for axis in range(3) if axis != up)
    return bool(SMALLEST <= sides[1] <= LONGEST and 2.0 <= sides[0] <= WIDEST and 2.0 <= size[up] <= HIGHEST)


def _best(
    planes: list[Planes],
    extent: NDArray[np.float64],
    tried: list[tuple[str, float]],
    ups: list[int],
    declared: str,
) -> _Guess | None:
    """Choose the most coherent guess; among equals the smallest scale and the format's own axis."""
    usual = AXES.index(declared) if declared else 2
    guesses = [
        _Guess(name, scale, up, agreement(planes, scale, up))
        for name, scale in tried
        for up in ups
        if _plausible(extent, scale, up)
    ]
    if not guesses:
        return None
    if max(guess.score for guess in guesses) < _COHERENT:
        order = [name for name, _ in tried]
        return min(guesses, key=lambda guess: (order.index(guess.name), guess.up != usual, guess.up))
    return _chosen(guesses, declared)


def _chosen(guesses: list[_Guess], declared: str) -> _Guess | None:
    """Return the most coherent guess; among equals the smallest scale and the usual axis."""
    if not guesses:
        return None
    usual = AXES.index(declared) if declared else 2
    best = max(guess.score for guess in guesses)
    near = [guess for guess in guesses if guess.score >= best - _TIE]
    return min(near, key=lambda guess: (guess.scale, guess.up != usual, -guess.score))


def _scan(planes: list[Planes], extent: NDArray[np.float64], ups: list[int], declared: str) -> _Guess | None:
    """Try all scales between the smallest and the largest vehicle; None when no grid shows in any."""
    longest = float(extent.max())
    if longest <= 0:
        return None
    scales = np.geomspace(SMALLEST / longest, LONGEST / longest, 3000)
    strength = [[strengths(plane, period / scales) for plane in planes] for period in (STUD, PLATE)]
    guesses = []
    for up in ups:
        lines = [strength[int(axis == up)][axis] for axis in range(3)]
        scores = np.minimum.reduce(lines)
        guesses += [
            _Guess("own", float(scale), up, float(score))
            for scale, score in zip(scales, scores, strict=True)
            if score >= _SURE - _TIE and _plausible(extent, float(scale), up)
        ]
    found = _chosen(guesses, declared)
    if found is None or found.score < _SURE:
        return None
    # Up to the top of the peak on whose side the smallest scale lies, and then closer.
    side = [g for g in guesses if g.up == found.up and found.scale <= g.scale <= 1.04 * found.scale]
    found = max(side, key=lambda guess: (guess.score, -guess.scale))
    near = np.linspace(found.scale * 0.998, found.scale * 1.002, 81)
    score, scale = max((agreement(planes, float(scale), found.up), float(scale)) for scale in near)
    # As many scales are independent of one another as plates go into the longest vehicle.
    if len(ups) * LONGEST / PLATE * by_chance(planes, scale, found.up) > _BY_CHANCE:
        return None
    return _Guess("own", scale, found.up, score)


def _fitting(
    guess: _Guess,
    planes: list[Planes],
    extent: NDArray[np.float64],
    up: Direction | None,
    front: Direction | None,
    units: str,
    said: list[str],
) -> Fitting:
    turn = _turned(extent, guess.up, up or DIRECTIONS[2 * guess.up], front)
    coherent = guess.score >= _COHERENT
    size = np.abs(turn) @ extent * guess.scale
    if units:
        said.append(f"units: {units}, as declared")
    elif coherent:
        name = f"{guess.scale:.4g} mm" if guess.name == "own" else guess.name
        said.append(
            f"units: one unit is {name}, found by the 8.0 mm and 3.2 mm grid (agreement {guess.score:.0%})"
        )
    else:
        said.append(
            f"units: {guess.name}, by the size alone; no stud grid was found (declare the units to be sure)"
        )
    said += _said_of_axes(turn, "" if up else "taken", "" if front else "taken: the longer side")
    said.append("size: " + " × ".join(f"{s:.1f}" for s in size) + " mm")
    grid = None
    if coherent:
        offsets = []
        for row, period in zip(turn, (STUD, STUD, PLATE), strict=True):
            axis = int(np.abs(row).argmax())
            sign = float(row[axis])
            offsets.append(sign * phase(planes[axis], period / guess.scale) * guess.scale)
        grid = (offsets[0], offsets[1], offsets[2])
    return Fitting(guess.scale, turn, grid, tuple(said))


def _turned(
    extent: NDArray[np.float64], axis: int, up: Direction, front: Direction | None
) -> NDArray[np.float64]:
    """Return the turning that brings up upwards, and the front, or else the longer side, to the front."""
    upwards = np.array(unit_vector(up))
    sides = [other for other in range(3) if other != axis]
    if front and axis_of(front) != axis:
        forwards = np.array(unit_vector(front))
    else:
        longer = max(sides, key=lambda side: (extent[side], side == sides[0]))
        forwards = np.array([int(side == longer) for side in range(3)])
    return np.array([forwards, np.cross(upwards, forwards), upwards], dtype=np.float64)


def _said_of_axes(turn: NDArray[np.float64], up: str, front: str) -> list[str]:
    return [
        f"axes: {_word(turn[2])} of the file points up{f' ({up})' if up else ''},"
        f" {_word(turn[0])} to the front{f' ({front})' if front else ''}"
    ]


def _word(row: NDArray[np.float64]) -> str:
    axis = int(np.abs(row).argmax())
    return ("+" if row[axis] > 0 else "−") + AXES[axis]
