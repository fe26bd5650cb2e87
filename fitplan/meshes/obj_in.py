"""OBJ files: objects by name, whatever their materials; no picture is opened.

Read here and not by a library: faces of all materials of an object stay one object, and corners that count
backwards count from where they stand, as exporters write them object by object.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fitplan.meshes.limits import MOST_FACES, MOST_OBJECTS, bounded_bytes

_MOST_MATERIALS = 4_000_000
"""Bytes of a file of materials."""
_AFTER_SLASH = re.compile(r"/\S*")


@dataclass(eq=False)
class ObjObject:
    """An object: its name, faces (m, 3) into the file's points, palette, and each face's place in that."""

    name: str
    faces: NDArray[np.int64]
    palette: tuple[str, ...]
    colour: NDArray[np.int32]


@dataclass
class _Faces:
    """Lines of faces of one object, with the colour of each and the points that were known at each."""

    lines: list[str] = field(default_factory=list)
    colour: list[int] = field(default_factory=list)
    known: list[int] = field(default_factory=list)


def read_obj(path: Path) -> tuple[NDArray[np.float64], list[ObjObject]]:
    """Return the points (n, 3) of an OBJ file, and its objects: by ``o`` lines, or else by ``g`` lines.

    Raises
    ------
    ValueError
        When a line cannot be read; the message says which.
    """
    text = bounded_bytes(path).decode("utf-8", errors="replace").replace("\\\r\n", " ").replace("\\\n", " ")
    lines = text.splitlines()
    by_object = any(line.startswith("o ") for line in lines)
    points: list[str] = []
    objects: dict[str, _Faces] = {}
    shades: dict[str, str] = {}
    palette: dict[str, int] = {}
    name, colour = "", -1
    faces = objects.setdefault("", _Faces())
    for raw in lines:
        line = raw.lstrip()
        head = line[:2]
        if head in ("v ", "v\t"):
            points.append(line[2:])
        elif head in ("f ", "f\t"):
            faces.lines.append(line[2:])
            faces.colour.append(colour)
            faces.known.append(len(points))
        elif head == "o " or (head == "g " and not by_object):
            name = line[2:].strip()
            faces = objects.setdefault(name, _Faces())
            if len(objects) > MOST_OBJECTS:
                raise ValueError(f"more than {MOST_OBJECTS} objects")
        elif line.startswith("usemtl "):
            shade = shades.get(line[7:].strip(), "")
            colour = palette.setdefault(shade, len(palette)) if shade else -1
        elif line.startswith("mtllib ") and not shades:
            shades = _materials(path.parent / line[7:].strip())
    at = _points(points)
    found = []
    for name, own in objects.items():
        if own.lines:
            triangles, of = _triangulated(own)
            colours = np.array(own.colour, dtype=np.int32)[of]
            found.append(ObjObject(name, triangles, tuple(palette), colours))
    if sum(len(entry.faces) for entry in found) > MOST_FACES:
        raise ValueError(f"more than {MOST_FACES} triangles")
    return at, found


def _points(lines: list[str]) -> NDArray[np.float64]:
    """Return (n, 3) points; what stands behind the third number (a weight, a colour) is passed over."""
    rows = [line.split() for line in lines]
    for row in rows:
        if len(row) < 3:
            raise ValueError(f"a point 'v {' '.join(row)[:40]}' with fewer than three numbers")
    try:
        return np.array([[float(x) for x in row[:3]] for row in rows], dtype=np.float64).reshape(-1, 3)
    except ValueError as error:
        raise ValueError(f"a point that is no number ({str(error)[:80]})") from None


def _triangulated(faces: _Faces) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return (m, 3) triangles, each face as a fan, and the face that each is of."""
    rows = _AFTER_SLASH.sub("", "\n".join(faces.lines)).split("\n")
    words = [row.split("#")[0].split() for row in rows]
    counts = np.array([len(row) for row in words], dtype=np.int64)
    if (counts < 3).any():
        raise ValueError(f"a face 'f {rows[int((counts < 3).argmax())][:40]}' with fewer than three corners")
    try:
        flat = np.array([int(word) for row in words for word in row], dtype=np.int64)
    except (ValueError, OverflowError) as error:
        raise ValueError(f"a corner that is no whole number ({str(error)[:80]})") from None
    if (counts - 2).sum() > MOST_FACES:
        raise ValueError(f"more than {MOST_FACES} triangles")
    # From 1 on forwards; below 0 back from the points that stand before the face.
    known = np.repeat(np.array(faces.known, dtype=np.int64), counts)
    flat = np.where(flat > 0, flat - 1, np.where(flat < 0, known + flat, -1))
    starts = np.cumsum(counts) - counts
    of = np.repeat(np.arange(len(counts)), counts - 2)
    step = np.arange(len(of)) - np.repeat(np.cumsum(counts - 2) - (counts - 2), counts - 2)
    first = starts[of]
    return np.column_stack((flat[first], flat[first + step + 1], flat[first + step + 2])), of


def _materials(path: Path) -> dict[str, str]:
    """Return the colour of each material as ``#rrggbb``; what cannot be read has none."""
    try:
        text = bounded_bytes(path, _MOST_MATERIALS).decode("utf-8", errors="replace")
    except (ValueError, OSError):
        return {}
    found: dict[str, str] = {}
    name = ""
    for line in text.splitlines():
        words = line.split()
        if len(words) > 1 and words[0] == "newmtl":
            name = line.strip()[6:].strip()
        elif len(words) == 4 and words[0] == "Kd" and name:
            try:
                levels = [round(255 * min(max(float(word), 0.0), 1.0)) for word in words[1:]]
            except ValueError:
                continue
            found[name] = "#" + "".join(f"{level:02x}" for level in levels)
    return found
