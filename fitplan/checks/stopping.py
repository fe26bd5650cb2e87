"""How far the train runs on after something stands in its way, and at which reading it must stop.

A reading is taken every so often; the sound goes there and back; the command takes its time; then the train
brakes evenly.  The way to standstill is ``v·t + v²/(2a)``, with the time ``t`` of all that comes before
braking.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fitplan.checks.ends import Eye, eyes_of
from fitplan.checks.sound import sound_speed
from fitplan.model.electrical import Ranger
from fitplan.model.plan import BuiltTrain, Curve, Finding, Outcome, Plot, Table
from fitplan.model.train import Running

SUBJECT = "stopping"
FORMULA = "v·t + v²/(2a), textbook; sound at the day's temperature there and back"


@dataclass(frozen=True)
class StoppingSettings:
    """What the table and the plot show.

    Attributes
    ----------
    speeds, trips
        Rows and columns of the table in mm/s and mm; trains run at 200 to 600 mm/s (common practice).
    round_to
        A proposed trip distance is rounded up to a multiple of this (mm), as it is typed into a program.
    """

    speeds: tuple[float, ...] = (100.0, 200.0, 300.0, 400.0, 500.0, 600.0)
    trips: tuple[float, ...] = (80.0, 120.0, 160.0, 200.0, 250.0, 300.0, 400.0)
    round_to: float = 10.0


DEFAULTS = StoppingSettings()


@dataclass(frozen=True)
class Braking:
    """All that decides the stopping distance but the speed (mm, s, mm/s²).

    ``delay_s`` is the time from an obstacle's coming into reach to the brake, sound's way excepted;
    ``wave_speed`` is that of sound, or infinite for light; ``offset`` is the margin plus the lens's setback.
    """

    delay_s: float
    deceleration: float
    wave_speed: float
    offset: float


def reading_interval(running: Running, eyes: int, cycle_ms: float) -> float:
    """Return the longest time (s) between two readings of the ranger that looks ahead.

    A ranger cannot be read faster than its own cycle; rangers that are read in turn wait for each other.
    """
    one = max(running.reading_interval_s, cycle_ms / 1000)
    if running.reads == "front":
        return one
    if running.reads == "alternating":
        return one * max(eyes, 1)
    return max(running.reading_interval_s, max(eyes, 1) * cycle_ms / 1000)


def braking_of(running: Running, figures: Ranger, eyes: int, setback: float) -> Braking:
    """Return what decides the stopping distance for one ranger."""
    delay = reading_interval(running, eyes, figures.cycle_ms) + running.command_delay_s
    wave = sound_speed(running.temperature_c) if figures.method == "sound" else math.inf
    return Braking(delay, running.deceleration, wave, running.margin + max(setback, 0.0))


def stopping_distance(speed: float, delay_s: float, deceleration: float) -> float:
    """Return the way (mm) from a speed (mm/s) to standstill: ``v·t + v²/(2a)``."""
    return speed * delay_s + speed**2 / (2 * deceleration)


def trip_distance(speed: float, braking: Braking) -> float:
    """Return the least reading (mm) at which the program must stop the train.

    While sound goes out to an obstacle at distance D and back, the train runs on by 2·D·v/c, so
    ``D = (offset + v·t + v²/(2a)) / (1 − 2v/c)``.
    """
    way = braking.offset + stopping_distance(speed, braking.delay_s, braking.deceleration)
    return way / (1 - 2 * speed / braking.wave_speed)


def safe_speed(trip: float, braking: Braking) -> float:
    """Return the highest speed (mm/s) at which a train that stops at this reading keeps its margin."""
    room = trip - braking.offset
    if room <= 0:
        return 0.0
    delay = braking.delay_s + 2 * trip / braking.wave_speed
    a = braking.deceleration
    return a * (math.sqrt(delay**2 + 2 * room / a) - delay)


def look_ahead(radius: float, half_angle_deg: float) -> float:
    """Return how far (mm) a straight beam still covers the middle of a curve of this radius.

    From a point of a circle, another one lies off the tangent by half the arc between them, so the edge of
    the beam meets the track at the chord ``2R·sin α`` (the angle of chord and tangent, Euclid III.32).
    """
    return 2 * radius * math.sin(math.radians(min(half_angle_deg, 90.0)))


def proposed_trip(built: BuiltTrain, settings: StoppingSettings = DEFAULTS) -> float:
    """Return the trip distance (mm) to write into the program: the user's own, or the least that is safe.

    Rounded up, the greatest over all rangers that watch the way; 0 without one.
    """
    running = built.train.running
    if running.trip_distance:
        return running.trip_distance
    eyes = tuple(eye for eye in eyes_of(built) if eye.guards)
    return max((_rounded(running, _braking(built, eye, len(eyes)), settings) for eye in eyes), default=0.0)


def _braking(built: BuiltTrain, eye: Eye, eyes: int) -> Braking:
    return braking_of(built.train.running, eye.figures, eyes, eye.setback)


def _rounded(running: Running, braking: Braking, settings: StoppingSettings) -> float:
    return math.ceil(trip_distance(running.speed, braking) / settings.round_to - 1e-9) * settings.round_to


def check_stopping(built: BuiltTrain, settings: StoppingSettings = DEFAULTS) -> Outcome:
    """Check that the train stops in time, and propose the trip distance."""
    eyes = tuple(eye for eye in eyes_of(built) if eye.guards)
    if not eyes:
        return Outcome(SUBJECT, ())
    running = built.train.running
    findings: list[Finding] = []
    for eye in eyes:
        braking = _braking(built, eye, len(eyes))
        findings.extend(_of_eye(built, eye, braking, settings))
    worst = max(
        (_braking(built, eye, len(eyes)) for eye in eyes),
        key=lambda one: trip_distance(running.speed, one),
    )
    return Outcome(
        SUBJECT, tuple(findings), (_table(running, worst, settings),), (_plot(running, worst, settings),)
    )


def _of_eye(built: BuiltTrain, eye: Eye, braking: Braking, settings: StoppingSettings) -> list[Finding]:
    running, track = built.train.running, built.train.track
    needed = trip_distance(running.speed, braking)
    proposed = _rounded(running, braking, settings)
    trip = running.trip_distance or proposed
    found = [_trip_finding(running, eye, braking, needed, proposed)]
    reach = eye.figures.reach_mm
    if trip > reach:
        found.append(
            Finding(
                SUBJECT,
                "stop",
                eye.need,
                f"{eye.need} reaches less far than the distance at which the train must brake",
                round(trip, 1),
                reach,
                "mm",
                f"run no faster than {safe_speed(reach, braking):.0f} mm/s, or use a ranger of longer reach",
                "the ranger's own figures",
            )
        )
    ahead = look_ahead(track.radius, eye.figures.half_angle_deg)
    seen = ahead < trip
    found.append(
        Finding(
            SUBJECT,
            "caution" if seen else "note",
            eye.need,
            f"in the curve of {track.radius:.0f} mm radius the beam of {eye.need} leaves the track after "
            f"{ahead:.0f} mm; the train must see {trip:.0f} mm ahead",
            round(trip, 1),
            round(ahead, 1),
            "mm",
            f"run no faster than {safe_speed(ahead, braking):.0f} mm/s in the curve, or keep obstacles to "
            "straight track"
            if seen
            else "nothing to do; check again when the curve gets sharper or the train faster",
            "2R·sin of the beam's half angle: chord of a circle, Euclid III.32",
        )
    )
    return found


def _trip_finding(running: Running, eye: Eye, braking: Braking, needed: float, proposed: float) -> Finding:
    if running.trip_distance and needed > running.trip_distance:
        fastest = safe_speed(running.trip_distance, braking)
        return Finding(
            SUBJECT,
            "stop",
            eye.need,
            f"at {running.speed:.0f} mm/s the train hits what {eye.need} sees: it needs {needed:.0f} mm",
            round(needed, 1),
            running.trip_distance,
            "mm",
            f"set the trip distance to {proposed:.0f} mm, or run no faster than {fastest:.0f} mm/s",
            FORMULA,
        )
    if running.trip_distance:
        message = f"stopping at a reading of {running.trip_distance:.0f} mm keeps the margin of " + (
            f"{running.margin:.0f} mm up to {safe_speed(running.trip_distance, braking):.0f} mm/s"
        )
        limit, remedy = running.trip_distance, "nothing to do; measure the deceleration once the train runs"
    else:
        message = f"set the trip distance of {eye.need} to {proposed:.0f} mm at {running.speed:.0f} mm/s"
        limit, remedy = proposed, f"write a trip distance of {proposed:.0f} mm into the program"
    return Finding(SUBJECT, "note", eye.need, message, round(needed, 1), limit, "mm", remedy, FORMULA)


def _table(running: Running, braking: Braking, settings: StoppingSettings) -> Table:
    trips = sorted({*settings.trips, *((running.trip_distance,) if running.trip_distance else ())})
    speeds = sorted({*settings.speeds, running.speed})
    rows: list[tuple[str | float, ...]] = []
    for speed in speeds:
        row: list[str | float] = [speed]
        for trip in trips:
            spare = trip - trip_distance(speed, braking)
            row.append(f"safe, {spare:.0f} to spare" if spare >= 0 else f"unsafe, {-spare:.0f} short")
        rows.append(tuple(row))
    fastest: list[str | float] = ["fastest safe", *(round(safe_speed(trip, braking)) for trip in trips)]
    return Table(
        "Speed and trip distance",
        ("speed (mm/s)", *(f"stop at {trip:.0f} mm" for trip in trips)),
        (*rows, tuple(fastest)),
        f"margin {running.margin:.0f} mm, braking at {running.deceleration:.0f} mm/s², "
        f"{braking.delay_s:.2f} s from reading to brake, {running.temperature_c:.0f} °C",
    )


def _plot(running: Running, braking: Braking, settings: StoppingSettings) -> Plot:
    top = max(*settings.speeds, running.speed)
    speeds = tuple(top * i / 40 for i in range(41))
    whole = tuple(trip_distance(speed, braking) for speed in speeds)
    before = tuple(speed * braking.delay_s for speed in speeds)
    limits = [("speed of this train needs", round(trip_distance(running.speed, braking), 1))]
    if running.trip_distance:
        limits.append(("trip distance set", running.trip_distance))
    return Plot(
        "Reading at which the train must stop",
        "speed (mm/s)",
        "distance (mm)",
        (
            Curve("trip distance needed", speeds, whole),
            Curve("of which run before braking", speeds, before),
        ),
        tuple(limits),
    )
