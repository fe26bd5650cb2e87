"""What a vehicle is made of for rays and outlines: body, wheels, couplings, and everything built in."""

from __future__ import annotations

from collections.abc import Iterator

from fitplan.checks.rays import Obstacle
from fitplan.model.built import BuiltTrain
from fitplan.model.solids import Box, Cylinder, Solid
from fitplan.model.vehicle import Vehicle

COUPLING_WIDTH, COUPLING_HEIGHT = 8.0, 6.0
"""A coupling's bar in mm, about its pivot's height (common practice, no source)."""
WHEEL_WIDTH = 5.0
"""How wide a wheel is in mm, outwards from the gauge's inner edge (common practice, no source)."""
_CLEAR = ("keep-clear", "free", "outside")


def body_obstacles(vehicle: Vehicle, removed: frozenset[str] = frozenset()) -> list[Obstacle]:
    """Return the body's solids in drawing order; removed bricks are clear."""
    found = []
    for entry in vehicle.body:
        clear = entry.state in _CLEAR or (entry.state == "removable" and entry.removable in removed)
        found.append(Obstacle(entry.solid, entry.removable or "body", not clear))
    for item in vehicle.built_in:
        found.extend(Obstacle(solid, item.name) for solid in item.solids)
    return found


def axles(vehicle: Vehicle) -> list[float]:
    """Return the positions of all axles along the vehicle in mm."""
    wheels = vehicle.wheels
    if wheels.kind == "axles" or not wheels.bogie_wheelbase:
        return list(wheels.at)
    half = wheels.bogie_wheelbase / 2
    return [at + side for at in wheels.at for side in (-half, half)]


def wheel_solids(vehicle: Vehicle, gauge: float) -> list[Cylinder]:
    """Return a cylinder for every wheel."""
    radius, middle = vehicle.wheels.wheel_radius, vehicle.width / 2
    return [
        Cylinder("y", (x, y, radius), WHEEL_WIDTH, radius)
        for x in axles(vehicle)
        for y in (middle - gauge / 2 - WHEEL_WIDTH, middle + gauge / 2)
    ]


def coupling_solids(vehicle: Vehicle) -> list[Box]:
    """Return the bar of every coupling, from the end of the footprint to the middle of the joint."""
    found = []
    y = vehicle.width / 2
    half, tall = COUPLING_WIDTH / 2, COUPLING_HEIGHT / 2
    for entry in vehicle.couplings:
        at_rear = entry.end == "rear"
        low, high = (-entry.length, 0.0) if at_rear else (vehicle.length, vehicle.length + entry.length)
        found.append(Box((low, y - half, entry.height - tall), (high, y + half, entry.height + tall)))
    return found


def obstacles_of(built: BuiltTrain, vehicle: str, without: str = "") -> list[Obstacle]:
    """Return everything solid of a vehicle of the train, in its own frame, but for one part.

    The part that looks out (``without``) does not stand in its own way.
    """
    shape = built.train.vehicle(vehicle).vehicle
    found = body_obstacles(shape, built.taken_out(vehicle))
    found.extend(Obstacle(solid, "wheel") for solid in wheel_solids(shape, built.train.track.gauge))
    found.extend(Obstacle(solid, "coupling") for solid in coupling_solids(shape))
    for need, solid in placed_solids(built, vehicle):
        if need != without:
            found.append(Obstacle(solid, need))
    return found


def placed_obstacles(built: BuiltTrain, vehicle: str, without: frozenset[str]) -> list[Obstacle]:
    """Return what is built into a vehicle but for some needs."""
    return [Obstacle(solid, need) for need, solid in placed_solids(built, vehicle) if need not in without]


def placed_solids(built: BuiltTrain, vehicle: str) -> Iterator[tuple[str, Solid]]:
    """Yield (need, solid) of all that is built into a vehicle: parts, and the shelves under them."""
    for placement in built.placements:
        if placement.vehicle != vehicle:
            continue
        for solid in placement.solids:
            yield placement.need, solid
        if placement.shelf is not None:
            for box in placement.shelf.boxes:
                yield "shelf", box
