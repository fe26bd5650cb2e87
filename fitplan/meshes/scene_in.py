"""Mesh files into pieces: named, coloured triangles, each instance where the scene puts it."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import trimesh
from numpy.typing import NDArray

from fitplan.errors import InputError, Mistake, nearest_name
from fitplan.meshes.three_mf import read_3mf

KINDS = {
    ".stl": "stl", ".obj": "obj", ".ply": "ply", ".glb": "glb", ".gltf": "gltf", ".off": "off", ".3mf": "3mf",
}  # fmt: skip
"""File endings that are read."""

_FARTHEST = 1e9
_FORMAT_UNITS = {"meters": "m", "millimeters": "mm", "centimeters": "cm", "inches": "inch", "feet": "foot"}


@dataclass(frozen=True, eq=False)
class SceneObject:
    """One object of a scene.

    Attributes
    ----------
    name
        As the file names it; empty when it does not.
    colour
        ``#rrggbb``, or empty.
    points, faces
        (n, 3) float64 in the file's unit, and (m, 3) int64 indices into them.
    bricks
        (m,) the brick that each face belongs to, 0 for none, once bricks are known; None before.
    """

    name: str
    colour: str
    points: NDArray[np.float64]
    faces: NDArray[np.int64]
    bricks: NDArray[np.int64] | None = None

    @property
    def bounds(self) -> NDArray[np.float64]:
        """Lower and upper corner (2, 3) of the points that faces use."""
        used = np.zeros(len(self.points), dtype=np.bool_)
        used[self.faces] = True
        points = self.points[used]
        return np.stack((points.min(axis=0), points.max(axis=0)))


def bounds_of_pieces(pieces: Sequence[SceneObject]) -> NDArray[np.float64]:
    """Return lower and upper corner (2, 3) of all pieces together."""
    bounds = np.stack([piece.bounds for piece in pieces])
    return np.stack((bounds[:, 0].min(axis=0), bounds[:, 1].max(axis=0)))


@dataclass(frozen=True, eq=False)
class Scene:
    """What a mesh file holds.

    ``unit`` is what the format or the file declares (mm, cm, m, inch …), or empty; ``up`` the axis that the
    format declares to point up, or empty; ``notes`` what was left out on the way.
    """

    pieces: tuple[SceneObject, ...]
    unit: str
    up: str
    notes: tuple[str, ...]

    @property
    def face_count(self) -> int:
        """Triangles of all pieces."""
        return sum(len(piece.faces) for piece in self.pieces)


def _mistake(path: Path, found: str, expected: str, hint: str = "") -> InputError:
    return InputError([Mistake(path, 0, 0, found, expected, hint)])


def read_scene(path: Path) -> Scene:
    """Return the pieces of a mesh file (STL, OBJ, PLY, GLB, glTF, OFF, 3MF).

    Points that are no numbers (or not finite) and faces that refer to points that are not there are left out
    with a note. Nothing is merged or repaired.

    Raises
    ------
    InputError
        When the file is missing, of a kind that is not read, broken, or without a usable face.
    """
    ending = path.suffix.lower()
    if not path.is_file():
        raise _mistake(path, "no file", "a mesh file")
    if ending not in KINDS:
        raise _mistake(
            path, f"the ending {ending!r}", f"one of {', '.join(KINDS)}", nearest_name(ending, KINDS)
        )
    try:
        with np.errstate(all="ignore"):
            raw, unit = _raw_3mf(path) if ending == ".3mf" else _raw_trimesh(path, ending)
    except (OSError, ValueError, KeyError, IndexError, TypeError, AttributeError, AssertionError) as error:
        reason = str(error).split("\n")[0] or type(error).__name__
        raise _mistake(path, f"a file that cannot be read ({reason})", f"a {KINDS[ending]} mesh") from None
    pieces, notes = _cleaned(raw)
    if not pieces:
        lost = f" ({'; '.join(notes)})" if notes else ""
        raise _mistake(path, f"no usable triangle{lost}", "a mesh with surfaces")
    return Scene(tuple(pieces), unit, "y" if ending in (".glb", ".gltf") else "", tuple(notes))


def _raw_3mf(path: Path) -> tuple[list[SceneObject], str]:
    archive = read_3mf(path)
    return [SceneObject(*mesh) for mesh in archive.meshes], archive.unit


def _raw_trimesh(path: Path, ending: str) -> tuple[list[SceneObject], str]:
    logger = logging.getLogger("trimesh")
    before, logger.disabled = logger.disabled, True
    try:
        scene: Any = trimesh.load_scene(
            path, process=False, **({"split_objects": True} if ending == ".obj" else {})
        )
    finally:
        logger.disabled = before
    pieces = []
    for node in sorted(scene.graph.nodes_geometry):
        matrix, name = scene.graph[node]
        mesh = scene.geometry[name]
        if not hasattr(mesh, "faces"):
            continue
        points = np.asarray(mesh.vertices, dtype=np.float64).reshape(-1, 3)
        matrix = np.asarray(matrix, dtype=np.float64)
        if not np.array_equal(matrix, np.eye(4)):
            points = points @ matrix[:3, :3].T + matrix[:3, 3]
        pieces.append(
            SceneObject(
                _name(node, path),
                _colour(mesh),
                points,
                np.asarray(mesh.faces, dtype=np.int64).reshape(-1, 3),
            )
        )
    return pieces, _FORMAT_UNITS.get(str(scene.units or ""), "")


def _name(node: str, path: Path) -> str:
    return "" if node in ("geometry_0", path.name) else str(node)


def _colour(mesh: Any) -> str:
    """Return the colour of most of a mesh as ``#rrggbb``, or an empty text."""
    visual = mesh.visual
    if not getattr(visual, "defined", False):
        return ""
    try:
        colour = np.asarray(
            visual.main_color if hasattr(visual, "main_color") else visual.material.main_color
        )
    except (AttributeError, ValueError, TypeError):
        return ""
    return "#" + "".join(f"{int(c):02x}" for c in colour[:3])


def _cleaned(raw: list[SceneObject]) -> tuple[list[SceneObject], list[str]]:
    pieces, bad_points, bad_faces, flat = [], 0, 0, 0
    for piece in raw:
        points, faces = piece.points, piece.faces
        known = np.logical_and.reduce((faces >= 0) & (faces < len(points)), axis=1)
        finite = np.logical_and.reduce(np.abs(np.nan_to_num(points, nan=np.inf)) < _FARTHEST, axis=1)
        used = faces[known]
        sound = np.logical_and.reduce(finite[used], axis=1)
        distinct = (used[:, 0] != used[:, 1]) & (used[:, 1] != used[:, 2]) & (used[:, 2] != used[:, 0])
        bad_faces += int((~known).sum())
        bad_points += int((~sound).sum())
        flat += int((sound & ~distinct).sum())
        used = used[sound & distinct]
        if len(used):
            kept = np.where(finite[:, None], points, 0.0)
            pieces.append(SceneObject(piece.name, piece.colour, kept, used))
    notes = []
    if bad_points:
        notes.append(f"{bad_points} faces with points that are not numbers were left out")
    if bad_faces:
        notes.append(f"{bad_faces} faces that refer to missing points were left out")
    if flat:
        notes.append(f"{flat} faces without area were left out")
    return pieces, notes
