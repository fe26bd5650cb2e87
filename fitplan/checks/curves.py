"""Curves and clearance: how far bodies throw over, whether neighbours touch, wires against wheels and rails.

On a curve the middle of a vehicle lies inside the track and its ends lie outside.  The railway engineer's
approximations are C²/(8R) inwards and (L² − C²)/(8R) outwards; here every corner that sticks out is
turned onto the curve exactly.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from fitplan.checks.curve_settings import DEFAULTS, SETTING, SUBJECT, CurveSettings
from fitplan.checks.on_curve import middle_radius, pivots, stands
from fitplan.checks.outline import WHEEL, Floats, Outline, hull_gap, outline_of
from fitplan.checks.wire_clearance import hanging_bundles, wires_at_wheels
from fitplan.model.built import BuiltTrain
from fitplan.model.found import Finding, Outcome, Table
from fitplan.model.train import Train, TrainVehicle
from fitplan.model.vehicle import Vehicle
from fitplan.units import PLATE

Slices = dict[str, list[Floats]]
EXACT = "corners turned onto the curve exactly; C²/(8R) and (L² − C²)/(8R) in railway handbooks"


@dataclass(frozen=True)
class Throw:
    """How far a vehicle reaches from the middle of the track in a curve, in mm, and what does."""

    outside: float
    outside_by: str
    inside: float
    inside_by: str


def throw_of(vehicle: Vehicle, outline: Outline, radius: float) -> Throw:
    """Return how far a vehicle with this outline reaches to both sides in a curve.

    Both directions of the curve are tried, as vehicles are turned or run both ways.
    """
    low, high = pivots(vehicle)
    inside_r = middle_radius(vehicle, radius)
    # Wheels stay on their rails: they swing with their bogies and reach no farther than the gauge.
    kept = [number for number, name in enumerate(outline.names[::8]) if name != WHEEL]
    names = [outline.names[8 * number] for number in kept] or list(outline.names[::8])
    boxes = outline.points.reshape(-1, 8, 3)[kept or slice(None)]
    near_x, far_x = boxes[:, :, 0].min(axis=1), boxes[:, :, 0].max(axis=1)
    near_y, far_y = boxes[:, :, 1].min(axis=1), boxes[:, :, 1].max(axis=1)
    outside = inside = -math.inf
    outside_by = inside_by = ""
    x = (low + high) / 2
    for side in (1.0, -1.0):
        y = vehicle.width / 2 + side * inside_r  # the centre of the curve
        corner = np.hypot(np.maximum(far_x - x, x - near_x), np.maximum(far_y - y, y - near_y))
        # Between two corners an edge comes nearer to the centre: where it passes it.
        edge = np.hypot(
            np.maximum(np.maximum(near_x - x, x - far_x), 0.0),
            np.maximum(np.maximum(near_y - y, y - far_y), 0.0),
        )
        far, near = int(np.argmax(corner)), int(np.argmin(edge))
        if corner[far] - radius > outside:
            outside, outside_by = float(corner[far] - radius), names[far]
        if radius - edge[near] > inside:
            inside, inside_by = float(radius - edge[near]), names[near]
    return Throw(outside, outside_by, inside, inside_by)


def check_curves(built: BuiltTrain, settings: CurveSettings = DEFAULTS) -> Outcome:
    """Check clearances beside and above the track, between vehicles, and of wires at wheels and rails."""
    track = built.train.track
    outlines = {entry.name: outline_of(built, entry.name) for entry in built.train.vehicles}
    findings: list[Finding] = []
    rows: list[tuple[str | float, ...]] = []
    for entry in built.train.vehicles:
        outline = outlines[entry.name]
        if track.radius > 0:
            if track.radius <= _least_radius(entry.vehicle):
                findings.append(_too_sharp(entry, track.radius))
                continue
            throw = throw_of(entry.vehicle, outline, track.radius)
            findings.extend(_beside(built, entry, throw))
            rows.append(_row(entry.vehicle, entry.name, throw, track.radius))
        findings.append(_above(built, entry, outline))
        findings.extend(wires_at_wheels(built, entry, settings))
    findings.extend(_neighbours(built, outlines, settings))
    findings.extend(hanging_bundles(built, settings))
    table = Table(
        f"Throw-over in a curve of {track.radius:.0f} mm radius",
        ("vehicle", "middle inwards (mm)", "ends outwards (mm)", "reaches inwards", "reaches outwards", "by"),
        tuple(rows),
        "reach is from the middle of the track, with everything that sticks out",
    )
    return Outcome(SUBJECT, tuple(findings), (table,) if rows else ())


def _least_radius(vehicle: Vehicle) -> float:
    low, high = pivots(vehicle)
    return (high - low + vehicle.wheels.bogie_wheelbase) / 2


def _too_sharp(entry: TrainVehicle, radius: float) -> Finding:
    least = _least_radius(entry.vehicle)
    return Finding(
        SUBJECT,
        "stop",
        entry.name,
        f"{entry.name} does not go round: its wheels stand wider than the curve",
        radius,
        round(least, 1),
        "mm",
        f"use curves of more than {least:.0f} mm radius",
        "pivots must lie on the track's middle line",
    )


def _row(vehicle: Vehicle, name: str, throw: Throw, radius: float) -> tuple[str | float, ...]:
    low, high = pivots(vehicle)
    return (
        name,
        round(radius - middle_radius(vehicle, radius), 1),
        round(math.hypot(middle_radius(vehicle, radius), _far_end(vehicle, low, high)) - radius, 1),
        round(throw.inside, 1),
        round(throw.outside, 1),
        f"{throw.inside_by}; {throw.outside_by}",
    )


def _far_end(vehicle: Vehicle, low: float, high: float) -> float:
    middle = (low + high) / 2
    return max(middle, vehicle.length - middle)


def _beside(built: BuiltTrain, entry: TrainVehicle, throw: Throw) -> Iterator[Finding]:
    track = built.train.track
    limit = track.structure_half_width
    for reach, by, side in (
        (throw.inside, throw.inside_by, "inside"),
        (throw.outside, throw.outside_by, "outside"),
    ):
        fouls = reach > limit
        yield Finding(
            SUBJECT,
            "stop" if fouls else "note",
            entry.name,
            f"in the curve {by} of {entry.name} reaches {reach:.1f} mm to the {side}",
            round(reach, 1),
            limit,
            "mm",
            _less_throw(built, entry, by, reach) if fouls else "nothing to do",
            EXACT,
        )


def _less_throw(built: BuiltTrain, entry: TrainVehicle, by: str, reach: float) -> str:
    limit = built.train.track.structure_half_width
    # A little more than what is too much: at an angle to the track a move sideways counts less.
    out = f"take {by} out, or " if any(one.name == by for one in entry.vehicle.removables) else ""
    mm = f"{1.1 * (reach - limit):.1f} mm"
    move = f"make the body narrower there by {mm}" if by == "body" else f"move {by} inwards by {mm}"
    move += f", or clear the structure to {reach:.0f} mm"
    radius = _radius_for(built, entry, limit)
    return out + (f"{move}, or use curves of at least {radius:.0f} mm radius" if radius else move)


def _radius_for(built: BuiltTrain, entry: TrainVehicle, limit: float) -> float:
    """Return the least radius (to 10 mm) at which a vehicle stays within the structure; 0 if none does."""
    outline = outline_of(built, entry.name)

    def clears(radius: float) -> bool:
        throw = throw_of(entry.vehicle, outline, radius)
        return max(throw.inside, throw.outside) <= limit

    tight, wide = built.train.track.radius, 20 * built.train.track.radius
    if not clears(wide):
        return 0.0
    while wide - tight > 5.0:
        middle = (tight + wide) / 2
        if clears(middle):
            wide = middle
        else:
            tight = middle
    return math.ceil(wide / 10) * 10


def _above(built: BuiltTrain, entry: TrainVehicle, outline: Outline) -> Finding:
    highest = int(np.argmax(outline.points[:, 2]))
    top, limit = float(outline.points[highest, 2]), built.train.track.structure_height
    by = outline.names[highest]
    fouls = top > limit
    return Finding(
        SUBJECT,
        "stop" if fouls else "note",
        entry.name,
        f"{by} of {entry.name} is {top:.1f} mm above the rail",
        round(top, 1),
        limit,
        "mm",
        f"lower {by} by {top - limit:.1f} mm, or raise the structure" if fouls else "nothing to do",
        "the structure height of the train file",
    )


def _neighbours(
    built: BuiltTrain, outlines: dict[str, Outline], settings: CurveSettings
) -> Iterator[Finding]:
    train = built.train
    radius = train.track.radius
    top = max(float(outline.points[:, 2].max()) for outline in outlines.values())
    marks = np.arange(0.0, top + PLATE, PLATE)
    slices = {name: outline.bands(marks) for name, outline in outlines.items()}
    for ahead, behind in pairwise(train.vehicles):
        if radius > 0 and radius <= max(_least_radius(ahead.vehicle), _least_radius(behind.vehicle)):
            continue
        gap, name = _least_gap(train, ahead, behind, slices)
        if not math.isfinite(gap):
            continue  # at no height both have anything
        touches = gap < settings.neighbour_gap
        remedy = "nothing to do"
        if touches:
            longer = _longer(train, ahead, behind, slices, settings.neighbour_gap)
            remedy = (
                f"lengthen the coupling by {longer:.1f} mm, or move what sticks out at these ends inwards"
                if longer
                else "use a wider curve, or move what sticks out at these ends inwards"
            )
        yield Finding(
            SUBJECT,
            "stop" if touches else "note",
            f"{ahead.name} and {behind.name}",
            f"{name} their outlines come within {gap:.1f} mm"
            if gap >= 0
            else f"{name} their outlines overlap by {-gap:.1f} mm",
            round(gap, 2),
            settings.neighbour_gap,
            "mm",
            remedy,
            f"convex outlines of both vehicles, plate by plate in height; least gap: {SETTING}",
        )


def _least_gap(train: Train, ahead: TrainVehicle, behind: TrainVehicle, slices: Slices) -> tuple[float, str]:
    """Return the least gap of two neighbours over all kinds of track, and where it is."""
    radius = train.track.radius
    tracks: list[tuple[str, float | None, bool]] = [("on straight track", None, False)]
    if radius > 0:
        tracks += [("in the curve", radius, False), ("in the curve", -radius, False)]
        if train.track.reverse_curve:
            tracks += [("in the reverse curve", radius, True), ("in the reverse curve", -radius, True)]
    found = []
    for name, bend, reverse in tracks:
        where = stands(train, bend, ahead.name, reverse)
        pairs = {
            (id(one), id(other)): (one, other)
            for one, other in zip(slices[ahead.name], slices[behind.name], strict=True)
            if len(one) > 2 and len(other) > 2
        }
        gaps = [math.inf]
        for one, other in pairs.values():
            gaps.append(hull_gap(where[ahead.name].to_plan(one), where[behind.name].to_plan(other)))
        found.append((min(gaps), name))
    return min(found)


def _longer(train: Train, ahead: TrainVehicle, behind: TrainVehicle, slices: Slices, wanted: float) -> float:
    """Return how much longer (mm) the coupling must be for the gap; 0 when 40 mm do not help."""
    if ahead.coupling_length("behind") == 0:
        return 0.0
    end = "front" if ahead.turned else "rear"

    def clears(extra: float) -> bool:
        hooks = tuple(
            replace(one, length=one.length + extra) if one.end == end else one
            for one in ahead.vehicle.couplings
        )
        longer = replace(ahead, vehicle=replace(ahead.vehicle, couplings=hooks))
        pair = replace(train, vehicles=(longer, behind))
        return _least_gap(pair, longer, behind, slices)[0] >= wanted

    short, enough = 0, 80  # in half millimetres
    if not clears(enough / 2):
        return 0.0
    while enough - short > 1:
        middle = (short + enough) // 2
        if clears(middle / 2):
            enough = middle
        else:
            short = middle
    return enough / 2
