"""Vehicle files: what may stand in them."""

from __future__ import annotations

import re
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, PlainValidator, ValidationInfo, model_validator

from fitplan.files.document import Block, Row, Text, Value, shown
from fitplan.files.electrical_entries import figures_entry
from fitplan.files.entries import Entry, ListOf, about, collector_of, many
from fitplan.files.fields import (
    Distance,
    Extent,
    InvalidValue,
    Name,
    Point,
    Side,
    ValueKind,
    YesNo,
    length,
    number,
    one_of,
    one_of_phrase,
    read_name,
    read_yes_no,
    several,
    whole,
)
from fitplan.files.layer_rows import LayerEntry
from fitplan.files.layers import Meaning
from fitplan.files.pin_entries import PinEntry
from fitplan.files.solid_entries import FlatBoxEntry, SolidEntry
from fitplan.model.solids import Solid, mirrored
from fitplan.model.vehicle import KINDS, PARTED, STATES, Kind, Parted, State

MOST_LONG, MOST_WIDE, MOST_HIGH = 64, 16, 320.0
"""Largest vehicle that is read: studs, studs and mm. The lattice has to stay in memory."""
BUILT_IN_KINDS = ("motor", "receiver", "cells", "lamp", "sounder", "other")
"""What may be in a vehicle already."""

_CellsEntry = figures_entry("cells")
_PLAIN_STATES = tuple(state for state in STATES if state != "removable")
_STATE_SAYS = ValueKind(f"{one_of_phrase(_PLAIN_STATES)}, or {{removable: name}}")


def read_state(value: object) -> Meaning:
    """Return a state from its word, or from ``{removable: name}``."""
    if isinstance(value, Block):
        if list(value) == ["removable"] and isinstance(value["removable"], Text) and value["removable"]:
            return ("removable", read_name(value["removable"]))
        raise InvalidValue(f"a block with {', '.join(map(repr, value)) or 'nothing'}", "{removable: name}")
    if isinstance(value, Text) and value == "removable":
        raise InvalidValue("'removable' without a name", "{removable: name}")
    state: State = one_of(_PLAIN_STATES)(value)  # type: ignore[assignment]
    return (state, "")


def _read_legend(value: object, info: ValidationInfo) -> dict[str, Meaning]:
    if not isinstance(value, Block):
        raise InvalidValue(shown(value), 'characters and what they stand for, such as "#": fixed')
    collector = collector_of(info)
    legend: dict[str, Meaning] = {}
    for character, item in value.items():
        spot = value.key_spots.get(character, item.spot)
        if len(character) != 1 or character.isspace():
            collector.add(
                spot, f"the character {character!r}", "one character that is not a blank, in quotes"
            )
            continue
        try:
            legend[character] = read_state(item)
        except InvalidValue as wrong:
            collector.add(wrong.spot or item.spot, wrong.found, wrong.expected, wrong.hint)
            # The character is known all the same: rows that use it hold no second mistake.
            legend[character] = ("fixed", "")
    return legend


_AREA = re.compile(r"(\d{1,3})\s*[x×]\s*(\d{1,3})")


class FootprintEntry(Entry):
    """The footprint of a vehicle; short: ``28 x 6``."""

    SHORT: ClassVar[str] = "studs long x studs wide, such as 28 x 6"

    @classmethod
    def from_short(cls, value: Value) -> Block | None:
        """Return the block for ``long x wide``."""
        found = _AREA.fullmatch(value.strip()) if isinstance(value, Text) else None
        if found is None:
            return None
        block = Block(value.spot)
        for key, text in zip(("long", "wide"), found.groups(), strict=True):
            block.put(key, Text(text, value.spot), value.spot)
        return block

    long: Annotated[int, PlainValidator(whole(1, MOST_LONG)), ValueKind("whole number of studs")] = about(
        "from the rear end to the front end"
    )
    wide: Annotated[int, PlainValidator(whole(1, MOST_WIDE)), ValueKind("whole number of studs")] = about(
        "from the right side to the left side"
    )


_Cost = Annotated[float, PlainValidator(number(least=0)), ValueKind("number")]


class RemovableEntry(Entry):
    """A brick or a group of bricks that may come out."""

    name: Name = about("as the drawings name it")
    cost: _Cost = about("what taking it out costs, on your own scale")


def _read_removable(value: object, info: ValidationInfo) -> list[RemovableEntry]:
    """Return removable bricks from a list of blocks, or from names and costs."""
    if isinstance(value, Block):
        rows = Row()
        for name, cost in value.items():
            block = Block(value.key_spots.get(name, value.spot))
            block.put("name", Text(name, block.spot), block.spot)
            block.put("cost", cost, block.spot)
            rows.append(block)
        value = rows
    reader = many(RemovableEntry, "removable bricks")[0]
    found: list[RemovableEntry] = reader.func(value, info)
    return found


