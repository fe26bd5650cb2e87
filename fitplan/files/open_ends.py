"""Open ends: where no brick is at a coupled end of a vehicle and no port is drawn, wires may go out, too."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fitplan.model.solids import Box, Direction, is_forward
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import OPEN_ENDS, Port, Vehicle
from fitplan.units import PLATE, STUD

DEEPEST = 2 * STUD
"""So far behind the end of the footprint free room may begin (mm): a buffer beam or board lies before it."""
LEAST = PLATE
"""An open end is so wide and so high at the least, in mm."""
_FREE, _OUTSIDE, _SHUT = 0, 1, 2


def with_open_ends(vehicles: Sequence[TrainVehicle]) -> tuple[TrainVehicle, ...]:
    """Return the vehicles of a train, those with a port more that are coupled at an open end without one."""
    found = []
    for number, entry in enumerate(vehicles):
        ports: list[Port] = []
        if number and not entry.ports_at("ahead"):
            ports += open_end(entry.vehicle, entry.towards("ahead"))
        if number + 1 < len(vehicles) and not entry.ports_at("behind"):
            ports += open_end(entry.vehicle, entry.towards("behind"))
        vehicle = entry.vehicle
        if ports:
            vehicle = replace(vehicle, ports=(*vehicle.ports, *ports))
        found.append(replace(entry, vehicle=vehicle))
    return tuple(found)


def open_end(vehicle: Vehicle, out: Direction) -> Iterator[Port]:
    """Yield the port that an end is where no brick is: the largest rectangle of free room at the end.

    Free room may lie back from the end of the footprint by `DEEPEST` where nothing is before it: behind a
    buffer beam, or over an end board. The port reaches up to the end of the footprint, as one in a wall does.
    What is no box counts as filled, so that no room is told that is not there.
    """
    planes, ys, zs, states = _slices(vehicle, out)
    best: tuple[float, float, Port] | None = None
    first = np.full(states.shape[1:], _OUTSIDE, dtype=np.int8)
    for depth, state in zip(planes, states, strict=True):
        opens = (first == _OUTSIDE) & (state == _FREE)
        first = np.where(first == _OUTSIDE, state, first)
        for y0, y1, z0, z1 in _largest(opens, ys, zs):
            area = (y1 - y0) * (z1 - z0)
            if best is None or area > best[0] + 1e-6:
                x0, x1 = (vehicle.length - depth, vehicle.length) if is_forward(out) else (0.0, depth)
                port = Port(OPEN_ENDS[out], Box((x0, y0, z0), (x1, y1, z1)), out)
                best = (area, depth, port)
    if best is not None:
        yield best[2]


def _slices(
    vehicle: Vehicle, out: Direction
) -> tuple[list[float], list[float], list[float], NDArray[np.int8]]:
    """Return how deep slices begin, edges along y and z, and (depth, y, z) int8 what is in the slices."""
    length = vehicle.length
    near: list[tuple[float, float, Box, int]] = []
    drawn = [(one.solid, one.state) for one in vehicle.body]
    drawn += [(solid, "fixed") for built in vehicle.built_in for solid in built.solids]
    for solid, said in drawn:
        box = solid.bounds
        span = (length - box.high[0], length - box.low[0]) if is_forward(out) else (box.low[0], box.high[0])
        if span[0] >= DEEPEST + STUD - 1e-6:
            continue
        state = _SHUT if not isinstance(solid, Box) else {"free": _FREE, "outside": _OUTSIDE}.get(said, _SHUT)
        near.append((*span, box, state))
    # Up to the deepest face that counts, and what is right behind it.
    depths = sorted({0.0, *(round(d, 6) for a, b, *_ in near for d in (a, b) if 0 < d <= DEEPEST)})
    ys, zs = (_edges([box for *_, box, _ in near], axis, vehicle.hull) for axis in (1, 2))
    states = np.full((len(depths), len(ys) - 1, len(zs) - 1), _OUTSIDE, dtype=np.int8)
    middle = [
        np.array([(a + b) / 2 for a, b in pairwise(line)]) for line in ([*depths, depths[-1] + 0.02], ys, zs)
    ]
    for start, end, box, state in near:
        window = [np.searchsorted(middle[0], (start, end))]
        window += [np.searchsorted(middle[k], (box.low[k], box.high[k])) for k in (1, 2)]
        states[tuple(slice(int(a), int(b)) for a, b in window)] = state
    return depths, ys, zs, states


def _edges(boxes: Iterable[Box], axis: int, hull: Box) -> list[float]:
    found = {round(value, 6) for box in boxes for value in (box.low[axis], box.high[axis])}
    low, high = hull.low[axis], hull.high[axis]
    return [low, *sorted(value for value in found if low < value < high), high]


def _largest(
    opens: NDArray[np.bool_], ys: Sequence[float], zs: Sequence[float]
) -> Iterator[tuple[float, float, float, float]]:
    """Yield the largest rectangle of open cells (y, z) that is not too small, the lowest of equal ones."""
    best: tuple[float, float, float, float] | None = None
    area = 0.0
    for low in range(opens.shape[1]):
        through = opens[:, low].copy()
        for high in range(low, opens.shape[1]):
            through &= opens[:, high]
            if not through.any():
                break
            tall = zs[high + 1] - zs[low]
            edges = np.flatnonzero(np.diff(np.concatenate(([0], through.astype(np.int8), [0]))))
            for a, b in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
                wide = ys[b] - ys[a]
                if min(wide, tall) >= LEAST - 1e-6 and wide * tall > area + 1e-6:
                    area, best = wide * tall, (ys[a], ys[b], zs[low], zs[high + 1])
    if best is not None:
        yield best
