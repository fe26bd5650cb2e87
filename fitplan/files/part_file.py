"""Part files: a family and its parts."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated, Self

from pydantic import Field, PlainValidator, ValidationInfo, model_validator

from fitplan.errors import Mistake
from fitplan.files.document import Block, Row, Spot, Text
from fitplan.files.electrical_entries import ENTRIES, ElectricalEntry, figures_of
from fitplan.files.entries import Collector, Entry, about, check_once, collector_of, many, validate
from fitplan.files.fields import (
    Name,
    PartId,
    PinName,
    Point,
    ProgramName,
    Prose,
    Side,
    ValueKind,
    Words,
    YesNo,
    number,
    one_of,
    one_of_phrase,
    read_pin_name,
    read_program_name,
    read_side,
    several,
    whole,
)
from fitplan.files.leads_form import WIRED_ENDING, wired_form
from fitplan.files.pinned_form import ENDING, pinned_form
from fitplan.files.solid_entries import FlatBoxEntry, SolidEntry
from fitplan.model import electrical as figures
from fitplan.model.part import (
    ACCESS_KINDS,
    CANS,
    CLEARANCE_KINDS,
    PIN_CARES,
    PIN_JOINTS,
    PIN_ROLES,
    SOCKETS,
    WIRES_OF_JOINT,
    Access,
    AccessKind,
    Can,
    Clearance,
    ClearanceKind,
    Mount,
    Part,
    Pin,
    PinCare,
    PinJoint,
    PinRole,
    Socket,
)
from fitplan.model.solids import (
    SIDE_NAMES,
    Box,
    Cylinder,
    Direction,
    Solid,
    Vec,
    axis_of,
    bounds_of,
    is_forward,
    unit_vector,
)

FAMILIES = (
    "controller", "cells", "pouch", "bank", "regulator", "charger", "ranger", "sensor", "emitter", "lamp",
    "sounder", "driver", "switch", "connector", "wire", "lead", "junction", "servo", "camera",
    "display", "coil",
)  # fmt: skip
"""The families of the catalogue."""
CAUTIONS = ("lithium", "button-cell", "primary-cells", "nimh", "mains-charger", "soldering", "small-parts")
"""Usual cautions that a part can carry."""
_NEEDED_FIGURES: dict[str, type] = {
    "controller": figures.Controller, "cells": figures.CellPack, "pouch": figures.CellPack,
    "bank": figures.Bank,
    "regulator": figures.Regulator, "charger": figures.Charger, "ranger": figures.Ranger,
    "emitter": figures.Emitter, "driver": figures.MotorDriver, "switch": figures.Switch,
    "connector": figures.Connector, "wire": figures.Conductor, "lead": figures.Lead,
}  # fmt: skip
_FIGURE_KEYS: dict[type, str] = {
    figures.Controller: "controller", figures.CellPack: "cells", figures.Bank: "bank",
    figures.Regulator: "regulator", figures.Charger: "charger", figures.Ranger: "ranger",
    figures.Emitter: "emitter", figures.MotorDriver: "driver", figures.Switch: "switch",
    figures.Connector: "connector", figures.Conductor: "conductor", figures.Lead: "lead",
}  # fmt: skip
OwnLeadsEntry = ENTRIES["own leads"]
_PIN_MARGIN = 2.0
"""How far outside the envelope's bounds a pin may leave, in mm: soldered legs stand out a little."""

Cans = Annotated[
    list[Can], PlainValidator(several(one_of(CANS), "abilities")), ValueKind(f"list of {one_of_phrase(CANS)}")
]
_MOST_WIRES = 12
_Joint = Annotated[PinJoint, PlainValidator(one_of(PIN_JOINTS)), ValueKind(one_of_phrase(PIN_JOINTS))]
_Role = Annotated[PinRole, PlainValidator(one_of(PIN_ROLES)), ValueKind(one_of_phrase(PIN_ROLES))]


