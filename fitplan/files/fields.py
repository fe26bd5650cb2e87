"""The kinds of value that a key can hold.

Each kind is a pydantic field type whose validator turns the written text into the value that the model wants
and says, when it cannot, what was found and what was expected.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import PlainValidator

from fitplan.errors import nearest_name
from fitplan.files.document import Row, Spot, Text, shown
from fitplan.model.reserved_words import RESERVED_WORDS
from fitplan.model.solids import SIDE_NAMES, Direction
from fitplan.model.words import listed
from fitplan.units import UNIT_NAMES, parse_length

LARGEST = 100_000.0
"""Largest length in mm, and largest other figure, that is taken for meant: a hundred metres."""

SIDES: dict[str, Direction] = {name: direction for direction, name in SIDE_NAMES.items()}
"""Directions by the words for them."""
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?\Z")
_WHOLE = re.compile(r"[+-]?\d+\Z")
_UNITS: dict[str, tuple[str, float]] = {
    "V": ("V", 1.0), "mV": ("V", 0.001),
    "mA": ("mA", 1.0), "A": ("mA", 1000.0),
    "mAh": ("mAh", 1.0), "Ah": ("mAh", 1000.0),
    "g": ("g", 1.0), "kg": ("g", 1000.0),
    "Ω": ("Ω", 1.0), "ohm": ("Ω", 1.0), "mΩ": ("Ω", 0.001),
    "°": ("°", 1.0), "deg": ("°", 1.0),
    "nm": ("nm", 1.0), "mm": ("mm", 1.0), "m": ("mm", 1000.0), "cm": ("mm", 10.0),
    "ms": ("ms", 1.0), "s": ("s", 1.0), "min": ("h", 1 / 60), "h": ("h", 1.0),
    "°C": ("°C", 1.0), "%": ("%", 1.0), "°C/W": ("°C/W", 1.0),
    "mm/s": ("mm/s", 1.0), "m/s": ("mm/s", 1000.0),
    "mm/s²": ("mm/s²", 1.0), "m/s²": ("mm/s²", 1000.0),
}  # fmt: skip


class InvalidValue(ValueError):  # noqa: N818 - reads as it is said: raise Wrong(found, expected)
    """A value that cannot be meant: what was found, what was expected, and a hint."""

    def __init__(self, found: str, expected: str, hint: str = "", spot: Spot | None = None) -> None:
        super().__init__(f"found {found}; expected {expected}")
        self.is_told = False
        """True when other mistakes tell the same already."""
        self.found = found
        self.expected = expected
        self.hint = hint
        self.spot = spot


@dataclass(frozen=True)
class ValueKind:
    """What a reference table says about a kind of value."""

    kind: str


def one_of_phrase(names: Iterable[str]) -> str:
    """Return ``a, b or c``."""
    items = list(names)
    return listed(items, "or")


# --- scalars -----------------------------------------------------------------------------------------------


def _scalar(value: object, expected: str) -> Text:
    if not isinstance(value, Text) or not value.strip():
        raise InvalidValue(shown(value), expected)
    return value


def read_text_value(value: object) -> Text:
    """Return a one-line text that is not empty."""
    text = _scalar(value, "a text")
    if "\n" in text.strip():
        raise InvalidValue("a text of several lines", "a text in one line")
    return Text(text.strip(), text.spot, text.quoted)


def read_prose(value: object) -> Text:
    """Return a text, several lines joined to one."""
    text = _scalar(value, "a text")
    return Text(" ".join(text.split()), text.spot, text.quoted)


def read_name(value: object) -> Text:
    """Return a name: one line without ``/``, since ``vehicle/built-in`` joins two names."""
    text = read_text_value(value)
    if "/" in text or len(text) > 60:
        raise InvalidValue(shown(text), "a name of at most 60 characters without /")
    return text


def read_pin_name(value: object) -> Text:
    """Return a pin's name: no blank, dot, ``/`` or ``*``, since nets write ``owner.pin``."""
    text = read_text_value(value)
    if re.search(r"[\s./*]", text) or len(text) > 30:
        raise InvalidValue(shown(text), "a pin name without blank, dot, / or *, such as GND or D3")
    return text


