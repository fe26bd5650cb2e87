"""View: what of its beam a ranger really sees, and whether the emitter lights the receiver.

The beam is a cone of rays, even by solid angle, from all over the lens; each ray is followed to the first
solid thing of its own vehicle and of all others, on straight track and in the curve to both sides.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from itertools import combinations

from fitplan.checks.beam import Sight, cast, cast_beam
from fitplan.checks.braking import braking_of, trip_distance
from fitplan.checks.ends import PlacedRanger, eyes_of, looking, window_of
from fitplan.checks.looked_at import looked_at
from fitplan.checks.rays import cone, spread
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Emitter
from fitplan.model.found import Finding, Outcome, Severity, Table
from fitplan.model.needed import Need
from fitplan.model.placed import Placement
from fitplan.model.solids import Box, axis_of, is_forward, plane_of, unit_vector
from fitplan.model.vehicle import BuiltIn, Face
from fitplan.model.words import listed

SUBJECT = "view"
CAST = "rays cast through the solids of the train, even by solid angle"


@dataclass(frozen=True)
class ViewSettings:
    """How the view is judged; limits without a source are settings of this check.

    Attributes
    ----------
    rays
        How many rays a cone has: a share is then exact to about one in a hundred.
    blocked_caution, blocked_stop
        Share of the beam that the train itself may hide.
    echo_share
        An echo from so much of the beam is heard.
    face_gap, face_angle_deg
        How far an emitter may lie off the receiver's face, and how it may lean.
    sky_share
        How much of the sky a receiver may see before daylight disturbs it.
    """

    rays: int = 2048
    blocked_caution: float = 0.05
    blocked_stop: float = 0.25
    echo_share: float = 0.02
    face_gap: float = 1.0
    face_angle_deg: float = 15.0
    sky_share: float = 0.3


DEFAULTS = ViewSettings()
SETTING = "a setting of this check, no source"


def check_view(built: BuiltTrain, settings: ViewSettings = DEFAULTS) -> Outcome:
    """Check what the rangers see and whether the emitter reaches its receiver."""
    findings: list[Finding] = []
    rows: list[tuple[str | float, ...]] = []
    eyes = eyes_of(built)
    for eye in eyes:
        if eye.placement is None or looking(eye.placement) is None:
            continue
        views = _views(built, eye.placement, eye.figures.half_angle_deg, settings)
        findings.extend(_of_eye(built, eye, views, settings))
        for name, sight in views:
            rows.append(
                (
                    eye.need,
                    name,
                    round(100 * sight.blocked, 1),
                    round(sight.nearest, 1) if math.isfinite(sight.nearest) else "none",
                    ", ".join(f"{by} {100 * share:.0f} %" for by, share in sight.by[:3]) or "nothing",
                )
            )
    findings.extend(_crosstalk(built, tuple(eye for eye in eyes if eye.guards)))
    for need in built.train.needs:
        placement = built.placement(need.name)
        if need.sits is not None and placement is not None:
            findings.extend(_on_face(built, need, placement, settings))
    findings.extend(_daylight(built, settings))
    findings.extend(looked_at(built, settings.rays // 2))
    table = Table(
        "What the train hides of each beam",
        ("ranger", "track", "hidden (%)", "nearest own echo (mm)", "by"),
        tuple(rows),
    )
    return Outcome(SUBJECT, tuple(findings), (table,) if rows else ())


def _views(
    built: BuiltTrain, placement: Placement, half_angle: float, settings: ViewSettings
) -> list[tuple[str, Sight]]:
    look = partial(cast_beam, built, placement, half_angle, rays=settings.rays)
    found = [("straight", look(radius=None))]
    radius = built.train.track.radius
    if len(built.train.vehicles) > 1 and radius > 0:
        found += [("curve to the left", look(radius=radius)), ("curve to the right", look(radius=-radius))]
    return found


def _of_eye(
    built: BuiltTrain, eye: PlacedRanger, views: list[tuple[str, Sight]], settings: ViewSettings
) -> Iterator[Finding]:
    worst_name, worst = max(views, key=lambda view: view[1].blocked)
    severity: Severity = "note"
    limit = settings.blocked_caution
    if worst.blocked > settings.blocked_stop:
        severity, limit = "stop", settings.blocked_stop
    elif worst.blocked > settings.blocked_caution:
        severity = "caution"
    blocker = worst.by[0][0] if worst.by else ""
    hidden = f"hides {100 * worst.blocked:.0f} % of the beam of {eye.need} ({worst_name})"
    yield Finding(
        SUBJECT,
        severity,
        eye.need,
        f"the train itself {hidden}" + (f", most of it {blocker}" if blocker else ""),
        round(100 * worst.blocked, 1),
        100 * limit,
        "%",
        _clear_view(built, eye, blocker) if severity != "note" else "nothing to do",
        f"{CAST}; limit: {SETTING}",
    )
    if eye.guards:
        yield from _own_echo(built, eye, worst, settings)
        yield from _blind_zone(built, eye)


def _clear_view(built: BuiltTrain, eye: PlacedRanger, blocker: str) -> str:
    assert eye.placement is not None
    vehicle = built.train.vehicle(eye.placement.vehicle).vehicle
    if any(entry.name == blocker for entry in vehicle.removables):
        return f"take out {blocker}"
    last = built.train.vehicles[0 if eye.ahead else -1].name
    if eye.ahead is not None and eye.placement.vehicle != last:
        way = "front of the leading" if eye.ahead else "rear of the last"
        return f"let {eye.need} look out of a window at the {way} vehicle, {last}"
    windows = [
        f"`looks: {entry.name}/{window.name}`"
        for entry in built.train.vehicles
        for window in entry.vehicle.windows
        if axis_of(window.out) == 0
    ]
    if blocker == "body" and windows and window_of(built.train, eye.need) is None:
        return f"name the window that {eye.need} must look out of: {listed(windows, 'or')}"
    if blocker == "body":
        return "widen the window in front of the lens, or set the lens flush with the outside of the wall"
    return f"move {eye.need} clear of {blocker}, or higher up"


def _own_echo(
    built: BuiltTrain, eye: PlacedRanger, sight: Sight, settings: ViewSettings
) -> Iterator[Finding]:
    """Judge an echo of the train itself: one nearer than the trip distance stops the train for ever."""
    running = built.train.running
    trip = running.trip_distance or trip_distance(running.speed, braking_of(built, eye))
    trip = min(trip, eye.figures.reach_mm)
    near, blind = sight.nearest, eye.figures.blind_mm
    if not math.isfinite(near) or near >= trip:
        return
    heard = sight.blocked > settings.echo_share and near >= blind
    if not heard and near < blind and sight.blocked <= settings.echo_share:
        return
    yield Finding(
        SUBJECT,
        "stop" if heard else "caution",
        eye.need,
        f"{eye.need} meets the train itself at {near:.0f} mm and must see obstacles from {trip:.0f} mm on"
        + ("" if near >= blind else f"; within its blind zone of {blind:.0f} mm such an echo is mostly lost"),
        round(near, 1),
        round(trip, 1),
        "mm",
        _clear_view(built, eye, sight.by[0][0] if sight.by else "body"),
        f"{CAST}; an echo from {100 * settings.echo_share:.0f} % of the beam is heard: {SETTING}",
    )


def _blind_zone(built: BuiltTrain, eye: PlacedRanger) -> Iterator[Finding]:
    clear = built.train.running.margin + max(eye.setback, 0.0)
    if eye.figures.blind_mm <= clear:
        return
    yield Finding(
        SUBJECT,
        "caution",
        eye.need,
        f"at rest {clear:.0f} mm before an obstacle {eye.need} can no longer measure it",
        eye.figures.blind_mm,
        round(clear, 1),
        "mm",
        f"stop with a margin of at least {eye.figures.blind_mm - max(eye.setback, 0.0):.0f} mm, or set the "
        "lens farther back",
        "the ranger's own figures",
    )


def _crosstalk(built: BuiltTrain, eyes: tuple[PlacedRanger, ...]) -> Iterator[Finding]:
    running = built.train.running
    sounding = [eye for eye in eyes if eye.figures.method == "sound"]
    if len(sounding) < 2:
        return
    if running.reads == "all":
        for one, other in combinations(sounding, 2):
            if one.ahead is None or other.ahead is None:
                continue
            between = 0.0 if one.ahead == other.ahead else 180.0
            both = one.figures.half_angle_deg + other.figures.half_angle_deg
            if between < both:
                yield Finding(
                    SUBJECT,
                    "caution",
                    f"{one.need}, {other.need}",
                    "two rangers that are read at once look the same way and hear each other",
                    between,
                    both,
                    "°",
                    "read them in turn, or only the one in front",
                    "sum of the half angles of both beams",
                )
    if running.reads == "alternating":
        cycle = max(eye.figures.cycle_ms for eye in sounding)
        interval = 1000 * running.reading_interval_s
        if interval < cycle:
            yield Finding(
                SUBJECT,
                "caution",
                ", ".join(eye.need for eye in sounding),
                "rangers are read in turn faster than an echo dies away: one hears the other's",
                interval,
                cycle,
                "ms",
                f"read every {cycle:.0f} ms or slower, or only the one in front",
                "the ranger's own cycle time",
            )


def _on_face(
    built: BuiltTrain, need: Need, placement: Placement, settings: ViewSettings
) -> Iterator[Finding]:
    """Judge an emitter that must lie on a receiver's face: the gap, the lean, and how far off the eye."""
    assert need.sits is not None
    found = face_of(built, *need.sits)
    sits = placement.part.mount.sits
    if found is None or sits is None:
        return
    item, face = found
    emitter = placement.part.figure(Emitter)
    toward = unit_vector(placement.place.pose.turn_direction(sits))
    out = unit_vector(face.out)
    cosine = -sum(a * b for a, b in zip(toward, out, strict=True))
    angle = math.degrees(math.acos(max(-1.0, min(1.0, float(cosine)))))
    axis = axis_of(face.out)
    body = placement.place.move_solid(placement.part.bounds)
    assert isinstance(body, Box)
    plane = face.box.center[axis]
    gap = body.low[axis] - plane if is_forward(face.out) else plane - body.high[axis]
    aside = math.dist(
        *([point[i] for i in range(3) if i != axis] for point in (body.center, face.box.center))
    )
    where = f"{placement.need} on {item.name}"
    if emitter is not None:
        limit = min(settings.face_angle_deg, emitter.half_angle_deg)
    else:
        limit = settings.face_angle_deg
    yield Finding(
        SUBJECT,
        "stop" if angle > limit else "note",
        where,
        f"{placement.need} points {angle:.0f}° off the receiver's face",
        round(angle, 1),
        limit,
        "°",
        "turn it so that its front lies on the face" if angle > limit else "nothing to do",
        f"half angle of the emitter, at most {settings.face_angle_deg:.0f}°: {SETTING}",
    )
    half = min(size for i, size in enumerate(face.box.size) if i != axis) / 2
    allowed = max(half, 0.5)
    off = gap > settings.face_gap or aside > allowed
    yield Finding(
        SUBJECT,
        "caution" if off else "note",
        where,
        f"{placement.need} lies {max(gap, 0.0):.1f} mm from the receiver, {aside:.1f} mm off its middle",
        round(aside if aside > allowed else max(gap, 0.0), 2),
        round(allowed if aside > allowed else settings.face_gap, 2),
        "mm",
        f"bring it within {settings.face_gap:g} mm of the face and within {allowed:.1f} mm of its middle"
        if off
        else "nothing to do; keep daylight out of the joint",
        SETTING,
    )


