"""Heat: what regulators and drivers lose, how hot their junctions get, and how warm a closed body gets."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from fitplan.checks.ends import chosen_parts, circuit_of
from fitplan.checks.supply_limits import links_of
from fitplan.circuit.chain import Flow, flow_through
from fitplan.circuit.net_ends import ends_of
from fitplan.circuit.supply_tree import SupplyTree, full_volts, nominal_volts
from fitplan.model.built import BuiltTrain
from fitplan.model.electrical import MotorDriver
from fitplan.model.found import Finding, Outcome, Severity, Table
from fitplan.model.part import Part
from fitplan.model.solids import Box
from fitplan.pins.train_circuit import TrainCircuit

SUBJECT = "heat"
LOSS = "(Vin − Vout)·I + Vin·Ig and θJA, a maker's regulator data sheet"


@dataclass(frozen=True)
class HeatSettings:
    """Limits and what a closed body gives off.

    Attributes
    ----------
    junction_c
        Highest junction temperature: 125 °C (a maker's regulator data sheet).
    junction_reserve
        Above this share of the way from the air to the limit a caution is given.
    plastic_c
        Air hotter than this softens bricks: ABS creeps under load well below the 90 °C or so at which it
        softens (from memory); the limit is a setting.
    touch_c
        Parts with a junction hotter than this must not touch bricks (a setting, see above).
    cells_c
        Air round cells should stay below (common for li-ion data sheets when discharging: 60 °C; here less).
    film_w_m2k
        Heat that air and radiation carry off a wall, inside and outside each, W/(m²·K) (textbook, still air).
    wall_mm, wall_w_mk
        Thickness of brick walls (common practice) and conductivity of ABS (handbooks: 0.17 to 0.2).
    case_theta
        Junction to ambient of a small regulator on a board when no figure is given, °C/W: SOT-223 without a
        heat sink, 136 (data sheet).
    """

    junction_c: float = 125.0
    junction_reserve: float = 0.8
    plastic_c: float = 60.0
    touch_c: float = 90.0
    cells_c: float = 45.0
    film_w_m2k: float = 8.0
    wall_mm: float = 1.5
    wall_w_mk: float = 0.18
    case_theta: float = 136.0


DEFAULTS = HeatSettings()


@dataclass(frozen=True)
class Loss:
    """Heat that one part gives off: average power in W, and junction to ambient in °C/W (0: spread out)."""

    owner: str
    what: str
    power_w: float
    theta: float


def linear_loss(in_v: float, out_v: float, out_ma: float, quiescent_ma: float) -> float:
    """Return the heat of a linear regulator in W: (Vin − Vout)·I + Vin·Ig."""
    return ((in_v - out_v) * out_ma + in_v * quiescent_ma) / 1000


def body_rise(power_w: float, area_mm2: float, settings: HeatSettings = DEFAULTS) -> float:
    """Return by how many K the air in a closed body is warmer than outside.

    Heat passes a film of air, the wall, and a film of air again: ΔT = P·(1/h + d/k + 1/h)/A.
    """
    resistance = 2 / settings.film_w_m2k + settings.wall_mm / 1000 / settings.wall_w_mk
    return power_w * resistance / (area_mm2 / 1e6) if area_mm2 > 0 else math.inf


def hull_area(box: Box) -> float:
    """Return the surface through which a body gives off heat, mm²: all of its box but the underside."""
    x, y, z = box.size
    return x * y + 2 * (x + y) * z


def check_heat(
    built: BuiltTrain, settings: HeatSettings = DEFAULTS, circuit: TrainCircuit | None = None
) -> Outcome:
    """Check junction temperatures and the warmth of every vehicle's inside."""
    chosen = chosen_parts(built)
    losses = losses_of(built, chosen, circuit_of(built, circuit))
    where = _homes(built)
    outside = built.train.running.temperature_c
    inside = _inside(built, losses, where, settings)
    findings: list[Finding] = []
    rows: list[tuple[str | float, ...]] = []
    for loss in losses:
        air = outside + inside.get(where.get(loss.owner, ""), 0.0)
        if loss.theta > 0 and loss.power_w > 0:
            findings.append(_junction(loss, air, settings))
            junction: str | float = round(air + loss.power_w * loss.theta, 1)
        else:
            junction = "spread out"
        if loss.power_w > 0.001:
            rows.append(
                (loss.owner, loss.what, where.get(loss.owner, "no place"), round(loss.power_w, 3), junction)
            )
    findings.extend(_air(built, chosen, inside, losses, settings))
    table = Table(
        "Heat",
        ("part", "what", "vehicle", "gives off (W)", "junction (°C)"),
        tuple(rows),
        "average currents, fresh cells",
    )
    return Outcome(SUBJECT, tuple(findings), (table,) if rows else ())


def losses_of(built: BuiltTrain, chosen: dict[str, Part], circuit: TrainCircuit) -> tuple[Loss, ...]:
    """Return what every part gives off on average with fresh cells, when linear regulators are hottest."""
    found: list[Loss] = []
    for tree in circuit.supply.trees:
        _, flow = flow_through(tree.root, full_volts(tree.source), False, {})
        found.extend(_regulators(tree, flow))
        for fed in tree.root.everything():
            part = chosen.get(fed.owner)
            if fed.owner not in flow.volts or (part is not None and part.figure(MotorDriver) is not None):
                continue
            # A motor's work ends in its gears and bearings: all of its power warms the vehicle it sits in.
            what = "its own load" if part is not None else "motor"
            found.append(Loss(fed.owner, what, flow.volts[fed.owner] * fed.average_ma / 1000, 0.0))
    found.extend(_drivers(built, chosen))
    return tuple(found)


def _homes(built: BuiltTrain) -> dict[str, str]:
    """Return the vehicle of everything that is placed or built in, by its name in nets."""
    found = {one.need: one.vehicle for one in built.placements}
    for entry in built.train.vehicles:
        found.update({f"{entry.name}/{item.name}": entry.name for item in entry.vehicle.built_in})
    return found


def _regulators(tree: SupplyTree, flow: Flow) -> Iterator[Loss]:
    seen: set[str] = set()
    for link, _ in links_of(tree.root, nominal_volts(tree.source)):
        regulator = link.regulator
        if regulator is None or link.owner in seen or link.owner not in flow.inputs:
            continue
        seen.add(link.owner)
        (in_v, in_ma), (out_v, out_ma) = flow.inputs[link.owner], flow.outputs[link.owner]
        if regulator.kind == "linear":
            power = linear_loss(in_v, out_v, out_ma, regulator.quiescent_ma)
        else:
            power = (in_v * in_ma - out_v * out_ma) / 1000
        theta = regulator.theta_ja or (DEFAULTS.case_theta if regulator.kind == "linear" else 0.0)
        yield Loss(link.owner, f"{regulator.kind} regulator", power, theta)


def _drivers(built: BuiltTrain, chosen: dict[str, Part]) -> Iterator[Loss]:
    """Yield the heat of motor drivers: I²·R of what runs through them."""
    for owner, part in chosen.items():
        driver = part.figure(MotorDriver)
        if driver is None:
            continue
        motors = {
            end.owner: end.built_in.current_ma
            for net in built.train.nets
            if any(one.owner == owner for one in ends_of(built.train, chosen, net))
            for end in ends_of(built.train, chosen, net)
            if end.built_in is not None
        }
        power = sum((current / 1000) ** 2 * driver.on_ohm for current in motors.values())
        if power > 0:
            yield Loss(owner, "motor driver", power, driver.theta_ja)


def _inside(
    built: BuiltTrain, losses: tuple[Loss, ...], where: dict[str, str], settings: HeatSettings
) -> dict[str, float]:
    found: dict[str, float] = {}
    for entry in built.train.vehicles:
        power = sum(loss.power_w for loss in losses if where.get(loss.owner) == entry.name)
        found[entry.name] = body_rise(power, hull_area(entry.vehicle.outline), settings)
    return found


def _junction(loss: Loss, air: float, settings: HeatSettings) -> Finding:
    junction = air + loss.power_w * loss.theta
    warm = air + settings.junction_reserve * (settings.junction_c - air)
    severity: Severity = "note"
    if junction > settings.junction_c:
        severity = "stop"
    elif junction > min(warm, settings.touch_c):
        severity = "caution"
    if severity == "caution" and junction <= warm:
        return Finding(
            SUBJECT,
            severity,
            loss.owner,
            f"the {loss.what} of {loss.owner} gets to {junction:.0f} °C: bricks that touch it soften",
            round(junction, 1),
            settings.touch_c,
            "°C",
            "leave a plate's height of air on the side of the regulator, or bring its loss down",
            "ABS softens at about 90 °C: from memory; a setting of this check",
        )
    allowed = max(0.0, settings.junction_c - air) / loss.theta
    return Finding(
        SUBJECT,
        severity,
        loss.owner,
        f"the {loss.what} of {loss.owner} gives off {loss.power_w:.2f} W; its junction: {junction:.0f} °C",
        round(junction, 1),
        settings.junction_c,
        "°C",
        "nothing to do"
        if severity == "note"
        else f"bring its loss below {settings.junction_reserve * allowed:.2f} W: feed it with fewer volts, "
        "feed the loads by a switching regulator, or give it a heat sink",
        LOSS,
    )


def _air(
    built: BuiltTrain,
    chosen: dict[str, Part],
    inside: dict[str, float],
    losses: tuple[Loss, ...],
    settings: HeatSettings,
) -> Iterator[Finding]:
    where = _homes(built)
    hot_in = {where[loss.owner] for loss in losses if loss.owner in where and loss.power_w > 0}
    for entry in built.train.vehicles:
        rise = inside[entry.name]
        holds = [one.need for one in built.placements if one.vehicle == entry.name]
        if (not holds and entry.name not in hot_in) or rise <= 0:
            continue
        air = built.train.running.temperature_c + rise
        cells = any("lithium" in chosen[need].cautions for need in holds if need in chosen)
        limit = settings.cells_c if cells else settings.plastic_c
        hot = air > limit
        body = "body, reckoned as if it were closed," if entry.vehicle.load_top else "closed body"
        power = sum(loss.power_w for loss in losses if where.get(loss.owner) == entry.name)
        room = max(limit - built.train.running.temperature_c, 0.0)
        yield Finding(
            SUBJECT,
            "stop" if hot else "note",
            entry.name,
            f"{power:.2f} W in {entry.name} warm the air in its {body} to {air:.0f} °C",
            round(air, 1),
            limit,
            "°C",
            f"keep it below {power * room / rise:.2f} W, spread parts over vehicles, or open it for air"
            if hot
            else "nothing to do",
            "two films of air and a wall (textbook); "
            + (
                "cells want it cool: common in data sheets"
                if cells
                else "bricks soften: a setting, from memory"
            ),
        )