def read_program_name(value: object) -> Text:
    """Return what a program calls a pin: a number, or an identifier that is no word of the language."""
    text = read_text_value(value)
    fits = re.fullmatch(r"\d{1,3}|[A-Za-z_][A-Za-z0-9_]{0,47}", text, flags=re.ASCII)
    if not fits or text in RESERVED_WORDS:
        word = ", a word of the language" if text in RESERVED_WORDS else ""
        expected = "a number up to 999, or a name for a program such as A0 or PIN_LED"
        raise InvalidValue(f"{shown(text)}{word}", expected)
    return text


def read_id(value: object) -> Text:
    """Return a part's id: lower-case letters, digits and hyphens."""
    text = read_text_value(value)
    if not re.fullmatch(r"[a-z0-9]+(?:-[a-z0-9]+)*", text) or len(text) > 60:
        meant = re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")
        hint = f"did you mean {meant!r}?" if meant and len(meant) <= 60 else ""
        raise InvalidValue(shown(text), "an id of lower-case letters, digits and single hyphens", hint)
    return text


def read_yes_no(value: object) -> bool:
    """Return True for yes or true, False for no or false."""
    text = _scalar(value, "yes or no")
    answer = {"yes": True, "true": True, "no": False, "false": False}.get(text.strip().lower())
    if answer is None:
        raise InvalidValue(shown(text), "yes or no")
    return answer


def number(
    unit: str = "", *, above: float | None = None, least: float | None = None, most: float = LARGEST
) -> Callable[[object], float]:
    """Return a reader of numbers in a unit: ``7`` or ``7 g``."""
    bounds = _bounds_phrase(above, least, most, "")
    expected = f"a number{f' in {unit}' if unit else ''}{bounds}"

    def read(value: object) -> float:
        text = _scalar(value, expected).strip()
        if hint := _comma(text):
            raise InvalidValue(shown(value), expected, hint)
        digits, _, written = text.partition(" ")
        if unit and not _NUMBER.match(digits) and (glued := re.match(r"([+-]?[\d.]+)(\D.*)\Z", text)):
            digits, written = glued[1], glued[2]
        factor = 1.0
        if written.strip():
            known, factor = _UNITS.get(written.strip(), ("", 1.0))
            if not unit or known != unit:
                near = nearest_name(written.strip(), [u for u, (base, _) in _UNITS.items() if base == unit])
                raise InvalidValue(shown(value), expected, near)
        if not _NUMBER.match(digits):
            raise InvalidValue(shown(value), expected)
        # Rounded before it is judged: what is no more than nothing after that must not be more before.
        figure = round(float(digits) * factor, 9)
        _check_bounds(figure, value, expected, above, least, most)
        return figure

    return read


def whole(least: int, most: int) -> Callable[[object], int]:
    """Return a reader of whole numbers."""
    expected = f"a whole number from {least} to {most}"

    def read(value: object) -> int:
        text = _scalar(value, expected).strip()
        if not _WHOLE.match(text) or len(text) > 9:
            raise InvalidValue(shown(value), expected)
        figure = int(text)
        _check_bounds(figure, value, expected, None, least, most)
        return figure

    return read


def length(
    *, above: float | None = None, least: float | None = None, most: float = LARGEST
) -> Callable[[object], float]:
    """Return a reader of lengths: a number is mm, a text a sum such as ``3 studs 1 plate``."""
    expected = f"a length such as 3 studs 1 plate or 14.5 mm{_bounds_phrase(above, least, most, ' mm')}"

    def read(value: object) -> float:
        text = _scalar(value, expected).strip()
        try:
            figure = round(float(text) if _NUMBER.match(text) else parse_length(str(text)), 6) + 0.0
        except ValueError:
            raise InvalidValue(shown(value), expected, _comma(text) or _near_unit(text)) from None
        _check_bounds(figure, value, expected, above, least, most)
        return figure

    return read


def _comma(text: str) -> str:
    """Return what to write instead of a decimal comma; empty where there is none."""
    comma = re.match(r"([+-]?\d+),(\d+)\b", text)
    return f"write {comma[1]}.{comma[2]} with a point, not with a comma" if comma else ""


def _near_unit(text: str) -> str:
    for word in re.findall(r"[A-Za-zµ\"']+", text):
        if word.lower() not in UNIT_NAMES:
            near = nearest_name(word.lower(), UNIT_NAMES)
            return near or f"units: {', '.join(UNIT_NAMES)}"
    return ""


