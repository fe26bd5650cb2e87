"""What sensors and emitters look at: the ground, a pane, their own wall, or no receiver at all."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fitplan.checks.beam import cast_beam
from fitplan.checks.ends import (
    LEAST_REACH,
    PlacedRanger,
    chosen_parts,
    eyes_of,
    lens_center,
    looking,
    window_of,
)
from fitplan.checks.rays import first_hits, spread
from fitplan.checks.scene import body_obstacles
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Emitter, Ranger
from fitplan.model.found import Finding, Severity
from fitplan.model.placed import Placement
from fitplan.model.solids import WAY_WORDS, axis_of, is_forward, plane_of, unit_vector

SUBJECT = "view"
SETTING = "a setting of this check, no source"
_LIGHT_ANGLE, _LIGHT_SHARE, _NEAR = 30.0, 0.75, 40.0
"""A light sensor looks at its own train where so much of a cone of this half angle ends within so many mm."""
_PANE_SHARE = 0.5


def looked_at(built: BuiltTrain, rays: int) -> Iterator[Finding]:
    """Yield what is wrong with that which sensors and emitters look at."""
    for eye in eyes_of(built):
        yield from _off_the_track(built, eye)
        yield from _pane(built, eye, rays)
    yield from _light_sensors(built, rays)
    yield from _unheard(built, rays)


def _off_the_track(built: BuiltTrain, eye: PlacedRanger) -> Iterator[Finding]:
    """Tell a ranger of long reach that looks at the ground, the sky or the side."""
    if eye.placement is None or eye.figures.reach_mm < LEAST_REACH:
        return
    direction = looking(eye.placement)
    if direction is None or axis_of(direction) == 0:
        return
    down = direction == "-z"
    height = lens_center(eye.placement)[2]
    severity: Severity = "stop" if down else "caution"
    yield Finding(
        SUBJECT,
        severity,
        eye.need,
        f"{eye.need} looks {WAY_WORDS[direction]}"
        + (f" at the ground, {height:.0f} mm below it" if down else "")
        + ": it never sees what stands on the track",
        round(height, 1) if down else 90.0,
        0.0,
        "mm" if down else "°",
        f"turn {eye.need} so that it looks along the train, or name the window at an end that it must look"
        " out of",
        "the direction in which the part looks where it lies",
    )


def _pane(built: BuiltTrain, eye: PlacedRanger, rays: int) -> Iterator[Finding]:
    """Tell a ranger behind a pane: level rays through its window meet something of the body in it."""
    found = window_of(built.train, eye.need)
    if found is None:
        return
    entry, window = found
    axis, step = axis_of(window.out), unit_vector(window.out)
    lens = None if eye.placement is None else eye.placement.part.mount.lens
    # What of the window lies before the lens, where there is one; all of it otherwise.
    area = window.box
    if lens is not None and eye.placement is not None:
        area = eye.placement.place.move_solid(lens).bounds
    origins = spread(area, rays)
    start = window.box.low[axis] if is_forward(window.out) else window.box.high[axis]
    origins[:, axis] = start - 0.01 * step[axis]
    thick = max(window.box.size[axis], 0.1) + 0.02
    if area is not window.box:
        # A lens that lies in its window, as in a niche with brick behind it, looks at what is before it.
        ahead = (
            plane_of(area, window.out) - start
            if is_forward(window.out)
            else start - plane_of(area, window.out)
        )
        within = min(max(ahead, 0.0), thick - 0.02)
        origins[:, axis] += within * step[axis]
        thick -= within
    body = body_obstacles(entry.vehicle, built.taken_out(entry.name))
    hits = first_hits(origins, np.tile(step, (rays, 1)), body)
    stopped = hits.distance <= thick
    share = float(stopped.mean())
    if share < _PANE_SHARE:
        return
    name = body[int(hits.index[int(np.argmax(stopped))])].name
    removable = any(one.name == name for one in entry.vehicle.removables)
    yield Finding(
        SUBJECT,
        "stop",
        eye.need,
        f"{eye.need} looks at {'a pane or wall' if name == 'body' else name} that fills {100 * share:.0f} % "
        f"of its window {window.name}: neither sound nor its light goes through and comes back",
        round(100 * share, 1),
        100 * _PANE_SHARE,
        "%",
        f"take {name} out"
        if removable
        else f"take the pane out of {window.name}, or cut it out before the lens",
        f"level rays through the window; limit: {SETTING}; reflection at a pane: common practice",
    )


def _light_sensors(built: BuiltTrain, rays: int) -> Iterator[Finding]:
    """Tell a light sensor that looks at its own train from close by."""
    for placement in built.placements:
        part = placement.part
        if part.family != "sensor" or part.mount.looks is None:
            continue
        figures = part.figure(Ranger)
        if figures is not None and figures.reach_mm >= LEAST_REACH:
            continue
        half = figures.half_angle_deg if figures is not None else _LIGHT_ANGLE
        sight = cast_beam(built, placement, half, None, rays)
        if sight.blocked < _LIGHT_SHARE or sight.nearest > _NEAR:
            continue
        by = sight.by[0][0]
        yield Finding(
            SUBJECT,
            "stop",
            placement.need,
            f"{placement.need} looks at {by}, {sight.nearest:.1f} mm before it: "
            f"{100 * sight.blocked:.0f} % of what it could see is its own train",
            round(100 * sight.blocked, 1),
            100 * _LIGHT_SHARE,
            "%",
            f"turn {placement.need} to an opening, or name the window that it must look out of",
            f"rays cast through the solids of the train within {half:.0f}°; limits: {SETTING}",
        )


def _unheard(built: BuiltTrain, rays: int) -> Iterator[Finding]:
    """Tell an emitter that no receiver of the train sees."""
    receivers = [
        (entry.name, item.name)
        for entry in built.train.vehicles
        for item in entry.vehicle.built_in
        if item.kind == "receiver"
    ]
    for name, part in chosen_parts(built).items():
        figures = part.figure(Emitter)
        if figures is None or built.train.need(name).sits is not None:
            continue
        if not receivers:
            yield _no_receiver(
                name, "no vehicle of the train has a receiver", "mark the receiver in its vehicle"
            )
            continue
        placement = built.placement(name)
        if placement is None or _lights(built, placement, figures.half_angle_deg, receivers, rays):
            continue
        vehicle, item = receivers[0]
        yield _no_receiver(
            name,
            "none of its light meets a receiver",
            f"seat it on {item} of {vehicle} with `sits`, or turn it towards it",
        )


def _lights(
    built: BuiltTrain, placement: Placement, half: float, receivers: list[tuple[str, str]], rays: int
) -> bool:
    """Return whether some of an emitter's light meets a receiver on straight track."""
    out = placement.part.mount.looks or placement.part.mount.sits
    if out is None:
        return True  # nothing is known of where it shines
    met = cast_beam(built, placement, half, None, rays, placement.place.pose.turn_direction(out)).by
    names = {item if vehicle == placement.vehicle else f"{item} of {vehicle}" for vehicle, item in receivers}
    return any(by in names for by, _ in met)


def _no_receiver(need: str, why: str, remedy: str) -> Finding:
    return Finding(
        SUBJECT,
        "caution",
        need,
        f"{need} has no receiver: {why}",
        0.0,
        1.0,
        "receivers",
        f"{remedy}; nothing to do where the receiver is outside the train",
        "rays cast through the solids of the train; receivers as the vehicle files name them",
    )