class PinEntry(Entry):
    """A pin, or a row of pins at equal spacing."""

    name: PinName | None = Field(None, description="name of the pin; or give `names`")
    names: Annotated[
        list[PinName], PlainValidator(several(read_pin_name, "pin names")), ValueKind("list of pin names")
    ] | (None) = Field(None, description="names of a row of pins; with `from` and `step`")
    role: _Role = about(
        "ground; raw: unregulated input; 5v, 3v3: rails; supply: is fed here; plus: gives here; signal"
    )
    at: Point | None = Field(None, description="where the wire leaves")
    from_: Point | None = Field(None, description="where the wire of the first pin of a row leaves")
    step: Point | None = Field(None, description="from one pin of a row to the next")
    exit: Side = about("which way the wire leaves")
    can: Cans | None = Field(None, description="a controller's signal pin: what it can do")
    wants: Cans | None = Field(
        None,
        description="another part's signal pin: what the controller's pin at the other end must do",
    )
    volts: Annotated[float, PlainValidator(number("V", least=0)), ValueKind("number in V")] = Field(
        0.0, description="fixed level of a rail or signal; 0: it follows the supply"
    )
    optional: YesNo = Field(False, description="may stay unconnected")
    joint: _Joint | None = Field(
        None, description="how a wire is fastened there; as the part says, or `solder`, when not given"
    )
    wires: (
        Annotated[
            int, PlainValidator(whole(1, _MOST_WIRES)), ValueKind(f"whole number from 1 to {_MOST_WIRES}")
        ]
        | None
    ) = Field(
        None,
        description="how many wires it takes; when not given 2 for solder and screw, 1 for the others "
        "(common practice, no source)",
    )
    socket: Annotated[Socket, PlainValidator(one_of(SOCKETS[1:])), ValueKind(one_of_phrase(SOCKETS[1:]))] = (
        Field("", description="the USB socket that it is a contact of; a lead as bought plugs in there")
    )
    joined: Name | None = Field(
        None,
        description="name of the pins that the part joins inside, such as a rail of a distribution board: "
        "each wire of a net there gets a pin of its own",
    )
    care: Annotated[list[PinCare], PlainValidator(several(one_of(PIN_CARES), "cares")), ValueKind(
        f"list of {one_of_phrase(PIN_CARES)}"
    )] = Field([], description="what must be minded when it is used")  # fmt: skip
    timer: Name | None = Field(
        None, description="the timer that drives its PWM: pins of one timer have one frequency"
    )
    port: Name | None = Field(
        None, description="the group of pins whose currents the chip bounds together: `port` of `controller`"
    )
    program: ProgramName | None = Field(
        None,
        description="what a program calls the pin; when not given the number of a label such as D7 or 7, "
        "else the label itself",
    )
    programs: Annotated[
        list[ProgramName],
        PlainValidator(several(read_program_name, "what a program calls the pins")),
        ValueKind("list of what a program calls the pins"),
    ] | (None) = Field(None, description="the same for each pin of a row")

    @model_validator(mode="after")
    def _check_form(self) -> Self:
        lone = self.name is not None and self.at is not None
        row = self.names is not None and self.from_ is not None and self.step is not None
        extra = (self.names, self.from_, self.step) if lone else (self.name, self.at)
        if not (lone or row) or any(value is not None for value in extra):
            given = [
                k
                for k in ("name", "names", "at", "from", "step")
                if getattr(self, k.replace("from", "from_"))
            ]
            found = f"{' and '.join(map(repr, given)) or 'none of them'}"
            raise self.lacking(
                found, "'name' and 'at' for a pin, or 'names', 'from' and 'step' for a row of pins"
            )
        if self.programs is not None and (self.names is None or len(self.programs) != len(self.names)):
            raise self.lacking(
                f"{len(self.programs)} names in programs for {len(self.names or [1])} pins",
                "'program' for a pin, or 'programs' with one for each of the 'names' of a row",
            )
        if self.program is not None and self.names is not None:
            raise self.lacking("'program' for a row of pins", "'programs', a list with one for each pin")
        return self

    def pins(self, joint: PinJoint | None = None) -> list[Pin]:
        """Return the pin or the pins of the row; `joint` is that of the part, where the pin says nothing."""
        joint = self.joint or joint or "solder"
        first = self.at or self.from_
        assert first is not None
        step = self.step or (0.0, 0.0, 0.0)
        names = self.names if self.names is not None else [self.name]
        called = [str(self.program or "")] if self.programs is None else [str(one) for one in self.programs]
        called += [""] * (len(names) - len(called))
        return [
            Pin(
                name=str(name),
                role=self.role,
                at=(
                    round(first[0] + i * step[0], 6),
                    round(first[1] + i * step[1], 6),
                    round(first[2] + i * step[2], 6),
                ),
                exit=self.exit,
                can=frozenset(self.can or ()),
                wants=frozenset(self.wants or ()),
                volts=self.volts,
                optional=self.optional,
                joint=joint,
                wires=self.wires or WIRES_OF_JOINT[joint],
                socket=self.socket,
                joined=str(self.joined or ""),
                care=frozenset(self.care),
                timer=str(self.timer or ""),
                port=str(self.port or ""),
                program=called[i],
            )
            for i, name in enumerate(names)
        ]


