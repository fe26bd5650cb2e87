"""A scene written as GLB (glTF 2.0, Khronos 2021, from memory): named nodes, mm in a frame in metres."""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitplan.meshes.solid_mesh import Triangles

Colour = tuple[int, int, int, int]
_TO_METRES = np.array([[1e-3, 0, 0, 0], [0, 0, 1e-3, 0], [0, -1e-3, 0, 0], [0, 0, 0, 1.0]])
"""glTF counts in metres with y up."""
_FLOAT, _INTEGER, _VERTICES, _INDICES, _TRIANGLES = 5126, 5125, 34962, 34963, 4
_MAGIC, _JSON, _BIN = 0x46546C67, 0x4E4F534A, 0x004E4942


class SceneBuilder:
    """A scene under construction; nodes stand under the train's own frame in mm, z up."""

    def __init__(self) -> None:
        self._nodes: list[dict[str, Any]] = []
        self._frames: dict[str, int] = {}
        self._meshes: list[dict[str, Any]] = []
        self._materials: dict[Colour, int] = {}
        self._accessors: list[dict[str, Any]] = []
        self._views: list[dict[str, int]] = []
        self._known: dict[tuple[int, bytes], int] = {}
        self._data = bytearray()
        self._nodes.append({"name": "train", "matrix": _column_by_column(_TO_METRES)})

    def frame(self, name: str, matrix: NDArray[np.float64]) -> None:
        """Add an empty node under the train's frame; ``matrix``: (4, 4), its turn and shift there."""
        self._frames[name] = self._stand({"name": name, "matrix": _column_by_column(matrix)}, 0)

    def add(self, name: str, under: str, mesh: Triangles, colour: Colour) -> None:
        """Add a mesh as a node of its own under an empty one; a mesh without faces is left out."""
        if not len(mesh.faces):
            return
        points = np.asarray(mesh.points, dtype="<f4")
        corners = self._put(np.asarray(mesh.faces, dtype="<u4").ravel(), _INDICES)
        places = self._put(points, _VERTICES)
        self._accessors[places] |= {"min": points.min(axis=0).tolist(), "max": points.max(axis=0).tolist()}
        drawn = {
            "attributes": {"POSITION": places},
            "indices": corners,
            "mode": _TRIANGLES,
            "material": self._materials.setdefault(colour, len(self._materials)),
        }
        self._stand({"name": name, "mesh": len(self._meshes)}, self._frames[under])
        self._meshes.append({"name": name, "primitives": [drawn]})

    def glb(self) -> bytes:
        """Return the scene as a GLB file; the same scene gives the same bytes."""
        scene: dict[str, Any] = {
            "asset": {"version": "2.0", "generator": "fitplan"},
            "scene": 0,
            "scenes": [{"nodes": [0]}],
            "nodes": self._nodes,
        }
        if self._meshes:  # no list may be empty
            scene |= {
                "meshes": self._meshes,
                "materials": [_material(colour) for colour in self._materials],
                "accessors": self._accessors,
                "bufferViews": self._views,
                "buffers": [{"byteLength": len(self._data)}],
            }
        text = json.dumps(scene, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "replace")
        chunks = _chunk(_JSON, text, b" ") + (_chunk(_BIN, bytes(self._data), b"\0") if self._data else b"")
        return struct.pack("<III", _MAGIC, 2, 12 + len(chunks)) + chunks

    def _stand(self, node: dict[str, Any], under: int) -> int:
        self._nodes.append(node)
        self._nodes[under].setdefault("children", []).append(len(self._nodes) - 1)
        return len(self._nodes) - 1

    def _put(self, array: NDArray[Any], target: int) -> int:
        """Keep an array and return the number of its accessor; equal ones are kept once."""
        content = array.tobytes()
        if (target, content) in self._known:
            return self._known[target, content]
        number = self._known[target, content] = len(self._accessors)
        # All are of four bytes, so each begins at a multiple of four.
        self._views.append(
            {"buffer": 0, "byteOffset": len(self._data), "byteLength": len(content), "target": target}
        )
        self._accessors.append(
            {
                "bufferView": number,
                "componentType": _INTEGER if array.ndim == 1 else _FLOAT,
                "count": len(array),
                "type": "SCALAR" if array.ndim == 1 else "VEC3",
            }
        )
        self._data += content
        return number


def _material(colour: Colour) -> dict[str, Any]:
    see_through = colour[3] < 255
    return {
        "pbrMetallicRoughness": {
            "baseColorFactor": [part / 255 for part in colour],
            "metallicFactor": 0.0,
            "roughnessFactor": 0.8,
        },
        "alphaMode": "BLEND" if see_through else "OPAQUE",
        "doubleSided": see_through,
    }


def _column_by_column(matrix: NDArray[np.float64]) -> list[float]:
    numbers: list[float] = matrix.T.ravel().tolist()
    return numbers


def _chunk(kind: int, content: bytes, filling: bytes) -> bytes:
    whole = content + filling * (-len(content) % 4)
    return struct.pack("<II", len(whole), kind) + whole
