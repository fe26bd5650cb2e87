"""A scene written as GLB (glTF 2.0, Khronos Group 2021): nodes in a tree, meshes in one colour each."""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitplan.meshes.solid_mesh import Triangles

Colour = tuple[int, int, int, int]
"""Red, green, blue and how opaque it is, 0 to 255."""
_UINT, _FLOAT, _TRIANGLES = 5125, 5126, 4
"""Numbers of glTF for kinds of figures, and for what a mesh is made of."""


class SceneBuilder:
    """A scene under construction; nodes stand under the train's own frame in mm, z up."""

    def __init__(self) -> None:
        self._nodes: list[dict[str, Any]] = []
        self._places: dict[str, int] = {}
        self._meshes: list[dict[str, Any]] = []
        self._materials: dict[Colour, int] = {}
        self._accessors: list[dict[str, Any]] = []
        self._known: dict[bytes, int] = {}
        # glTF counts in metres with y up.
        self._node(
            "train", "", np.array([[1e-3, 0, 0, 0], [0, 0, 1e-3, 0], [0, -1e-3, 0, 0], [0, 0, 0, 1.0]])
        )

    def frame(self, name: str, matrix: NDArray[np.float64]) -> None:
        """Add an empty node."""
        self._node(name, "train", matrix)

    def add(self, name: str, under: str, mesh: Triangles, colour: Colour) -> None:
        """Add a mesh as a node of its own; an empty one is left out."""
        if not len(mesh.faces):
            return
        faces, points = mesh.faces.astype("<u4"), mesh.points.astype("<f4")
        indices = self._figures(faces.tobytes(), _UINT, faces.reshape(-1, 1))
        position = self._figures(points.tobytes(), _FLOAT, points)
        primitive = {
            "attributes": {"POSITION": position},
            "indices": indices,
            "mode": _TRIANGLES,
            "material": self._materials.setdefault(colour, len(self._materials)),
        }
        self._node(name, under)["mesh"] = len(self._meshes)
        self._meshes.append({"name": name, "primitives": [primitive]})

    def glb(self) -> bytes:
        """Return the scene as a GLB file; equal rows of figures stand in it once."""
        views, start = [], 0
        for data in self._known:
            views.append({"buffer": 0, "byteOffset": start, "byteLength": len(data)})
            start += len(data)
        told = {
            "scene": 0,
            "scenes": [{"nodes": [0]}],
            "asset": {"version": "2.0", "generator": "fitplan"},
            "accessors": self._accessors,
            "meshes": self._meshes,
            "materials": [_material(colour) for colour in self._materials],
            "nodes": self._nodes,
            "buffers": [{"byteLength": start}],
            "bufferViews": views,
        }
        told = {key: value for key, value in told.items() if value != []}
        words = json.dumps(told, separators=(",", ":")).encode()
        words += b" " * (-len(words) % 4)
        body = b"".join(self._known)
        head = struct.pack("<4sIII4s", b"glTF", 2, 28 + len(words) + len(body), len(words), b"JSON")
        return head + words + struct.pack("<I4s", len(body), b"BIN\0") + body

    def _node(self, name: str, under: str, matrix: NDArray[np.float64] | None = None) -> dict[str, Any]:
        node: dict[str, Any] = {"name": name}
        if under:
            self._nodes[self._places[under]].setdefault("children", []).append(len(self._nodes))
        if matrix is not None:
            node["matrix"] = matrix.T.ravel().tolist()  # glTF goes down the columns
        self._places[name] = len(self._nodes)
        self._nodes.append(node)
        return node

    def _figures(self, data: bytes, kind: int, rows: NDArray[Any]) -> int:
        """Return the number of the accessor that leads to rows of figures."""
        if data not in self._known:
            self._known[data] = len(self._accessors)
            self._accessors.append({
                "componentType": kind,
                "type": "SCALAR" if kind == _UINT else "VEC3",
                "bufferView": len(self._accessors),
                "count": len(rows),
                "max": rows.max(axis=0).tolist(),
                "min": rows.min(axis=0).tolist(),
            })  # fmt: skip
        return self._known[data]


def _material(colour: Colour) -> dict[str, Any]:
    see_through = colour[3] < 255
    material: dict[str, Any] = {
        "pbrMetallicRoughness": {
            "baseColorFactor": [share / 255 for share in colour],
            "roughnessFactor": 0.8,
            "metallicFactor": 0.0,
        },
        "alphaMode": "BLEND" if see_through else "OPAQUE",
        "doubleSided": see_through,
    }
    return material