def _bounds_phrase(above: float | None, least: float | None, most: float, unit: str) -> str:
    words = []
    if above is not None:
        words.append(f"above {above:g}{unit}")
    if least is not None:
        words.append(f"at least {least:g}{unit}")
    if most < LARGEST:
        words.append(f"at most {most:g}{unit}")
    return f", {' and '.join(words)}" if words else ""


def _check_bounds(
    figure: float, value: object, expected: str, above: float | None, least: float | None, most: float
) -> None:
    too_low = (above is not None and figure <= above) or (least is not None and figure < least)
    if not math.isfinite(figure) or abs(figure) > LARGEST:
        raise InvalidValue(shown(value), f"{expected}, and no larger than {LARGEST:g}")
    if too_low or figure > most:
        raise InvalidValue(shown(value), expected)


def one_of(names: Iterable[str]) -> Callable[[object], str]:
    """Return a reader of one word of a fixed list."""
    known = tuple(names)

    def read(value: object) -> str:
        text = _scalar(value, one_of_phrase(known)).strip()
        if text not in known:
            raise InvalidValue(shown(value), one_of_phrase(known), nearest_name(text.lower(), known))
        return text

    return read


def read_side(value: object) -> Direction:
    """Return the direction of a word: front, rear, left, right, up or down."""
    return SIDES[one_of(SIDES)(value)]


# --- lists -------------------------------------------------------------------------------------------------


def read_point(value: object) -> tuple[float, float, float]:
    """Return a point from a list of three lengths."""
    x, y, z = _three(value, length())
    return (x, y, z)


def read_size(value: object) -> tuple[float, float, float]:
    """Return three lengths above zero."""
    x, y, z = _three(value, length(above=0))
    return (x, y, z)


def _three(value: object, read: Callable[[object], float]) -> list[float]:
    if not isinstance(value, Row) or len(value) != 3:
        found = f"a list of {len(value)}" if isinstance(value, Row) and value else shown(value)
        raise InvalidValue(found, "three lengths [x, y, z]")
    found_numbers = []
    for item in value:
        try:
            found_numbers.append(read(item))
        except InvalidValue as wrong:
            wrong.spot = item.spot
            raise
    return found_numbers


def several(read: Callable[[object], Any], what: str, *, lone: bool = True) -> Callable[[object], list[Any]]:
    """Return a reader of lists; a lone value counts as a list of one when ``lone``."""

    def read_all(value: object) -> list[Any]:
        if lone and isinstance(value, Text) and value.strip():
            return [read(value)]
        if not isinstance(value, Row) or not value:
            raise InvalidValue(shown(value), f"a list of {what}")
        found = []
        for item in value:
            try:
                found.append(read(item))
            except InvalidValue as wrong:
                wrong.spot = wrong.spot or item.spot
                raise
        return found

    return read_all


# --- field types -------------------------------------------------------------------------------------------

Words = Annotated[Text, PlainValidator(read_text_value), ValueKind("text")]
Prose = Annotated[Text, PlainValidator(read_prose), ValueKind("text")]
Name = Annotated[Text, PlainValidator(read_name), ValueKind("name")]
PinName = Annotated[Text, PlainValidator(read_pin_name), ValueKind("pin name")]
ProgramName = Annotated[
    Text, PlainValidator(read_program_name), ValueKind("number, or name for a program such as A0")
]
PartId = Annotated[Text, PlainValidator(read_id), ValueKind("id")]
YesNo = Annotated[bool, PlainValidator(read_yes_no), ValueKind("yes or no")]
Side = Annotated[Direction, PlainValidator(read_side), ValueKind(one_of_phrase(SIDES))]
Length = Annotated[float, PlainValidator(length()), ValueKind("length")]
Extent = Annotated[float, PlainValidator(length(above=0)), ValueKind("length above 0")]
Distance = Annotated[float, PlainValidator(length(least=0)), ValueKind("length, 0 or more")]
Point = Annotated[tuple[float, float, float], PlainValidator(read_point), ValueKind("[x, y, z], lengths")]
Size = Annotated[
    tuple[float, float, float], PlainValidator(read_size), ValueKind("[x, y, z], lengths above 0")
]
