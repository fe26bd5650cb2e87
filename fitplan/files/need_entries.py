"""What must be built in and what is liked of its place, as train files say it."""

from __future__ import annotations

from typing import Annotated, ClassVar, Self

from pydantic import Field, PlainValidator, ValidationInfo, model_validator

from fitplan.errors import nearest_name
from fitplan.files.document import Block, Row, Text, Value, shown
from fitplan.files.entries import Entry, about, collector_of
from fitplan.files.families import FAMILIES
from fitplan.files.fields import (
    InvalidValue,
    Name,
    PartId,
    ValueKind,
    Words,
    YesNo,
    number,
    one_of,
    one_of_phrase,
    read_id,
    read_name,
    several,
    whole,
)
from fitplan.files.fixed_place import AtEntry
from fitplan.model.needed import PREFERENCES, PreferenceKind
from fitplan.model.part import CANS, Can


def _read_pin_counts(value: object, info: ValidationInfo) -> list[tuple[Can, int]]:
    if not isinstance(value, Block) or not value:
        raise InvalidValue(shown(value), "abilities and how many pins, such as {pwm: 1}")
    counts: list[tuple[Can, int]] = []
    for key, item in value.items():
        if key not in CANS:
            spot = value.key_spots.get(key, item.spot)
            collector_of(info).add(spot, f"the ability {key!r}", one_of_phrase(CANS), nearest_name(key, CANS))
            continue
        try:
            counts.append((key, whole(1, 60)(item)))
        except InvalidValue as wrong:
            collector_of(info).add(item.spot, wrong.found, wrong.expected)
    return sorted(counts)


def _parts_of_place(value: Value, keys: tuple[str, ...]) -> Block | None:
    """Return ``vehicle/window`` and the like as a block with these keys."""
    words = value.split("/") if isinstance(value, Text) else []
    if len(words) != len(keys) or not all(word.strip() for word in words):
        return None
    assert isinstance(value, Text)
    block = Block(value.spot)
    for key, word in zip(keys, words, strict=True):
        block.put(key, Text(word.strip(), value.spot), value.spot)
    return block


class LooksEntry(Entry):
    """Which window a part looks out of; short: ``vehicle/window``."""

    SHORT: ClassVar[str] = "vehicle/window"

    @classmethod
    def from_short(cls, value: Value) -> Block | None:
        """Return the block for ``vehicle/window``."""
        return _parts_of_place(value, ("vehicle", "window"))

    vehicle: Name = about("which vehicle")
    window: Name = about("which of its windows")


class SitsEntry(Entry):
    """Which face a part sits on; short: ``vehicle/built-in/face``."""

    SHORT: ClassVar[str] = "vehicle/built-in/face"

    @classmethod
    def from_short(cls, value: Value) -> Block | None:
        """Return the block for ``vehicle/built-in/face``."""
        return _parts_of_place(value, ("vehicle", "on", "face"))

    vehicle: Name = about("which vehicle")
    on: Name = about("what it sits on: something built in")
    face: Name = about("which of its faces")


class ExchangeEntry(Entry):
    """What may be opened and taken out to get at a part that is exchanged, plugged in or switched often."""

    open: Annotated[
        list[Text], PlainValidator(several(read_name, "openings")), ValueKind("list of openings")
    ] = Field([], description="openings that may be opened for it; those with `often: yes` when not given")
    parts_out: Annotated[int, PlainValidator(whole(0, 20)), ValueKind("number from 0 to 20")] = Field(
        0, description="how many other parts may have to come out before it"
    )
    bricks_out: Annotated[int, PlainValidator(whole(0, 20)), ValueKind("number from 0 to 20")] = Field(
        0, description="how many removable bricks may have to come out before it"
    )


