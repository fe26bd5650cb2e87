"""Balance: mass and centre of gravity before and after, axle loads, tipping, and starting on a gradient."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fitplan.checks.on_curve import pivots
from fitplan.model.built import BuiltTrain
from fitplan.model.buying import Asked
from fitplan.model.facts import mass_of
from fitplan.model.found import Finding, Outcome, Severity, Table
from fitplan.model.solids import Vec
from fitplan.model.train import TrainVehicle
from fitplan.model.vehicle import Vehicle

SUBJECT = "balance"
GRAVITY = 9806.65
"""Standard gravity in mm/s² (by definition)."""
TIPPING = "√(g·R·b/(2h)), textbook"


@dataclass(frozen=True)
class BalanceSettings:
    """What is asked of the balance.

    Attributes
    ----------
    best_adhesion
        What rubber bands on plastic wheels may reach; no published value was found, measure.
    rolling
        Rolling resistance over weight of small plastic wheels (from memory, measure).
    tipping_reserve
        The tipping speed must be so many times the running speed.
    aside_share
        How far the centre of gravity may lie off the middle, as a share of half the gauge.
    least_support
        Share of the weight that each bogie or axle should carry at least, so that it stays on the rail.
    """

    best_adhesion: float = 0.5
    rolling: float = 0.03
    tipping_reserve: float = 1.5
    aside_share: float = 0.25
    least_support: float = 0.25


DEFAULTS = BalanceSettings()
SETTING = "a setting of this check, common practice"


@dataclass(frozen=True)
class Weight:
    """Mass in g and centre of gravity in the vehicle's frame in mm."""

    mass: float
    center: Vec

    def plus(self, mass: float, at: Vec) -> Weight:
        """Return the weight with a mass added."""
        total = self.mass + mass
        if total <= 0:
            return self
        x, y, z = (
            (self.mass * own + mass * other) / total for own, other in zip(self.center, at, strict=True)
        )
        return Weight(total, (x, y, z))


def weight_before(vehicle: Vehicle) -> Weight:
    """Return a vehicle's weight as its file gives it."""
    return Weight(vehicle.mass_g, vehicle.mass_center)


def weight_after(built: BuiltTrain, vehicle: str) -> Weight:
    """Return a vehicle's weight with all parts in it, each at the middle of its envelope."""
    weight = weight_before(built.train.vehicle(vehicle).vehicle)
    for placement in built.placements:
        if placement.vehicle == vehicle:
            middle = placement.place.move(placement.part.bounds.center)
            weight = weight.plus(mass_of(placement.part), middle)
    return weight


def support_loads(positions: tuple[float, ...], mass: float, x: float) -> tuple[float, ...]:
    """Return the mass (g) that each axle or bogie carries.

    Two supports by the lever; more as on equal springs under a stiff frame: the loads vary evenly along it
    (least squares), which is what statics alone leaves open.  Wheels cannot pull: where a load would be
    negative that axle is off the rail and the others carry all.
    """
    if not positions:
        return ()
    count = len(positions)
    middle = sum(positions) / count
    spread = sum((at - middle) ** 2 for at in positions)
    if spread == 0:
        return tuple(mass / count for _ in positions)
    loads = [mass / count + mass * (x - middle) * (at - middle) / spread for at in positions]
    lifted = min(range(count), key=lambda number: loads[number])
    if loads[lifted] >= 0 or count <= 2:
        return tuple(loads)
    others = support_loads((*positions[:lifted], *positions[lifted + 1 :]), mass, x)
    return (*others[:lifted], 0.0, *others[lifted:])


def tipping_speed(radius: float, gauge: float, height: float, aside: float = 0.0) -> float:
    """Return the speed (mm/s) at which a vehicle tips over in a flat curve: √(g·R·b/(2h)).

    ``aside`` is how far (mm) the centre of gravity lies off the middle, towards the outside of the curve.
    """
    lever = gauge / 2 - aside
    if lever <= 0:
        return 0.0
    return math.sqrt(GRAVITY * radius * lever / height) if height > 0 else math.inf


