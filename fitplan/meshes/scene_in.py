"""Mesh files into pieces: named, coloured triangles, each instance where the scene puts it."""

from __future__ import annotations

import io
import logging
import struct
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitplan.errors import InputError, Mistake, nearest_name
from fitplan.meshes.gltf_in import PlacedMesh, read_gltf
from fitplan.meshes.library import trimesh
from fitplan.meshes.limits import bounded_bytes
from fitplan.meshes.obj_in import ObjObject, read_obj
from fitplan.meshes.three_mf import read_3mf

KINDS = {
    ".stl": "stl", ".obj": "obj", ".ply": "ply", ".glb": "glb", ".gltf": "gltf", ".off": "off", ".3mf": "3mf",
}  # fmt: skip
"""File endings that are read."""

_FARTHEST = 1e9
_DAMAGE = (
    ArithmeticError, AssertionError, AttributeError, LookupError, MemoryError, NameError, OSError,
    RuntimeError, TypeError, ValueError, struct.error,
)  # fmt: skip
"""What damaged files raise in readers, our own and the library's."""


@dataclass(frozen=True, eq=False)
class SceneObject:
    """One object of a scene.

    Attributes
    ----------
    name
        As the file names it; empty when it does not.
    colour
        ``#rrggbb`` of most of its faces, or empty.
    points, faces
        (n, 3) float64 in the file's unit, and (m, 3) int64 indices into them.
    bricks
        (m,) the brick that each face belongs to, 0 for none, once bricks are known; None before.
    within
        Other names that hold for it: its mesh's, and those of the groups that it stands in, inner ones first.
    palette, colours
        Colours of its faces, and the place of each face's in them (m,), -1 for none; None where all are
        ``colour``.
    """

    name: str
    colour: str
    points: NDArray[np.float64]
    faces: NDArray[np.int64]
    bricks: NDArray[np.int64] | None = None
    within: tuple[str, ...] = ()
    palette: tuple[str, ...] = ()
    colours: NDArray[np.int32] | None = None

    def chosen(self, faces: NDArray[np.bool_]) -> SceneObject:
        """Return the piece with some of its faces (m,) only."""
        bricks = None if self.bricks is None else self.bricks[faces]
        colours = None if self.colours is None else self.colours[faces]
        return replace(self, faces=self.faces[faces], bricks=bricks, colours=colours)

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
            raw, unit = _raw(path, ending)
    except _DAMAGE as error:
        told = isinstance(error, OSError | ValueError) and str(error)
        reason = str(error).split("\n")[0][:200] if told else "its content is damaged"
        raise _mistake(path, f"a file that cannot be read ({reason})", f"a {KINDS[ending]} mesh") from None
    pieces, notes = _cleaned(raw)
    if not pieces:
        lost = f" ({'; '.join(notes)})" if notes else ""
        raise _mistake(path, f"no usable triangle{lost}", "a mesh with surfaces")
    return Scene(tuple(pieces), unit, "y" if ending in (".glb", ".gltf") else "", tuple(notes))


def _raw(path: Path, ending: str) -> tuple[list[SceneObject], str]:
    """Return the pieces of a file and the unit that it declares."""
    match ending:
        case ".3mf":
            archive = read_3mf(path)
            return [SceneObject(*mesh) for mesh in archive.meshes], archive.unit
        case ".glb" | ".gltf":
            return [_placed(mesh) for mesh in read_gltf(path)], "m"
        case ".obj":
            points, objects = read_obj(path)
            return [_object(points, entry) for entry in objects], ""
    return _raw_trimesh(path, ending), ""


def _placed(mesh: PlacedMesh) -> SceneObject:
    name, *within = mesh.names or ("",)
    main = _main_colour(mesh.palette, mesh.colour)
    return SceneObject(
        name, main, mesh.points, mesh.faces, None, tuple(within), mesh.palette,
        mesh.colour if len(mesh.palette) > 1 else None,
    )  # fmt: skip


def _object(points: NDArray[np.float64], entry: ObjObject) -> SceneObject:
    """Return an object of an OBJ file with the points that it uses; corners without a point stay wrong."""
    known = (entry.faces >= 0) & (entry.faces < len(points))
    used, place = np.unique(entry.faces[known], return_inverse=True)
    faces = np.full(entry.faces.shape, -1, dtype=np.int64)
    faces[known] = place.reshape(-1)
    main = _main_colour(entry.palette, entry.colour)
    several = len(np.unique(entry.colour)) > 1
    return SceneObject(
        entry.name, main, points[used], faces, None, (), entry.palette, entry.colour if several else None
    )


def _main_colour(palette: Sequence[str], colours: NDArray[np.int32]) -> str:
    known = colours[colours >= 0]
    return palette[int(np.bincount(known).argmax())] if len(known) else ""


def _raw_trimesh(path: Path, ending: str) -> list[SceneObject]:
    """Return the pieces of an STL, PLY or OFF file."""
    logger = logging.getLogger("trimesh")
    before, logger.disabled = logger.disabled, True
    try:
        data = io.BytesIO(bounded_bytes(path))
        scene: Any = trimesh.load_scene(data, file_type=ending[1:], process=False)
    finally:
        logger.disabled = before
    pieces = []
    for node in sorted(scene.graph.nodes_geometry):
        mesh = scene.geometry[scene.graph[node][1]]
        if not hasattr(mesh, "faces"):
            continue
        points = np.asarray(mesh.vertices, dtype=np.float64).reshape(-1, 3)
        faces = np.asarray(mesh.faces, dtype=np.int64).reshape(-1, 3)
        name = "" if node == "geometry_0" else str(node)
        palette, colours = _colours(mesh, len(faces))
        main = _main_colour(palette, colours)
        pieces.append(
            SceneObject(name, main, points, faces, None, (), palette, colours if len(palette) > 1 else None)
        )
    return pieces


def _colours(mesh: Any, count: int) -> tuple[tuple[str, ...], NDArray[np.int32]]:
    """Return the colours of a mesh as ``#rrggbb`` and the place of each face's in them."""
    none = np.full(count, -1, dtype=np.int32)
    if not getattr(mesh.visual, "defined", False):
        return (), none
    try:
        rgb = np.asarray(mesh.visual.face_colors, dtype=np.int64)[:, :3]
        shades, place = np.unique(rgb @ (65536, 256, 1), return_inverse=True)
    except (AttributeError, ValueError, TypeError, IndexError):
        return (), none
    if len(place.reshape(-1)) != count:
        return (), none
    return tuple(f"#{int(shade):06x}" for shade in shades), place.reshape(-1).astype(np.int32)


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
        known[known] = sound & distinct
        if known.any():
            kept = np.where(finite[:, None], points, 0.0)
            pieces.append(replace(piece, points=kept).chosen(known))
    notes = []
    if bad_points:
        notes.append(f"{bad_points} faces with points that are not numbers were left out")
    if bad_faces:
        notes.append(f"{bad_faces} faces that refer to missing points were left out")
    if flat:
        notes.append(f"{flat} faces without area were left out")
    return pieces, notes