def face_of(built: BuiltTrain, vehicle: str, item: str, face: str) -> tuple[BuiltIn, Face] | None:
    """Return a face of something built in, or None."""
    for entry in built.train.vehicles:
        if entry.name != vehicle:
            continue
        for one in entry.vehicle.built_in:
            for side in one.faces:
                if (one.name, side.name) == (item, face):
                    return one, side
    return None


def _daylight(built: BuiltTrain, settings: ViewSettings) -> Iterator[Finding]:
    """Judge how much of the sky a receiver's face sees past the roof, the parts and the emitter on it."""
    for entry in built.train.vehicles:
        for item in entry.vehicle.built_in:
            if item.kind != "receiver":
                continue
            for face in item.faces:
                if face.out != "+z":
                    continue
                share = sky_share(built, entry.name, face, settings.rays // 2)
                bright = share > settings.sky_share
                yield Finding(
                    SUBJECT,
                    "caution" if bright else "note",
                    f"{item.name} ({face.name})",
                    f"the receiver looks up and sees {100 * share:.0f} % of the sky",
                    round(100 * share, 1),
                    100 * settings.sky_share,
                    "%",
                    "cover it: close the roof above it, or seat the emitter with an opaque brick round it"
                    if bright
                    else "nothing to do",
                    f"sunlight drowns infrared signals: common practice; limit: {SETTING}",
                )


def sky_share(built: BuiltTrain, vehicle: str, face: Face, rays: int) -> float:
    """Return the share of the hemisphere above a face from which light reaches it unhindered."""
    axis = axis_of(face.out)
    origins = spread(face.box, rays)
    plane = plane_of(face.box, face.out)
    origins[:, axis] = plane + (0.01 if is_forward(face.out) else -0.01)
    sight = cast(built, vehicle, "", origins, cone(unit_vector(face.out), 89.9, rays), None)
    return 1.0 - sight.blocked