def check_programs(collector: Collector, entries: list[PinEntry]) -> None:
    """Report pins of a controller that a program would call the same: its constants would be one pin."""
    seen: dict[str, str] = {}
    for entry in entries:
        for place, pin in enumerate(entry.pins()):
            if pin.role != "signal" or not pin.can or pin.joined:
                continue
            spots = (entry.programs, entry.names)
            given = next((row[place] for row in spots if row is not None), entry.program or entry.name)
            first = seen.setdefault(pin.in_program, pin.name)
            if first != pin.name and given is not None:
                found = f"pin {pin.name!r}, which a program calls {pin.in_program} as it does pin {first!r}"
                collector.add(given.spot, found, "a name in programs of its own for each pin: `program: …`")


def check_joined(collector: Collector, entries: list[PinEntry]) -> None:
    """Report groups of joined pins that have one pin only, or pins of different roles."""
    groups: dict[str, list[tuple[Pin, Text]]] = {}
    for entry in entries:
        for pin in entry.pins():
            if entry.joined is not None:
                groups.setdefault(pin.joined, []).append((pin, entry.joined))
    for name, members in groups.items():
        first, spot = members[0][0], members[0][1].spot
        other = next(((pin, text) for pin, text in members if pin.role != first.role), None)
        if len(members) == 1:
            collector.add(spot, f"one pin joined as {name!r}", "at least two pins of this name")
        elif other is not None:
            found = f"pin {other[0].name!r} of the role {other[0].role} joined as {name!r}"
            collector.add(other[1].spot, found, f"the role of pin {first.name!r}, {first.role}")


class ClearanceEntry(SolidEntry):
    """Room that a part needs beyond its envelope."""

    name: Name = about("what it is for, such as USB plug")
    kind: Annotated[
        ClearanceKind, PlainValidator(one_of(CLEARANCE_KINDS)), ValueKind(one_of_phrase(CLEARANCE_KINDS))
    ] = about("plug, lead (wires may pass), lens, air (wires may pass), finger")
    needed: Annotated[str, PlainValidator(one_of(("always", "access"))), ValueKind("always or access")] = (
        Field("always", description="always, or only for access while the vehicle is open")
    )


class MountEntry(Entry):
    """How a part may sit."""

    looks: Side | None = Field(None, description="the part's side that must look out of a window")
    lens: FlatBoxEntry | None = Field(
        None,
        description="with `looks`: the rectangle of that side that must lie inside the window (`from`, `to`)",
    )
    sits: Side | None = Field(
        None, description="the part's side that must lie on the face of something built in"
    )
    upright: YesNo = Field(False, description="its up must point up")
    up: (
        Annotated[list[Direction], PlainValidator(several(read_side, "sides")), ValueKind("list of sides")]
        | None
    ) = Field(None, description="which of its own sides may point up; all when not given")
    turnable: YesNo = Field(True, description="no: only as drawn")
    needs_support: YesNo = Field(True, description="something must carry it from below")

    @model_validator(mode="after")
    def _check_lens(self) -> Self:
        if (self.looks is None) != (self.lens is None):
            found = "'looks' without 'lens'" if self.lens is None else "'lens' without 'looks'"
            raise self.lacking(
                found, "both: the side that looks out and the rectangle of it that must stay clear"
            )
        return self

    def mount(self) -> Mount:
        """Return the rules."""
        return Mount(
            looks=self.looks,
            lens=self.lens.flat_box() if self.lens is not None else None,
            sits=self.sits,
            upright=self.upright,
            up=tuple(self.up or ()),
            turnable=self.turnable,
            needs_support=self.needs_support,
        )


