"""What the wires of one vehicle would like of the places of its parts: from nets and ports to frozen wishes.

Pins that are joined want to lie close together; ports want room behind them; and a lane along the vehicle
should stay clear, through which most wires run. Where that lane lies is not known beforehand: in line
with the ports, along either side, or under the roof. Each is a guess that is tried (`lanes`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import pairwise

import numpy as np

from fitplan.checks.preferences import fixed_box
from fitplan.lattice.clear import label_spaces
from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box, Direction, Vec, axis_of, is_forward
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import Port
from fitplan.packing.vehicle.preferred import Liked, weight_of
from fitplan.packing.vehicle.wishes import (
    BEFORE_PINS,
    KeepClear,
    WiredNet,
    WiredPin,
    Wishes,
    before_pins,
)
from fitplan.routing.map.ends import ResolvedNet, resolve
from fitplan.units import PLATE

BEHIND_PORTS = 14.0
"""So far into the vehicle a port's approach stays clear, in mm."""
OF_OPEN_END = 6.0
"""So far to either side of its mouth the approach of an open end reaches, in mm."""
AT_PORTS = 250.0
"""What a port's approach is worth, in mm of wire."""
IN_PORTS = 2000.0
"""What a port's own opening is worth, in mm of wire: what it carries is reckoned with the whole of it."""
PER_BLOCKED = 3.0
"""Each millimetre of a lane that is blocked costs so many of wire."""
SQUEEZED = 60.0
"""What a box is worth in which a bundle had too little room."""
PER_WIRE = 0.8
_IN_A_WALL = 0.4
"""No more of the cross-section than this is clear in an inner wall."""
_BEFORE_NECKS = 4.0
"""So far before and behind an opening in an inner wall wires want room, in mm."""
LEAST_LANE, MOST_LANE = 4.0, 9.0
"""A lane is so wide at the least and at the most; between, by the number of wires (mm)."""


def ports_used(built: BuiltTrain, vehicle: str, nets: Iterable[ResolvedNet]) -> dict[str, list[str]]:
    """Return the nets that leave a vehicle by its own front (``+x``) and by its rear (``-x``)."""
    order = {entry.name: number for number, entry in enumerate(built.train.vehicles)}
    here = order[vehicle]
    entry = built.train.vehicles[here]
    found: dict[str, list[str]] = {"+x": [], "-x": []}
    for net in nets:
        at = [order[end.vehicle] for end in net.ends]
        if not at:
            continue
        if min(at) < here <= max(at):
            found[entry.towards("ahead")].append(net.net.name)
        if min(at) <= here < max(at):
            found[entry.towards("behind")].append(net.net.name)
    return {side: names for side, names in found.items() if names}


def wishes_of(built: BuiltTrain, entry: TrainVehicle) -> Wishes:
    """Return what is joined in a vehicle, room behind its ports and before what is built in; no lane yet."""
    nets, _ = resolve(built)
    used = ports_used(built, entry.name, nets)
    ports = {side: [port for port in entry.vehicle.ports if port.out == side] for side in used}
    joined = []
    parts = {place.need: place.part for place in built.placements}
    for net in nets:
        terminals: list[WiredPin] = []
        points: list[Vec] = []
        for end in net.ends:
            if end.vehicle != entry.name:
                continue
            if end.owner in parts:
                pin = parts[end.owner].pin(end.pin)
                terminals.append(WiredPin(end.owner, pin.at, pin.exit))
            else:
                points.append(end.at)
        for side, names in used.items():
            if net.net.name in names and ports[side]:
                points.append(_inner(ports[side][0]))
        if terminals and len(terminals) + len(points) > 1:
            joined.append(WiredNet(tuple(terminals), tuple(points)))
    before: dict[tuple[str, Direction], list[Vec]] = {}
    for end in (end for net in nets for end in net.ends if end.vehicle == entry.name):
        if end.owner not in parts:
            before.setdefault((end.owner, end.exit), []).append(end.at)
    passed = [port for side in used for port in ports[side][:1]]
    clear = [KeepClear(_approach(port), AT_PORTS) for port in passed]
    clear += [KeepClear(port.box, IN_PORTS) for port in passed if not port.is_open_end]
    clear += [
        KeepClear(before_pins(points, out), BEFORE_PINS, owner, before_pins(points, out, PLATE))
        for (owner, out), points in before.items()
    ]
    return Wishes(tuple(joined), tuple(clear), liked=_liked(built, entry))


def _liked(built: BuiltTrain, entry: TrainVehicle) -> tuple[Liked, ...]:
    """Return the user's preferences that can be met in a vehicle."""
    here = {place.need for place in built.placements if place.vehicle == entry.name}
    found = []
    for rank, wish in enumerate(built.train.preferences):
        box = fixed_box(wish.other, entry.name, built.train)
        if wish.kind != "hidden" and wish.of in here and (box is not None or wish.other in here):
            found.append(Liked(wish.of, wish.kind, wish.other, box, weight_of(rank)))
    return tuple(found)


