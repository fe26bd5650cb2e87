"""How far the train runs on after something stands in its way, and at which reading it must stop.

What decides it stands in `braking`: the way to standstill is ``v·t + v²/(2a)``, with the time ``t`` of all
that comes before braking and the deceleration down the steepest gradient that the wheels hold.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from fitplan.checks.balance import GRAVITY
from fitplan.checks.braking import (
    Braking,
    Grip,
    advised_speed,
    braking_of,
    frame_wait_s,
    grip_of,
    pushed_play,
    stopping_distance,
    trip_distance,
)
from fitplan.checks.curve_help import beam_that_helps, second_that_helps, turn_that_helps
from fitplan.checks.curve_view import RangerView, watch_of, worst_stretch
from fitplan.checks.ends import PlacedRanger, eyes_of
from fitplan.model.built import BuiltTrain
from fitplan.model.buying import Asked
from fitplan.model.found import Curve, Finding, Outcome, Plot, Table
from fitplan.model.operation import Running

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
_CRAWL = 0.2
"""Advice to run at less than so much of the speed is none (a setting of this check)."""


def proposed_trip(built: BuiltTrain, settings: StoppingSettings = DEFAULTS) -> float:
    """Return the trip distance (mm) to write into the program: the user's own, or the least that is safe.

    Rounded up, the greatest over all rangers that watch the way; 0 without one, or where none is safe.
    """
    running = built.train.running
    if running.trip_distance:
        return running.trip_distance
    eyes = tuple(eye for eye in eyes_of(built) if eye.guards)
    found = max((_rounded(running, braking_of(built, eye), settings) for eye in eyes), default=0.0)
    return found if math.isfinite(found) else 0.0


def _rounded(running: Running, braking: Braking, settings: StoppingSettings) -> float:
    needed = trip_distance(running.speed, braking)
    if math.isinf(needed):
        return needed
    return math.ceil(needed / settings.round_to - 1e-9) * settings.round_to


def check_stopping(built: BuiltTrain, settings: StoppingSettings = DEFAULTS) -> Outcome:
    """Check that the train stops in time, and propose the trip distance."""
    eyes = tuple(eye for eye in eyes_of(built) if eye.guards)
    if not eyes:
        return Outcome(SUBJECT, ())
    running, grip = built.train.running, grip_of(built)
    findings = list(_brakes(built, grip))
    if grip.downhill <= 0:
        return Outcome(SUBJECT, tuple(findings))
    braked = [(eye, braking_of(built, eye)) for eye in eyes]
    read = [(eye, braking) for eye, braking in braked if math.isfinite(braking.interval_s)]
    for eye, braking in braked:
        findings.extend(_of_eye(built, eye, braking, settings) if (eye, braking) in read else [_unread(eye)])
    if not read:
        return Outcome(SUBJECT, tuple(findings))
    worst = max((braking for _, braking in read), key=lambda one: trip_distance(running.speed, one))
    tables = (_table(running, worst, settings), _made_of(built, read, grip))
    return Outcome(SUBJECT, tuple(findings), tables, (_plot(running, worst, settings),))


def _brakes(built: BuiltTrain, grip: Grip) -> Iterator[Finding]:
    """Judge the brake itself: whether the wheels hold it, and whether it holds the train downhill."""
    track = built.train.track
    source = f"adhesion {track.adhesion:g} of the weight on driven wheels: steel on dry steel, Koffman 1948"
    if grip.downhill <= 0:
        flat = 100 * grip.brake / math.sqrt(max(GRAVITY**2 - grip.brake**2, 1e-9))
        yield Finding(
            SUBJECT,
            "stop",
            built.train.name,
            f"down {track.gradient_percent:g} % the train does not come to rest: the brake takes "
            f"{grip.brake:.0f} mm/s² and the fall gives {grip.fall:.0f} mm/s²",
            round(grip.brake, 1),
            round(grip.fall, 1),
            "mm/s²",
            f"flatten the track to less than {flat:.1f} %"
            + (", or bring more weight onto driven wheels" if grip.slides else ", or brake harder"),
            f"g·sin θ; {source}",
        )
    if grip.slides:
        # μ·g·cos θ·(driven + B)/(total + B) = asked
        full = grip.held * grip.total_g / grip.driven_g if grip.driven_g else math.inf
        ballast = (grip.asked * grip.total_g - grip.held * grip.total_g) / max(full - grip.asked, 1e-9)
        yield Finding(
            SUBJECT,
            "caution",
            built.train.name,
            f"{grip.driven_g:.0f} of {grip.total_g:.0f} g stand on driven wheels: they slide at "
            f"{grip.held:.0f} mm/s², before the train brakes with {grip.asked:.0f} mm/s²",
            round(grip.held, 1),
            grip.asked,
            "mm/s²",
            f"put {ballast:.0f} g of ballast above driven wheels, or measure how the train stops"
            if full > grip.asked
            else "measure how the train stops: no weight makes the wheels hold so much",
            source,
            add=(Asked("ballast", float(round(ballast)), "g"),) if full > grip.asked else (),
        )


def _unread(eye: PlacedRanger) -> Finding:
    return Finding(
        SUBJECT,
        "stop",
        eye.need,
        f"{eye.need} watches the way and is never read: it is not in the reading order",
        0.0,
        1.0,
        "readings",
        f"name {eye.need} in `reading order`",
        "the reading order of the train file",
    )


def _made_of(built: BuiltTrain, read: list[tuple[PlacedRanger, Braking]], grip: Grip) -> Table:
    """Return what the way to standstill is made of, for every ranger that watches the way (mm)."""
    running = built.train.running
    rows: list[tuple[str | float, ...]] = []
    frames = frame_wait_s(built)
    for eye, braking in read:
        brake = [
            round(stopping_distance(running.speed, 0.0, one), 1)
            for one in (grip.uphill, grip.brake, grip.downhill)
        ]
        rows.append(
            (
                eye.need,
                round(running.speed * braking.interval_s, 1),
                round(running.speed * running.command_delay_s, 1),
                round(running.speed * frames, 1),
                *brake,
                round(pushed_play(built, eye.ahead, grip), 1),
                round(max(eye.setback, 0.0), 1),
                running.margin,
            )
        )
    return Table(
        "What the way to standstill is made of, in mm",
        (
            "ranger",
            "until read",
            "command",
            "lost frames",
            "braking uphill",
            "on the level",
            "downhill",
            "play of couplings",
            "lens behind the end",
            "margin",
        ),
        tuple(rows),
        f"braking on {built.train.track.gradient_percent:g} %; the trip distance is reckoned downhill",
    )


def _of_eye(
    built: BuiltTrain, eye: PlacedRanger, braking: Braking, settings: StoppingSettings
) -> list[Finding]:
    running, track = built.train.running, built.train.track
    needed = trip_distance(running.speed, braking)
    proposed = _rounded(running, braking, settings)
    trip = running.trip_distance or proposed
    found = [_trip_finding(running, eye, braking, needed, proposed)]
    reach = eye.figures.reach_mm
    fastest = advised_speed(reach, braking)
    if trip > reach:
        found.append(
            Finding(
                SUBJECT,
                "stop",
                eye.need,
                f"{eye.need} reaches less far than the distance at which the train must brake"
                if needed > reach
                else f"the program is to stop at {trip:.0f} mm, and {eye.need} reaches {reach:.0f} mm",
                round(trip, 1),
                reach,
                "mm",
                f"set the trip distance to {min(proposed, reach):.0f} mm"
                if needed <= reach
                else f"{_slower(fastest)}use a ranger of longer reach",
                "the ranger's own figures",
            )
        )
    if track.radius > 0:
        found.append(_in_curve(built, eye, braking, trip_distance(running.curve_speed, braking)))
    return found


def _slower(fastest: int) -> str:
    """Return the speed that helps, for the beginning of a remedy; nothing where none does."""
    return f"run no faster than {fastest} mm/s, or " if fastest >= 1 else ""


def _in_curve(built: BuiltTrain, eye: PlacedRanger, braking: Braking, needed: float) -> Finding:
    """Judge how far along a bent track an obstacle as wide as the train is met."""
    running, radius = built.train.running, built.train.track.radius
    watch = watch_of(built, eye)
    seen = worst_stretch(watch, radius, min(needed, 1.05 * watch.reach) + 40.0)
    short = seen.farthest < needed
    # What is short by less than a millimetre is told to a tenth: else it would read as enough.
    digits = 1 if short and round(seen.farthest) >= round(needed) else 0
    message = f"{seen.where} of {radius:.0f} mm radius {eye.need} meets "
    if seen.farthest > 0:
        message += (
            f"what is as wide as the train ({watch.obstacle:.0f} mm) from {seen.nearest:.0f} mm to "
            f"{'' if short else 'at least '}{min(seen.farthest, needed):.{digits}f} mm along the track from "
            "the lens"
        )
    else:
        message += "nothing that stands on the track"
    message += f"; at {running.curve_speed:.0f} mm/s the train must see {needed:.{digits}f} mm ahead"
    remedy = "nothing to do; check again when the curve gets sharper or the train faster"
    if short:
        fastest = advised_speed(seen.farthest, braking)
        remedy = (
            f"run no faster than {fastest} mm/s about curves: 'speed in curves' of 'running'"
            if fastest >= _CRAWL * running.speed
            else "keep obstacles to straight track"
        ) + _other_help(eye, watch, radius, needed)
    return Finding(
        SUBJECT,
        "stop" if short else "note",
        eye.need,
        message,
        round(needed, 1),
        round(seen.farthest, 1),
        "mm",
        remedy,
        "beam from the lens along the body's axis, wheels on the middle line; curve entered and left",
    )


def _other_help(eye: PlacedRanger, watch: RangerView, radius: float, needed: float) -> str:
    """Return what helps beside running slower, for the end of a remedy; nothing where none of it does."""
    if needed > watch.reach:
        return ", and use a ranger of longer reach"
    if turn := turn_that_helps(watch, radius, needed):
        return (
            f", or turn {eye.need} inwards by {turn}° where all curves bend one way, else put a second one "
            "over or beside it, turned the other way"
        )
    said = ""
    if second := second_that_helps(watch, radius, needed):
        said = f", or put a second one over or beside it, turned inwards by {second}° (one each way)"
    if beam := beam_that_helps(watch, radius, needed):
        said += f", or use a ranger whose beam is {beam}° wide to each side"
    return said


def _trip_finding(
    running: Running, eye: PlacedRanger, braking: Braking, needed: float, proposed: float
) -> Finding:
    if running.trip_distance and needed > running.trip_distance:
        fastest = advised_speed(running.trip_distance, braking)
        return Finding(
            SUBJECT,
            "stop",
            eye.need,
            f"at {running.speed:.0f} mm/s the train hits what {eye.need} sees: it needs {needed:.0f} mm",
            round(needed, 1),
            running.trip_distance,
            "mm",
            f"set the trip distance to {proposed:.0f} mm"
            + (f", or run no faster than {fastest} mm/s" if fastest >= 1 else ""),
            FORMULA,
        )
    if running.trip_distance:
        message = f"stopping at a reading of {running.trip_distance:.0f} mm keeps the margin of " + (
            f"{running.margin:.0f} mm up to {advised_speed(running.trip_distance, braking)} mm/s"
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
    fastest: list[str | float] = ["fastest safe", *(advised_speed(trip, braking) for trip in trips)]
    return Table(
        "Speed and trip distance",
        ("speed (mm/s)", *(f"stop at {trip:.0f} mm" for trip in trips)),
        (*rows, tuple(fastest)),
        f"margin {running.margin:.0f} mm, braking downhill at {braking.deceleration:.0f} mm/s², "
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
