"""Mesh files that a malicious hand would make: small ones that unfold to much, or refer to pipes."""

from __future__ import annotations

import base64
import json
import os
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np

CORNERS = np.array([(0, 0, 0), (8, 0, 0), (0, 8, 0), (0, 0, 8)], dtype=np.float32)
FACES = np.array([(0, 2, 1), (0, 1, 3), (1, 2, 3), (2, 0, 3)], dtype=np.uint16)
DATA = CORNERS.tobytes() + FACES.tobytes()
NAMESPACE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"


def gltf(**changes: object) -> dict[str, object]:
    """Return the header of a tetrahedron, with other values for some keys; None leaves a key out."""
    uri = "data:application/octet-stream;base64," + base64.b64encode(DATA).decode()
    head: dict[str, object] = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0, "name": "one"}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": 4, "type": "VEC3"},
            {"bufferView": 1, "componentType": 5123, "count": 12, "type": "SCALAR"},
        ],
        "bufferViews": [
            {"buffer": 0, "byteLength": 48},
            {"buffer": 0, "byteOffset": 48, "byteLength": 24},
        ],
        "buffers": [{"byteLength": len(DATA), "uri": uri}],
    }
    head.update(changes)
    return {key: value for key, value in head.items() if value is not None}


def doubled(levels: int) -> list[object]:
    """Return nodes each of which holds the next one twice."""
    return [{"children": [n + 1, n + 1]} for n in range(levels)] + [{"mesh": 0}]


def _accessor(**changes: object) -> list[object]:
    return [
        {"bufferView": 0, "componentType": 5126, "count": 4, "type": "VEC3", **changes},
        {"bufferView": 1, "componentType": 5123, "count": 12, "type": "SCALAR"},
    ]


def _header(**changes: object) -> Callable[[Path], Path]:
    def write(folder: Path) -> Path:
        path = folder / "bomb.gltf"
        path.write_text(json.dumps(gltf(**changes)), encoding="utf-8")
        return path

    return write


def _named_buffer(uri: str) -> Callable[[Path], Path]:
    def write(folder: Path) -> Path:
        if hasattr(os, "mkfifo"):
            os.mkfifo(folder / "pipe")
        return _header(buffers=[{"byteLength": len(DATA), "uri": uri}])(folder)

    return write


def _glb(version: int, length: int) -> Callable[[Path], Path]:
    def write(folder: Path) -> Path:
        text = json.dumps(gltf()).encode()
        path = folder / "bomb.glb"
        path.write_bytes(struct.pack("<4sIIII", b"glTF", version, 20 + len(text), length, 0x4E4F534A) + text)
        return path

    return write


def _old_gltf(folder: Path) -> Path:
    path = folder / "bomb.gltf"
    path.write_text(json.dumps({"meshes": {"a": {"primitives": []}}, "scene": "a"}), encoding="utf-8")
    return path


