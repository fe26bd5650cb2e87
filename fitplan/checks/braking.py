"""What decides how far a train runs on: readings in turn, the command's way, grip, gradient, play.

The train brakes evenly. On a gradient gravity takes ``g·sin θ`` from the brake or adds to it; the driven
wheels hold no more than adhesion lets them; and vehicles that are pushed run on until the play of their
couplings is used up.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fitplan.checks.balance import GRAVITY, support_loads, weight_after
from fitplan.checks.ends import LEAST_REACH, PlacedRanger, chosen_parts, eyes_of
from fitplan.checks.sound import sound_speed
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import Emitter
from fitplan.model.measured import StoppingFit, stopping_fit
from fitplan.model.operation import Running
from fitplan.model.train import Train, TrainVehicle


@dataclass(frozen=True)
class Grip:
    """How a train brakes, in g and mm/s².

    Attributes
    ----------
    total_g, driven_g
        The whole train's mass, and what of it stands on driven wheels; both 0 where nothing is driven.
    held
        The deceleration on the level that adhesion allows; infinite where nothing is driven.
    asked
        The deceleration on the level of the train file.
    fall
        What gravity gives on the steepest gradient, g·sin θ.
    """

    total_g: float
    driven_g: float
    held: float
    asked: float
    fall: float

    @property
    def brake(self) -> float:
        """Deceleration on the level: what is asked, as far as the wheels hold."""
        return min(self.asked, self.held)

    @property
    def slides(self) -> bool:
        """Whether the wheels slide before they brake as asked."""
        return self.held < self.asked

    @property
    def downhill(self) -> float:
        """Deceleration down the steepest gradient; 0 or less where the train does not come to rest."""
        return self.brake - self.fall

    @property
    def uphill(self) -> float:
        """Deceleration up the steepest gradient."""
        return self.brake + self.fall


@dataclass(frozen=True)
class Braking:
    """All that decides the stopping distance but the speed (mm, s, mm/s²).

    Attributes
    ----------
    interval_s
        From a reading that is still too far to the one that stops the train, start to start.
    after_s
        From the echo to the brake.
    deceleration
        Down the steepest gradient; 0 or less: no standstill.
    wave_speed
        That of sound; infinite for light.
    offset
        The margin plus the lens's setback, plus the play of the couplings that are pushed, plus what measured
        stops go beyond their mean with the chosen chance.
    """

    interval_s: float
    after_s: float
    deceleration: float
    wave_speed: float
    offset: float

    @property
    def delay_s(self) -> float:
        """All the time before the brake but the sound's."""
        return self.interval_s + self.after_s


def slope_sine(gradient_percent: float) -> float:
    """Return sin θ of a gradient given as rise over run in per cent."""
    rise = gradient_percent / 100
    return rise / math.sqrt(1 + rise * rise)


def grip_of(built: BuiltTrain) -> Grip:
    """Return how the train brakes with what is built in so far.

    The weight on driven wheels times the adhesion is the most they hold (Koffman, 1948, for steel on steel).
    """
    track, running = built.train.track, built.train.running
    total = driven = 0.0
    for entry in built.train.vehicles:
        total += weight_after(built, entry.name).mass
        driven += driven_mass(built, entry)
    sine = slope_sine(track.gradient_percent)
    held = math.inf
    if driven > 0:
        held = track.adhesion * GRAVITY * math.sqrt(1 - sine * sine) * driven / total
    else:
        total = 0.0
    return Grip(total, driven, held, running.deceleration, GRAVITY * sine)


def driven_mass(built: BuiltTrain, entry: TrainVehicle) -> float:
    """Return the mass (g) that stands on a vehicle's driven wheels."""
    weight, wheels = weight_after(built, entry.name), entry.vehicle.wheels
    loads = support_loads(wheels.at, weight.mass, weight.center[0])
    return sum(load for load, drives in zip(loads, wheels.driven, strict=False) if drives)


def frame_wait_s(built: BuiltTrain) -> float:
    """Return the time (s) lost with the infrared frames that do not arrive; 0 where none are sent."""
    running = built.train.running
    sends = any(part.figure(Emitter) is not None for part in chosen_parts(built).values())
    return running.lost_frames * running.frame_interval_s if sends else 0.0


def pushed_play(built: BuiltTrain, ahead: bool | None, grip: Grip) -> float:
    """Return how far (mm) the leading end runs on as the couplings between it and the driven wheels close.

    The work of the brakes is at most the train's energy: impacts only take from it. Vehicle i runs on by at
    most kᵢ·p against the nearest driven one, with kᵢ couplings of play p between them. So the leading end
    stops within v²/(2a) and k·p, and what gravity gains, or another driven vehicle does not brake, by
    those kᵢ·p: ``p·(g·sin θ·Σ kᵢmᵢ/M + b·Σ kⱼFⱼ/F)/a`` with the level deceleration b.
    """
    vehicles = built.train.vehicles if ahead else built.train.vehicles[::-1]
    driven = [number for number, entry in enumerate(vehicles) if any(entry.vehicle.wheels.driven)]
    if not driven or ahead is None or grip.downhill <= 0:
        return 0.0
    apart = [abs(number - driven[0]) for number in range(len(vehicles))]
    falls = sum(
        count * weight_after(built, entry.name).mass for count, entry in zip(apart, vehicles, strict=True)
    )
    unbraked = sum(count * driven_mass(built, entry) for count, entry in zip(apart, vehicles, strict=True))
    late = (grip.fall * falls / grip.total_g + grip.brake * unbraked / grip.driven_g) / grip.downhill
    return built.train.running.coupling_play * (driven[0] + late)


