"""Support: what would tip where it lies, and what would slide off an open deck.

Whether a part stands was found when it was placed (`Placement.steady`). On a vehicle that is open at the top
a load is also held against sliding: along each level direction something solid must stand close to it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fitplan.checks.rays import first_hits
from fitplan.checks.scene import obstacles_of
from fitplan.model.facts import mass_of
from fitplan.model.plan import BuiltTrain, Finding, Outcome, Placement, Severity
from fitplan.model.solids import Box, Direction, axis_of, bounds_of, is_forward, unit_vector

SUBJECT = "support"
_WAYS: dict[Direction, str] = {"+x": "forwards", "-x": "backwards", "+y": "to the left", "-y": "to the right"}
_RAYS = 7


@dataclass(frozen=True)
class SupportSettings:
    """What is asked of support.

    Attributes
    ----------
    heavy_g
        A part heavier than this that would tip is a stop; a lighter one is held by tape or its leads (common
        practice, no source).
    slide_mm
        A load may slide no further than this on an open deck: a stud (common practice, no source).
    """

    heavy_g: float = 20.0
    slide_mm: float = 8.0


def check_support(built: BuiltTrain, settings: SupportSettings) -> Outcome:
    """Return what would tip, and what would slide on an open deck."""
    findings: list[Finding] = []
    for placement in built.placements:
        if not placement.steady:
            findings.append(_tips(placement, settings))
        if built.train.vehicle(placement.vehicle).vehicle.load_top:
            findings += _slides(built, placement, settings)
    return Outcome(SUBJECT, tuple(findings))


def _tips(placement: Placement, settings: SupportSettings) -> Finding:
    mass = mass_of(placement.part)
    severity: Severity = "stop" if mass > settings.heavy_g else "caution"
    return Finding(
        SUBJECT,
        severity,
        f"{placement.need} in {placement.vehicle}",
        f"{placement.need} ({mass:.0f} g) rests on {placement.carried_by} on one side only and would tip",
        mass,
        settings.heavy_g,
        "g",
        "put plates or a bracket under its other side, or press it between plates above and below",
        "its middle against the hull of its contacts; grams that tape holds are common practice",
    )


def _slides(built: BuiltTrain, placement: Placement, settings: SupportSettings) -> list[Finding]:
    need = built.need_of(placement)
    if need.looks is not None or need.sits is not None or not placement.part.mount.needs_support:
        return []
    bounds = bounds_of(tuple(placement.place.move_solid(solid) for solid in placement.part.envelope))
    obstacles = obstacles_of(built, placement.vehicle, placement.need)
    found: list[Finding] = []
    for way, words in _WAYS.items():
        origins = _face_points(bounds, way)
        directions = np.tile(np.array(unit_vector(way), dtype=float), (len(origins), 1))
        free = float(first_hits(origins, directions, obstacles).distance.min())
        if free <= settings.slide_mm:
            continue
        clear = "nothing" if not np.isfinite(free) else f"nothing within {free:.0f} mm"
        found.append(
            Finding(
                SUBJECT,
                "caution" if mass_of(placement.part) > settings.heavy_g else "note",
                f"{placement.need} in {placement.vehicle}",
                f"{placement.need} lies on an open deck and may slide {words}: {clear} holds it there",
                min(free, 1000.0),
                settings.slide_mm,
                "mm",
                "press a brick or tile onto the studs at that end, or fix it with tape",
                "level rays from the side of the part; a stud of play is common practice, no source",
            )
        )
    return found


def _face_points(bounds: Box, way: Direction) -> np.ndarray:
    """Return a grid of points on a side of a box, (n, 3), a little inside its edges."""
    axis = axis_of(way)
    lines = [
        np.linspace(low + 0.05 * (high - low), high - 0.05 * (high - low), _RAYS)
        for low, high in zip(bounds.low, bounds.high, strict=True)
    ]
    lines[axis] = np.array([bounds.high[axis] if is_forward(way) else bounds.low[axis]])
    return np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1).reshape(-1, 3)
