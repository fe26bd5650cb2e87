"""Electrical figures as they are written: one block of keys for each class of `fitplan.model.electrical`.

The keys are the field names with blanks and without the unit at their end; a figure is a number in that unit,
which may be written behind it (``20 mA``).
"""

from __future__ import annotations

import dataclasses
import typing
from collections.abc import Callable
from functools import cache
from typing import Annotated, Any

from pydantic import BaseModel, Field, PlainValidator, create_model

from fitplan.files.electrical_figures import FIGURES
from fitplan.files.entries import Entry
from fitplan.files.fields import (
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
        return figures_entry("regulator") | None
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


@cache  # made when it is wanted: most files hold figures of one or two kinds
def figures_entry(key: str) -> type[Entry]:
    """Return the model of a block of figures by its key."""
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
