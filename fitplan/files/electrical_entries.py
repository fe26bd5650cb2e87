"""Electrical figures as they are written: one block of keys for each class of `fitplan.model.electrical`.

The keys are the field names with blanks and without the unit at their end; a figure is a number in that unit,
which may be written behind it (``20 mA``).
"""

from __future__ import annotations

import dataclasses
import typing
from collections.abc import Callable
from typing import Annotated, Any, Self

from pydantic import BaseModel, Field, PlainValidator, create_model, model_validator

from fitplan.files.entries import Entry
from fitplan.files.fields import (
    InvalidValue,
    PinName,
    ValueKind,
    YesNo,
    number,
    one_of,
    one_of_phrase,
    read_pin_name,
    read_text_value,
    several,
    whole,
)
from fitplan.model import electrical as model
from fitplan.model.electrical import Electrical

_SUFFIXES = {
    "_v": "V", "_mah": "mAh", "_ma": "mA", "_mm": "mm", "_ohm": "Ω",
    "_deg": "°", "_g": "g", "_nm": "nm", "_ms": "ms",
}  # fmt: skip
_SPECIAL = {
    # Two figures of one class that would share a key keep their unit as a word.
    ("Regulator", "start_v"): "start volts",
    ("Regulator", "start_ma"): "start current",
    ("Regulator", "in_max_v"): "in max",
    ("Regulator", "in_max_ma"): "in current",
    ("Fuse", "max_v"): "max volts",
    ("Switch", "max_v"): "max volts",
    ("Switch", "max_ma"): "max current",
}

_MAY_BE_ZERO = (
    "forward_v",
    "own_ohm",
    "off_below_ma",
    "blind_mm",
    "out_ma",
    "current_ma",
    "peak_ma",
    "min_v",
)

