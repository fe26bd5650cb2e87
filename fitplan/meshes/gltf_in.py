"""glTF 2.0 files, text or binary (Khronos glTF 2.0 specification, sections 3.5 to 3.7): objects as placed.

Read here and not by a library: all materials of a mesh are one object, names are the file's own in every run,
and instances, accessors and buffers are counted before anything is unpacked. No picture is opened.
"""

from __future__ import annotations

import base64
import binascii
import json
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import numpy as np
from numpy.typing import NDArray

from fitplan.meshes.limits import MOST_BYTES, MOST_FACES, MOST_LEVELS, Unfolded, bounded_bytes

_MAGIC, _JSON, _BIN = 0x46546C67, 0x4E4F534A, 0x004E4942
_KINDS = {5120: "<i1", 5121: "<u1", 5122: "<i2", 5123: "<u2", 5125: "<u4", 5126: "<f4"}
_SHAPES = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4}
_TRIANGLES, _STRIP, _FAN = 4, 5, 6
_PACKED = {
    "KHR_draco_mesh_compression": "compressed triangles", "EXT_meshopt_compression": "compressed buffers",
    "KHR_meshopt_compression": "compressed buffers", "EXT_mesh_gpu_instancing": "instances as buffers",
}  # fmt: skip
"""Extensions without which a file that requires them shows nothing or something else."""


@dataclass(frozen=True, eq=False)
class PlacedMesh:
    """A mesh where the scene places it.

    ``names`` are its own name, its mesh's, and those of the groups that it stands in, from the inside out;
    ``points`` (n, 3) in the file's unit; ``faces`` (m, 3); ``palette`` colours as ``#rrggbb``, and ``colour``
    (m,) the place of each face's colour in it, -1 for none.
    """

    names: tuple[str, ...]
    points: NDArray[np.float64]
    faces: NDArray[np.int64]
    palette: tuple[str, ...]
    colour: NDArray[np.int32]


def read_gltf(path: Path) -> list[PlacedMesh]:
    """Return the meshes of a glTF file, in the order of its nodes.

    Raises
    ------
    ValueError
        When it is no glTF 2.0, is damaged, or unfolds to more than is read; the message says what was found.
    """
    data = bounded_bytes(path)
    head, binary = _parted(data)
    if not isinstance(head, dict):
        raise ValueError("no glTF header")
    version = str(_table(head.get("asset")).get("version", "1.0"))
    if not version.startswith("2."):
        raise ValueError(f"glTF version {version[:10]}; version 2 is read")
    for name in _listed(head.get("extensionsRequired")):
        if name in _PACKED:
            raise ValueError(f"{_PACKED[name]} ({name}); export it without")
    return list(_Reader(head, binary, path.parent).placed())


def _parted(data: bytes) -> tuple[Any, bytes | None]:
    """Return the header and the binary chunk of a file."""
    if len(data) < 12 or struct.unpack_from("<I", data)[0] != _MAGIC:
        return _parsed(data), None
    version = struct.unpack_from("<I", data, 4)[0]
    if version != 2:
        raise ValueError(f"glTF version {version}; version 2 is read")
    head, binary, at = None, None, 12
    while at + 8 <= len(data):
        size, kind = struct.unpack_from("<II", data, at)
        if at + 8 + size > len(data):
            raise ValueError("a file that is cut short")
        chunk = data[at + 8 : at + 8 + size]
        if kind == _JSON and head is None:
            head = _parsed(chunk)
        elif kind == _BIN and binary is None:
            binary = chunk
        at += 8 + size
    return head, binary


def _parsed(data: bytes) -> Any:
    try:
        return json.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise ValueError("a glTF header that is no JSON") from None


def _table(value: object) -> dict[str, Any]:
    return value if isinstance(value, dict) else {}


def _listed(value: object) -> list[Any]:
    return value if isinstance(value, list) else []


def _whole(value: object, what: str, least: int = 0) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= 2**40:
        raise ValueError(f"{what} {str(value)[:20]}")
    return value


