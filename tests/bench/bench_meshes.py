"""A mesh of a million faces into a vehicle, beside trimesh's own voxeliser: processor time, memory, leaks.

Run ``python tests/bench/bench_meshes.py``.  Each way is run in a process of its own, so that its peak of
memory is its own.  A leak is a clear voxel in the hollow of a thin-walled body from which the outside can be
reached.

trimesh's ``voxelized`` marks voxels that hold a point of the subdivided surface. It knows no conservative
rounding and fills nothing, so it is to be compared with the surface alone.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
from pathlib import Path
from time import process_time

import numpy as np
import trimesh

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

PITCH = 0.8


def body(outside: int, inside: int) -> trimesh.Trimesh:
    """A hollow egg of a body, 150 × 46 × 56 mm with a wall of 1.5 mm, turned off the grid."""
    outer, inner = (trimesh.creation.icosphere(depth, 1.0) for depth in (outside, inside))
    outer.apply_scale((75.0, 23.0, 28.0))
    inner.apply_scale((73.5, 21.5, 26.5))
    inner.invert()
    both = trimesh.util.concatenate([outer, inner])
    both.apply_translation((0.21, 0.33, 0.17))
    return both


def leaks(solid: np.ndarray, middle: tuple[int, ...]) -> bool:
    """Whether the outside reaches the middle of the body through clear voxels."""
    from fitplan.lattice.clear import label_spaces

    names, _ = label_spaces(np.pad(~solid, 1, constant_values=True))
    inner = names[tuple(index + 1 for index in middle)]
    return bool(inner == 0 or inner == names[0, 0, 0])


def report(name: str, seconds: float, solid: np.ndarray, middle: tuple[int, ...], inside: float) -> None:
    """Print the line of one run."""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    leak = "yes" if leaks(solid, middle) else "no"
    hollow = f"   hollow {inside / 1000:.2f} cm³" if inside else ""
    print(f"{name:34} {seconds:7.2f} s CPU   peak {peak:6.0f} MB   leak: {leak}{hollow}", flush=True)


def ours(path: Path) -> None:
    """Run the whole way from the file to the vehicle."""
    from fitplan.meshes.from_mesh import MeshOptions, vehicle_from_mesh

    begin = process_time()
    found = vehicle_from_mesh(path, MeshOptions(units="mm", gap=4.0, pitch=PITCH, up="+z", front="+x"))
    seconds = process_time() - begin
    filled = found.filled
    middle = tuple(n // 2 for n in filled.frame.shape)
    report(f"fitplan, file to vehicle{' (sidecar)' if found.sidecar else ''}", seconds, filled.solid, middle,
           filled.cavity.sum() * PITCH**3)  # fmt: skip


def ours_surface(path: Path) -> None:
    """Run what the reference does: a loaded mesh to the voxels of its surface."""
    from fitplan.lattice.frame import frame_around
    from fitplan.meshes.surface import draw_surface
    from fitplan.model.solids import Box

    mesh = trimesh.load_mesh(path, process=False)
    begin = process_time()
    frame = frame_around(Box(tuple(mesh.bounds[0]), tuple(mesh.bounds[1])), PITCH, 2)
    surface = draw_surface(np.asarray(mesh.vertices), np.asarray(mesh.faces), frame)
    seconds = process_time() - begin
    report("fitplan, surface to voxels", seconds, surface.touched, tuple(n // 2 for n in frame.shape), 0.0)


def theirs(path: Path) -> None:
    """Run trimesh's voxeliser on a loaded mesh."""
    mesh = trimesh.load_mesh(path, process=False)
    begin = process_time()
    grid = mesh.voxelized(PITCH)
    seconds = process_time() - begin
    report("trimesh, surface to voxels", seconds, grid.matrix, tuple(n // 2 for n in grid.matrix.shape), 0.0)


def main() -> None:
    """Write the meshes and run each way in a process of its own."""
    truth = 4 / 3 * np.pi * 73.5 * 21.5 * 26.5
    with tempfile.TemporaryDirectory() as folder:
        for depths in ((4, 4), (6, 6), (7, 8)):
            mesh = body(*depths)
            path = Path(folder) / "body.ply"
            mesh.export(path)
            print(
                f"\n{len(mesh.faces)} faces, walls of 1.5 mm, pitch {PITCH} mm; hollow {truth / 1000:.2f} cm³"
            )
            for way in ("ours", "ours_surface", "theirs"):
                subprocess.run([sys.executable, __file__, way, str(path)], check=True)


if __name__ == "__main__":
    if len(sys.argv) == 3:
        {"ours": ours, "ours_surface": ours_surface, "theirs": theirs}[sys.argv[1]](Path(sys.argv[2]))
    else:
        main()