class BodySolidEntry(SolidEntry):
    """A solid that is drawn into the body."""

    state: Annotated[Meaning, PlainValidator(read_state), _STATE_SAYS] = Field(
        ("fixed", ""), description="what it makes of its room; `fixed` when not given"
    )
    smooth: YesNo = Field(False, description="its upward face bears no studs (tiles, panels)")
    mirrored: YesNo = Field(False, description="and its mirror image on the other side of the middle line")

    def both(self, width: float) -> tuple[Solid, ...]:
        """Return the solid, and with ``mirrored`` its image in a vehicle so wide (mm)."""
        own = self.solid()
        return (own, mirrored(own, width)) if self.mirrored else (own,)


class OpeningEntry(Entry):
    """Where the vehicle is opened."""

    name: Name = about("what lifts off")
    box: FlatBoxEntry = about("room of the lid: parts go in through it")
    out: Side = about("which way it comes off")
    often: YesNo = Field(True, description="in everyday use; no: only when building")


class WindowEntry(Entry):
    """A gap that a sensor looks through."""

    name: Name = about("as the train file names it")
    box: FlatBoxEntry = about("the gap, flat or as thick as the wall")
    out: Side = about("which way a sensor looks through it")
    open: Annotated[float, PlainValidator(number(above=0, most=1)), ValueKind("number from 0 to 1")] = Field(
        1.0, description="share of its area that is open: 0.33 for bars of 2 mm with 1 mm between"
    )


class PortEntry(Entry):
    """A hole for wires."""

    name: Name = about("as reports name it")
    box: FlatBoxEntry = about("the hole, flat or as thick as the wall")
    out: Side = about("from the inside to the outside")


_ENDS: tuple[Literal["front", "rear", "both"], ...] = ("front", "rear", "both")


class CouplingEntry(Entry):
    """A coupling at an end."""

    end: Annotated[
        Literal["front", "rear", "both"], PlainValidator(one_of(_ENDS)), ValueKind(one_of_phrase(_ENDS))
    ] = about("at which end it is; both: one at each, alike")
    pivot: Distance = about("x of its pivot, from the rear end of the footprint; both: from its own end")
    height: Distance = about("of its pivot above the rail head")
    length: Distance = about("from the end of the footprint to the middle of the closed coupling")
    parted: Annotated[Parted | None, PlainValidator(one_of(PARTED)), ValueKind("daily, storage or never")] = (
        Field(
            None, description="how often it is opened: daily, storage (the default), or never: wires run on"
        )
    )


class WheelsEntry(Entry):
    """Where the wheels are."""

    kind: Annotated[
        Literal["axles", "bogies"], PlainValidator(one_of(("axles", "bogies"))), ValueKind("axles or bogies")
    ] = about("rigid axles, or bogies that turn")
    at: Annotated[
        list[float], PlainValidator(several(length(least=0), "lengths")), ValueKind("list of lengths")
    ] = about("x of each axle or bogie pivot, from the rear end of the footprint")
    driven: Annotated[
        list[bool], PlainValidator(several(read_yes_no, "yes and no")), ValueKind("list of yes and no")
    ] = Field([], description="which are driven, in the order of `at`; one word for all; none when not given")
    radius: Extent = about("of a wheel")
    bogie_wheelbase: Extent | None = Field(None, description="with bogies: from axle to axle of a bogie")

    @model_validator(mode="after")
    def _check_wheels(self) -> Self:
        if len(set(self.at)) != len(self.at):
            raise InvalidValue("two wheels at one place", "a different length for each in 'at'")
        if len(self.driven) not in (0, 1, len(self.at)):
            raise InvalidValue(
                f"{len(self.driven)} words in 'driven'", f"one for each of the {len(self.at)} in 'at'"
            )
        if self.kind == "bogies" and self.bogie_wheelbase is None:
            raise self.lacking("bogies without 'bogie wheelbase'", "the length from axle to axle of a bogie")
        return self


class FaceEntry(Entry):
    """A face of something built in."""

    name: Name = about("as the train file names it")
    box: FlatBoxEntry = about("the face: a box that is flat along the way it looks")
    out: Side = about("which way it looks")