class AccessEntry(Entry):
    """What must be reachable once the part is built in."""

    name: Name = about("what it is, such as USB socket")
    kind: Annotated[
        AccessKind, PlainValidator(one_of(ACCESS_KINDS)), ValueKind(one_of_phrase(ACCESS_KINDS))
    ] = about("switch, socket, cells that are changed, or the serial console's socket")
    side: Side = about("the part's side from which it is reached")
    often: YesNo = Field(True, description="in everyday use; no: only when building")


class PartEntry(Entry):
    """One part."""

    id: PartId = about("how train files name it; lower-case letters, digits and hyphens")
    name: Words = about("what it is, for people")
    envelope: Annotated[list[SolidEntry], *many(SolidEntry, "solids", may_be_empty=False)] | None = Field(
        None, description="the solids that it fills together; only a wire may go without"
    )
    clearances: Annotated[list[ClearanceEntry], *many(ClearanceEntry, "clearances")] = Field(
        [], description="room that it needs beyond the envelope"
    )
    pins: Annotated[list[PinEntry], *many(PinEntry, "pins")] = Field(
        [], description="where wires are connected"
    )
    pin_rows: Annotated[str, PlainValidator(one_of(("below",))), ValueKind("below")] | None = Field(
        None,
        description="its pin rows come loose: there is a second part, `ID-pins`, with them soldered in below",
    )
    wired: OwnLeadsEntry | None = Field(  # type: ignore[valid-type]
        None,
        description="it is also sold ready-wired: there is a second part, `ID-leads`, with leads of its own",
    )
    joint: _Joint = Field(
        "solder", description="how wires are fastened at pins that do not say it themselves"
    )
    mount: MountEntry | None = Field(
        None, description="how it may sit; any way with support below when not given"
    )
    access: Annotated[list[AccessEntry], *many(AccessEntry, "access rules")] = Field(
        [], description="what must be reachable once it is built in"
    )
    mass: Annotated[float, PlainValidator(number("g", least=0)), ValueKind("number in g")] = about("mass")
    electrical: Annotated[list[ElectricalEntry], *many(ElectricalEntry, "figures")] = Field(
        [], description="electrical figures, one block a kind"
    )
    price: Annotated[float, PlainValidator(number(least=0)), ValueKind("number")] = Field(
        0.0, description="price of one, or of one set of primary cells, in your currency; 0: not given"
    )
    typical: YesNo = Field(False, description="a typical outline: measure yours")
    cautions: Annotated[list[str], PlainValidator(several(one_of(CAUTIONS), "cautions")), ValueKind(
        f"list of {one_of_phrase(CAUTIONS)}"
    )] = Field([], description="usual cautions that apply")  # fmt: skip
    source: Prose = about("where the figures come from")

    @model_validator(mode="after")
    def _check_whole(self, info: ValidationInfo) -> Self:
        collector = collector_of(info)
        before = len(collector.mistakes)
        self._check_names(collector)
        self._check_positions(collector)
        self._is_sound = self._is_sound and len(collector.mistakes) == before
        return self

    def _check_positions(self, collector: Collector) -> None:
        envelope = [entry.solid() for entry in self.envelope or ()]
        if not envelope:
            return
        bounds = bounds_of(tuple(envelope))
        for entry in self.pins:
            for pin in entry.pins():
                if not _within(pin.at, bounds, _PIN_MARGIN):
                    collector.add(
                        entry.spot,
                        f"pin {pin.name!r} at {_triple(pin.at)}",
                        f"a place on the envelope, {_span(bounds)}",
                    )
                elif _leaves_into(pin, envelope):
                    found = f"pin {pin.name!r} at {_triple(pin.at)}, which leaves into the part's own body"
                    collector.add(entry.spot, found, "an 'exit' that leads out of the envelope")
        if self.mount is not None and self.mount.lens is not None:
            lens = self.mount.lens.flat_box()
            if not (_within(lens.low, bounds, 0.01) and _within(lens.high, bounds, 0.01)):
                found = f"a lens from {_triple(lens.low)} to {_triple(lens.high)}"
                collector.add(self.mount.lens.spot, found, f"a place on the envelope, {_span(bounds)}")
            elif self.mount.looks is not None and _faces_away(lens, self.mount.looks, bounds):
                found = f"a lens at the other side of a part that looks to the {SIDE_NAMES[self.mount.looks]}"
                collector.add(self.mount.lens.spot, found, "a lens at the side that it looks to")

    def _check_names(self, collector: Collector) -> None:
        pins = [Text(pin.name, entry.spot) for entry in self.pins for pin in entry.pins()]
        check_once(collector, "pin", pins)
        check_joined(collector, self.pins)
        check_programs(collector, self.pins)
        check_once(collector, "clearance", [entry.name for entry in self.clearances])
        check_once(collector, "access rule", [entry.name for entry in self.access])
        kinds: set[type[object]] = set()
        for block in self.electrical:
            figure = block.figures()
            if type(figure) in kinds:
                key = _FIGURE_KEYS.get(type(figure), type(figure).__name__.lower())
                collector.add(block.spot, f"a second block {key!r}", "one block of each kind")
            kinds.add(type(figure))
            if isinstance(figure, figures.Controller):
                for name in figure.serial_pins:
                    if name not in pins and self.is_sound:
                        collector.add(
                            block.spot, f"the serial pin {name!r}", f"a pin of the part {str(self.id)!r}"
                        )

    def part(self, family: str) -> Part:
        """Return the part."""
        electrical = tuple(block.figures() for block in self.electrical)
        envelope = tuple(entry.solid() for entry in self.envelope or ())
        return Part(
            id=str(self.id),
            name=str(self.name),
            family=family,
            envelope=envelope or _piece_of_wire(electrical),
            mass_g=self.mass,
            source=str(self.source),
            clearances=tuple(
                Clearance(
                    str(entry.name),
                    entry.kind,
                    entry.solid(),
                    "access" if entry.needed == "access" else "always",
                )
                for entry in self.clearances
            ),
            pins=tuple(pin for entry in self.pins for pin in entry.pins(self.joint)),
            mount=self.mount.mount() if self.mount is not None else Mount(),
            access=tuple(
                Access(str(entry.name), entry.kind, entry.side, entry.often) for entry in self.access
            ),
            electrical=electrical,
            typical=self.typical,
            price=self.price,
            cautions=tuple(self.cautions),
        )


