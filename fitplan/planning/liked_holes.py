"""Which holes makers like best among those that serve alike.

Where nothing stands right behind them, then in line with the port that they face, then in the middle; an
inner one high up, where no part stands before it, one that leads out low.
"""

from __future__ import annotations

from collections.abc import Sequence

from fitplan.model.holes import opened, passage_of
from fitplan.model.solids import Vec, axis_of
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import Hole
from fitplan.packing.vehicle.body_support import carrying
from fitplan.planning.hole_candidates import HoleCandidate


def in_order(train: Train, holes: Sequence[tuple[str, HoleCandidate]]) -> tuple[tuple[str, Hole], ...]:
    """Return holes, each with its vehicle's name, those first that are liked best."""
    order = sorted(
        holes, key=lambda one: (not one[1].roomy, *_dislike(train, one[0], one[1].hole), one[1].hole.name)
    )
    return tuple((name, one.hole) for name, one in order)


def apart(
    train: Train,
    holes: Sequence[tuple[str, Hole]],
    count: int,
    passed_over: int,
    before: Sequence[tuple[str, Hole]],
) -> list[tuple[str, Hole]]:
    """Return so many holes that overlap none, those before and ports among them, and leave nothing hanging.

    The first ones that do.
    """
    found: list[tuple[str, Hole]] = []
    for name, hole in holes[passed_over:]:
        if len(found) == count:
            break
        if any(name == other and hole.box.meets(there.box) for other, there in (*before, *found)):
            continue
        vehicle = train.vehicle(name).vehicle
        if any(hole.box.meets(port.box) for port in vehicle.ports):
            continue
        body = opened(vehicle, [hole])
        if hole.kind == "brick left out" and not carrying(body, frozenset({hole.name})).holds:
            continue
        found.append((name, hole))
    return found


def end_of(entry: TrainVehicle, out: str) -> str:
    """Return which end of the train's order a direction of a vehicle's own frame leads to."""
    return "front" if out == entry.towards("ahead") else "rear"


def _dislike(train: Train, name: str, hole: Hole) -> tuple[float, ...]:
    entry = train.vehicle(name)
    x, y, z = passage_of(entry.vehicle, hole).center
    aside = abs(y - entry.vehicle.width / 2)
    if hole.out is None:
        return (round(aside, 3), round(-z, 3), round(abs(x - entry.vehicle.length / 2), 3))
    facing = _facing(train, entry, hole)
    if facing is not None:
        _, across, up = entry.in_train(train.starts()[name], (x, y, z))
        return (round(abs(across - facing[1]) + abs(up - facing[2]), 3), round(z, 3))
    return (round(aside, 3), round(z, 3))


def _facing(train: Train, entry: TrainVehicle, hole: Hole) -> Vec | None:
    """Return where in the train the port lies that a hole in an end wall looks to; None: none does."""
    place = train.vehicles.index(entry)
    ahead = end_of(entry, hole.out or "+x") == "front"
    beside = place - 1 if ahead else place + 1
    if not 0 <= beside < len(train.vehicles):
        return None
    other = train.vehicles[beside]
    wanted = "rear" if ahead else "front"
    for port in other.vehicle.ports:
        if axis_of(port.out) == 0 and end_of(other, port.out) == wanted:
            return other.in_train(train.starts()[other.name], port.mouth)
    return None