def _three_mf(body: str, inflated: int = 0) -> Callable[[Path], Path]:
    def write(folder: Path) -> Path:
        path = folder / "bomb.3mf"
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            head = f'<model unit="millimeter" xmlns="{NAMESPACE}"><resources>'
            with archive.open("3D/3dmodel.model", "w", force_zip64=True) as stream:
                stream.write(head.encode())
                for _ in range(inflated // 10_000_000):
                    stream.write(b" " * 10_000_000)
                stream.write(body.encode())
        return path

    return write


def _objects(levels: int) -> str:
    mesh = (
        '<object id="0"><mesh><vertices><vertex x="0" y="0" z="0"/><vertex x="8" y="0" z="0"/>'
        '<vertex x="0" y="8" z="0"/></vertices><triangles><triangle v1="0" v2="1" v3="2"/></triangles></mesh>'
        "</object>"
    )
    pairs = "".join(
        f'<object id="{n}"><components><component objectid="{n - 1}"/><component objectid="{n - 1}"/>'
        "</components></object>"
        for n in range(1, levels + 1)
    )
    return f'{mesh}{pairs}</resources><build><item objectid="{levels}"/></build></model>'


def _text(ending: str, text: str) -> Callable[[Path], Path]:
    def write(folder: Path) -> Path:
        path = folder / f"bomb{ending}"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def _device(folder: Path) -> Path:
    path = folder / "bomb.obj"
    path.symlink_to("/dev/zero")
    return path


def _pipe(folder: Path) -> Path:
    os.mkfifo(folder / "bomb.stl")
    return folder / "bomb.stl"


ENTITIES = '<?xml version="1.0"?><!DOCTYPE m [<!ENTITY a "aaaaaaaaaa">' + "".join(
    f'<!ENTITY {chr(98 + n)} "{("&" + chr(97 + n) + ";") * 10}">' for n in range(9)
) + "]><model>&j;</model>"  # fmt: skip


def _entities(folder: Path) -> Path:
    path = folder / "bomb.3mf"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("3D/3dmodel.model", ENTITIES)
    return path


BOMBS: dict[str, tuple[Callable[[Path], Path], str]] = {
    "nodes that double thirty times": (_header(nodes=doubled(30)), "more than 100000 objects"),
    "nodes in a ring": (_header(nodes=[{"children": [0], "mesh": 0}]), "levels"),
    "a count beyond the buffer": (_header(accessors=_accessor(count=2**31)), "an accessor of 2147483648"),
    "a count that overflows": (_header(accessors=_accessor(count=2**62)), "a count of 4611686018427387904"),
    "a negative offset": (_header(accessors=_accessor(byteOffset=-8)), "an offset of -8"),
    "an accessor of nothing": (_header(accessors=_accessor(bufferView=9)), r"bufferViews\[9\]"),
    "a stride of nothing": (
        _header(bufferViews=[{"buffer": 0, "byteLength": 48, "byteStride": 0}, {}]), "a stride of 0"),
    "zeros without a buffer": (_header(accessors=_accessor(bufferView=None)), "an index of bufferViews"),
    "a pipe as buffer": (_named_buffer("pipe"), "is no file"),
    "a device as buffer": (_named_buffer("../../../../../../../../dev/zero"), "is no file"),
    "a buffer that is not there": (_named_buffer("nothing.bin"), "is no file"),
    "a buffer without base64": (_named_buffer("data:x;base64,%%%"), "no base64"),
    "glTF 1, binary": (_glb(1, 4), "glTF version 1"),
    "glTF 1, text": (_old_gltf, "glTF version 1.0"),
    "a chunk beyond the end": (_glb(2, 2**32 - 1), "cut short"),
    "compressed triangles": (
        _header(extensionsRequired=["KHR_draco_mesh_compression"]), "compressed triangles"),
    "deep nesting": (_text(".gltf", '{"a":' * 100_000), "no JSON"),
    "objects that double thirty times": (_three_mf(_objects(30)), "more than 100000 objects"),
    "an archive that unfolds to a gigabyte": (_three_mf(_objects(1), 1_000_000_000), "unfolds to"),
    "entities that multiply": (_entities, "XML"),
    "a pipe": (_pipe, "no file"),
    "a device": (_device, "no file"),
    "an index beyond counting": (_text(".obj", "v 0 0 0\nf 1 2 99999999999999999999\n"), "corner"),
    "a face of a million corners": (
        _text(".obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf" + " 1 2 3" * 300_000), "no usable triangle|units"),
    "a header of many points": (
        _text(".ply", "ply\nformat ascii 1.0\nelement vertex 999999999999\nproperty float x\n"
              "property float y\nproperty float z\nend_header\n0 0 0\n"), "."),
    "a count of many faces": (_text(".off", "OFF\n3 999999999999 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n"), "."),
}  # fmt: skip
"""Each by what it is: how to write it into a folder, and words of the one text that must refuse it."""
