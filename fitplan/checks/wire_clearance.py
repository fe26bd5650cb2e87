"""Wires against wheels, which swing with their bogies, and against the rail head."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from fitplan.checks.curve_settings import DEFAULTS, SETTING, SUBJECT, CurveSettings
from fitplan.checks.on_curve import pivots
from fitplan.checks.outline import Floats
from fitplan.checks.scene import axles
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding
from fitplan.model.solids import Box
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import Vehicle

_AXLE = 5.0
"""Diameter of an axle in mm (common practice, no source)."""


def wheel_room(
    vehicle: Vehicle, gauge: float, radius: float, settings: CurveSettings = DEFAULTS
) -> list[Box]:
    """Return the room that each wheel, and each axle, sweeps when its bogie swings in the sharpest curve.

    Between the wheels there is the axle alone.
    """
    low, high = pivots(vehicle)
    bogies = vehicle.wheels.kind == "bogies" and vehicle.wheels.bogie_wheelbase > 0
    swing = math.asin(min(1.0, (high - low) / (2 * radius))) if bogies and radius > 0 else 0.0
    half_axle = gauge / 2 + settings.wheel_width
    r = vehicle.wheels.wheel_radius
    found = []
    for x in axles(vehicle):
        lever = vehicle.wheels.bogie_wheelbase / 2 if bogies else 0.0
        along = r * math.cos(swing) + half_axle * math.sin(swing) + lever * (1 - math.cos(swing))
        aside = half_axle * math.cos(swing) + (r + lever) * math.sin(swing)
        inner = max(gauge / 2 * math.cos(swing) - (r + lever) * math.sin(swing), 0.0)
        y, rod = vehicle.width / 2, min(_AXLE / 2, r)
        found.append(Box((x - along, y - aside, 0.0), (x + along, y - inner, 2 * r)))
        found.append(Box((x - along, y + inner, 0.0), (x + along, y + aside, 2 * r)))
        found.append(Box((x - along, y - inner, r - rod), (x + along, y + inner, r + rod)))
    return found


def wires_at_wheels(built: BuiltTrain, entry: TrainVehicle, settings: CurveSettings) -> Iterator[Finding]:
    """Judge how near the wires of a vehicle come to its wheels and to the rail head."""
    track = built.train.track
    rooms = wheel_room(entry.vehicle, track.gauge, track.radius, settings)
    ways = [
        (wire, np.array(leg.points, dtype=float))
        for wire in built.harness.wires
        for leg in wire.legs
        if leg.vehicle == entry.name and leg.points
    ]
    if not ways:
        return
    heights = [float(points[:, 2].min()) - wire.outer_mm / 2 for wire, points in ways]
    found = [(heights, settings.rail_gap, "the rail head", "lead it above the frame, or clip it up")]
    if rooms:
        gaps = [least_distance(points, rooms) - wire.outer_mm / 2 for wire, points in ways]
        found.insert(
            0,
            (gaps, settings.wheel_gap, "the wheels", "lead it higher, or clip it to the frame off the axle"),
        )
    for distances, limit, what, remedy in found:
        nearest = int(np.argmin(distances))
        gap, wire = distances[nearest], ways[nearest][0]
        fouls = gap < limit
        yield Finding(
            SUBJECT,
            "stop" if fouls else "note",
            f"{entry.name}, wire {wire.number} ({wire.net})",
            f"wire {wire.number} comes within {max(gap, 0.0):.1f} mm of {what}",
            round(gap, 2),
            limit,
            "mm",
            remedy if fouls else "nothing to do",
            f"wheels swept through the swing of their bogie; least gap: {SETTING}",
        )


def least_distance(points: Floats, boxes: list[Box]) -> float:
    """Return the least distance of a way of straight stretches (n, 3) to any of some boxes; 0 inside one.

    Between the places at which a stretch passes the planes of a box the squared distance is a parabola: its
    slope is straight there, and where that is none, or at an end, it is least.
    """
    lows, highs = (np.array(corners) for corners in zip(*((box.low, box.high) for box in boxes), strict=True))
    starts = points[:-1, None] if len(points) > 1 else points[:, None]
    steps = points[1:, None] - starts if len(points) > 1 else np.zeros_like(starts)

    def off(shares: Floats) -> Floats:
        at = starts[:, :, None] + shares[..., None] * steps[:, :, None]
        away: Floats = at - at.clip(lows[:, None], highs[:, None])
        return away

    passes = [(plane - starts) / np.where(steps == 0, np.inf, steps) for plane in (lows, highs)]
    ends = np.broadcast_to((0.0, 1.0), (len(starts), len(boxes), 2))
    marks = np.sort(np.concatenate([ends, *passes], axis=2).clip(0.0, 1.0), axis=2)
    slopes = (off(marks) * steps[:, :, None]).sum(axis=3)
    rises = np.diff(slopes, axis=2)
    parts = (-slopes[..., :-1] / np.where(rises > 0, rises, np.inf)).clip(0.0, 1.0)
    least = off(marks[..., :-1] + parts * np.diff(marks, axis=2))
    return math.sqrt(float((least * least).sum(axis=3).min()))


def hanging_bundles(built: BuiltTrain, settings: CurveSettings) -> Iterator[Finding]:
    """Judge how low the bundles hang between the vehicles, all their thickness counted."""
    for crossing in built.harness.crossings:
        height = crossing.sag_above_rail_mm
        fouls = height < settings.rail_gap
        up = math.ceil(settings.rail_gap - height)
        yield Finding(
            SUBJECT,
            "stop" if fouls else "caution" if crossing.clip else "note",
            f"{crossing.ahead} to {crossing.behind}",
            f"between the vehicles the bundle hangs {height:.1f} mm above the rail head",
            round(height, 2),
            settings.rail_gap,
            "mm",
            f"use ports {up} mm farther up, or write less slack over couplings"
            if fouls
            else "clip it up beside a port, so that no more of it hangs than curves take"
            if crossing.clip
            else "nothing to do",
            f"sag of the free length, and half of its diameter; least gap: {SETTING}",
        )