def reading_order(running: Running, eye: str, rangers: Sequence[str]) -> tuple[str, ...]:
    """Return which rangers are read one after the other, again and again, for this one to be read."""
    if running.reading_order:
        return running.reading_order
    return (eye,) if running.reads == "front" else tuple(rangers)


def reading_interval(running: Running, eye: str, cycles_ms: Mapping[str, float]) -> float:
    """Return the longest time (s) from a reading of one ranger to that by which the program stops.

    A median of n readings follows when (n + 1)/2 of them are near enough; without one it is the next.

    A ranger is not read faster than its own cycle; rangers that are read in turn wait for each other, one a
    reading interval, or, where all are read, all of them in each interval.

    Parameters
    ----------
    cycles_ms
        The cycle of every ranger that the program may read, in its order.
    """
    needed = (running.median + 1) // 2
    if running.reads == "all" and not running.reading_order:
        return needed * max(running.reading_interval_s, sum(cycles_ms.values()) / 1000)
    order = reading_order(running, eye, tuple(cycles_ms))
    takes = [max(running.reading_interval_s, cycles_ms.get(name, 0.0) / 1000) for name in order]
    at = [number for number, name in enumerate(order) if name == eye]
    if not at:
        return math.inf
    rounds, more = divmod(needed, len(at))
    return max(
        rounds * sum(takes)
        + sum(takes[step % len(order)] for step in range(first, _later(at, number + more, len(order))))
        for number, first in enumerate(at)
    )


def _later(at: Sequence[int], number: int, turn: int) -> int:
    """Return the step of a reading that may lie in the next turn of the order."""
    rounds, rest = divmod(number, len(at))
    return at[rest] + rounds * turn


def fit_of(train: Train) -> StoppingFit | None:
    """Return the stopping that was fitted to measured stops; None where none were measured."""
    fit = stopping_fit(train.measured.stops)
    return fit if isinstance(fit, StoppingFit) else None


def beyond_mean(train: Train, chance: float | None = None) -> float:
    """Return how far (mm) beyond the fitted mean a stop goes with a chance, or with the chosen one."""
    fit = fit_of(train)
    if fit is None:
        return 0.0
    speed = train.running.speed
    return max(fit.bound(speed, chance or train.measured.chance) - fit.mean(speed), 0.0)


def braking_of(built: BuiltTrain, eye: PlacedRanger) -> Braking:
    """Return what decides the stopping distance for one ranger, down the steepest gradient."""
    running = built.train.running
    read = {
        one.need: one.figures.cycle_ms
        for one in eyes_of(built)
        if one.guards or one.figures.reach_mm >= LEAST_REACH
    }
    interval = reading_interval(running, eye.need, read)
    grip = grip_of(built)
    wave = sound_speed(running.temperature_c) if eye.figures.method == "sound" else math.inf
    return Braking(
        interval,
        running.command_delay_s + frame_wait_s(built),
        grip.downhill,
        wave,
        running.margin
        + max(eye.setback, 0.0)
        + pushed_play(built, eye.ahead, grip)
        + beyond_mean(built.train),
    )


def stopping_distance(speed: float, delay_s: float, deceleration: float) -> float:
    """Return the way (mm) from a speed (mm/s) to standstill: ``v·t + v²/(2a)``; infinite without a brake."""
    if deceleration <= 0:
        return math.inf if speed > 0 else 0.0
    return speed * delay_s + speed**2 / (2 * deceleration)


def trip_distance(speed: float, braking: Braking) -> float:
    """Return the least reading (mm) at which the program must stop the train.

    A pulse sent at distance d meets the train again after 2d/(c + v) and reads ``d·c/(c + v)``. The worst
    phase: a reading a hair above D, started at D·(c + v)/c; the one that stops starts an interval T later.
    So ``D = (offset + v·t + v²/(2a) + v·T·(c − v)/(c + v)) · c/(c − v)``.
    """
    way = braking.offset + stopping_distance(speed, braking.after_s, braking.deceleration)
    waited = speed * braking.interval_s
    c = braking.wave_speed
    if math.isinf(c):
        return way + waited
    if speed >= c:
        return math.inf
    return (way + waited * (c - speed) / (c + speed)) * c / (c - speed)


def safe_speed(trip: float, braking: Braking) -> float:
    """Return the highest speed (mm/s) at which a train that stops at this reading keeps its margin.

    By bisection to a thousandth of a mm/s: the trip distance grows with the speed.
    """
    if trip <= trip_distance(0.0, braking):
        return 0.0
    low, high = 0.0, 1.0
    while trip_distance(high, braking) <= trip and high < 1e6:
        low, high = high, 2 * high
    while high - low > 1e-9 * high:
        middle = (low + high) / 2
        low, high = (middle, high) if trip_distance(middle, braking) <= trip else (low, middle)
        if high - low < 1e-6:
            break
    return low


def advised_speed(trip: float, braking: Braking) -> int:
    """Return the highest whole speed (mm/s) that may be told: a train that runs at it keeps its margin."""
    return math.floor(safe_speed(trip, braking))
