"""What the names and colours of a scene's objects say: what comes out, what is built in, what stays clear."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fitplan.lattice.frame import Frame
from fitplan.meshes.blocks import FIXED, FREE, KEEP_CLEAR, OUTSIDE, REMOVABLE
from fitplan.meshes.fill import Filled, fill, grown
from fitplan.meshes.scene_in import SceneObject, bounds_of_pieces
from fitplan.meshes.surface import draw_surface, shells_of

LONGEST_NAME = 60
"""Longest name in a vehicle file."""
_MARGIN = 2
"""Clear voxels round pieces that are drawn alone."""
_PLANNED = re.compile(r"(part|shelf|wire \d+): ")
"""Objects that `mesh_out.plan_glb` adds to the vehicles themselves."""
Role = Literal["body", "removable", "keep-clear", "built in"]


class Mark(NamedTuple):
    """What an object is, and the name of the removable brick or of what is built in."""

    role: Role
    name: str = ""


def mark_of(piece: SceneObject, named: Mapping[str, str]) -> Mark:
    """Return what an object is.

    Its name or colour may be one that the user named (`named`: which removable brick it is). Otherwise names
    that begin with ``removable``, ``built in`` or ``keep-clear`` say it; what follows is the brick's name. A
    ``figure`` is built in, too. What its own name does not say, that of its mesh or group may.
    """
    for key in (piece.name, piece.colour):
        if key and key in named:
            return Mark("removable", named[key])
    for name in (piece.name, *piece.within):
        if (mark := _named(name.split("/")[-1])) is not None:
            return mark
    # A name may have a stroke of its own: ``removable: lid/left``.
    return _named(piece.name) or Mark("body")


def _named(name: str) -> Mark | None:
    """Return what a name says; None where it says nothing."""
    words = name.strip()
    lower = (
        words.lower().replace("_", "-").replace("built-in", "built in").replace("keep clear", "keep-clear")
    )
    roles: tuple[Role, ...] = ("removable", "built in", "keep-clear")
    for role in roles:
        if lower.startswith(role):
            return Mark(role, short_name(words[len(role) :].strip(" :_-")) or role)
    return Mark("built in", short_name(words)) if lower.startswith("figure") else None


def short_name(name: str) -> str:
    """Return a name as a vehicle file may hold it: printable, in one line, and not too long."""
    printable = "".join(c if c.isprintable() else " " for c in name.replace("/", " "))
    return " ".join(printable.split())[:LONGEST_NAME].strip()


def without_plan(pieces: Sequence[SceneObject]) -> tuple[SceneObject, ...]:
    """Return the pieces without what a plan put into its vehicles: ``NAME/part: …`` beside ``NAME/body``."""
    bodies = {piece.name.rpartition("/")[0] for piece in pieces if piece.name.endswith("/body")}
    return tuple(piece for piece in pieces if not _planned(piece.name, bodies))


def _planned(name: str, bodies: set[str]) -> bool:
    vehicle, _, own = name.partition("/")
    return vehicle in bodies and _PLANNED.match(own) is not None


def gathered(
    pieces: Sequence[SceneObject], chosen: Sequence[int]
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.int64]]:
    """Return points, faces and the object of each face of some pieces together; each brick is an object."""
    points, faces, objects, start, count = [], [], [], 0, 0
    for index in chosen:
        piece = pieces[index]
        points.append(piece.points)
        faces.append(piece.faces + start)
        if piece.bricks is None:
            objects.append(np.full(len(piece.faces), count, dtype=np.int64))
            count += 1
        else:
            objects.append(count + piece.bricks)
            count += 1 + int(piece.bricks.max(initial=0))
        start += len(piece.points)
    return np.concatenate(points), np.concatenate(faces), np.concatenate(objects)


def solid_of(pieces: Sequence[SceneObject], chosen: Sequence[int], frame: Frame) -> NDArray[np.bool_]:
    """Return (x, y, z) bool, where some pieces alone are solid, rounded outwards."""
    if not chosen:
        return np.zeros(frame.shape, dtype=np.bool_)
    points, faces, objects = gathered(pieces, chosen)
    # Drawn in a window round them alone.
    bounds = bounds_of_pieces([pieces[index] for index in chosen])
    places = (bounds - np.asarray(frame.origin)) / frame.pitch
    low = np.maximum(np.floor(places[0]).astype(int) - _MARGIN, 0)
    high = np.minimum(np.ceil(places[1]).astype(int) + _MARGIN, frame.shape)
    x, y, z = (round(float(c), 6) for c in np.asarray(frame.origin) + low * frame.pitch)
    small = Frame(
        (x, y, z), (int(high[0] - low[0]), int(high[1] - low[1]), int(high[2] - low[2])), frame.pitch
    )
    drawn = fill(draw_surface(points, faces, small), shells_of(points, faces, objects), gap=0.0).solid
    result = np.zeros(frame.shape, dtype=np.bool_)
    result[low[0] : high[0], low[1] : high[1], low[2] : high[2]] = drawn
    return result


def codes_of(
    pieces: Sequence[SceneObject], marks: Sequence[Mark], filled: Filled, frame: Frame
) -> tuple[NDArray[np.uint8], tuple[str, ...], tuple[str, ...]]:
    """Return the state of each voxel, the names of the removable bricks, and those of what is built in.

    Where two objects share a voxel, what stays governs. What is built into a cavity is left out: the body is
    free there. What is built in elsewhere counts as body.
    """

    def own(role: Role, name: str | None = None) -> list[int]:
        return [n for n, mark in enumerate(marks) if mark.role == role and name in (None, mark.name)]

    codes = np.full(frame.shape, OUTSIDE, dtype=np.uint8)
    codes[filled.cavity] = FREE
    if own("keep-clear"):
        codes[solid_of(pieces, own("keep-clear"), frame)] = KEEP_CLEAR
    codes[filled.solid] = FIXED
    names = tuple(dict.fromkeys(mark.name for mark in marks if mark.role == "removable"))
    built = []
    if names or own("built in"):
        stays = solid_of(pieces, own("body"), frame)
        for place, name in enumerate(names):
            codes[solid_of(pieces, own("removable", name), frame) & filled.solid & ~stays] = REMOVABLE + place
        for name in dict.fromkeys(mark.name for mark in marks if mark.role == "built in"):
            region = solid_of(pieces, own("built in", name), frame) & ~stays & (codes == FIXED)
            if (codes[grown(region) & ~region] == FREE).any():
                codes[region] = FREE
                built.append(name)
    return codes, names, tuple(built)