class PartFile(Entry):
    """A part file."""

    family: Annotated[str, PlainValidator(one_of(FAMILIES)), ValueKind(one_of_phrase(FAMILIES))] = about(
        "the family of all parts in the file"
    )
    parts: Annotated[list[PartEntry], *many(PartEntry, "parts", may_be_empty=False)] = about("the parts")


def parts_of(document: Block, path: Path, mistakes: list[Mistake]) -> dict[str, tuple[Part, Spot]]:
    """Return the parts of a part file by id, with the spot of each; mistakes go to the list."""
    collector = Collector(path, mistakes)
    entry = validate(PartFile, document, collector)
    found: dict[str, tuple[Part, Spot]] = {}
    seen: dict[str, Spot] = {}
    for item in entry.parts if entry is not None else ():
        assert entry is not None
        if item.id in seen:
            line = seen[item.id].line
            found.pop(str(item.id), None)
            collector.add(
                item.id.spot, f"the part {str(item.id)!r} again", f"each id once; line {line} has it too"
            )
            continue
        seen[str(item.id)] = item.id.spot
        if not item.is_sound:
            continue
        needed = _NEEDED_FIGURES.get(entry.family)
        have = [type(block.figures()) for block in item.electrical]
        if needed is not None and needed not in have:
            key = _FIGURE_KEYS[needed]
            expected = f"a block {key!r} in its list 'electrical', since the family is {entry.family!r}"
            collector.add(item.spot, f"the part {str(item.id)!r} without figures {key!r}", expected)
        elif item.envelope is None and entry.family != "wire":
            collector.add(
                item.spot, f"the part {str(item.id)!r} without 'envelope'", "the solids that it fills"
            )
        elif entry.family == "lead" and len(item.envelope or ()) < 2:
            expected = "two solids: the bodies at its first and at its second end"
            collector.add(
                item.spot, f"the lead {str(item.id)!r} with {len(item.envelope or ())} solid", expected
            )
        else:
            found[str(item.id)] = (item.part(entry.family), item.id.spot)
            if item.pin_rows is not None:
                _add_pinned(found, str(item.id), item.id.spot, collector)
            if item.wired is not None:
                _add_wired(found, str(item.id), item.wired, collector)
    return found