FIGURES: dict[str, tuple[type, str, dict[str, str]]] = {
    "cells": (
        model.CellPack,
        "cells in series",
        {
            "chemistry": "what the cells are",
            "cell_size": "size, such as AA or 18650",
            "cells": "how many in series",
            "capacity_mah": "typical capacity of one cell at a light load",
            "resistance_ohm": "inner resistance of one cell",
            "max_ma": "largest steady current",
            "protected": "has a protection circuit",
            "cell_mass_g": "mass of one cell, when `mass` is that of the empty holder",
            "cells_per_unit": "elementary cells inside one cell: six in a 9 V block",
            "charge_ma": "largest charging current; 0: half of the capacity in an hour, NiMH a tenth",
        },
    ),
    "bank": (
        model.Bank,
        "a USB bank",
        {
            "out_v": "volts at its socket",
            "capacity_mah": "capacity of its cell",
            "cell_v": "nominal volts of its cell",
            "efficiency": "share of the energy that arrives, 0 to 1",
            "max_ma": "largest current at its socket",
            "off_below_ma": "load below which it may switch itself off",
        },
    ),
    "regulator": (
        model.Regulator,
        "a voltage regulator",
        {
            "kind": "how it works",
            "out_v": "volts that it gives",
            "in_min_v": "least volts at its input",
            "in_max_v": "most volts at its input",
            "max_ma": "largest current that it gives",
            "dropout_v": "volts that a linear one needs above its output",
            "efficiency": "share of the power that arrives, 0 to 1; of no use for a linear one",
            "quiescent_ma": "what it draws itself",
            "start_v": "least volts to start at",
            "start_ma": "largest current while it starts",
            "theta_ja": "junction to ambient in °C/W; 0 when unknown",
            "in_limit_v": "absolute maximum at its input; 0: as `in max`",
            "in_max_ma": "largest current into a switching one; it gives less at low volts; 0: not stated",
        },
    ),
    "controller": (
        model.Controller,
        "a controller board",
        {
            "logic_v": "level of its pins",
            "current_ma": "what it draws on average",
            "peak_ma": "what it draws at most",
            "brown_out_v": "volts at its own rail below which it restarts, or runs outside its data sheet",
            "pin_ma": "largest current of one pin",
            "out_ma": "what its regulated output pin can feed to others",
            "regulator": "the regulator on the board: keys as `regulator` below",
            "low_rail_ma": "what its 3.3 V pin can feed to others beside 5 V; 0: as `out`",
            "five_volt_tolerant": "its inputs stand 5 V",
            "serial_pins": "pins that the serial console uses",
            "rail_max_v": "most volts at its regulated rail; 0: a tenth above the rail's own",
            "rail_limit_v": "absolute maximum at that rail; 0: as `rail max`",
            "chip_ma": "largest current of all its signal pins together; 0: not stated",
            "port_ma": "largest current of the signal pins of one port together; 0: not stated",
            "usb_ma": "what may flow in through its USB socket; 0: no limit stated",
            "usb_drop_v": "volts lost between that socket and its regulated rail",
            "tone_timer": "the timer that the usual tone call takes",
            "clock_timer": "the timer that keeps the time",
            "pin_limit_v": "absolute maximum at a signal pin; 0: 0.3 V above `logic`, or 5.5 V",
        },
    ),
    "load": (
        model.Load,
        "something that is fed",
        {
            "min_v": "least volts at its supply pin",
            "max_v": "most volts at its supply pin",
            "current_ma": "what it draws on average",
            "peak_ma": "what it draws at most",
            "logic_v": "level of its signal outputs; 0: that of its supply",
            "limit_v": "absolute maximum at its supply pin; 0: as `max`",
            "signal_max_v": "most volts at its signal inputs; 0: 0.3 V above its supply",
        },
    ),
    "ranger": (
        model.Ranger,
        "a sensor that looks out",
        {
            "method": "what it measures with",
            "half_angle_deg": "half of the angle that it sees",
            "blind_mm": "nearest distance that it can measure",
            "reach_mm": "farthest distance that it can measure",
            "cycle_ms": "time of one reading",
        },
    ),
    "emitter": (
        model.Emitter,
        "an infrared emitter",
        {
            "wavelength_nm": "wavelength",
            "half_angle_deg": "half of the angle that it lights",
            "reach_mm": "how far it reaches a receiver",
        },
    ),
    "driver": (
        model.MotorDriver,
        "a motor driver",
        {
            "min_v": "least motor volts",
            "max_v": "most motor volts",
            "continuous_ma": "steady current of one channel",
            "peak_ma": "short current of one channel",
            "on_ohm": "resistance when switched through, both sides together",
            "channels": "how many motors",
            "theta_ja": "junction to ambient in °C/W; 0 when unknown",
            "limit_v": "absolute maximum of the motor volts; 0: as `max`",
            "signal_max_v": "most volts at its signal inputs; 0: those of its logic, or 5.5 V",
        },
    ),
    "charger": (
        model.Charger,
        "a charger",
        {
            "in_v": "volts at its input",
            "charge_ma": "charging current",
            "protected": "has a protection circuit",
            "chemistry": "which cells it charges",
            "cells": "how many cells in series it charges",
            "balances": "levels cells in series against each other",
            "cell_pins": "its pins that go to the cells; the train is fed by the others",
        },
    ),
    "conductor": (
        model.Conductor,
        "a wire from the spool",
        {
            "awg": "gauge (AWG)",
            "conductors": "how many side by side",
            "outer_mm": "outer diameter of one",
            "strands": "strands of one",
            "pitch_mm": "spacing in a ribbon; 0 for a single wire",
        },
    ),
    "lead": (
        model.Lead,
        "a lead as it is bought",
        {
            "first": "what is at its first end",
            "second": "what is at its second end",
            "lengths_mm": "stock lengths that it is sold in, between the bodies at its ends",
            "awg": "gauge of its power conductors (AWG)",
            "outer_mm": "outer diameter",
            "bend_mm": "least radius of a bend",
            "leaves": "where the cable leaves the second end, seen from a socket that faces the front",
        },
    ),
    "own leads": (
        model.OwnLeads,
        "leads that it comes with, one at each pin whose joint is `attached`",
        {
            "length_mm": "their length",
            "end": "what is at their ends",
            "awg": "gauge (AWG)",
            "outer_mm": "outer diameter",
            "bend_mm": "least radius of a bend",
        },
    ),
    "connector": (
        model.Connector,
        "a connector pair",
        {
            "cavities": "how many conductors",
            "awg_min": "smallest AWG number that it takes: the thickest wire",
            "awg_max": "largest AWG number that it takes: the thinnest wire",
            "max_ma": "largest current of one cavity",
            "keyed": "cannot be plugged the wrong way round",
            "sockets": "a row of pins to both sides, which sockets of single leads as bought go onto",
        },
    ),
    "switch": (
        model.Switch,
        "a switch in the supply line",
        {"max_ma": "largest current", "max_v": "most volts"},
    ),
    "fuse": (
        model.Fuse,
        "a fuse in the supply line",
        {
            "hold_ma": "what it carries for good",
            "trip_ma": "what makes it open or trip",
            "resistance_ohm": "resistance",
            "resettable": "comes back by itself once it has cooled",
            "max_v": "most volts that it breaks; 0: not stated",
        },
    ),
    "series": (
        model.SeriesResistor,
        "the resistor in series that a part on a signal pin needs",
        {
            "forward_v": "drop of its diode; 0 for a coil",
            "own_ohm": "resistance of its coil; 0 for a diode",
            "current_ma": "largest current that it is to draw",
            "place": "lead: to be soldered into its lead; board: there already",
        },
    ),
    "bus": (
        model.BusDevice,
        "a part on the shared bus",
        {
            "address": "its address, such as 0x29",
            "changes": "a program can change it while the others are kept off",
            "off_pin": "the pin that keeps it off",
            "pull_up_ohm": "pull-up resistors on its board; 0: none",
        },
    ),
}
"""Key, class, what it is, and a line about each field."""


def key_of(cls: type, field: str) -> str:
    """Return the key that a field of an electrical class has in files."""
    special = _SPECIAL.get((cls.__name__, field))
    if special is not None:
        return special
    for suffix in _SUFFIXES:
        if field.endswith(suffix):
            return field.removesuffix(suffix).replace("_", " ")
    return field.replace("_", " ")


