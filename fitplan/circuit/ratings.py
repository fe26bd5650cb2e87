"""What every pin stands: the range that it works in and the absolute maximum, from the part's own figures."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from fitplan.model.electrical import (
    Charger,
    Controller,
    Fuse,
    Load,
    MotorDriver,
    Regulator,
    Switch,
)
from fitplan.model.part import Part, Pin, PinRole

RAIL_V: dict[PinRole, float] = {"5v": 5.0, "3v3": 3.3}
"""Volts of a controller's rails by the role of their pins."""
APART_V = 0.5
"""Rails that differ by less are the same rail."""
ABOVE_LOGIC_V = 0.3
"""How far a signal may lie above a pin's own level: inputs clamp there (common practice)."""
TOLERANT_V = 5.5
"""What an input that stands 5 V stands at most (common practice)."""
RAIL_SHARE = 1.1
"""Most volts of a regulated rail over its own where no figure is given (common practice)."""
CHARGED_V = 4.25
"""Most volts of a li-ion cell while it is charged: 4.20 ± 0.05 V, a maker's data sheet."""


@dataclass(frozen=True)
class Rating:
    """Least and most volts that a pin works with, and the volts above which it is destroyed."""

    least_v: float
    most_v: float
    limit_v: float


def rating_of(part: Part, pin: Pin) -> Rating | None:
    """Return what a pin that takes current or a signal stands; None for one that only gives, and grounds."""
    if pin.role in ("ground", "plus"):
        return None
    if pin.role == "signal":
        return _signal(part)
    controller = part.figure(Controller)
    if controller is not None:
        return _board(controller, pin)
    return _fed(part, pin)


def only_gives(controller: Controller, role: PinRole) -> bool:
    """Return whether pins of a role are a second rail below the board's own: volts there feed no board."""
    return RAIL_V.get(role, inf) < _own_volts(controller) - APART_V


def _own_volts(controller: Controller) -> float:
    regulator = controller.regulator
    return regulator.out_v if regulator is not None else controller.logic_v


def _of(least: float, most: float, limit: float) -> Rating:
    return Rating(least, most, max(limit, most))


def _board(controller: Controller, pin: Pin) -> Rating | None:
    regulator = controller.regulator
    if pin.role == "raw":
        if regulator is None:
            return None
        return _of(regulator.in_min_v, regulator.in_max_v, regulator.in_limit_v)
    rail = RAIL_V.get(pin.role, controller.logic_v)
    inner = _own_volts(controller)
    if only_gives(controller, pin.role):
        return _of(0.0, RAIL_SHARE * rail, 0.0)
    if abs(rail - inner) > APART_V and regulator is not None:
        # A socket's 5 V ahead of a 3.3 V regulator.
        return _of(regulator.in_min_v, regulator.in_max_v, regulator.in_limit_v)
    return _of(controller.brown_out_v, controller.rail_max_v or RAIL_SHARE * rail, controller.rail_limit_v)


def _fed(part: Part, pin: Pin) -> Rating | None:
    charger, regulator, driver = part.figure(Charger), part.figure(Regulator), part.figure(MotorDriver)
    if charger is not None and pin.role == "charge":
        return _of(charger.in_v / RAIL_SHARE, charger.in_v * RAIL_SHARE, 0.0)
    if charger is not None and pin.name in charger.cell_pins:
        most = CHARGED_V * charger.cells
        return _of(0.0, most, regulator.in_limit_v if regulator is not None else 0.0)
    if regulator is not None:
        return _of(regulator.in_min_v, regulator.in_max_v, regulator.in_limit_v)
    load = part.figure(Load)
    if driver is not None and not is_logic_pin(part, pin):
        return _of(driver.min_v, driver.max_v, driver.limit_v)
    if load is not None and load.max_v:
        return _of(load.min_v, load.max_v, load.limit_v)
    if (switch := part.figure(Switch)) is not None:
        return _of(0.0, switch.max_v, 0.0)
    fuse = part.figure(Fuse)
    return _of(0.0, fuse.max_v, 0.0) if fuse is not None and fuse.max_v else None


def is_logic_pin(part: Part, pin: Pin) -> bool:
    """Return whether a pin of a motor driver feeds its logic: a supply pin other than VM, or the first."""
    supplies = [entry.name for entry in part.pins if entry.role == "supply"]
    motor = "VM" if "VM" in supplies else supplies[0] if supplies else ""
    return pin.role == "supply" and pin.name != motor


def _signal(part: Part) -> Rating | None:
    controller, load, driver = part.figure(Controller), part.figure(Load), part.figure(MotorDriver)
    if controller is not None:
        own = TOLERANT_V if controller.five_volt_tolerant else controller.logic_v + ABOVE_LOGIC_V
        return _of(0.0, own, controller.pin_limit_v)
    if load is not None and not has_supply_pin(part):
        return _of(load.min_v, load.max_v, load.limit_v)
    if load is not None and load.signal_max_v:
        return _of(0.0, load.signal_max_v, 0.0)
    if driver is not None:
        return _of(0.0, driver.signal_max_v or TOLERANT_V, 0.0)
    return _of(0.0, load.max_v + ABOVE_LOGIC_V, 0.0) if load is not None else None


def has_supply_pin(part: Part) -> bool:
    """Return whether a part is fed at a pin of its own, not through a signal."""
    return any(pin.role in ("supply", "raw", "5v", "3v3") for pin in part.pins)
