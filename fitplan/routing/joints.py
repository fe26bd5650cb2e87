"""What crosses each coupling of a train, and how long the joint must be."""

from __future__ import annotations

from fitplan.model.train import Track, Train, TrainVehicle
from fitplan.model.vehicle import Port
from fitplan.routing.coupling import Joint as JointLength
from fitplan.routing.coupling import JointSide, TrackLimits, joint_length
from fitplan.routing.layout import Joint
from fitplan.routing.track import RunningGear
from fitplan.routing.vehicle_map import VehicleMap

SHORTEST_DRAWBAR = 1.0
"""Pins that lie on one another are taken this far apart (mm), so that the drawbar has a direction."""


def length_of(train: Train, joint: Joint, maps: dict[str, VehicleMap], bundle_diameter: float) -> JointLength:
    """Return the lengths over a joint, from the vehicles' wheels, couplings and the ports used."""
    ahead, behind = train.vehicle(joint.ahead), train.vehicle(joint.behind)
    gap = ahead.coupling_length("behind") + behind.coupling_length("ahead")
    rear_pin, front_pin = _pin(ahead, "behind"), _pin(behind, "ahead")
    # From pin to end face, over the gap, from end face to pin.
    drawbar = max(rear_pin[0] + gap + (behind.vehicle.length - front_pin[0]), SHORTEST_DRAWBAR)
    return joint_length(
        _side(ahead, rear_pin, joint.port_ahead, maps[ahead.name]),
        _side(behind, front_pin, joint.port_behind, maps[behind.name]),
        drawbar,
        _limits(train.track),
        bundle_diameter=bundle_diameter,
    )


def _limits(track: Track) -> TrackLimits:
    return TrackLimits(track.radius, track.reverse_curve, track.gradient_percent / 100.0)


def _side(entry: TrainVehicle, pin: tuple[float, float], port: Port, map_: VehicleMap) -> JointSide:
    along = sorted(entry.in_train(0.0, (x, 0.0, 0.0))[0] for x in entry.vehicle.wheels.at)
    gear = RunningGear(along[0], along[-1], entry.vehicle.wheels.bogie_wheelbase)
    return JointSide(gear, pin, entry.in_train(0.0, map_.mouth_point(port)))


def _pin(entry: TrainVehicle, end: str) -> tuple[float, float]:
    """Return (x, z) of the coupling's pin at one end, x growing forwards in running order."""
    own = "front" if (end == "ahead") != entry.turned else "rear"
    for coupling in entry.vehicle.couplings:
        if coupling.end == own:
            x, _, z = entry.in_train(0.0, (coupling.pivot_x, 0.0, coupling.height))
            return (x, z)
    return (entry.vehicle.length if end == "ahead" else 0.0, entry.vehicle.wheels.wheel_radius)