class _Reader:
    """A glTF header with its buffers."""

    def __init__(self, head: dict[str, Any], binary: bytes | None, folder: Path) -> None:
        self._head, self._binary, self._folder = head, binary, folder
        self._buffers: dict[int, bytes] = {}
        self._bytes_left = MOST_BYTES
        self._meshes: dict[int, PlacedMesh | None] = {}
        self._count = Unfolded()

    def _entry(self, kind: str, number: object) -> dict[str, Any]:
        entries = _listed(self._head.get(kind))
        place = _whole(number, f"an index of {kind}")
        if place >= len(entries) or not isinstance(entries[place], dict):
            raise ValueError(f"a reference to {kind}[{place}], which is not there")
        return entries[place]  # type: ignore[no-any-return]

    def placed(self) -> Iterator[PlacedMesh]:
        """Yield each mesh where the scene places it."""
        nodes = _listed(self._head.get("nodes"))
        scenes = _listed(self._head.get("scenes"))
        if scenes:
            roots = _listed(self._entry("scenes", self._head.get("scene", 0)).get("nodes"))
        else:
            inner = {
                child
                for node in nodes
                for child in _listed(_table(node).get("children"))
                if isinstance(child, int)
            }
            roots = [number for number in range(len(nodes)) if number not in inner]
        if not nodes:
            for number in range(len(_listed(self._head.get("meshes")))):
                yield from self._at((number, np.eye(4), ()))
        for root in roots:
            yield from self._walked(root, np.eye(4), (), 0)

    def _walked(
        self, number: object, matrix: NDArray[np.float64], names: tuple[str, ...], depth: int
    ) -> Iterator[PlacedMesh]:
        if depth > MOST_LEVELS:
            raise ValueError(f"objects that stand in one another over more than {MOST_LEVELS} levels")
        node = self._entry("nodes", number)
        self._count.add()
        own = matrix @ _matrix(node)
        name = node.get("name")
        if isinstance(name, str) and name:
            names = (name, *names)
        if "mesh" in node:
            yield from self._at((node["mesh"], own, names))
        for child in _listed(node.get("children")):
            yield from self._walked(child, own, names, depth + 1)

    def _at(self, place: tuple[object, NDArray[np.float64], tuple[str, ...]]) -> Iterator[PlacedMesh]:
        number, matrix, names = place
        entry = self._entry("meshes", number)
        key = _whole(number, "a mesh")
        if key not in self._meshes:
            self._meshes[key] = self._mesh(entry)
        mesh = self._meshes[key]
        if mesh is None:
            return
        self._count.add(len(mesh.faces))
        points, faces = mesh.points, mesh.faces
        if not np.array_equal(matrix, np.eye(4)):
            points = points @ matrix[:3, :3].T + matrix[:3, 3]
            if np.linalg.det(matrix[:3, :3]) < 0:
                faces = faces[:, ::-1]
        yield PlacedMesh((*names[:1], *mesh.names, *names[1:]), points, faces, mesh.palette, mesh.colour)

    def _mesh(self, entry: dict[str, Any]) -> PlacedMesh | None:
        """Join all primitives of a mesh to one object; None when it has no triangles."""
        points, faces, colours = [], [], []
        palette: dict[str, int] = {}
        start = 0
        for primitive in _listed(entry.get("primitives")):
            primitive = _table(primitive)
            mode = primitive.get("mode", _TRIANGLES)
            attributes = _table(primitive.get("attributes"))
            if mode not in (_TRIANGLES, _STRIP, _FAN) or "POSITION" not in attributes:
                continue
            at = self._accessor(attributes["POSITION"])
            if at.ndim != 2 or at.shape[1] != 3:
                raise ValueError("points that are not three numbers each")
            index = (
                self._accessor(primitive["indices"]).reshape(-1)
                if "indices" in primitive
                else np.arange(len(at))
            )
            own = _triangles(index.astype(np.int64), mode)
            points.append(at.astype(np.float64))
            faces.append(own + start)
            colours.append(self._colours(primitive, own, len(at), palette))
            start += len(at)
            if sum(map(len, faces)) > MOST_FACES:
                raise ValueError(f"more than {MOST_FACES} triangles")
        if not start:
            return None
        name = entry.get("name")
        names = (name,) if isinstance(name, str) and name else ()
        return PlacedMesh(
            names, np.concatenate(points), np.concatenate(faces), tuple(palette), np.concatenate(colours)
        )

    def _colours(
        self, primitive: dict[str, Any], faces: NDArray[np.int64], count: int, palette: dict[str, int]
    ) -> NDArray[np.int32]:
        """Return the place in the palette of each face's colour: of its first corner, or of the material."""
        attributes = _table(primitive["attributes"])
        if "COLOR_0" in attributes and len(faces):
            values = self._accessor(attributes["COLOR_0"])
            if len(values) == count and values.ndim == 2 and faces.max() < count:
                scale = 255.0 if values.dtype.kind == "f" else 255.0 / float(np.iinfo(values.dtype).max)
                levels = np.nan_to_num(values[:, :3].astype(np.float64) * scale)
                rgb = np.clip(np.round(levels), 0, 255).astype(np.int64)[faces[:, 0]]
                shades, place = np.unique(rgb @ (65536, 256, 1), return_inverse=True)
                known = [palette.setdefault(f"#{int(shade):06x}", len(palette)) for shade in shades]
                colours: NDArray[np.int32] = np.array(known, dtype=np.int32)[place.reshape(-1)]
                return colours
        if "material" not in primitive:
            return np.full(len(faces), -1, dtype=np.int32)
        material = self._entry("materials", primitive["material"])
        factor = _table(material.get("pbrMetallicRoughness")).get("baseColorFactor", [1, 1, 1, 1])
        shade = "#" + "".join(f"{round(255 * min(max(c, 0.0), 1.0)):02x}" for c in _numbers(factor, 4)[:3])
        return np.full(len(faces), palette.setdefault(shade, len(palette)), dtype=np.int32)

    def _accessor(self, number: object) -> NDArray[Any]:
        """Return (count, columns) numbers of an accessor; scalars are (count, 1)."""
        entry = self._entry("accessors", number)
        count = _whole(entry.get("count"), "a count of", 1)
        kind, shape = entry.get("componentType"), entry.get("type")
        if kind not in _KINDS or shape not in _SHAPES:
            raise ValueError("an accessor of an unknown type")
        if count > 4 * MOST_FACES:
            raise ValueError(f"an accessor of {count} entries")
        dtype, columns = np.dtype(_KINDS[kind]), _SHAPES[shape]
        if "bufferView" in entry:
            offset = _whole(entry.get("byteOffset", 0), "an offset of")
            values = self._viewed(entry["bufferView"], offset, count, dtype, columns)
        else:
            values = np.zeros((count, columns), dtype)
        if "sparse" in entry:
            sparse = _table(entry["sparse"])
            few = _whole(sparse.get("count"), "a count of", 1)
            where, what = _table(sparse.get("indices")), _table(sparse.get("values"))
            if few > count or where.get("componentType") not in _KINDS:
                raise ValueError("a sparse accessor that does not fit")
            index = np.dtype(_KINDS[where["componentType"]])
            offset = _whole(where.get("byteOffset", 0), "an offset of")
            at = self._viewed(where.get("bufferView"), offset, few, index, 1).reshape(-1).astype(np.int64)
            if at.min() < 0 or at.max() >= count:
                raise ValueError("a sparse accessor that reaches beyond its end")
            offset = _whole(what.get("byteOffset", 0), "an offset of")
            values = values.copy()
            values[at] = self._viewed(what.get("bufferView"), offset, few, dtype, columns)
        if entry.get("normalized") and dtype.kind in "iu":
            # The lowest number of a signed kind would be less than −1.
            shares: NDArray[Any] = np.maximum(values.astype(np.float32) / np.float32(np.iinfo(dtype).max), -1)
            return shares
        return values

    def _viewed(
        self, number: object, offset: int, count: int, dtype: np.dtype[Any], columns: int
    ) -> NDArray[Any]:
        view = self._entry("bufferViews", number)
        data = self._buffer(view.get("buffer"))
        start = _whole(view.get("byteOffset", 0), "an offset of")
        length = _whole(view.get("byteLength"), "a length of")
        row = columns * dtype.itemsize
        stride = _whole(view.get("byteStride", row), "a stride of", 1)
        if stride < row or start + length > len(data) or offset + (count - 1) * stride + row > length:
            raise ValueError("an accessor that reaches beyond its buffer")
        return np.ndarray((count, columns), dtype, data, start + offset, (stride, dtype.itemsize))

    def _buffer(self, number: object) -> bytes:
        entry = self._entry("buffers", number)
        key = _whole(number, "a buffer")
        if key not in self._buffers:
            self._buffers[key] = data = self._loaded(entry.get("uri"))
            self._bytes_left -= len(data)
        return self._buffers[key]

    def _loaded(self, uri: object) -> bytes:
        if uri is None:
            if self._binary is None:
                raise ValueError("a buffer that is not in the file")
            return self._binary
        if not isinstance(uri, str):
            raise ValueError("a buffer without a name")
        if uri.startswith("data:"):
            _, found, text = uri.partition(";base64,")
            if not found:
                raise ValueError("a buffer in a coding that is not read")
            try:
                return base64.b64decode(text, validate=True)
            except binascii.Error:
                raise ValueError("a buffer that is no base64") from None
        return bounded_bytes(self._folder / unquote(uri), self._bytes_left)