def lanes(built: BuiltTrain, entry: TrainVehicle, room: Box) -> Iterator[tuple[KeepClear, ...]]:
    """Yield guesses of the lane in which most wires run along a vehicle: boxes to be kept clear.

    Parameters
    ----------
    room
        Box round the vehicle's cavity, in mm.
    """
    nets, _ = resolve(built)
    used = ports_used(built, entry.name, nets)
    wires = max((len(names) for names in used.values()), default=0)
    here = sum(any(end.vehicle == entry.name for end in net.ends) for net in nets)
    wide = min(max(PER_WIRE * max(wires, here / 2), LEAST_LANE), MOST_LANE)
    (x0, y0, z0), (x1, y1, z1) = room.low, room.high
    worth = PER_BLOCKED * (x1 - x0)
    ports = [port for port in entry.vehicle.ports if port.out in used]
    sides = [
        Box((x0, y0, z0), (x1, y0 + wide, z1)),
        Box((x0, y1 - wide, z0), (x1, y1, z1)),
        Box((x0, y0, z1 - wide), (x1, y1, z1)),
        Box((x0, y0, z0), (x1, y1, z0 + wide)),
    ]
    if ports:
        middle = sum(port.box.center[1] for port in ports) / len(ports)
        low = min(port.box.low[2] for port in ports)
        aside = middle - (y0 + y1) / 2
        line = Box((x0, middle - wide / 2, low), (x1, middle + wide / 2, low + max(wide, 10.0)))
        if abs(aside) < (y1 - y0) / 4:
            sides.insert(0, line)
        elif aside > 0:
            sides[0], sides[1] = sides[1], sides[0]
    for side in sides:
        yield (KeepClear(side, worth),)
    yield ()


def squeezed(boxes: Iterable[Box]) -> tuple[KeepClear, ...]:
    """Return boxes in which a bundle had too little room, as wishes: thinned out to one for each 4 mm."""
    found: dict[tuple[int, ...], Box] = {}
    for box in boxes:
        found.setdefault(tuple(math.floor(value / 4) for value in box.center), box)
    return tuple(KeepClear(box, SQUEEZED) for box in list(found.values())[:40])


def cavity_box(obstacles: np.ndarray, hull: Box) -> Box:
    """Return the box round what obstacles leave clear in the middle of a hull (all in mm).

    Each side is where most of the hull's cross-section is no longer solid.

    Parameters
    ----------
    obstacles
        (n, 6) boxes.
    """
    low, high = list(hull.low), list(hull.high)
    for axis in range(3):
        others = [k for k in range(3) if k != axis]
        whole = math.prod(hull.high[k] - hull.low[k] for k in others)
        cuts = np.unique(np.clip(obstacles[:, [axis, axis + 3]], hull.low[axis], hull.high[axis]))
        solid = []
        for a, b in pairwise(cuts):
            here = obstacles[(obstacles[:, axis] <= a) & (obstacles[:, axis + 3] >= b)]
            size = [
                np.clip(here[:, k + 3], hull.low[k], hull.high[k])
                - np.clip(here[:, k], hull.low[k], hull.high[k])
                for k in others
            ]
            solid.append(float((size[0] * size[1]).sum()) > 0.6 * whole)
        clear = [number for number, full in enumerate(solid) if not full]
        if clear:
            low[axis], high[axis] = float(cuts[clear[0]]), float(cuts[clear[-1] + 1])
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))


def necks(obstacles: np.ndarray, room: Box) -> tuple[KeepClear, ...]:
    """Return the openings in inner walls, as wishes: what lies in one takes a way that wires may need.

    An inner wall is where most of the cross-section of a cavity is solid, along the vehicle.

    Parameters
    ----------
    obstacles
        (n, 6) boxes, in mm.
    room
        Box round the cavity, in mm.
    """
    low, high = np.array(room.low), np.array(room.high)
    inside = np.clip(obstacles, np.tile(low, 2), np.tile(high, 2))
    inside = inside[(inside[:, 3:] - inside[:, :3] > 0.0).all(axis=1)]
    faces = [np.unique([*inside[:, [axis, axis + 3]].ravel(), low[axis], high[axis]]) for axis in range(3)]
    clear = np.ones([len(line) - 1 for line in faces], dtype=bool)
    for box in inside:
        first, last = ([np.searchsorted(faces[k], box[k + up]) for k in range(3)] for up in (0, 3))
        clear[tuple(slice(a, b) for a, b in zip(first, last, strict=True))] = False
    edges = [np.diff(line) for line in faces]
    share = (clear * np.multiply.outer(edges[1], edges[2])).sum(axis=(1, 2)) / math.prod(high[1:] - low[1:])
    labels, count = label_spaces(np.ascontiguousarray(clear & (share <= _IN_A_WALL)[:, None, None]))
    found = []
    for number in range(1, count + 1):
        ends = [
            (line[int(at.min())], line[int(at.max()) + 1])
            for line, at in zip(faces, np.nonzero(labels == number), strict=True)
        ]
        (x0, x1), (y0, y1), (z0, z1) = ends
        found.append(KeepClear(Box((x0 - _BEFORE_NECKS, y0, z0), (x1 + _BEFORE_NECKS, y1, z1)), IN_PORTS))
    return tuple(found)


def _inner(port: Port) -> Vec:
    """Return the middle of a port's inner end."""
    axis = axis_of(port.out)
    point = list(port.mouth)
    point[axis] = port.box.low[axis] if is_forward(port.out) else port.box.high[axis]
    return (point[0], point[1], point[2])


def _approach(port: Port) -> Box:
    """Return the room behind a port that its wires need to reach it."""
    axis = axis_of(port.out)
    low, high = list(port.box.low), list(port.box.high)
    if port.is_open_end:
        # Wires need no more of it than a hole would be.
        for across in (1, 2):
            low[across] = max(low[across], port.mouth[across] - OF_OPEN_END)
            high[across] = min(high[across], port.mouth[across] + OF_OPEN_END)
    if is_forward(port.out):
        low[axis], high[axis] = low[axis] - BEHIND_PORTS, low[axis]
    else:
        low[axis], high[axis] = high[axis], high[axis] + BEHIND_PORTS
    return Box((low[0], low[1], low[2]), (high[0], high[1], high[2]))