def check_balance(built: BuiltTrain, settings: BalanceSettings = DEFAULTS) -> Outcome:
    """Check the weights of all vehicles, and whether the train starts."""
    findings: list[Finding] = []
    rows: list[tuple[str | float, ...]] = []
    for entry in built.train.vehicles:
        before, after = weight_before(entry.vehicle), weight_after(built, entry.name)
        if after.mass <= 0:
            continue
        findings.extend(_tipping(built, entry, after, settings))
        findings.extend(_aside(built, entry, after, settings))
        findings.extend(_supports(entry, after, settings))
        for name, weight in (("before", before), ("after", after)):
            rows.append(_row(built, entry, name, weight))
    findings.extend(_starting(built, settings))
    table = Table(
        "Mass and centre of gravity",
        (
            "vehicle",
            "when",
            "mass (g)",
            "from the middle (mm)",
            "aside (mm)",
            "height (mm)",
            "per axle or bogie (g)",
            "tips at (mm/s)",
        ),
        tuple(rows),
        "from the middle: towards the front between the outermost pivots; aside: to the left",
    )
    return Outcome(SUBJECT, tuple(findings), (table,) if rows else ())


def _row(built: BuiltTrain, entry: TrainVehicle, name: str, weight: Weight) -> tuple[str | float, ...]:
    low, high = pivots(entry.vehicle)
    track = built.train.track
    x, y, z = weight.center
    loads = support_loads(entry.vehicle.wheels.at, weight.mass, x)
    aside = y - entry.vehicle.width / 2
    speed: str | float = "straight track"
    if track.radius > 0:
        speed = round(tipping_speed(track.radius, track.gauge, z, abs(aside)))
    return (
        entry.name,
        name,
        round(weight.mass, 1),
        round(x - (low + high) / 2, 1),
        round(aside, 1),
        round(z, 1),
        ", ".join(f"{load:.0f}" for load in loads),
        speed,
    )


def _tipping(
    built: BuiltTrain, entry: TrainVehicle, weight: Weight, settings: BalanceSettings
) -> Iterator[Finding]:
    track, running = built.train.track, built.train.running
    if track.radius <= 0:
        return
    aside = abs(weight.center[1] - entry.vehicle.width / 2)
    tips = tipping_speed(track.radius, track.gauge, weight.center[2], aside)
    wanted = settings.tipping_reserve * running.speed
    severity = "stop" if tips < running.speed else "caution" if tips < wanted else "note"
    slower = tips / settings.tipping_reserve
    # v² = g·R·(b/2 − aside)/h: the height at which the wanted speed is the tipping speed.
    height = GRAVITY * track.radius * max(track.gauge / 2 - aside, 0.0) / wanted**2 if wanted else math.inf
    yield Finding(
        SUBJECT,
        severity,  # type: ignore[arg-type]
        entry.name,
        f"{entry.name} tips over at {tips:.0f} mm/s in the curve of {track.radius:.0f} mm radius",
        round(tips, 1),
        round(wanted, 1),
        "mm/s",
        "nothing to do"
        if severity == "note"
        else f"run no faster than {math.floor(slower)} mm/s in the curve, or bring the centre of gravity "
        f"down to {math.floor(height)} mm",
        f"{TIPPING}; {settings.tipping_reserve:g} times the running speed: {SETTING}",
    )


def _aside(
    built: BuiltTrain, entry: TrainVehicle, weight: Weight, settings: BalanceSettings
) -> Iterator[Finding]:
    off = weight.center[1] - entry.vehicle.width / 2
    limit = settings.aside_share * built.train.track.gauge / 2
    heavy = abs(off) > limit
    side = "left" if off > 0 else "right"
    other = "right" if off > 0 else "left"
    lever = entry.vehicle.width / 2 - 4.0
    ballast = weight.mass * abs(off) / max(lever, 1.0)
    yield Finding(
        SUBJECT,
        "caution" if heavy else "note",
        entry.name,
        f"the centre of gravity of {entry.name} lies {abs(off):.1f} mm to the {side} of the middle",
        round(abs(off), 2),
        round(limit, 2),
        "mm",
        f"put {ballast:.0f} g of ballast at the {other} wall, or move heavy parts to the middle"
        if heavy
        else "nothing to do",
        f"{settings.aside_share:g} of half the gauge: {SETTING}",
        add=(Asked("ballast", float(round(ballast)), "g"),) if heavy else (),
    )


