"""Make the mesh that this example starts from: a boiler loco as separate shells, as drawing programs do.

Run ``python make_mesh.py`` to write ``boiler-loco.glb`` anew. The shells touch, run into each other and are
left so; lengths are in metres and y points up, as the file format asks.
"""

from pathlib import Path

import numpy as np
import trimesh
from trimesh.creation import annulus, box

AXIS = 25.2
"""Height of the boiler's middle above the underside of the frame, in mm."""


def block(x: tuple[float, float], y: tuple[float, float], z: tuple[float, float]) -> trimesh.Trimesh:
    """Return a box between two values along each axis."""
    return box(bounds=np.array([x, y, z]).T)


def ring(inner: float, outer: float, x: tuple[float, float]) -> trimesh.Trimesh:
    """Return a pipe round the boiler's axis."""
    pipe = annulus(inner, outer, height=x[1] - x[0], sections=64)
    pipe.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, (0, 1, 0)))
    pipe.apply_translation(((x[0] + x[1]) / 2, 24.0, AXIS))
    return pipe


def shells() -> dict[str, list[trimesh.Trimesh]]:
    """Return the objects of the scene by name, in mm, z up, front towards +x."""
    side = (3.2, 57.6)
    return {
        "frame": [block((0, 192), (0, 48), (0, 3.2))],
        "cab": [
            block((0, 56), (0, 8), side), block((0, 56), (40, 48), side),
            # Rear wall with a window.
            block((0, 8), (8, 40), (3.2, 28.8)), block((0, 8), (8, 40), (41.6, 57.6)),
            block((0, 8), (8, 16), (28.8, 41.6)), block((0, 8), (32, 40), (28.8, 41.6)),
            # Front wall with the way into the boiler.
            block((48, 56), (8, 12), side), block((48, 56), (36, 40), side),
            block((48, 56), (12, 36), (3.2, AXIS - 12)), block((48, 56), (12, 36), (AXIS + 12, 57.6)),
        ],
        "cab roof": [block((0, 56), (0, 48), (57.6, 60.8))],
        "boiler": [ring(18.0, 22.0, (56, 184))],
        "smokebox door": [ring(6.0, 22.0, (184, 188))],
        "chimney": [block((168, 176), (20, 28), (44, 60.8))],
        "removable: ballast": [block((160, 172), (18, 30), (6.0, 16.0))],
    }  # fmt: skip


def scene() -> trimesh.Scene:
    """Return the scene in metres with y up."""
    result = trimesh.Scene()
    turn = np.array([[1e-3, 0, 0, 0], [0, 0, 1e-3, 0], [0, -1e-3, 0, 0], [0, 0, 0, 1.0]])
    for name, meshes in shells().items():
        mesh = trimesh.util.concatenate(meshes)
        mesh.apply_transform(turn)
        result.add_geometry(mesh, node_name=name, geom_name=name)
    return result


if __name__ == "__main__":
    Path(__file__).with_name("boiler-loco.glb").write_bytes(scene().export(file_type="glb"))
