"""What drives the train, and whether what is built in lies where its vehicle has room for it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fitplan.checks.rays import Obstacle, first_hits, spread
from fitplan.checks.scene import body_obstacles
from fitplan.model.found import Finding
from fitplan.model.solids import Solid
from fitplan.model.train import Train
from fitplan.model.vehicle import BuiltIn, Vehicle

SUBJECT = "asked"
DRAWN = "the vehicle file"
SUNK_MM = 0.5
"""What is built in may lie so deep in bricks: drawings are rounded (a setting of this check, no source)."""
_POINTS = 2000


def drive_findings(train: Train) -> Iterator[Finding]:
    """Tell a train that nothing drives, and things built in that lie in bricks."""
    yield from _driven(train)
    for entry in train.vehicles:
        for item in entry.vehicle.built_in:
            depth = sunk_mm(entry.vehicle, item)
            if depth > SUNK_MM:
                yield Finding(
                    SUBJECT,
                    "caution",
                    f"{item.name} in {entry.name}",
                    f"{item.name} of {entry.name} is drawn {depth:.1f} mm deep in its bricks",
                    round(depth, 1),
                    SUNK_MM,
                    "mm",
                    f"measure where {item.name} lies, or draw the bricks round it as they are: "
                    "both take room now",
                    f"points of its solids held against the body; {DRAWN}",
                )


def _driven(train: Train) -> Iterator[Finding]:
    """Tell a train without a motor or a driven axle; wagons alone are pulled by another."""
    if all(entry.vehicle.kind == "wagon" for entry in train.vehicles):
        return
    motors = sum(item.kind == "motor" for entry in train.vehicles for item in entry.vehicle.built_in)
    axles = sum(sum(entry.vehicle.wheels.driven) for entry in train.vehicles)
    if motors and axles:
        return
    if not motors and not axles:
        says = "nothing drives the train: no vehicle has a motor or a driven axle"
        remedy = "draw the motor under 'built in' and say under 'wheels' which axles are driven"
    elif motors:
        says = "a motor is built in and no axle is driven: nothing says how the train brakes"
        remedy = "say under 'wheels' which axles are driven"
    else:
        says = "axles are driven and no motor is built in: its room, weight and current are left out"
        remedy = "draw the motor under 'built in', with its mass and current"
    yield Finding(
        SUBJECT,
        "caution",
        train.name,
        says,
        float(min(motors, axles)),
        1.0,
        "motors and axles",
        remedy,
        DRAWN,
    )


def sunk_mm(vehicle: Vehicle, item: BuiltIn) -> float:
    """Return how deep something built in lies in solid body (mm): the thinnest side of what they share."""
    body = body_obstacles(vehicle)[: len(vehicle.body)]
    return max((_shared(solid, body) for solid in item.solids), default=0.0)


def _shared(solid: Solid, body: list[Obstacle]) -> float:
    points = spread(solid.bounds, _POINTS)
    up = np.tile((0.0, 0.0, 1.0), (len(points), 1))
    inside = first_hits(points, up, [Obstacle(solid, "")]).distance == 0
    hits = first_hits(points, up, body)
    both = inside & (hits.distance == 0)
    # By pieces: what touches two walls by a hair is not as deep as they are apart.
    return max(
        (float(np.ptp(points[both & (hits.index == one)], axis=0).min()) for one in set(hits.index[both])),
        default=0.0,
    )