def _supports(entry: TrainVehicle, weight: Weight, settings: BalanceSettings) -> Iterator[Finding]:
    at = entry.vehicle.wheels.at
    if len(at) < 2:
        return
    loads = support_loads(at, weight.mass, weight.center[0])
    least = int(np.argmin(loads))
    share = loads[least] / weight.mass
    wanted = settings.least_support * 2 / len(at)
    light = share < wanted
    where = "bogie" if entry.vehicle.wheels.kind == "bogies" else "axle"
    yield Finding(
        SUBJECT,
        "caution" if light else "note",
        entry.name,
        f"the {where} at {at[least]:.0f} mm carries {100 * share:.0f} % of {entry.name}",
        round(100 * share, 1),
        round(100 * wanted, 1),
        "%",
        f"put {_ballast_at(loads[least], weight.mass, wanted):.0f} g of ballast above it, or move heavy "
        "parts towards it"
        if light
        else "nothing to do",
        SETTING,
        add=(Asked("ballast", float(round(_ballast_at(loads[least], weight.mass, wanted))), "g"),)
        if light
        else (),
    )


def _ballast_at(load: float, mass: float, wanted: float) -> float:
    """Return the mass above a support that lifts its share to what is wanted: (m + B)·s = load + B."""
    return max(0.0, (wanted * mass - load) / (1 - wanted)) if wanted < 1 else 0.0


def _starting(built: BuiltTrain, settings: BalanceSettings) -> Iterator[Finding]:
    """Judge whether the driven wheels grip enough to pull the whole train up the gradient."""
    driven = total = 0.0
    motor_vehicle = ""
    for entry in built.train.vehicles:
        weight = weight_after(built, entry.name)
        wheels = entry.vehicle.wheels
        loads = support_loads(wheels.at, weight.mass, weight.center[0])
        total += weight.mass
        own = sum(load for load, drives in zip(loads, wheels.driven, strict=False) if drives)
        driven += own
        if own > 0 and not motor_vehicle:
            motor_vehicle = entry.name
    if total <= 0 or not motor_vehicle:
        return
    slope = built.train.track.gradient_percent / 100
    adhesion = built.train.track.adhesion
    needed = (slope + settings.rolling) * total
    grip = adhesion * driven
    slips = grip < needed
    severity: Severity = "note"
    if slips:
        severity = "stop" if settings.best_adhesion * driven < needed else "caution"
    ballast = (needed - grip) / max(adhesion - slope - settings.rolling, 1e-9)
    yield Finding(
        SUBJECT,
        severity,
        motor_vehicle,
        f"{100 * driven / total:.0f} % of the train's {total:.0f} g stand on driven wheels: they grip with "
        f"{grip:.0f} g and the train pulls with {needed:.0f} g on {100 * slope:.1f} %",
        round(grip, 1),
        round(needed, 1),
        "g",
        (
            f"put {ballast:.0f} g of ballast above the driven wheels of {motor_vehicle}, or drive more axles"
            if adhesion > slope + settings.rolling
            else "no ballast helps on such a gradient: flatten it"
        )
        if slips
        else "nothing to do; measure the grip of your wheels",
        f"adhesion {adhesion:g}: steel on dry steel, Koffman 1948; a stop only where "
        f"{settings.best_adhesion:g} is too little too; rolling resistance from memory",
        add=(Asked("ballast", float(round(ballast)), "g"),)
        if slips and adhesion > slope + settings.rolling
        else (),
    )
