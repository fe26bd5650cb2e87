"""The block of a train file that says what is built: read, and written by freezing.

Names in it are not looked up: what the train has no more is what a plan has to take out.
"""

from __future__ import annotations

import json
import re
from typing import Annotated, get_args

from pydantic import Field, PlainValidator

from fitplan.files.document import Row, Text, shown
from fitplan.files.entries import Collector, Entry, about, check_once, many
from fitplan.files.fields import (
    Extent,
    InvalidValue,
    Name,
    PartId,
    Point,
    Side,
    ValueKind,
    Words,
    YesNo,
    number,
    one_of,
    one_of_phrase,
    read_point,
    whole,
)
from fitplan.files.fixed_place import read_pose
from fitplan.files.solid_entries import FullBoxEntry
from fitplan.model.as_built import AsBuilt, BuiltEnd, BuiltLeg, BuiltPart, BuiltPin, BuiltSplice, BuiltWire
from fitplan.model.placed import Piece, Shelf, ShelfKind
from fitplan.model.solids import AXES, SIDE_NAMES, Axis, Box, Vec
from fitplan.model.vehicle import Hole, HoleKind
from fitplan.model.wiring import SPOOL_COLOURS

KEY = "as built"
_SHELVES: tuple[ShelfKind, ...] = get_args(ShelfKind)
_PIECE = re.compile(r"(?:(?:brick|plate|tile|brick with a stud on its side) \d+ × \d+|studs|pad|block)")
_HOLES: tuple[HoleKind, ...] = get_args(HoleKind)
_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9 _/-]*")
_WORDS_OF_YAML = frozenset(["yes", "no", "true", "false", "on", "off", "null", "y", "n"])
_SPLICE = re.compile(r"splice (\S+)")
_CAVITY = re.compile(r"connector (\S+)\.(\d+)")


def _read_points(value: object) -> tuple[Vec, ...]:
    if not isinstance(value, Row) or len(value) < 1:
        raise InvalidValue(shown(value), "a list of corners, each [x, y, z]")
    return tuple(read_point(item) for item in value)


def _read_end(value: object) -> BuiltEnd:
    text = str(value) if isinstance(value, Text) else ""
    if found := _SPLICE.fullmatch(text):
        return BuiltEnd("splice", found[1])
    if found := _CAVITY.fullmatch(text):
        return BuiltEnd("connector", found[1], found[2])
    owner, dot, pin = text.rpartition(".")
    if not dot or not owner.strip() or not pin.strip():
        raise InvalidValue(shown(value), "brain.GND, splice S1, or connector J1.2")
    return BuiltEnd("pin", owner, pin)


def _read_piece(value: object) -> str:
    text = str(value) if isinstance(value, Text) else ""
    if not _PIECE.fullmatch(text):
        raise InvalidValue(
            shown(value), "brick, plate or tile with its size, such as plate 1 × 2; studs, pad, block"
        )
    return text


_End = Annotated[BuiltEnd, PlainValidator(_read_end), ValueKind("owner.pin, splice S1 or connector J1.2")]
_Pose = Annotated[str, PlainValidator(read_pose), ValueKind("where its x, y and z point: +y-x+z")]
_Number = Annotated[int, PlainValidator(whole(1, 100_000)), ValueKind("whole number")]


class BuiltPieceEntry(Entry):
    """A piece of what carries a part."""

    piece: Annotated[str, PlainValidator(_read_piece), ValueKind("plate 1 × 2 …, studs, pad, block")] = about(
        "what it is, with its size in studs"
    )
    box: FullBoxEntry = about("where it is, in the vehicle's frame")


class BuiltOnEntry(Entry):
    """What carries a part that is built in."""

    kind: Annotated[ShelfKind, PlainValidator(one_of(_SHELVES)), ValueKind(one_of_phrase(_SHELVES))] = about(
        "how it is built up"
    )
    studs: Annotated[int, PlainValidator(whole(0, 1000)), ValueKind("whole number")] = Field(
        0, description="on how many studs it stands"
    )
    steady: YesNo = Field(True, description="no: the part is fixed against tipping")
    pieces: Annotated[list[BuiltPieceEntry], *many(BuiltPieceEntry, "pieces", may_be_empty=False)] = about(
        "from below upwards"
    )


class BuiltPartEntry(Entry):
    """A part that is built in."""

    need: Name = about("which need it serves")
    part: PartId = about("which part it is")
    vehicle: Name = about("which vehicle it is in")
    pose: _Pose = about("how it is turned")
    offset: Point = about("where the origin of its own frame lies, in the vehicle's frame")
    on: BuiltOnEntry | None = Field(None, description="what was added to carry it there")


class BuiltPinEntry(Entry):
    """A pin of a controller that is wired."""

    controller: Name = about("which need")
    net: Name = about("which net it serves")
    pin: Words = about("which pin")


