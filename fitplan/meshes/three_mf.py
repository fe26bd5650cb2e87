"""3MF files: a zip archive with meshes, components and build items in XML (3MF Core Specification 1.3)."""

from __future__ import annotations

import io
import lzma
import posixpath
import zipfile
import zlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO
from xml.etree import ElementTree

import numpy as np
from numpy.typing import NDArray

from fitplan.meshes.limits import MOST_BYTES, MOST_FACES, Unfolded, bounded_bytes

UNITS = {
    "micron": "micron", "millimeter": "mm", "centimeter": "cm", "inch": "inch", "foot": "foot", "meter": "m",
}  # fmt: skip
_MODEL = "/3D/3dmodel.model"
_DEEPEST = 32
_MOST_ENTRIES = 2000


@dataclass
class _Object:
    """One object of the resources: a mesh, or components that name others."""

    name: str
    colour: str = ""
    points: list[tuple[float, float, float]] = field(default_factory=list)
    faces: list[tuple[int, int, int]] = field(default_factory=list)
    components: list[tuple[str, NDArray[np.float64]]] = field(default_factory=list)


@dataclass
class Archive:
    """What a 3MF file says: named meshes in the file's unit, each where the build puts it."""

    unit: str
    meshes: list[tuple[str, str, NDArray[np.float64], NDArray[np.int64]]]
    """(name, colour as #RRGGBB or empty, (n, 3) points, (m, 3) faces)."""


def read_3mf(path: Path) -> Archive:
    """Return the meshes of a 3MF file.

    Raises
    ------
    ValueError
        When it is no 3MF archive; the message says what is missing.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(bounded_bytes(path))) as archive:
            if len(archive.infolist()) > _MOST_ENTRIES:
                raise ValueError(f"an archive of {len(archive.infolist())} files")
            names = {posixpath.join("/", name): name for name in archive.namelist()}
            model = names.get(_MODEL) or next((n for p, n in names.items() if p.endswith(".model")), None)
            if model is None:
                raise ValueError("no 3D model in the archive")
            if (size := archive.getinfo(model).file_size) > MOST_BYTES:
                raise ValueError(f"an archive that unfolds to {size / 1e6:.0f} MB")
            with archive.open(model) as stream:
                return _read_model(_Bounded(stream))
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, lzma.LZMAError):
        # Damaged, packed in a way that is not read, or locked by a password.
        raise ValueError("no zip archive, or a damaged one") from None
    except ElementTree.ParseError as error:
        raise ValueError(f"broken XML: {error}") from None


class _Bounded:
    """A stream that ends in an error where more comes out of it than its archive said."""

    def __init__(self, stream: IO[bytes]) -> None:
        self._stream, self._left = stream, MOST_BYTES

    def read(self, count: int = -1) -> bytes:
        """Return the next bytes."""
        data = self._stream.read(count)
        self._left -= len(data)
        if self._left < 0:
            raise ValueError(f"an archive that unfolds to more than {MOST_BYTES / 1e6:.0f} MB")
        return data


def _local(tag: str) -> str:
    return tag.rsplit("}", 1)[-1]


def _read_model(stream: _Bounded) -> Archive:
    objects: dict[str, _Object] = {}
    colours: dict[tuple[str, int], str] = {}
    items: list[tuple[str, NDArray[np.float64]]] = []
    unit = "mm"
    current: _Object | None = None
    group, index = "", 0
    for event, element in ElementTree.iterparse(stream, events=("start", "end")):
        tag, get = _local(element.tag), element.get
        if event == "start":
            if tag == "model":
                unit = UNITS.get(get("unit", "millimeter"), "mm")
            elif tag == "object":
                key = (get("pid", ""), int(get("pindex", "0")))
                current = objects[get("id", "")] = _Object(get("name", ""), colours.get(key, ""))
            elif tag == "basematerials":
                group, index = get("id", ""), 0
            elif tag == "base":
                colours[group, index] = get("displaycolor", "")[:7].lower()
                index += 1
            continue
        if tag == "vertex" and current is not None:
            current.points.append((float(get("x", "nan")), float(get("y", "nan")), float(get("z", "nan"))))
        elif tag == "triangle" and current is not None:
            current.faces.append((int(get("v1", "0")), int(get("v2", "0")), int(get("v3", "0"))))
        elif tag == "component" and current is not None:
            current.components.append((get("objectid", ""), _transform(get("transform", ""))))
        elif tag == "item":
            items.append((get("objectid", ""), _transform(get("transform", ""))))
        if tag in ("vertex", "triangle") and current is not None and len(current.faces) > MOST_FACES:
            raise ValueError(f"more than {MOST_FACES} triangles")
        element.clear()
    found: list[tuple[str, str, NDArray[np.float64], NDArray[np.int64]]] = []
    count = Unfolded()
    for name, matrix in items:
        _gather(objects, name, matrix, "", found, 0, count)
    return Archive(unit, found)


def _transform(text: str) -> NDArray[np.float64]:
    """Return the 4 × 3 matrix of a transform (points are rows and stand on its left)."""
    if not text:
        return np.vstack((np.eye(3), np.zeros(3)))
    numbers = np.array([float(word) for word in text.split()])
    if numbers.size != 12:
        raise ValueError(f"a transform with {numbers.size} numbers instead of 12")
    return numbers.reshape(4, 3)


def _gather(
    objects: dict[str, _Object],
    key: str,
    matrix: NDArray[np.float64],
    name: str,
    found: list[tuple[str, str, NDArray[np.float64], NDArray[np.int64]]],
    depth: int,
    count: Unfolded,
) -> None:
    if key not in objects or depth > _DEEPEST:
        raise ValueError(f"an item that refers to the object {key!r}, which is not there or refers to itself")
    item = objects[key]
    name = item.name or name
    count.add(len(item.faces))
    if item.faces:
        points = np.array(item.points, dtype=np.float64).reshape(-1, 3) @ matrix[:3] + matrix[3]
        faces = np.array(item.faces, dtype=np.int64)
        found.append((name, item.colour, points, faces[:, ::-1] if np.linalg.det(matrix[:3]) < 0 else faces))
    for child, own in item.components:
        joined = np.vstack((own[:3] @ matrix[:3], own[3] @ matrix[:3] + matrix[3]))
        _gather(objects, child, joined, name, found, depth + 1, count)