def _add_wired(found: dict[str, tuple[Part, Spot]], name: str, leads: Entry, collector: Collector) -> None:
    """Add the ready-wired form of a part beside it."""
    part, spot = found[name]
    figures_ = figures_of("own leads", leads)
    assert isinstance(figures_, figures.OwnLeads)
    try:
        form = wired_form(part, figures_)
    except ValueError:
        collector.add(spot, f"the part {name!r} with 'wired'", "pins that take a wire")
        return
    found.setdefault(form.id, (form, spot))


def _add_pinned(found: dict[str, tuple[Part, Spot]], name: str, spot: Spot, collector: Collector) -> None:
    """Add the pinned form of a board beside it."""
    try:
        form = pinned_form(found[name][0])
    except ValueError:
        collector.add(
            spot, f"the part {name!r} with 'pin rows'", "pins that are soldered from above: exit up"
        )
        return
    found.setdefault(form.id, (form, spot))


def ids_in(document: Block) -> list[str]:
    """Return all ids in a part file, also those of parts with mistakes."""
    parts = document.get("parts")
    items = parts if isinstance(parts, Row) else []
    blocks = [item for item in items if isinstance(item, Block) and isinstance(item.get("id"), Text)]
    return [
        str(item["id"]) + ending
        for item in blocks
        for key, ending in (("id", ""), ("pin rows", ENDING), ("wired", WIRED_ENDING))
        if item.get(key)
    ]


def _piece_of_wire(electrical: tuple[figures.Electrical, ...]) -> tuple[Solid, ...]:
    """Return 10 mm of a wire, so that every part has an envelope to show."""
    wire = next((figure for figure in electrical if isinstance(figure, figures.Conductor)), None)
    if wire is None:
        return ()
    radius = wire.outer_mm / 2
    pitch = wire.pitch_mm or wire.outer_mm
    return tuple(
        Cylinder("x", (0.0, radius + i * pitch, radius), 10.0, radius) for i in range(wire.conductors)
    )


def _within(point: Vec, box: Box, margin: float) -> bool:
    return all(
        low - margin <= value <= high + margin
        for value, low, high in zip(point, box.low, box.high, strict=True)
    )


_OUT_MM = (1.0, 2.0, 3.0)
"""So far along its exit a wire must be out of the part."""


def _leaves_into(pin: Pin, envelope: list[Solid]) -> bool:
    """Return whether a wire that leaves a pin along its exit runs into the part itself."""
    step = unit_vector(pin.exit)
    points = [tuple(at + far * one for at, one in zip(pin.at, step, strict=True)) for far in _OUT_MM]
    return any(_holds(solid, (x, y, z)) for solid in envelope for x, y, z in points)


def _holds(solid: Solid, point: Vec, skin: float = 0.05) -> bool:
    """Return whether a point lies inside a solid, and not on its skin."""
    box = solid.bounds if isinstance(solid, Cylinder) else solid
    if not isinstance(box, Box):
        return False
    if not all(low + skin < at < high - skin for at, low, high in zip(point, box.low, box.high, strict=True)):
        return False
    if not isinstance(solid, Cylinder):
        return True
    across = [i for i, axis in enumerate("xyz") if axis != solid.axis]
    away = math.dist([point[i] for i in across], [solid.start[i] for i in across])
    return away < solid.radius - skin


def _faces_away(lens: Box, looks: Direction, bounds: Box) -> bool:
    """Return whether a lens lies in the half of the part that is turned away from where it looks."""
    axis = axis_of(looks)
    middle = (bounds.low[axis] + bounds.high[axis]) / 2
    ahead = lens.center[axis] - middle
    return (ahead if is_forward(looks) else -ahead) < 0 < bounds.size[axis]


def _triple(point: Vec) -> str:
    return f"[{', '.join(f'{value:g}' for value in point)}]"


def _span(box: Box) -> str:
    return ", ".join(
        f"{axis} {low:g} to {high:g}" for axis, low, high in zip("xyz", box.low, box.high, strict=True)
    )