class BuiltWayEntry(Entry):
    """A wire's way in one vehicle."""

    vehicle: Name = about("which vehicle")
    along: Annotated[tuple[Vec, ...], PlainValidator(_read_points), ValueKind("list of [x, y, z]")] = about(
        "its corners, in the vehicle's frame"
    )
    enters: Words | None = Field(None, description="the port that it comes in by")
    leaves: Words | None = Field(None, description="the port that it goes out by")


class BuiltWireEntry(Entry):
    """A wire that is laid."""

    number: _Number = about("as on its labels")
    net: Name = about("which net it belongs to")
    colour: Annotated[str, PlainValidator(one_of(SPOOL_COLOURS)), ValueKind(one_of_phrase(SPOOL_COLOURS))] = (
        about("letter code of IEC 60757")
    )
    awg: Annotated[int, PlainValidator(whole(10, 40)), ValueKind("whole number")] = about("its gauge")
    cut: Extent = about("the length that it was cut to")
    from_: _End = about("where it begins")
    to: _End = about("where it ends")
    second: _Number | None = Field(
        None, description="of a lead that plugs in: the number of its other conductor"
    )
    ways: Annotated[list[BuiltWayEntry], *many(BuiltWayEntry, "ways", may_be_empty=False)] = about(
        "where it lies, vehicle by vehicle"
    )


class BuiltSpliceEntry(Entry):
    """A soldered splice."""

    name: Name = about("as on its label")
    net: Name = about("which net it belongs to")
    vehicle: Name = about("which vehicle it is in")
    at: Point = about("where it lies, in the vehicle's frame")


class BuiltHoleEntry(Entry):
    """A hole that was opened in a body for wires."""

    vehicle: Name = about("which vehicle")
    name: Words = about("as the plan named it: where it is, and what comes out")
    kind: Annotated[HoleKind, PlainValidator(one_of(_HOLES)), ValueKind(one_of_phrase(_HOLES))] = about(
        "what was opened"
    )
    box: FullBoxEntry = about("what is clear, in the vehicle's frame")
    along: Annotated[Axis, PlainValidator(one_of(AXES)), ValueKind(one_of_phrase(AXES))] = about(
        "along which axis wires pass it"
    )
    out: Side | None = Field(None, description="through an end wall: the way out")
    bricks: Annotated[int, PlainValidator(whole(0, 100)), ValueKind("whole number")] = about(
        "how many bricks were exchanged or left out"
    )
    cost: Annotated[float, PlainValidator(number(least=0)), ValueKind("number")] = about("what that cost")


class BrickOutEntry(Entry):
    """A removable brick that came out for wires."""

    vehicle: Name = about("which vehicle")
    brick: Words = about("as its file names it")


class AsBuiltEntry(Entry):
    """What is built already: `fitplan freeze` writes it; plans keep it unless something must go."""

    parts: Annotated[list[BuiltPartEntry], *many(BuiltPartEntry, "parts")] = Field(
        [], description="parts in their places"
    )
    pins: Annotated[list[BuiltPinEntry], *many(BuiltPinEntry, "pins")] = Field(
        [], description="which pin of a controller serves which net"
    )
    wires: Annotated[list[BuiltWireEntry], *many(BuiltWireEntry, "wires")] = Field(
        [], description="wires with their ways"
    )
    splices: Annotated[list[BuiltSpliceEntry], *many(BuiltSpliceEntry, "splices")] = Field(
        [], description="soldered splices"
    )
    holes: Annotated[list[BuiltHoleEntry], *many(BuiltHoleEntry, "holes")] = Field(
        [], description="what was opened for wires"
    )
    bricks_out: Annotated[list[BrickOutEntry], *many(BrickOutEntry, "bricks")] = Field(
        [], description="removable bricks that came out for wires"
    )


def as_built(entry: AsBuiltEntry, collector: Collector) -> AsBuilt:
    """Return what a train file says is built; what stands twice is a mistake."""
    check_once(collector, "built part", [one.need for one in entry.parts])
    check_once(collector, "splice", [one.name for one in entry.splices])
    seen: set[int] = set()
    for wire in entry.wires:
        if wire.number in seen:
            collector.add(wire.spot, f"wire {wire.number} again", "each number once")
        seen.add(wire.number)
    return AsBuilt(
        tuple(
            BuiltPart(str(one.need), str(one.part), str(one.vehicle), one.pose, one.offset, _shelf(one.on))
            for one in entry.parts
        ),
        tuple(BuiltPin(str(one.controller), str(one.net), str(one.pin)) for one in entry.pins),
        tuple(
            BuiltWire(
                one.number,
                str(one.net),
                one.colour,
                one.awg,
                one.cut,
                one.from_,
                one.to,
                tuple(
                    BuiltLeg(str(way.vehicle), way.along, str(way.enters or ""), str(way.leaves or ""))
                    for way in one.ways
                ),
                one.second or 0,
            )
            for one in entry.wires
        ),
        tuple(BuiltSplice(str(one.name), str(one.net), str(one.vehicle), one.at) for one in entry.splices),
        tuple(
            (
                str(one.vehicle),
                Hole(str(one.name), one.kind, one.box.flat_box(), one.along, one.out, one.bricks, one.cost),
            )
            for one in entry.holes
        ),
        tuple((str(one.vehicle), str(one.brick)) for one in entry.bricks_out),
    )


