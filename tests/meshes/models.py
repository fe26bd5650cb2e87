"""Meshes with known truth, built from primitives."""

import numpy as np
import trimesh
from trimesh.creation import box, cylinder, icosphere

from fitplan.meshes.mesh_out import SceneBuilder, add_vehicle


def vehicle_glb(vehicle):
    """One vehicle as GLB, written as a plan's train is: what comes back from it must be the vehicle."""
    stage = SceneBuilder()
    stage.frame(vehicle.name, np.eye(4))
    add_vehicle(stage, vehicle.name, vehicle, vehicle.name)
    return stage.glb()


def block(x, y, z):
    """A box between two values along each axis."""
    return box(bounds=np.array([x, y, z], dtype=float).T)


def shell(outer, inner):
    """One mesh of an outer skin and an inner one that looks inwards."""
    hollow = inner.copy()
    hollow.invert()
    return trimesh.util.concatenate([outer, hollow])


def box_shell(size=(96.0, 48.0, 57.6), wall=8.0, floor=3.2):
    """A closed box; its cavity is smaller by a wall on each side, and by a floor below and above."""
    x, y, z = size
    return shell(block((0, x), (0, y), (0, z)), block((wall, x - wall), (wall, y - wall), (floor, z - floor)))


def bricks(length=12, width=6, layers=4):
    """A closed wagon of single shells for each brick, with play: floor, walls, roof."""

    def brick(x, y, z, dx, dy, dz):
        return block((8 * x + 0.1, 8 * (x + dx) - 0.1), (8 * y + 0.1, 8 * (y + dy) - 0.1), (z, z + dz))

    found = []
    for z in (0.0, 3.2 + 9.6 * layers):
        found += [brick(x, y, z, 2, 2, 3.2) for x in range(0, length, 2) for y in range(0, width, 2)]
    for k in range(layers):
        z = 3.2 + 9.6 * k
        for y in (0, width - 1):
            found += [brick(x, y, z, 2, 1, 9.6) for x in range(0, length, 2)]
        for x in (0, length - 1):
            found += [brick(x, y, z, 1, 1, 9.6) for y in range(1, width - 1)]
    return trimesh.util.concatenate(found)


def studs(xs, ys, z, sections=24):
    """Studs on a level face, given by the numbers of their cells."""
    found = []
    for x in xs:
        for y in ys:
            stud = cylinder(2.4, 1.7, sections=sections)
            stud.apply_translation((8 * x + 4, 8 * y + 4, z + 0.85))
            found.append(stud)
    return found


def ball_shell(outer=22.0, inner=16.0, subdivisions=4):
    """A hollow ball."""
    return shell(icosphere(subdivisions, outer), icosphere(subdivisions, inner))