def _unit_of(field: str) -> str:
    return next((unit for suffix, unit in _SUFFIXES.items() if field.endswith(suffix)), "")


def _field_type(cls: type, field: dataclasses.Field[Any], hint: Any) -> Any:
    if field.name == "regulator":
        return ENTRIES["regulator"] | None
    read: Callable[[object], Any]
    if typing.get_origin(hint) is typing.Literal:
        words = typing.get_args(hint)
        return Annotated[str, PlainValidator(one_of(words)), ValueKind(one_of_phrase(words))]
    if hint is bool:
        return YesNo
    if hint is int:
        read, says = whole(1, 100), "whole number"
    elif hint is float:
        unit = _unit_of(field.name)
        if field.name == "efficiency":
            read = number(above=0, most=1)
        else:
            positive = field.default is dataclasses.MISSING and field.name not in _MAY_BE_ZERO
            read = number(unit, above=0) if positive else number(unit, least=0)
        says = f"number in {unit}" if unit else "number"
    elif hint is str:
        read, says = (lambda value: str(read_text_value(value))), "text"
    elif hint == tuple[float, ...]:
        return Annotated[
            list[float],
            PlainValidator(several(number("mm", above=0), "lengths")),
            ValueKind("list of lengths in mm"),
        ]
    else:
        return Annotated[
            list[PinName], PlainValidator(several(read_pin_name, "pin names")), ValueKind("list of pin names")
        ]
    return Annotated[hint, PlainValidator(read), ValueKind(says)]


def _entry_of(key: str) -> type[Entry]:
    cls, _, lines = FIGURES[key]
    hints = typing.get_type_hints(cls)
    fields: dict[str, Any] = {}
    for field in dataclasses.fields(cls):
        required = field.default is dataclasses.MISSING
        default: Any = ... if required else field.default
        fields[field.name] = (
            _field_type(cls, field, hints[field.name]),
            Field(default, alias=key_of(cls, field.name), description=lines[field.name]),
        )
    made: type[Entry] = create_model(f"{cls.__name__}Entry", __base__=Entry, **fields)
    return made


ENTRIES: dict[str, type[Entry]] = {}
"""The model of each block of figures, by its key."""
for _key in ("regulator", *(name for name in FIGURES if name != "regulator")):
    ENTRIES[_key] = _entry_of(_key)


def figures_of(key: str, entry: BaseModel) -> Electrical:
    """Return the figures that a block holds."""
    cls = FIGURES[key][0]
    values: dict[str, Any] = {}
    for field in dataclasses.fields(cls):
        value = getattr(entry, field.name)
        if isinstance(value, Entry):
            value = figures_of("regulator", value)
        elif isinstance(value, list):
            value = tuple(item if isinstance(item, float) else str(item) for item in value)
        values[field.name] = value
    made: Electrical = cls(**values)
    return made


class _ElectricalBase(Entry):
    """One block of figures."""

    @model_validator(mode="after")
    def _check_one(self) -> Self:
        given = [name for name in FIGURES if getattr(self, name) is not None]
        if len(given) != 1:
            found = "no figures" if not given else f"{' and '.join(given)} in one block"
            raise self.lacking(
                found, f"one of {one_of_phrase(FIGURES)}", "a hyphen before each" if given else ""
            )
        key = given[0]
        _check_sense(figures_of(key, getattr(self, key)))
        return self

    def figures(self) -> Electrical:
        """Return the figures."""
        key = next(name for name in FIGURES if getattr(self, name) is not None)
        return figures_of(key, getattr(self, key))


def _check_sense(figures: Electrical) -> None:
    """Refuse figures that contradict each other."""
    match figures:
        case model.Controller(regulator=model.Regulator() as regulator):
            _check_sense(regulator)
        case model.Regulator(in_min_v=least, in_max_v=most) if least > most:
            raise InvalidValue(f"'in min' {least:g} above 'in max' {most:g}", "the least volts first")
        case model.Load(min_v=least, max_v=most) | model.MotorDriver(min_v=least, max_v=most) if least > most:
            raise InvalidValue(f"'min' {least:g} above 'max' {most:g}", "the least volts first")
        case model.Ranger(blind_mm=near, reach_mm=far) if near >= far:
            raise InvalidValue(
                f"'blind' {near:g} not below 'reach' {far:g}", "the nearest distance below the farthest"
            )
        case model.Connector(awg_min=least_number, awg_max=most_number) if least_number > most_number:
            raise InvalidValue(
                f"'awg min' {least_number} above 'awg max' {most_number}", "the smaller AWG number first"
            )
    current, peak = getattr(figures, "current_ma", 0.0), getattr(figures, "peak_ma", None)
    if peak is not None and peak < current:
        raise InvalidValue(
            f"'peak' {peak:g} below 'current' {current:g}", "a peak that is at least the average"
        )


ElectricalEntry: type[_ElectricalBase] = create_model(
    "ElectricalEntry",
    __base__=_ElectricalBase,
    **{key: (ENTRIES[key] | None, Field(None, description=FIGURES[key][1])) for key in FIGURES},  # type: ignore[call-overload]
)
"""One block of figures of a part's list ``electrical``."""
