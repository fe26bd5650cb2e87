"""A closed mesh written as STL, in its binary form."""

from __future__ import annotations

import struct

import numpy as np
from numpy.typing import NDArray

from fitplan.meshes.solid_mesh import Triangles

_FACET = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("unused", "<u2")])


def is_closed(mesh: Triangles) -> bool:
    """Return whether a mesh has faces, and each edge belongs to two of them."""
    edges = np.sort(mesh.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    _, counts = np.unique(edges[:, 0] * len(mesh.points) + edges[:, 1], return_counts=True)
    return len(counts) > 0 and bool((counts == 2).all())


def volume_of(mesh: Triangles) -> float:
    """Return the volume that a closed mesh encloses, negative when it looks inwards (mm³)."""
    one, two, three = np.moveaxis(mesh.points[mesh.faces], 1, 0)
    return float(np.einsum("ij,ij->", one, np.cross(two, three))) / 6


def stl_bytes(mesh: Triangles) -> bytes:
    """Return a mesh as an STL file."""
    corners = mesh.points[mesh.faces]
    facets = np.zeros(len(corners), dtype=_FACET)
    facets["normal"] = _normals(corners)
    facets["corners"] = corners
    return bytes(80) + struct.pack("<I", len(corners)) + facets.tobytes()


def _normals(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the normal of each face (m, 3); of one without an area it is nothing."""
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 1])
    long = np.sqrt((across * across) @ np.ones(3))
    return across / np.where(long > 1e-13, long, np.inf)[:, None]
