"""What may stand in a train file's `measured`, or in the file that it names."""

from __future__ import annotations

import re
from datetime import date
from typing import Annotated, Self

from pydantic import Field, PlainValidator, ValidationInfo, model_validator

from fitplan.files.document import Block, Row, Text, shown
from fitplan.files.entries import Entry, about, collector_of, many, validate
from fitplan.files.fields import (
    Extent,
    InvalidValue,
    Name,
    PartId,
    Point,
    Side,
    Size,
    ValueKind,
    Words,
    number,
    one_of_phrase,
    read_name,
    read_text_value,
    several,
    whole,
)

_FIGURES: dict[str, tuple[str, ...]] = {
    "speed": (),
    "braking": (),
    "part": ("mass", "current", "size"),
    "vehicle": ("mass", "room"),
    "built in": ("current", "stall"),
    "supply": ("current",),
    "coupling": ("free",),
    "wire": ("cut",),
}
"""What can be measured, and the figures that go with it."""
_OF_SOMETHING = tuple(dict.fromkeys(figure for figures in _FIGURES.values() for figure in figures))


def _read_date(value: object) -> str:
    text = str(value).strip() if isinstance(value, Text) else ""
    try:
        if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
            raise ValueError
        date.fromisoformat(text)
    except ValueError:
        raise InvalidValue(shown(value), "a day, such as 2026-05-17") from None
    return text


def _figures(value: object, unit: str, least: int) -> tuple[float, ...]:
    if not isinstance(value, Row) or len(value) < least:
        raise InvalidValue(shown(value), f"a list of at least {least} numbers in {unit}")
    read = number(unit, above=0)
    return tuple(read(item) for item in value)


_Day = Annotated[str, PlainValidator(_read_date), ValueKind("day: 2026-05-17")]
_Times = Annotated[
    tuple[float, ...],
    PlainValidator(lambda value: _figures(value, "s", 1)),
    ValueKind("list of numbers in s"),
]
_Runs = Annotated[
    tuple[float, ...],
    PlainValidator(lambda value: _figures(value, "mm", 1)),
    ValueKind("list of numbers in mm"),
]
_Speed = Annotated[float, PlainValidator(number("mm/s", above=0, most=5000)), ValueKind("number in mm/s")]


class SpeedEntry(Entry):
    """The speed, over a stretch of straight level track."""

    over: Extent = Field(1000.0, description="how long the stretch is; a metre when not given")
    seconds: _Times = about("how long each run took")


class StopsEntry(Entry):
    """Stops at one speed on level track."""

    speed: _Speed = about("at which the train was told to stop")
    stops: _Runs = about("how far it ran on each time, from where it was told to standstill")


class RoomEntry(Entry):
    """A clear length inside of a vehicle, between two walls that look at each other."""

    at: Point = about("a point of the clear room, in the vehicle's frame: the length goes through it")
    towards: Side = about("to which wall was measured, from the one behind: that wall is moved")
    free: Extent = about("how long it is")


class MeasuredEntry(Entry):
    """Something that was measured: one of speed, braking, part, vehicle, built in, supply, coupling, wire."""

    date: _Day = about("when")
    speed: SpeedEntry | None = Field(None, description="top speed; goes before `speed` of `running`")
    braking: Annotated[list[StopsEntry], *many(StopsEntry, "stops")] = Field(
        [],
        description="stops at two speeds or more, better three; go before `deceleration` and `command delay`",
    )
    chance: (
        Annotated[float, PlainValidator(number("%", above=0, most=50)), ValueKind("number in %")] | None
    ) = Field(None, description="with `braking`: of stops that may go beyond the margin; 1 % when not given")
    part: PartId | None = Field(None, description="which part of the catalogue")
    vehicle: Name | None = Field(None, description="which vehicle of the train, without what is built in")
    built_in: Words | None = Field(None, description="something built in, such as `shunter/motor`")
    supply: Name | None = Field(None, description="cells or a bank, by the need that they serve")
    coupling: (
        Annotated[
            list[Text], PlainValidator(several(read_name, "two vehicles")), ValueKind("list of two vehicles")
        ]
        | None
    ) = Field(None, description="the two vehicles on both sides of it")
    wire: Annotated[int, PlainValidator(whole(1, 100_000)), ValueKind("whole number")] | None = Field(
        None, description="which wire of what is built, by its number"
    )
    mass: Annotated[float, PlainValidator(number("g", above=0)), ValueKind("number in g")] | None = Field(
        None, description="of the part or vehicle"
    )
    current: Annotated[float, PlainValidator(number("mA", least=0)), ValueKind("number in mA")] | None = (
        Field(
            None,
            description="of the part or what is built in, as it draws it in running; of a supply, what it "
            "gives on average in running: what was not measured itself is scaled to it",
        )
    )
    stall: Annotated[float, PlainValidator(number("mA", least=0)), ValueKind("number in mA")] | None = Field(
        None, description="of a motor that is built in, held fast"
    )
    size: Size | None = Field(
        None, description="of the part, along its own x, y and z, plugs left off; all of its drawing follows"
    )
    room: RoomEntry | None = Field(None, description="of the vehicle: a clear length that is not as drawn")
    free: Extent | None = Field(
        None, description="of the coupling: how long the wires over it are from hole to hole, slack included"
    )
    cut: Extent | None = Field(None, description="of the wire: how long it was cut")

    @model_validator(mode="after")
    def _check_one(self) -> Self:
        given = [kind for kind in _FIGURES if getattr(self, kind.replace(" ", "_"))]
        if len(given) != 1:
            found = "nothing that was measured" if not given else f"{' and '.join(given)} together"
            raise self.lacking(found, f"one of {one_of_phrase(_FIGURES)}")
        may = _FIGURES[given[0]]
        has = [key for key in _OF_SOMETHING if getattr(self, key) is not None]
        if may and not set(has) & set(may):
            raise self.lacking(f"no figure of the {given[0]}", one_of_phrase(may))
        odd = [key for key in has if key not in may]
        if odd:
            raise self.lacking(f"{odd[0]!r} beside {given[0]!r}", f"{one_of_phrase(may or ('none',))}")
        if self.coupling is not None and len(self.coupling) != 2:
            raise self.lacking(f"a coupling of {len(self.coupling)} vehicles", "the two vehicles beside it")
        return self


class MeasuredFile(Entry):
    """A file of what was measured, beside a train file that names it."""

    measured: Annotated[list[MeasuredEntry], *many(MeasuredEntry, "measured figures", may_be_empty=False)] = (
        about("what you measured, each with its date")
    )


def read_measured(value: object, info: ValidationInfo) -> list[MeasuredEntry] | Text:
    """Return the measured figures that stand in a train file, or the name of the file that holds them."""
    if isinstance(value, Text):
        return read_text_value(value)
    if not isinstance(value, Row):
        hint = "put a hyphen before each" if isinstance(value, Block) else ""
        raise InvalidValue(shown(value), "a list of measured figures, or the file that holds it", hint)
    found = (validate(MeasuredEntry, item, collector_of(info)) for item in value)
    return [entry for entry in found if entry is not None]