def _triangles(index: NDArray[np.int64], mode: int) -> NDArray[np.int64]:
    """Return (m, 3) triangles of a list, a strip or a fan."""
    if mode == _TRIANGLES:
        return index[: len(index) // 3 * 3].reshape(-1, 3)
    if len(index) < 3:
        return np.zeros((0, 3), dtype=np.int64)
    if mode == _FAN:
        return np.column_stack((np.full(len(index) - 2, index[0]), index[1:-1], index[2:]))
    strip = np.column_stack((index[:-2], index[1:-1], index[2:]))
    strip[1::2] = strip[1::2, ::-1]
    return strip


def _numbers(value: object, count: int) -> list[float]:
    values = _listed(value)
    if len(values) != count or not all(isinstance(v, int | float) and abs(v) < 1e30 for v in values):
        raise ValueError(f"{str(value)[:40]} instead of {count} numbers")
    return [float(v) for v in values]


def _matrix(node: dict[str, Any]) -> NDArray[np.float64]:
    """Return the (4, 4) matrix of a node, from its columns or from move, turning (x, y, z, w) and scale."""
    if "matrix" in node:
        return np.array(_numbers(node["matrix"], 16)).reshape(4, 4).T
    result = np.eye(4)
    if "rotation" in node:
        quaternion = np.array(_numbers(node["rotation"], 4))
        length = float(np.linalg.norm(quaternion))
        if length > 0:
            x, y, z, w = quaternion / length
            result[:3, :3] = [
                [1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)],
                [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
                [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)],
            ]
    if "scale" in node:
        result[:3, :3] *= _numbers(node["scale"], 3)
    if "translation" in node:
        result[:3, 3] = _numbers(node["translation"], 3)
    return result
