"""A beam cast through the train: what of it its own vehicle and all others stop, and how near."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

import numpy as np

from fitplan.checks.ends import looking
from fitplan.checks.on_curve import on_one_circle, stands
from fitplan.checks.rays import Floats, Obstacle, cone, first_hits, spread
from fitplan.checks.scene import obstacles_of
from fitplan.model.built import BuiltTrain
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, Direction, axis_of, plane_of, unit_vector


@dataclass(frozen=True)
class Sight:
    """What a beam meets of the train itself.

    ``blocked`` is a share of the beam; ``nearest`` the distance of the nearest thing met (mm, infinite for
    none); ``by`` names what hides most, with its share.
    """

    blocked: float
    nearest: float
    by: tuple[tuple[str, float], ...]


def cast_beam(
    built: BuiltTrain,
    placement: Placement,
    half_angle_deg: float,
    radius: float | None,
    rays: int,
    out: Direction | None = None,
) -> Sight:
    """Return what a placed part's beam meets of its train.

    Parameters
    ----------
    radius
        Of a curve to the left (positive) or right (negative); None on straight track.
    out
        The direction in the vehicle's frame; where the part looks when not given.
    """
    direction = out or looking(placement)
    assert direction is not None
    lens = placement.part.mount.lens or placement.part.bounds
    seen = placement.place.move_solid(lens)
    assert isinstance(seen, Box)
    axis = axis_of(direction)
    front = plane_of(seen, direction)
    origins = spread(seen, rays)
    origins[:, axis] = front
    rays_out = cone(unit_vector(direction), half_angle_deg, rays)
    sight = cast(built, placement.vehicle, placement.need, origins, rays_out, radius)
    return _through_bars(sight, _open_share(built, placement))


def _open_share(built: BuiltTrain, placement: Placement) -> float:
    """Return the share that bars leave open of the window that a part looks out of; 1 for none."""
    looks = next((need.looks for need in built.train.needs if need.name == placement.need), None)
    windows = built.train.vehicle(placement.vehicle).vehicle.windows
    return next((one.open_share for one in windows if looks == (placement.vehicle, one.name)), 1.0)


def _through_bars(sight: Sight, open_share: float) -> Sight:
    """Return a sight with what bars hide of it: their share of all that gets past the train otherwise."""
    if open_share >= 1.0:
        return sight
    bars = (1.0 - sight.blocked) * (1.0 - open_share)
    by = tuple(sorted((*sight.by, ("bars", bars)), key=lambda one: (-one[1], one[0])))
    return Sight(sight.blocked + bars, sight.nearest, by)


def cast(
    built: BuiltTrain, vehicle: str, need: str, origins: Floats, directions: Floats, radius: float | None
) -> Sight:
    """Cast rays of one vehicle's frame against the whole train."""
    where = stands(built.train, radius, vehicle)
    own = where[vehicle]
    plan_origins, plan_directions = own.to_plan(origins), own.turn(directions)
    nearest = np.full(len(origins), np.inf)
    names: list[str] = [""] * len(origins)
    together = on_one_circle(built.train, radius, vehicle)
    for entry in (entry for entry in built.train.vehicles if entry.name in together):
        stand = where[entry.name]
        obstacles: list[Obstacle] = obstacles_of(built, entry.name, need if entry.name == vehicle else "")
        hits = first_hits(stand.from_plan(plan_origins), stand.turn_back(plan_directions), obstacles)
        for row in np.flatnonzero(hits.distance < nearest):
            nearest[row] = hits.distance[row]
            name = obstacles[int(hits.index[row])].name
            names[row] = name if entry.name == vehicle else f"{name} of {entry.name}"
    met = np.isfinite(nearest)
    counts = Counter(name for name, hit in zip(names, met, strict=True) if hit)
    by = tuple((name, count / len(origins)) for name, count in sorted(counts.items(), key=_most_first))
    closest = float(nearest.min()) if met.any() else math.inf
    return Sight(float(met.mean()), closest, by)


def _most_first(item: tuple[str, int]) -> tuple[int, str]:
    return -item[1], item[0]
