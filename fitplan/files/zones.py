"""The zones of a train file: what they refer to, and the vehicles with them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from fitplan.files.entries import check_once
from fitplan.files.look_up import Reading, tell_unknown, vehicle_named
from fitplan.files.train_file import TrainFile, ZoneEntry
from fitplan.model.vehicle import Vehicle, Zone


def check_zones(entry: TrainFile, reading: Reading) -> None:
    """Report zones of vehicles and for needs that are not there, and those outside of their vehicle."""
    check_once(reading.collector, "zone", [item.name for item in entry.zones])
    needs = [str(need.name) for need in entry.needs]
    for item in entry.zones:
        for name in item.parts[1]:
            if name not in needs:
                tell_unknown("need", name, needs, reading)
        vehicle = vehicle_named(item.vehicle, reading)
        if vehicle is None:
            continue
        box, hull = item.box.flat_box(), vehicle.hull
        for axis, letter in enumerate("xyz"):
            if box.high[axis] <= hull.low[axis] or box.low[axis] >= hull.high[axis]:
                reading.collector.add(
                    item.box.spot,
                    f"the zone {str(item.name)!r} with {letter} from {box.low[axis]:g} to {box.high[axis]:g}",
                    f"{letter} between {hull.low[axis]:g} and {hull.high[axis]:g}, inside the hull (mm)",
                )


def with_zones(vehicle: Vehicle, name: str, zones: Iterable[ZoneEntry]) -> Vehicle:
    """Return a vehicle of the train with the zones that are said of it."""
    mine = tuple(
        Zone(str(item.name), item.box.flat_box(), item.parts[0], tuple(map(str, item.parts[1])), item.wires)
        for item in zones
        if item.vehicle == name
    )
    return replace(vehicle, zones=mine) if mine else vehicle
