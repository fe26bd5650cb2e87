"""What in a mesh of bricks is no body: wheels, couplings, figures, wires, and what else stands out of it.

Told by the object's name, or by shape: a wheel is round about a line across the vehicle and reaches down to
the foot of the bricks; what stands out of the bricks at an end is a coupling. None of it widens the
footprint. What was told by shape alone, and what stands out and was left body, is asked about; the user's
word for an object goes before its own name.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fitplan.meshes.blocks import FREE, StateBlock
from fitplan.meshes.hollows import ShellBounds, shell_bounds_of
from fitplan.meshes.marks import Mark, gathered
from fitplan.meshes.scene_in import SceneObject
from fitplan.model.solids import PLACE_WORDS, Box, Direction
from fitplan.model.vehicle import BodySolid, Coupling, Wheels
from fitplan.units import PLATE, STUD

Gear = Literal["wheel", "coupling", "apart", "body"]
KINDS: tuple[Gear, ...] = ("wheel", "coupling", "apart", "body")
"""What an object may be; ``body`` is what stands out of the bricks and is body all the same."""
_NAMES: tuple[tuple[Gear, frozenset[str]], ...] = (
    ("wheel", frozenset({"wheel", "wheels", "axle", "axles", "tyre", "tyres", "rim", "rims"})),
    ("coupling", frozenset({"coupling", "couplings", "coupler", "couplers", "buffer", "buffers", "hook"})),
    ("apart", frozenset({"wire", "wires", "cable", "cables", "track", "rail", "rails", "ground"})),
)
_WORDS = re.compile(r"[a-z]+")
_LEAST_WHEEL, _MOST_WHEEL = 4.0, 45.0
"""Radii of wheels in mm; common practice, no source."""
_ROUND = 0.04
_OUT = 1.0
"""So far (mm) something must stand out of the bricks to be no body."""
FEWEST_BRICKS = 4
"""From so many bricks on the grid on a model is one of bricks."""
_SMALL = 0.1
_USUAL_RADIUS = 8.5
"""Radius of a wheel that is not drawn, in mm; common practice, no source."""
_ABOVE_WHEELS = 6 * PLATE
"""Where bricks begin above the rail when no wheels are drawn: above the usual ones, on a whole plate."""
_SAME_AXLE = 2.0
_MOST_NAMED = 4


@dataclass(frozen=True)
class GearPiece:
    """Something that is no body, or stands out of it: what it is, its name, corners of its bounds in mm.

    ``side`` is where it stands out of the bricks when nobody said what it is, empty when it was named.
    """

    kind: Gear
    name: str
    low: tuple[float, float, float]
    high: tuple[float, float, float]
    side: Direction | Literal[""] = ""

    @property
    def middle(self) -> tuple[float, float, float]:
        """Middle of its bounds."""
        x, y, z = ((a + b) / 2 for a, b in zip(self.low, self.high, strict=True))
        return (x, y, z)

    def moved(self, shift: NDArray[np.float64]) -> GearPiece:
        """Return it moved."""
        x, y, z = (float(c) for c in shift)
        low = (self.low[0] + x, self.low[1] + y, self.low[2] + z)
        return replace(self, low=low, high=(self.high[0] + x, self.high[1] + y, self.high[2] + z))


def without_gear(
    pieces: Sequence[SceneObject],
    marks: Sequence[Mark],
    grid: tuple[float, float, float] | None,
    told: Mapping[str, Gear] | None = None,
) -> tuple[list[SceneObject], list[Mark], tuple[GearPiece, ...]]:
    """Return the pieces and marks that are body, and what is not, or stands out of it.

    Parameters
    ----------
    pieces
        In mm, up along z, the vehicle along x.
    grid
        Where a stud corner and a plate's level lie; without one only names tell.
    told
        What the user said of objects, by name.
    """
    kept: list[SceneObject] = []
    kept_marks: list[Mark] = []
    found: list[GearPiece] = []
    chosen = [number for number, mark in enumerate(marks) if mark.role == "body"]
    table = _table(pieces, chosen, grid)
    for number, (piece, mark) in enumerate(zip(pieces, marks, strict=True)):
        if mark.role != "body":
            kept.append(piece)
            kept_marks.append(mark)
            continue
        own = table.of(chosen.index(number)) if table is not None else None
        said = (told or {}).get(piece.name)
        named = said or gear_named(piece.name)
        if named not in (None, "body") and (said or own is None or not own.on_grid.any()):
            found.append(_gear(named, piece.name, *piece.bounds))
            continue
        if table is None or own is None or said:
            kept.append(piece)
            kept_marks.append(mark)
            continue
        body = np.ones(len(piece.faces), dtype=np.bool_)
        for shell in np.flatnonzero(~own.on_grid):
            kind, side = _by_shape(piece.points, piece.faces[own.shell == shell], own, int(shell), table)
            if kind is not None:
                corners = (own.low[shell] + table.zero, own.high[shell] + table.zero)
                found.append(_gear(kind, piece.name, *corners, side))
                body &= (own.shell != shell) | (kind == "body")
        if body.any():
            kept.append(piece if body.all() else replace(piece, faces=piece.faces[body]))
            kept_marks.append(mark)
    return kept, kept_marks, tuple(found)


def gear_named(name: str) -> Gear | None:
    """Return what an object is by its name, if that says that it is no body."""
    words = set(_WORDS.findall(name.split("/")[-1].lower()))
    return next((kind for kind, known in _NAMES if words & known), None)


def wheels_of(gear: Sequence[GearPiece], length: float) -> Wheels:
    """Return the wheels of a vehicle: those that were found, or two axles a fifth from its ends as a guess.

    Two axles are rigid; two pairs of them, each closer together than the pairs are, are bogies.
    """
    wheels = [entry for entry in gear if entry.kind == "wheel" and 0 <= entry.middle[0] <= length]
    axles: list[float] = []
    for place in sorted(entry.middle[0] for entry in wheels):
        if not axles or place - axles[-1] > _SAME_AXLE:
            axles.append(place)
    if len(axles) < 2:
        fifth = round(length / 5, 1)
        return Wheels("axles", (fifth, round(length - fifth, 1)), (False, False), _USUAL_RADIUS)
    radius = round(max(entry.high[2] - entry.low[2] for entry in wheels) / 2, 2)
    a, b, c, d = (axles[0], axles[1], axles[-2], axles[-1])
    if len(axles) == 4 and abs((b - a) - (d - c)) < _SAME_AXLE and c - b > b - a:
        pivots = (round((a + b) / 2, 2), round((c + d) / 2, 2))
        return Wheels("bogies", pivots, (False, False), radius, round((b - a + d - c) / 2, 2))
    at = tuple(round(place, 2) for place in axles)
    return Wheels("axles", at, (False,) * len(at), radius)


def height_of(gear: Sequence[GearPiece], foot: float, of_bricks: bool) -> tuple[float, bool]:
    """Return how high a body stands above what its wheels stand on, and whether that is a guess.

    Without wheels bricks stand as high as the usual wheels need; what is no model of bricks may have its
    wheels in one piece with its body, and stands above its couplings alone.

    Parameters
    ----------
    foot
        Height of the body's lowest point, in mm on the scale of the pieces.
    """
    feet = [entry.low[2] for entry in gear if entry.kind == "wheel"]
    if feet:
        return max(0.0, round(foot - min(feet), 3)), False
    hanging = max((foot - entry.low[2] for entry in gear if entry.kind == "coupling"), default=0.0)
    return max(_ABOVE_WHEELS if of_bricks else 0.0, round(hanging, 3)), True


def couplings_of(gear: Sequence[GearPiece], length: float, height: float) -> tuple[Coupling, Coupling]:
    """Return the couplings at both ends: those that were found, or else guesses at a height."""
    ends: list[Coupling] = []
    ways: tuple[tuple[Literal["front", "rear"], float, float], ...] = (
        ("front", length - STUD, 1.0), ("rear", STUD, -1.0)
    )  # fmt: skip
    for end, pivot, way in ways:
        own = [e for e in gear if e.kind == "coupling" and (e.middle[0] - length / 2) * way > length / 4]
        if not own:
            ends.append(Coupling(end, pivot, height, 4.0))
            continue
        # Of several pieces, such as a hook between buffers, the one that reaches out farthest couples.
        tip = max(own, key=lambda entry: entry.high[0] if way > 0 else -entry.low[0])
        out = tip.high[0] - length if way > 0 else -tip.low[0]
        inner = min(tip.low[0], length) if way > 0 else max(tip.high[0], 0.0)
        ends.append(
            Coupling(end, round(inner, 2), max(round(tip.middle[2], 2), 0.0), max(round(out, 2), 0.0))
        )
    return (ends[0], ends[1])


def room_of_wheels(gear: Sequence[GearPiece], block: StateBlock) -> tuple[BodySolid, ...]:
    """Return what of the clear room wheels stand in, as boxes that are kept clear.

    Bricks are left out where a wheel goes through a floor: it turns there, and nothing may lie in its way.
    """
    found = []
    clear = block.codes == FREE
    frame = block.frame
    for entry in gear:
        if entry.kind != "wheel" or not clear.any():
            continue
        x, _, z = (
            frame.origin[axis] + (np.arange(frame.shape[axis]) + 0.5) * frame.pitch for axis in range(3)
        )
        middle, radius = entry.middle, (entry.high[2] - entry.low[2]) / 2 + frame.pitch
        disc = np.hypot(x[:, None] - middle[0], z[None, :] - middle[2]) <= radius
        window = frame.box_slice(Box(entry.low, entry.high), "outward")
        own = np.zeros(frame.shape, dtype=np.bool_)
        own[window] = clear[window] & disc[:, None, :][window[0], :, window[2]]
        places = np.argwhere(own)
        if len(places):
            low, high = (
                np.asarray(frame.origin) + n * frame.pitch for n in (places.min(0), places.max(0) + 1)
            )
            corners = [tuple(round(float(c), 4) for c in end) for end in (low, high)]
            found.append(BodySolid(Box(corners[0], corners[1]), "keep-clear"))  # type: ignore[arg-type]
    return tuple(found)


def gear_notes(gear: Sequence[GearPiece], guessed_height: float | None = None) -> list[str]:
    """Say what was taken for wheels and couplings and what was left out, by count, and a guessed height."""
    words: tuple[tuple[Gear, str], ...] = (
        ("wheel", "taken for wheels: measure where the axles are"),
        ("coupling", "taken for couplings: measure pivots and lengths"),
        ("apart", "left out: no part of the body"),
    )
    counts = [(sum(entry.kind == kind for entry in gear), text) for kind, text in words]
    said = [f"{count} object{'s' if count > 1 else ''} {text}" for count, text in counts if count]
    if guessed_height:
        said.append(f"no wheels are drawn: the body begins {guessed_height:g} mm above the rail, a guess")
    return said


def gear_questions(gear: Sequence[GearPiece]) -> list[str]:
    """Ask about what was told by its place and shape alone: one question for each kind, objects by name."""
    words: tuple[tuple[Gear, str], ...] = (
        ("coupling", "taken for couplings, as they stand out of the bricks"),
        ("apart", "left out, as they stand out of the bricks"),
        ("body", "counted as body though they stand out of the bricks, and the vehicle is larger by them"),
    )
    asked = []
    for kind, text in words:
        told = dict.fromkeys(
            f"{entry.name or 'a nameless object'} {PLACE_WORDS[entry.side]}"
            for entry in gear
            if entry.kind == kind and entry.side
        )
        if told:
            listed = ", ".join(list(told)[:_MOST_NAMED]) + (" …" if len(told) > _MOST_NAMED else "")
            asked.append(f"{text}: {listed}. If not, say --object NAME={'|'.join(KINDS)}.")
    return asked


def _gear(
    kind: Gear,
    name: str,
    low: NDArray[np.float64],
    high: NDArray[np.float64],
    side: Direction | Literal[""] = "",
) -> GearPiece:
    a, b = (tuple(float(c) for c in end) for end in (low, high))
    return GearPiece(kind, name.split("/")[-1], a, b, side)  # type: ignore[arg-type]


@dataclass(frozen=True, eq=False)
class _ShellTable:
    """Shells of all body pieces, and the bounds of those that are bricks on the grid; zero is the grid's.

    ``starts`` (p + 1,) tells where the faces of each piece begin.
    """

    bounds: ShellBounds
    starts: NDArray[np.int64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    zero: NDArray[np.float64]

    def of(self, number: int) -> ShellBounds:
        """Return the shells of one piece, numbered from 0."""
        own = slice(self.starts[number], self.starts[number + 1])
        names, shell = np.unique(self.bounds.shell[own], return_inverse=True)
        return ShellBounds(
            shell.reshape(-1), self.bounds.low[names], self.bounds.high[names], self.bounds.on_grid[names]
        )


def _table(
    pieces: Sequence[SceneObject], chosen: Sequence[int], grid: tuple[float, float, float] | None
) -> _ShellTable | None:
    if grid is None or not chosen:
        return None
    zero = np.array(grid)
    points, faces, objects = gathered(pieces, chosen)
    bounds = shell_bounds_of(points - zero, faces, objects)
    bricks = bounds.on_grid
    if bricks.sum() < FEWEST_BRICKS:
        return None
    starts = np.cumsum([0, *(len(pieces[number].faces) for number in chosen)])
    return _ShellTable(bounds, starts, bounds.low[bricks].min(axis=0), bounds.high[bricks].max(axis=0), zero)


def _by_shape(
    points: NDArray[np.float64], faces: NDArray[np.int64], own: ShellBounds, shell: int, table: _ShellTable
) -> tuple[Gear | None, Direction | Literal[""]]:
    """Return what a shell that is no brick is by its shape and place, and where it stands out.

    None where it belongs to the body and does not stand out of it.
    """
    low, high = own.low[shell], own.high[shell]
    if low[2] <= table.low[2] + _OUT and _is_wheel(points[np.unique(faces)] - table.zero, low, high):
        return "wheel", ""
    out = {
        "+x": high[0] - table.high[0], "-x": table.low[0] - low[0],
        "+y": high[1] - table.high[1], "-y": table.low[1] - low[1],
    }  # fmt: skip
    side = max(out, key=lambda side: out[side])
    if out[side] <= _OUT:
        return None, ""
    small = np.prod(high - low) < _SMALL * np.prod(table.high - table.low)
    kind: Gear = "body" if not small else "coupling" if side.endswith("x") else "apart"
    return kind, side  # type: ignore[return-value]


def _is_wheel(points: NDArray[np.float64], low: NDArray[np.float64], high: NDArray[np.float64]) -> bool:
    """Tell whether points lie in a disc about a line along y, with its rim well round it."""
    size = high - low
    radius = float(size[0] + size[2]) / 4
    if not _LEAST_WHEEL <= radius <= _MOST_WHEEL or abs(size[0] - size[2]) > 2 * _ROUND * radius:
        return False
    if size[1] > 2.4 * radius:
        return False
    apart = points[:, [0, 2]] - ((low + high) / 2)[[0, 2]]
    far = np.hypot(apart[:, 0], apart[:, 1])
    rim = apart[far > (1 - _ROUND) * radius]
    turns = np.unique(np.round(np.arctan2(rim[:, 1], rim[:, 0]) / (2 * np.pi) * 16) % 16)
    return bool(far.max() <= (1 + _ROUND) * radius and len(turns) >= 8)
