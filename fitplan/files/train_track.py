"""Whether the vehicles of a train can stand on its track and be coupled, told where the train file says so.

The commonest slip of all is a radius without its unit: 40 for 40 studs. A vehicle with its guides (axles or
bogie pivots) further apart than 4/3 of the radius stands in no such curve.
"""

from __future__ import annotations

from itertools import pairwise

from fitplan.files.look_up import Reading
from fitplan.files.train_file import TrainFile, VehicleRefEntry
from fitplan.model.vehicle import Vehicle
from fitplan.units import STUD

LEAST_SHARE = 0.75
"""Least radius as a share of the distance of a vehicle's guides."""


def check_standing(entry: TrainFile, reading: Reading) -> None:
    """Report a curve that is too sharp, coupled vehicles on one axle, and couplings that never meet."""
    found = [(item, reading.vehicles.get(str(item.name))) for item in entry.vehicles]
    _curve(entry, found, reading)
    for (item, vehicle), (other, behind) in pairwise(found):
        if vehicle is None or behind is None:
            continue
        for one, shape in ((item, vehicle), (other, behind)):
            if len(set(shape.wheels.at)) < 2:
                reading.collector.add(
                    one.spot,
                    f"{str(one.name)!r} coupled, with {len(set(shape.wheels.at))} axle or bogie",
                    f"two axles or bogie pivots in {one.file}: a coupled vehicle stands on both",
                )
        _heights(item, vehicle, other, behind, reading)


def _curve(entry: TrainFile, found: list[tuple[VehicleRefEntry, Vehicle | None]], reading: Reading) -> None:
    spans = [
        (max(vehicle.wheels.at) - min(vehicle.wheels.at), str(item.name))
        for item, vehicle in found
        if vehicle is not None and vehicle.wheels.at
    ]
    longest, name = max(spans, default=(0.0, ""))
    least = LEAST_SHARE * longest
    radius = entry.track.radius
    if radius >= least:
        return
    hint = f"write {radius:g} studs for {radius * STUD:g} mm" if radius * STUD >= least else ""
    track = entry.track
    spot = track.spot if track.spot.line else entry.spot
    reading.collector.add(
        spot,
        f"a radius of {radius:g} mm, in which {name!r} with {longest:g} mm from axle to axle cannot stand",
        f"a radius of at least {least:g} mm",
        hint,
    )


def _heights(
    ahead: VehicleRefEntry, vehicle: Vehicle, behind: VehicleRefEntry, other: Vehicle, reading: Reading
) -> None:
    """Report couplings that are further apart in height than they are long, from pin to pin."""
    rear = next((c for c in vehicle.couplings if c.end == ("front" if ahead.turned else "rear")), None)
    front = next((c for c in other.couplings if c.end == ("rear" if behind.turned else "front")), None)
    if rear is None or front is None:
        return
    own = vehicle.length - rear.pivot_x if rear.end == "front" else rear.pivot_x
    his = other.length - front.pivot_x if front.end == "front" else front.pivot_x
    reach = max(own + rear.length + front.length + his, 1.0)
    apart = abs(rear.height - front.height)
    if apart >= reach:
        reading.collector.add(
            behind.spot,
            f"couplings of {str(ahead.name)!r} and {str(behind.name)!r} {apart:g} mm apart in height, "
            f"and {reach:g} mm long from pivot to pivot",
            "couplings that reach each other",
        )