class BuiltInEntry(Entry):
    """What is in the vehicle already."""

    name: Name = about("as the train file names it: `vehicle/name`")
    kind: Annotated[str, PlainValidator(one_of(BUILT_IN_KINDS)), ValueKind(one_of_phrase(BUILT_IN_KINDS))] = (
        about("what it is")
    )
    solids: Annotated[list[SolidEntry], *many(SolidEntry, "solids", may_be_empty=False)] = about(
        "what it fills"
    )
    faces: Annotated[list[FaceEntry], *many(FaceEntry, "faces")] = Field(
        [], description="where parts may sit"
    )
    pins: Annotated[list[PinEntry], *many(PinEntry, "pins")] = Field(
        [], description="where wires are connected, in the frame of the vehicle; keys as in part files"
    )
    mass: Annotated[float, PlainValidator(number("g", least=0)), ValueKind("number in g")] = Field(
        0.0, description="its mass, which `mass` of the vehicle contains"
    )
    stall: Annotated[float, PlainValidator(number("mA", least=0)), ValueKind("number in mA")] = Field(
        0.0, description="current of a motor that is held fast"
    )
    current: Annotated[float, PlainValidator(number("mA", least=0)), ValueKind("number in mA")] = Field(
        0.0, description="current in normal running"
    )
    cells: _CellsEntry | None = Field(  # type: ignore[valid-type]
        None, description="cells that the vehicle carries for its own motor; keys as in part files"
    )


class VehicleFile(Entry):
    """A vehicle file."""

    vehicle: Name = about("what the vehicle is called")
    kind: Annotated[Kind, PlainValidator(one_of(KINDS)), ValueKind(one_of_phrase(KINDS))] = about(
        "what it is"
    )
    footprint: FootprintEntry = about("`long` and `wide` in studs, or `28 x 6`")
    floor_finish: Annotated[
        Literal["studded", "smooth"],
        PlainValidator(one_of(("studded", "smooth"))),
        ValueKind("studded or smooth"),
    ] = about("studded: studs stand 1.7 mm proud on every floor and deck inside; smooth: tiles")
    mass: Annotated[float, PlainValidator(number("g", above=0)), ValueKind("number in g")] = about(
        "mass as it stands on the rails, without what is to be built in"
    )
    mass_center: Point | None = Field(
        None, description="centre of gravity; the middle of the body when not given"
    )
    legend: Annotated[dict[str, Meaning], PlainValidator(_read_legend), ValueKind(
        "characters and what they stand for"
    )] = Field({}, description='beside `"#"` fixed, `.` free, `"-"` outside, `"~"` keep-clear')  # fmt: skip
    removable: Annotated[
        list[RemovableEntry],
        PlainValidator(_read_removable),
        ValueKind("list of removable bricks"),
        ListOf(RemovableEntry),
    ] = Field([], description="bricks that may come out, with their costs; or names and costs: `{stove: 1}`")
    base: Distance | None = Field(
        None, description="underside of the first layer above the rail head (or the road)"
    )
    layers: Annotated[list[LayerEntry], *many(LayerEntry, "layers", may_be_empty=False)] | None = Field(
        None, description="layer drawings from the bottom to the top"
    )
    load_height: Distance | None = Field(
        None,
        description="how high above the rail head loads may stand where the body is open at the top; "
        "10 bricks when not given, 0: no higher than the body",
    )
    rounded: Extent | None = Field(
        None,
        description="how far solids may be rounded outwards, when the body was drawn from a mesh",
    )
    voxels: Name | None = Field(
        None, description="file beside this one with many boxes, drawn after the layers; made from a mesh"
    )
    solids: Annotated[list[BodySolidEntry], *many(BodySolidEntry, "solids")] = Field(
        [], description="solids that are drawn after the layers; later ones replace earlier ones"
    )
    openings: Annotated[list[OpeningEntry], *many(OpeningEntry, "openings")] = Field(
        [], description="roofs and lids that come off"
    )
    windows: Annotated[list[WindowEntry], *many(WindowEntry, "windows")] = Field(
        [], description="gaps that a sensor looks through"
    )
    ports: Annotated[list[PortEntry], *many(PortEntry, "ports")] = Field(
        [],
        description="holes for wires; at a coupled end where no brick is none need be drawn: wires go out, "
        "by a port that is called `open front` or `open rear`",
    )
    couplings: Annotated[list[CouplingEntry], *many(CouplingEntry, "couplings")] = Field(
        [], description="couplings at the ends"
    )
    wheels: WheelsEntry = about("where the wheels are")
    built_in: Annotated[list[BuiltInEntry], *many(BuiltInEntry, "things built in")] = Field(
        [], description="what is in the vehicle already: motor, receiver"
    )
