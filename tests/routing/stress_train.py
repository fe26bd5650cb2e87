"""A synthetic train in voxels: vehicles with parts, walls with ports, couplings, and the runs of its nets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitplan.routing.map.bundles import through_rectangle
from fitplan.routing.map.narrow_places import CapacityPlace, Run


@dataclass(frozen=True, eq=False)
class StressTrain:
    """Free voxels at 0.8 mm, the named places, and the runs."""

    free: NDArray[np.bool_]
    places: tuple[CapacityPlace, ...]
    runs: tuple[Run, ...]


def stress_train(
    vehicles: int = 8, nets: int = 60, seed: int = 0, wires: tuple[float, ...] = (1.3,)
) -> StressTrain:
    """Build a train of hollow vehicles 160 × 40 × 40 mm with a bulkhead each, and nets between pins of parts.

    Most nets stay in a vehicle, a quarter goes to the next, a few run along the whole train.
    """
    rng = np.random.default_rng(seed)
    wire = max(wires)
    length, gap, width, height = 200, 12, 50, 50
    free = np.zeros((vehicles * (length + gap) - gap, width, height), bool)
    places, pins = [], []
    for vehicle in range(vehicles):
        x0 = vehicle * (length + gap)
        free[x0 + 2 : x0 + length - 2, 2:-2, 2:-2] = True
        wall = x0 + length // 2
        free[wall : wall + 2] = False
        places.append(port(free, f"bulkhead {vehicle + 1}", (wall, wall + 2), (12, 22), (4, 14), wire))
        if vehicle:
            # the coupling: a tube from end face to end face
            span = (x0 - gap - 2, x0 + 2)
            places.append(port(free, f"coupling {vehicle}", span, (20, 30), (6, 14), wire))
        own = []
        for part in range(4):
            x = x0 + 12 + part * 46 + int(rng.integers(0, 6))
            y, z = int(rng.integers(9, 18)), int(rng.integers(10, 18))
            box = (slice(x, x + 24), slice(y, y + 22), slice(z, z + 12))
            free[box] = False
            for row in range(6):  # pins 2.4 mm apart on either long side of the part
                own.append((x + 2 + 3 * row, y - 1, z + 6))
                own.append((x + 2 + 3 * row, y + 22, z + 6))
        rng.shuffle(own)
        pins.append([tuple(int(c) for c in pin) for pin in own])
    runs = []
    for net in range(nets):
        first = net % vehicles
        last = first
        if net % 4 == 3:
            last = min(first + 1, vehicles - 1)
        if net % 20 == 10:
            first, last = 0, vehicles - 1
        runs.append(Run(f"net {net + 1}", (pins[first].pop(),), (pins[last].pop(),), wires[net % len(wires)]))
    return StressTrain(free, tuple(places), tuple(runs))


def port(
    free: NDArray[np.bool_],
    name: str,
    x: tuple[int, int],
    y: tuple[int, int],
    z: tuple[int, int],
    wire: float,
    pitch: float = 0.8,
) -> CapacityPlace:
    """Open a rectangular hole along x and return it as a place with the conductors that it carries."""
    free[x[0] : x[1], y[0] : y[1], z[0] : z[1]] = True
    size = (x[1] - x[0], y[1] - y[0], z[1] - z[0])
    cells = np.argwhere(np.ones(size, bool)) + np.array([x[0], y[0], z[0]])
    return CapacityPlace(name, cells, through_rectangle((y[1] - y[0]) * pitch, (z[1] - z[0]) * pitch, wire))