class ChooseEntry(Entry):
    """What is asked of a part that is chosen from the catalogue; short: a list of ids."""

    SHORT: ClassVar[str] = "a list of ids, the name of a family"

    @classmethod
    def from_short(cls, value: Value) -> Block | None:
        """Return the block for a list of ids, or for the name of a family."""
        if isinstance(value, Text) and value not in FAMILIES:
            return None
        block = Block(value.spot)
        block.put("parts" if isinstance(value, Row) else "family", value, value.spot)
        return block

    family: Annotated[list[str], PlainValidator(several(one_of(FAMILIES), "families")), ValueKind(
        "family, or list of families"
    )] | None = Field(None, description="families of the catalogue; not needed with `parts`")  # fmt: skip
    parts: (
        Annotated[list[PartId], PlainValidator(several(read_id, "part ids")), ValueKind("list of ids")] | None
    ) = Field(None, description="only these parts, the preferred first")
    pins: Annotated[
        list[tuple[Can, int]], PlainValidator(_read_pin_counts), ValueKind("abilities and counts")
    ] = Field([], description="signal pins that must be there beyond those that the nets ask for")
    volts: Annotated[float, PlainValidator(number("V", above=0)), ValueKind("number in V")] | None = Field(
        None, description="a supply: volts that must arrive"
    )
    hours: Annotated[float, PlainValidator(number("h", above=0)), ValueKind("number in h")] | None = Field(
        None, description="a supply: how long it must last"
    )

    @model_validator(mode="after")
    def _check_any(self) -> Self:
        if self.family is None and self.parts is None:
            raise self.lacking("neither 'family' nor 'parts'", "a family, or the ids of some parts")
        return self


_Vehicles = Annotated[
    list[Text], PlainValidator(several(read_name, "vehicle names")), ValueKind("list of vehicles")
]


class NeedEntry(Entry):
    """One thing that must be built in."""

    name: Name = about("as nets and reports name it")
    part: PartId | None = Field(None, description="id of the part; or give `choose`")
    choose: ChooseEntry | None = Field(
        None,
        description="what the part must be able to do; or a list of ids, the preferred first; or give `part`",
    )
    in_: _Vehicles | None = Field(
        None, description="vehicles that it may go into, the preferred first; any when not given"
    )
    looks: LooksEntry | None = Field(None, description="the window that it looks out of: `vehicle/window`")
    sits: SitsEntry | None = Field(None, description="the face that it sits on: `vehicle/on/face`")
    at: AtEntry | None = Field(
        None, description="a place that you have fixed, wholly or in some respects; what is open is found"
    )
    duty: Annotated[float, PlainValidator(number(least=0, most=1)), ValueKind("number from 0 to 1")] = Field(
        1.0, description="share of the running time in which it draws its current"
    )
    exchange: ExchangeEntry | None = Field(
        None,
        description="what may come out to get at it: `open`, `parts out`, `bricks out`; nothing but a lid"
        " when not given",
    )

    @model_validator(mode="after")
    def _check_one(self) -> Self:
        if (self.part is None) == (self.choose is None):
            found = "neither 'part' nor 'choose'" if self.part is None else "both 'part' and 'choose'"
            raise self.lacking(found, "the id of a part in 'part', or what it must be able to do in 'choose'")
        return self


class PreferenceEntry(Entry):
    """What is liked of a part's place; one of its keys beside `of`."""

    of: Name = about("the need whose place it is")
    near: Words | None = Field(None, description="a need, or `vehicle/built-in`, that it lies close to")
    far_from: Words | None = Field(None, description="a need, or `vehicle/built-in`, that it keeps away from")
    same_side_as: Words | None = Field(
        None, description="a need, or `vehicle/built-in`, on whose side, left or right, it lies"
    )
    reachable_from: Words | None = Field(None, description="an opening that it lies under")
    hidden: YesNo = Field(False, description="it is not seen from outside through windows and gaps")

    @property
    def said(self) -> tuple[PreferenceKind, Text | None]:
        """What is liked, and of what."""
        for kind in PREFERENCES:
            value = getattr(self, kind.replace(" ", "_"))
            if value:
                return kind, None if value is True else value
        raise KeyError(self.of)

    @model_validator(mode="after")
    def _check_one(self) -> Self:
        given = [kind for kind in PREFERENCES if getattr(self, kind.replace(" ", "_"))]
        if len(given) != 1:
            found = "no preference" if not given else f"{' and '.join(map(repr, given))} together"
            raise self.lacking(found, f"one of {one_of_phrase(PREFERENCES)}")
        return self