def _shelf(entry: BuiltOnEntry | None) -> Shelf | None:
    if entry is None:
        return None
    pieces = tuple(Piece(one.piece, one.box.flat_box()) for one in entry.pieces)
    return Shelf(entry.kind, pieces, entry.studs, entry.steady)


def as_built_text(there: AsBuilt) -> str:
    """Return the block as it stands in a train file, a line for each thing; it ends in a line break."""
    rows: dict[str, list[str]] = {
        "parts": [
            f"{{need: {_name(one.need)}, part: {one.part}, vehicle: {_name(one.vehicle)}, pose: {one.pose}, "
            f"offset: {_point(one.offset)}{_on(one.on)}}}"
            for one in there.parts
        ],
        "pins": [
            f"{{controller: {_name(one.controller)}, net: {_name(one.net)}, pin: {_name(one.pin)}}}"
            for one in there.pins
        ],
        "wires": [_wire(one) for one in there.wires],
        "splices": [
            f"{{name: {_name(one.name)}, net: {_name(one.net)}, vehicle: {_name(one.vehicle)}, "
            f"at: {_point(one.at)}}}"
            for one in there.splices
        ],
        "holes": [_hole(vehicle, hole) for vehicle, hole in there.holes],
        "bricks out": [
            f"{{vehicle: {_name(vehicle)}, brick: {_name(brick)}}}" for vehicle, brick in there.bricks_out
        ],
    }
    lines = [f"{KEY}:"]
    for key, items in rows.items():
        if items:
            lines += [f"  {key}:", *(f"    - {item}" for item in items)]
    return "\n".join(lines) + "\n" if len(lines) > 1 else f"{KEY}: {{}}\n"


def _wire(one: BuiltWire) -> str:
    ways = ", ".join(_way(leg) for leg in one.legs)
    second = f", second: {one.second}" if one.second else ""
    return (
        f"{{number: {one.number}, net: {_name(one.net)}, colour: {one.colour}, awg: {one.awg}, "
        f"cut: {_figure(one.cut_mm)} mm, from: {_end(one.start)}, to: {_end(one.end)}{second}, "
        f"ways: [{ways}]}}"
    )


def _on(shelf: Shelf | None) -> str:
    if shelf is None:
        return ""
    pieces = ", ".join(f"{{piece: {_name(one.name)}, box: {_box(one.box)}}}" for one in shelf.pieces)
    studs = f", studs: {shelf.studs}" if shelf.studs else ""
    steady = "" if shelf.steady else ", steady: no"
    return f", on: {{kind: {shelf.kind}{studs}{steady}, pieces: [{pieces}]}}"


def _box(box: Box) -> str:
    return f"{{from: {_point(box.low)}, to: {_point(box.high)}}}"


def _hole(vehicle: str, hole: Hole) -> str:
    out = f", out: {SIDE_NAMES[hole.out]}" if hole.out is not None else ""
    return (
        f"{{vehicle: {_name(vehicle)}, name: {_name(hole.name)}, kind: {hole.kind}, box: {_box(hole.box)}, "
        f"along: {hole.axis}{out}, bricks: {hole.bricks}, cost: {_figure(hole.cost)}}}"
    )


def _way(leg: BuiltLeg) -> str:
    ports = "".join(
        f", {key}: {_name(name)}" for key, name in (("enters", leg.enters), ("leaves", leg.leaves)) if name
    )
    along = ", ".join(_point(point) for point in leg.points)
    return f"{{vehicle: {_name(leg.vehicle)}{ports}, along: [{along}]}}"


def _end(end: BuiltEnd) -> str:
    if end.kind == "splice":
        return _name(f"splice {end.owner}")
    return _name(f"connector {end.owner}.{end.pin}" if end.kind == "connector" else f"{end.owner}.{end.pin}")


def _point(point: Vec) -> str:
    return f"[{', '.join(map(_figure, point))}]"


def _figure(value: float) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _name(name: str) -> str:
    plain = all(_PLAIN.fullmatch(word) for word in name.split(".")) and name.lower() not in _WORDS_OF_YAML
    return name if plain else json.dumps(name, ensure_ascii=False)
